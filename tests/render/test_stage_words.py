"""What a grower reads of a stage: plain words, in the site's own units."""

from dataclasses import replace
from datetime import date

import pytest
from carry_winters import season_of, tree

from overwinter.climate.stages import QUIET_NIGHTS_AHEAD, QUIET_NIGHTS_BEHIND
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.render.words import (
    happening_words,
    range_words,
    sign_brief,
    sign_words,
    stage_number,
    usual_brief,
    usual_words,
    when_words,
)

EARLY, USUAL, LATE, UNTIL = (date(2025, m, d) for m, d in ((10, 24), (11, 2), (11, 12), (12, 5)))


def stage(sign: Sign, threshold_c: float | None = None, *happens: Happening) -> Stage:
    """A stage whose day differs from year to year."""
    return Stage(3, sign, threshold_c, happens, EARLY, USUAL, LATE, UNTIL)


def fixed(*happens: Happening) -> Stage:
    """A day of the calendar."""
    return Stage(3, Sign.CALENDAR, None, happens, USUAL, USUAL, USUAL, UNTIL)


@pytest.mark.parametrize(
    ("us", "threshold_c", "shown"),
    [
        (False, -3.0, "-3 °C"),
        (False, -3.5, "-3.5 °C"),
        (True, -3.0, "27 °F"),  # 26.6 °F, rounded
        (True, -20.0 / 9.0, "28 °F"),
    ],
)
def test_signs_name_a_night_in_the_sites_units(us: bool, threshold_c: float, shown: str) -> None:
    """°C to a tenth where need be, whole °F: what a forecast says."""
    season = season_of([], us=us)
    cold = stage(Sign.COLD_NIGHT, threshold_c)
    assert sign_words(season, cold) == f"first night of {shown} or colder is forecast"
    assert when_words(season, cold) == f"When the first night of {shown} or colder is forecast"
    assert sign_brief(season, cold) == f"first night of {shown} or colder"
    mild = stage(Sign.MILD_WEEK, threshold_c)
    assert sign_words(season, mild) == (
        f"no night of {shown} or colder for three nights, and none forecast for a week"
    )
    assert sign_words(season, replace(mild, not_before=date(2027, 3, 14))) == (
        f"no night of {shown} or colder for three nights, and none forecast for a week, "
        "from 14 Mar on"
    )
    assert sign_brief(season, mild) == f"a week without {shown} or colder"
    for sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK):
        held = replace(stage(sign, threshold_c), at_latest=date(2026, 11, 21))
        for words in (when_words(season, held), sign_brief(season, held)):
            assert words.endswith(", or on 21 Nov at the latest")


def test_the_words_for_a_mild_week_are_those_of_the_rule() -> None:
    """Three nights behind, a week ahead: the numbers the days are computed with."""
    assert (QUIET_NIGHTS_BEHIND, QUIET_NIGHTS_AHEAD) == (3, 7)


def test_days_of_most_years_and_the_usual_one() -> None:
    """10th to 90th percentile; a day that is the same every year stands alone."""
    cold = stage(Sign.COLD_NIGHT, -3.0)
    assert range_words(cold) == "24 Oct to 12 Nov"
    assert usual_words(cold) == "most years 24 Oct to 12 Nov, usually 2 Nov"
    assert stage_number(cold) == "4, about 2 Nov"
    assert range_words(fixed()) == "2 Nov"
    assert usual_words(fixed()) == "on 2 Nov"
    assert stage_number(fixed()) == "4, 2 Nov"


def test_a_cold_that_most_winters_lack_has_no_usual_day() -> None:
    """The share of winters that bring it, and the day from which it may come."""
    rare = replace(stage(Sign.COLD_NIGHT, -18.0), comes=0.29)
    assert usual_words(rare) == "in 3 of 10 years, from 24 Oct on"
    assert usual_brief(rare) == "in 3 of 10 years"
    assert range_words(rare) == "from 24 Oct on"
    assert stage_number(rare) == "4, in 3 of 10 years"
    assert usual_brief(stage(Sign.MILD_WEEK, 4.0)) == "2 Nov"


def test_what_happens_is_told_by_name() -> None:
    """Ids become names; a day of the calendar says its date; several things stand together."""
    season = season_of([tree("t0", name="Fig"), tree("t1", name="Elms 1/2"), tree("t2")])
    kinds = HappeningKind
    opens = fixed(Happening(kinds.OPENS, "glass"))
    assert sign_words(season, opens) == "2 Nov: Glasshouse opens"
    assert sign_brief(season, opens) == "Glasshouse opens"
    happens = (
        Happening(kinds.CLOSES, "cellar"),
        Happening(kinds.JOINS, "t0"),
        Happening(kinds.JOINS, "t1"),
        Happening(kinds.QUARANTINE_ENDS, "t2"),
        Happening(kinds.PLANNED_ANEW, ""),
        Happening(kinds.HEATER_FAILS, "fan heater"),
    )
    assert happening_words(season, happens) == (
        "Cellar closes; Fig, Elms 1/2 join; quarantine of t2 ends; planned anew; "
        "fan heater: no longer heats"
    )
    assert happening_words(season, happens, named=1).startswith("Cellar closes; 2 trees join;")
    also = stage(Sign.COLD_NIGHT, -3.0, Happening(kinds.JOINS, "t0"))
    assert sign_words(season, also) == ("first night of -3 °C or colder is forecast (Fig joins)")
