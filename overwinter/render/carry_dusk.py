"""How long the carries of a stage take, and on how many days they end before dusk."""

from collections.abc import Sequence
from datetime import date

from overwinter.climate.sun import sunset_h
from overwinter.model.site import Pace, Site

LAST_LIGHT_H = 1.0
"""Work ends this long before sunset, h (judgement: shade, cold and ice come early)."""


def days_of_work(site: Site, day: date, people: Sequence[int], pace: Pace) -> list[int]:
    """For each carry in turn the day it is done on, counted from 1.

    A day ends before the last hour of daylight; what does not fit begins the next one.
    """
    ends_h = sunset_h(site, day) - LAST_LIGHT_H
    number, done = 1, 0
    found: list[int] = []
    for turn in range(len(people)):
        if turn > done and pace.ends_h(people[done : turn + 1]) > ends_h:
            number, done = number + 1, turn
        found.append(number)
    return found


def hours_of_work(people: Sequence[int], pace: Pace) -> float:
    """How long the carries take one after the other, h."""
    return pace.ends_h(people) - pace.starts_h


def clock(hours: float) -> str:
    """ "16:52" from hours after midnight."""
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
