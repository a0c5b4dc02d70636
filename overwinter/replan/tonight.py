"""A cold night is forecast: what begins, what is carried before dusk, what else helps.

From where the trees are by the marks and from what this forecast would do to each of them there and
elsewhere, the small integer program of ``search.night`` chooses.
"""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

from overwinter.climate.stages import QUIET_NIGHTS_AHEAD
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting
from overwinter.model.species import Harm
from overwinter.model.stage import Sign, Stage
from overwinter.problems import UserError
from overwinter.replan.night_ways import CLOTHS, Evening, NightWays, past_of
from overwinter.replan.past import begun_stages, open_carries, stands
from overwinter.replan.replan import InForce, changed_season, check_fits, check_marks
from overwinter.search.night import CLOTH_MIN_M2, NightChoice, Way, choose_night
from overwinter.simulate.follow import HARMS
from overwinter.simulate.nights import likely_lows_c

SAVED = 1.0  # help that saves less money is not worth a line
ALL_DAY_MIN = 12 * 60.0
MANY_M2 = 1000.0


@dataclass(frozen=True, slots=True)
class Beginning:
    """A stage whose sign the forecast brings."""

    stage: Stage
    night: int  # its first night, 0 for tonight


@dataclass(frozen=True, slots=True)
class TreeTonight:
    """One tree in these nights."""

    tree_id: str
    here: str
    left: float  # chance of loss if nothing is done, 0 to 1
    harm: Harm  # the likeliest then
    way: Way  # what is best done with it
    people: int  # who carry it
    ahead: frozenset[str]  # places to which the plan carries it sooner or later
    due: str | None  # place to which the plan wants it carried by now; None: nothing is due
    due_chance: float | None  # chance of loss there


@dataclass(frozen=True, slots=True)
class HeatTonight:
    """A heater set anew: as the plan wants from a stage on that begins tonight, or warmer."""

    shelter_id: str
    now: HeaterSetting  # until tonight, as planned
    planned: HeaterSetting  # from tonight on
    setting: HeaterSetting
    money: float  # more than planned, mean, all nights
    saves: float  # expected loss that it spares trees that stay there, money
    tree_ids: tuple[str, ...]  # they, and those that are carried there


@dataclass(frozen=True, slots=True)
class Help:
    """What more time or some cloth would do, solved anew."""

    cloth: str | None  # None: the help is time
    minutes: float  # of one person before tonight's dusk, in all
    area_m2: float  # of cloth used
    saves: float  # by how much less is lost than now, expected money
    tree_ids: tuple[str, ...]  # trees that it helps


@dataclass(frozen=True)
class Tonight:
    """The whole answer. Losses are value x chance, without caution, means over the winters."""

    season: Season  # with the changed facts laid over it
    plan: Plan
    evening: Evening
    begins: tuple[Beginning, ...]
    waits_for: Stage | None  # the next sign that the forecast does not bring
    trees: tuple[TreeTonight, ...]  # largest stake first
    heaters: tuple[HeatTonight, ...]
    unmarked: tuple[Carry, ...]
    """Carries usually due before today that nobody marked; taken as not done."""
    helps: tuple[Help, ...] = ()

    @property
    def loss_left(self) -> float:
        """If nothing is done."""
        return sum(self.value(one) * one.left for one in self.trees)

    @property
    def loss(self) -> float:
        """If what is best is done."""
        return sum(self.value(one) * one.way.chance for one in self.trees)

    @property
    def heat(self) -> float:
        """Money for heat, more than planned."""
        return sum(one.money for one in self.heaters)

    @property
    def minutes(self) -> float:
        """Of one person before tonight's dusk, in all."""
        return sum(self.minutes_of(one) for one in self.trees)

    def value(self, one: TreeTonight) -> float:
        """Of the tree, money."""
        return self.season.tree_by_id[one.tree_id].value

    def saved(self, one: TreeTonight) -> float:
        """Expected loss that its way spares, money."""
        return self.value(one) * (one.left - one.way.chance)

    def minutes_of(self, one: TreeTonight) -> float:
        """What its way takes of one person's time before tonight's dusk."""
        house, way = self.season.site.household, one.way
        if way.cloth is not None:
            return CLOTH_MIN_M2 * way.cloth_m2
        if way.night != 0:
            return 0.0
        return house.minutes(one.people > 1)


def tonight(season: Season, in_force: InForce, evening: Evening) -> Tonight:
    """What to do before these nights.

    season : as the inputs have it, changed facts not laid over it.

    Raises ``UserError``: The day or the forecast lies outside the winter; a mark is later than the
    day; the inputs have other places or trees than the plan in force.
    """
    _check(season, in_force, evening)
    plan, marks, first = in_force.plan, in_force.marks, evening.first
    check_fits(season, plan, in_force.changes, marks)
    changed = changed_season(season, in_force.changes, marks, first)
    begun = begun_stages(changed, plan, marks, first)
    begins, waits_for = _signs(plan, len(begun), evening)
    stage = max([len(begun) - 1, *(one.stage.index for one in begins if one.night == 0)])
    past = past_of(changed, plan, marks, begun, changed.day_index(first))
    lows = likely_lows_c(evening.lows_c, changed.winters.count, changed.site.seed)
    here = _here(changed, in_force, first)
    ways = NightWays(changed, plan, stage, here, past, evening, lows)
    choice = choose_night(ways.problem(evening))
    found = Tonight(
        season=changed,
        plan=plan,
        evening=evening,
        begins=begins,
        waits_for=waits_for,
        trees=_trees(ways, choice),
        heaters=_heaters(ways, choice, plan, len(begun) - 1),
        unmarked=tuple(c for c in open_carries(changed, plan, marks) if c.day < first),
    )
    return replace(found, helps=_helps(found, ways))


