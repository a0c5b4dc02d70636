"""When a tree must rest, read off the outdoor weather alone.

Custom, no source for the figures: potted trees rest from the time autumn has really turned cold
until spring has really turned mild. Because only the outdoor weather and the day length decide,
the rest is the same wherever a tree stands, and can be worked out before any plan is made.

Rest begins on the first day shorter than 12 h whose 14-day mean outdoors is below 10 degC; it ends
on the first later day, past the shortest, of at least 11 h whose 14-day mean is 7 degC or more.
The 14 days are the last ones, on the first days of a series its first 14. Where autumn never turns
cold there is no rest; where spring never turns mild it lasts to the end.
"""

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.model.species import Limits

BoolArray = NDArray[np.bool_]

WINDOW_DAYS = 14
BEGINS_BELOW_C = 10.0
ENDS_FROM_C = 7.0
"""Upper end of the 3 to 7 degC above which ecodormant vine buds wake (``bud_hardiness``)."""
BEGINS_BELOW_H = 12.0
ENDS_FROM_H = 11.0
"""Keeps a mild spell of midwinter from ending the rest."""


def window_mean_c(outdoor_mean_c: FloatArray) -> FloatArray:
    """Mean of the last 14 days (at the start of the series: its first 14), degC, ``(day,)``."""
    series = np.asarray(outdoor_mean_c, dtype=np.float64)
    length = min(WINDOW_DAYS, series.size)
    if length == 0:
        return series
    sums = np.concatenate([[0.0], np.cumsum(series)])
    ends = np.maximum(np.arange(series.size) + 1, length)
    means: FloatArray = (sums[ends] - sums[ends - length]) / length
    return means


def rest_span(outdoor_mean_c: FloatArray, day_length_h: FloatArray) -> tuple[int, int]:
    """First day of rest and first day after it, as day indices; equal when there is none.

    Parameters
    ----------
    outdoor_mean_c, day_length_h : ``(day,)``, degC and h, from autumn to spring.
    """
    length = np.asarray(day_length_h, dtype=np.float64)
    mean = window_mean_c(outdoor_mean_c)
    begins = np.flatnonzero((length < BEGINS_BELOW_H) & (mean < BEGINS_BELOW_C))
    if begins.size == 0:
        return 0, 0
    begin = int(begins[0])
    earliest = max(begin + 1, int(np.argmin(length)) + 1)
    mild = (length >= ENDS_FROM_H) & (mean >= ENDS_FROM_C)
    mild[:earliest] = False
    ends = np.flatnonzero(mild)
    return begin, int(ends[0]) if ends.size else length.size


def rest_days(limits: Limits, outdoor_mean_c: FloatArray, day_length_h: FloatArray) -> BoolArray:
    """Days on which the tree must rest, ``(day,)``; none when it has no rest ceiling."""
    resting = np.zeros(np.asarray(outdoor_mean_c).size, dtype=np.bool_)
    if limits.rest_ceiling_c is not None:
        begin, end = rest_span(outdoor_mean_c, day_length_h)
        resting[begin:end] = True
    return resting
