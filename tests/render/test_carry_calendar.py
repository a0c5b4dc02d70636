"""The calendar, read as RFC 5545 has it."""

from dataclasses import replace
from datetime import date, timedelta

import icalendar
from carry_winters import (
    APR,
    DEC,
    GARDEN,
    NOV,
    PlanMaker,
    big_winter,
    renamed,
    season_of,
    small_winter,
    tree,
)

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Happening, HappeningKind, Sign
from overwinter.render.carry_book import carry_book
from overwinter.render.carry_files import TITLES, calendar_events, carry_calendar
from overwinter.render.carry_words import TodoKind


def written(season: Season, plan: Plan, *earlier: Plan) -> str:
    events = [calendar_events(season, carry_book(season, one)) for one in earlier]
    return carry_calendar(season, plan, carry_book(season, plan), events)


def events_of(text: str) -> dict[str, icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(text)
    found = calendar.walk("VEVENT")
    events = {str(event["UID"]): event for event in found}
    assert len(events) == len(found)
    return events


def test_text_is_escaped_as_rfc_5545_prints_it() -> None:
    """RFC 5545, 3.3.11: "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.", and a
    comma, semicolon or backslash has a backslash in front."""
    season, plan = small_winter()
    name = "Final Review\nRoom; 3B, \\x\x00\x1b"
    text = written(replace(season, site=replace(season.site, name=name)), plan)
    assert r"NAME:Winter of Final Review\nRoom\; 3B\, \\x" in text.replace("\r\n ", "").split(
        "\r\n"
    )


def test_every_line_of_a_calendar_is_legal() -> None:
    """CRLF after every line, 75 octets at most, one VERSION:2.0 and a PRODID (RFC 5545, 3.6)."""
    text = written(*big_winter())
    assert text.endswith("END:VCALENDAR\r\n")
    lines = text.split("\r\n")
    assert all(len(line.encode()) <= 75 and "\n" not in line for line in lines)
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1


def summaries(season: Season, plan: Plan) -> dict[str, icalendar.Event]:
    return {str(e["SUMMARY"]): e for e in events_of(written(season, plan)).values()}


def test_an_alarm_asks_for_what_the_stage_needs() -> None:
    """The maple of 34 kg and two more go under cover in November; in May all only go out."""
    found = summaries(*small_winter())
    told = {
        name.split(":")[0]: str(alarm["DESCRIPTION"])
        for name, event in found.items()
        for alarm in event.walk("VALARM")
    }
    autumn, spring = told["First night of -1 °C or colder"], told["A week without 2 °C or colder"]
    assert (
        "ask the second person, water the day before what goes under cover, unless frozen."
        in autumn
    )
    assert "under cover" not in spring


def test_a_sign_spans_the_days_of_most_years_and_says_what_goes_where() -> None:
    """All-day events that end the day after their last one (DTEND is exclusive, RFC 5545 3.6.1)."""
    found = summaries(*small_winter())
    event = found["First night of -1 °C or colder: carry 3 trees"]
    assert type(event["DTSTART"].dt) is date
    assert event["DTSTART"].dt == NOV - timedelta(days=10)
    assert event["DTEND"].dt == NOV + timedelta(days=11)
    words = str(event["DESCRIPTION"])
    assert "When the first night of -1 °C or colder is forecast." in words
    assert "usually 1 Nov" in words
    assert "carry sheets, stage 3" in words
    assert len(words) < 500
    assert event.walk("VALARM")[0]["TRIGGER"].dt == timedelta(hours=-15)


def test_a_calendar_stage_takes_one_day_and_heaters_come_with_their_cautions() -> None:
    """The glasshouse opens on 20 October and is heated from then on."""
    event = summaries(*small_winter())["Glasshouse opens: carry 1 tree"]
    assert event["DTEND"].dt - event["DTSTART"].dt == timedelta(days=1)
    words = str(event["DESCRIPTION"])
    assert "heater to hold 8 °C" in words


def test_nobody_is_sent_to_a_shelter_the_plan_never_uses() -> None:
    """The glasshouse opens on 20 October: no word of it while no tree ever stands there."""
    season = season_of([tree("t0"), tree("t1")])
    opens = Happening(HappeningKind.OPENS, "glass")
    day = date(2025, 10, 20)
    maker = PlanMaker(season).carry(NOV, "t0", GARDEN, "cellar/floor")
    maker.sign(day, Sign.CALENDAR, None, opens)
    assert not any("Glasshouse" in title for title in summaries(season, maker.make()))
    maker = PlanMaker(season).carry(NOV, "t0", GARDEN, "glass/floor")
    maker.sign(day, Sign.CALENDAR, None, opens)
    assert "Glasshouse opens" in summaries(season, maker.make())


def test_every_kind_of_job_has_a_title() -> None:
    """A kind without one would end the writing of all lists."""
    assert set(TITLES) == set(TodoKind)


def test_uids_come_from_the_sign_and_what_a_replan_drops_is_cancelled() -> None:
    """Same sign, same UID, whatever its days; SEQUENCE rises by one a plan; a sign no longer needed
    comes back CANCELLED."""
    season = season_of([tree("a"), tree("b")])
    maker = PlanMaker(season).carry(NOV, "a", GARDEN, "cellar/floor")
    maker.carry(DEC, "b", GARDEN, "cellar/floor")
    maker.sign(NOV, Sign.COLD_NIGHT, -1.0).sign(DEC, Sign.COLD_NIGHT, -6.0)
    old_plan = maker.make()
    old = calendar_events(season, carry_book(season, old_plan))
    later = PlanMaker(season).carry(NOV + timedelta(days=5), "a", GARDEN, "cellar/floor")
    later.sign(NOV + timedelta(days=5), Sign.COLD_NIGHT, -1.0)
    events = events_of(written(season, later.make(), old_plan, old_plan))
    assert [str(e["STATUS"]) for e in events.values()].count("CANCELLED") == 1
    assert all(e["SEQUENCE"] == 2 for e in events.values())
    kept = set(old) & {uid for uid, e in events.items() if str(e["STATUS"]) == "CONFIRMED"}
    assert len(kept) == 2  # the sign that stays, and the weekly rounds


def test_what_has_begun_stays_in_the_calendar() -> None:
    """Planned anew on 5 November: what came in with the first frost stays, up to then, what is not
    to be done any more is cancelled, and the round goes on on the same day of the week."""
    season, first = season_of([tree("a"), tree("b")]), date(2025, 11, 5)

    def maker() -> PlanMaker:
        made = PlanMaker(season).carry(NOV, "a", GARDEN, "cellar/floor")
        return made.sign(NOV, Sign.COLD_NIGHT, -1.0).sign(DEC, Sign.COLD_NIGHT, -6.0)

    old = maker().carry(DEC, "b", GARDEN, "cellar/floor").make()
    anew = Happening(HappeningKind.PLANNED_ANEW, "")
    for ahead in (True, False):
        new = maker().sign(first, Sign.CALENDAR, None, anew)
        if ahead:
            new.carry(APR, "a", "cellar/floor", GARDEN)
        plan = replace(new.make(), fixed_stages=2)
        events = events_of(written(season, plan, old)).values()
        found = {str(e["SUMMARY"]).split(":")[0]: e for e in events}
        frost, harder = (found[f"First night of {c} °C or colder"] for c in (-1, -6))
        assert (str(frost["STATUS"]), str(harder["STATUS"])) == ("CONFIRMED", "CANCELLED")
        assert frost["DTSTART"].dt == NOV - timedelta(days=10)
        assert frost["DTEND"].dt == first
        rounds = found["Weekly round of the shelters"]
        assert (str(rounds["STATUS"]), rounds["DTSTART"].dt) == ("CONFIRMED", NOV)
        last = season.site.ends if ahead else first - timedelta(days=1)
        assert rounds["RRULE"]["UNTIL"] == [last]


def test_the_same_plan_gives_the_same_file() -> None:
    """DTSTAMP is the season's first midnight, so two runs agree to the byte."""
    assert written(*small_winter()) == written(*small_winter())
    stamps = {e["DTSTAMP"].dt.isoformat() for e in events_of(written(*small_winter())).values()}
    assert stamps == {"2025-10-01T00:00:00+00:00"}


def test_names_cannot_break_out_of_their_line() -> None:
    """A name with line ends, commas and a forged END comes back as written, in one event."""
    season, plan = small_winter()
    name = "Evil\r\nEND:VEVENT\r\nBEGIN:VEVENT, ;\\ tree"
    season = renamed(season, "t0", name)
    trees = [replace(t, quarantine_until=DEC) if t.id == "t0" else t for t in season.trees]
    events = events_of(written(replace(season, trees=tuple(trees)), plan)).values()
    shown = "Quarantine of Evil\nEND:VEVENT\nBEGIN:VEVENT, ;\\ tree ends"
    assert shown in [str(e["SUMMARY"]) for e in events]


def test_the_rounds_are_one_event_that_comes_every_week() -> None:
    """RFC 5545, 3.3.10: FREQ=WEEKLY, until the last carry of the winter."""
    season, plan = small_winter()
    rounds = [e for e in events_of(written(season, plan)).values() if "RRULE" in e]
    assert len(rounds) == 1
    assert rounds[0]["RRULE"]["FREQ"] == ["WEEKLY"]
    assert rounds[0]["RRULE"]["UNTIL"] == [max(carry.day for carry in plan.carries)]
