"""Computes the suitability table."""

from functools import cache, partial

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Reason
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import hardening_course, kill_temperature_c
from overwinter.plants.rodents import exposure_left, loss_share_per_day
from overwinter.shelters.root_zone import pot_class
from overwinter.spells import day_slice
from overwinter.suitability.fixed_rules import closed_days, fixed_shortfalls, heater_shortfall_w
from overwinter.suitability.groups import Group
from overwinter.suitability.options import Option, all_options
from overwinter.suitability.physiology import (
    Physiology,
    Response,
    physiology,
    rest_and_light,
)
from overwinter.suitability.stacked import Stacked, stack
from overwinter.suitability.table import BoolArray, Hardening, Suitability

TOLERANCE = 1e-9


class Workshop:
    """Computes tables for one set of spells and remembers what kinds of trees have in common."""

    def __init__(self, season: Season, conditions: Conditions, spells: tuple[Spell, ...]) -> None:
        self.season = season
        self.conditions = conditions
        self.spells = spells
        self.options: tuple[Option, ...] = all_options(season, conditions)
        self.stacked: Stacked = stack(conditions, self.options)
        self._closed = closed_days(season, self.options, spells)
        self._heater = heater_shortfall_w(conditions, self.options)
        # many kinds of trees share their limits
        self._rest_and_light = cache(partial(rest_and_light, season, conditions, self.stacked))
        self._physiology: dict[object, Physiology] = {}
        self._table: Suitability | None = None
        self._margins: dict[object, tuple[FloatArray, float]] = {}

    def shortfalls(self, group: Group) -> dict[Reason, FloatArray]:
        """Every rule's shortfall for a group, ``(option, spell)``; above 0 refuses."""
        fixed = self._fixed(group)
        found = self.physiology_of(group)
        shape = (len(self.options), len(self.spells))
        table: dict[Reason, FloatArray] = {
            Reason.CLOSED: self._closed,
            Reason.HEATER_TOO_SMALL: np.broadcast_to(self._heater[:, None], shape),
        }
        for reason, values in fixed.items():
            table[reason] = np.broadcast_to(values[:, None], shape)
        table[Reason.ROOTS_TOO_COLD] = found.roots_k
        table[Reason.AIR_TOO_COLD] = found.air_k
        table[Reason.TOO_WARM_TO_REST] = found.rest_k
        table[Reason.TOO_DARK] = found.light_mol_m2_d
        return table

    def _fixed(self, group: Group) -> dict[Reason, FloatArray]:
        by_place = {
            place_id: fixed_shortfalls(self.season, group.tree, place)
            for place_id, place in self.season.places.items()
        }
        reasons = next(iter(by_place.values()))
        return {
            reason: np.array([by_place[o.place_id][reason] for o in self.options], dtype=np.float64)
            for reason in reasons
        }

    def _reachable(self, group: Group) -> BoolArray:
        fixed = np.max(list(self._fixed(group).values()), axis=0) <= TOLERANCE
        allowed = fixed[:, None] & (self._closed <= 0) & (self._heater[:, None] <= 0)
        days = np.zeros((len(self.options), self.season.days), dtype=np.bool_)
        for spell, column in zip(self.spells, allowed.T, strict=True):
            days[:, day_slice(self.season, spell)] = column[:, None]
        return days

    def physiology_of(self, group: Group) -> Physiology:
        """Weather-dependent findings; shared by trees that are alike to the weather."""
        tree = group.tree
        pot = pot_class(tree.pot_litres)
        reachable = self._reachable(group)
        key = (
            tree.limits,
            tree.condition,
            tree.young_roots,
            pot,
            group.start.hardening,
            tree.joins,
            reachable.tobytes(),
        )
        if key not in self._physiology:
            self._physiology[key] = physiology(
                self.season,
                self.conditions,
                self.stacked,
                self.spells,
                tree,
                group.start.hardening,
                reachable,
                pot,
                self._rest_and_light,
            )
        return self._physiology[key]

    def margins(
        self, tree: Tree, option: int, spell: int, hardening: float
    ) -> tuple[FloatArray, float]:
        """Distance to the killing temperature by day of a spell (K), and the hardening after it.

        ``hardening`` is that before it. Remembered, as trees go the same ways again and again: in
        every round, and for every change of a heater that is weighed.
        """
        pot = pot_class(tree.pot_litres)
        key = (pot, tree.limits, tree.root_kill_hardened_c, option, spell, hardening)
        if key not in self._margins:
            root, days = self.stacked.root[pot], day_slice(self.season, self.spells[spell])
            length = self.conditions.day_length_h[days]
            states = hardening_course(root.mean_c[option, days], tree.limits, length, hardening)
            kill = kill_temperature_c(
                states[:-1], tree.root_kill_hardened_c, tree.limits.root_kill_unhardened_c
            )
            self._margins[key] = root.min_c[option, days] - kill, float(states[-1])
        return self._margins[key]

    def table(self, groups: tuple[Group, ...]) -> Suitability:
        """The table for all groups; asked again for the same groups, the same table."""
        if self._table is None or self._table.groups != groups:
            self._table = self._compute(groups)
        return self._table

    def _compute(self, groups: tuple[Group, ...]) -> Suitability:
        days = np.array([spell.days for spell in self.spells], dtype=np.float64)
        allowed, risk, rodents, chill, entry, leaves = [], [], [], [], [], []
        for group in groups:
            worst = np.max(list(self.shortfalls(group).values()), axis=0)
            found = self.physiology_of(group)
            allowed.append(worst <= TOLERANCE)
            risk.append(np.round(group.tree.value * found.tail_chance, 2))
            a_day = np.array([self._rodents_a_day(group, option) for option in self.options])
            rodents.append(group.tree.value * a_day[:, None] * days)
            chill.append(found.chill)
            entry.append(found.entry_least)
            leaves.append(found.exit_most)
        shape = (len(groups), len(self.options), len(self.spells))
        present = [self._present(group) for group in groups]
        return Suitability(
            spells=self.spells,
            groups=groups,
            options=self.options,
            allowed=np.array(allowed, dtype=np.bool_).reshape(shape),
            risk_money=np.array(risk, dtype=np.float64).reshape(shape),
            rodent_money=np.array(rodents, dtype=np.float64).reshape(shape),
            chill=np.array(chill, dtype=np.float64).reshape(shape),
            entry_least=np.array(entry, dtype=np.float64).reshape(shape),
            exit_most=np.array(leaves, dtype=np.float64).reshape(shape),
            present=np.array(present, dtype=np.bool_).reshape(shape[0], shape[2]),
            hardening=self._hardening(groups),
        )

    def _hardening(self, groups: tuple[Group, ...]) -> Hardening | None:
        kinds: dict[int, Response] = {}
        kind: list[int] = []
        for group in groups:
            response = self.physiology_of(group).response
            kinds.setdefault(id(response), response)
            kind.append(list(kinds).index(id(response)))
        if not kinds:
            return None
        found = tuple(kinds.values())
        return Hardening(
            kind=np.array(kind, dtype=np.int64),
            change=np.stack([one.change for one in found]),
            low=np.stack([one.low for one in found]),
            high=np.stack([one.high for one in found]),
            soft=np.stack([one.soft for one in found]),
            hard=np.stack([one.hard for one in found]),
            slope=np.stack([one.slope for one in found]),
            tail_chance=self.season.site.weights.tail_chance,
        )

    def _rodents_a_day(self, group: Group, option: Option) -> float:
        place = self.season.places[option.place_id]
        weights = self.season.site.weights
        appeal = group.tree.limits.rodent_appeal
        left = exposure_left(appeal, place.rodent_exposure, place.guarded, weights)
        return loss_share_per_day(left, weights)

    def _present(self, group: Group) -> BoolArray:
        joins = group.tree.joins
        return np.array([joins is None or spell.start >= joins for spell in self.spells])
