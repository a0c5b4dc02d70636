"""Dates that follow from frost: when to cover, when a tree may walk out for good."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.site import Margins
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import hardening_course, working_floor_c

COVER_AFTER_DAYS = (30, 45)
"""Pots are covered this long after the first frost: trade article from an extension text, read."""


def frost_days(daily_min_c: FloatArray, below_c: float = 0.0) -> tuple[int, int] | None:
    """Day indices of the first and the last frost of a series ``(day,)``; None without frost."""
    days = np.flatnonzero(np.asarray(daily_min_c) < below_c)
    return (int(days[0]), int(days[-1])) if days.size else None


def cover_window(first_frost_day: int) -> tuple[int, int]:
    """First and last day index of the customary time to cover hardened pots."""
    first, last = COVER_AFTER_DAYS
    return first_frost_day + first, first_frost_day + last


@dataclass(frozen=True)
class Outdoors:
    """A root zone in the open garden by day, ``(day,)``: daily mean and minimum, degC."""

    mean_c: FloatArray
    min_c: FloatArray


def safe_from(root_min_c: FloatArray, floor_c: FloatArray | float) -> int | None:
    """First day from which ``root_min_c`` never falls below ``floor_c`` again.

    Parameters
    ----------
    root_min_c : ``(day,)``, degC.
    floor_c : a limit or one for each day, degC.

    Returns
    -------
    A day index, or None when the last day is still too cold.
    """
    cold = np.flatnonzero(np.asarray(root_min_c) < floor_c)
    first = int(cold[-1]) + 1 if cold.size else 0
    return first if first < np.size(root_min_c) else None


def walk_out_day(
    tree: Tree,
    margins: Margins,
    sheltered_mean_c: FloatArray,
    outdoors: Outdoors,
    day_length_h: FloatArray,
    start: float = 0.0,
) -> int | None:
    """First day on which a tree may leave its shelter for good.

    What it can stand outdoors depends on how warm it stood: for each candidate day its hardening
    is followed through the shelter up to that day and outdoors from then on.

    Parameters
    ----------
    sheltered_mean_c : ``(day,)``, daily mean root zone in the shelter, degC.
    start : hardening state before the first day.

    Returns
    -------
    The first day from which every walk-out is safe to the end of the series; None when none is.
    """
    days = np.arange(outdoors.mean_c.size)
    outside = days[None, :] >= days[:, None]
    history = np.where(outside, outdoors.mean_c, sheltered_mean_c)
    state = hardening_course(history, tree.limits, day_length_h, start)[:, :-1]
    floor = working_floor_c(
        state,
        tree.root_kill_hardened_c,
        tree.limits.root_kill_unhardened_c,
        margins,
        tree.condition,
    )
    safe = ~((outdoors.min_c < floor) & outside).any(axis=1)
    unsafe = np.flatnonzero(~safe)
    first = int(unsafe[-1]) + 1 if unsafe.size else 0
    return first if first < days.size else None
