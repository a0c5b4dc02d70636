"""Thresholds of the nights, beside brute force and slow loops."""

from dataclasses import replace
from itertools import combinations, pairwise
from math import exp, inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import made_site
from simulated import make_kind

from overwinter.climate.stages import FORECAST_ERROR_K, cold_night_days
from overwinter.simulate.exposures import kind_arrays
from overwinter.simulate.follow import State
from overwinter.simulate.thresholds import (
    MOST_THRESHOLDS,
    AtHome,
    Away,
    chosen_signs,
    sign_costs,
    thresholds_c,
    unsafe_days,
    whole_degrees_c,
)
from overwinter.units import Display, celsius_to_fahrenheit

SEEDS = st.integers(0, 2**32 - 1)


def costs_of(seed: int, kinds: int, signs: int) -> np.ndarray:
    """Random costs: each kind has a best sign, before it loss grows and after it waiting."""
    rng = np.random.default_rng(seed)
    best, worth, day = rng.uniform(0, signs, kinds), rng.uniform(10, 900, kinds), rng.uniform(0, 9)
    sign = np.arange(signs)
    late, early = np.maximum(best[:, None] - sign, 0), np.maximum(sign - best[:, None], 0)
    return np.column_stack([worth[:, None] * (1 - np.exp(-late)) + day * early, worth])


def total(costs: np.ndarray, signs: tuple[int, ...], price: float) -> float:
    """Every kind by its best sign or without, and the price of each sign."""
    return sum(min(row[i] for i in (*signs, -1)) for row in costs) + price * len(signs)


def test_signs_beside_brute_force() -> None:
    """Of sixty random collections hardly one is given signs that cost more than the cheapest."""
    ratios, degrees = [], range(14)
    for seed in range(60):
        rng = np.random.default_rng(seed)
        costs, price = costs_of(seed, int(rng.integers(1, 9)), 14), float(rng.uniform(0, 60))
        found = tuple(chosen_signs(costs, price, degrees))
        best = min(
            total(costs, signs, price)
            for size in range(MOST_THRESHOLDS + 1)
            for signs in combinations(degrees, size)
            if all(b - a >= FORECAST_ERROR_K for a, b in pairwise(signs))
        )
        assert all(b - a >= FORECAST_ERROR_K for a, b in pairwise(found))
        assert len(found) <= MOST_THRESHOLDS
        ratios.append(total(costs, found, price) / best)
    assert min(ratios) >= 1.0 - 1e-9
    assert max(ratios) <= 1.1
    assert sum(ratio > 1.0001 for ratio in ratios) <= 2


def test_kinds_that_need_no_sign_begin_no_stage() -> None:
    assert chosen_signs(np.array([[3.0, 2.0, 0.0]]), 0.1, range(2)) == []
    assert chosen_signs(np.array([[3.0, 2.0, 2.05]]), 0.1, range(2)) == []
    assert chosen_signs(np.array([[3.0, 2.0, 0.0], [9.0, 1.0, inf]]), 0.1, range(2)) == [1]


@settings(max_examples=20)
@given(SEEDS)
def test_signs_in_force_stay(seed: int) -> None:
    """Others come beside them where they pay for themselves, and none next to one of them."""
    costs, degrees = costs_of(seed, 6, 14), range(14)
    in_force = [2.0, 9.0]
    found = chosen_signs(costs, 5.0, degrees, in_force)
    assert len(found) <= MOST_THRESHOLDS - len(in_force)
    assert all(abs(i - c) >= FORECAST_ERROR_K for i in found for c in in_force)
    with_all = total(costs, (2, 9, *found), 5.0)
    assert with_all <= total(costs, (2, 9), 5.0) + 1e-9
    assert chosen_signs(costs, 1e9, degrees, in_force) == []


@settings(max_examples=20)
@given(SEEDS)
def test_costs_beside_a_slow_loop(seed: int) -> None:
    """Loss by the worst day before the sign, and safe days from it on, day by day."""
    rng = np.random.default_rng(seed)
    kinds, winters, days = 3, 4, 12
    danger = rng.exponential(0.2, (kinds, winters, days)).astype(np.float32)
    safe = danger < 0.1
    sign = rng.integers(0, days + 1, (2, winters))
    price, day_price = rng.uniform(1, 9, kinds), rng.uniform(0, 1, kinds)
    found = sign_costs(danger, day_price[:, None, None] * safe, sign, price)
    assert found.shape == (kinds, 3)
    for kind in range(kinds):
        for n, first in enumerate((*sign, [days] * winters)):
            cost = 0.0
            for w in range(winters):
                worst = max((danger[kind, w, d] for d in range(first[w])), default=0.0)
                covered = sum(safe[kind, w, d] for d in range(first[w], days))
                cost += price[kind] * (1 - exp(-worst)) + day_price[kind] * covered
            assert found[kind, n] == pytest.approx(cost / winters, rel=1e-5)


