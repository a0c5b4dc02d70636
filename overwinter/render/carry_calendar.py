"""The winter as an iCalendar file: carry days, heaters, openings, weekly rounds, last frost.

Every event is all-day. An event keeps its UID while it means the same thing, so that a later plan's
file, imported with a higher ``revision``, replaces it; what the later plan no longer holds is sent
once more as cancelled.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from hashlib import sha256

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Shelter
from overwinter.render.carry_book import CarryBook, CarryStep, ShelterDay
from overwinter.render.carry_positions import spell_index
from overwinter.render.carry_room import places_on
from overwinter.render.carry_spring import last_frost
from overwinter.render.carry_todos import TodoKind, warmth
from overwinter.render.cautions import CAUTIONS, heater_cautions
from overwinter.render.icalendar_text import CalendarEvent, calendar_text
from overwinter.render.words import count
from overwinter.shelters.heater import setting_label
from overwinter.spells import hour_slice

ROUND_DAYS = 7
"""Days between two rounds of the shelters (common practice, no source)."""

DAY_BEFORE_H = 15
"""The reminder of a carry day comes this long before midnight: at 9:00 the day before."""

SNOW_WORDS = (
    "After every snowfall: snow of 8 cm (3 in) or more lets voles travel unseen; clear a ring of "
    "30 cm (1 ft) round what stands outdoors, and look again."
)
"""Illinois Extension, read."""


def carry_calendar(
    season: Season,
    plan: Plan,
    book: CarryBook,
    conditions: Conditions | None = None,
    *,
    revision: int = 0,
    dropped: Iterable[CalendarEvent] = (),
) -> str:
    """The calendar of a plan as iCalendar text (RFC 5545).

    Parameters
    ----------
    conditions
        With them, each round says how cold each shelter should have become.
    revision
        0 for the first plan of a winter, one more for each re-plan.
    dropped
        Events of the file before, ``calendar_events`` of its plan: those not in this one are
        cancelled.
    """
    events = calendar_events(season, plan, book, conditions)
    now = {event.uid for event in events}
    gone = [event for event in dropped if event.uid not in now]
    name = f"Winter of {season.site.name}"
    return calendar_text(name, events, gone, season.site.starts, revision)


def calendar_events(
    season: Season, plan: Plan, book: CarryBook, conditions: Conditions | None = None
) -> tuple[CalendarEvent, ...]:
    """All events, by day and UID."""
    events = [*_carry_days(season, book), *_jobs(season, book)]
    events += [*_rounds(season, plan, conditions), *_dates(season)]
    return tuple(sorted(events, key=lambda event: (event.day, event.uid)))


TITLES = {
    TodoKind.OPEN: "opens",
    TodoKind.READY: "make ready",
    TodoKind.HEATER: "set the heater",
    TodoKind.COVER: "cover the sunk pots",
    TodoKind.CLOSE: "closes",
}


def _uid(season: Season, kind: str, day: date, about: str = "") -> str:
    site = season.site
    about_what = f"{site.name}|{site.latitude_deg}|{site.longitude_deg}|{site.starts}|{about}"
    return f"{kind}-{day.isoformat()}-{sha256(about_what.encode()).hexdigest()[:12]}@overwinter"


def _carry_days(season: Season, book: CarryBook) -> Iterator[CalendarEvent]:
    days = dict.fromkeys(day.day for day in book.days if day.steps)
    for day in days:
        lists = [one for one in book.days if one.day == day and one.steps]
        trees = sum(_trees(one) for one in lists)
        where = ", ".join(f"{one.shelter} {_trees(one)}" for one in lists)
        two = sum(step.people > 1 and not step.halfway for one in lists for step in one.steps)
        words = [f"Sunset {book.sunsets[day]}."]
        if two:
            words.append(f"{count(two, 'lift')} for two people. {CAUTIONS['two_people'].text}")
        for one in lists:
            words += ["", f"{one.shelter}: {one.heading}"]
            words += [todo.text for todo in one.before]
            words += [_line(step) for step in one.steps]
            words += [todo.text for todo in one.after]
        words += ["", CAUTIONS["lifting"].text]
        yield CalendarEvent(
            uid=_uid(season, "carry", day),
            day=day,
            title=f"Carry {count(trees, 'tree')}: {where}",
            text="\n".join(words),
            remind_h_before=DAY_BEFORE_H,
            reminder="Tomorrow is a carry day: water what goes under cover, ask the helper.",
        )


def _trees(day: ShelterDay) -> int:
    return sum(not step.halfway for step in day.steps)


def _line(step: CarryStep) -> str:
    where = f" ({step.position})" if step.position else ""
    people = ", 2 people" if step.people > 1 else ""
    return (
        f"{step.number}. {step.tree}: {step.source} → {step.target}{where}, {step.weight}{people}"
    )


def _jobs(season: Season, book: CarryBook) -> Iterator[CalendarEvent]:
    for day in book.days:
        for todo in (*day.before, *day.after):
            heats = todo.kind is TodoKind.HEATER
            keys = heater_cautions(season.shelter_by_id[day.shelter_id]) if heats else ()
            cautions = [f"{CAUTIONS[key].title}: {CAUTIONS[key].text}" for key in keys]
            yield CalendarEvent(
                uid=_uid(season, todo.kind, day.day, todo.place_id or day.shelter_id),
                day=day.day,
                title=f"{day.shelter}: {TITLES[todo.kind]}",
                text="\n\n".join([todo.text, *cautions]),
            )


def _rounds(season: Season, plan: Plan, conditions: Conditions | None) -> Iterator[CalendarEvent]:
    """One round a week from the first carry under cover to the last one."""
    if not plan.carries:
        return
    day = plan.carry_days[0] + timedelta(days=ROUND_DAYS)
    while day < plan.carry_days[-1]:
        standing = Counter(
            season.places[place].shelter_id
            for place in places_on(plan, day + timedelta(days=1)).values()
            if place is not None
        )
        used = [s for s in season.shelters if standing[s.id] and not s.open_air]
        if used:
            words = [_round_words(season, plan, s, standing[s.id], day, conditions) for s in used]
            yield CalendarEvent(
                uid=_uid(season, "round", day),
                day=day,
                title="Winter round: " + ", ".join(shelter.name for shelter in used),
                text="\n\n".join([*words, SNOW_WORDS]),
            )
        day += timedelta(days=ROUND_DAYS)


def _round_words(
    season: Season,
    plan: Plan,
    shelter: Shelter,
    trees: int,
    day: date,
    conditions: Conditions | None,
) -> str:
    keys = plan.settings.get(shelter.id)
    key = keys[spell_index(plan, day)] if keys else ""
    heated = bool(shelter.heaters) and warmth(key) > warmth("off")
    setting = f", heater {setting_label(key, season.site.display)}" if shelter.heaters else ""
    words = [f"{shelter.name} ({count(trees, 'tree')}{setting})."]
    words.append(
        "Thermometer: write down and reset." + _expected(season, plan, shelter, day, conditions)
    )
    words.append("Water: feel every pot, water what is dry; never onto a frozen root ball.")
    words.append("Pests and mould: look under leaves and at the bark, take off what has fallen.")
    if any(place.rodent_exposure > 0.0 for place in shelter.places):
        words.append("Mice: droppings, gnawing, traps, guards shut down to the ground.")
    if heated:
        words.append("Heater: runs and is clean; plug, cord or burner cool; fuel; alarms tested.")
    return " ".join(words)


def _expected(
    season: Season, plan: Plan, shelter: Shelter, day: date, conditions: Conditions | None
) -> str:
    """What the thermometer should show at its lowest since the last round, with the conditions."""
    if conditions is None:
        return ""
    found = conditions.shelters[shelter.id]
    index = spell_index(plan, day)
    keys = plan.settings.get(shelter.id, ())
    columns = [setting.key for setting in found.settings]
    column = columns.index(keys[index]) if index < len(keys) and keys[index] in columns else 0
    coldest_c = float(found.air_c[column, hour_slice(season, plan.spells[index])].min())
    display = season.site.display
    return (
        f" In the weather used it falls to {display.temperature(coldest_c)} between "
        f"{plan.spells[index].start} and {plan.spells[index].end - timedelta(days=1)}; colder than "
        "that: find out why today."
    )


def _dates(season: Season) -> Iterator[CalendarEvent]:
    frost = last_frost(season)
    if frost is not None:
        yield CalendarEvent(
            uid=_uid(season, "last-frost", frost),
            day=frost,
            title="Last frost of the weather used",
            text="The coming spring will differ: read the forecast before a tree goes out, and "
            "keep covers at hand.",
        )
    for tree in season.trees:
        until = tree.quarantine_until
        if until is not None and season.site.starts <= until <= season.site.ends:
            yield CalendarEvent(
                uid=_uid(season, "quarantine", until, tree.id),
                day=until,
                title=f"Quarantine of {tree.name} ends",
                text="Look it over once more before it joins the others.",
            )
