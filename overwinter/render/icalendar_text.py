"""Writes iCalendar text (RFC 5545): all-day events only, in about a page of code.

DTSTAMP should be the time of writing; ours is the season's first midnight (UTC) plus one second a
revision, so that the same plan gives the same file.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

FOLD_OCTETS = 75
"""Longest line without its line end (RFC 5545, 3.1)."""

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


def calendar_text(
    name: str,
    events: Iterable[CalendarEvent],
    cancelled: Iterable[CalendarEvent],
    stamp_day: date,
    revision: int = 0,
) -> str:
    """A VCALENDAR of ``events``, with ``cancelled`` ones marked so; CRLF line ends, folded."""
    stamp = datetime.combine(stamp_day, time()) + timedelta(seconds=revision)
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//overwinter//carry calendar 1//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{escaped(name)}",
        f"X-WR-CALNAME:{escaped(name)}",
    ]
    for event in events:
        lines += _event(event, stamp, revision, "CONFIRMED")
    for event in cancelled:
        lines += _event(event, stamp, revision, "CANCELLED")
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def _event(event: CalendarEvent, stamp: datetime, revision: int, status: str) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{escaped(event.uid)}"
    yield f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{event.last + timedelta(days=1):%Y%m%d}"
    if event.weekly_until is not None:
        yield f"RRULE:FREQ=WEEKLY;UNTIL={event.weekly_until:%Y%m%d}"
    yield f"SEQUENCE:{revision}"
    yield f"STATUS:{status}"
    yield "TRANSP:TRANSPARENT"
    yield f"SUMMARY:{escaped(event.title)}"
    if event.text:
        yield f"DESCRIPTION:{escaped(event.text)}"
    if event.remind_h_before is not None and status != "CANCELLED":
        yield "BEGIN:VALARM"
        yield "ACTION:DISPLAY"
        yield f"TRIGGER:-PT{event.remind_h_before}H"
        yield f"DESCRIPTION:{escaped(event.reminder or event.title)}"
        yield "END:VALARM"
    yield "END:VEVENT"


def escaped(text: str) -> str:
    """A TEXT value (RFC 5545, 3.3.11): backslash, semicolon, comma and line ends escaped."""
    plain = _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    for raw, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        plain = plain.replace(raw, written)
    return plain


def folded(line: str) -> str:
    """A content line in pieces of at most 75 octets, never cut inside a character."""
    pieces: list[str] = []
    piece, octets = "", 0
    for character in line:
        size = len(character.encode())
        if octets + size > FOLD_OCTETS:
            pieces.append(piece)
            piece, octets = " ", 1
        piece += character
        octets += size
    return "\r\n".join([*pieces, piece])
