"""How cold winters get here: from what site.toml says, the file's head, its winters, or a rule."""

from overwinter.climate.coldest_night import (
    ColdestNight,
    goes_with,
    law_by_rule,
    law_of_record,
    made_to_go_with,
    spread_by_rule,
)
from overwinter.climate.hardiness_zone import zone_band
from overwinter.climate.records import DayRecord, coldest_nights
from overwinter.files.findings import Findings, KeyGuess
from overwinter.files.quantities import degrees, kelvins
from overwinter.files.schemas_site import WeatherTable
from overwinter.files.toml_file import SITE
from overwinter.model.shelter import FloatArray


def coldest_night(
    table: WeatherTable, record: DayRecord | None, mean_min_c: FloatArray, findings: Findings
) -> ColdestNight | None:
    """Law of the coldest nights of winters; None where what is written can't go with the normals.

    ``mean_min_c`` are the mean daily minima of the twelve months, degC.
    """
    measured = _measured(record, mean_min_c)
    mean_c, spread_k = _written_mean(table), table.coldest_night_spread_k
    if mean_c is None and measured is not None:
        mean_c = measured.mean_c
    if mean_c is None:
        mean_c = law_by_rule(mean_min_c).mean_c
        _warn_of_rule(mean_c, findings)
    if spread_k is None:
        spread_k = measured.spread_k if measured else spread_by_rule(mean_c, mean_min_c)
    law = ColdestNight(mean_c, spread_k)
    if goes_with(law, mean_min_c):
        return law
    if not _is_written(table):
        return made_to_go_with(law, mean_min_c)
    findings.problem(
        "site.toml",
        "weather",
        _key_to_mend(table),
        f"a mean coldest night of {degrees(law.mean_c)} with a spread of {kelvins(law.spread_k)}",
        "coldest nights well below the nights of the coldest month, which are"
        f" {degrees(float(mean_min_c.min()))} on average",
        "Take the mean of the coldest nights of many winters, and their standard deviation.",
    )
    return None


def _is_written(table: WeatherTable) -> bool:
    return _written_mean(table) is not None or table.coldest_night_spread_k is not None


def _written_mean(table: WeatherTable) -> float | None:
    """The mean that site.toml gives; a hardiness zone is one."""
    if table.hardiness_zone is not None:
        return zone_band(table.hardiness_zone).middle_c
    return table.coldest_night_mean_c


def _measured(record: DayRecord | None, mean_min_c: FloatArray) -> ColdestNight | None:
    """The law of the file's head or of its own winters."""
    if record is None:
        return None
    if record.coldest is not None:
        return record.coldest
    measured = coldest_nights(record, int(mean_min_c.argmin()))
    return law_of_record(measured, mean_min_c) if measured.size else None


def _warn_of_rule(mean_c: float, findings: Findings) -> None:
    findings.assume(
        "Nothing says how cold winters get: by a rule from the normals the coldest night of a"
        f" winter is {degrees(mean_c)} on average. Better give hardiness_zone, or"
        " coldest_night_mean and coldest_night_spread, in [weather].",
        KeyGuess(SITE, "weather", "coldest_night_mean_c", round(mean_c, 1)),
    )


def _key_to_mend(table: WeatherTable) -> str:
    if table.hardiness_zone is not None:
        return "hardiness_zone"
    if table.coldest_night_mean_c is None and table.coldest_night_spread_k is not None:
        return "coldest_night_spread_k"
    return "coldest_night_mean_c"
