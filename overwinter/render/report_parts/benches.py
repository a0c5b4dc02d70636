"""Every place to scale, once for each different set of trees on it, with the stages of the set."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby

from overwinter.model.plan import Layout, Proof
from overwinter.model.shelter import Place
from overwinter.model.stage import Stage
from overwinter.model.tree import Tree
from overwinter.render.bench_drawing import draw_bench_in_pieces
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, heading, items, paragraph
from overwinter.render.stage_words import stages_span
from overwinter.render.templates import element, text
from overwinter.render.words import count, place_name

UNFOLDED_TREES = 150
"""Up to so many trees in all drawings together every drawing is shown at once."""


@dataclass(frozen=True)
class Standing:
    """One set of trees on one place and the stages it stands there."""

    place: Place
    tree_ids: tuple[str, ...]
    stages: tuple[Stage, ...]
    layouts: tuple[Layout, ...]
    """Empty when the plan was made without layouts."""

    @property
    def dates(self) -> str:
        """``usually 1 Oct to 29 Oct, and 9 May to 20 May``."""
        runs: list[list[Stage]] = []
        for stage in self.stages:
            if runs and runs[-1][-1].index + 1 == stage.index:
                runs[-1].append(stage)
            else:
                runs.append([stage])
        return f"usually {', and '.join(map(stages_span, runs))}"


def standings(book: WinterBook) -> list[Standing]:
    """By place in the order of the files, then by first stage."""
    found: dict[tuple[str, tuple[str, ...]], list[Stage]] = {}
    for (place_id, number), trees in book.occupants().items():
        key = (place_id, tuple(tree.id for tree in trees))
        found.setdefault(key, []).append(book.plan.stages[number])
    made = [
        Standing(
            book.season.places[place_id],
            ids,
            tuple(sorted(stages, key=lambda stage: stage.index)),
            _layouts(book, place_id, stages),
        )
        for (place_id, ids), stages in found.items()
    ]
    order = {place_id: number for number, place_id in enumerate(book.season.places)}
    return sorted(made, key=lambda one: (order[one.place.id], one.stages[0].index))


def _layouts(book: WinterBook, place_id: str, stages: Sequence[Stage]) -> tuple[Layout, ...]:
    by_stage = book.plan.layouts.get(place_id, {})
    return next((by_stage[s.index] for s in stages if s.index in by_stage), ())


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
    solved = f"Trees were placed {rounds} until every place could be laid out."
    if proof.rounds == 1:
        solved = "The first plan could be laid out as it was."
    if not proof.misfits:
        return solved
    sets = count(proof.misfits, "set of trees was", "sets of trees were")
    return f"{solved} {sets} ruled out on the way because they did not fit when laid out to scale."
