"""Where every tree is, stay by stay, and every carry."""

from overwinter.reports.report_book import WinterBook
from overwinter.reports.report_html import Part, folded, html_table, paragraph
from overwinter.reports.tables import carries_table, trees_table
from overwinter.reports.words import count


def stays_part(book: WinterBook) -> Part:
    """Two tables to open."""
    stays = trees_table(book.season, book.plan, book.report)
    carries = carries_table(book.season, book.plan, book.report)
    html = paragraph(
        f"{count(len(book.plan.stays), 'tree')}, {count(len(carries.rows), 'carry', 'carries')} on "
        f"{count(len(book.plan.carry_days), 'day')}. The carry lists give the order of work."
    )
    html += folded("Where each tree is", html_table(stays))
    html += folded("Every carry", html_table(carries))
    return Part("stays", "Every tree and every carry", html)
