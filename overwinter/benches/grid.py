"""Lengths as whole tenths of a millimetre: exact for packing, finer than anybody measures a pot."""

import math

UNITS_PER_M = 10_000
_SLACK = 1e-6  # undoes binary fractions: 0.57 m is 5,700 units, not 5,701


def units_up(length_m: float) -> int:
    """Units that cover ``length_m`` (m): for what takes room."""
    return math.ceil(length_m * UNITS_PER_M - _SLACK)


def units_down(length_m: float) -> int:
    """Units inside ``length_m`` (m, finite): for what gives room."""
    return math.floor(length_m * UNITS_PER_M + _SLACK)


def metres(units: int) -> float:
    """``units`` in m."""
    return units / UNITS_PER_M
