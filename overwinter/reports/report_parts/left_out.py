"""Trees without a safe place, and what every place lacks for each."""

from overwinter.domain.plan import Lack, LeftOut
from overwinter.reports.report_book import WinterBook
from overwinter.reports.report_html import Part, heading, html_table, paragraph
from overwinter.reports.tables import Column, Table
from overwinter.reports.words import place_name, spell_dates


def left_out_part(book: WinterBook) -> Part | None:
    """One table a tree, nearest place first; None when no tree is left out."""
    if not book.plan.left_out:
        return None
    html = paragraph(
        "These trees are not in the plan: no place is safe for them in every spell. Find them a "
        "place elsewhere, or change what the nearest place lacks and plan again."
    )
    for left in book.plan.left_out:
        tree = book.season.tree_by_id[left.tree_id]
        html += heading(3, tree.name) + html_table(_table(book, left, tree.name))
    return Part("left-out", "Trees without a safe place", html)


def _table(book: WinterBook, left: LeftOut, name: str) -> Table:
    rows = tuple(
        (
            place_name(book.season, lack.place_id),
            f"{lack.reason.value}, {_shortfall(book, lack)}",
            book.setting_words(book.season.places[lack.place_id].shelter_id, lack.setting),
            spell_dates(book.plan.spells[lack.spell]),
        )
        for lack in left.lacks
    )
    columns = (Column("place"), Column("lacks"), Column("best setting"), Column("worst spell"))
    return Table("left-out", f"What each place lacks for {name}", columns, rows)


def _shortfall(book: WinterBook, lack: Lack) -> str:
    if lack.unit == "K":
        return book.display.kelvin(lack.shortfall)
    if lack.unit == "m":
        return book.display.length(lack.shortfall)
    if lack.unit == "kg":
        return book.display.weight(lack.shortfall)
    return f"{lack.shortfall:.2g} {lack.unit}"
