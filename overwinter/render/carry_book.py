"""Everything a carry list shows, in words and in order, once for all its forms."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import islice

from overwinter.climate.sun import carrying_minutes, sunset_h
from overwinter.model.plan import Carry, Plan, carry_key, plan_fingerprint
from overwinter.model.season import Season
from overwinter.model.site import Household, Site
from overwinter.model.stage import HappeningKind, Sign, Stage
from overwinter.render import carry_order, carry_words
from overwinter.render.carry_order import Ordered, WhyNow
from overwinter.render.carry_words import Todo
from overwinter.render.cautions import season_cautions
from overwinter.render.words import clock, count, sentence, sign_brief, usual_words, when_words
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import setting_label

SATURDAY, WEEKS = 5, 52  # as `date.weekday` counts; no stage's work takes more weekends


@dataclass(frozen=True, slots=True)
class StageHead:
    """What stands above everything that is done when a stage begins."""

    number: int  # counted from 1
    stage: Stage
    when: str  # the sign, a sentence without its full stop
    brief: str  # the same for a row of a table
    days: str  # `most years 24 Oct to 12 Nov, usually 2 Nov`
    sunset: str  # on the usual day, local standard time
    household: Household
    hours: float = 0.0  # what the carries take the household
    work_days: int = 1  # on how many days they are done, so that each ends before dusk

    @property
    def work(self) -> str:
        """``2 people carry for about 3 h 20 min, so on 2 days: begin 1 day early``."""
        minutes, people = max(1, round(self.hours * 12)) * 5, self.household.people
        who = "one person carries" if people == 1 else f"{people} people carry"
        spent = f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
        words = f"{who} for about {spent}"
        if self.household.weekends_only:
            days = [self.on_day(n) for n in range(1, self.work_days + 1)]
            usual = ", ".join(carry_words.day_words(day, year=False) for day in days)
            return f"{words}: on {count(self.work_days, 'weekend day')}, usually {usual}"
        if self.work_days == 1:
            return words
        more = count(self.work_days - 1, "day")
        go = f"begin {more} early" if self.before else f"go on for {more}"
        return f"{words}, so on {self.work_days} days: {go}"

    @property
    def before(self) -> bool:
        """Whether carries that do not fit into the day itself are done before it: a cold night or
        a closed door does not wait; a mild week and a shelter that opens do."""
        closes = any(one.kind is HappeningKind.CLOSES for one in self.stage.happenings)
        return closes or self.stage.sign is Sign.COLD_NIGHT

    def on_day(self, number: int) -> date:
        """The usual date of one of the days of work."""
        step, nth = (-1, self.work_days - number) if self.before else (1, number - 1)
        days = (self.stage.usual + timedelta(step * n) for n in range(WEEKS * 7))
        fit = (day for day in days if not self.household.weekends_only or day.weekday() >= SATURDAY)
        return next(islice(fit, nth, None))

    def day_words(self, number: int) -> str:
        """``Day 1 of 2, usually Sat 17 Oct``; empty where one day is enough."""
        if self.work_days == 1:
            return ""
        words = f"Day {number} of {self.work_days}"
        if self.household.weekends_only:
            words += f", usually {carry_words.day_words(self.on_day(number), year=False)}"
        return words

    @property
    def facts(self) -> str:
        """Days and sunset."""
        return f"{sentence(self.days)}; sunset then {self.sunset}, standard time"


@dataclass(frozen=True, slots=True)
class CarryStep:
    """One line of a list."""

    number: int  # counted through the whole stage, over all shelters
    key: str
    carry: Carry
    tree: str
    species: str
    source: str
    target: str
    position: str
    weight_kg: float
    weight: str
    people: int
    guards: str
    mesh: bool  # a mesh guard is closed over it
    water: tuple[str, ...]
    pests: str
    before_dusk: bool  # the night that is forecast is colder than the tree may stand
    why: str
    note: str
    remark: str  # the grower's own note on the tree
    yours: str  # that, and their other columns, each under its heading
    on_day: int = 1  # which of the stage's days of work it is done on


@dataclass(frozen=True, slots=True)
class ShelterList:
    """What there is to do for one shelter when a stage begins."""

    head: StageHead
    shelter_id: str
    shelter: str
    setting: str
    jobs: tuple[Todo, ...]  # all that is to be done besides carrying
    steps: tuple[CarryStep, ...]

    @property
    def by_two(self) -> int:
        """How many carries take two people."""
        return sum(step.people > 1 for step in self.steps)

    @property
    def heading(self) -> str:
        """How many carries, and for how many people."""
        words = count(len(self.steps), "tree") if self.steps else "nothing to carry"
        return f"{words}, {self.by_two} with two people" if self.by_two else words


@dataclass(frozen=True)
class CarryBook:
    """All carry lists of a plan."""

    fingerprint: str
    site: Site
    lists: tuple[ShelterList, ...]  # by stage, then in the order of the shelters
    places: Mapping[str, str]  # every place, id to words, for telling where a tree was really put
    left_out: tuple[str, ...]
    unsafe: tuple[str, ...]  # names of trees that have a place, but none that is safe
    staying: tuple[str, ...]  # names of trees that are not carried any more
    cautions: tuple[str, ...]

    @property
    def steps(self) -> tuple[CarryStep, ...]:
        """All lines of all lists, in order."""
        return tuple(step for one in self.lists for step in one.steps)

    @property
    def heads(self) -> tuple[StageHead, ...]:
        """The stages in which there is something to do, in order."""
        return tuple(dict.fromkeys(one.head for one in self.lists))

    @property
    def shelters(self) -> Mapping[str, str]:
        """Shelters that have a list, id to name, in order of first use."""
        return {one.shelter_id: one.shelter for one in self.lists}

    def of_stage(self, head: StageHead) -> tuple[ShelterList, ...]:
        """The lists of one stage."""
        return tuple(one for one in self.lists if one.head == head)


def carry_book(season: Season, plan: Plan, wet: Sequence[WetSurface] = ()) -> CarryBook:
    """All carries ahead in order and in words, with what else is to do; ``wet``: what drips."""
    names = {tree.id: tree.name for tree in season.trees}
    ahead = plan.stages[plan.fixed_stages :]
    listed = [one for stage in ahead for one in _stage_lists(season, plan, stage, wet)]
    carried = {step.carry.tree_id for one in listed for step in one.steps}
    return CarryBook(
        fingerprint=plan_fingerprint(plan),
        site=season.site,
        lists=tuple(listed),
        places={place_id: carry_words.place_words(season, place_id) for place_id in season.places},
        left_out=tuple(names[left.tree_id] for left in plan.left_out),
        unsafe=tuple(names[tree_id] for tree_id in plan.unsafe),
        staying=tuple(names[one] for one in plan.stays if one not in carried),
        cautions=season_cautions(season),
    )


def _stage_lists(
    season: Season, plan: Plan, stage: Stage, wet: Sequence[WetSurface]
) -> Iterator[ShelterList]:
    """The lists of all shelters at which there is something to do in a stage."""
    turns = carry_order.order_stage(season, plan, stage.index)
    household = season.site.household
    carried = [turn.carry for turn in turns]
    minutes = [season.carry_minutes(season.tree_by_id[c.tree_id], c.target) for c in carried]
    days = _days_of_work(minutes, carrying_minutes(season.site, stage.usual))
    steps = [
        _step(season, plan, turn, number, day)
        for number, (turn, day) in enumerate(zip(turns, days, strict=True), 1)
    ]
    head = StageHead(
        number=stage.index + 1,
        stage=stage,
        when=when_words(season, stage),
        brief=sentence(sign_brief(season, stage)),
        days=usual_words(stage),
        sunset=clock(sunset_h(season.site, stage.usual)),
        household=household,
        hours=sum(minutes) / household.people / 60.0,
        work_days=max(days, default=1),
    )
    for shelter in season.shelters:
        jobs = carry_words.todos(season, plan, shelter, stage, wet)
        mine = tuple(s for s in steps if carry_order.listed_under(season, s.carry) == shelter.id)
        if jobs or mine:
            setting = _setting(season, plan, shelter.id, stage.index)
            yield ShelterList(head, shelter.id, shelter.name, setting, jobs, mine)


def _setting(season: Season, plan: Plan, shelter_id: str, stage: int) -> str:
    """The setting from ``stage`` on; empty for a shelter that has no heater."""
    settings = plan.settings.get(shelter_id)
    if settings is None or not season.shelter_by_id[shelter_id].heaters:
        return ""
    return setting_label(settings[stage], season.site.display)


def _days_of_work(minutes: Sequence[float], most: float) -> list[int]:
    """For each carry in turn the day it is done on, counted from 1; none is longer than ``most``
    minutes, but for a single carry that takes longer."""
    number, used = 1, 0.0
    found: list[int] = []
    for taken in minutes:
        if used and used + taken > most + 1e-6:
            number, used = number + 1, 0.0
        used += taken
        found.append(number)
    return found


def _step(season: Season, plan: Plan, turn: Ordered, number: int, day: int) -> CarryStep:
    carry = turn.carry
    tree, place = season.tree_by_id[carry.tree_id], season.places[carry.target]
    species = season.species[tree.species_key]
    out, why = carry_order.goes_out(season, carry), _why(season, turn)
    notes = [why] if turn.rule is WhyNow.SET_DOWN else []
    notes += carry_words.tree_notes(season, tree, place, carry.day)
    if in_front := _already_in_front(season, plan, carry):
        notes.append(f"reach over {count(in_front, 'tree')} already in front of it")
    guards = "" if out else carry_words.guard_words(tree, place)
    layout = carry_words.layout_of(plan, place.id, carry.stage).get(tree.id)
    return CarryStep(
        number=number,
        key=carry_key(carry),
        carry=carry,
        tree=tree.name,
        species=tree.written or species.common or species.latin,
        source=carry_words.place_words(season, carry.source),
        target=carry_words.place_words(season, place.id),
        position=carry_words.position_words(layout, season.site.display),
        weight_kg=tree.weight_kg,
        weight=season.site.display.weight(tree.weight_kg),
        people=2 if season.site.weights.takes_two(tree.weight_kg) else 1,
        guards=guards,
        mesh=bool(guards) and place.guarded,
        water=carry_words.water_words(season, tree, place, carry.day),
        pests=carry_words.pest_words(tree, out=out),
        before_dusk=_before_dusk(season, plan.stages[carry.stage], carry),
        why=why,
        note="; ".join(notes),
        remark=tree.note,
        yours=tree.yours,
        on_day=day,
    )


def _why(season: Season, turn: Ordered) -> str:
    if turn.about is None:
        return turn.rule.value
    name = season.tree_by_id[turn.about].name
    words = {
        WhyNow.MAKES_ROOM: f"makes room for {name}",
        WhyNow.UNBLOCKS: f"{name} would be in the way",
        WhyNow.SET_DOWN: f"set it down beside its place until {name} has gone",
    }
    return words.get(turn.rule, turn.rule.value)


def _already_in_front(season: Season, plan: Plan, carry: Carry) -> int:
    """How many trees that stay where they are stand between the aisle and the tree's place."""
    drawn = dict(carry_words.layout_of(plan, carry.target, carry.stage))
    mine = drawn.pop(carry.tree_id, None)
    if mine is None:
        return 0
    for other in carry_words.carries_of(plan, carry.stage):
        drawn.pop(other.tree_id, None)
    place = season.places[carry.target]
    return sum(carry_words.stands_before(place, one, mine) for one in drawn.values())


