"""What may be done with every tree before the nights of a forecast, and what comes of it."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Place, Shelter
from overwinter.model.tree import Tree
from overwinter.plants.harm import Array
from overwinter.replan.night_chances import NightChances, Past, setting_index
from overwinter.rules import misfits
from overwinter.search.night import ClothAtHand, Hands, NightGroup, NightProblem, Way
from overwinter.simulate.nights import carried_before


@dataclass(frozen=True, slots=True)
class Cloth:
    """Something laid over trees in the open for the night, down to the ground."""

    name: str
    warmer_k: float
    """How much warmer the air under it stays. Garden pages give 4 to 8 degF for cloth of middle
    weight, more for blankets (common practice, no source). This is the low end: pots give the air
    less warmth than open soil does, and wind takes much of it."""
    minutes_per_m2: float = 1.0
    """To spread it and hold it down: common practice, no source."""

    def area_m2(self, tree: Tree) -> float:
        """What covers one tree among others: its top and half of its sides, m2."""
        return tree.footprint_m2 + (tree.width_m + tree.depth_m) * tree.height_m


CLOTHS = {cloth.name: cloth for cloth in (Cloth("fleece", 2.0), Cloth("blankets", 3.0))}
LEAST_STAKE = 0.25
"""A tree is worth a thought, and a cloth, if so much money may be lost, caution counted."""
SAME_CHANCE = 0.002
"""Heater settings under which chances differ by less are the same to a tree."""
DUE_SHARE = 0.1
"""Share of its price that a carry costs which the plan asks for now: it will be made anyway."""
WAITING = 0.25
"""Money that waiting a night is worth where all else is the same: the forecast may turn."""
WARMER = 0.02
"""Money a kelvin that a resting tree is better off cool, where all else is the same."""


@dataclass(frozen=True)
class Evening:
    """What is known and who is there."""

    first: date
    """The day whose coming night is the first of the forecast."""
    lows_c: tuple[float, ...]
    """Lowest outdoors in each night, degC."""
    minutes: float
    """Before each dusk."""
    people: int
    cloth_m2: Mapping[str, float] = field(default_factory=dict)
    """At hand, by name of the cloth."""


@dataclass(frozen=True)
class Group:
    """Trees that stand alike and that the plan treats alike."""

    tree: Tree
    tree_ids: tuple[str, ...]
    here: str
    due: str | None
    """Place to which the plan wants them carried by now; None: they may stay."""
    ahead: frozenset[str]
    """Places to which the plan carries them sooner or later."""
    people: int


class NightWays:
    """Ways of all groups of trees; each holds for some settings of a shelter."""

    def __init__(
        self,
        season: Season,
        plan: Plan,
        stage: int,
        here: Mapping[str, str],
        past: Past,
        evening: Evening,
        lows_c: FloatArray,
    ) -> None:
        """
        Parameters
        ----------
        stage : of the plan, as it is tonight; its settings are what heaters are on.
        here : by tree, where it stands.
        lows_c : minima that may come, degC, ``(winter, night)``.
        """
        self.season, self.evening, self.nights = season, evening, lows_c.shape[1]
        self.chances = NightChances(season, past, season.day_index(evening.first), lows_c)
        self.groups = tuple(_groups(season, plan, stage, here, past))
        self.planned = {s.id: setting_index(season, plan, s.id, stage) for s in season.shelters}
        self.heat = {shelter.id: self._heat(shelter) for shelter in season.shelters}
        staying = [(group.tree, group.here, self._planned_at(group.here)) for group in self.groups]
        self.stay = self.chances.hazards(staying)
        self.left = [float(chance) for chance in _chance(carried_before(self.stay, self.stay, 0))]
        self.due = self._due_chances()
        self.ways = [list(self._staying(g)) for g in range(len(self.groups))]
        self._cover()
        self._carry()

    def _planned_at(self, place_id: str) -> int:
        return self.planned[self.season.places[place_id].shelter_id]

    def _heat(self, shelter: Shelter) -> dict[int, float]:
        """Settings to choose from, and what each costs more than the planned one, mean money."""
        known = self.chances.conditions.shelters[shelter.id].settings
        broken = {
            heater.name
            for heater in shelter.heaters
            if heater.broken_from is not None and heater.broken_from <= self.evening.first
        }
        works = [s for s, one in enumerate(known) if not any(p.heater in broken for p in one.parts)]
        if self.planned[shelter.id] not in works:
            self.planned[shelter.id] = 0
        planned = self.planned[shelter.id]
        base = self.chances.money(shelter.id, planned)
        more = {s: self.chances.money(shelter.id, s) - base for s in works}
        closed = not any(self._open(place, 0) for place in shelter.places)
        return {planned: 0.0} | {s: m for s, m in more.items() if m > 0.0 and not closed}

    def _due_chances(self) -> dict[int, float]:
        """Chance of each group where the plan wants it by now, from tonight on."""
        due = [
            (g, group.due)
            for g, group in enumerate(self.groups)
            if group.due is not None and group.due in self.season.places
        ]
        if not due:
            return {}
        rows = [(self.groups[g].tree, place, self._planned_at(place)) for g, place in due]
        there = self.chances.hazards(rows)
        chances = _chance(carried_before(there, there, 0))
        return {g: float(chance) for (g, _), chance in zip(due, chances, strict=True)}

    def money(self, group: Group, chance: float) -> float:
        """What a chance of loss counts, caution included."""
        return self.season.site.weights.caution * group.tree.value * chance

    def _staying(self, g: int) -> Iterator[Way]:
        group = self.groups[g]
        shelter_id = self.season.places[group.here].shelter_id
        settings = tuple(self.heat[shelter_id])
        if len(settings) == 1 or self.money(group, self.left[g]) < LEAST_STAKE:
            yield self._way(group, group.here, None, settings, self.left[g])
            return
        found = self.chances.hazards([(group.tree, group.here, s) for s in settings])
        chances = _chance(carried_before(found, found, 0))
        for some, chance in _classes(dict(zip(settings, chances, strict=True))):
            yield self._way(group, group.here, None, some, chance)

    def _cover(self) -> None:
        """Cloths over endangered trees in the open."""
        shelters, places = self.season.shelter_by_id, self.season.places
        some = [
            g
            for g, group in enumerate(self.groups)
            if self.money(group, self.left[g]) >= LEAST_STAKE
            and shelters[places[group.here].shelter_id].open_air
        ]
        if not some:
            return
        rows = [(self.groups[g].tree, self.groups[g].here, 0) for g in some]
        for cloth in CLOTHS.values():
            covered = self.chances.hazards(rows, cloth.warmer_k)
            for g, chance in zip(some, _chance(carried_before(covered, covered, 0)), strict=True):
                group = self.groups[g]
                settings = tuple(self.heat[places[group.here].shelter_id])
                way = self._way(group, group.here, None, settings, float(chance))
                area = cloth.area_m2(group.tree)
                cost = way.cost + LEAST_STAKE
                self.ways[g].append(replace(way, cost=cost, cloth=cloth.name, cloth_m2=area))

    def _carry(self) -> None:
        """Carries of endangered trees to all places, and of others that may make room for them."""
        wanted = [
            (g, place, setting)
            for g, group in enumerate(self.groups)
            for place in self.season.places.values()
            if place.id != group.here and not any(misfits(self.season, group.tree, place))
            for setting in self._settings_there(g, place)
        ]
        if not wanted:
            return
        found = self.chances.hazards([(self.groups[g].tree, p.id, s) for g, p, s in wanted])
        going: dict[tuple[int, str], dict[int, Array]] = defaultdict(dict)
        for (g, place, setting), hazards in zip(wanted, found, strict=True):
            going[g, place.id][setting] = hazards
        for (g, place_id), by_setting in going.items():
            for night in range(self.nights):
                if self._open(self.season.places[place_id], night):
                    self.ways[g] += self._carried(g, place_id, by_setting, night)

    def _settings_there(self, g: int, place: Place) -> tuple[int, ...]:
        """All settings for a tree in danger; those planned for one that may make room outdoors."""
        group = self.groups[g]
        shelters, places = self.season.shelter_by_id, self.season.places
        if self.money(group, self.left[g]) >= LEAST_STAKE or place.id == group.due:
            return tuple(self.heat[place.shelter_id])
        in_the_way = not shelters[places[group.here].shelter_id].open_air
        outdoors = shelters[place.shelter_id].open_air
        return (self.planned[place.shelter_id],) if in_the_way and outdoors else ()

    def _carried(
        self, g: int, place_id: str, by_setting: Mapping[int, Array], night: int
    ) -> Iterator[Way]:
        group = self.groups[g]
        hazards = np.stack(list(by_setting.values()))
        chances = _chance(
            carried_before(np.broadcast_to(self.stay[g], hazards.shape), hazards, night)
        )
        worst = self.money(group, self.left[g])
        warm = 0.0
        if group.tree.limits.rests:
            warm = max(self.chances.mean_air_c(place_id, next(iter(by_setting))), 0.0)
        for settings, chance in _classes(dict(zip(by_setting, chances, strict=True))):
            # a way out for others may be a little worse than where they stand
            if self.money(group, chance) <= worst + LEAST_STAKE:
                way = self._way(group, place_id, night, settings, chance)
                yield replace(way, cost=way.cost + WARMER * warm)

    def _open(self, place: Place, night: int) -> bool:
        """Whether a place can be used from a night on through the last."""
        shelter, last = self.season.shelter_by_id[place.shelter_id], self.nights - 1
        first, end = (self.evening.first + timedelta(days=n) for n in (night, last))
        opened = shelter.opens is None or shelter.opens <= first
        return opened and (shelter.closes is None or end < shelter.closes)

    def _way(
        self, group: Group, place_id: str, night: int | None, settings: Sequence[int], chance: float
    ) -> Way:
        cost = self.money(group, chance)
        if night is not None:
            weights = self.season.site.weights
            price = weights.two_person_carry if group.people > 1 else weights.carry
            if place_id == group.due:
                cost += DUE_SHARE * price + WAITING * night
            else:
                back = 0.0 if place_id in group.ahead else weights.extra_carry + price
                cost += price + back + WAITING * (self.nights - 1 - night)
        return Way(place_id, night, frozenset(settings), float(chance), cost)

    def problem(self, evening: Evening) -> NightProblem:
        """The choice for the hands and the cloths of an evening."""
        season, site = self.season, self.season.site
        house = site.household
        shelters = self.chances.conditions.shelters
        draws = {
            (h, s): dict(shelters[h].settings[s].breaker_w)
            for h, settings in self.heat.items()
            for s in settings
        }
        planned_w: dict[str, float] = defaultdict(float)
        for h, s in self.planned.items():
            for breaker, watts in draws[h, s].items():
                planned_w[breaker] += watts
        return NightProblem(
            groups=tuple(
                NightGroup(
                    tree_ids=group.tree_ids,
                    here=group.here,
                    footprint_m2=group.tree.footprint_m2,
                    weight_kg=group.tree.weight_kg,
                    people=group.people,
                    apart=group.tree.quarantine_until is not None
                    and evening.first < group.tree.quarantine_until,
                    ways=tuple(way for way in ways if way.cloth in {None, *evening.cloth_m2}),
                )
                for group, ways in zip(self.groups, self.ways, strict=True)
            ),
            places=season.places,
            fullest_share=site.weights.fullest_share,
            rooms={
                place.id: place.id
                if season.shelter_by_id[place.shelter_id].open_air
                else place.shelter_id
                for place in season.places.values()
            },
            heat=self.heat,
            draws_w=draws,
            breakers_w={b: max(w, planned_w[b]) for b, w in site.breakers_w.items()},
            hands=Hands(
                evening.people, evening.minutes, house.minutes_a_tree, house.two_person_min
            ),
            nights=self.nights,
            cloths={
                name: ClothAtHand(area_m2, CLOTHS[name].minutes_per_m2)
                for name, area_m2 in evening.cloth_m2.items()
            },
        )


def _groups(
    season: Season, plan: Plan, stage: int, here: Mapping[str, str], past: Past
) -> Iterator[Group]:
    found: dict[object, list[Tree]] = defaultdict(list)
    for tree in season.trees:
        if tree.id in here:
            alike = replace(tree, id="", name="", species_key="", row=0, written="")
            ahead = plan.stays.get(tree.id, ())[stage:]
            found[alike, past.places[tree.id], here[tree.id], ahead].append(tree)
    for trees in found.values():
        first = trees[0]
        ahead = plan.stays.get(first.id, ())[stage:]
        yield Group(
            tree=first,
            tree_ids=tuple(tree.id for tree in trees),
            here=here[first.id],
            due=ahead[0] if ahead and ahead[0] != here[first.id] else None,
            ahead=frozenset(place for place in ahead if place is not None),
            people=2 if season.site.weights.takes_two(first.weight_kg) else 1,
        )


def _chance(hazard: Array) -> Array:
    """Mean over the winters (last axis) of the chance that goes with a hazard."""
    return np.asarray((1.0 - np.exp(-hazard.astype(np.float64))).mean(axis=-1))


def _classes(chances: Mapping[int, float]) -> Iterator[tuple[tuple[int, ...], float]]:
    """Settings with nearly the same chance together, and the worst of their chances."""
    some: list[int] = []
    for setting, chance in sorted(chances.items(), key=lambda item: item[1]):
        if some and chance - chances[some[0]] > SAME_CHANCE:
            yield tuple(some), float(chances[some[-1]])
            some = []
        some.append(setting)
    yield tuple(some), float(chances[some[-1]])
