"""A shelter known by two readings of its min/max thermometer."""

import numpy as np

from overwinter.model.shelter import FloatArray, Thermometer
from overwinter.shelters.lag import first_order_lag


def thermometer_air_c(thermometer: Thermometer, outdoor_c: FloatArray) -> FloatArray:
    """Unheated air of the shelter, degC, ``(hour, ...)`` like the outdoor air.

    The straight line through the two readings against outdoor air, then a first-order lag of
    ``smoothing_h``. The lag shrinks short cold snaps, so readings taken as outdoor extremes of an
    hour are met only by weather that lasts.

    Raises
    ------
    ValueError
        When both readings belong to one outdoor temperature.
    """
    run = thermometer.outdoor_at_warmest_c - thermometer.outdoor_at_coldest_c
    if run == 0:
        raise ValueError("both thermometer readings belong to the same outdoor temperature")
    slope = (thermometer.warmest_c - thermometer.coldest_c) / run
    line = thermometer.coldest_c + slope * (outdoor_c - thermometer.outdoor_at_coldest_c)
    start = np.asarray(line[:24]).mean(axis=0)
    return first_order_lag(line, thermometer.smoothing_h, start)
