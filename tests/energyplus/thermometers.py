"""What two readings of a thermometer, or a log, in a box of EnergyPlus's tell of its winter."""

from datetime import timedelta

import numpy as np
from beside import NOON_H, STARTS, beside, site, weather
from energyplus_box import Box, BoxHours

from overwinter.climate.series import by_day
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Readings, Shelter, Thermometer
from overwinter.shelters.conditions import shelter_model
from overwinter.shelters.fit import fit_readings, thermometer_air_c
from overwinter.shelters.heater import OFF
from overwinter.shelters.modes import run
from overwinter.shelters.network import surroundings

FROM, UNTIL = 14, 75
"""Days of a log: mid-October to mid-December."""


def readings_of(hours: BoxHours, first: int, last: int) -> Readings:
    """The log a min/max thermometer in EnergyPlus's box would give, by day."""
    part = slice(first, last)
    # A log's day runs from midnight to midnight, which the fit takes for granted.
    inside, outdoor = hours.air_c[NOON_H:-NOON_H], hours.outdoor_c[NOON_H:-NOON_H]
    return Readings(
        dates=tuple(STARTS + timedelta(days=1 + i) for i in range(first, last)),
        min_c=tuple(by_day(inside).min(axis=-1)[part].tolist()),
        max_c=tuple(by_day(inside).max(axis=-1)[part].tolist()),
        outdoor_min_c=tuple(by_day(outdoor).min(axis=-1)[part].tolist()),
        outdoor_max_c=tuple(by_day(outdoor).max(axis=-1)[part].tolist()),
    )


def by_log(box: Box, hours: BoxHours) -> tuple[FloatArray, float]:
    """Air that a log foretells, degC, ``(hour,)``, and how unsure it is of the coldest night, K."""
    shelter = Shelter("box", "box", (), readings=readings_of(hours, FROM, UNTIL))
    season = Season(site(box.weather), weather(box.weather).winters, {}, (), (shelter,))
    model = shelter_model(shelter, season.site)
    assert model is not None
    assert shelter.readings is not None
    unsure_k = fit_readings(shelter.readings, season.site).unsure_k
    return run(model, surroundings(season), (OFF,))[0][0, 0], unsure_k


def by_two_readings(box: Box, hours: BoxHours, smoothing_h: float) -> FloatArray:
    """Air replayed from the winter's coldest and warmest, degC, ``(hour,)``."""
    cold, warm = int(hours.air_c.argmin()), int(hours.air_c.argmax())
    low, high = by_day(hours.outdoor_c).min(axis=-1), by_day(hours.outdoor_c).max(axis=-1)
    thermometer = Thermometer(
        coldest_c=float(hours.air_c[cold]),
        warmest_c=float(hours.air_c[warm]),
        outdoor_at_coldest_c=float(low[cold // 24]),
        outdoor_at_warmest_c=float(high[warm // 24]),
        smoothing_h=smoothing_h,
    )
    season = Season(site(box.weather), weather(box.weather).winters, {}, (), ())
    return thermometer_air_c(thermometer, surroundings(season))[0]


def coldest_nights_k(air_c: FloatArray, hours: BoxHours, first_day: int = 0) -> FloatArray:
    """Ours minus EnergyPlus on the ten coldest nights from a day on, K."""
    ours, its = by_day(air_c).min(axis=-1)[first_day:], by_day(hours.air_c).min(axis=-1)[first_day:]
    return np.asarray((ours - its)[np.argsort(its)[:10]])


HEAD = (
    "| box | two readings: ten coldest, most, least | chill h, ours / E+ | Dec-Feb mean, ours / E+ "
    "| log: ten coldest, most, least, sd |"
)


def row(box: Box, hours: BoxHours) -> str:
    """A line of the table."""

    def misses(air_c: FloatArray, first_day: int = 0) -> str:
        miss = coldest_nights_k(air_c, hours, first_day)
        return f"{miss.mean():+.1f}, {miss.max():+.1f}, {miss.min():+.1f}"

    air, (logged, unsure_k) = by_two_readings(box, hours, smoothing_h(box)), by_log(box, hours)
    found = beside(air, np.zeros_like(air), hours)
    return (
        f"| {box.name}, {box.weather} | {misses(air)} K "
        f"| {found.chill_h[0]:.0f} / {found.chill_h[1]:.0f} "
        f"| {found.winter_mean_c[0]:.1f} / {found.winter_mean_c[1]:.1f} "
        f"| {misses(logged, UNTIL)}, {unsure_k:.1f} K |"
    )


def smoothing_h(box: Box) -> float:
    """What a grower would guess, h: ten days for a cellar, else the default."""
    return 240.0 if box.is_cellar else 24.0
