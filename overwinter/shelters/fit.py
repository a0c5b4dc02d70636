"""A shelter known by its min/max thermometer: two readings of it, or a log.

    dT/dt = (share (To - T) + (1 - share)(Tg - T) + lift sun) / tau

Three unknowns: tau (UA per capacity), the share of the loss that goes outdoors, and the lift by
the sun (aperture / UA, K per W/m2). A grid over tau finds the valley, Gauss-Newton with damping
the bottom. Sun is estimated from the outdoor range (FAO-56 eq. 50), so the lift absorbs its bias.
Minima weigh more than maxima: they are what kills, and a maximum also shows vents opened by hand
and sun on the thermometer (with equal weights a log of a vented film house made its coldest night
3 K too warm, docs/energyplus.md). Readings of a heated shelter fit nothing real: unheated only.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overwinter.climate.air import hourly_from_daily
from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import by_day, days_of_year
from overwinter.climate.sun import sun_from_daily_total, sun_from_temperature_range_mj_m2_d
from overwinter.model.shelter import FloatArray, Readings, Thermometer
from overwinter.model.site import Site
from overwinter.shelters.network import DEEP_M, SunOn, Surroundings
from overwinter.shelters.root_zone import first_order_lag
from overwinter.units import HOURS_PER_DAY

LIKE_DAYS_PER_WINTER = 2
"""Days of the sample, a winter, that are taken to be like the day of a reading: few, since a
reading is a winter's extreme; two, so that one odd day does not decide."""
MEMORY_H = 48.0  # least of floor, walls and pots, h (judgement); the swing tells what is faster
LIKELY = np.array([[0.0, 2.0], [1.0, 0.2], [0.5, 0.3], [0.015, 0.015], [0.015, 0.02]])
"""Best guess and standard deviation before any reading: lift of the mean, K; shares of season and
of a day's swing that come in; K per W/m2 of sun, and of loss to the sky (judgements, ten boxes)."""
LEAST, MOST = np.array([-np.inf, 0, 0, 0, 0]), np.array([np.inf, 1, 1, np.inf, np.inf])
READING_K = 0.5  # standard deviation of a reading, K (judgement)
UNSURE_K = 1.2
"""Of a foretold coldest night of a shelter that follows the outdoors, K: what the coldest nights of
22 boxes miss. One that swings less, a heated room, is surer by as much."""
LEAST_DAYS = 14
MOST_OFF_K = 8.0  # a log that tells nothing is not told to be off by more than this
ONE_NODE_K = 0.6  # what one time constant misses of a night, whatever the log (22 boxes)
SKIPPED_DAYS = 2  # first days of a log, whose past is unknown
MAXIMUM_WEIGHT = 0.3  # weight of a maximum's error against a minimum's
TAU_GRID_H = tuple(float(v) for v in np.geomspace(1.0, 400.0, 13))
_STEPS = (0.02, 0.01, 0.002)
_BOUNDS = np.array([[np.log(0.2), 0.0, 0.0], [np.log(2000.0), 1.0, 1.0]])
NIGHTS_ALIKE = 3.0  # what is missed in one night is missed in about so many (judgement)


def _likeliest(rows: FloatArray, readings: FloatArray) -> FloatArray:
    """Parameters within their bounds that miss readings and ``LIKELY`` least, ``(5,)``. A parameter
    that leaves its bounds is put on them and the others are sought again."""
    best, deviation = LIKELY.T
    matrix = np.vstack((rows / READING_K, np.diag(1 / deviation)))
    wanted = np.concatenate((readings / READING_K, best / deviation))
    found, free = best.copy(), np.full(best.size, True)
    while free.any():
        rest = wanted - matrix[:, ~free] @ found[~free]
        found[free] = np.linalg.lstsq(matrix[:, free], rest, rcond=None)[0]
        within = np.clip(found, LEAST, MOST)
        off = within != found
        found = within
        if not off.any():
            break
        free &= ~off
    return np.asarray(found)


