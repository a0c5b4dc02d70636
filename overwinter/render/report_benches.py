"""Every place that is laid out, to scale, once for the whole winter.

A tree is drawn wherever it stands in some stage, and carries the stages as classes: the page shows
those of the chosen stage, outlines what is new in it and dashes what leaves at its end.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from markupsafe import Markup, escape

from overwinter.climate.series import daily_min
from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.render.bench_drawing import (
    INK,
    LINE,
    PAD,
    Canvas,
    Label,
    Part,
    draw_ground,
    fitted,
    marks_in_words,
    measures,
)
from overwinter.render.words import count, place_name, tree_names
from overwinter.search.explain import winter_stage
from overwinter.shelters.heater import setting_label

LONG_WORD, VOWELS = 8, frozenset("aeiouy,")

Stays = Mapping[str, Sequence[str | None]]


@dataclass(frozen=True, slots=True)
class Cell:
    """Stages that follow each other with the same in them."""

    first: int
    """Index of its first stage."""
    count: int
    words: str
    full: str
    """What ``words`` stand for."""
    pattern: str
    """Which of the patterns; empty for a summer stand or nothing."""

    @property
    def stages(self) -> range:
        """Indices of its stages."""
        return range(self.first, self.first + self.count)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the chart."""

    name: str
    cells: tuple[Cell, ...]
    which: str = ""
    """``was`` and ``is`` for the two rows of trees that go another way since a plan before."""


def short_name(place_id: str) -> str:
    """The grower's own short name of a place: ``cellar racks``."""
    return place_id.replace("/", " ").replace("-", " ").replace("_", " ")


def sign_mark(season: Season, stage: Stage) -> str:
    """The sign in the least words that say it, for the head of a column."""
    if stage.sign is Sign.START:
        return "the plan begins"
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
    nights = daily_min(season.winters.air_c)
    found = []
    for stage in plan.stages:
        days = slice(season.day_index(stage.usual), season.day_index(stage.until))
        some = nights[:, days]
        degrees = season.site.display.temperature
        found.append(degrees(float(np.median(some.min(axis=1))), 0) if some.size else "")
    return tuple(found)


def tree_rows(season: Season, plan: Plan, trees: Iterable[str] | None = None) -> tuple[Row, ...]:
    """Trees on one way are one row; those that winter at one place stand together."""
    ways: dict[tuple[str | None, ...], list[str]] = {}
    for tree_id in plan.stays if trees is None else trees:
        ways.setdefault(tuple(plan.stays[tree_id]), []).append(tree_id)
    rank = {place_id: n for n, place_id in enumerate(season.places)}
    middle = winter_stage(plan.stages)
    order = sorted(ways, key=lambda way: [rank.get(p or "", -1) for p in (way[middle], *way)])
    return tuple(Row(_names(season, ways[way]), _places(season, plan, way)) for way in order)


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
    """Two rows for trees that go to other places, or in another order, than in the plan before.

    ``before``: where each tree would be by that plan, in the stages of this one.
    """
    ways: dict[tuple[tuple[str | None, ...], tuple[str | None, ...]], list[str]] = {}
    for tree_id, was in before.items():
        now = plan.stays.get(tree_id)
        if now is not None and _one_after_the_other(was) != _one_after_the_other(now):
            ways.setdefault((tuple(was), tuple(now)), []).append(tree_id)
    return tuple(
        Row(_names(season, trees) if which == "was" else "", _places(season, plan, way), which)
        for (was, now), trees in ways.items()
        for which, way in (("was", was), ("is", now))
    )


def _one_after_the_other(way: Sequence[str | None]) -> list[str | None]:
    return [place_id for place_id, _ in groupby(way)]


def _names(season: Season, tree_ids: Iterable[str]) -> str:
    return tree_names(season.tree_by_id[tree_id].name for tree_id in tree_ids)


def _places(season: Season, plan: Plan, way: Sequence[str | None]) -> tuple[Cell, ...]:
    pattern = {shelter.id: str(n % 8) for n, shelter in enumerate(season.shelters)}

    def told(place_id: str) -> tuple[str, str, str]:
        home = place_id == season.site.summer_place
        shelter_id = season.places[place_id].shelter_id
        full = place_name(season, place_id)
        return ("", full, "") if home else (short_name(place_id), full, pattern[shelter_id])

    return _cells([place_id or "" for place_id in way], told)


def _cells(values: Sequence[str], told: Callable[[str], tuple[str, str, str]]) -> tuple[Cell, ...]:
    found = []
    for value, group in groupby(enumerate(values), key=lambda pair: pair[1]):
        stages = [k for k, _ in group]
        if value:
            found.append(Cell(stages[0], len(stages), *told(value)))
    return tuple(found)


NARROW_PX, WIDE_PX = 292.0, 600.0
LONG_M = 2.6
"""Longer places are drawn over twice the width."""
TALLEST_PX = 220.0
LETTERS_PX = 12.0
INSIDE_PX = 2.0


@dataclass(frozen=True, slots=True)
class Stand:
    """One tree on one spot, and when."""

    layout: Layout | None
    tree_id: str
    name: str
    first: int
    end: int
    """Stage after its last."""
    stays_on: bool
    """Whether it stands there to the end of the plan."""

    @property
    def css(self) -> str:
        """Stages in which it is there, is new, and leaves at the end."""
        there = [f"at{k}" for k in range(self.first, self.end)]
        new = [f"new{self.first}"] if self.first else []
        return " ".join([*there, *new, *([] if self.stays_on else [f"out{self.end - 1}"])])


