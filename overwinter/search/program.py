"""The integer program: which programme each shelter runs, and where every tree stands.

Indices: g group, p place, h shelter, u programme, s setting, k stage. A tree's harm at p in k
depends on the setting; settings that harm a group alike form a class c, so that

    y[g,p,c,k]  trees of g at p in stage k, who need one of the settings in c
    x[h,u]      1 if shelter h runs programme u;  z[h,s,k] = sum of x[h,u] with u[k] = s
    m[g,p,k]    trees of g carried to p at the beginning of k;  often[g]  carries beyond the usual
    o[g]        trees of g left out;  short[g]  chilling that trees of g lack, in trees

    least   sum heat x + sum cost y + sum carry m + crowding + short chilling + left out

The same program serves for the whole winter, and for some trees among others that stand already,
under programmes that are decided.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite

import numpy as np
import pulp

from overwinter.model.shelter import FloatArray
from overwinter.plants.harm import SHORT_CHILL_SHARE
from overwinter.search.placement import Placement
from overwinter.search.problem import Problem
from overwinter.search.programmes import Programme

CLASS_SHARE = 0.02
"""Settings whose costs differ by less than this share, or by this money, harm a group alike."""
CLASS_MONEY = 0.05


@dataclass(frozen=True, slots=True)
class Stay:
    """One column y: trees of a group at a place in a stage under a class of settings."""

    variable: pulp.LpVariable
    group: int
    place_id: str
    stage: int
    settings: frozenset[int]


@dataclass
class Program:
    """The program and its columns; rows are added by the functions below."""

    problem: Problem
    programmes: Mapping[str, Sequence[Programme]]  # those that may be chosen, by shelter
    groups: Sequence[int]  # those whose trees are placed
    around: Placement
    """Trees that stand already: what they leave of rooms and carries is for these groups."""
    share: float  # share of what is left that these groups may take, and of the heat they pay
    lp: pulp.LpProblem = field(init=False)
    columns: list[pulp.LpVariable] = field(default_factory=list)
    stays: list[Stay] = field(default_factory=list)
    by_group_stage: dict[tuple[int, int], list[Stay]] = field(init=False)
    by_place_stage: dict[tuple[str, int], list[Stay]] = field(init=False)
    x: dict[str, list[pulp.LpVariable]] = field(default_factory=dict)
    z: dict[tuple[str, int], dict[int, pulp.LpVariable]] = field(default_factory=dict)
    """By shelter and stage: the column of each setting that some programme has there."""
    left_out: dict[int, pulp.LpVariable] = field(default_factory=dict)
    costs: list[tuple[pulp.LpVariable, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lp, columns = pulp.LpProblem("winter", pulp.LpMinimize), self.columns
        # PuLP would look for them through all rows each time that it is asked
        self.lp.variables = lambda: columns
        self.by_group_stage, self.by_place_stage = defaultdict(list), defaultdict(list)

    def column(self, upper: float | None, cost: float, whole: bool = False) -> pulp.LpVariable:
        """A new column from 0 to ``upper`` at a cost a unit; ``whole`` for whole numbers only."""
        kind = pulp.LpInteger if whole else pulp.LpContinuous
        variable = self.lp.add_variable(f"v{len(self.columns)}", 0, upper, cat=kind)
        self.columns.append(variable)
        if cost:
            self.costs.append((variable, cost))
        return variable

    def on(self, shelter_id: str, stage: int, settings: Iterable[int]) -> list[pulp.LpVariable]:
        """Columns z: the shelter is on one of ``settings`` in a stage."""
        z = self.z[shelter_id, stage]
        return [z[s] for s in settings if s in z]

    def chosen(self) -> dict[str, FloatArray]:
        """By shelter, the values of x in an answer."""
        return {h: np.array([x.varValue or 0.0 for x in xs]) for h, xs in self.x.items()}

    def favoured(self, chosen: Mapping[str, FloatArray]) -> dict[str, tuple[int, ...]]:
        """The programmes that values of x favour."""
        return {h: self.programmes[h][int(x.argmax())].settings for h, x in chosen.items()}

    def row(self, terms: Iterable[tuple[pulp.LpVariable, float]], sense: int, right: float) -> None:
        """Add one row: sum of terms <= (-1), = (0) or >= (1) ``right``."""
        self.lp.addConstraint(
            pulp.LpConstraint(pulp.LpAffineExpression(list(terms)), sense, rhs=right)
        )


LE, EQ, GE = pulp.LpConstraintLE, pulp.LpConstraintEQ, pulp.LpConstraintGE


def build(
    problem: Problem,
    programmes: Mapping[str, Sequence[Programme]] | None = None,
    groups: Sequence[int] | None = None,
    around: Placement | None = None,
    share: float = 1.0,
) -> Program:
    """The program; whole, or for some groups, programmes or the room that others leave."""
    programmes = programmes or problem.programmes
    if around is None:
        around = Placement(problem, {h: ways[0].settings for h, ways in programmes.items()})
    groups = range(len(problem.groups)) if groups is None else groups
    program = Program(problem, programmes, groups, around, share)
    _columns(program)
    one_programme(program)
    breakers(program)
    one_place(program)
    carries(program)
    room(program)
    settings_that_trees_need(program)
    chilling(program)
    quarantine(program)
    program.lp.setObjective(pulp.LpAffineExpression(program.costs))
    return program


def _columns(program: Program) -> None:
    problem = program.problem
    for shelter_id, ways in program.programmes.items():
        program.x[shelter_id] = [program.column(1, program.share * way.money, True) for way in ways]
        for k in range(problem.first, problem.stages):
            settings = sorted({way.settings[k] for way in ways})
            program.z[shelter_id, k] = {s: program.column(1, 0.0) for s in settings}
    options, places = problem.follower.exposures.options, program.around.at
    place_of = np.array([places[option.place_id] for option in options])
    stages = range(problem.first, problem.stages)
    runs = np.array([[o.setting in program.z[o.shelter_id, k] for k in stages] for o in options])
    for g in program.groups:
        most = int(problem.most_out[g])
        price = float(problem.left_out[g] - problem.sunk[g])
        program.left_out[g] = program.column(most, price, True)
        may = problem.allowed[g, :, problem.first :] & runs
        may &= ~program.around.blocked(g)[problem.first :, place_of].T
        for at, k in enumerate(stages):
            if problem.there[g, k]:
                _stays(program, g, k, np.flatnonzero(may[:, at]).tolist())


def _stays(program: Program, g: int, k: int, at: Sequence[int]) -> None:
    """Columns of one group in one stage: for each place, a column for each class of settings."""
    problem = program.problem
    options = problem.follower.exposures.options
    cost = problem.cost[g, :, k].tolist()
    chill = problem.table.chill_share[problem.groups[g].kind, :, k].tolist()

    def alike(one: int, other: int) -> bool:
        """Whether two options harm the group alike; ``other`` is the dearer one."""
        if problem.exact:
            return bool(cost[one] == cost[other] and chill[one] == chill[other])
        return bool(cost[other] - cost[one] <= max(CLASS_MONEY, CLASS_SHARE * cost[other]))

    by_place: dict[str, list[int]] = defaultdict(list)
    for i in at:
        by_place[options[i].place_id].append(i)
    last = k == problem.stages - 1
    for place_id, here in by_place.items():
        away = problem.season.site.weights.not_home if last and place_id != problem.home(g) else 0.0
        classes: list[list[int]] = []
        for i in sorted(here, key=cost.__getitem__):
            if classes and alike(classes[-1][0], i):
                classes[-1].append(i)
            else:
                classes.append([i])
        for members in classes:
            # the cheapest of its settings stands for a class, so that the relaxation bounds plans
            column = program.column(problem.groups[g].count, cost[members[0]] + away, True)
            stay = Stay(column, g, place_id, k, frozenset(options[i].setting for i in members))
            program.stays.append(stay)
            program.by_group_stage[g, k].append(stay)
            program.by_place_stage[place_id, k].append(stay)


def one_programme(program: Program) -> None:
    """Every shelter runs one programme: sum over u of x[h,u] = 1; z is what it is on."""
    for columns in program.x.values():
        program.row([(x, 1.0) for x in columns], EQ, 1)
    for (shelter_id, k), settings in program.z.items():
        ways = list(zip(program.x[shelter_id], program.programmes[shelter_id], strict=True))
        for s, z in settings.items():
            terms = [(x, 1.0) for x, way in ways if way.settings[k] == s]
            program.row([*terms, (z, -1.0)], EQ, 0)


def breakers(program: Program) -> None:
    """What draws on a breaker at once stays within its load: sum of watts z <= limit."""
    problem = program.problem
    for breaker, limit in problem.season.site.breakers_w.items():
        for k in range(problem.first, problem.stages):
            terms = []
            for shelter in problem.season.shelters:
                known = problem.conditions.shelters[shelter.id].settings
                for s, z in program.z[shelter.id, k].items():
                    watts = dict(known[s].breaker_w).get(breaker, 0.0)
                    if watts:
                        terms.append((z, watts))
            if terms:
                program.row(terms, LE, limit)


def one_place(program: Program) -> None:
    """Every tree that is there has one place or is left out: sum over p, c of y + o = n."""
    problem = program.problem
    for g in program.groups:
        group = problem.groups[g]
        for k in range(problem.first, problem.stages):
            if problem.there[g, k]:
                terms = [(stay.variable, 1.0) for stay in program.by_group_stage[g, k]]
                program.row([*terms, (program.left_out[g], 1.0)], EQ, group.count)


def carries(program: Program) -> None:
    """Trees come to a place by being carried; nobody carries more than the household can, and
    what is more than a few carries a tree costs as much as a chance of loss that is just borne:

    m[g,p,k] >= y[g,p,.,k] - y[g,p,.,k-1];  sum over g, p of t[g] m <= T[k];
    sum over p, k of m - often[g] <= most n[g]
    """
    problem, around, weights = program.problem, program.around, program.problem.season.site.weights
    by_stage: dict[int, list[tuple[pulp.LpVariable, float]]] = defaultdict(list)
    for g in program.groups:
        group = problem.groups[g]
        prices, minutes = around.carry[g].tolist(), around.minutes[g].tolist()
        of_group, now = [], _at(program, g, problem.first - 1)
        for k in range(problem.first, problem.stages):
            before, now = now, _at(program, g, k)
            joined = problem.there[g, k - 1]
            if k == problem.first:
                joined = group.start[k - 1] is not None
            if not problem.there[g, k] or not joined:
                continue
            for place_id, here in now.items():
                at = around.at[place_id]
                stood = group.start[k - 1] == place_id if k == problem.first else False
                m = program.column(group.count if problem.may_move[g, k] else 0, prices[at])
                terms = [(m, 1.0), *((v, -1.0) for v in here)]
                terms += [(v, 1.0) for v in before.get(place_id, ())]
                program.row(terms, GE, -group.count if stood else 0.0)
                by_stage[k].append((m, minutes[at]))
                of_group.append((m, 1.0))
        if of_group:
            often = program.column(None, problem.often_price(g))
            program.row([*of_group, (often, -1.0)], LE, weights.most_carries * group.count)
    for k, terms in by_stage.items():
        left = float(problem.hands_min[k] - program.around.carried_min[k])
        program.row(terms, LE, program.share * left)


def _at(program: Program, g: int, k: int) -> dict[str, list[pulp.LpVariable]]:
    found: dict[str, list[pulp.LpVariable]] = defaultdict(list)
    for stay in program.by_group_stage.get((g, k), ()):
        found[stay.place_id].append(stay.variable)
    return found


def room(program: Program) -> None:
    """Footprints and weights stay within a place, and crowding is paid for:

    sum a[g] y <= full A[p];  sum a[g] y - crowd[p,k] <= comfortable A[p];  sum w[g] y <= load[p]
    """
    problem, around = program.problem, program.around
    weights = problem.season.site.weights
    for (place_id, k), stays in program.by_place_stage.items():
        place, at = problem.season.places[place_id], around.at[place_id]
        trees = [problem.groups[s.group].tree for s in stays]
        area = [(s.variable, t.footprint_m2) for s, t in zip(stays, trees, strict=True)]
        used = float(around.used_m2[k, at])
        program.row(area, LE, _left_m2(program, place_id, k))
        if not problem.season.shelter_by_id[place.shelter_id].open_air:
            price = weights.crowding_per_m2_day * float(problem.days[k])
            crowd = program.column(None, price)
            comfortable = float(around.comfortable[at])
            program.row([*area, (crowd, -1.0)], LE, program.share * (comfortable - used))
        if isfinite(place.load_limit_kg):
            load = [(s.variable, t.weight_kg) for s, t in zip(stays, trees, strict=True)]
            left = place.load_limit_kg - float(around.used_kg[k, at])
            program.row(load, LE, program.share * left)


def _left_m2(program: Program, place_id: str, k: int) -> float:
    at, around = program.around.at[place_id], program.around
    return program.share * max(0.0, float(around.room[k, at] - around.used_m2[k, at]))


def settings_that_trees_need(program: Program) -> None:
    """A tree stands only where its shelter runs a setting that it may meet:

    sum over c within d of a[g] y[g,p,c,k] <= full A[p] sum over s in d of z[h,s,k], each class d;
    sum over p in h of y[g,p,c,k] <= n[g] sum over s in c of z[h,s,k], each g and c
    """
    problem = program.problem
    for (place_id, k), stays in program.by_place_stage.items():
        shelter_id = problem.season.places[place_id].shelter_id
        every = frozenset(program.z[shelter_id, k])
        left = _left_m2(program, place_id, k)
        for wanted in {stay.settings for stay in stays} - {every}:
            inside = [s for s in stays if s.settings <= wanted]
            terms = [(s.variable, problem.groups[s.group].tree.footprint_m2) for s in inside]
            terms += [(z, -left) for z in program.on(shelter_id, k, wanted)]
            program.row(terms, LE, 0.0)
    _tied_by_group(program)


def _tied_by_group(program: Program) -> None:
    problem = program.problem
    for (g, k), stays in program.by_group_stage.items():
        tied: dict[tuple[str, frozenset[int]], list[pulp.LpVariable]] = defaultdict(list)
        for stay in stays:
            shelter_id = problem.season.places[stay.place_id].shelter_id
            if 0 not in stay.settings and len(stay.settings) < len(program.z[shelter_id, k]):
                tied[shelter_id, stay.settings].append(stay.variable)
        for (shelter_id, wanted), variables in tied.items():
            terms = [(v, 1.0) for v in variables]
            n = float(problem.groups[g].count)
            terms += [(z, -n) for z in program.on(shelter_id, k, wanted)]
            program.row(terms, LE, 0.0)


def chilling(program: Program) -> None:
    """A tree that owes chilling earns it, or pays: sum chill y + short[g] >= owed n[g]."""
    problem = program.problem
    caution = problem.season.site.weights.caution
    options = problem.follower.exposures.index
    for g in program.groups:
        group = problem.groups[g]
        earned = problem.table.chill_share[group.kind]
        if not earned.any() or group.owed <= 0:
            continue
        price = caution * group.tree.value * SHORT_CHILL_SHARE
        terms, least = [], 0.0
        for k in range(problem.first, problem.stages):
            gains = []
            for stay in program.by_group_stage.get((g, k), ()):
                # the best of its settings, so that the relaxation bounds plans
                gain = float(max(earned[options[stay.place_id, s], k] for s in stay.settings))
                terms.append((stay.variable, gain))
                gains.append(gain)
            least += min(gains, default=0.0)
        least += _past_chill(problem, g)
        if terms and least < group.owed:
            short = program.column(group.count, price)
            owed = (group.owed - _past_chill(problem, g)) * group.count
            terms.append((program.left_out[g], group.owed))
            program.row([*terms, (short, 1.0)], GE, owed)


def _past_chill(problem: Problem, g: int) -> float:
    """Chilling earned in the stages that have begun, settings taken as off."""
    index = problem.follower.exposures.index
    earned = problem.table.chill_share[problem.groups[g].kind]
    past = enumerate(problem.groups[g].start[: problem.first])
    return sum(float(earned[index[place, 0], k]) for k, place in past if place is not None)


def quarantine(program: Program) -> None:
    """A tree in quarantine shares no closed shelter, and outdoors no place, with other trees:

    q[unit,k] is 1 where one is kept; y of the others <= n (1 - q), y of the one <= n q
    """
    problem = program.problem
    units: dict[tuple[str, int], pulp.LpVariable] = {}
    for (g, k), stays in program.by_group_stage.items():
        for stay in stays if problem.apart[g, k] else ():
            unit = problem.season.shared_air(stay.place_id)
            if (unit, k) not in units:
                units[unit, k] = program.column(1, 0.0, True)
    for (g, k), stays in program.by_group_stage.items():
        n = float(problem.groups[g].count)
        here: dict[str, list[pulp.LpVariable]] = defaultdict(list)
        for stay in stays:
            here[problem.season.shared_air(stay.place_id)].append(stay.variable)
        for unit, variables in here.items():
            if (unit, k) in units:
                q, terms = units[unit, k], [(v, 1.0) for v in variables]
                if problem.apart[g, k]:
                    program.row([*terms, (q, -n)], LE, 0.0)
                else:
                    program.row([*terms, (q, n)], LE, n)
