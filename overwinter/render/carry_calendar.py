"""The stages as a calendar file: each from the day it may begin in most years to the latest one.

Nobody knows on which day a sign comes, so an event spans the days of most years and says what to
watch for. UIDs come from the sign, so that a re-plan moves an event instead of doubling it.
"""

import re
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256

from icalendar import Alarm, Calendar, Event, vText

from overwinter.model.season import Season
from overwinter.model.stage import Sign
from overwinter.render.carry_book import CarryBook, StageHead
from overwinter.render.carry_words import TodoKind
from overwinter.render.words import count, is_fixed, sentence, sign_brief

REMIND = timedelta(hours=-15)
"""Before the day's first midnight: at 9:00 the day before."""
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


Events = Mapping[str, Event]
"""By UID."""


def carry_calendar(
    season: Season, book: CarryBook, *, revision: int = 0, dropped: Events | None = None
) -> str:
    """The calendar of a plan as iCalendar text (RFC 5545).

    Parameters
    ----------
    revision : 0 for the first plan of a winter, one more for each re-plan.
    dropped : Events of the file before, ``calendar_events`` of its plan: those not in this one are
        cancelled.
    """
    calendar, name = Calendar(), vText(_plain(f"Winter of {season.site.name}"))
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", "-//overwinter//carry calendar 1//EN")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", name)
    calendar.add("X-WR-CALNAME", name)
    events = calendar_events(season, book)
    gone = {uid: event for uid, event in (dropped or {}).items() if uid not in events}
    # DTSTAMP should be the time of writing; so the same plan gives the same file.
    stamp = datetime.combine(season.site.starts, time(), UTC) + timedelta(seconds=revision)
    for uid, event in {**events, **gone}.items():
        event.add("DTSTAMP", stamp)
        event.add("SEQUENCE", revision)
        event.add("STATUS", "CANCELLED" if uid in gone else "CONFIRMED")
        if uid in gone:
            event.subcomponents.clear()
        calendar.add_component(event)
    return str(calendar.to_ical().decode())


def _plain(text: str) -> str:
    return _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def _event(
    season: Season, kind: str, about: str, title: str, text: str, first: date, last: date
) -> Event:
    """An event of whole days; its UID tells what it is about from all else of this winter."""
    site = season.site
    what = f"{site.name}|{site.latitude_deg}|{site.longitude_deg}|{site.starts}|{about}"
    event = Event()
    event.add("UID", f"{kind}-{sha256(what.encode()).hexdigest()[:16]}@overwinter")
    event.add("DTSTART", first)
    event.add("DTEND", last + timedelta(days=1))
    event.add("TRANSP", "TRANSPARENT")
    event.add("SUMMARY", _plain(title))
    event.add("DESCRIPTION", _plain(text))
    return event


def calendar_events(season: Season, book: CarryBook) -> Events:
    """All events, by day and UID."""
    events = [_stage_event(season, head, book) for head in book.heads]
    events += [*_quarantines(season), *_rounds(season, book)]
    events.sort(key=lambda event: (event.start, str(event["UID"])))
    return {str(event["UID"]): event for event in events}


def _stage_event(season: Season, head: StageHead, book: CarryBook) -> Event:
    lists, stage = book.of_stage(head), head.stage
    trees = sum(len(one.carried) for one in lists)
    words = [f"{head.when}.", f"{head.facts}."]
    words += [f"{sentence(head.work)}."] if trees else []
    for one in lists:
        heats = any(todo.kind is TodoKind.HEATER for todo in one.jobs)
        heater = f"; heater: {one.setting}" if heats and one.setting else ""
        words.append(f"{one.shelter}: {one.heading}{heater}")
    words.append(f"What goes where, and the cautions: carry sheets, stage {head.number}.")
    jobs = "; ".join(f"{one.shelter} {TITLES[todo.kind]}" for one in lists for todo in one.jobs)
    what = f"carry {count(trees, 'tree')}" if trees else jobs
    on_the_calendar = stage.sign is Sign.CALENDAR
    sign = sentence(sign_brief(season, stage))
    event = _event(
        season,
        "stage",
        f"{stage.sign} {stage.usual if on_the_calendar else stage.threshold_c}",
        f"{sign}: {what}" if what and (trees or not on_the_calendar) else sign,
        "\n".join(words),
        stage.early,
        max(stage.late, stage.early),
    )
    fixed = is_fixed(stage)
    watch = "This begins tomorrow" if fixed else "From tomorrow watch the forecast for the sign"
    told = f"{watch}: ask the helper, water what goes under cover the day before."
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("TRIGGER", REMIND)
    alarm.add("DESCRIPTION", told)
    event.add_component(alarm)
    return event


def _rounds(season: Season, book: CarryBook) -> Iterator[Event]:
    """One event that comes again every week while anything stands under cover."""
    days = [one.head.day for one in book.lists if one.steps]
    if days:
        text = (
            "Read and reset each min/max thermometer; water what is dry; look for gnawing, "
            "scale and mould; see that heaters run."
        )
        title, first = "Weekly round of the shelters", days[0]
        event = _event(season, "rounds", "weekly", title, text, first, first)
        until = days[-1] if days[-1] > first else season.site.ends
        event.add("RRULE", {"FREQ": "WEEKLY", "UNTIL": until})
        yield event


def _quarantines(season: Season) -> Iterator[Event]:
    for tree in season.trees:
        until = tree.quarantine_until
        if until is not None and season.site.starts <= until <= season.site.ends:
            title = f"Quarantine of {tree.name} ends"
            text = "Look it over once more before it joins the others."
            yield _event(season, "quarantine", tree.id, title, text, until, until)
