"""Everything a carry list shows, in words and in order, once for all its forms."""

from collections import defaultdict
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from overwinter.model.conditions import Conditions
from overwinter.model.fingerprint import carry_key, plan_fingerprint
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.model.site import Site
from overwinter.model.start import Start
from overwinter.render.carry_dusk import Pace, clock, dusk_is_near, sunset_h
from overwinter.render.carry_order import (
    Ordered,
    Rule,
    goes_out,
    listed_under,
    order_day,
    tender_limit_c,
)
from overwinter.render.carry_positions import (
    layout_of,
    position_words,
    spell_index,
    stands_before,
)
from overwinter.render.carry_spring import SpringRow, spring_rows, spring_words
from overwinter.render.carry_todos import Todo, TodoKind, todos
from overwinter.render.carry_words import (
    guard_words,
    pest_words,
    place_words,
    tree_notes,
    water_words,
)
from overwinter.render.cautions import heater_cautions, in_order, season_cautions
from overwinter.render.words import count
from overwinter.shelters.heater import setting_label
from overwinter.units import HOURS_PER_DAY

NIGHT_FROM_H = 16
NIGHT_TO_H = 9
"""The coming night of a carry day, clock hours in the weather used."""

BY_THE_DOOR = "by the door, under cover"


@dataclass(frozen=True, slots=True)
class CarryStep:
    """One line of a list. ``halfway`` lines set a tree down; the carry is done by a later line."""

    number: int
    """Counted through the whole day, over all shelters."""
    key: str
    carry: Carry
    halfway: bool
    tree: str
    species: str
    source: str
    target: str
    position: str
    weight_kg: float
    weight: str
    people: int
    guards: str
    setting: str
    """Heater setting of the shelter it is listed under, from this day on."""
    water: str
    pests: str
    before_dusk: bool
    """The coming night of the weather used is colder than the tree may stand."""
    rule: Rule
    why: str
    note: str


@dataclass(frozen=True, slots=True)
class Leaving:
    """A tree that leaves a shelter on another shelter's list."""

    tree: str
    step: int
    listed: str
    """Name of that other shelter."""

    @property
    def words(self) -> str:
        """``Fig: step 4 of Garage``."""
        return f"{self.tree}: step {self.step} of {self.listed}"


@dataclass(frozen=True, slots=True)
class ShelterDay:
    """What there is to do for one shelter on one day."""

    day: date
    shelter_id: str
    shelter: str
    setting: str
    before: tuple[Todo, ...]
    steps: tuple[CarryStep, ...]
    leaving: tuple[Leaving, ...]
    """Trees of this shelter that another shelter's list carries."""
    after: tuple[Todo, ...]
    cautions: tuple[str, ...]
    """Keys of ``CAUTIONS``."""

    @property
    def heading(self) -> str:
        """How many carries, and for how many people."""
        own = [step for step in self.steps if not step.halfway]
        if not own:
            return "nothing to carry"
        two = sum(step.people > 1 for step in own)
        words = count(len(own), "tree")
        return f"{words}, {two} with two people" if two else words


@dataclass(frozen=True)
class CarryBook:
    """All carry lists of a plan."""

    fingerprint: str
    site: Site
    days: tuple[ShelterDay, ...]
    """By day, then in the order of the shelters."""
    sunsets: Mapping[date, str]
    """Sunset of each listed day, local standard time."""
    places: Mapping[str, str]
    """Every place, id to words, for telling where a tree was really put."""
    spring: tuple[SpringRow, ...]
    spring_words: str
    """Last frost of the weather used, in a sentence."""
    left_out: tuple[str, ...]
    """Names of trees without a safe place."""
    cautions: tuple[str, ...]

    @property
    def steps(self) -> tuple[CarryStep, ...]:
        """All lines of all days, in order."""
        return tuple(step for day in self.days for step in day.steps)

    @property
    def shelters(self) -> Mapping[str, str]:
        """Shelters that have a list, id to name, in order of first use."""
        return {day.shelter_id: day.shelter for day in self.days}