def _before_dusk(season: Season, stage: Stage, carry: Carry) -> bool:
    """Whether a tree that comes in would be hurt by the night whose forecast is the sign."""
    if stage.sign is not Sign.COLD_NIGHT or stage.threshold_c is None or carry.source is None:
        return False
    ends = (carry.source, carry.target)
    outdoors, stays_out = (season.shelter_of(end).open_air for end in ends)
    tender_c = carry_order.tender_limit_c(season, carry.tree_id)
    return outdoors and not stays_out and stage.threshold_c <= tender_c


def part_of(
    book: CarryBook, shelters: Sequence[str] = (), stages: Sequence[int] = ()
) -> tuple[CarryBook, str]:
    """The book with some lists alone and all its cautions, and which they are in words:
    ``Garage, stages 2 and 3``. ``shelters``: ids; none: all of them. ``stages``: numbers, counted
    from 1; none: all of them."""
    lists = tuple(
        one
        for one in book.lists
        if (not shelters or one.shelter_id in shelters)
        and (not stages or one.head.number in stages)
    )
    names = [name for key, name in book.shelters.items() if key in shelters]
    numbers = sorted(set(stages))
    told = f"stage{'s' * (len(numbers) > 1)} {' and '.join(map(str, numbers))}"
    return replace(book, lists=lists), ", ".join([*names, *[told] * bool(numbers)])
