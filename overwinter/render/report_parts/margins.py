"""The trees nearest their limits."""

from overwinter.audit.report import TreeMargin
from overwinter.model.tree import Tree
from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, html_table, paragraph
from overwinter.render.report_parts.knowledge import standing_of, standing_words
from overwinter.render.tables import Cell, Column, Table
from overwinter.render.words import count, place_name, short_date

SHOWN = 15


def margins_part(book: WinterBook) -> Part:
    """Bars for the nearest, a table for all."""
    ordered = sorted(book.report.margins.values(), key=lambda m: (m.nearest_k, m.tree_id))
    if not ordered:
        return Part("margins", "Trees nearest their limits", paragraph("No tree is placed."))
    alike = _alike(book, ordered)[:SHOWN]
    bars = [_bar(book, some) for some in alike]
    title = "Trees nearest their limits: what they have to spare"
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    shown = sum(map(len, alike))
    shared = f", in {count(len(bars), 'bar')}: alike ones share one" if shown > len(bars) else ""
    html = paragraph(
        f"The {shown} nearest of {count(len(ordered), 'tree')}{shared}. A filled "
        "bar is the roots' distance above their working limit (margins already taken off); a "
        "hatched bar is the air's above what a tender top asks for. All in the weather used: a "
        "colder winter leaves less."
    )
    html += figure(
        lambda width, size: draw_bars(bars, title, f"{words}.", width, f"margins-{size}")
    )
    html += folded("Every tree's margins", html_table(_table(book, ordered)))
    return Part("margins", "Trees nearest their limits", html)


def _alike(book: WinterBook, ordered: list[TreeMargin]) -> list[list[TreeMargin]]:
    """Trees of one kind that come equally near on the same day at the same place, together."""
    groups: dict[object, list[TreeMargin]] = {}
    for margin in ordered:
        kind = book.season.tree_by_id[margin.tree_id].species_key
        spare = round(margin.nearest_k, 6)
        key = (kind, spare, margin.nearest_when, _by_air(margin), _where(margin))
        groups.setdefault(key, []).append(margin)
    return list(groups.values())


def _by_air(margin: TreeMargin) -> bool:
    return margin.air_spare_k is not None and margin.air_spare_k < margin.root_spare_k


def _where(margin: TreeMargin) -> str:
    return margin.air_where if _by_air(margin) and margin.air_where else margin.root_where


def _bar(book: WinterBook, some: list[TreeMargin]) -> BarRow:
    margin, others = some[0], len(some) - 1
    spare = book.display.kelvin(margin.nearest_k)
    when, where = short_date(margin.nearest_when), place_name(book.season, _where(margin))
    words = f"{spare}, {'air' if _by_air(margin) else 'roots'}, {when}, {where}"
    name = book.season.tree_by_id[margin.tree_id].name
    if others:
        name = f"{name} and {others} more"
    return BarRow(name, max(margin.nearest_k, 0.0), words, hatched=_by_air(margin))


def _table(book: WinterBook, margins: list[TreeMargin]) -> Table:
    show = book.display
    rows: list[tuple[Cell, ...]] = []
    for m in margins:
        tree = book.season.tree_by_id[m.tree_id]
        air = "" if m.air_spare_k is None else show.kelvin(m.air_spare_k)
        rows.append(
            (
                tree.name,
                show.kelvin(m.root_spare_k),
                show.temperature(m.root_min_c),
                show.temperature(m.root_floor_c),
                f"{short_date(m.root_when)}, {place_name(book.season, m.root_where)}",
                air or "has no air limit",
                _light(m),
                _limit_standing(book, tree),
            )
        )
    columns = (
        Column("tree"),
        Column("roots to spare"),
        Column("roots at"),
        Column("working limit"),
        Column("on, at"),
        Column("air to spare"),
        Column("light over need"),
        Column("root limit rests on"),
    )
    return Table("margins", "Margins of every tree, nearest first", columns, tuple(rows))


def _light(margin: TreeMargin) -> str:
    if margin.light_ratio is None:
        return "needs none"
    return f"{margin.light_ratio:.1f} times"


def _limit_standing(book: WinterBook, tree: Tree) -> str:
    """What backs the killing temperature that decides the limit."""
    name = "root_kill_young_c" if tree.young_roots else "root_kill_c"
    return standing_words(standing_of(book.season, tree, name))