def _check(season: Season, in_force: InForce, evening: Evening) -> None:
    site, first = season.site, evening.first
    last = first + timedelta(days=len(evening.lows_c) - 1)
    if not site.starts <= first <= last <= site.ends:
        nights = f"The nights of {first} to {last} are" if last > first else f"{first} is"
        raise UserError(
            f"{nights} not in this winter, {site.starts} to {site.ends}. Say with --today which "
            "day it is."
        )
    check_marks(in_force.marks, first)


def _here(season: Season, in_force: InForce, first: date) -> dict[str, str]:
    """Where every tree is; one that joins today and is not marked yet is at its summer stand."""
    at = stands(season, in_force.marks)
    come = {t.id: season.home(t) for t in season.trees if t.joins is not None and t.joins <= first}
    here = {tree.id: at[tree.id] or come.get(tree.id) for tree in season.trees}
    return {tree_id: place for tree_id, place in here.items() if place is not None}


def _signs(plan: Plan, begun: int, evening: Evening) -> tuple[tuple[Beginning, ...], Stage | None]:
    """Stages that the forecast begins, and the next sign that it does not bring."""
    first = evening.first
    begins, waits_for = [], None
    for stage in plan.stages[begun:]:
        night: int | None = None
        if stage.sign is Sign.CALENDAR:
            ahead = max(0, (stage.usual - first).days)
            night = ahead if ahead < len(evening.lows_c) else None
        elif stage.threshold_c is not None:
            cold = [n for n, low in enumerate(evening.lows_c) if low <= stage.threshold_c + 1e-6]
            if stage.sign is Sign.COLD_NIGHT:
                night = cold[0] if cold else None
            # plans of older versions do not say from which day on the week counts
            elif len(evening.lows_c) >= QUIET_NIGHTS_AHEAD:
                night = 0 if not cold and first >= (stage.not_before or stage.early) else None
        if night is not None:
            begins.append(Beginning(stage, night))
        elif waits_for is None and stage.sign is not Sign.CALENDAR:
            waits_for = stage
    return tuple(begins), waits_for


def _trees(ways: NightWays, choice: NightChoice) -> tuple[TreeTonight, ...]:
    worst = ways.stay.mean(axis=1).max(axis=1).argmax(axis=-1)
    found = [
        TreeTonight(
            tree_id=tree_id,
            here=group.here,
            left=ways.left[g],
            harm=HARMS[int(worst[g])],
            way=way,
            people=group.people,
            ahead=group.ahead,
            due=group.due,
            due_chance=ways.due.get(g),
        )
        for g, (group, chosen) in enumerate(zip(ways.groups, choice.ways, strict=True))
        for tree_id, way in zip(group.tree_ids, Counter(chosen).elements(), strict=True)
    ]
    value = {tree.id: tree.value for tree in ways.season.trees}
    return tuple(sorted(found, key=lambda one: -value[one.tree_id] * one.left))


def _heaters(
    ways: NightWays, choice: NightChoice, plan: Plan, until: int
) -> tuple[HeatTonight, ...]:
    """Heaters that are not left as planned for stage ``until``."""
    found = []
    for shelter_id, setting in choice.settings.items():
        planned = ways.planned[shelter_id]
        known = ways.chances.conditions.shelters[shelter_id].settings
        now = plan.settings[shelter_id][until] if shelter_id in plan.settings else known[0]
        if setting == planned and known[planned] == now:
            continue
        saves, trees = 0.0, []
        for g, (group, chosen) in enumerate(zip(ways.groups, choice.ways, strict=True)):
            ids = list(group.tree_ids)
            for way, count in chosen.items():
                some, ids = ids[:count], ids[count:]
                there = ways.season.places[way.place_id].shelter_id == shelter_id
                if there and way.night is None:
                    saves += count * group.tree.value * (ways.left[g] - way.chance)
                if there and planned not in way.settings:
                    trees += some
        more = ways.heat[shelter_id][setting]
        found.append(
            HeatTonight(shelter_id, now, known[planned], known[setting], more, saves, tuple(trees))
        )
    return tuple(found)


def _helps(found: Tonight, ways: NightWays) -> tuple[Help, ...]:
    """What more time would do, and each cloth that is not at hand."""
    evening = found.evening
    tries: list[tuple[str | None, Evening]] = [
        (name, replace(evening, cloth_m2={**evening.cloth_m2, name: MANY_M2}))
        for name in CLOTHS
        if name not in evening.cloth_m2
    ]
    people = max(2, evening.people)
    tries.append((None, replace(evening, minutes=ALL_DAY_MIN, people=people)))
    helps = []
    before = {one.tree_id: one.way.chance for one in found.trees}
    for cloth, other in tries if found.loss >= SAVED else ():
        choice = choose_night(ways.problem(other))
        again = replace(found, evening=other, trees=_trees(ways, choice))
        helped = [
            one
            for one in again.trees
            if found.value(one) * (before[one.tree_id] - one.way.chance) >= SAVED / 10
        ]
        area = sum(o.way.cloth_m2 for o in again.trees if cloth and o.way.cloth == cloth)
        saves = found.loss - again.loss
        if saves >= SAVED:
            ids = tuple(one.tree_id for one in helped)
            helps.append(Help(cloth, again.minutes, area, saves, ids))
    return tuple(helps)