def carry_book(
    season: Season,
    plan: Plan,
    conditions: Conditions | None = None,
    start: Start | None = None,
    pace: Pace | None = None,
) -> CarryBook:
    """Put every carry of ``plan`` in order and into words.

    Parameters
    ----------
    conditions
        With them, spring knows how hardened each tree still is and what its roots will meet.
    start
        Where a plan made in mid-winter began; None: with the season.
    pace
        How fast the household carries; decides when dusk is near.
    """
    pace = pace or Pace()
    names = {tree.id: tree.name for tree in season.trees}
    days = _listed_days(season, plan)
    listed: list[ShelterDay] = []
    for day in days:
        listed += _shelter_days(season, plan, day, pace)
    return CarryBook(
        fingerprint=plan_fingerprint(plan),
        site=season.site,
        days=tuple(listed),
        sunsets={day: clock(sunset_h(season.site, day)) for day in days},
        places={place_id: place_words(season, place_id) for place_id in season.places},
        spring=spring_rows(season, plan, conditions, start),
        spring_words=spring_words(season),
        left_out=tuple(names[left.tree_id] for left in plan.left_out),
        cautions=season_cautions(season),
    )


def _listed_days(season: Season, plan: Plan) -> list[date]:
    days = set(plan.carry_days) | {spell.start for spell in plan.spells}
    for shelter in season.shelters:
        days |= {day for day in (shelter.opens, shelter.closes) if day is not None}
    first = plan.fixed_until or plan.spells[0].start
    return sorted(day for day in days if first <= day <= season.site.ends)


def _people(season: Season, carry: Carry) -> int:
    heavy_kg = season.site.weights.two_person_kg
    return 2 if season.tree_by_id[carry.tree_id].weight_kg >= heavy_kg else 1


def _shelter_days(season: Season, plan: Plan, day: date, pace: Pace) -> list[ShelterDay]:
    carries = [carry for carry in plan.carries if carry.day == day]
    near = dusk_is_near(season.site, day, [_people(season, carry) for carry in carries], pace)
    turns = order_day(season, plan, day, dusk_near=near)
    by_shelter: dict[str, list[CarryStep]] = defaultdict(list)
    leaving: dict[str, list[Leaving]] = defaultdict(list)
    today = {carry.tree_id for carry in carries}
    for number, turn in enumerate(turns, 1):
        step = _step(season, plan, turn, number, today)
        under = listed_under(season, turn.carry)
        by_shelter[under].append(step)
        source = turn.carry.source
        left = season.places[source].shelter_id if source else under
        covered = not season.shelter_by_id[left].open_air
        if left != under and covered and not turn.was_set_down:
            leaving[left].append(Leaving(step.tree, number, _name(season, under)))
    return [
        found
        for shelter in season.shelters
        if (
            found := _shelter_day(
                season, plan, day, shelter.id, by_shelter[shelter.id], leaving[shelter.id]
            )
        )
    ]


def _name(season: Season, shelter_id: str) -> str:
    return season.shelter_by_id[shelter_id].name


def _shelter_day(
    season: Season,
    plan: Plan,
    day: date,
    shelter_id: str,
    steps: Sequence[CarryStep],
    leaving: Sequence[Leaving],
) -> ShelterDay | None:
    before, after = todos(season, plan, shelter_id, day)
    if not (before or steps or leaving or after):
        return None
    return ShelterDay(
        day=day,
        shelter_id=shelter_id,
        shelter=_name(season, shelter_id),
        setting=_setting(season, plan, shelter_id, day),
        before=before,
        steps=tuple(steps),
        leaving=tuple(leaving),
        after=after,
        cautions=_day_cautions(season, shelter_id, steps, (*before, *after)),
    )


def _day_cautions(
    season: Season, shelter_id: str, steps: Sequence[CarryStep], todos_: Sequence[Todo]
) -> tuple[str, ...]:
    """Keys of the cautions that this day's work at this shelter calls for."""
    keys = []
    ends = [
        season.places[end]
        for step in steps
        for end in (step.carry.source, step.carry.target)
        if end is not None
    ]
    if steps:
        keys.append("lifting")
    if any(step.people > 1 for step in steps):
        keys.append("two_people")
    if any(place.kind is PlaceKind.SHELF for place in ends):
        keys.append("ladders")
    if any(todo.kind is TodoKind.HEATER for todo in todos_):
        keys += heater_cautions(season.shelter_by_id[shelter_id])
    if any(step.guards for step in steps):
        keys.append("rodent_poison")
    return in_order(keys)


