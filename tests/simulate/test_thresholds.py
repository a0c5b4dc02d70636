"""Thresholds of the nights, beside brute force and slow loops."""

from itertools import combinations
from math import ceil, inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.simulate.thresholds import (
    FORECAST_ALLOWANCE_K,
    MOST_THRESHOLDS,
    SPARED_K,
    critical_nights_c,
    merged_thresholds_c,
)
from overwinter.units import Display, celsius_to_fahrenheit

METRIC, US = Display(us=False), Display(us=True)
KINDS = st.lists(st.tuples(st.integers(-30, 12), st.integers(1, 30)), min_size=1, max_size=6)


def waiting(chosen: tuple[float, ...], needs: list[tuple[float, int]]) -> float:
    """Money-less cost of thresholds: trees times the kelvins that each is warned too early, and
    ``SPARED_K`` a tree for every threshold."""
    total = 0.0
    for value, trees in needs:
        above = [t for t in chosen if t >= value]
        total += trees * (min(above) - value) if above else inf
    return total + SPARED_K * len(chosen) * sum(trees for _, trees in needs)


@given(KINDS)
def test_thresholds_beside_brute_force(kinds: list[tuple[int, int]]) -> None:
    critical, trees = zip(*kinds, strict=True)
    found = merged_thresholds_c(critical, trees, METRIC)
    needs = [(ceil(c + FORECAST_ALLOWANCE_K), n) for c, n in kinds]
    values = sorted({float(value) for value, _ in needs}, reverse=True)
    best = min(
        waiting(some, needs)
        for size in range(1, MOST_THRESHOLDS + 1)
        for some in combinations(values, size)
    )
    assert 1 <= len(found) <= MOST_THRESHOLDS
    assert waiting(found, needs) == pytest.approx(best)
    assert list(found) == sorted(set(found), reverse=True)


@given(KINDS)
def test_thresholds_are_whole_degrees_of_the_grower(kinds: list[tuple[int, int]]) -> None:
    critical, trees = zip(*[(c + 0.3, n) for c, n in kinds], strict=True)
    for threshold in merged_thresholds_c(critical, trees, US):
        degrees = celsius_to_fahrenheit(threshold)
        assert degrees == pytest.approx(round(degrees), abs=1e-6)
    assert max(merged_thresholds_c(critical, trees, US)) >= max(critical) + FORECAST_ALLOWANCE_K


def test_kinds_that_need_no_warning_begin_no_stage() -> None:
    assert merged_thresholds_c([nan, nan], [3, 4], METRIC) == ()
    assert merged_thresholds_c([], [], METRIC) == ()
    assert merged_thresholds_c([nan, -8.0], [3, 4], METRIC) == (-6.0,)


@given(st.integers(0, 2**32 - 1), st.booleans())
def test_critical_nights_beside_a_slow_loop(seed: int, last: bool) -> None:
    rng = np.random.default_rng(seed)
    kinds, winters, days = 3, 5, 40
    unsafe = rng.random((kinds, winters, days)) < rng.choice([0.0, 0.01, 0.1], (kinds, 1, 1))
    minima = rng.normal(0, 8, (winters, days))
    start, end = 5, 33
    found = critical_nights_c(unsafe, minima, start, end, last)
    for n in range(kinds):
        nights = []
        for w in range(winters):
            bad = [d for d in range(start, end) if unsafe[n, w, d]]
            if bad:
                day = bad[-1] if last else bad[0]
                # the coldest of that night and the two before it
                nights.append(min(minima[w, max(0, d)] for d in (day - 2, day - 1, day)))
        if 2 * len(nights) >= winters:
            assert found[n] == pytest.approx(np.median(nights))
        else:
            assert np.isnan(found[n])
