"""What to do before a cold night: a small integer program over carries, heaters and cloths.

Indices: g group of trees alike, w way (stay, be covered, or be carried to a place before a night),
h shelter, s heater setting, n night. A way holds for a class of settings of the shelter it ends in.

    y[g,w]  trees of g that go that way;  z[h,s]  1 if shelter h is on setting s

    least   sum cost y + sum heat z
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import isfinite

import pulp

from overwinter.model.shelter import Place
from overwinter.problems import UserError
from overwinter.solvers.highs import Highs
from overwinter.solvers.report import SolverSettings

NIGHT_GAP = 1e-4
NIGHT_LIMIT_S = 10.0
CLOTH_MIN_M2 = 1.0
"""Minutes to spread a square metre of cloth and hold it down: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Way:
    """One thing to do with a tree."""

    place_id: str
    night: int | None  # it is carried before that night, 0 for tonight; None: it stays
    settings: frozenset[int]  # settings of the shelter under which this holds
    chance: float  # share of its value lost over all nights, mean
    cost: float  # money: expected loss times caution, and the carry
    cloth: str | None = None
    cloth_m2: float = 0.0  # it takes so much of it


@dataclass(frozen=True, slots=True)
class NightGroup:
    """Trees alike that stand at one place."""

    tree_ids: tuple[str, ...]
    here: str
    footprint_m2: float
    weight_kg: float
    people: int  # who carry one of them
    apart: bool
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class NightProblem:
    """All that the choice of a night hangs on."""

    groups: tuple[NightGroup, ...]
    places: Mapping[str, Place]
    fullest_share: float
    rooms: Mapping[str, str]
    """By place, what trees there share: the air of a shelter, or the place itself outdoors."""
    heat: Mapping[str, Mapping[int, float]]
    """By shelter: its settings that may be chosen, and money for all nights more than planned."""
    draws_w: Mapping[tuple[str, int], Mapping[str, float]]
    """By shelter and setting: watts by breaker."""
    breakers_w: Mapping[str, float]
    people: int
    minutes: float  # that each of those who carry has before each night
    one_person_min: float
    two_person_min: float  # what a tree takes of one person's time, and of each of two
    nights: int
    cloth_m2: Mapping[str, float]


@dataclass(frozen=True)
class NightChoice:
    """What is best done."""

    ways: tuple[Mapping[Way, int], ...]  # by group: how many of its trees go which way
    settings: Mapping[str, int]
    money: float  # the least there is: heat, carries, and losses times caution


Terms = list[tuple[pulp.LpVariable, float]]
Row = tuple[Terms, int, float]
Going = Sequence[tuple[NightGroup, Way, pulp.LpVariable]]
Settings = Mapping[tuple[str, int], pulp.LpVariable]
LE, EQ = pulp.LpConstraintLE, pulp.LpConstraintEQ


def choose_night(problem: NightProblem) -> NightChoice:
    """Solve the night."""
    lp = pulp.LpProblem("night", pulp.LpMinimize)
    going = [
        (group, way, lp.add_variable(f"y{g}_{w}", 0, len(group.tree_ids), cat=pulp.LpInteger))
        for g, group in enumerate(problem.groups)
        for w, way in enumerate(group.ways)
    ]
    z = {
        (shelter_id, s): lp.add_variable(f"z{h}_{s}", 0, 1, cat=pulp.LpInteger)
        for h, (shelter_id, settings) in enumerate(problem.heat.items())
        for s in settings
    }
    money: Terms = [(z[h, s], cost) for h, row in problem.heat.items() for s, cost in row.items()]
    lp.setObjective(pulp.LpAffineExpression([*money, *((v, way.cost) for _, way, v in going)]))
    for terms, sense, right in (
        *_one_way(going),
        *_settings(problem, going, z),
        *_time(problem, going),
        *_room(problem, going),
        *_quarantine(problem, going, lp),
    ):
        if terms and isfinite(right):
            expression = pulp.LpAffineExpression(terms)
            lp.addConstraint(pulp.LpConstraint(expression, sense, rhs=right))
    settings = SolverSettings(gap=NIGHT_GAP, time_limit_s=NIGHT_LIMIT_S, threads=1)
    report = Highs(settings).run(lp)
    if report.objective is None:
        raise UserError(f"Nothing was found for this night ({report.termination}); please tell us.")
    ways: list[dict[Way, int]] = [{} for _ in problem.groups]
    at = {id(group): i for i, group in enumerate(problem.groups)}
    for group, way, v in going:
        count = round(v.varValue or 0.0)
        if count:
            ways[at[id(group)]][way] = count
    chosen = {key[0]: key[1] for key, v in z.items() if round(v.varValue or 0.0)}
    return NightChoice(tuple(ways), chosen, float(report.objective or 0.0))