@dataclass(frozen=True)
class Bench:
    """One place through the winter."""

    place_id: str
    short: str
    name: str
    wide: bool
    css: str
    """Stages in which somebody stands there."""
    facts: tuple[tuple[str, str], ...]
    """Stages as classes, and how many trees in how much of the room."""
    svg: Markup | None
    """None: nothing is laid out there."""
    numbered: tuple[tuple[str, str, str], ...]
    """Stages as classes, number ("" without a drawing) and name of a tree."""


def benches(season: Season, plan: Plan) -> tuple[Bench, ...]:
    """Every place at which somebody stands in some stage."""
    found = []
    for place in season.places.values():
        stands = tuple(_stands(season, plan, place))
        if stands:
            found.append(_bench(season, plan, place, stands))
    return tuple(found)


def _stands(season: Season, plan: Plan, place: Place) -> Iterator[Stand]:
    """Each stay of each tree, divided where its spot changes."""
    drawn = plan.layouts.get(place.id, {})
    last = len(plan.stages)
    for tree in season.trees:
        stays = plan.stays.get(tree.id, ())
        spots = [
            next((one for one in drawn.get(k, ()) if one.tree_id == tree.id), None)
            for k in range(last)
        ]
        marks = [(stays[k] == place.id, spots[k]) for k in range(len(stays))]
        for (here, layout), group in groupby(range(len(marks)), key=lambda k: marks[k]):
            stages = list(group)
            if here:
                end = stages[-1] + 1
                yield Stand(layout, tree.id, tree.name, stages[0], end, end == last)


def _bench(season: Season, plan: Plan, place: Place, stands: tuple[Stand, ...]) -> Bench:
    laid_out = [stand for stand in stands if stand.layout is not None]
    by_tree = sorted(
        {stand.tree_id: stand for stand in reversed(stands)}.values(),
        key=lambda stand: (
            stand.layout is None,
            stand.layout and (stand.layout.x_m, stand.layout.y_m),
        ),
    )
    number = {stand.tree_id: str(n) for n, stand in enumerate(by_tree, 1)}
    wide = place.width_m > LONG_M or not laid_out
    svg, named = None, set[str]()
    if laid_out:
        drawing, named = _drawn(season, place, laid_out, number, WIDE_PX if wide else NARROW_PX)
        svg = Markup(drawing)
    stages = sorted({k for stand in stands for k in range(stand.first, stand.end)})
    return Bench(
        place_id=place.id,
        short=short_name(place.id),
        name=place_name(season, place.id),
        wide=wide,
        css=" ".join(f"at{k}" for k in stages),
        facts=tuple(_facts(plan, place, stages)),
        svg=svg,
        numbered=tuple(
            (
                " ".join(
                    f"at{k}"
                    for one in stands
                    if one.tree_id == t
                    for k in range(one.first, one.end)
                ),
                number[t] if laid_out else "",
                season.tree_by_id[t].name,
            )
            for t in number
            if t not in named
        ),
    )


def _facts(plan: Plan, place: Place, stages: list[int]) -> Iterator[tuple[str, str]]:
    def trees(k: int) -> int:
        return sum(stays[k] == place.id for stays in plan.stays.values())

    for many, group in groupby(stages, key=trees):
        yield " ".join(f"at{k}" for k in group), count(many, "tree")


def _drawn(
    season: Season, place: Place, stands: list[Stand], number: dict[str, str], width_px: float
) -> tuple[str, set[str]]:
    """The drawing, and the trees whose names stand on it."""
    display = season.site.display
    scale = min((width_px - 2 * PAD) / place.width_m, TALLEST_PX / place.depth_m)
    canvas = Canvas(2 * PAD + place.width_m * scale)
    draw_ground(canvas, place, Part(0.0, place.width_m, ()), scale, ())
    labels = {stand: _name_on(stand, scale) for stand in stands}
    # a name on one spot and a number on another would be two trees to the eye
    unnamed = {stand.tree_id for stand, label in labels.items() if label is None}
    named = {stand.tree_id for stand in stands} - unnamed
    for stand in stands:
        assert stand.layout is not None
        layout = stand.layout
        x = PAD + layout.x_m * scale
        y = PAD + (place.depth_m - layout.y_m - layout.depth_m) * scale
        wide, deep = layout.width_m * scale, layout.depth_m * scale
        tree = season.tree_by_id[stand.tree_id]
        canvas.raw(f'<g class="when tree {stand.css}" data-tree="{escape(stand.tree_id)}">')
        canvas.hint(f"{tree.name}: {measures(tree, display)}")
        canvas.rect(x, y, wide, deep, f'fill="#fff" stroke="{INK}"', round_px=2)
        label = labels[stand] if stand.tree_id in named else None
        label = label or Label((number[stand.tree_id],), LETTERS_PX)
        line = LINE * label.size
        top = y + (deep - line * len(label.lines)) / 2 + 0.9 * label.size
        for i, words in enumerate(label.lines):
            canvas.text(x + wide / 2, top + i * line, words, label.size)
        canvas.raw("</g>")
    canvas.y = 2 * PAD + place.depth_m * scale
    key = re.sub(r"[^a-z0-9]+", "-", place.id.lower())
    words = marks_in_words(place)
    return canvas.svg(f"{place_name(season, place.id)}, to scale", words, key), named


def _name_on(stand: Stand, scale: float) -> Label | None:
    """The name, where the tree is drawn large enough for it."""
    assert stand.layout is not None
    width, height = stand.layout.width_m * scale, stand.layout.depth_m * scale
    return fitted(stand.name, width - 2 * INSIDE_PX, height, (LETTERS_PX,))
