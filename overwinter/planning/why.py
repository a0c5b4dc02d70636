"""Why a tree is somewhere else than the plan before had it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

import numpy as np

from overwinter.model.plan import Carry, Reason
from overwinter.model.shelter import FloatArray
from overwinter.planning.changes import working_heaters
from overwinter.planning.merge import View
from overwinter.planning.past import place_on, setting_on, spell_on
from overwinter.suitability.compute import TOLERANCE, Workshop
from overwinter.suitability.fixed_rules import UNITS
from overwinter.suitability.groups import Group
from overwinter.suitability.lacks import SCALE


class Cause(StrEnum):
    """What made the difference."""

    REFUSED = "the old place will not do"
    REFUSED_AS_HEATED = "the old place will not do as it is heated now"
    MAKES_ROOM = "makes room"
    NO_CARRY_DAY = "no carry day is left"
    CHEAPER = "costs less now"
    OTHER_DAY = "same places, other days"
    JOINED = "was not in the plan before"
    FOUND_A_PLACE = "had no place before"
    LEFT_OUT = "has no safe place any more"


@dataclass(frozen=True, slots=True)
class Why:
    """The cause, where it can be named, with the place, the rule and by how much."""

    cause: Cause
    place_id: str | None = None
    """Place it would have had."""
    day: date | None = None
    """First day on which it is elsewhere."""
    reason: Reason | None = None
    shortfall: float | None = None
    unit: str = ""
    setting: str = ""
    """Heater setting the reason holds for; the nearest to doing."""
    others: tuple[str, ...] = ()
    """Trees that stand there instead."""


class Explainer:
    """Explains the differences between two plans; the rules are worked out once."""

    def __init__(self, before: View, after: View) -> None:
        self.before = before
        self.after = after
        conditions = working_heaters(after.season, after.conditions, after.start.day)
        self._workshop = Workshop(after.season, conditions, after.plan.spells)

    def why(self, tree_id: str, old: Sequence[Carry], new: Sequence[Carry]) -> Why:
        """The first difference for a tree, explained by the facts of the plan after."""
        if tree_id not in self.before.season.tree_by_id:
            return Why(Cause.JOINED)
        if tree_id not in self.before.plan.stays:
            return Why(Cause.FOUND_A_PLACE)
        apart = self._days_apart(tree_id)
        found = self._refusal(tree_id, apart)
        if found is not None:
            return found
        if tree_id not in self.after.plan.stays:
            return Why(Cause.LEFT_OUT)
        if not apart:
            return Why(Cause.OTHER_DAY)
        day, place_id = apart[0]
        others = self._instead(tree_id, place_id, day)
        if others is not None:
            return Why(Cause.MAKES_ROOM, place_id, day, others=others)
        if self._no_day_left(old):
            return Why(Cause.NO_CARRY_DAY, place_id, day)
        same = [carry.target for carry in old] == [carry.target for carry in new]
        return Why(Cause.OTHER_DAY if same else Cause.CHEAPER, place_id, day)

    def _days_apart(self, tree_id: str) -> list[tuple[date, str]]:
        """First day of each new spell in which the old plan has it elsewhere, with that place."""
        path = self.after.plan.stays.get(tree_id)
        apart = []
        for spell in self.after.plan.spells:
            number = spell_on(self.before.plan, spell.start)
            old = None if number is None else self.before.plan.stays[tree_id][number]
            if old is not None and (path is None or path[spell.index] != old):
                apart.append((spell.start, old))
        return apart

    def _refusal(self, tree_id: str, apart: list[tuple[date, str]]) -> Why | None:
        """The first old stay that the facts of now refuse; None where all would do.

        A place that will not do however it is heated comes before one that is heated otherwise,
        for that may be because the trees have left it.
        """
        tree = self.after.season.tree_by_id[tree_id]
        start = self.after.start.trees[tree_id]
        table = self._workshop.shortfalls(Group(0, tree, start, (tree_id,)))
        reasons = tuple(table)
        short = np.stack([table[reason] for reason in reasons])
        left_out = tree_id not in self.after.plan.stays
        for as_heated in (False, True):
            for day, place_id in apart:
                spell = spell_on(self.after.plan, day)
                if spell is None or place_id not in self.after.season.places:
                    continue
                found = self._refused_at(place_id, day, reasons, short[:, :, spell], as_heated)
                if found is not None:
                    return replace(found, cause=Cause.LEFT_OUT) if left_out else found
        return None

    def _refused_at(
        self,
        place_id: str,
        day: date,
        reasons: tuple[Reason, ...],
        short: FloatArray,
        as_heated: bool,
    ) -> Why | None:
        """Why a place refuses a tree in a spell; ``short`` has shape ``(reason, option)``."""
        scales = np.array([SCALE[reason] for reason in reasons])[:, None]
        severity = np.where(short > TOLERANCE, short / scales, 0.0)
        mine = [option for option in self._workshop.options if option.place_id == place_id]
        keys = [s.key for s in self._workshop.conditions.shelters[mine[0].shelter_id].settings]
        worst = severity[:, [option.index for option in mine]].max(axis=0)
        column = int(np.argmin(worst))
        now = setting_on(self.after.plan, mine[0].shelter_id, day)
        if as_heated and now in keys:
            column = keys.index(now)
        if worst[column] <= 0:
            return None
        option = mine[column].index
        row = int(np.argmax(severity[:, option]))
        return Why(
            Cause.REFUSED_AS_HEATED if as_heated else Cause.REFUSED,
            place_id,
            day,
            reasons[row],
            float(short[row, option]),
            UNITS[reasons[row]],
            keys[column],
        )

    def _no_day_left(self, old: Sequence[Carry]) -> bool:
        """Whether all carry days are taken and none of the tree's old ones is among them."""
        days = set(self.after.plan.carry_days)
        return len(days) >= self.after.start.carry_days_left and any(
            carry.day not in days for carry in old
        )

    def _instead(self, tree_id: str, place_id: str, day: date) -> tuple[str, ...] | None:
        """Trees that stand there now and did not before; None where there is room for it too."""
        place = self.after.season.places.get(place_id)
        if place is None:
            return None
        there = [
            t for t in self.after.season.trees if place_on(self.after.plan, t.id, day) == place_id
        ]
        own = self.after.season.tree_by_id[tree_id]
        full = self.after.season.site.weights.fullest_share * place.area_m2
        area = sum(tree.footprint_m2 for tree in there) + own.footprint_m2
        load = sum(tree.weight_kg for tree in there) + own.weight_kg
        if area <= full + TOLERANCE and load <= place.load_limit_kg + TOLERANCE:
            return None
        return tuple(t.id for t in there if place_on(self.before.plan, t.id, day) != place_id)