def thermometer_air_c(
    thermometer: Thermometer, around: Surroundings, off_k: FloatArray | float = 0.0
) -> FloatArray:
    """Unheated air of a shelter known by two readings, degC, ``(winter, hour)``.

    ``mean + lift + share (slow - mean) + swing (outdoor - slow) + sun - sky`` with ``slow`` the
    outdoor air lagged by the stated smoothing, and of the sun one half at once and one half lagged.
    Its five parameters are the likeliest that give the readings on days of the sample like theirs
    (least squares with ``LIKELY``); the lift then makes the coldest reading exact. An hour as cold
    outdoors as the coldest reading's is never warmer inside than that reading. ``off_k`` is added
    before that, ``(winter,)``.
    """
    at_coldest_c, at_warmest_c = thermometer.outdoor_at_coldest_c, thermometer.outdoor_at_warmest_c
    if at_warmest_c <= at_coldest_c:
        raise ValueError("the warmest reading must belong to warmer outdoor air than the coldest")
    outdoor, mean_c = around.air_c.T, around.site.ground.mean_c
    sun = around.source(SunOn(None, None, False)).T
    both = np.stack((outdoor, sun), axis=-1)
    memory_h = max(thermometer.smoothing_h, MEMORY_H)
    slow = first_order_lag(both, memory_h, both[:HOURS_PER_DAY].mean(axis=0))
    of_air = [np.ones_like(outdoor), slow[..., 0] - mean_c, outdoor - slow[..., 0]]
    parts = np.stack([*of_air, (sun + slow[..., 1]) / 2, -around.sky_loss_w_m2.T])
    days = parts.reshape(len(parts), -1, HOURS_PER_DAY, outdoor.shape[1])
    air_by_day = outdoor.reshape(days.shape[1:])

    def like(at_c: float, extreme_c: FloatArray) -> tuple[FloatArray, float]:
        """Days that come nearest outdoors, ``(day, part, hour)``, and what they are off by, K."""
        nearest = np.argsort(np.abs(extreme_c - at_c), axis=None, kind="stable")
        count = LIKE_DAYS_PER_WINTER * outdoor.shape[1]
        day, winter = np.unravel_index(nearest[:count], extreme_c.shape)
        return days[:, day, :, winter], float(at_c - extreme_c[day, winter].mean())

    cold = like(at_coldest_c, air_by_day.min(axis=1))
    warm = like(at_warmest_c, air_by_day.max(axis=1))

    def row(sign: float, alike: FloatArray, off_k: float) -> FloatArray:
        """Mean of the parts in each day's coldest (or, negative, warmest) hour."""
        hour = np.argmin(sign * np.einsum("p,dph->dh", found, alike), axis=1)
        mean = alike[np.arange(hour.size), :, hour].mean(axis=0)
        mean[2] += off_k
        return np.asarray(mean)

    readings = np.array([thermometer.coldest_c, thermometer.warmest_c]) - mean_c
    found = LIKELY[:, 0]
    for _ in range(6):  # the hours settle after two or three
        found = _likeliest(np.stack((row(1, *cold), row(-1, *warm))), readings)
    found[0] += readings[0] - row(1, *cold) @ found
    air = mean_c + np.einsum("p,phw->wh", found, parts) + np.reshape(off_k, (-1, 1))
    capped = np.minimum(air, thermometer.coldest_c)
    return np.asarray(np.where(around.air_c <= at_coldest_c, capped, air))


@dataclass(frozen=True, slots=True)
class FittedShelter:
    """What a log of readings says about a shelter."""

    time_constant_h: float  # heat capacity over UA, h
    outdoor_share: float  # of the loss; the rest goes to the ground, 0 to 1
    sun_k_per_w_m2: float  # steady lift of the air by the sun, K per W/m2 of global irradiance
    days: int
    unsure_k: float = 0.0
    """Standard deviation of a foretold coldest night, K: what the model misses on a night, in this
    log and always, and what its parameters may be off by, stretched to the design night."""


@dataclass(frozen=True)
class _Log:
    outdoor_c: FloatArray
    ground_c: FloatArray
    sun_w_m2: FloatArray
    rows: FloatArray  # day index of each reading used
    readings_c: FloatArray  # minima, then maxima


def _read(readings: Readings, site: Site) -> _Log:
    ordinals = np.array([day.toordinal() for day in readings.dates])
    order = np.argsort(ordinals, kind="stable")
    offsets = (ordinals - ordinals.min())[order].astype(np.float64)
    inside_low, inside_high, low, high = np.array(
        (readings.min_c, readings.max_c, readings.outdoor_min_c, readings.outdoor_max_c)
    )[:, order]
    every = np.arange(offsets[-1] + 1)
    low, high = np.interp(every, offsets, low), np.interp(every, offsets, high)
    days = days_of_year(min(readings.dates), low.size)
    total = sun_from_temperature_range_mj_m2_d(low, high, site.location, days)
    used = offsets >= SKIPPED_DAYS
    return _Log(
        outdoor_c=hourly_from_daily(low, high),
        ground_c=kusuda_c(DEEP_M, np.repeat(days, HOURS_PER_DAY), site.ground),
        sun_w_m2=sun_from_daily_total(total, site.location, days),
        rows=offsets[used],
        readings_c=np.concatenate((inside_low[used], inside_high[used])),
    )


