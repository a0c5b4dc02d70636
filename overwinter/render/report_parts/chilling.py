"""Chilling earned against owed, kind by kind."""

from collections.abc import Sequence
from functools import partial

from overwinter.audit.report import TreeMargin
from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, html_table, paragraph
from overwinter.render.tables import Column, Table
from overwinter.render.words import count

_MOST = 3.0
"""Bars end with an arrowhead at this many times what is owed."""
MOST_BARS = 18
"""Bars in one picture: with its heading it must fit a page, for no page break can cut it."""


def chilling_part(book: WinterBook) -> Part:
    """A bar for the worst tree of each kind, a table for all trees."""
    owing = [m for m in book.report.margins.values() if m.chill_owed > 0]
    free = len(book.report.margins) - len(owing)
    if not owing:
        html = paragraph("No tree of this plan owes any chilling.")
        return Part("chilling", "Chilling earned against owed", html)
    kinds: dict[tuple[str, float, str], list[TreeMargin]] = {}
    for margin in owing:
        tree = book.season.tree_by_id[margin.tree_id]
        kind = (tree.species_key, margin.chill_owed, margin.chill_unit)
        kinds.setdefault(kind, []).append(margin)
    worst = sorted(
        ((min(some, key=_share), some) for some in kinds.values()), key=lambda pair: _share(pair[0])
    )
    bars = [_bar(book, margin, some) for margin, some in worst]
    html = paragraph(
        "The tree of each kind that earns least. The upright mark is what it owes; a bar past the "
        "mark has earned enough, one with an arrowhead earns more than three times that."
    )
    for first in range(0, len(bars), MOST_BARS):
        html += figure(partial(_bars, bars[first : first + MOST_BARS], first))
    if free:
        html += paragraph(f"{count(free, 'tree owes', 'trees owe')} no chilling.")
    html += folded("Chilling, tree by tree", html_table(_table(book, sorted(owing, key=_share))))
    return Part("chilling", "Chilling earned against owed", html)


def _bars(bars: Sequence[BarRow], first: int, width_px: float, size: str) -> str:
    """A picture of some of the bars; all pictures have one scale."""
    title = "Chilling earned as a share of what is owed"
    if first:
        title += f", from bar {first + 1} on"
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    return draw_bars(bars, title, f"{words}.", width_px, f"chilling-{first}-{size}", full=_MOST)


def _share(margin: TreeMargin) -> float:
    return margin.chill_earned / margin.chill_owed


def _bar(book: WinterBook, margin: TreeMargin, some: list[TreeMargin]) -> BarRow:
    tree = book.season.tree_by_id[margin.tree_id]
    species = book.season.species.get(tree.species_key)
    kind = tree.species_key if species is None else species.latin or species.common
    trees = tree.name if len(some) == 1 else f"{tree.name}, least of {len(some)}"
    words = f"{margin.chill_earned:.0f} of {margin.chill_owed:.0f} {margin.chill_unit}"
    return BarRow(f"{kind} ({trees})", _share(margin), words, mark=1.0)


def _table(book: WinterBook, margins: list[TreeMargin]) -> Table:
    rows = tuple(
        (
            book.season.tree_by_id[m.tree_id].name,
            f"{m.chill_earned:.0f} {m.chill_unit}",
            f"{m.chill_owed:.0f} {m.chill_unit}",
        )
        for m in margins
    )
    columns = (Column("tree"), Column("earned"), Column("owed"))
    return Table("chilling", "Chilling, least share first", columns, rows)
