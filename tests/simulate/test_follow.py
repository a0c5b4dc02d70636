"""What follows trees through winters: the curve, the order of harms, and slow loops beside it."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated import LIMITS, any_calendar, any_series, make_kind

from overwinter.files.season import read_season
from overwinter.model.site import Weights
from overwinter.model.species import ChillModel, Harm, LeafHabit
from overwinter.model.stage import StageDays
from overwinter.model.tree import Condition
from overwinter.plants.harm import (
    FLUSH_SHARE,
    YOUNG_ROOT_SHARE,
    dose_hazard,
    freezing_hazard,
    margin_at_chance,
    short_chill_hazard,
)
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.exposures import Kind, Series, kind_arrays
from overwinter.simulate.follow import (
    HARMS,
    Came,
    State,
    air_margins,
    day_sums,
    root_margins,
    short_chill,
    stage_hazards,
    states,
)
from overwinter.simulate.harm_table import Follower, HarmTable

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
WEIGHTS = Weights()
DAYS = 90


def chance(hazard: np.ndarray) -> np.ndarray:
    """Chance that goes with a hazard."""
    return 1.0 - np.exp(-np.asarray(hazard, dtype=np.float64))


def test_the_curve_of_freezing() -> None:
    # Half at the LT50 is its definition; 1 % at 3 K above is the slope's own (a judgement); a
    # logistic is symmetric about its middle.
    assert chance(freezing_hazard(np.array([3.0, 0.0, -3.0]))) == pytest.approx([0.01, 0.5, 0.99])
    assert chance(freezing_hazard(np.array([0.0]), 0.1)) == pytest.approx([0.05])


@given(st.floats(0.001, 0.4), st.sampled_from((1.0, 0.5)))
def test_a_margin_gives_back_its_chance(wanted: float, share: float) -> None:
    margin = np.array([margin_at_chance(wanted, share)])
    assert chance(freezing_hazard(margin, share)) == pytest.approx([wanted], rel=1e-6)


@given(st.floats(-40, 40), st.floats(0, 20))
def test_colder_is_never_safer(margin_k: float, colder_k: float) -> None:
    warm, cold = freezing_hazard(np.array([margin_k, margin_k - colder_k]))
    assert cold >= warm >= 0.0


def test_other_curves_at_points_that_their_words_name() -> None:
    assert chance(dose_hazard(np.array([200.0, 20.0]), np.array(200.0))) == pytest.approx(
        [0.5, 0.0099], abs=1e-4
    )
    assert chance(short_chill_hazard(np.array([0.0, 1.0]))) == pytest.approx([0.0, 0.5])


def hazards_of(series: Series, kind: Kind, first_day: np.ndarray) -> np.ndarray:
    """Hazards of one kind in weather, ``(n, winter, stage, harm)``."""
    kinds, calendar = kind_arrays([kind]), any_calendar(series.core_min_c.shape[-1])
    state = states(series, kinds, calendar)
    return stage_hazards(series, state, kinds, calendar, WEIGHTS, first_day)


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1), st.floats(0.1, 8.0))
def test_hazards_grow_with_the_coldest_of_the_days(seed: int, colder_k: float) -> None:
    series = any_series(np.random.default_rng(seed), (1, 2, DAYS))
    # Minima alone fall; means stay, so hardening is as it was or (by frost) further.
    cold = replace(
        series,
        wall_min_c=series.wall_min_c - np.float32(colder_k),
        air_min_c=series.air_min_c - np.float32(colder_k),
        cold_dose_k_h=series.cold_dose_k_h + np.float32(6 * colder_k),
    )
    first = np.array([[0, 0], [30, 40]])
    kind = make_kind(top_kill_unhardened_c=-30.0, rest_ceiling_c=None)
    before, after = hazards_of(series, kind, first), hazards_of(cold, kind, first)
    for harm in (Harm.YOUNG_ROOTS, Harm.TOP, Harm.NEW_LEAVES, Harm.CHILLING):
        at = HARMS.index(harm)
        assert (after[..., at] >= before[..., at]).all()


def test_a_weak_tree_is_lost_sooner_and_a_strong_one_later() -> None:
    series = any_series(np.random.default_rng(5), (1, 3, DAYS))
    first = np.zeros((1, 3), dtype=np.intp)
    weak, ordinary, strong = (
        hazards_of(series, make_kind(condition), first)[..., HARMS.index(Harm.OLD_ROOTS)].mean()
        for condition in (Condition.WEAK, Condition.ORDINARY, Condition.STRONG)
    )
    assert weak > ordinary > strong > 0.0


@settings(max_examples=15)
@given(st.integers(0, 2**32 - 1))
def test_a_stage_beside_a_slow_loop(seed: int) -> None:
    """The worst day of a stage freezes, all its days add up; a stage without days does nothing."""
    rng = np.random.default_rng(seed)
    winters, stages = 3, 6
    kinds = kind_arrays([make_kind(), make_kind(Condition.WEAK, root_kill_c=-9.0)])
    series, calendar = any_series(rng, (2, winters, DAYS)), any_calendar(DAYS)
    first = np.sort(rng.integers(0, DAYS, (stages, winters)), axis=0)
    first[0] = 0
    first[3] = first[2]  # never lasts a day
    state = states(series, kinds, calendar)
    found = stage_hazards(series, state, kinds, calendar, WEIGHTS, first)
    parts = [
        *root_margins(series, state.hardening, kinds),
        *air_margins(series, state.top_hardening, state.warmth_k_d, kinds),
    ]
    today, *sums = day_sums(series, state, kinds, calendar, WEIGHTS)
    share = kinds.young_share
    for n, w, k in np.ndindex(2, winters, stages):
        end = first[k + 1, w] if k + 1 < stages else DAYS
        days = range(int(first[k, w]), int(end))
        expected = [0.0] * len(HARMS)
        if days:
            worst = [min(float(part[n, w, d]) for d in days) for part in parts]
            shares = (1.0, share[n].item(), 1.0, FLUSH_SHARE)
            expected[:4] = [
                float(freezing_hazard(np.array(m), s)) for m, s in zip(worst, shares, strict=True)
            ]
            dose = max(float(state.dose_k_h[n, w, d]) for d in days)
            expected[4] = float(np.log1p((dose / 200.0) ** 2))
            expected[5:] = [sum(float(part[n, w, d]) for d in days) for part in sums]
            before, after = (sum(today[n, w, :d].tolist()) for d in (days[0], int(end)))
            expected[6] += float(np.log1p((after / 150) ** 2) - np.log1p((before / 150) ** 2))
        assert found[n, w, k] == pytest.approx(expected, rel=1e-4, abs=1e-6)


def test_coming_as_one_is_changes_nothing() -> None:
    """A tree that comes to each stage in the state it had anyway goes on as it was."""
    rng = np.random.default_rng(8)
    series, calendar = any_series(rng, (1, 4, DAYS)), any_calendar(DAYS)
    kinds = kind_arrays([make_kind()])
    alone = states(series, kinds, calendar)
    comes = rng.random((4, DAYS)) < 0.1
    comes[:, 0] = True
    again = states(series, kinds, calendar, Came(alone, comes))
    for name in ("hardening", "top_hardening", "chill", "warmth_k_d", "bud", "dark_d"):
        assert getattr(again, name) == pytest.approx(getattr(alone, name), abs=1e-6)
    assert (again.dose_k_h <= alone.dose_k_h + 1e-3).all()


def test_a_dose_of_chilling_beside_a_slow_loop() -> None:
    # Four fifths of it are left a day later (a judgement).
    series, calendar = any_series(np.random.default_rng(9), (1, 2, DAYS)), any_calendar(DAYS)
    found = states(series, kind_arrays([make_kind()]), calendar).dose_k_h
    for w in range(2):
        dose = 0.0
        for d in range(DAYS):
            dose = 0.8 * dose + float(series.cold_dose_k_h[0, w, d])
            assert found[0, w, d] == pytest.approx(dose, rel=1e-4)


def test_warm_hours_take_no_chilling_away() -> None:
    """Days of minus 24 Utah units leave what was earned."""
    series = any_series(np.random.default_rng(1), (1, 2, 60))
    chill = np.where(np.arange(60) < 30, 10.0, -24.0) * np.ones_like(series.chill)
    kinds, calendar = kind_arrays([make_kind()]), any_calendar(60)
    found = states(replace(series, chill=chill.astype(np.float32)), kinds, calendar).chill
    assert (np.diff(found, axis=-1) >= 0.0).all()
    assert found[0, 0, -1] > 0.0


def test_a_tree_that_joins_owes_a_part_of_its_chilling() -> None:
    series, calendar = any_series(np.random.default_rng(2), (1, 3, DAYS)), any_calendar(DAYS)
    kinds = kind_arrays([make_kind(chill_need=2000.0)])
    state = states(series, kinds, calendar)
    earned = state.chill[..., -1]
    assert (earned > 0).all()
    assert short_chill(state, kinds) == pytest.approx(1 - earned / 2000)
    assert short_chill(state, kinds, 0.6) == pytest.approx(np.clip(1 - earned / 1200, 0, 1))


@pytest.fixture(scope="module")
def tabled() -> tuple[Follower, StageDays, HarmTable]:
    """The follower of a tiny winter, with its stages and its table."""
    season = read_season(TINY)
    follower = Follower(season, compute_conditions(season))
    stage_days = follower.stages()
    return follower, stage_days, follower.table(stage_days)


def test_a_tree_that_never_moves_meets_what_the_table_says(
    tabled: tuple[Follower, StageDays, HarmTable],
) -> None:
    follower, stage_days, table = tabled
    kinds = range(len(follower.kinds))
    home = follower.exposures.index[follower.season.site.summer_place, 0]
    paths = np.full((len(kinds), len(stage_days.stages)), home)
    hazards, _, missing = follower.along(kinds, paths, stage_days, np.ones(len(kinds)))
    # No kind here is chilled above freezing, so no dose is carried from stage to stage.
    assert hazards[..., HARMS.index(Harm.CHILLING)].max() == 0.0
    alone = chance(hazards.sum(axis=-1)).mean(axis=1)
    assert alone == pytest.approx(table.chance[:, home], abs=1e-5)
    assert hazards.mean(axis=1) == pytest.approx(table.by_harm[:, home], abs=1e-5)
    share = table.chill_share[:, home].sum(axis=-1)
    owes = follower.arrays.chill_need.ravel() > 0
    short = np.clip(1 - share, 0, 1)[owes]
    assert missing.mean(axis=1)[owes] == pytest.approx(short, abs=0.1)


def test_along_is_the_same_for_trees_alone_and_together(
    tabled: tuple[Follower, StageDays, HarmTable],
) -> None:
    follower, stage_days, _ = tabled
    rng = np.random.default_rng(4)
    kinds = [0, 1, 2, 0, 1, 2]
    options = len(follower.exposures.options)
    paths = rng.integers(0, options, (6, len(stage_days.stages)))
    together, short, _ = follower.along(kinds, paths, stage_days, np.ones(6))
    for i in range(6):
        one, alone, _ = follower.along([kinds[i]], paths[i : i + 1], stage_days, np.ones(1))
        assert one[0] == pytest.approx(together[i], abs=1e-6)
        assert alone[0] == pytest.approx(short[i], abs=1e-6)


def test_leaves_in_the_dark_cost_strength_until_they_are_down() -> None:
    """A deciduous tree in a warm dark place: 0.4 % a day in full leaf (a judgement), none bare."""
    series = any_series(np.random.default_rng(3), (1, 1, DAYS))
    series = replace(
        series,
        air_mean_c=np.full_like(series.air_mean_c, 12.0),
        dli_mol_m2_d=np.zeros_like(series.dli_mol_m2_d),
        warmth_k_d=np.zeros_like(series.warmth_k_d),
    )
    leaves = np.linspace(1.0, -0.5, DAYS, dtype=np.float32).clip(0.0)[None]
    calendar = replace(any_calendar(DAYS), leaves=leaves, first_day=date(2026, 10, 1).toordinal())
    kind = make_kind(leaf=LeafHabit.DECIDUOUS)
    for one, expected in (
        (kind, leaves[0]),
        (replace(kind, leaves_down=date(2026, 10, 11)), (np.arange(DAYS) < 10).astype(float)),
    ):
        kinds = kind_arrays([one])
        state = states(series, kinds, calendar)
        dark = day_sums(series, state, kinds, calendar, WEIGHTS)[2]
        assert dark[0, 0] == pytest.approx(0.004 * expected)


def test_an_evergreen_bears_a_few_weeks_in_the_dark_and_no_warm_winter() -> None:
    """Spruces and a pine stood 13 days in sealed bags at 15 degC unharmed, azaleas are cooled for 6
    weeks at 3.5 to 7.2 degC and lose leaves (docs/species.md). A winter at 10 degC takes half."""
    kinds, calendar = kind_arrays([make_kind(leaf=LeafHabit.EVERGREEN)]), any_calendar(180)
    for air_c, days, least, most in (
        (15.0, 13, 0.0, 0.02),
        (7.0, 15, 0.0, 0.01),
        (6.0, 42, 0.02, 0.06),
        (10.0, 150, 0.45, 0.55),
        (20.0, 75, 0.45, 0.55),
    ):
        series = any_series(np.random.default_rng(3), (1, 1, 180))
        dark = np.where(np.arange(180) < days, 0.0, 50.0)[None, None]
        air = np.full_like(series.air_mean_c, air_c)
        series = replace(series, air_mean_c=air, dli_mol_m2_d=dark, warmth_k_d=0.0 * air)
        state = states(series, kinds, calendar)
        for first in (np.zeros((1, 1), dtype=np.intp), np.arange(0, 180, 30)[:, None]):
            # however the winter is parted into stages
            found = stage_hazards(series, state, kinds, calendar, WEIGHTS, first)
            assert least <= chance(found[..., HARMS.index(Harm.DARK)].sum()) <= most, air_c


def test_arrays_hold_the_limits_of_each_kind() -> None:
    """Floors and ceilings that a kind lacks are out of reach; young roots weigh more at first."""
    plain = make_kind()
    bare = make_kind(
        air_floor_c=None, rest_ceiling_c=None, leaf=LeafHabit.DECIDUOUS, chill_model=ChillModel.UTAH
    )
    arrays = kind_arrays([plain, bare, replace(plain, young_roots=True)])
    assert arrays.chill_injury_k_h[0] == 200.0
    assert arrays.rest_ceiling_c[0] == 8.0
    assert arrays.rest_ceiling_c[1] > 100.0
    assert list(arrays.rests.flat) == [1.0, 0.0, 1.0]
    assert list(arrays.evergreen.flat) == [1.0, 0.0, 1.0]
    assert arrays.young_share.ravel() == pytest.approx([YOUNG_ROOT_SHARE, YOUNG_ROOT_SHARE, 0.6])
    for name in ("harden_days", "harden_below_c", "deharden_above_c", "drying", "chill_need"):
        assert getattr(arrays, name)[0] == pytest.approx(getattr(LIMITS, name)), name
    assert arrays.chill_need.shape == (3, 1, 1)
    assert arrays.of(np.array([1])).rests[0] == 0.0
    none = kind_arrays([make_kind(bud_break_k_d=0.0, light_floor_mol_m2_d=0.0)])
    assert none.bud_break_k_d[0] > 0.0
    assert none.light_floor_mol_m2_d[0] > 0.0


def test_what_adds_up_day_by_day() -> None:
    """Rest, drying and mice of one day each, by their rates (docs/risk.md) and worked by hand."""
    series = any_series(np.random.default_rng(4), (1, 1, DAYS))
    full = np.ones_like(series.core_mean_c)
    series = replace(
        series,
        core_mean_c=-2.0 * full,
        air_mean_c=11.0 * full,
        dli_mol_m2_d=10.0 * full,
        shelter_factor=0.3 * full[..., :1],
        warmth_k_d=0.0 * full,
    )
    calendar = any_calendar(DAYS)
    kinds = kind_arrays([make_kind(rodent_appeal=0.5)])
    state = states(series, kinds, calendar)
    _, restless, _, _, drying, rodents = day_sums(series, state, kinds, calendar, WEIGHTS)
    shortest = int(calendar.day_length_h.argmin())
    assert calendar.day_length_h[shortest] < 10.0 < calendar.day_length_h[0]
    assert restless[0, 0, shortest] == pytest.approx(0.0002 * 3.0)  # 11 degC, ceiling 8
    assert restless[0, 0, 0] == 0.0
    assert drying[0, 0, 0] == pytest.approx(0.0005 * 0.5 * 0.5 * 0.3)
    assert rodents[0, 0, shortest] == pytest.approx(0.4 * 0.5 * WEIGHTS.rodent_share / 180.0)
    assert list(rodents[0, 0] > 0.0) == [hours < 11.0 for hours in calendar.day_length_h]
    assert list(restless[0, 0] > 0.0) == [hours < 10.0 for hours in calendar.day_length_h]
    thawed = replace(series, core_mean_c=-0.5 * full)
    assert day_sums(thawed, state, kinds, calendar, WEIGHTS)[4].max() == 0.0


def test_leaves_that_open_under_a_roof_are_soft() -> None:
    """Three hundredths of the value with all of them, and 10 mol of light a day while they open."""
    series = any_series(np.random.default_rng(4), (1, 1, DAYS))
    full = np.ones_like(series.core_mean_c)
    series = replace(
        series,
        warmth_k_d=9.0 * full,
        chill=90.0 * full,
        air_mean_c=9.0 * full,
        dli_mol_m2_d=5 * full,
    )
    roof = replace(series, shelter_factor=0.3 * full[..., :1])
    kinds, calendar = kind_arrays([make_kind(leaf=LeafHabit.DECIDUOUS)]), any_calendar(DAYS)
    state = states(series, kinds, calendar)
    assert state.bud[0, 0, -1] == 1.0
    _, _, dark, soft, _, _ = day_sums(roof, state, kinds, calendar, WEIGHTS)
    assert soft.sum() == pytest.approx(0.03, rel=0.05)  # but for a part of the first day
    assert dark[0, 0, -1] == pytest.approx(0.004 * 0.5**2)
    assert day_sums(series, state, kinds, calendar, WEIGHTS)[3].max() == 0.0


def test_seasons_of_the_sun() -> None:
    calendar = any_calendar(DAYS)
    length = calendar.day_length_h
    first = int((length < 12.0).argmax())
    assert not calendar.chills[:first].any()
    assert calendar.chills[first:].all()
    assert list(calendar.wakes) == [day >= length.argmin() for day in range(DAYS)]


def test_margins_slide_with_hardness_and_opening_buds() -> None:
    """Limits at none, half and full of each state, by hand from the invented kind."""
    shape = (1, 1, 3)

    def at(*values: float) -> np.ndarray:
        return np.array(values, dtype=np.float32).reshape(shape)

    zero = at(0.0, 0.0, 0.0)
    series = replace(Series(*[zero] * 11), core_min_c=zero - 2.0, wall_min_c=zero - 3.0)
    state = State(at(0.0, 0.5, 1.0), at(0.0, 0.5, 1.0), zero, at(0.0, 50.0, 150.0), *[zero] * 3)
    kinds = kind_arrays([make_kind()])
    old, young = root_margins(series, state.hardening, kinds)
    assert old.ravel() == pytest.approx([3.0, 8.0, 13.0])
    assert young.ravel() == pytest.approx([2.0, 5.0, 5.0])
    top, leaves = air_margins(series, state.top_hardening, state.warmth_k_d, kinds)
    assert top.ravel() == pytest.approx([6.0, 18.0, 30.0])
    assert leaves.ravel() == pytest.approx([30.0, 16.5, 3.0])
    never = kind_arrays([make_kind(rest_ceiling_c=None)])
    leaves = air_margins(series, state.top_hardening, state.warmth_k_d, never)[1]
    assert leaves.ravel() == pytest.approx([30.0, 30.0, 30.0])


def test_a_tree_restarts_in_the_winters_that_say_so() -> None:
    series, calendar = any_series(np.random.default_rng(6), (1, 2, DAYS)), any_calendar(DAYS)
    kinds = kind_arrays([make_kind()])
    alone = states(series, kinds, calendar)
    day, restart = DAYS // 2, np.zeros((2, DAYS), dtype=np.bool_)
    restart[0, day] = restart[:, 0] = True
    bare = State(*(np.zeros_like(part) for part in alone))
    again = states(series, kinds, calendar, Came(bare, restart))
    for name in ("hardening", "top_hardening", "chill"):
        now, before = getattr(again, name)[0], getattr(alone, name)[0]
        assert before[0, day] > 0.0
        assert now[0, day] == 0.0
        assert now[0, :day] == pytest.approx(before[0, :day])
        assert now[1] == pytest.approx(before[1])


def test_a_warm_day_takes_as_many_kelvins_from_the_top_as_from_the_roots() -> None:
    """Roots of the invented kind gain 10 K by hardening, its top 24 K: 5 K of warmth above 7 degC
    take 5 % of the roots' state, so half a kelvin, and as much of the top. Until the shortest day
    rest holds the top."""
    series, calendar = any_series(np.random.default_rng(7), (1, 1, DAYS)), any_calendar(DAYS)
    shortest = int(calendar.day_length_h.argmin())
    cold = np.full((1, 1, DAYS), -3.0, dtype=np.float32)
    for warm_day, lost_k in ((shortest + 5, 0.5), (shortest - 1, 0.0)):
        mean = cold.copy()
        mean[..., warm_day:] = 12.0
        series = replace(series, core_mean_c=mean, core_min_c=mean, air_mean_c=mean, air_min_c=mean)
        state = states(series, kind_arrays([make_kind()]), calendar)
        roots, top = state.hardening[0, 0], state.top_hardening[0, 0]
        assert roots[warm_day] == top[warm_day] == 1.0
        assert 10.0 * (1.0 - roots[warm_day + 1]) == pytest.approx(0.5, abs=1e-4)
        assert 24.0 * (1.0 - top[warm_day + 1]) == pytest.approx(lost_k, abs=1e-4)
    # A top that hardens by less than its roots softens no faster than they do.
    stiff = make_kind(top_kill_unhardened_c=-26.0)
    top = states(series, kind_arrays([stiff]), calendar).top_hardening[0, 0]
    assert float(top[shortest] - top[shortest + 1]) == pytest.approx(0.05, abs=1e-5)
