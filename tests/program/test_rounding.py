"""Whole carry days from the shares of a relaxation, on tiny random winters (``tiny.py``)."""

import numpy as np
import pytest
from tiny import random_data

from overwinter.planning.rounding import ANY, fix_days, value
from overwinter.planning.winters import Winters
from overwinter.program.build import build

TOLERANCE = 1e-6
SEEDS = range(60)


def relaxed(seed: int) -> Winters:
    """A winter of few trees and four spells."""
    winters = Winters(build(random_data(seed, trees=5, spell_count=4), may_leave_out=True))
    winters.relax(TOLERANCE)
    return winters


def shares(winters: Winters) -> np.ndarray:
    """Of the carry days at the point found last, ``(day,)``."""
    return np.array([value(v) for v in winters.model.carry_day.values()])


def with_all_of_any_share(winters: Winters) -> float:
    """What it costs to have all days with a share, the largest first while there are days."""
    days = list(winters.model.carry_day.values())
    order = np.argsort(-shares(winters), kind="stable")
    few = order[: winters.model.data.start.carry_days_left]
    chosen = [d for d in few.tolist() if value(days[d]) > ANY]
    columns = np.array([winters.column_of[id(v)] for v in days])
    held = np.isin(np.arange(len(days)), chosen).astype(float)
    winters.hold(columns, held, held)
    winters.relax(TOLERANCE)
    return winters.objective


@pytest.mark.parametrize("seed", SEEDS)
def test_carry_days_come_out_whole_and_no_more_than_there_are(seed: int) -> None:
    """And what is decided costs no less than before."""
    winters = relaxed(seed)
    before = winters.objective
    fix_days(winters, TOLERANCE)
    decided = shares(winters)
    assert np.abs(decided - decided.round()).max() < ANY
    assert decided.round().sum() <= winters.model.data.start.carry_days_left
    assert winters.objective >= before - 1e-5 * max(1.0, before)


def test_days_in_turn_are_the_better_ones_where_they_are_few() -> None:
    """Against all days with any share at once: far more often cheaper than dearer."""
    cheaper = dearer = 0
    for seed in SEEDS:
        winters, others = relaxed(seed), relaxed(seed)
        fix_days(winters, TOLERANCE)
        at_once = with_all_of_any_share(others)
        cheaper += winters.objective < at_once - 1e-3
        dearer += winters.objective > at_once + 1e-3
    assert cheaper > 2 * dearer
    assert cheaper > 0
