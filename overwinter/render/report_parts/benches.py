"""Every place to scale, once for each different set of trees on it, with the dates of the set."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby

from overwinter.model.plan import Layout, Proof
from overwinter.model.season import Spell
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.render.bench_drawing import draw_bench_in_pieces
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, heading, items, paragraph
from overwinter.render.templates import element, text
from overwinter.render.words import count, place_name, short_date, spell_dates

UNFOLDED_TREES = 150
"""Up to so many trees in all drawings together every drawing is shown at once."""


@dataclass(frozen=True)
class Standing:
    """One set of trees on one place and the spells it stands there."""

    place: Place
    tree_ids: tuple[str, ...]
    spells: tuple[Spell, ...]
    layouts: tuple[Layout, ...]
    """Empty when the plan was made without layouts."""

    @property
    def dates(self) -> str:
        """``1 Oct to 29 Oct, and 9 May to 20 May``."""
        runs: list[list[Spell]] = []
        for spell in self.spells:
            if runs and runs[-1][-1].index + 1 == spell.index:
                runs[-1].append(spell)
            else:
                runs.append([spell])
        ranges = (
            f"{short_date(r[0].start)} to {spell_dates(r[-1]).split(' to ')[1]}" for r in runs
        )
        return ", and ".join(ranges)


def standings(book: WinterBook) -> list[Standing]:
    """By place in the order of the files, then by first date."""
    found: dict[tuple[str, tuple[str, ...]], list[Spell]] = {}
    for (place_id, number), trees in book.ledger.occupants.items():
        key = (place_id, tuple(tree.id for tree in trees))
        found.setdefault(key, []).append(book.plan.spells[number])
    made = [
        Standing(
            book.season.places[place_id],
            ids,
            tuple(sorted(spells, key=lambda spell: spell.index)),
            _layouts(book, place_id, spells),
        )
        for (place_id, ids), spells in found.items()
    ]
    order = {place_id: number for number, place_id in enumerate(book.season.places)}
    return sorted(made, key=lambda one: (order[one.place.id], one.spells[0].index))


def _layouts(book: WinterBook, place_id: str, spells: Sequence[Spell]) -> tuple[Layout, ...]:
    by_spell = book.plan.layouts.get(place_id, {})
    return next((by_spell[s.index] for s in spells if s.index in by_spell), ())


def benches_part(book: WinterBook) -> Part:
    """Drawings by shelter and place; those of large plans are folded."""
    made = standings(book)
    unfold = sum(len(one.tree_ids) for one in made) <= UNFOLDED_TREES
    html = paragraph(
        "Seen from above, to scale; one stands at the front, drawn at the bottom. "
        + fit_words(book.plan.proof, bool(book.plan.layouts))
    )
    number = 0
    for shelter_id, of_shelter in groupby(made, key=lambda one: one.place.shelter_id):
        html += heading(3, book.season.shelter_by_id[shelter_id].name)
        for place, of_place in groupby(of_shelter, key=lambda one: one.place):
            some = list(of_place)
            drawn = "".join(_drawn(book, one, number + n) for n, one in enumerate(some))
            number += len(some)
            html += folded(f"{place.name}: {_sets(some)}", drawn, unfold)
    used = {one.place.id for one in made}
    empty = [place_name(book.season, one) for one in book.season.places if one not in used]
    if empty:
        html += paragraph("Never used in this plan: " + "; ".join(empty) + ".")
    return Part("benches", "Where they stand, to scale", html)


def _sets(some: Sequence[Standing]) -> str:
    most = count(max(len(one.tree_ids) for one in some), "tree")
    return most if len(some) == 1 else f"{len(some)} sets of trees, at most {most}"


def _drawn(book: WinterBook, one: Standing, number: int) -> str:
    title = heading(4, f"{one.place.name}, {one.dates}")
    trees = [book.season.tree_by_id[tree_id] for tree_id in one.tree_ids]
    if not one.layouts:
        listed = items([tree.name for tree in trees])
        return f"{title}{paragraph(count(len(trees), 'tree') + ', not laid out:')}{listed}"
    return title + figure(partial(_pieces, book, one, trees, number))


def _pieces(
    book: WinterBook,
    one: Standing,
    trees: Sequence[Tree],
    number: int,
    width_px: float,
    size: str,
) -> str:
    pieces = draw_bench_in_pieces(
        one.place,
        trees,
        one.layouts,
        book.display,
        width_px=width_px,
        key=f"{number} {size}",
    )
    names = "".join(f"<li>{text(name)}</li>" for name in pieces.names)
    return "".join(pieces.svgs) + element("ol", names, "names")


def fit_words(proof: Proof, laid_out: bool) -> str:
    """How often the first plan did not fit, in words."""
    if not laid_out:
        return "This plan was made without laying the places out; only areas were kept."
    rounds = count(proof.rounds, "time")
    solved = f"The plan was computed {rounds} until every place could be laid out."
    if proof.rounds == 1:
        solved = "The first plan computed could be laid out as it was."
    if not proof.misfits:
        return solved
    sets = count(proof.misfits, "set of trees was", "sets of trees were")
    return f"{solved} {sets} ruled out on the way because they did not fit when laid out to scale."
