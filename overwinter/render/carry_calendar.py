"""The stages as a calendar file: each from the day it may begin in most years to the latest one.

Nobody knows on which day a sign comes, so an event spans the days of most years and says what to
watch for. UIDs come from the sign, so that a re-plan moves an event instead of doubling it.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256

from icalendar import Alarm, Calendar, Event, vText

from overwinter.model.season import Season
from overwinter.model.stage import Sign, Stage
from overwinter.render.carry_book import CarryBook, ShelterList, StageHead
from overwinter.render.carry_todos import TodoKind
from overwinter.render.words import count, is_fixed, sentence, sign_brief

DAY_BEFORE_H = 15
"""The reminder comes this long before midnight: at 9:00 the day before."""

TITLES = {
    TodoKind.OPEN: "opens",
    TodoKind.READY: "make ready",
    TodoKind.LEAVES: "wait for bare trees",
    TodoKind.HEATER: "set the heater",
    TodoKind.DAMP: "look for dripping",
    TodoKind.SHIFT: "push pots together",
    TodoKind.COVER: "cover the sunk pots",
    TodoKind.CLOSE: "closes",
}


_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """An event of whole days."""

    uid: str
    day: date
    """First day."""
    last: date
    """Last day; the same where it takes one."""
    title: str
    text: str = ""
    remind_h_before: int | None = None
    """Hours before the day's first midnight at which to remind; None: never."""
    reminder: str = ""
    weekly_until: date | None = None
    """Last day of an event that comes again every week."""


def carry_calendar(
    season: Season,
    book: CarryBook,
    *,
    revision: int = 0,
    dropped: Iterable[CalendarEvent] = (),
) -> str:
    """The calendar of a plan as iCalendar text (RFC 5545).

    Parameters
    ----------
    revision : 0 for the first plan of a winter, one more for each re-plan.
    dropped : Events of the file before, ``calendar_events`` of its plan: those not in this one are
        cancelled.
    """
    events = calendar_events(season, book)
    now = {event.uid for event in events}
    gone = [event for event in dropped if event.uid not in now]
    name = vText(_plain(f"Winter of {season.site.name}"))
    # DTSTAMP should be the time of writing; so the same plan gives the same file.
    stamp = datetime.combine(season.site.starts, time(), UTC) + timedelta(seconds=revision)
    calendar = Calendar()
    for key, words in (
        ("VERSION", "2.0"),
        ("PRODID", "-//overwinter//carry calendar 1//EN"),
        ("CALSCALE", "GREGORIAN"),
        ("NAME", name),
        ("X-WR-CALNAME", name),
    ):
        calendar.add(key, words)
    for status, some in (("CONFIRMED", events), ("CANCELLED", gone)):
        for event in some:
            calendar.add_component(_component(event, stamp, revision, status))
    return str(calendar.to_ical().decode())


def _plain(text: str) -> str:
    return _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def _component(event: CalendarEvent, stamp: datetime, revision: int, status: str) -> Event:
    found = Event()
    for key, value in (
        ("UID", event.uid),
        ("DTSTAMP", stamp),
        ("DTSTART", event.day),
        ("DTEND", event.last + timedelta(days=1)),
        ("SEQUENCE", revision),
        ("STATUS", status),
        ("TRANSP", "TRANSPARENT"),
        ("SUMMARY", _plain(event.title)),
    ):
        found.add(key, value)
    if event.text:
        found.add("DESCRIPTION", _plain(event.text))
    if event.weekly_until is not None:
        found.add("RRULE", {"FREQ": "WEEKLY", "UNTIL": event.weekly_until})
    if event.remind_h_before is not None and status != "CANCELLED":
        alarm = Alarm()
        alarm.add("ACTION", "DISPLAY")
        alarm.add("TRIGGER", timedelta(hours=-event.remind_h_before))
        alarm.add("DESCRIPTION", _plain(event.reminder or event.title))
        found.add_component(alarm)
    return found


def calendar_events(season: Season, book: CarryBook) -> tuple[CalendarEvent, ...]:
    """All events, by day and UID."""
    events = [_stage_event(season, head, book) for head in book.heads]
    events += [*_quarantines(season), *_rounds(season, book)]
    return tuple(sorted(events, key=lambda event: (event.day, event.uid)))


def _uid(season: Season, kind: str, about: str) -> str:
    site = season.site
    about_what = f"{site.name}|{site.latitude_deg}|{site.longitude_deg}|{site.starts}|{about}"
    return f"{kind}-{sha256(about_what.encode()).hexdigest()[:16]}@overwinter"


def _sign_of(stage: Stage) -> str:
    """What tells a stage's sign from all others of a winter."""
    if stage.sign is Sign.CALENDAR:
        return f"{stage.sign} {stage.usual}"
    return f"{stage.sign} {stage.threshold_c}"


def _stage_event(season: Season, head: StageHead, book: CarryBook) -> CalendarEvent:
    lists = book.of_stage(head)
    trees = sum(_trees(one) for one in lists)
    words = [f"{head.when}.", f"{head.facts}."]
    if trees:
        words.append(f"{sentence(head.work)}.")
    for one in lists:
        heats = any(todo.kind is TodoKind.HEATER for todo in (*one.before, *one.after))
        heater = f"; heater: {one.setting}" if heats and one.setting else ""
        words.append(f"{one.shelter}: {one.heading}{heater}")
    words.append(f"What goes where, and the cautions: carry sheets, stage {head.number}.")
    fixed = is_fixed(head.stage)
    watch = "This begins tomorrow" if fixed else "From tomorrow watch the forecast for the sign"
    sign = sentence(sign_brief(season, head.stage))
    what = f"carry {count(trees, 'tree')}" if trees else _jobs(lists)
    told = what and (trees or head.stage.sign is not Sign.CALENDAR)
    return CalendarEvent(
        uid=_uid(season, "stage", _sign_of(head.stage)),
        day=head.stage.early,
        last=max(head.stage.late, head.stage.early),
        title=f"{sign}: {what}" if told else sign,
        text="\n".join(words),
        remind_h_before=DAY_BEFORE_H,
        reminder=f"{watch}: ask the helper, water what goes under cover the day before.",
    )


def _jobs(lists: Iterable[ShelterList]) -> str:
    return "; ".join(
        f"{one.shelter} {TITLES[todo.kind]}" for one in lists for todo in (*one.before, *one.after)
    )


def _trees(one: ShelterList) -> int:
    return sum(not step.halfway for step in one.steps)


def _rounds(season: Season, book: CarryBook) -> Iterator[CalendarEvent]:
    """One event that comes again every week while anything stands under cover."""
    days = [head.day for head in book.heads if any(one.steps for one in book.of_stage(head))]
    if days:
        last = days[-1] if days[-1] > days[0] else season.site.ends
        yield CalendarEvent(
            uid=_uid(season, "rounds", "weekly"),
            day=days[0],
            last=days[0],
            title="Weekly round of the shelters",
            text="Read and reset each min/max thermometer; water what is dry; look for gnawing, "
            "scale and mould; see that heaters run.",
            weekly_until=last,
        )


def _quarantines(season: Season) -> Iterator[CalendarEvent]:
    for tree in season.trees:
        until = tree.quarantine_until
        if until is not None and season.site.starts <= until <= season.site.ends:
            yield CalendarEvent(
                uid=_uid(season, "quarantine", tree.id),
                day=until,
                last=until,
                title=f"Quarantine of {tree.name} ends",
                text="Look it over once more before it joins the others.",
            )
