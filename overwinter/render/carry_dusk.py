"""When the sun sets on a carry day, and whether the day's work runs into the dusk."""

from collections.abc import Iterable
from datetime import date

from overwinter.climate.sun import sunset_h
from overwinter.model.site import Pace, Site

LAST_LIGHT_H = 1.0
"""Dusk is near from this long before sunset, h (judgement: shade, cold and ice come early)."""


def dusk_is_near(site: Site, day: date, people: Iterable[int], pace: Pace) -> bool:
    """Whether the carries, one after the other, run into the last hour before sunset."""
    return pace.ends_h(people) > sunset_h(site, day) - LAST_LIGHT_H


def clock(hours: float) -> str:
    """ "16:52" from hours after midnight."""
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
