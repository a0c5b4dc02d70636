"""Spring: each tree's way out of cover against the frost that the weather used still holds.

The trees have lost their hardening by then, so each is measured against its limit in growth, and
the shortfall is of outdoor air, not of the root zone: the safe side for a pot set on a bench.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from overwinter.domain.plan import Carry, Plan
from overwinter.domain.season import Season
from overwinter.domain.shelter import FloatArray
from overwinter.domain.site import Margins
from overwinter.domain.tree import Condition, Tree
from overwinter.reports.carry_order import goes_out
from overwinter.reports.carry_words import day_words, place_words
from overwinter.units import HOURS_PER_DAY

FROST_C = 0.0


@dataclass(frozen=True, slots=True)
class SpringRow:
    """One tree carried out of cover; temperatures in degC, of the weather used."""

    day: date
    tree_id: str
    tree: str
    source: str
    target: str
    limit_c: float
    """Air it should not meet once awake: its air floor or its roots in growth plus margin."""
    coldest_after_c: float
    """Coldest outdoor hour from that day to the end of the plan."""
    frost_nights_after: int
    """Days from then on with an hour below 0 degC."""
    risk: str

    @property
    def spare_k(self) -> float:
        """Coldest outdoor hour still to come minus the limit, K; negative: cover it."""
        return self.coldest_after_c - self.limit_c


def awake_limit_c(tree: Tree, margins: Margins) -> float:
    """Air a tree that has lost its hardening should not meet, degC, the grower's margins added."""
    limits = tree.limits
    extra = {
        Condition.WEAK: margins.weak_extra_k,
        Condition.ORDINARY: 0.0,
        Condition.STRONG: -margins.strong_less_k,
    }[tree.condition]
    roots = limits.root_kill_unhardened_c + margins.root_k + extra
    if limits.air_floor_c is None:
        return roots
    return max(roots, limits.air_floor_c + margins.air_k)


def last_frost(season: Season) -> date | None:
    """Last day of spring with an hour below 0 degC in the weather used; None: no frost at all."""
    frosty = np.flatnonzero(_daily_min_c(season) < FROST_C)
    return season.date_of(int(frosty[-1])) if frosty.size else None


def spring_rows(season: Season, plan: Plan) -> tuple[SpringRow, ...]:
    """Every carry out of cover that is the tree's last, by day, the most endangered first."""
    last: dict[str, Carry] = {}
    for carry in sorted(plan.carries, key=lambda carry: carry.day):
        last[carry.tree_id] = carry
    rows = [_row(season, carry) for carry in last.values() if goes_out(season, carry)]
    return tuple(sorted(rows, key=lambda row: (row.day, row.spare_k, row.tree_id)))


def spring_words(season: Season) -> str:
    """The last frost of the weather used, and what it is worth."""
    frost = last_frost(season)
    said = f"The last frost in it is on {day_words(frost)}." if frost else "It holds no frost."
    return (
        f"Weather used: {season.weather.origin.rstrip('.')}. {said} The coming spring will differ: "
        "read the forecast before a tree goes out."
    )


def _daily_min_c(season: Season) -> FloatArray:
    return np.min(season.weather.air_c.reshape(-1, HOURS_PER_DAY), axis=1)


def _row(season: Season, carry: Carry) -> SpringRow:
    tree = season.tree_by_id[carry.tree_id]
    after = _daily_min_c(season)[max(season.day_index(carry.day), 0) :]
    coldest = float(after.min()) if after.size else float("inf")
    nights = int((after < FROST_C).sum())
    limit = awake_limit_c(tree, season.site.margins)
    return SpringRow(
        day=carry.day,
        tree_id=tree.id,
        tree=tree.name,
        source=place_words(season, carry.source),
        target=place_words(season, carry.target),
        limit_c=limit,
        coldest_after_c=coldest,
        frost_nights_after=nights,
        risk=_risk(coldest - limit, nights),
    )


def _risk(spare_k: float, frost_nights: int) -> str:
    if spare_k < 0.0:
        return "below its limit awake: bring it in or cover it on cold nights"
    if frost_nights:
        return "frost still comes: keep a cover at hand"
    return "no frost after this day in the weather used"
