"""Trees without a place, what would give them one, and what every place lacks for each."""

from collections.abc import Sequence

from overwinter.model.plan import Lack, LeftOut
from overwinter.render.alike import tree_names
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, folded, heading, html_table, paragraph
from overwinter.render.stage_words import stage_number
from overwinter.render.table import Column, Table
from overwinter.render.tables import cure_words
from overwinter.render.words import amount_words, count, place_name

NEAREST = 3
"""So many places are shown at once for each tree; the others are folded."""


def left_out_part(book: WinterBook) -> Part | None:
    """One table a tree, nearest place first; None when no tree is left out."""
    if not book.plan.left_out:
        return None
    html = paragraph(
        "These trees are not in the plan. What would help was found by planning without one rule "
        "at a time for that tree. Find them a place elsewhere, or change that and plan again."
    )
    alike: dict[tuple[str, tuple[Lack, ...]], list[LeftOut]] = {}
    for left in book.plan.left_out:
        alike.setdefault((cure_words(book.season, left), left.lacks), []).append(left)
    for (cure, lacks), some in alike.items():
        html += heading(3, tree_names(book.season.tree_by_id[one.tree_id].name for one in some))
        html += paragraph(f"What would help: {cure}.")
        html += html_table(_table(book, lacks[:NEAREST], "The nearest places, and what they lack"))
        html += folded(
            f"{count(len(lacks) - NEAREST, 'other place')}",
            html_table(_table(book, lacks[NEAREST:], "The other places, and what they lack"))
            if len(lacks) > NEAREST
            else "",
        )
    return Part("left-out", "Trees without a place", html)


def _table(book: WinterBook, lacks: Sequence[Lack], title: str) -> Table:
    rows = tuple(
        (
            place_name(book.season, lack.place_id),
            ", ".join(
                filter(
                    None,
                    [lack.reason.value, amount_words(lack.amount, lack.unit, book.display)],
                )
            ),
            stage_number(book.plan.stages[lack.stage]),
        )
        for lack in lacks
    )
    columns = (Column("place"), Column("lacks"), Column("worst stage"))
    return Table("left-out", title, columns, rows)
