"""Where every tree is, stay by stay, and every carry."""

from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, folded, html_table, paragraph
from overwinter.render.tables import carries_table, not_home_table, trees_table
from overwinter.render.words import away_words, count, sentence


def stays_part(book: WinterBook) -> Part:
    """Tables to open."""
    stays = trees_table(book.season, book.plan, book.report)
    carries = carries_table(book.season, book.plan, book.report)
    html = paragraph(
        f"{count(len(book.plan.stays), 'tree')}, {count(len(carries.rows), 'carry', 'carries')} on "
        f"{count(len(book.plan.carry_days), 'day')}. The carry lists give the order of work."
    )
    if book.report.away:
        html += paragraph(sentence(f"{away_words(book.season, book.report.away)}."))
        away = not_home_table(book.season, book.plan, book.report)
        html += folded("Trees not home when the plan ends", html_table(away))
    html += folded("Where each tree is", html_table(stays))
    html += folded("Every carry", html_table(carries))
    return Part("stays", "Every tree and every carry", html)
