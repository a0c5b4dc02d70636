"""Heat by shelter and stage, in kWh and money, mean over the winters."""

from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import (
    NARROW_PX,
    Part,
    half_figure,
    heading,
    html_table,
    paragraph,
    side_by_side,
)
from overwinter.render.stage_words import stage_number
from overwinter.render.tables import heat_table
from overwinter.render.terminal import bill_words
from overwinter.render.words import money
from overwinter.shelters.heater import setting_label


def heat_part(book: WinterBook) -> Part:
    """Bars and one table."""
    title = "Heat, by shelter and stage"
    heated = [
        shelter
        for shelter in book.season.shelters
        if any(not one.is_off for one in book.plan.settings.get(shelter.id, ()))
    ]
    if not heated:
        html = paragraph("Nothing is heated: every heater stays off all winter.")
        return Part("heat", title, html)
    bought = sum(use.purchased_kwh for use in book.report.heat)
    html = paragraph(
        f"{bought:.0f} kWh bought in a mean winter. The bill: "
        f"{bill_words(book.season, book.report)}. Bars show energy bought from the first day of a "
        "stage to that of the next."
    )
    html += '<p><a href="#cautions">Read the cautions before anything is heated.</a></p>'
    unused = [s.name for s in book.season.shelters if s.heaters and s not in heated]
    if unused:
        html += paragraph(f"Heaters that stay off all winter: {', '.join(unused)}.")
    html += side_by_side([_bars(book, shelter.id, n) for n, shelter in enumerate(heated)])
    html += html_table(heat_table(book.season, book.plan, book.report))
    return Part("heat", title, html)


def _bars(book: WinterBook, shelter_id: str, number: int) -> str:
    name = book.season.shelter_by_id[shelter_id].name
    most = max((use.purchased_kwh for use in book.report.heat), default=0.0)
    bars = []
    for use in book.report.heat:
        if use.shelter_id == shelter_id:
            setting = setting_label(book.plan.settings[shelter_id][use.stage], book.display)
            spent = f"{use.purchased_kwh:.0f} kWh, {money(use.money, book.currency)}"
            stage = stage_number(book.plan.stages[use.stage])
            bars.append(BarRow(stage, use.purchased_kwh, f"{setting}: {spent}"))
    title = f"{name}: energy bought by stage"
    words = "; ".join(f"{bar.name} {bar.words}" for bar in bars)
    svg = draw_bars(bars, title, f"{words}.", NARROW_PX, f"heat-{number}", full=most)
    return half_figure(heading(3, name) + svg)
