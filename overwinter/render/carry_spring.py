"""Spring: each tree's way out of cover against the frost that the weather used still holds.

With the conditions at hand each tree's own hardening is followed through the winter the plan gives
it, and its roots through the nights after the carry. Without them it is taken as fully awake and
its roots as cold as the outdoor air, which is the safe side.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from overwinter.audit.hardening import TreeCourse, tree_courses
from overwinter.audit.ledger import Ledger
from overwinter.audit.roots import PathKey, RootPath, path_key, root_paths
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.start import Start, start_of_season
from overwinter.model.tree import Tree
from overwinter.plants.frost import Outdoors, frost_days, safe_from, walk_out_day
from overwinter.plants.hardiness import air_floor_c, working_floor_c
from overwinter.render.carry_order import goes_out
from overwinter.render.carry_words import day_words, place_words
from overwinter.shelters.root_zone import pot_class
from overwinter.units import HOURS_PER_DAY, Display

FROST_C = 0.0


@dataclass(frozen=True, slots=True)
class SpringRow:
    """One tree carried out of cover for good; temperatures of the weather used."""

    day: date
    tree_id: str
    tree: str
    source: str
    target: str
    coldest_after_c: float
    """Coldest outdoor hour from that day to the end of the plan, degC."""
    frost_nights_after: int
    """Days from then on with an hour below 0 degC."""
    spare_k: float
    """Least distance above a working limit from that day on, K; negative: it would be hurt."""
    limited_by: str
    """``roots`` or ``leaves``."""
    hardened: float | None
    """Hardening left on that day, 0 to 1; None: taken as 0, nothing is known of its winter."""
    safe_from: date | None
    """First day from which going out is safe to the end; None: not known, or none is."""
    risk: str
    stays: bool = False
    """Still under cover when the plan ends; ``day`` is the plan's last one."""


@dataclass(frozen=True)
class _Winter:
    """What the plan's winter makes of every tree."""

    ledger: Ledger
    paths: Mapping[PathKey, RootPath]
    courses: Mapping[str, TreeCourse]
    day_length_h: FloatArray


def last_frost(season: Season) -> date | None:
    """Last day with an hour below 0 degC in the weather used; None: no frost at all."""
    found = frost_days(_daily_min_c(season), FROST_C)
    return season.date_of(found[1]) if found else None


def spring_words(season: Season) -> str:
    """The last frost of the weather used, and what it is worth."""
    frost = last_frost(season)
    said = f"The last frost in it is on {day_words(frost)}." if frost else "It holds no frost."
    return (
        f"Weather used: {season.weather.origin.rstrip('.')}. {said} The coming spring will differ: "
        "read the forecast before a tree goes out."
    )


def spring_rows(
    season: Season,
    plan: Plan,
    conditions: Conditions | None = None,
    start: Start | None = None,
) -> tuple[SpringRow, ...]:
    """Every tree's last carry out of cover, by day, the most endangered first.

    Trees still under cover when the plan ends come last. ``start`` is where a plan made in
    mid-winter began.
    """
    last: dict[str, Carry] = {}
    for carry in sorted(plan.carries, key=lambda carry: carry.day):
        last[carry.tree_id] = carry
    out = [carry for carry in last.values() if goes_out(season, carry)]
    indoors = _still_indoors(season, plan)
    winter = _winter(season, plan, conditions, start) if conditions and (out or indoors) else None
    known: dict[object, date | None] = {}
    rows = [_row(season, carry, winter, known) for carry in out]
    rows += [_staying_row(season, carry, winter, known) for carry in indoors]
    return tuple(sorted(rows, key=lambda row: (row.stays, row.day, row.spare_k, row.tree_id)))


def _still_indoors(season: Season, plan: Plan) -> list[Carry]:
    """The carry home that the plan leaves to a later day, for each tree under cover at its end."""
    left = {tree_id: stays[-1] for tree_id, stays in plan.stays.items() if stays and stays[-1]}
    carries = [
        Carry(season.site.ends, tree_id, place_id, season.site.summer_place)
        for tree_id, place_id in left.items()
    ]
    return [carry for carry in carries if goes_out(season, carry)]


SPARE_MEANS = (
    "To spare: how far its roots or leaves stay above their working limit, margins included, from "
    "that day to the end of the plan."
)


def spare_words(row: SpringRow, display: Display) -> str:
    """``3.2 K (roots)``: what is to spare, and of what."""
    if row.stays:
        return ""
    return f"{display.kelvin(row.spare_k)} ({row.limited_by})"


def safe_words(row: SpringRow) -> str:
    """The risk, and since when there would have been none."""
    words = row.risk
    if hardened_words(row):
        words += f"; {hardened_words(row)} hardened then"
    if safe_day_words(row):
        words += f"; safe outdoors from {safe_day_words(row)}"
    return words


def hardened_words(row: SpringRow) -> str:
    """``40 %``: hardening left on the way out; empty where nothing is known or it stays."""
    return "" if row.hardened is None or row.stays else f"{row.hardened * 100:.0f} %"


