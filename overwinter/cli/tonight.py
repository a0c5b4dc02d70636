"""``overwinter tonight``: a cold night is forecast, what is to be done before dusk."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import open_winter
from overwinter.cli.guard import Folder, Json, tell
from overwinter.cli.questions import temperature
from overwinter.files.weather_records import MOST_NIGHTS, read_forecast
from overwinter.model.season import Season
from overwinter.render.tonight_report import tonight_json, tonight_report
from overwinter.replan.night_ways import Evening
from overwinter.replan.tonight import tonight

COLDEST_C, WARMEST_C = -60.0, 35.0


def command(
    folder: Folder,
    low: Annotated[
        list[str] | None,
        typer.Option(metavar="TEMPERATURE", help="Lowest of the coming night; again for the next."),
    ] = None,
    forecast: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Instead: a forecast as CSV.")
    ] = None,
    today: Annotated[
        str | None, typer.Option(metavar="DATE", help="The day before the first night; else today.")
    ] = None,
    people: Annotated[
        int | None, typer.Option(min=1, help="How many carry; else as site.toml says.")
    ] = None,
    minutes: Annotated[
        float | None, typer.Option(min=0.0, help="What each of them has; else as in site.toml.")
    ] = None,
    fleece: Annotated[
        float, typer.Option(min=0.0, metavar="AREA", help="Fleece at hand, m2 (or square feet).")
    ] = 0.0,
    blankets: Annotated[
        float, typer.Option(min=0.0, metavar="AREA", help="Blankets at hand, likewise.")
    ] = 0.0,
    as_json: Json = False,
) -> None:
    """Say whether a stage begins, what must be carried before dusk, and what else helps.

    Starts from where the trees are by the marks. Writes nothing.
    """
    winter = open_winter(folder)
    season = winter.season
    first, lows_c = _nights(season, today, low or (), forecast)
    house = season.site.household
    per_m2 = season.site.display.area_scale.factor
    at_hand = {"fleece": fleece / per_m2, "blankets": blankets / per_m2}
    evening = Evening(
        first=first,
        lows_c=lows_c,
        minutes=60.0 * house.hours_a_day if minutes is None else minutes,
        people=people or house.people,
        cloth_m2={name: area for name, area in at_hand.items() if area > 0.0},
    )
    found = tonight(season, winter.in_force, evening)
    tell(as_json, lambda: tonight_json(found), lambda: tonight_report(found))


def _nights(
    season: Season, today: str | None, lows: Sequence[str], forecast: Path | None
) -> tuple[date, tuple[float, ...]]:
    """The first day, and the low of each night from there, degC; all mistakes at once."""
    names = Names(season)
    first = date.today() if today is None else names.day("--today", today)
    if bool(lows) == (forecast is not None):
        found = "both" if lows else "neither"
        fix = "For example --low -4, or --forecast week.csv."
        names.problem("--low, --forecast", found, "one of them", fix)
    if len(lows) > MOST_NIGHTS:
        names.problem("--low", f"{len(lows)} nights", f"at most {MOST_NIGHTS} nights")
    us, unit = season.site.display.us, season.site.display.degree
    lows_c = []
    for written in lows:
        low_c = temperature(written, us)
        if low_c is not None and COLDEST_C <= low_c <= WARMEST_C:
            lows_c.append(low_c)
            continue
        expected = f"the lowest temperature of a night, {unit}"
        fix = f"The site's unit is {unit} (units in site.toml)."
        names.problem("--low", written, expected, fix)
    names.raise_if_any()
    assert first is not None  # else there is a problem
    return first, tuple(lows_c) if forecast is None else read_forecast(forecast, first)
