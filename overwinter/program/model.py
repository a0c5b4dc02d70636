"""The decision variables of the integer program, and the index that gives them meaning.

Names are short counters; the meaning is only in the index (long or odd names break solvers).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pulp

from overwinter.model.shelter import FloatArray
from overwinter.model.site import Weights
from overwinter.program.data import ProgramData
from overwinter.suitability.options import Option
from overwinter.suitability.table import BoolArray, Hardening, Suitability

CENT = 0.01
ROUNDING = 1e-9
"""Of hardening states."""
Variable = pulp.LpVariable
Problem = pulp.LpProblem


@dataclass(frozen=True, slots=True)
class Stay:
    """Trees of a group at a place through a spell, while the shelter has one of ``settings``."""

    group: int
    place_id: str
    settings: tuple[int, ...]
    spell: int
    variable: pulp.LpVariable
    money: float
    """Risk and rodents, for one tree."""
    chill: float


@dataclass
class Model:
    """The program under construction, and afterwards the key to its solution."""

    data: ProgramData
    problem: pulp.LpProblem
    settings: dict[tuple[str, int], dict[int, pulp.LpVariable | None]] = field(default_factory=dict)
    """By (shelter, spell): setting -> binary, or None where only that setting is possible."""
    stays: dict[tuple[int, int], list[Stay]] = field(default_factory=dict)
    """By (group, spell)."""
    carried_in: dict[tuple[int, str, int], pulp.LpVariable] = field(default_factory=dict)
    """By (group, place, spell): trees carried there on the spell's first day."""
    carry_day: dict[int, pulp.LpVariable] = field(default_factory=dict)
    """By spell: whether anything is carried on its first day."""
    crowd: dict[tuple[str, int], pulp.LpVariable] = field(default_factory=dict)
    """By (place, spell): m2 filled beyond the comfortable share."""
    quarantine: dict[tuple[str, int], pulp.LpVariable] = field(default_factory=dict)
    """By (shelter or open-air place, spell): given over to trees in quarantine."""
    left_out: dict[int, pulp.LpVariable] = field(default_factory=dict)
    """By group: trees left without a place (only while looking for whom to leave out)."""
    rows: dict[str, range] = field(default_factory=dict)
    """Row numbers of each constraint family."""
    _count: int = 0

    @property
    def weights(self) -> Weights:
        """The site's weights."""
        return self.data.season.site.weights

    def variable(self, low: float, high: float | None, integer: bool) -> pulp.LpVariable:
        """A new variable with a counter for a name."""
        self._count += 1
        kind = pulp.LpInteger if integer else pulp.LpContinuous
        return self.problem.add_variable(f"x{self._count}", low, high, kind)

    def stays_at(self, place_id: str, spell: int) -> list[Stay]:
        """All stays at a place in a spell."""
        return self._by_place.get((place_id, spell), [])

    def index_stays(self) -> None:
        """Make ``stays_at`` see every stay; call once after the stays are made."""
        self._by_place: dict[tuple[str, int], list[Stay]] = {}
        for stays in self.stays.values():
            for stay in stays:
                self._by_place.setdefault((stay.place_id, stay.spell), []).append(stay)

    def rows_of(self, families: Iterable[str]) -> BoolArray:
        """Which rows of the problem are of these families."""
        mask = np.zeros(sum(map(len, self.rows.values())), dtype=np.bool_)
        for family in families:
            mask[list(self.rows[family])] = True
        return mask

    def chosen(
        self, shelter_id: str, spell: int, settings: Iterable[int]
    ) -> pulp.LpAffineExpression:
        """Sum of the setting variables of a shelter in a spell: 1 if one of ``settings`` is on."""
        found = self.settings[shelter_id, spell]
        terms = [found[setting] for setting in settings if setting in found]
        if any(variable is None for variable in terms):
            return pulp.lpSum([]) + 1
        return pulp.lpSum(terms)


def add_settings(model: Model) -> None:
    """One binary for each heater setting of each shelter in each spell, where there is a choice."""
    for shelter_id, allowed in model.data.setting_allowed.items():
        for spell in range(allowed.shape[1]):
            possible = [int(setting) for setting in np.flatnonzero(allowed[:, spell])]
            possible = _useful(model.data, shelter_id, spell, possible)
            choice = len(possible) > 1
            model.settings[shelter_id, spell] = {
                setting: model.variable(0, 1, integer=True) if choice else None
                for setting in possible
            }


def _useful(data: ProgramData, shelter_id: str, spell: int, possible: list[int]) -> list[int]:
    """Drop settings that no tree gains anything by: dearer than a cheaper one, and not better.

    A setting is kept if some tree is allowed with it and not with a cheaper kept one, or has less
    risk, more chilling or, where that is known, more hardening with it, or needs less.
    """
    table = data.suitability
    money = data.heat_money[shelter_id][:, spell]
    options = [option for option in table.options if option.shelter_id == shelter_id]
    by_setting: dict[int, list[int]] = {}
    for option in options:
        by_setting.setdefault(option.setting, []).append(option.index)
    kept: list[int] = []
    for setting in sorted(possible, key=lambda s: (money[s], s)):
        mine = by_setting.get(setting, [])
        dominated = any(
            _draws_no_more(data.breaker_w[shelter_id][other], data.breaker_w[shelter_id][setting])
            and _no_better(table, mine, by_setting.get(other, []), spell)
            for other in kept
        )
        if not dominated:
            kept.append(setting)
    return sorted(kept)


