"""Every place that is laid out, to scale, once for the whole winter.

A tree is drawn wherever it stands in some stage, and carries the stages as classes: the page shows
those of the chosen stage, outlines what is new in it and dashes what leaves at its end.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup, escape

from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.render.bench_canvas import INK, Canvas
from overwinter.render.bench_ground import PAD, Part, draw_ground, marks_in_words
from overwinter.render.bench_labels import LINE, Label, fitted
from overwinter.render.bench_words import measures
from overwinter.render.report_winter import short_name
from overwinter.render.words import count, place_name

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
