"""Every place to scale, once for each different set of trees on it, with the dates of the set."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from overwinter.domain.plan import Layout, Proof
from overwinter.domain.season import Spell
from overwinter.domain.shelter import Place
from overwinter.reports.bench_drawing import draw_bench
from overwinter.reports.report_book import WinterBook
from overwinter.reports.report_html import Part, figure, heading, items, paragraph
from overwinter.reports.words import count, short_date, spell_dates


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
    """Drawings by shelter and place."""
    html = paragraph(
        "Seen from above, to scale; stand at the front, drawn at the bottom. "
        + fit_words(book.plan.proof, bool(book.plan.layouts))
    )
    made = standings(book)
    number = 0
    for shelter_id, of_shelter in groupby(made, key=lambda one: one.place.shelter_id):
        html += heading(3, book.season.shelter_by_id[shelter_id].name, f"bench-in-{number}")
        for one in of_shelter:
            number += 1
            html += _drawn(book, one, number)
    used = {one.place.id for one in made}
    empty = [place for place in book.season.places.values() if place.id not in used]
    if empty:
        names = (f"{book.season.shelter_by_id[p.shelter_id].name}, {p.name}" for p in empty)
        html += paragraph("Never used in this plan: " + "; ".join(names) + ".")
    return Part("benches", "Where they stand, to scale", html)


def _drawn(book: WinterBook, one: Standing, number: int) -> str:
    title = heading(4, f"{one.place.name}, {one.dates}")
    trees = [book.season.tree_by_id[tree_id] for tree_id in one.tree_ids]
    if not one.layouts:
        listed = items([tree.name for tree in trees])
        return f"{title}{paragraph(count(len(trees), 'tree') + ', not laid out:')}{listed}"
    drawing = figure(
        lambda width, size: draw_bench(
            one.place,
            trees,
            one.layouts,
            book.display,
            width_px=width,
            key=f"{number} {size}",
            headed=False,
        )
    )
    return title + drawing


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
