"""What else is to be done at a shelter in a stage: open it, heat it, look for mice, close it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np

from overwinter.climate.stages import EARLY, LATE, USUAL
from overwinter.climate.sun import day_length_h
from overwinter.model.plan import Plan, Shift
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting, Place, PlaceKind, Shelter
from overwinter.model.species import LeafHabit
from overwinter.model.stage import Happening, HappeningKind, Stage
from overwinter.plants.hardening import day_bare, leaves_left
from overwinter.render.carry_order import carries_of
from overwinter.render.carry_words import layout_of
from overwinter.render.words import short_date, sign_brief
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import OFF, setting_label

LEAST_SHIFT_M = 0.01
"""A shift is not told in smaller steps."""
DRIPS_H, MUCH_LESS = 24.0, 0.7
"""Hours a winter from which dripping is told, and what share of them a cure that is named leaves at
most: judgements."""
NO_HOLD_C = -273.15
"""Colder than every hold temperature."""


class TodoKind(StrEnum):
    """What kind of thing is to be done."""

    OPEN = "open"
    READY = "ready"
    LEAVES = "leaves"
    HEATER = "heater"
    DAMP = "damp"
    SHIFT = "shift"
    COVER = "cover"
    CLOSE = "close"


@dataclass(frozen=True, slots=True)
class Todo:
    """One thing to do when a stage begins."""

    stage: int
    shelter_id: str
    kind: TodoKind
    text: str
    place_id: str = ""
    """Where it is about one place of the shelter."""

    @property
    def key(self) -> str:
        """Stable: stage, shelter, kind and place."""
        parts = (self.stage, self.shelter_id, self.kind, self.place_id)
        return " ".join(str(part) for part in parts if part != "")


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A heater turned to another setting when a stage begins."""

    stage: int
    shelter_id: str
    before: HeaterSetting
    after: HeaterSetting

    @property
    def is_up(self) -> bool:
        """Whether it gets warmer."""
        return warmth(self.after) > warmth(self.before)


def warmth(setting: HeaterSetting) -> tuple[float, float]:
    """Sorts settings from cold to warm: hold temperature, degC, then fixed W."""
    return NO_HOLD_C if setting.hold_c is None else setting.hold_c, setting.fixed_w


def setting_changes(season: Season, plan: Plan) -> tuple[SettingChange, ...]:
    """Every change of a heater through the winter; all are off before the season begins."""
    changes = []
    for shelter in season.shelters:
        previous = OFF
        for stage, setting in enumerate(plan.settings.get(shelter.id, ())):
            if setting != previous:
                changes.append(SettingChange(stage, shelter.id, previous, setting))
            previous = setting
    return tuple(sorted(changes, key=lambda change: change.stage))


def todos(
    season: Season, plan: Plan, shelter_id: str, stage: Stage, wet: Sequence[WetSurface] = ()
) -> tuple[tuple[Todo, ...], tuple[Todo, ...]]:
    """What to do at a shelter before a stage's first carry, and after its last.

    Nobody is sent to open or close a shelter in which the plan never has a tree. ``wet``: the
    surfaces that drip, of all shelters, wettest first.
    """
    shelter = season.shelter_by_id[shelter_id]
    before: list[Todo] = []
    after: list[Todo] = []

    def todo(kind: TodoKind, words: str, place_id: str = "") -> Todo:
        return Todo(stage.index, shelter_id, kind, words, place_id)

    used = first_stage_used(season, plan, shelter_id)
    opened = _stage_of(plan, Happening(HappeningKind.OPENS, shelter_id))
    waits = used is not None and opened is not None and opened < used
    if opened == stage.index and used is not None:
        sign = sign_brief(season, plan.stages[used]) if waits else ""
        before.append(todo(TodoKind.OPEN, opening_words(shelter, sign)))
    if not shelter.open_air and used == stage.index:
        before.append(todo(TodoKind.READY, ready_words(shelter, swept=not waits)))
    words = "" if shelter.open_air else leaf_words(season, plan, shelter_id, stage)
    if words:
        before.append(todo(TodoKind.LEAVES, words))
    for change in setting_changes(season, plan):
        if (change.stage, change.shelter_id) == (stage.index, shelter_id):
            comes_in = any(
                season.places[carry.target].shelter_id == shelter_id
                for carry in carries_of(plan, stage.index)
            )
            set_it = todo(TodoKind.HEATER, heater_words(season, change, comes_in))
            (before if change.is_up else after).append(set_it)
    words = damp_words(season, shelter_id, wet, stage.index) if used is not None else ""
    before += [todo(TodoKind.DAMP, f"Damp: {words}")] if words else []
    before += _shifts(season, plan, shelter, stage)
    for place in shelter.places:
        if place.kind is PlaceKind.SUNK and place.cover_m > 0.0:
            words = cover_words(season, plan, place, stage.index)
            after += [todo(TodoKind.COVER, words, place.id)] if words else []
    if Happening(HappeningKind.CLOSES, shelter_id) in stage.happenings and used is not None:
        after.append(todo(TodoKind.CLOSE, closing_words(shelter)))
    return tuple(before), tuple(after)