def safe_day_words(row: SpringRow) -> str:
    """First day on which going out would have been safe; empty where there is none by then."""
    if row.safe_from is None or row.safe_from > row.day:
        return ""
    return day_words(row.safe_from, year=False)


def _winter(season: Season, plan: Plan, conditions: Conditions, start: Start | None) -> _Winter:
    if start is None:
        begin = start_of_season(season)
        start = Start(plan.spells[0].start, begin.trees, begin.carry_days_left)
    ledger = Ledger(season, conditions, plan, start)
    paths = root_paths(ledger, ledger.air, None)
    length_h = conditions.day_length_h[ledger.first_day :]
    return _Winter(ledger, paths, tree_courses(ledger, paths, length_h), length_h)


def _daily_min_c(season: Season) -> FloatArray:
    lowest_c: FloatArray = season.weather.air_c.reshape(-1, HOURS_PER_DAY).min(axis=1)
    return lowest_c


def _row(
    season: Season, carry: Carry, winter: _Winter | None, known: dict[object, date | None]
) -> SpringRow:
    tree = season.tree_by_id[carry.tree_id]
    day = max(season.day_index(carry.day), 0)
    after_c = _daily_min_c(season)[day:]
    coldest_c = float(after_c.min()) if after_c.size else np.inf
    nights = int((after_c < FROST_C).sum())
    roots_k, hardened = _root_spare(season, tree, day, coldest_c, winter)
    leaves_k = coldest_c - air_floor_c(tree.limits, season.site.margins)
    spare_k = min(roots_k, leaves_k)
    return SpringRow(
        day=carry.day,
        tree_id=tree.id,
        tree=tree.name,
        source=place_words(season, carry.source),
        target=place_words(season, carry.target),
        coldest_after_c=coldest_c,
        frost_nights_after=nights,
        spare_k=spare_k,
        limited_by="roots" if roots_k <= leaves_k else "leaves",
        hardened=hardened,
        safe_from=_safe_from(season, tree, carry, winter, known),
        risk=_risk(spare_k, nights),
    )


def _staying_row(
    season: Season, carry: Carry, winter: _Winter | None, known: dict[object, date | None]
) -> SpringRow:
    row = _row(season, carry, winter, known)
    return replace(row, stays=True, spare_k=np.inf, risk="still under cover when the plan ends")


def _root_spare(
    season: Season, tree: Tree, day: int, coldest_c: float, winter: _Winter | None
) -> tuple[float, float | None]:
    """Least distance of the roots above their floor from ``day`` on, K, and the hardening then."""
    limits = tree.limits
    if winter is None or tree.id not in winter.courses:
        hard_c = tree.root_kill_hardened_c
        margins = season.site.margins
        floor = working_floor_c(0.0, hard_c, limits.root_kill_unhardened_c, margins, tree.condition)
        return coldest_c - float(floor), None
    course = winter.courses[tree.id]
    at = day - winter.ledger.first_day - course.first_day
    span_k = tree.root_kill_hardened_c - limits.root_kill_unhardened_c
    lost_k = float(course.kill_c[at]) - limits.root_kill_unhardened_c
    hardened = lost_k / span_k if span_k else 0.0
    return float(course.spare_k[at:].min()), round(hardened, 6) + 0.0


def _safe_from(
    season: Season,
    tree: Tree,
    carry: Carry,
    winter: _Winter | None,
    known: dict[object, date | None],
) -> date | None:
    """First day from which the tree could go out to stay, for its roots and its leaves."""
    if winter is None or tree.id not in winter.courses:
        return None
    path = path_key(winter.ledger, tree)
    key = (path, carry.target, tree.limits, tree.young_roots, tree.condition)
    if key not in known:
        known[key] = _first_safe_day(season, tree, carry, winter)
    return known[key]


def _first_safe_day(season: Season, tree: Tree, carry: Carry, winter: _Winter) -> date | None:
    first = winter.ledger.first_day + winter.courses[tree.id].first_day
    path = winter.paths[path_key(winter.ledger, tree)]
    zone = winter.ledger.conditions.places[carry.target].root[pot_class(tree.pot_litres)]
    roots = walk_out_day(
        tree,
        season.site.margins,
        path.mean_c[winter.courses[tree.id].first_day :],
        Outdoors(zone.mean_c[0, first:], zone.min_c[0, first:]),
        winter.day_length_h[winter.courses[tree.id].first_day :],
        winter.ledger.start.trees[tree.id].hardening,
    )
    floor_c = air_floor_c(tree.limits, season.site.margins)
    leaves = safe_from(_daily_min_c(season)[first:], floor_c)
    if roots is None or leaves is None:
        return None
    return season.date_of(first + max(roots, leaves))


def _risk(spare_k: float, frost_nights: int) -> str:
    if spare_k < 0.0:
        return "colder than it stands: bring it in or cover it on cold nights"
    if frost_nights:
        return "frost still comes: keep a cover at hand"
    return "no frost after this day in the weather used"
