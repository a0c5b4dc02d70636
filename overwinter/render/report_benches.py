"""Every place that is laid out, to scale, once for the whole winter. A tree is drawn wherever it
stands in some stage, and carries the stages as classes: the page shows those of the chosen stage,
outlines what is new in it and dashes what leaves at its end."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from markupsafe import Markup

from overwinter.climate.series import by_day
from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.model.tree import Tree, numbered_name
from overwinter.render.bench_drawing import INSIDE, Label, Spot, draw_place, fitted, numbered_scale
from overwinter.render.carry_words import layout_of
from overwinter.render.words import count, names_of, on_last_day, tree_names
from overwinter.search.explain import winter_stage
from overwinter.shelters.heater import setting_label

LONG_WORD, VOWELS = 8, frozenset("aeiouy,")

Stays = Mapping[str, Sequence[str | None]]
DRAWN_PX = 292.0  # as wide as the narrowest telephone leaves room for
LETTERS_PX = 12.0


@dataclass(frozen=True, slots=True)
class Cell:
    """Stages that follow each other with the same in them."""

    first: int  # index of its first stage
    count: int
    words: str
    full: str  # what `words` stand for
    pattern: str  # which of the patterns; empty for a summer stand or nothing

    @property
    def stages(self) -> range:
        """Indices of its stages."""
        return range(self.first, self.first + self.count)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the chart."""

    name: str
    cells: tuple[Cell, ...]
    which: str = ""  # `was` and `is` of trees that go another way than in a plan before


def short_name(place_id: str) -> str:
    """The grower's own short name of a place: ``cellar racks``."""
    return place_id.replace("/", " ").replace("-", " ").replace("_", " ")


def sign_mark(season: Season, stage: Stage) -> str:
    """The sign in the least words that say it, for the head of a column."""
    if stage.sign is Sign.START:
        return "the plan begins"
    if on_last_day(season, stage):
        return "last day"
    if stage.sign is Sign.CALENDAR or stage.threshold_c is None:
        told = dict.fromkeys(_mark(one) for one in stage.happenings)
        return " ".join(map(_soft, (", ".join(told) or "day of the calendar").split()))
    degrees = season.site.display.thermostat(stage.threshold_c)
    degrees = degrees.replace(" ", "\N{NO-BREAK SPACE}")
    return f"night {degrees}" if stage.sign is Sign.COLD_NIGHT else f"week without {degrees}"


def _soft(word: str) -> str:
    """A long word with a soft hyphen between two consonants near its middle, for narrow columns."""
    middle = len(word) / 2
    ends = [n for n in range(3, len(word) - 2) if not set(word[n - 1 : n + 1].lower()) & VOWELS]
    if len(word) <= LONG_WORD or not ends:
        return word
    at = min(ends, key=lambda n: abs(n - middle))
    return word[:at] + "\N{SOFT HYPHEN}" + word[at:]


def _mark(one: Happening) -> str:
    if one.kind in (HappeningKind.OPENS, HappeningKind.CLOSES):
        return f"{short_name(one.subject)} {one.kind.value}"
    return {HappeningKind.JOINS: "new trees"}.get(one.kind, one.kind.value)


def coldest_nights(season: Season, plan: Plan) -> tuple[str, ...]:
    """The coldest night of each stage in the middle one of the winters, on its usual days."""
    nights = by_day(season.winters.air_c).min(axis=-1)
    found = []
    for stage in plan.stages:
        days = slice(season.day_index(stage.usual), season.day_index(stage.until))
        some = nights[:, :0] if stage.is_rare else nights[:, days]
        degrees = season.site.display.temperature
        found.append(degrees(float(np.median(some.min(axis=1))), 0) if some.size else "")
    return tuple(found)


def tree_rows(season: Season, plan: Plan) -> tuple[Row, ...]:
    """Trees on one way are one row; those that winter at one place stand together."""
    ways: dict[tuple[str | None, ...], list[str]] = {}
    for tree_id, way in plan.stays.items():
        ways.setdefault(tuple(way), []).append(tree_id)
    rank = {place_id: n for n, place_id in enumerate(season.places)}
    middle = winter_stage(plan.stages)
    order = sorted(ways, key=lambda way: [rank.get(p or "", -1) for p in (way[middle], *way)])
    return tuple(Row(names_of(season, ways[way]), _places(season, plan, way)) for way in order)


def heater_rows(season: Season, plan: Plan) -> tuple[Row, ...]:
    """One lane for each shelter that is heated."""
    rows = []
    for shelter in season.shelters:
        settings = plan.settings.get(shelter.id, ())
        if all(setting.is_off for setting in settings):
            continue
        words = ["" if s.is_off else setting_label(s, season.site.display) for s in settings]
        cells = _cells(words, lambda label: (label, label, "heat"))
        rows.append(Row(f"Heater of {shelter.name}", cells))
    return tuple(rows)


def changed_rows(season: Season, plan: Plan, before: Stays) -> tuple[Row, ...]:
    """Two rows for trees on another way than in the plan before. ``before``: where each would be by
    that plan, in the stages of this one; a tree that it does not know was nowhere."""
    ways: dict[tuple[tuple[str | None, ...], tuple[str | None, ...]], list[str]] = {}
    for tree_id, now in plan.stays.items():
        was = before.get(tree_id, (None,) * len(now))
        if tuple(was) != tuple(now):
            ways.setdefault((tuple(was), tuple(now)), []).append(tree_id)
    return tuple(
        Row(names_of(season, trees) if which == "was" else "", _places(season, plan, way), which)
        for (was, now), trees in ways.items()
        for which, way in (("was", was), ("is", now))
    )


