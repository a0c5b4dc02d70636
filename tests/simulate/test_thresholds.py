"""Thresholds of the nights, beside brute force and slow loops."""

from dataclasses import replace
from itertools import combinations
from math import inf, nan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated import make_kind

from overwinter.climate.stages import forecast_minima_c, mild_week_days
from overwinter.simulate.exposures import Series, kind_arrays
from overwinter.simulate.follow import Margins, State
from overwinter.simulate.thresholds import (
    CAUGHT_OUT,
    MOST_THRESHOLDS,
    SPARED_DAYS,
    autumn_signs,
    merged_thresholds_c,
    spring_signs,
    unsafe_days,
    whole_degrees_c,
)
from overwinter.units import Display, celsius_to_fahrenheit

METRIC, US = Display(us=False), Display(us=True)
KINDS = st.lists(st.tuples(st.integers(-30, 12), st.integers(1, 30)), min_size=1, max_size=6)
DAY = {float(c): 100.0 - 2.5 * c for c in range(-30, 16)}
"""Usual day of the sign of each temperature, invented: colder nights come later."""


def waiting(chosen: tuple[float, ...], needs: list[tuple[float, int]]) -> float:
    """Days that trees are called too early, and ``SPARED_DAYS`` a tree for every threshold."""
    total = 0.0
    for value, trees in needs:
        above = [t for t in chosen if t >= value]
        total += trees * abs(DAY[min(above)] - DAY[value]) if above else inf
    return total + SPARED_DAYS * len(chosen) * sum(trees for _, trees in needs)


@given(KINDS)
def test_thresholds_beside_brute_force(kinds: list[tuple[int, int]]) -> None:
    needs = [(float(c), n) for c, n in kinds]
    found = merged_thresholds_c(*zip(*needs, strict=True), DAY)
    values = sorted({value for value, _ in needs}, reverse=True)
    best = min(
        waiting(some, needs)
        for size in range(1, MOST_THRESHOLDS + 1)
        for some in combinations(values, size)
    )
    assert 1 <= len(found) <= MOST_THRESHOLDS
    assert waiting(found, needs) == pytest.approx(best)
    assert list(found) == sorted(set(found), reverse=True)


def test_what_the_docs_say_of_signs() -> None:
    page = Path(__file__).parents[2] / "docs" / "program.md"
    said = " ".join(page.read_text(encoding="utf-8").split())
    assert MOST_THRESHOLDS == 5
    assert "At most five each way" in said
    assert pytest.approx(1 / 5) == CAUGHT_OUT
    assert "in four winters of five" in said


@pytest.mark.parametrize(("winters", "needed"), [(4, False), (5, True)])
def test_half_of_the_winters_ask_for_a_sign(winters: int, needed: bool) -> None:
    # A night of -5 degC in so many winters of ten, in autumn and in spring.
    minima = np.full((10, 60), 5.0)
    minima[:winters, [20, 40]] = -5.0
    forecast, degrees = minima.copy(), whole_degrees_c(METRIC)
    unsafe = (minima < 0.0)[None]
    (autumn,), usual = autumn_signs(unsafe, forecast, 30, degrees)
    (spring,), _ = spring_signs(unsafe, minima, forecast, 30, 31, degrees)
    assert np.isfinite([autumn, spring]).tolist() == [needed, needed]
    if needed:
        # The coldest sign that is there in time: that very night; its usual day lies between.
        assert autumn == -5.0
        assert usual[-5.0] == np.median([20] * 5 + [30] * 5)


def test_signs_are_whole_degrees_of_the_grower() -> None:
    assert whole_degrees_c(METRIC) == tuple(float(c) for c in range(-30, 16))
    fahrenheit = [celsius_to_fahrenheit(c) for c in whole_degrees_c(US)]
    assert fahrenheit == pytest.approx(range(-22, 60))


def test_kinds_that_need_no_warning_begin_no_stage() -> None:
    assert merged_thresholds_c([nan, nan], [3, 4], DAY) == ()
    assert merged_thresholds_c([], [], DAY) == ()
    assert merged_thresholds_c([nan, -6.0], [3, 4], DAY) == (-6.0,)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1))
def test_signs_beside_a_slow_loop(seed: int) -> None:
    """The coldest sign that is late in at most ``CAUGHT_OUT`` of the winters, day by day."""
    rng = np.random.default_rng(seed)
    winters, days, turn, not_before = 10, 120, 60, 65
    usual = 4.0 - 14.0 * np.sin(np.linspace(0.0, np.pi, days))
    minima = usual + rng.normal(0, 3, (winters, days))
    forecast = forecast_minima_c(minima, 1)
    unsafe = np.stack([minima < -3.0, minima < 0.5, minima < -99.0])
    degrees = whole_degrees_c(METRIC)
    autumn, _ = autumn_signs(unsafe, forecast, turn, degrees)
    spring, when = spring_signs(unsafe, minima, forecast, turn, not_before, degrees)
    assert np.isnan(autumn[2])
    assert np.isnan(spring[2])
    for kind in range(2):
        first = [min(d for d in range(turn) if unsafe[kind, w, d]) for w in range(winters)]
        last = [max(d for d in range(turn, days) if unsafe[kind, w, d]) for w in range(winters)]

        def late(c: float, first: list[int] = first) -> float:
            signs = [
                next((d for d in range(turn) if forecast[w, d] <= c), turn) for w in range(winters)
            ]
            return sum(f < s for f, s in zip(first, signs, strict=True)) / winters

        def early(c: float, last: list[int] = last) -> float:
            signs = mild_week_days(minima, forecast, c, not_before)
            return sum(x >= s for x, s in zip(last, signs, strict=True)) / winters

        assert autumn[kind] == next((c for c in degrees if late(c) <= CAUGHT_OUT), degrees[-1])
        assert spring[kind] == next((c for c in degrees if early(c) <= CAUGHT_OUT), degrees[-1])
    assert when[-5.0] <= when[5.0]


def test_a_day_is_unsafe_by_any_part_alone() -> None:
    """Margins at which one tree in two hundred is lost, one flush in ten, two young wall roots in
    five (a fiftieth of the value); a fiftieth by chilling: by hand from the curves of docs/risk.md.
    """
    one, first = make_kind(), replace(make_kind(), young_roots=True)
    kinds = kind_arrays([one, first]).shaped(2)
    slope = 3.0 / np.log(99.0)
    whole, flush, young = slope * np.log(199.0), slope * np.log(9.0), slope * np.log(1.5)

    def day(old=9.0, wall=9.0, top=9.0, leaf=9.0, dose=0.0) -> list[bool]:
        parts = [np.full((2, 1, 1), value) for value in (old, wall, top, leaf)]
        zero = np.zeros((2, 1, 1))
        state = State(zero, zero, zero, zero, zero, zero + dose)
        return unsafe_days(series, state, Margins(*parts), kinds).ravel().tolist()

    series = Series(*[np.zeros((2, 1, 1))] * 11)
    assert day() == [False, False]
    for part in ("old", "top"):
        assert day(**{part: whole + 0.01}) == [False, False]
        assert day(**{part: whole - 0.01}) == [True, True]
    assert day(leaf=flush + 0.01) == [False, False]
    assert day(leaf=flush - 0.01) == [True, True]
    assert day(wall=whole - 0.01) == [False, True]  # young roots are all the second has
    assert day(wall=young + 0.01) == [False, True]
    assert day(wall=young - 0.01) == [True, True]
    limit = 200.0 * np.sqrt(0.02)
    assert day(dose=limit - 0.1) == [False, False]
    assert day(dose=limit + 0.1) == [True, True]