def leaf_words(season: Season, plan: Plan, shelter_id: str, stage: Stage) -> str:
    """Which trees should not come in before their leaves are down; empty where none is told so.

    That a tree is carried in bare is common practice, no source.
    """
    leafy = [
        carry.tree_id
        for carry in carries_of(plan, stage.index)
        for tree in (season.tree_by_id[carry.tree_id],)
        if season.places[carry.target].shelter_id == shelter_id
        and tree.limits.leaf is LeafHabit.DECIDUOUS
        and tree.limits.rests
        and (tree.leaves_down is None or tree.leaves_down > stage.usual)
    ]
    if not leafy:
        return ""
    early, usual, late = leaves_down_days(season)
    if (
        stage.late < early
        or stage.early > late
        or stage.usual > plan.stages[len(plan.stages) // 2].usual
    ):
        return ""
    trees = "The deciduous tree" if len(leafy) == 1 else f"The {len(leafy)} deciduous trees"
    return (
        f"{trees}: not before the leaves are down, here usually {short_date(usual)} "
        f"({short_date(early)} to {short_date(late)}). If hard frost comes first, pick off what "
        "still hangs, so that nothing rots in the dark. Write the day down: mark --leaves-down."
    )


def damp_words(
    season: Season, shelter_id: str, wet: Sequence[WetSurface], stage: int | None = None
) -> str:
    """The wettest face of a shelter, how long it is wet, and what makes that much less.

    Empty where it is not worth a word, or is wettest in another stage than the one given.

    That wet leaves rot, and that a dry noon is the time to air, is common practice, no source.
    """
    one = next((one for one in wet if one.shelter_id == shelter_id), None)
    if one is None or one.hours < DRIPS_H or stage not in (None, one.stage):
        return ""
    glass = "a second layer of glazing" if one.glazed else "25 mm of foam"
    airing = f"{one.airing_kwh:.0f} kWh of heat"
    if one.airing_money:
        airing += f", {one.airing_money:.2f} {season.site.currency} of it bought"
    cures = [
        f"{what} leaves {_roughly(hours)} h"
        for what, hours in (
            (glass, one.insulated_hours),
            ("a sheet over the bare floor", one.floor_covered_hours),
            (f"airing twice as much ({airing})", one.aired_hours),
        )
        if hours <= MUCH_LESS * one.hours
    ]
    return (
        f"{one.surface} may drip for about {_roughly(one.hours)} h of a winter, most from"
        f" stage {one.stage + 1} on. Keep leaves off it, water in the morning, air at noon on dry"
        f" days above freezing{'; ' + ', '.join(cures) if cures else ''}."
    )


def _roughly(hours: float) -> str:
    """Two figures of a number of hours."""
    return f"{float(f'{hours:.2g}'):.0f}"


def leaves_down_days(season: Season) -> tuple[date, date, date]:
    """Early, usual and late day on which deciduous trees are bare outdoors."""
    days = season.days
    air = season.winters.air_c.reshape(season.winters.count, days, -1).mean(axis=2)
    numbers = [season.date_of(day).timetuple().tm_yday for day in range(days)]
    length = day_length_h(season.site.latitude_deg, np.array(numbers, dtype=np.float64))
    bare = np.percentile(day_bare(leaves_left(air, length)), (EARLY, USUAL, LATE), method="nearest")
    early, usual, late = (season.date_of(int(day)) for day in bare)
    return early, usual, late


def _shifts(season: Season, plan: Plan, shelter: Shelter, stage: Stage) -> Iterator[Todo]:
    """One line a place, as all of it is pushed in one go."""
    for place in shelter.places:
        pushed = [
            shift_words(season, plan, shift)
            for shift in plan.shifts
            if (shift.stage, shift.place_id) == (stage.index, place.id)
        ]
        if pushed:
            words = f"{place.name}: to make room for what comes in, push {'; '.join(pushed)}."
            yield Todo(stage.index, shelter.id, TodoKind.SHIFT, words, place.id)


def shift_words(season: Season, plan: Plan, shift: Shift) -> str:
    """``Coffee 40 cm to the left and turned by a quarter``."""
    display, tree = season.site.display, season.tree_by_id[shift.tree_id]
    was, now = (
        layout_of(plan, shift.place_id, k)[shift.tree_id] for k in (shift.stage - 1, shift.stage)
    )
    ways = []
    for off, less, more in (
        (now.x_m - was.x_m, "left", "right"),
        (now.y_m - was.y_m, "front", "back"),
    ):
        if abs(off) >= LEAST_SHIFT_M:
            ways.append(f"{display.length(abs(off))} to the {more if off > 0 else less}")
    if abs(now.width_m - was.width_m) > LEAST_SHIFT_M:
        ways.append("turned by a quarter")
    two = ", with two people" if season.site.weights.takes_two(tree.weight_kg) else ""
    return f"{tree.name} {' and '.join(ways) or 'a little'}{two}"


def _stage_of(plan: Plan, happening: Happening) -> int | None:
    return next((one.index for one in plan.stages if happening in one.happenings), None)


def first_stage_used(season: Season, plan: Plan, shelter_id: str) -> int | None:
    """First stage in which a tree stands in a shelter; None: never."""
    places = {place.id for place in season.shelter_by_id[shelter_id].places}
    used = [
        stage
        for stays in plan.stays.values()
        for stage, place_id in enumerate(stays)
        if place_id in places
    ]
    return min(used, default=None)


SWEEP = "sweep it out, mend gaps, doors and panes."


def opening_words(shelter: Shelter, waits_for: str = "") -> str:
    """What to do when a shelter opens; ``waits_for``: the sign its first tree waits for."""
    if not waits_for:
        return f"Open {shelter.name} for the winter: {SWEEP}"
    return f"{shelter.name} can be used from now on; its first tree waits for: {waits_for}."


def ready_words(shelter: Shelter, *, swept: bool = True) -> str:
    """What to do before the first tree of the winter comes in; ``swept``: when it opened."""
    words = "" if swept else f"Make {shelter.name} ready: {SWEEP} "
    words += "Hang a min/max thermometer at plant height and reset it."
    if any(place.rodent_exposure > 0.0 for place in shelter.places):
        words += (
            " Look for droppings, runs and gaps wider than 6 mm (1/4 in); set traps; an apple "
            "slice left for 24 hours shows whether anything eats here."
        )
    return words


def cover_words(season: Season, plan: Plan, place: Place, stage: int) -> str:
    """What to heap over sunk pots once the carries are done; empty where none changed.

    The plan follows their roots under just that cover; how it is best heaped up is common
    practice, no source.
    """
    carries = carries_of(plan, stage)
    if not any(place.id in (carry.source, carry.target) for carry in carries):
        return ""
    if not any(stays[stage] == place.id for stays in plan.stays.values()):
        return ""
    depth = season.site.display.length(place.cover_m)
    return (
        f"{place.name}: heap soil, bark or leaves over the pots until the highest roots lie "
        f"{depth} deep, for the plan counts on that. Measure it, and see that wind leaves it there."
    )


def closing_words(shelter: Shelter) -> str:
    """What to do on the first day a shelter can no longer be used."""
    return f"{shelter.name} cannot be used any more: see that nothing is left in it."


def heater_words(season: Season, change: SettingChange, comes_in: bool) -> str:
    """How to turn the heater; ``comes_in``: trees are carried in at once."""
    display = season.site.display
    new = setting_label(change.after, display)
    old = setting_label(change.before, display)
    when = " Set it before the first tree comes in." if comes_in and change.is_up else ""
    check = " See that it runs." if change.is_up else ""
    return f"Heater: from {old} to {new}.{when}{check}"
