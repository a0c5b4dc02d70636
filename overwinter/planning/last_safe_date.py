"""How long a shelter may stay shut before some tree has no safe place, by trying dates."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from overwinter.domain.conditions import Conditions
from overwinter.domain.plan import LeftOut, Plan
from overwinter.domain.season import Season, Spell
from overwinter.domain.start import Start
from overwinter.planning.changes import working_heaters
from overwinter.planning.options import OnProgress, PlanOptions
from overwinter.planning.replan_spells import replan_spells
from overwinter.planning.search import NoPlan, Search

ANY_PLAN_GAP = 0.5
"""Whether there is a plan is asked, not what the best one costs."""


@dataclass(frozen=True)
class LastSafeDate:
    """The last opening of a late shelter with which no more trees are left out."""

    shelter_id: str
    asked: date
    """Opening the plan reckons with."""
    last: date
    """Before ``asked`` where the plan leaves trees out for this shelter's sake."""
    never_needed: bool
    """It may stay shut for the rest of the winter."""
    fails_on: date | None
    """First opening tried that is too late; at most ``resolution_days`` after ``last``."""
    fails: tuple[LeftOut, ...]
    """Trees left out with it, and what each place lacks for them."""
    spells: tuple[Spell, ...]
    """Spells of that try, for ``fails``."""
    resolution_days: int
    tries: int


@dataclass(frozen=True)
class Situation:
    """The winter in which dates are tried: everything as it is now."""

    season: Season
    conditions: Conditions
    start: Start
    plan: Plan
    """The plan in force before, for its spells."""
    options: PlanOptions
    on_progress: OnProgress | None = None


def last_safe_date(
    situation: Situation,
    shelter_id: str,
    left_out: frozenset[str],
    resolution_days: int = 1,
) -> LastSafeDate | None:
    """Find it by halving; a later opening never gives a tree a place it would not have otherwise.

    Parameters
    ----------
    situation
        With the shelter's opening as asked for.
    left_out
        Trees the new plan leaves out.

    Returns
    -------
    LastSafeDate or None
        None where the shelter is open already. Each date is tried with all other openings as
        asked; the last one found is tried with every place drawn to scale as well.
    """
    shelter = situation.season.shelter_by_id[shelter_id]
    now = situation.start.day
    if shelter.opens is None or shelter.opens <= now:
        return None
    tries = _Tries(situation, shelter_id)
    tries.hopeless = frozenset(left.tree_id for left in tries.at(now, drawn=False)[0])
    if left_out <= tries.hopeless:
        low, high = shelter.opens, situation.season.site.ends + timedelta(days=1)
        if shelter.closes is not None:
            high = min(high, shelter.closes)
        if tries.good(high, drawn=True):
            return tries.found(shelter.opens, high, None, resolution_days)
    else:
        low, high = now, shelter.opens
    low, high = _halve(low, high, resolution_days, lambda day: tries.good(day, drawn=False))
    if not tries.good(low, drawn=True) and low != shelter.opens:
        begin = shelter.opens if left_out <= tries.hopeless else now
        low, high = _halve(begin, low, resolution_days, lambda day: tries.good(day, drawn=True))
    return tries.found(shelter.opens, low, high, resolution_days)


def _halve(
    good: date, bad: date, resolution_days: int, is_good: Callable[[date], bool]
) -> tuple[date, date]:
    """Narrow a good and a later bad day down to ``resolution_days``."""
    while (bad - good).days > resolution_days:
        middle = good + (bad - good) // 2
        if is_good(middle):
            good = middle
        else:
            bad = middle
    return good, bad


class _Tries:
    """Plans with other openings of one shelter, each date once."""

    def __init__(self, situation: Situation, shelter_id: str) -> None:
        self.situation = situation
        self.shelter_id = shelter_id
        self.hopeless: frozenset[str] = frozenset()
        """Trees without a place even if the shelter opens at once."""
        self._known: dict[tuple[date, bool], tuple[tuple[LeftOut, ...], tuple[Spell, ...]]] = {}

    def good(self, opens: date, drawn: bool) -> bool:
        """Whether every tree that can have a place has one."""
        left = self.at(opens, drawn)[0]
        return {one.tree_id for one in left} <= self.hopeless

    def at(self, opens: date, drawn: bool) -> tuple[tuple[LeftOut, ...], tuple[Spell, ...]]:
        """Trees left out when the shelter opens on a day, and the spells of that plan."""
        key = (opens, drawn)
        if key not in self._known:
            self._known[key] = self._try(opens, drawn)
        return self._known[key]

    def _try(self, opens: date, drawn: bool) -> tuple[tuple[LeftOut, ...], tuple[Spell, ...]]:
        situation = self.situation
        season = replace(
            situation.season,
            shelters=tuple(
                replace(shelter, opens=opens) if shelter.id == self.shelter_id else shelter
                for shelter in situation.season.shelters
            ),
        )
        first = situation.start.day
        spells = replan_spells(season, situation.conditions, situation.plan, first)
        conditions = working_heaters(season, situation.conditions, first)
        options = replace(situation.options, gap=ANY_PLAN_GAP, layouts=drawn)
        search = Search(season, conditions, situation.start, spells, options, situation.on_progress)
        try:
            return search.run().left_out, spells
        except NoPlan:
            if search.without != {tree.id for tree in season.trees}:
                raise  # stopped by hand, or out of time
            return tuple(LeftOut(tree.id, ()) for tree in season.trees), spells

    def found(
        self, asked: date, last: date, bad: date | None, resolution_days: int
    ) -> LastSafeDate:
        """The result, ``bad`` being the first date that is too late."""
        left, spells = ((), ()) if bad is None else self._failing(bad)
        return LastSafeDate(
            shelter_id=self.shelter_id,
            asked=asked,
            last=last,
            never_needed=bad is None,
            fails_on=bad,
            fails=tuple(one for one in left if one.tree_id not in self.hopeless),
            spells=spells,
            resolution_days=resolution_days,
            tries=len(self._known),
        )

    def _failing(self, bad: date) -> tuple[tuple[LeftOut, ...], tuple[Spell, ...]]:
        """What fails on the first bad date; where only the drawing fails, the drawn try."""
        plain = self._known.get((bad, False))
        if plain is not None and not self.good(bad, drawn=False):
            return plain
        return self.at(bad, drawn=True)
