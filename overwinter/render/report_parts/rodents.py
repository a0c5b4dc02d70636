"""What mice can still reach, after guards."""

from dataclasses import dataclass

from overwinter.audit.rules.costs import WINTER_DAYS
from overwinter.audit.rules.permission import exposure_left
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, html_table, paragraph
from overwinter.render.tables import Column, Table
from overwinter.render.words import count, money, percent, place_name


@dataclass
class _Reach:
    """One place: its trees, the worst of them, the expected loss."""

    trees: set[str]
    worst: float = 0.0
    worst_tree: str = ""
    loss: float = 0.0


def reached(book: WinterBook) -> dict[str, _Reach]:
    """By place that mice reach, in the order of the files."""
    weights = book.season.site.weights
    found: dict[str, _Reach] = {}
    for tree, spell, place in book.ledger.stays():
        left = tree.limits.rodent_appeal * exposure_left(book.ledger, place)
        if left <= 0:
            continue
        one = found.setdefault(place.id, _Reach(set()))
        one.trees.add(tree.id)
        one.loss += tree.value * weights.rodent_share / WINTER_DAYS * left * spell.days
        if left > one.worst:
            one.worst, one.worst_tree = left, tree.name
    return {place_id: found[place_id] for place_id in book.season.places if place_id in found}


def rodents_part(book: WinterBook) -> Part:
    """A sentence and a table by place."""
    found = reached(book)
    title = "Mice: what is left to them"
    if not found:
        return Part("rodents", title, paragraph("No tree of this plan stands where mice run."))
    limit = book.season.site.weights.rodent_limit
    loss = sum(one.loss for one in found.values())
    html = paragraph(
        f"Expected loss {money(loss, book.currency)} over the winter, by the chances this site "
        f"sets (nobody has measured them). No tree may stand where its appeal times the exposure "
        f"left after guards is above {limit:g}."
    )
    rows = tuple(
        (
            place_name(book.season, place_id),
            "fitted" if book.season.places[place_id].guarded else "none",
            count(len(one.trees), "tree"),
            f"{one.worst_tree}, {percent(one.worst / limit)} of the limit",
            one.loss,
        )
        for place_id, one in found.items()
    )
    columns = (
        Column("place"),
        Column("guards"),
        Column("trees in reach"),
        Column("most tempting"),
        Column("expected loss", book.currency, 2),
    )
    table = Table("rodents", "Places that mice reach", columns, rows)
    return Part("rodents", title, html + html_table(table))
