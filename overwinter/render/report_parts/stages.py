"""The signs of the winter, and what is carried at each."""

from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, html_table, paragraph
from overwinter.render.tables import stages_table


def stages_part(book: WinterBook) -> Part:
    """One table; carries are counted, the carry lists name them."""
    html = paragraph(
        "The winter is a fixed order of signs. Each comes on its own day in every winter; most "
        "years are eight of ten. When a sign comes, carry what is listed for it: by daylight, "
        "before the night that is forecast."
    )
    return Part(
        "stages",
        "When to carry",
        html + html_table(stages_table(book.season, book.plan, book.report)),
    )