def _draws_no_more(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    return all(watts <= other.get(breaker, 0.0) for breaker, watts in one.items())


def _no_better(table: Suitability, mine: list[int], other: list[int], spell: int) -> bool:
    may = table.allowed[:, mine, spell]
    if not may.any():
        return True
    if (may & ~table.allowed[:, other, spell]).any():
        return False
    risk = table.risk_money
    safer = risk[:, mine, spell] < risk[:, other, spell] - CENT / 2
    colder = table.chill[:, mine, spell] > table.chill[:, other, spell]
    better = safer | colder
    if table.hardening is not None:
        better |= _better_known(table, table.hardening, mine, other, spell)
    return not (may & better).any()


def _better_known(
    table: Suitability, known: Hardening, mine: list[int], other: list[int], spell: int
) -> BoolArray:
    """``(group, option)``: whether a tree with some hardening is better off at ``mine``."""
    of_group = np.array([group.tree.value for group in table.groups])
    worth = (known.tail_chance * of_group)[:, None, None]

    def of(values: FloatArray, options: list[int]) -> FloatArray:
        found: FloatArray = values[..., options, spell][known.kind]
        return found

    less = np.zeros((len(table.groups), len(mine)), dtype=np.bool_)
    for ends in (known.soft, known.hard):
        gain = np.exp(-of(ends, other)) - np.exp(-of(ends, mine))
        less |= (worth * gain > CENT / 2).any(axis=1)
    hardier = np.zeros_like(less)
    for after in (known.change, known.low, known.high):
        hardier |= of(after, mine) > of(after, other) + ROUNDING
    least = table.entry_least
    needs_less = least[:, mine, spell] < least[:, other, spell] - ROUNDING
    better: BoolArray = less | hardier | needs_less
    return better


def needs_chill_row(data: ProgramData, group: int) -> bool:
    """Whether the chilling owed by a group is not earned anyway wherever its trees may be."""
    owed = data.groups[group].tree.limits.chill_need - data.groups[group].start.chill
    if owed <= 0:
        return False
    table = data.suitability
    least = np.where(table.allowed[group], table.chill[group], np.inf).min(axis=0)
    least = np.where(table.present[group] & np.isfinite(least), least, 0.0)
    return bool(least.sum() < owed)


def add_stays(model: Model) -> None:
    """One variable for each group, place, spell and class of settings that the trees tell apart."""
    data = model.data
    table = data.suitability
    for group in data.groups:
        count = group.count
        g = group.index
        with_chill = needs_chill_row(data, g)
        for spell in map(int, np.flatnonzero(table.present[g])):
            found = model.stays.setdefault((g, spell), [])
            for place_id, options in data.options_of_place.items():
                for key, settings in _classes(model, g, options, spell, with_chill).items():
                    variable = model.variable(0, count, integer=True)
                    money, chill, _in_cuts = key
                    found.append(Stay(g, place_id, settings, spell, variable, money, chill))
    model.index_stays()


def _classes(
    model: Model, group: int, options: tuple[Option, ...], spell: int, with_chill: bool
) -> Mapping[tuple[float, float, tuple[bool, ...]], tuple[int, ...]]:
    table = model.data.suitability
    possible = model.settings[options[0].shelter_id, spell]
    classes: dict[tuple[float, float, tuple[bool, ...]], tuple[int, ...]] = {}
    cuts = _cut_options(model.data, group, spell)
    for option in options:
        if option.setting not in possible or not table.allowed[group, option.index, spell]:
            continue
        risk = float(table.risk_money[group, option.index, spell])
        rodents = float(table.rodent_money[group, option.index, spell])
        chill = float(table.chill[group, option.index, spell]) if with_chill else 0.0
        # settings that a cut tells apart must not hide behind one another
        key = (risk + rodents, chill, tuple(option.index in cut for cut in cuts))
        classes[key] = (*classes.get(key, ()), option.setting)
    return classes


def _cut_options(data: ProgramData, group: int, spell: int) -> list[frozenset[int]]:
    """Option sets of the histories cut off for this group that speak of this spell."""
    trees = frozenset(data.groups[group].tree_ids)
    return [
        options
        for cut in data.cuts.together
        if trees.issubset(cut.group_key)
        for k, options in cut.stays
        if k == spell
    ]


def add_carries(model: Model) -> None:
    """Trees carried into a place on the first day of a spell, and whether that day is used."""
    for (group, spell), stays in model.stays.items():
        count = model.data.groups[group].count
        for place_id in dict.fromkeys(stay.place_id for stay in stays):
            model.carried_in[group, place_id, spell] = model.variable(0, count, integer=False)
    for spell in range(len(model.data.spells)):
        model.carry_day[spell] = model.variable(0, 1, integer=True)


def add_crowding(model: Model) -> None:
    """m2 of each place filled beyond the comfortable share."""
    weights = model.weights
    spare = weights.fullest_share - weights.comfortable_share
    for place in model.data.season.places.values():
        for spell in range(len(model.data.spells)):
            if model.stays_at(place.id, spell):
                high = max(spare, 0.0) * place.area_m2
                model.crowd[place.id, spell] = model.variable(0, high, integer=False)
