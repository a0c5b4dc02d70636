"""The usual cautions, where heaters, cords, fuel, ladders, lifting or poison come in."""

from overwinter.render.cautions import CAUTIONS, LOCAL_CODES, season_cautions
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, paragraph
from overwinter.render.templates import element, text


def cautions_part(book: WinterBook) -> Part:
    """Every caution that the season calls for."""
    parts = "".join(
        f"<dt>{text(CAUTIONS[key].title)}</dt><dd>{text(CAUTIONS[key].text)}</dd>"
        for key in season_cautions(book.season)
    )
    html = element("dl", parts, "cautions") + paragraph(LOCAL_CODES)
    return Part("cautions", "Before anyone lifts or heats", html)
