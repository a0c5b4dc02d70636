"""The winter in one picture: a panel for each shelter, all on one scale."""

from functools import partial

import numpy as np

from overwinter.audit.report import HeatUse
from overwinter.render.pictures.winter_panel import Scale, common_scale, draw_winter, nearest_words
from overwinter.render.report_book import ShelterWinter, WinterBook
from overwinter.render.report_html import (
    Part,
    figure,
    folded,
    heading,
    html_table,
    items,
    paragraph,
    together,
)
from overwinter.render.tables import Cell, Column, Table
from overwinter.render.words import count, short_date, spell_dates

LEAD = (
    "One panel for each shelter, all with the same temperatures and days. Lines show the coldest "
    "hour of each day. The pale band is the outdoor air from the coldest to the warmest hour. "
    "Roots and limit belong to the tree that is nearest its own limit on that day, so the gap "
    "between them is the least to spare in the shelter; the limit is the killing temperature at "
    "that day's hardening plus the margin asked for. A circle marks the least gap of the winter. "
    "Where some other tree's roots are colder but further from their own limit, a dotted line "
    "shows them. The air limit is the highest that tender tops there ask for."
)


def winter_part(book: WinterBook) -> Part:
    """Panels, each with its table by spell."""
    scale = common_scale(book)
    html = paragraph(LEAD)
    if scale.cut:
        top = book.display.temperature(scale.high, 0)
        html += paragraph(f"Warmer than {top} is not drawn.")
    for number, one in enumerate(book.shelters):
        html += together(
            heading(3, one.shelter.name)
            + paragraph(nearest_words(book, one))
            + figure(partial(_panel, book, one, scale, number))
        )
        html += folded(f"{one.shelter.name} in figures", html_table(_table(book, one)))
    html += folded("Why the winter is cut into these spells", items(_spells(book)))
    return Part("winter", "The winter in one picture", html)


def _panel(
    book: WinterBook, one: ShelterWinter, scale: Scale, number: int, width_px: float, size: str
) -> str:
    return draw_winter(book, one, scale, width_px, f"winter-{number}-{size}")


def _spells(book: WinterBook) -> list[str]:
    return [f"Spell {s.index + 1}, {spell_dates(s)}: {s.why}." for s in book.plan.spells]


def _table(book: WinterBook, one: ShelterWinter) -> Table:
    """The panel's figures by spell."""
    settings: dict[int, HeatUse] = {
        use.spell: use for use in book.report.heat if use.shelter_id == one.shelter.id
    }
    rows = []
    for spell in book.plan.spells:
        days = book.span(spell)
        spare = one.spare_k[days]
        near: tuple[Cell, ...] = (None,) * 4
        if np.isfinite(spare).any():
            worst = days.start + int(np.nanargmin(spare))
            tree = one.nearest[worst]
            near = (
                book.display.temperature(float(one.root_c[worst])),
                book.display.temperature(float(one.limit_c[worst])),
                book.display.kelvin(float(one.spare_k[worst])),
                "" if tree is None else f"{tree.name}, {short_date(book.date(worst))}",
            )
        rows.append(
            (
                f"{spell.index + 1}: {spell_dates(spell)}",
                settings[spell.index].label if spell.index in settings else "off",
                book.display.temperature(float(book.outdoor_min_max_c[0][days].min())),
                book.display.temperature(float(one.air_min_c[days].min())),
                *near,
            )
        )
    columns = tuple(
        map(Column, ("spell", "heater", "outdoors", "air", "roots", "limit", "to spare", "nearest"))
    )
    title = (
        f"{one.shelter.name}: coldest hour of each spell, and the tree nearest its limit there "
        f"({count(len(rows), 'spell')})"
    )
    return Table(one.shelter.id, title, columns, tuple(rows))