def _setting(season: Season, plan: Plan, shelter_id: str, day: date) -> str:
    """The setting from ``day`` on; empty for a shelter that has no heater."""
    keys = plan.settings.get(shelter_id)
    if keys is None or not season.shelter_by_id[shelter_id].heaters:
        return ""
    return setting_label(keys[spell_index(plan, day)], season.site.display)


def _step(
    season: Season, plan: Plan, turn: Ordered, number: int, today: Container[str]
) -> CarryStep:
    carry = turn.carry
    tree = season.tree_by_id[carry.tree_id]
    species = season.species[tree.species_key]
    place = season.places[carry.target]
    layout = layout_of(plan, place.id, spell_index(plan, carry.day)).get(tree.id)
    waits_at = place_words(season, turn.set_down_at) if turn.set_down_at else BY_THE_DOOR
    out = goes_out(season, carry)
    notes = [] if turn.halfway else tree_notes(season, tree, place, carry.day)
    in_front = 0 if turn.halfway else _already_in_front(season, plan, carry, today)
    if in_front:
        notes.append(f"reach over {in_front} already standing in front of it")
    if turn.halfway:
        notes.append(f"set it down meanwhile; it goes on to {place_words(season, place.id)}")
    return CarryStep(
        number=number,
        key=carry_key(carry) + ("w" if turn.halfway else ""),
        carry=carry,
        halfway=turn.halfway,
        tree=tree.name,
        species=species.common or species.latin,
        source=waits_at if turn.was_set_down else place_words(season, carry.source),
        target=waits_at if turn.halfway else place_words(season, place.id),
        position="" if turn.halfway else position_words(place, layout, season.site.display),
        weight_kg=tree.weight_kg,
        weight=season.site.display.weight(tree.weight_kg),
        people=_people(season, carry),
        guards="" if turn.halfway or out else guard_words(tree, place),
        setting=_setting(season, plan, listed_under(season, carry), carry.day),
        water=water_words(season, tree, place),
        pests=pest_words(tree, out=out),
        before_dusk=_before_dusk(season, carry),
        rule=turn.rule,
        why=_why(season, turn),
        note="; ".join(notes),
    )


def _why(season: Season, turn: Ordered) -> str:
    if turn.about is None:
        return turn.rule.value
    name = season.tree_by_id[turn.about].name
    words = {
        Rule.MAKES_ROOM: f"makes room for {name}",
        Rule.UNBLOCKS: f"{name} would be in the way",
        Rule.SET_DOWN: f"set down to make room for {name}",
    }
    return words.get(turn.rule, turn.rule.value)


def _already_in_front(season: Season, plan: Plan, carry: Carry, today: Container[str]) -> int:
    """How many trees that stay where they are stand between the aisle and the tree's place."""
    drawn = layout_of(plan, carry.target, spell_index(plan, carry.day))
    mine = drawn.get(carry.tree_id)
    if mine is None:
        return 0
    place = season.places[carry.target]
    return sum(
        stands_before(place, layout, mine)
        for tree_id, layout in drawn.items()
        if tree_id not in today
    )


def _before_dusk(season: Season, carry: Carry) -> bool:
    target = season.shelter_by_id[season.places[carry.target].shelter_id]
    if carry.source is None or target.open_air:
        return False
    if not season.shelter_by_id[season.places[carry.source].shelter_id].open_air:
        return False
    start = season.day_index(carry.day) * HOURS_PER_DAY
    night_c = season.weather.air_c[start + NIGHT_FROM_H : start + HOURS_PER_DAY + NIGHT_TO_H]
    return night_c.size > 0 and float(night_c.min()) < tender_limit_c(season, carry.tree_id)