def _places(season: Season, plan: Plan, way: Sequence[str | None]) -> tuple[Cell, ...]:
    pattern = {shelter.id: str(n % 8) for n, shelter in enumerate(season.shelters)}

    def told(place_id: str) -> tuple[str, str, str]:
        home = place_id == season.site.summer_place
        shelter_id = season.places[place_id].shelter_id
        full = season.place_name(place_id)
        return ("", full, "") if home else (short_name(place_id), full, pattern[shelter_id])

    return _cells([place_id or "" for place_id in way], told)


def _cells(values: Sequence[str], told: Callable[[str], tuple[str, str, str]]) -> tuple[Cell, ...]:
    found = []
    for value, group in groupby(enumerate(values), key=lambda pair: pair[1]):
        stages = [k for k, _ in group]
        if value:
            found.append(Cell(stages[0], len(stages), *told(value)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Stand:
    """One tree on one spot, and when."""

    layout: Layout | None
    tree: Tree
    stages: tuple[int, ...]
    css: str  # stages in which it is there, is new, and leaves at the end


@dataclass(frozen=True)
class Bench:
    """One place through the winter."""

    place_id: str
    short: str
    name: str
    css: str  # stages in which somebody stands there
    facts: tuple[tuple[str, str], ...]  # stages as classes, and how many trees stand there
    svg: Markup | None  # None: nothing is laid out there
    numbered: tuple[tuple[str, str, str], ...]
    """Stages as classes, number and name of a tree; without a drawing "" and trees alike."""


def benches(season: Season, plan: Plan) -> tuple[Bench, ...]:
    """Every place at which somebody stands in some stage."""
    stands = ((place, list(_stands(season, plan, place))) for place in season.places.values())
    return tuple(_bench(season, place, some) for place, some in stands if some)


def _at(stages: Iterable[int]) -> str:
    return " ".join(f"at{k}" for k in stages)


def _stands(season: Season, plan: Plan, place: Place) -> Iterator[Stand]:
    """Each stay of each tree, divided where its spot changes."""
    last = len(plan.stages)
    drawn = [layout_of(plan, place.id, k) for k in range(last)]
    for tree in season.trees:
        stays = plan.stays.get(tree.id, ())
        marks = [(here == place.id, drawn[k].get(tree.id)) for k, here in enumerate(stays)]
        for (here, layout), group in groupby(range(len(marks)), key=lambda k: marks[k]):
            stages = tuple(group)
            new = f" new{stages[0]}" if stages[0] else ""
            leaves = "" if stages[-1] + 1 == last else f" out{stages[-1]}"
            if here:
                yield Stand(layout, tree, stages, f"{_at(stages)}{new}{leaves}")


def _bench(season: Season, place: Place, stands: list[Stand]) -> Bench:
    first: dict[str, Stand] = {}
    for stand in stands:
        first.setdefault(stand.tree.id, stand)
    drawn_first = sorted(
        first.values(), key=lambda s: (s.layout is None, s.layout and (s.layout.x_m, s.layout.y_m))
    )
    number = {stand.tree.id: n for n, stand in enumerate(drawn_first, 1)}
    laid_out = [(stand, stand.layout) for stand in stands if stand.layout is not None]
    scale = numbered_scale(place, [layout for _, layout in laid_out], number, DRAWN_PX)
    labels = [  # the name, where the tree is drawn large enough for it
        fitted(s.tree.name, at.width_m * scale - 2 * INSIDE, at.depth_m * scale, (LETTERS_PX,))
        for s, at in laid_out
    ]
    # a name on one spot and a number on another would be two trees to the eye
    pairs = list(zip(laid_out, labels, strict=True))
    named = {s.tree.id for s, _ in laid_out} - {s.tree.id for (s, _), is_ in pairs if not is_}
    spots = []
    for (stand, layout), label in pairs:
        if label is None or stand.tree.id not in named:
            label = Label((str(number[stand.tree.id]),), LETTERS_PX)
        tree, display = stand.tree, season.site.display
        size = map(display.length, (tree.width_m, tree.depth_m, tree.height_m))
        hint = "{}: {} × {}, {} tall, {}".format(tree.name, *size, display.weight(tree.weight_kg))
        spots.append(Spot(layout, label, css=f"when tree {stand.css}", hint=hint))
    there = {t: sorted(k for s in stands if s.tree.id == t for k in s.stages) for t in number}
    trees = Counter(k for stages in there.values() for k in stages)
    alike: dict[tuple[str, str, str], list[str]] = {}
    for t in number:
        if t not in named:
            name = season.tree_by_id[t].name
            key = _at(there[t]), str(number[t]) if laid_out else "", numbered_name(name)[0]
            alike.setdefault(key, []).append(name)
    called, display, svg = season.place_name(place.id), season.site.display, None
    if laid_out:
        title = f"{called}, to scale"
        svg = draw_place(place, spots, scale, DRAWN_PX, display, place.id, title)
    return Bench(
        place_id=place.id,
        short=short_name(place.id),
        name=called,
        css=_at(sorted(trees)),
        facts=tuple(
            (_at(group), count(many, "tree"))
            for many, group in groupby(sorted(trees), key=lambda k: trees[k])
        ),
        svg=svg,
        numbered=tuple((css, n, tree_names(names)) for (css, n, _), names in alike.items()),
    )