def test_a_bed_adds_a_turn_before_the_solstice() -> None:
    """A kind that its stand hurts below -5 and its bed below -15 degC, and that rests ill under a
    roof until the middle of November, is given a sign for each; none after the solstice for a bed
    that hurts below -22 degC in January only."""
    rng = np.random.default_rng(3)
    day = np.arange(270)  # from the first of September
    outdoor = 12.0 - 24.0 * np.exp(-(((day - 140) / 75.0) ** 2)) + rng.normal(0, 3, (30, 270))
    roofed = np.where(day < 75, 0.01, 0.0) * np.ones((1, 30, 1))
    price, a_day = np.array([900.0]), np.array([0.25])

    def below(limit: float) -> np.ndarray:
        return (outdoor < limit)[None] * 3.0

    zero = np.zeros((1, 30, 270))
    stand = AtHome(State(*[zero] * 7), below(-5.0) > 0, below(-5.0), below(-5.0), below(-5.0))
    site = replace(made_site(), display=Display(us=False))

    def signs(bed: np.ndarray | None) -> tuple[float, ...]:
        away = Away(np.array([True]), bed, roofed)
        return thresholds_c(stand, away, outdoor, site, price, a_day)[0]

    assert signs(None)
    assert all(-6.0 <= c <= 2.0 for c in signs(None))
    cold, *mild = signs(below(-15.0))
    assert cold >= -15.0
    assert np.median(cold_night_days(outdoor, cold)) >= 75
    assert mild == list(signs(zero))
    median = [np.median(cold_night_days(outdoor, c)) for c in signs(below(-22.0))]
    assert max(median) < 140


def test_resting_trees_leave_their_stand_before_the_dead_of_winter_or_for_a_rare_cold() -> None:
    """No sign usually comes about January (common practice, no source); tropical trees have one."""
    rng = np.random.default_rng(4)
    day = np.arange(270)  # from the first of September
    mean = 12.0 - 20.0 * np.exp(-(((day - 140) / 75.0) ** 2))
    outdoor = mean + rng.normal(0, 2, (30, 1)) + rng.normal(0, 2, (30, 270))
    hurt = (outdoor < -9.0)[None] * 3.0
    zero = np.zeros((1, 30, 270))
    stand = AtHome(State(*[zero] * 7), hurt > 0, hurt, hurt, hurt)
    price, a_day = np.array([900.0]), np.array([0.25])

    def usual(rests: bool) -> list[float]:
        away = Away(np.array([rests]), None, zero)
        signs = thresholds_c(stand, away, outdoor, made_site(), price, a_day)[0]
        return [float(np.median(cold_night_days(outdoor[:, :180], c))) for c in signs]

    assert any(110 < day < 180 for day in usual(False))
    assert usual(True)
    assert all(day <= 115 or day == 180 for day in usual(True))


def test_what_the_docs_say_of_signs() -> None:
    page = Path(__file__).parents[2] / "docs" / "program.md"
    said = " ".join(page.read_text(encoding="utf-8").split())
    assert MOST_THRESHOLDS == 5
    assert "At most five each way" in said


def test_signs_are_whole_degrees_of_the_grower() -> None:
    assert whole_degrees_c(Display(us=False)) == tuple(float(c) for c in range(-30, 16))
    fahrenheit = [celsius_to_fahrenheit(c) for c in whole_degrees_c(Display(us=True))]
    assert fahrenheit == pytest.approx(range(-22, 60))


def test_a_day_is_unsafe_by_any_part_alone() -> None:
    """Margins at which one tree in two hundred is lost, one flush in ten, two young wall roots in
    five (a fiftieth of the value); a fiftieth by chilling: by hand from the curves of docs/risk.md.
    """
    one, first = make_kind(), replace(make_kind(), young_roots=True)
    kinds = kind_arrays([one, first])
    slope = 3.0 / np.log(99.0)
    whole, flush, young = slope * np.log(199.0), slope * np.log(9.0), slope * np.log(1.5)

    def day(old=9.0, wall=9.0, top=9.0, leaf=9.0, dose=0.0) -> list[bool]:
        parts = [np.full((2, 1, 1), value) for value in (old, wall, top, leaf)]
        return unsafe_days(parts, np.full((2, 1, 1), dose), kinds).ravel().tolist()

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
