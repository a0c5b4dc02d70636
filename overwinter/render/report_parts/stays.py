"""Where every tree is, stay by stay, and every carry."""

from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, folded, html_table, paragraph
from overwinter.render.tables import carries_table, places_table, stays_table


def stays_part(book: WinterBook) -> Part:
    """Tables to open."""
    parts = (book.season, book.plan, book.report)
    html = paragraph("The carry lists give the order of work.")
    html += folded("Where each tree is", html_table(stays_table(*parts)))
    html += folded("Every carry", html_table(carries_table(*parts)))
    html += folded("How full each place is", html_table(places_table(*parts)))
    return Part("stays", "Every tree and every carry", html)
