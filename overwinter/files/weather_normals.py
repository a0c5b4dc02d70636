"""Monthly normals with a design minimum: a made-up, reproducible year that keeps them."""

from datetime import date, timedelta

import numpy as np

from overwinter.climate.air import (
    YEAR_DAYS,
    Normals,
    hourly_from_normals,
    sun_from_normals,
)
from overwinter.files.findings import Findings
from overwinter.files.known import KnownSite
from overwinter.files.site_file import WrittenSite
from overwinter.files.weather_record import DayRecord
from overwinter.units import HOURS_PER_DAY

COMMON_YEAR = 2001
MONTHS = 12


def check_normals(known: KnownSite, findings: Findings) -> None:
    """Twelve months and a design minimum, where it can be told that they are missing."""
    months = known.months
    missing = [] if months is None else sorted(set(range(1, MONTHS + 1)) - months)
    if missing:
        findings.problem(
            "site.toml",
            "weather",
            "month",
            "no normals of month " + ", ".join(map(str, missing))
            if months
            else "neither a weather file nor monthly normals",
            "file and kind, or all twelve [[weather.month]]",
            "",
        )
    if months != frozenset() and known.design_min is False:
        findings.problem(
            "site.toml",
            "heating",
            "design_min_c",
            "nothing",
            "the coldest night to prepare for, which monthly normals do not tell",
            "Add [heating] with design_min_c or design_min_f.",
        )


def normals_year(written: WrittenSite, findings: Findings) -> DayRecord | None:
    """A year of hours from the months of ``[[weather.month]]``, checked before."""
    months = written.months
    if len(months) < MONTHS or written.design_min_c is None:
        return None
    suns = [month.sun_mj_m2_d for month in months]
    given = [sun for sun in suns if sun is not None]
    normals = Normals(
        mean_min_c=np.array([month.mean_min_c for month in months]),
        mean_max_c=np.array([month.mean_max_c for month in months]),
        design_min_c=written.design_min_c,
        sun_mj_m2_d=np.array(given) if len(given) == MONTHS else None,
    )
    if 0 < len(given) < MONTHS:
        findings.warn("Some months give no sun: the sun of all is estimated from the temperatures.")
    return _year(written, normals, findings)


def _year(written: WrittenSite, normals: Normals, findings: Findings) -> DayRecord | None:
    site, seed = written.site, written.weather.seed
    try:
        air = hourly_from_normals(normals, seed)
        sun = sun_from_normals(
            normals, seed, site.latitude, site.longitude, written.utc_offset_h, site.elevation_m
        )
    except ValueError as error:
        findings.problem(
            "site.toml",
            "heating",
            "design_min_c",
            str(error),
            "a design minimum below the coldest month's nights",
            "Take the coldest night of many winters.",
        )
        return None
    first = date(COMMON_YEAR, 1, 1)
    return DayRecord(
        file="site.toml",
        days=tuple(first + timedelta(days=i) for i in range(YEAR_DAYS)),
        air_c=air.reshape(-1, HOURS_PER_DAY),
        sun_w_m2=sun.reshape(-1, HOURS_PER_DAY),
        station=f"made up from monthly normals with seed {seed}",
        typical_year=True,
    )
