"""Monthly normals as they are written in site.toml."""

import numpy as np

from overwinter.climate.months import MONTHS
from overwinter.climate.records import Normals
from overwinter.files.findings import Findings
from overwinter.files.known import KnownSite
from overwinter.files.schemas_site import MonthTable


def check_normals(known: KnownSite, findings: Findings) -> None:
    """All twelve months, where it can be told that some are missing."""
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


def written_normals(months: tuple[MonthTable, ...], findings: Findings) -> Normals | None:
    """The months of ``[[weather.month]]``, checked before; None unless there are twelve."""
    if len(months) < MONTHS:
        return None
    given = [month.sun_mj_m2_d for month in months if month.sun_mj_m2_d is not None]
    if 0 < len(given) < MONTHS:
        findings.assume("Some months give no sun: that of all is estimated from the temperatures.")
    return Normals(
        mean_min_c=np.array([month.mean_min_c for month in months]),
        mean_max_c=np.array([month.mean_max_c for month in months]),
        sun_mj_m2_d=np.array(given) if len(given) == MONTHS else None,
    )
