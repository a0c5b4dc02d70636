"""Heaters nobody needs: off where no tree stands, left alone where a change saves too little.

The search prices heat, not the walk to the thermostat: in a mild spell two settings may burn the
same and it takes either, and it turns a heater down for three days to save half a kWh. Each such
change is a carry day's errand for nothing, and a heater in an empty shelter is a hazard that nobody
watches.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

import numpy as np

from overwinter.planning.histories import short_of_chill, true_risk, unhardened_histories
from overwinter.program.data import ProgramData
from overwinter.program.read_back import Placement
from overwinter.shelters.heater import OFF
from overwinter.suitability.compute import Workshop

SLACK_W = 1e-6
FREE = 1e-9
"""Money that rounding leaves between two sums that are equal."""


def settled_heaters(
    data: ProgramData, workshop: Workshop, placement: Placement, most_money: float = np.inf
) -> Placement:
    """The placement with heaters turned no more than is worth it.

    1. A shelter in which no tree stands through a spell has the setting that burns least, off.
    2. A run of spells with one setting takes that of the run before or after it where every tree
       there may stand so (allowed, hardened and chilled as its limits ask), the breakers carry it,
       and heat and cold risk together become dearer by less than the changes spared are worth:
       one carry each (``Weights.carry``), about what a walk to the thermostat is; all of them
       together by ``most_money`` at most.

    The same placement where there is nothing to be changed.
    """
    settled = _Settling(data, workshop, placement, most_money).run()
    return placement if settled.settings == placement.settings else settled


@dataclass(frozen=True)
class _Run:
    """Spells ``[first, last)`` of a shelter that have one setting."""

    first: int
    last: int
    setting: int


@dataclass(frozen=True)
class _Change:
    """A run with another setting instead, and how many changes of the heater that spares."""

    run: _Run
    setting: int
    spared: int


class _Settling:
    def __init__(
        self, data: ProgramData, workshop: Workshop, placement: Placement, most_money: float
    ) -> None:
        self.data = data
        self.workshop = workshop
        self.placement = placement
        self._left_money = most_money
        self._used = _used(data, placement)

    def run(self) -> Placement:
        off = {shelter: self._emptied(shelter) for shelter in self.placement.settings}
        self.placement = replace(self.placement, settings=off)
        for shelter in off:
            while self._spares_one(shelter):
                pass
        return self.placement

    def _emptied(self, shelter: str) -> tuple[int, ...]:
        """Settings, the cheapest allowed one where no tree stands; of equals the first, off."""
        allowed, money = self.data.setting_allowed[shelter], self.data.heat_money[shelter]
        priced = np.where(allowed, money, np.inf)
        return tuple(
            setting if (shelter, spell) in self._used else int(np.argmin(priced[:, spell]))
            for spell, setting in enumerate(self.placement.settings[shelter])
        )

    def _spares_one(self, shelter: str) -> bool:
        """Take the change of a run that spares most, then costs least; False: none is worth it."""
        best: tuple[tuple[float, float], Placement] | None = None
        for change in self._changes(shelter):
            changed = self._with(shelter, change)
            dearer = self._dearer(shelter, change, changed)
            worth = self.data.season.site.weights.carry * change.spared
            rank = (-change.spared, dearer)
            if dearer < max(min(worth, self._left_money), FREE) and (
                best is None or rank < best[0]
            ):
                best = rank, changed
        if best is not None:
            (_, dearer), self.placement = best
            self._left_money -= max(dearer, 0.0)
        return best is not None

    def _changes(self, shelter: str) -> Iterator[_Change]:
        chosen = self.placement.settings[shelter]
        keys = [setting.key for setting in self.workshop.conditions.shelters[shelter].settings]
        before, off = self._before(shelter, keys), keys.index(OFF.key)
        runs = _runs(chosen)
        for number, run in enumerate(runs):
            if any((shelter, spell) not in self._used for spell in range(run.first, run.last)):
                continue
            earlier = runs[number - 1].setting if number else before
            later = runs[number + 1].setting if number + 1 < len(runs) else None
            for setting in {one for one in (earlier, later) if one not in (None, run.setting)}:
                changed = [*chosen[: run.first], *[setting] * (run.last - run.first)]
                changed += chosen[run.last :]
                spared = _turns(before, chosen, off) - _turns(before, changed, off)
                if spared > 0:
                    yield _Change(run, setting, spared)

    def _before(self, shelter: str, keys: Sequence[str]) -> int | None:
        """Setting in force on the eve of the plan; None where it is none that could be chosen."""
        key = self.data.start.settings.get(shelter, OFF.key)
        return keys.index(key) if key in keys else None

    def _with(self, shelter: str, change: _Change) -> Placement:
        chosen = list(self.placement.settings[shelter])
        chosen[change.run.first : change.run.last] = [change.setting] * (
            change.run.last - change.run.first
        )
        return replace(self.placement, settings={**self.placement.settings, shelter: tuple(chosen)})

    def _dearer(self, shelter: str, change: _Change, changed: Placement) -> float:
        """How much dearer heat and risk become; infinite where it may not be."""
        if not (self._may_be_set(shelter, change, changed) and self._suits(shelter, change)):
            return np.inf
        there = self._there(shelter, change.run)
        one, other = _only(self.placement, there), _only(changed, there)
        if unhardened_histories(self.data, self.workshop, other) or short_of_chill(
            self.data, other
        ):
            return np.inf
        now, then = (true_risk(self.data, self.workshop, each) for each in (one, other))
        money = self.data.heat_money[shelter][:, change.run.first : change.run.last].sum(axis=1)
        return float(money[change.setting] - money[change.run.setting]) + then - now

    def _there(self, shelter: str, run: _Run) -> set[str]:
        """Trees that stand in the shelter at some time of the run."""
        places = {place.id for place in self.data.season.shelter_by_id[shelter].places}
        return {
            tree_id
            for tree_id in self.placement.stays
            if any(place in places for _, place in _between(self.placement, tree_id, run))
        }

    def _may_be_set(self, shelter: str, change: _Change, changed: Placement) -> bool:
        spells = range(change.run.first, change.run.last)
        if not self.data.setting_allowed[shelter][change.setting, list(spells)].all():
            return False
        return all(
            sum(
                self.data.breaker_w[other][chosen[spell]].get(breaker, 0.0)
                for other, chosen in changed.settings.items()
            )
            <= limit_w + SLACK_W
            for breaker, limit_w in self.data.season.site.breakers_w.items()
            for spell in spells
        )

    def _suits(self, shelter: str, change: _Change) -> bool:
        """Whether every tree there may stand there with the setting."""
        table = self.data.suitability
        option_of = {
            option.place_id: option.index
            for option in table.options
            if (option.shelter_id, option.setting) == (shelter, change.setting)
        }
        return all(
            place not in option_of or bool(table.allowed[group.index, option_of[place], spell])
            for group in self.data.groups
            for tree_id in group.tree_ids
            for spell, place in _between(self.placement, tree_id, change.run)
        )


def _used(data: ProgramData, placement: Placement) -> set[tuple[str, int]]:
    """(shelter, spell) in which a tree stands."""
    return {
        (data.season.places[place].shelter_id, spell)
        for path in placement.stays.values()
        for spell, place in enumerate(path)
        if place is not None
    }


def _runs(chosen: tuple[int, ...]) -> list[_Run]:
    runs = []
    for setting, spells in groupby(enumerate(chosen), key=lambda pair: pair[1]):
        numbers = [spell for spell, _ in spells]
        runs.append(_Run(numbers[0], numbers[-1] + 1, setting))
    return runs


def _turns(before: int | None, chosen: Sequence[int], off: int) -> int:
    """How often the heater is set to something else; once the winter is over it is off."""
    return sum(one != other for one, other in pairwise([before, *chosen, off]))


def _between(placement: Placement, tree_id: str, run: _Run) -> Iterator[tuple[int, str | None]]:
    path = placement.stays.get(tree_id, ())
    return ((spell, path[spell]) for spell in range(run.first, min(run.last, len(path))))


def _only(placement: Placement, tree_ids: set[str]) -> Placement:
    stays = {key: path for key, path in placement.stays.items() if key in tree_ids}
    return replace(placement, stays=stays)
