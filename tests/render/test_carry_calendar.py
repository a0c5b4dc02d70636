"""The calendar, parsed by the icalendar library (not the writer)."""

from dataclasses import replace
from datetime import date, timedelta

import icalendar
from carry_winters import (
    DEC,
    GARDEN,
    MAY,
    NOV,
    PlanMaker,
    big_winter,
    place,
    renamed,
    season_of,
    small_winter,
    tree,
)

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.render.carry_book import carry_book
from overwinter.render.carry_calendar import TITLES, calendar_events, carry_calendar
from overwinter.render.carry_todos import TodoKind
from overwinter.render.icalendar_text import escaped, folded
from overwinter.shelters.conditions import compute_conditions


def written(season: Season, plan: Plan, **more: object) -> str:
    return carry_calendar(season, plan, carry_book(season, plan), **more)


def events_of(text: str) -> dict[str, icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(text)
    found = calendar.walk("VEVENT")
    events = {str(event["UID"]): event for event in found}
    assert len(events) == len(found)
    return events


def test_text_is_escaped_as_rfc_5545_prints_it() -> None:
    """RFC 5545, 3.3.11: "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared."."""
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    printed = r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert escaped(text) == printed
    assert escaped("a;b,c\\d") == r"a\;b\,c\\d"
    assert escaped("a\r\nb\rc\x00\x1bd") == r"a\nb\ncd"


def test_lines_are_folded_at_75_octets_and_never_inside_a_character() -> None:
    """RFC 5545, 3.1: no line longer than 75 octets, continuation lines begin with a space."""
    line = "SUMMARY:" + "Öl→°" * 60
    lines = folded(line).split("\r\n")
    assert all(len(piece.encode()) <= 75 for piece in lines)
    assert all(piece.startswith(" ") for piece in lines[1:])
    assert lines[0] + "".join(piece[1:] for piece in lines[1:]) == line
    assert folded("x" * 75) == "x" * 75


def test_every_line_of_a_calendar_is_legal() -> None:
    """CRLF after every line, 75 octets at most, one VERSION:2.0 and a PRODID (RFC 5545, 3.6)."""
    text = written(*big_winter())
    assert text.endswith("END:VCALENDAR\r\n")
    lines = text.split("\r\n")
    assert all(len(line.encode()) <= 75 and "\n" not in line for line in lines)
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1


def test_carry_days_say_what_goes_where() -> None:
    """One all-day event a carry day, ending the day after (DTEND is exclusive, RFC 5545 3.6.1)."""
    season, plan = small_winter()
    events = events_of(written(season, plan)).values()
    carries = {e["DTSTART"].dt: e for e in events if str(e["UID"]).startswith("carry-")}
    assert tuple(sorted(carries)) == plan.carry_days
    day = carries[NOV]
    assert str(day["SUMMARY"]) == "Carry 3 trees: Glasshouse 1, Cellar 2"
    assert type(day["DTSTART"].dt) is date
    assert day["DTEND"].dt - day["DTSTART"].dt == timedelta(days=1)
    text = str(day["DESCRIPTION"])
    assert "1. Old maple: Garden, terrace → Cellar, floor (40 cm from the left" in text
    assert "2 people" in text
    alarm = day.walk("VALARM")[0]
    assert alarm["TRIGGER"].dt == timedelta(hours=-15)


def test_heaters_openings_closings_and_the_last_frost_are_there() -> None:
    """All dates at which something must be done."""
    season, plan = small_winter()
    by = {
        (str(e["UID"]).rsplit("-", 4)[0], e["DTSTART"].dt)
        for e in events_of(written(season, plan)).values()
    }
    assert ("open", date(2025, 10, 20)) in by
    assert ("close", date(2026, 5, 10)) in by
    assert {("heater", DEC), ("heater", MAY)} <= by
    assert any(kind == "last-frost" for kind, _ in by)


def test_nobody_is_sent_to_a_shelter_the_plan_never_uses() -> None:
    """The glasshouse opens on 20 October and the cellar closes in May: no job for either while no
    tree ever stands there (our own rule)."""
    season = season_of([tree("t0"), tree("t1")])
    maker = PlanMaker(season).carry(NOV, "t0", GARDEN, "cellar/floor")
    events = events_of(written(season, maker.make())).values()
    told = {str(e["UID"]).split("-")[0] for e in events if "Glasshouse" in str(e["SUMMARY"])}
    assert told == set()
    assert ("close", date(2026, 5, 10)) in {
        (str(e["UID"]).split("-")[0], e["DTSTART"].dt) for e in events
    }
    maker = PlanMaker(season).carry(NOV, "t0", GARDEN, "glass/floor")
    kinds = {str(e["UID"]).split("-")[0] for e in events_of(written(season, maker.make())).values()}
    assert "open" in kinds
    assert "close" not in kinds


def test_sunk_pots_are_covered_bed_by_bed() -> None:
    """Two beds of one shelter on one day: an event for each (our own rule)."""
    beds = tuple(
        replace(place(f"garden/{name}", PlaceKind.SUNK), cover_m=0.2) for name in ("low", "high")
    )
    season = season_of([tree("t0"), tree("t1")])
    garden, *others = season.shelters
    garden = replace(garden, places=(*garden.places, *beds))
    season = replace(season, shelters=(garden, *others))
    maker = PlanMaker(season)
    maker.carry(NOV, "t0", GARDEN, "garden/low").carry(NOV, "t1", GARDEN, "garden/high")
    events = events_of(written(season, maker.make())).values()
    covers = [e for e in events if str(e["UID"]).startswith("cover-")]
    assert [e["DTSTART"].dt for e in covers] == [NOV, NOV]
    assert {str(e["SUMMARY"]) for e in covers} == {"Garden: cover the sunk pots"}
    assert {str(e["DESCRIPTION"]).split(":")[0] for e in covers} == {"low", "high"}


def test_every_kind_of_job_has_a_title() -> None:
    """A kind without one would end the writing of all lists."""
    assert set(TITLES) == set(TodoKind)


def test_a_round_every_week_while_trees_stand_under_cover() -> None:
    """From a week after the first carry to the last; with what the thermometer should show."""
    season, plan = small_winter()
    conditions = compute_conditions(season)
    events = events_of(written(season, plan, conditions=conditions)).values()
    rounds = sorted(e["DTSTART"].dt for e in events if str(e["UID"]).startswith("round-"))
    first, last = plan.carry_days[0], plan.carry_days[-1]
    assert rounds == [first + timedelta(days=7 * n) for n in range(1, len(rounds) + 1)]
    assert last - rounds[-1] <= timedelta(days=7)
    january = next(e for e in events if e["DTSTART"].dt == date(2026, 1, 5))
    text = str(january["DESCRIPTION"])
    for word in ("Thermometer", "Water", "Pests", "Mice", "snowfall", "Heater"):
        assert word in text
    index = next(s.index for s in plan.spells if s.start <= date(2026, 1, 5) < s.end)
    hours = slice(
        24 * season.day_index(plan.spells[index].start),
        24 * season.day_index(plan.spells[index].end),
    )
    # The glasshouse holds 8 °C: its second thermostat setting, column 2.
    coldest = conditions.shelters["glass"].air_c[2, hours].min()
    assert f"falls to {coldest:.1f} °C" in text


def test_uids_are_stable_and_what_a_replan_drops_is_cancelled() -> None:
    """Same meaning, same UID; SEQUENCE rises; a day no longer needed comes back CANCELLED."""
    season = season_of([tree("a"), tree("b")])
    maker = PlanMaker(season).carry(NOV, "a", GARDEN, "cellar/floor")
    old_plan = maker.make()
    old = calendar_events(season, old_plan, carry_book(season, old_plan))
    later = PlanMaker(season).carry(DEC, "a", GARDEN, "cellar/floor").make()
    events = events_of(written(season, later, revision=2, dropped=old))
    gone = [e for e in events.values() if str(e["STATUS"]) == "CANCELLED"]
    assert NOV in {e["DTSTART"].dt for e in gone}
    assert all(e["SEQUENCE"] == 2 for e in events.values())
    kept = {event.uid for event in old} & {
        uid for uid, e in events.items() if str(e["STATUS"]) == "CONFIRMED"
    }
    assert kept  # the opening, the closing, the last frost


def test_the_same_plan_gives_the_same_file() -> None:
    """DTSTAMP is the season's first midnight, so two runs agree to the byte."""
    assert written(*small_winter()) == written(*small_winter())
    stamps = {e["DTSTAMP"].dt.isoformat() for e in events_of(written(*small_winter())).values()}
    assert stamps == {"2025-10-01T00:00:00+00:00"}


def test_names_cannot_break_out_of_their_line() -> None:
    """A name with line ends, commas and a forged END comes back as written, in one event."""
    season, plan = small_winter()
    name = "Evil\r\nEND:VEVENT\r\nBEGIN:VEVENT, ;\\ tree"
    events = events_of(written(renamed(season, "t0", name), plan)).values()
    day = next(e for e in events if str(e["UID"]).startswith(f"carry-{NOV}"))
    assert "Evil\nEND:VEVENT\nBEGIN:VEVENT, ;\\ tree: Garden" in str(day["DESCRIPTION"])
