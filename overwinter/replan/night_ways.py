"""What may be done with every tree before the nights of a forecast, and what comes of it."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from overwinter.model.changes import Mark
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Place, Shelter
from overwinter.model.species import Harm
from overwinter.model.stage import IntArray, Stage, StageDays
from overwinter.model.tree import Tree
from overwinter.plants.harm import RECOVERY_PER_DAY, Array
from overwinter.replan.past import stands
from overwinter.rules import misfits
from overwinter.search.night import NightGroup, NightProblem, Way
from overwinter.shelters.conditions import compute_conditions
from overwinter.shelters.heater import heater_settings
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.follow import HARMS
from overwinter.simulate.harm_table import Follower
from overwinter.simulate.nights import carried_before, forecast_season


@dataclass(frozen=True)
class Past:
    """Where trees stood and what was heated, from one turn to the next."""

    turns: tuple[int, ...]  # index of the day on which each stretch begins; the first is 0
    places: Mapping[str, tuple[str, ...]]
    """By tree, its place in each stretch; before it joined, its summer stand."""
    settings: Mapping[str, tuple[int, ...]]  # by shelter, its setting in each stretch, as planned


def past_of(
    season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Stage], first_day: int
) -> Past:
    """What happened before the day with index ``first_day``, by the marks and the plan."""
    happened = [one.usual for one in begun] + [mark.day for mark in marks]
    days = {0, *map(season.day_index, happened)}
    turns = tuple(sorted(day for day in days if day < max(first_day, 1)))
    dates = [season.date_of(turn) for turn in turns]
    stood = [stands(season, [mark for mark in marks if mark.day <= day]) for day in dates]
    stage = [max(k for k, one in enumerate(begun) if k == 0 or one.usual <= day) for day in dates]
    places = {t.id: tuple(at[t.id] or season.home(t) for at in stood) for t in season.trees}
    settings = {
        s.id: tuple(setting_index(season, plan, s.id, k) for k in stage) for s in season.shelters
    }
    return Past(turns, places, settings)


def setting_index(season: Season, plan: Plan, shelter_id: str, stage: int) -> int:
    """Index of what the plan sets a shelter to in a stage; 0, off, where it has no such setting."""
    shelter, prices = season.shelter_by_id[shelter_id], season.site.money_per_kwh
    known = [one.parts for one in heater_settings(shelter, prices)]
    planned = plan.settings.get(shelter_id)
    parts = None if planned is None else planned[stage].parts
    return known.index(parts) if parts in known else 0


class NightChances:
    """Hazards of every night, ``(n, winter, night, harm)``."""

    def __init__(self, season: Season, past: Past, first_day: int, lows_c: FloatArray) -> None:
        self.season, self.past, self.first_day, self.lows_c = season, past, first_day, lows_c
        self.days = slice(first_day, first_day + lows_c.shape[1])
        coming = forecast_season(season, first_day, lows_c, 0.0)
        self.conditions = compute_conditions(coming)
        self.follower = Follower(coming, self.conditions)

    def money(self, shelter_id: str, setting: int) -> float:
        """What a setting costs through the nights, mean."""
        money = self.conditions.shelters[shelter_id].money
        return float(money[setting, :, self.days].sum(axis=1).mean())

    def mean_air_c(self, place_id: str, setting: int) -> float:
        """Air at a place through the nights and days of the forecast, mean."""
        return float(self.conditions.places[place_id].air_mean_c[setting, :, self.days].mean())

    def under(self, warmer_k: float) -> Follower:
        """Follows trees in the open under a cloth through these nights."""
        coming = forecast_season(self.season, self.first_day, self.lows_c, warmer_k)
        open_air = tuple(shelter for shelter in coming.shelters if shelter.open_air)
        coming = replace(coming, shelters=open_air)
        return Follower(coming, compute_conditions(coming))

    def hazards(
        self, wanted: Sequence[tuple[Tree, str, int]], warmer_k: float | None = None
    ) -> Array:
        """Trees at a place under a setting through all nights, each after its own past.

        warmer_k : of a cloth over them; then every tree stands in the open all along.
        """
        follower = self.follower if warmer_k is None else self.under(warmer_k)
        index, places = follower.exposures.index, self.season.places
        nights = self.lows_c.shape[1]
        rows = []
        for tree, place_id, setting in wanted:
            path = []
            for i, was in enumerate(self.past.places[tree.id]):
                on = self.past.settings[places[was].shelter_id][i]
                # the season of a cloth knows the open alone; what was before today is as outdoors
                known = warmer_k is None or (was, on) in index
                path.append(index[was, on] if known else index[place_id, setting])
            rows.append([*path, *[index[place_id, setting]] * nights])
        return self._nights(
            follower, [tree for tree, _, _ in wanted], np.array(rows, dtype=np.intp)
        )

    def _nights(self, follower: Follower, trees: Sequence[Tree], paths: IntArray) -> Array:
        nights, days = self.lows_c.shape[1], follower.exposures.days
        end, eve = self.first_day + nights, max(self.first_day - 1, 0)
        begins = [*self.past.turns, eve, *range(self.first_day, end), min(end, days)]
        ahead = len(self.past.turns)
        paths = paths[:, [*range(ahead), ahead - 1, *range(ahead, ahead + nights), -1]]
        first_day = np.repeat(np.array(begins)[:, None], follower.exposures.winters, axis=1)
        kinds = [follower.kind_index[kind_of(tree)] for tree in trees]
        stages = StageDays((), first_day, days)
        hazards, _, _ = follower.along(kinds, paths, stages, np.ones(len(trees)))
        coming = hazards[:, :, ahead + 1 : ahead + 1 + nights]
        chilled = HARMS.index(Harm.CHILLING)
        before = np.expm1(hazards[:, :, ahead, chilled])
        for night in range(nights):
            # what is not mended of a dose from before today is not these nights' doing
            old = np.log1p(before * RECOVERY_PER_DAY ** (2 * (night + 1)))
            coming[:, :, night, chilled] = np.maximum(coming[:, :, night, chilled] - old, 0.0)
        return np.asarray(coming)


CLOTHS = {"fleece": 2.0, "blankets": 3.0}
"""What is laid over trees in the open for the night, down to the ground, and how much warmer the
air under it stays, K. Garden pages give 4 to 8 degF for cloth of middle weight, more for blankets
(common practice, no source). This is the low end: pots give the air less warmth than open soil
does, and wind takes much of it."""
LEAST_STAKE = 0.25  # a tree is worth a thought if so much money may be lost, caution counted
SAME_CHANCE = 0.002  # heater settings under which chances differ by less are the same to a tree
WAITING = 0.25
"""Money that waiting a night is worth where all else is the same: the forecast may turn; a carry
that the plan asks for by now does not wait."""
WARMER = 0.02  # money a kelvin that a resting tree is better off cool, where all else is the same


@dataclass(frozen=True)
class Evening:
    """What is known and who is there."""

    first: date  # the day whose coming night is the first of the forecast
    lows_c: tuple[float, ...]  # lowest outdoors in each night, degC
    minutes: float  # before each dusk
    people: int
    cloth_m2: Mapping[str, float] = field(default_factory=dict)  # at hand, by name of the cloth


@dataclass(frozen=True)
class Group(NightGroup):
    """Trees that stand alike and that the plan treats alike; its ways are found later."""

    tree: Tree
    due: str | None  # place to which the plan wants them carried by now; None: they may stay
    ahead: frozenset[str]  # places to which the plan carries them sooner or later


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
        stage : of the plan, as it is tonight; its settings are what heaters are on.
        here : by tree, where it stands.
        lows_c : minima that may come, degC, ``(winter, night)``.
        """
        self.season, self.evening, self.nights = season, evening, lows_c.shape[1]
        self.chances = NightChances(season, past, season.day_index(evening.first), lows_c)
        self.groups = tuple(_groups(season, plan, stage, here, past, evening.first))
        self.planned = {s.id: setting_index(season, plan, s.id, stage) for s in season.shelters}
        self.heat = {shelter.id: self._heat(shelter) for shelter in season.shelters}
        self.stay = self.chances.hazards(
            [self._there(g, group.here) for g, group in enumerate(self.groups)]
        )
        self.left = _chances(self.stay, self.stay)
        due = {g: one.due for g, one in enumerate(self.groups) if one.due in season.places}
        self.due = dict(
            zip(due, self._lost([self._there(g, str(p)) for g, p in due.items()]), strict=True)
        )
        """Chance of each group where the plan wants it by now, from tonight on."""
        self.ways = [list(self._staying(g)) for g in range(len(self.groups))]
        self._cover()
        self._carry()

    def _there(self, g: int, place_id: str) -> tuple[Tree, str, int]:
        """A tree at a place that is heated as planned."""
        return self.groups[g].tree, place_id, self.planned[self.season.shelter_of(place_id).id]

    def _lost(
        self, wanted: Sequence[tuple[Tree, str, int]], warmer_k: float | None = None
    ) -> list[float]:
        """Chance of loss of trees at places under settings from tonight on."""
        if not wanted:
            return []
        hazards = self.chances.hazards(wanted, warmer_k)
        return _chances(hazards, hazards)

    def _heat(self, shelter: Shelter) -> dict[int, float]:
        """Settings to choose from, and what each costs more than the planned one, mean money."""
        known = self.chances.conditions.shelters[shelter.id].settings
        first = self.evening.first
        broken = {h.name for h in shelter.heaters if (h.broken_from or date.max) <= first}
        works = [s for s, one in enumerate(known) if not any(p.heater in broken for p in one.parts)]
        if self.planned[shelter.id] not in works:
            self.planned[shelter.id] = 0
        planned = self.planned[shelter.id]
        base = self.chances.money(shelter.id, planned)
        more = {s: self.chances.money(shelter.id, s) - base for s in works}
        closed = not any(self._open(place, 0) for place in shelter.places)
        return {planned: 0.0} | {s: m for s, m in more.items() if m > 0.0 and not closed}

    def money(self, group: Group, chance: float) -> float:
        """What a chance of loss counts, caution included."""
        return self.season.site.weights.caution * group.tree.value * chance

    def _staying(self, g: int) -> Iterator[Way]:
        group = self.groups[g]
        settings = tuple(self.heat[self.season.places[group.here].shelter_id])
        if len(settings) == 1 or self.money(group, self.left[g]) < LEAST_STAKE:
            yield self._way(group, group.here, None, settings, self.left[g])
            return
        chances = self._lost([(group.tree, group.here, s) for s in settings])
        for some, chance in _classes(dict(zip(settings, chances, strict=True))):
            yield self._way(group, group.here, None, some, chance)

    def _cover(self) -> None:
        """Cloths over endangered trees in the open; to spread and lift one counts as a carry."""
        season = self.season
        some = [
            g
            for g, group in enumerate(self.groups)
            if self.money(group, self.left[g]) >= LEAST_STAKE
            and season.shelter_of(group.here).open_air
        ]
        rows = [(self.groups[g].tree, self.groups[g].here, 0) for g in some]
        for cloth, warmer_k in CLOTHS.items():
            for g, chance in zip(some, self._lost(rows, warmer_k), strict=True):
                group = self.groups[g]
                settings = tuple(self.heat[season.shelter_of(group.here).id])
                way = self._way(group, group.here, None, settings, chance)
                area = cloth_m2(group.tree)
                cost = way.cost + season.site.weights.carry
                self.ways[g].append(replace(way, cost=cost, cloth=cloth, cloth_m2=area))

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
        if self.money(group, self.left[g]) >= LEAST_STAKE or place.id == group.due:
            return tuple(self.heat[place.shelter_id])
        in_the_way = not self.season.shelter_of(group.here).open_air
        outdoors = self.season.shelter_of(place.id).open_air
        return (self.planned[place.shelter_id],) if in_the_way and outdoors else ()

    def _carried(
        self, g: int, place_id: str, by_setting: Mapping[int, Array], night: int
    ) -> Iterator[Way]:
        group = self.groups[g]
        hazards = np.stack(list(by_setting.values()))
        chances = _chances(np.broadcast_to(self.stay[g], hazards.shape), hazards, night)
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
            back = 0.0 if place_id in group.ahead else weights.extra_carry + price
            early = night if place_id == group.due else self.nights - night
            cost += price + back + WAITING * early
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
        cloths = {None, *evening.cloth_m2}
        return NightProblem(
            groups=tuple(
                replace(group, ways=tuple(way for way in ways if way.cloth in cloths))
                for group, ways in zip(self.groups, self.ways, strict=True)
            ),
            places=season.places,
            fullest_share=site.weights.fullest_share,
            rooms={place_id: season.shared_air(place_id) for place_id in season.places},
            heat=self.heat,
            draws_w=draws,
            breakers_w={b: max(w, planned_w[b]) for b, w in site.breakers_w.items()},
            people=evening.people,
            minutes=evening.minutes,
            one_person_min=house.minutes_a_tree,
            two_person_min=house.two_person_min,
            nights=self.nights,
            cloth_m2=evening.cloth_m2,
        )


