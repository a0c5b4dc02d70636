"""What else is to be done at a shelter on a day: open it, heat it, look for mice, close it."""

import re
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place, PlaceKind, Shelter
from overwinter.render.carry_positions import spell_index
from overwinter.render.carry_words import day_words
from overwinter.shelters.heater import setting_label

OFF = "off"

_HOLD = re.compile(r"hold (-?\d+(?:\.\d+)?)")
_STEP = re.compile(r"step (\d+(?:\.\d+)?)")


class TodoKind(StrEnum):
    """What kind of thing is to be done."""

    OPEN = "open"
    READY = "ready"
    HEATER = "heater"
    COVER = "cover"
    CLOSE = "close"


@dataclass(frozen=True, slots=True)
class Todo:
    """One thing to do on a day."""

    day: date
    shelter_id: str
    kind: TodoKind
    text: str
    place_id: str = ""
    """Where it is about one place of the shelter."""

    @property
    def key(self) -> str:
        """Stable: day, shelter, kind and place."""
        return f"{self.day.isoformat()} {self.shelter_id} {self.kind} {self.place_id}".rstrip()


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A heater turned to another setting on the first day of a spell; keys as in the plan."""

    day: date
    shelter_id: str
    before: str | None
    """None: not known, the plan was made in mid-winter and begins with this setting."""
    after: str

    @property
    def is_up(self) -> bool:
        """Whether it gets warmer."""
        return self.before is None or warmth(self.after) > warmth(self.before)


def warmth(setting: str) -> tuple[float, float]:
    """Sorts setting keys from cold to warm: hold temperature, then fixed watts."""
    hold, step = _HOLD.search(setting), _STEP.search(setting)
    return (
        float(hold.group(1)) if hold else -273.15,
        float(step.group(1)) if step else 0.0,
    )


def setting_changes(season: Season, plan: Plan) -> tuple[SettingChange, ...]:
    """Every change of a heater through the winter; all are off before the season begins."""
    changes = []
    in_mid_winter = plan.spells[0].start > season.site.starts
    for shelter in season.shelters:
        if not shelter.heaters:
            continue
        keys = plan.settings.get(shelter.id, ())
        previous = None if in_mid_winter else OFF
        for spell, key in zip(plan.spells, keys, strict=False):
            if key != previous:
                changes.append(SettingChange(spell.start, shelter.id, previous, key))
            previous = key
    return tuple(sorted(changes, key=lambda change: change.day))


def todos(
    season: Season, plan: Plan, shelter_id: str, day: date
) -> tuple[tuple[Todo, ...], tuple[Todo, ...]]:
    """What to do at a shelter before the day's first carry, and after its last.

    Nobody is sent to open or close a shelter in which the plan never has a tree.
    """
    shelter = season.shelter_by_id[shelter_id]
    before: list[Todo] = []
    after: list[Todo] = []

    def todo(kind: TodoKind, words: str, place_id: str = "") -> Todo:
        return Todo(day, shelter_id, kind, words, place_id)

    used = first_day_used(season, plan, shelter_id)
    waits = shelter.opens is not None and used is not None and shelter.opens < used
    if shelter.opens == day and is_used(season, plan, shelter_id):
        before.append(todo(TodoKind.OPEN, opening_words(shelter, used if waits else None)))
    if not shelter.open_air and used == day:
        before.append(todo(TodoKind.READY, ready_words(shelter, swept=not waits)))
    for change in setting_changes(season, plan):
        if (change.day, change.shelter_id) == (day, shelter_id):
            comes_in = any(
                carry.day == day and season.places[carry.target].shelter_id == shelter_id
                for carry in plan.carries
            )
            set_it = todo(TodoKind.HEATER, heater_words(season, change, comes_in))
            (before if change.is_up else after).append(set_it)
    for place in shelter.places:
        if place.kind is PlaceKind.SUNK and place.cover_m > 0.0:
            words = cover_words(season, plan, place, day)
            after += [todo(TodoKind.COVER, words, place.id)] if words else []
    if shelter.closes == day and is_used(season, plan, shelter_id):
        after.append(todo(TodoKind.CLOSE, closing_words(shelter, day)))
    return tuple(before), tuple(after)


def is_used(season: Season, plan: Plan, shelter_id: str) -> bool:
    """Whether any tree of the plan ever stands in a shelter."""
    places = {place.id for place in season.shelter_by_id[shelter_id].places}
    return any(not places.isdisjoint(path) for path in plan.stays.values())


def first_day_used(season: Season, plan: Plan, shelter_id: str) -> date | None:
    """Day of the first carry into a shelter."""
    days = [
        carry.day for carry in plan.carries if season.places[carry.target].shelter_id == shelter_id
    ]
    return min(days, default=None)


SWEEP = "sweep it out, mend gaps, doors and panes."


def opening_words(shelter: Shelter, waits_until: date | None = None) -> str:
    """What to do on the day a shelter opens; ``waits_until``: its first tree comes that late."""
    if waits_until is None:
        return f"Open {shelter.name} for the winter: {SWEEP}"
    return (
        f"{shelter.name} can be used from today; its first tree comes on {day_words(waits_until)}."
    )


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


def cover_words(season: Season, plan: Plan, place: Place, day: date) -> str:
    """What to heap over sunk pots once the day's carries are done; empty where none changed.

    The plan follows their roots under just that cover; how it is best heaped up is common
    practice, no source.
    """
    today = [carry for carry in plan.carries if carry.day == day]
    if not any(place.id in (carry.source, carry.target) for carry in today):
        return ""
    spell = spell_index(plan, day)
    if not any(stays[spell] == place.id for stays in plan.stays.values()):
        return ""
    depth = season.site.display.length(place.cover_m)
    return (
        f"{place.name}: heap soil, bark or leaves over the pots until the highest roots lie "
        f"{depth} deep, for the plan counts on that. Measure it, and see that wind leaves it there."
    )


def closing_words(shelter: Shelter, day: date) -> str:
    """What to do on the first day a shelter can no longer be used."""
    return f"{shelter.name} cannot be used from {day_words(day)}: see that nothing is left in it."


def heater_words(season: Season, change: SettingChange, comes_in: bool) -> str:
    """How to turn the heater; ``comes_in``: trees are carried in on that day."""
    display = season.site.display
    new = setting_label(change.after, display)
    if change.before is None:
        return f"Heater: {new} from today; see that it is so."
    old = setting_label(change.before, display)
    when = " Set it before the first tree comes in." if comes_in and change.is_up else ""
    check = " See that it runs." if change.is_up else ""
    return f"Heater: from {old} to {new}.{when}{check}"
