"""Trees without a safe place, and what every place lacks for each."""

from collections.abc import Sequence

from overwinter.model.plan import Lack
from overwinter.render.alike import tree_names
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, folded, heading, html_table, paragraph
from overwinter.render.tables import Column, Table
from overwinter.render.words import amount_words, count, place_name, spell_dates
from overwinter.shelters.heater import setting_label

NEAREST = 3
"""So many places are shown at once for each tree; the others are folded."""


def left_out_part(book: WinterBook) -> Part | None:
    """One table a tree, nearest place first; None when no tree is left out."""
    if not book.plan.left_out:
        return None
    html = paragraph(
        "These trees are not in the plan: no place is safe for them in every spell. Find them a "
        "place elsewhere, or change what the nearest place lacks and plan again."
    )
    alike: dict[tuple[Lack, ...], list[str]] = {}
    for left in book.plan.left_out:
        alike.setdefault(left.lacks, []).append(book.season.tree_by_id[left.tree_id].name)
    for lacks, names in alike.items():
        html += heading(3, tree_names(names))
        html += html_table(_table(book, lacks[:NEAREST], "The nearest places, and what they lack"))
        html += folded(
            f"{count(len(lacks) - NEAREST, 'other place')}",
            html_table(_table(book, lacks[NEAREST:], "The other places, and what they lack"))
            if len(lacks) > NEAREST
            else "",
        )
    return Part("left-out", "Trees without a safe place", html)


def _table(book: WinterBook, lacks: Sequence[Lack], title: str) -> Table:
    rows = tuple(
        (
            place_name(book.season, lack.place_id),
            ", ".join(
                filter(
                    None,
                    [lack.reason.value, amount_words(lack.shortfall, lack.unit, book.display)],
                )
            ),
            setting_label(lack.setting, book.display),
            spell_dates(book.plan.spells[lack.spell]),
        )
        for lack in lacks
    )
    columns = (Column("place"), Column("lacks"), Column("best setting"), Column("worst spell"))
    return Table("left-out", title, columns, rows)
