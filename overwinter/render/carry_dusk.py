"""When the sun sets on a carry day, and whether the day's work runs into the dusk."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from overwinter.climate.sun import day_length_h, equation_of_time_h
from overwinter.model.site import Site

LAST_LIGHT_H = 1.0
"""Dusk is near from this long before sunset, h (judgement: shade, cold and ice come early)."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the household carries: common practice, no source."""

    starts_h: float = 10.0
    """When the work begins, local standard time, h."""
    one_person_min: float = 8.0
    """Minutes for a tree that one person carries, checks included."""
    two_person_min: float = 15.0

    def ends_h(self, people: Iterable[int]) -> float:
        """When the work ends, h, given how many people each carry takes."""
        minutes = sum(self.two_person_min if n > 1 else self.one_person_min for n in people)
        return self.starts_h + minutes / 60.0


def sunset_h(site: Site, day: date) -> float:
    """Sunset in local standard time, h (FAO-56 eq. 31 to 34: flat horizon, no refraction)."""
    day_of_year = float(day.timetuple().tm_yday)
    noon = 12.0 - (site.longitude_deg / 15.0 - site.utc_offset_h)
    noon -= float(equation_of_time_h(day_of_year))
    return noon + float(day_length_h(site.latitude_deg, day_of_year)) / 2.0


def dusk_is_near(site: Site, day: date, people: Iterable[int], pace: Pace) -> bool:
    """Whether the carries, one after the other, run into the last hour before sunset."""
    return pace.ends_h(people) > sunset_h(site, day) - LAST_LIGHT_H


def clock(hours: float) -> str:
    """ "16:52" from hours after midnight."""
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