def _predict(log: _Log, parameters: FloatArray) -> FloatArray:
    """Minima and maxima of the model, degC, in the order of the readings."""
    tau, share, lift = np.exp(parameters[0]), parameters[1], parameters[2]
    goal = share * log.outdoor_c + (1 - share) * log.ground_c + lift * log.sun_w_m2
    air = by_day(first_order_lag(goal, tau, np.asarray(goal[:HOURS_PER_DAY].mean())))
    rows = log.rows.astype(np.intp)
    return np.concatenate((air.min(axis=1)[rows], air.max(axis=1)[rows]))


def _errors(log: _Log, parameters: FloatArray) -> FloatArray:
    """Weighted reading minus model, K."""
    weights = np.repeat([1.0, MAXIMUM_WEIGHT], log.rows.size)
    return np.asarray(weights * (log.readings_c - _predict(log, parameters)))


def _jacobian(log: _Log, parameters: FloatArray, errors: FloatArray) -> FloatArray:
    """Change of the weighted model with each parameter, by differences."""
    columns = []
    for i, size in enumerate(_STEPS):
        moved = parameters.copy()
        # Steps inward at an upper bound, so that the difference is taken inside the domain.
        moved[i] += -size if i == 1 and parameters[1] > 0.5 else size
        columns.append((errors - _errors(log, moved)) / (moved[i] - parameters[i]))
    return np.column_stack(columns)


def _improve(log: _Log, parameters: FloatArray, rounds: int) -> tuple[FloatArray, float]:
    """Damped Gauss-Newton; returns parameters and the weighted sum of squares, K2."""
    errors = _errors(log, parameters)
    best, damping = float(errors @ errors), 1e-3
    for _ in range(rounds):
        jacobian = _jacobian(log, parameters, errors)
        normal = jacobian.T @ jacobian
        damped = normal + damping * np.diag(np.diag(normal) + 1e-9)
        moved = np.clip(parameters + np.linalg.solve(damped, jacobian.T @ errors), *_BOUNDS)
        there = _errors(log, moved)
        cost = float(there @ there)
        if cost >= best:
            damping *= 10
            if damping > 1e6:
                break
            continue
        settled = best - cost < 1e-10 * best
        parameters, errors, best, damping = moved, there, cost, damping / 5
        if settled:
            break
    return parameters, best


@lru_cache(maxsize=32)
def fit_readings(readings: Readings, site: Site) -> FittedShelter:
    """Fit a shelter to its log; an audit asks for the same fit many times.

    ``readings`` are at least ``LEAST_DAYS`` days of an unheated shelter; days may be missing in
    between. Where it is unsure by more than about 2 K the model does not describe the place.

    Raises ``ValueError``: An outdoor minimum above its maximum.
    """
    log = _read(readings, site)
    starts = [np.array([np.log(tau), 0.7, 0.01]) for tau in TAU_GRID_H]
    rough = [_improve(log, start, rounds=4) for start in starts]
    parameters, _ = min(rough, key=lambda result: result[1])
    parameters, _ = _improve(log, parameters, rounds=60)
    missed = log.readings_c - _predict(log, parameters)
    rms = np.sqrt((missed.reshape(2, -1) ** 2).mean(axis=1))
    off_k = _parameters_off_k(log, parameters, site.design_min_c)
    return FittedShelter(
        time_constant_h=float(np.exp(parameters[0])),
        outdoor_share=float(parameters[1]),
        sun_k_per_w_m2=float(parameters[2]),
        days=int(log.rows.size),
        unsure_k=float(np.sqrt(ONE_NODE_K**2 + rms[0] ** 2 + off_k**2)),
    )


def _parameters_off_k(log: _Log, parameters: FloatArray, design_min_c: float) -> float:
    """Standard error of a design night's minimum from that of the parameters, K."""
    errors = _errors(log, parameters)
    jacobian = _jacobian(log, parameters, errors)
    normal = jacobian.T @ jacobian
    variance = NIGHTS_ALIKE * float(errors @ errors) / max(1, errors.size - parameters.size)
    covariance = variance * np.linalg.pinv(normal, rcond=1e-10, hermitian=True)
    nights = log.rows.size
    lowest = by_day(log.outdoor_c).min(axis=1)[log.rows.astype(np.intp)]
    coldest = int(lowest[:nights].argmin())
    error_k = float(np.sqrt(max(0.0, jacobian[coldest] @ covariance @ jacobian[coldest])))
    usual_c = float(np.median(lowest))
    reach = (usual_c - design_min_c) / max(1.0, usual_c - float(lowest[coldest]))
    return min(MOST_OFF_K, error_k * max(1.0, reach))
