"""Spring on the printable sheet: what there is to spare on the way out, alike trees together."""

from collections.abc import Sequence
from itertools import groupby

from overwinter.render.alike import tree_names
from overwinter.render.carry_book import CarryBook
from overwinter.render.carry_spring import (
    SPARE_MEANS,
    SpringRow,
    hardened_words,
    safe_day_words,
    spare_words,
)
from overwinter.render.carry_words import day_words
from overwinter.render.templates import text
from overwinter.render.words import sentence
from overwinter.units import Display

MOST_LETTERS = 240
"""Names in one row: about six lines."""


def spring_sheet(book: CarryBook) -> str:
    """The section; what is the same for a whole day stands above its rows."""
    display = book.site.display
    groups = "\n".join(
        _group(list(same), display)
        for _, same in groupby(book.spring, key=lambda row: (row.stays, row.day, row.risk))
    )
    return (
        f"<section><h2>Spring: on the way out</h2><p>{text(book.spring_words)}</p>"
        f"<p>{text(SPARE_MEANS)}</p>"
        '<table class="spring"><colgroup><col><col class="spare"><col class="hardened">'
        '<col class="safe"></colgroup><thead><tr><th>Tree</th><th>To spare</th>'
        "<th>Hardened then</th><th>Safe outdoors from</th></tr></thead>"
        f"<tbody>\n{groups}\n</tbody></table></section>"
    )


def _group(rows: Sequence[SpringRow], display: Display) -> str:
    """A day's rows of one risk; trees of which the same is said share a row."""
    first = rows[0]
    head = (
        f"{day_words(first.day)}: down to {display.temperature(first.coldest_after_c)} from then "
        f"on in the weather used. {sentence(first.risk)}."
    )
    if first.stays:
        head = f"Still under cover when the plan ends ({day_words(first.day)})"
    alike: dict[tuple[str, ...], list[str]] = {}
    for row in rows:
        said = (spare_words(row, display), hardened_words(row), safe_day_words(row))
        alike.setdefault(said, []).append(row.tree)
    lines = "\n".join(
        f"<tr>{''.join(f'<td>{text(cell)}</td>' for cell in (tree_names(trees), *said))}</tr>"
        for said, alike_trees in alike.items()
        for trees in _portions(alike_trees)
    )
    return f'<tr class="group"><td colspan="4">{text(head)}</td></tr>\n{lines}'


def _portions(trees: Sequence[str]) -> list[list[str]]:
    """Trees for a row each: no row may grow so tall that a page must cut it."""
    portions: list[list[str]] = []
    for tree in trees:
        if portions and len(tree_names([*portions[-1], tree])) <= MOST_LETTERS:
            portions[-1].append(tree)
        else:
            portions.append([tree])
    return portions
