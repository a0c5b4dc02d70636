"""Light through the winter against need, place by place."""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.tree import Tree
from overwinter.render.pictures.light_panel import (
    LIGHT_UNIT,
    PlaceLight,
    described,
    draw_light,
)
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import (
    NARROW_PX,
    Part,
    folded,
    half_figure,
    heading,
    html_table,
    paragraph,
    side_by_side,
)
from overwinter.render.tables import Cell, Column, Table
from overwinter.render.words import place_name, spell_dates

LEAD = (
    "Mean daily light where trees stand that need it, beside the greatest need of any tree there, "
    "over the stretch of days that the audit judges a spell by. Evergreens need light where it is "
    "not cold; deciduous trees only outside their rest. Where no need is drawn no tree needs light "
    "in that spell; light well above every need is not drawn."
)


def place_lights(book: WinterBook) -> list[PlaceLight]:
    """Every place where some tree needs light in some spell."""
    spells = len(book.plan.spells)
    light: dict[str, FloatArray] = {}
    need: dict[str, FloatArray] = {}
    neediest: dict[str, list[str]] = {}
    for (place_id, number), trees in book.ledger.occupants.items():
        if place_id not in need:
            light[place_id] = np.array(
                [book.air.mean_dli(place_id, *_days(book, n)) for n in range(spells)]
            )
            need[place_id] = np.full(spells, np.nan)
            neediest[place_id] = [""] * spells
        needing = [t for t in trees if _needs(book, t, place_id, number)]
        if needing:
            most = max(needing, key=lambda t: t.limits.light_floor_mol_m2_d)
            # the light that the audit holds against its need
            light[place_id][number] = book.air.judged(most.limits, place_id, number).dli
            need[place_id][number] = most.limits.light_floor_mol_m2_d
            neediest[place_id][number] = most.name
    return [
        PlaceLight(place_id, light[place_id], need[place_id], tuple(neediest[place_id]))
        for place_id in book.season.places
        if place_id in need and np.isfinite(need[place_id]).any()
    ]


def _days(book: WinterBook, spell: int) -> tuple[int, int]:
    days = book.air.season_days(book.plan.spells[spell])
    return days.start, days.stop


def _needs(book: WinterBook, tree: Tree, place_id: str, spell: int) -> bool:
    if tree.limits.light_floor_mol_m2_d <= 0:
        return False
    return book.air.judged(tree.limits, place_id, spell).needs_light


def light_part(book: WinterBook) -> Part:
    """A small picture for each place, and a table of spells."""
    places = place_lights(book)
    if not places:
        html = paragraph("No tree of this plan needs light at any time.")
        return Part("light", "Light against need", html)
    figures = []
    for number, one in enumerate(places):
        name = place_name(book.season, one.place_id)
        title = f"{name}: light through the winter against need"
        svg = draw_light(book, one, title, NARROW_PX, f"light-{number}")
        figures.append(half_figure(heading(3, name) + svg + paragraph(described(one), "small")))
    html = paragraph(LEAD) + side_by_side(figures)
    html += folded("Light, spell by spell", html_table(_table(book, places)))
    return Part("light", "Light against need", html)


def _table(book: WinterBook, places: list[PlaceLight]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for one in places:
        for spell in book.plan.spells:
            need = float(one.need[spell.index])
            if np.isfinite(need):
                rows.append(
                    (
                        place_name(book.season, one.place_id),
                        spell_dates(spell),
                        float(one.light[spell.index]),
                        need,
                        one.neediest[spell.index],
                    )
                )
    columns = (
        Column("place"),
        Column("spell"),
        Column("light", LIGHT_UNIT, 1),
        Column("need", LIGHT_UNIT, 1),
        Column("neediest tree"),
    )
    return Table("light", "Light where it is needed", columns, tuple(rows))