def _one_way(going: Going) -> Iterator[Row]:
    """Every tree goes one way: sum over w of y[g,w] = n[g]."""
    for group, some in groupby(going, key=lambda one: one[0]):
        yield [(v, 1.0) for _, _, v in some], EQ, float(len(group.tree_ids))


def _settings(problem: NightProblem, going: Going, z: Settings) -> Iterator[Row]:
    """A shelter is on one setting, and a way holds only under its own: y <= n sum of its z.

    What draws on a breaker at once stays within its load.
    """
    for shelter_id, settings in problem.heat.items():
        yield [(z[shelter_id, s], 1.0) for s in settings], EQ, 1.0
    for group, way, v in going:
        shelter_id = problem.places[way.place_id].shelter_id
        known = problem.heat.get(shelter_id, {})
        if not way.settings >= known.keys():
            n = float(len(group.tree_ids))
            yield [(v, 1.0), *((z[shelter_id, s], -n) for s in known.keys() & way.settings)], LE, 0
    for breaker, limit in problem.breakers_w.items():
        draws = [(z[key], watts.get(breaker, 0.0)) for key, watts in problem.draws_w.items()]
        yield [(v, watts) for v, watts in draws if watts], LE, limit


def _time(problem: NightProblem, going: Going) -> Iterator[Row]:
    """Carries and cloths take no more than everybody's time, pairs no more than pairs have; no more
    is covered than there is cloth."""
    both = 2 * problem.two_person_min
    for night in range(problem.nights):
        carried = [(group, v) for group, way, v in going if way.night == night]
        every = [(v, both if one.people > 1 else problem.one_person_min) for one, v in carried]
        if night == 0:
            every += [(v, CLOTH_MIN_M2 * way.cloth_m2) for _, way, v in going if way.cloth_m2]
        yield every, LE, problem.people * problem.minutes
        pairs = [(v, problem.two_person_min) for group, v in carried if group.people > 1]
        yield pairs, LE, problem.people // 2 * problem.minutes
    for name, area_m2 in problem.cloth_m2.items():
        yield [(v, way.cloth_m2) for _, way, v in going if way.cloth == name], LE, area_m2


def _room(problem: NightProblem, going: Going) -> Iterator[Row]:
    """Footprints and weights stay within a place in every night, or are no more than now."""
    for place_id, place in problem.places.items():
        now = [group for group in problem.groups if group.here == place_id]
        for night in range(problem.nights):
            here = [
                (group, v)
                for group, way, v in going
                if place_id == (way.place_id if (way.night or 0) <= night else group.here)
            ]
            area = [(v, group.footprint_m2) for group, v in here]
            weight = [(v, group.weight_kg) for group, v in here]
            stood = sum(group.footprint_m2 * len(group.tree_ids) for group in now)
            bore = sum(group.weight_kg * len(group.tree_ids) for group in now)
            yield area, LE, max(problem.fullest_share * place.area_m2, stood)
            yield weight, LE, max(place.load_limit_kg, bore)


def _quarantine(problem: NightProblem, going: Going, lp: pulp.LpProblem) -> Iterator[Row]:
    """A tree in quarantine comes to no room with others, nor they to it; what is so now is a fact.

    q[room] is 1 where trees in quarantine are: y of others that come <= n (1 - q), of them <= n q
    """
    there: dict[str, set[bool]] = defaultdict(set)
    for group in problem.groups:
        there[problem.rooms[group.here]].add(group.apart)
    if not any(group.apart for group in problem.groups):
        return
    q = {}
    for i, room in enumerate(dict.fromkeys(problem.rooms.values())):
        low, high = True in there[room], there[room] != {False}
        q[room] = lp.add_variable(f"q{i}", float(low), float(high), cat=pulp.LpInteger)
    for group, way, v in going:
        n, room = float(len(group.tree_ids)), problem.rooms[way.place_id]
        if problem.rooms[group.here] != room:
            sign = -n if group.apart else n
            yield [(v, 1.0), (q[room], sign)], LE, max(sign, 0.0)