def cloth_m2(tree: Tree) -> float:
    """What covers one tree among others: its top and half of its sides."""
    return tree.footprint_m2 + (tree.width_m + tree.depth_m) * tree.height_m


def _groups(
    season: Season, plan: Plan, stage: int, here: Mapping[str, str], past: Past, first: date
) -> Iterator[Group]:
    found: dict[tuple[Tree, object, str, tuple[str | None, ...]], list[str]] = defaultdict(list)
    for tree in season.trees:
        if tree.id in here:
            ahead = plan.stays.get(tree.id, ())[stage:]
            found[tree.unnamed, past.places[tree.id], here[tree.id], ahead].append(tree.id)
    for (_, _, at, ahead), ids in found.items():
        tree = season.tree_by_id[ids[0]]
        yield Group(
            tree_ids=tuple(ids),
            here=at,
            footprint_m2=tree.footprint_m2,
            weight_kg=tree.weight_kg,
            people=2 if season.site.weights.takes_two(tree.weight_kg) else 1,
            apart=tree.quarantine_until is not None and first < tree.quarantine_until,
            ways=(),
            tree=tree,
            due=ahead[0] if ahead and ahead[0] != at else None,
            ahead=frozenset(place for place in ahead if place is not None),
        )


def _chances(stay: Array, go: Array, night: int = 0) -> list[float]:
    """Chance of loss of trees that are carried before a night, mean over the winters."""
    hazard = carried_before(stay, go, night).astype(np.float64)
    chances: list[float] = (1.0 - np.exp(-hazard)).mean(axis=-1).tolist()
    return chances


def _classes(chances: Mapping[int, float]) -> Iterator[tuple[tuple[int, ...], float]]:
    """Settings with nearly the same chance together, and the worst of their chances."""
    some: list[int] = []
    for setting, chance in sorted(chances.items(), key=lambda item: item[1]):
        if some and chance - chances[some[0]] > SAME_CHANCE:
            yield tuple(some), float(chances[some[-1]])
            some = []
        some.append(setting)
    yield tuple(some), float(chances[some[-1]])
