"""The whole winter as one chart: a row for trees on one way, a column for each stage."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from overwinter.climate.series import daily_min
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.render.alike import tree_names
from overwinter.render.words import place_name
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
