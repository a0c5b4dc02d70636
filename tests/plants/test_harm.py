"""Dose responses at the figures that docs/risk.md gives for them (judgements unless said there)."""

from dataclasses import replace

import numpy as np
import pytest

from overwinter.model.tree import Condition
from overwinter.plants import harm
from overwinter.simulate.exposures import Kind, kind_arrays


def chance(hazard: np.ndarray | float) -> float:
    return float(1.0 - np.exp(-np.asarray(hazard, dtype=np.float64)))


def test_freezing() -> None:
    # "1 % at 3 K above, half at the LT50"; young roots a fiftieth, six tenths after repotting; a
    # flush a twentieth.
    for share, lost in (
        (1.0, 0.5),
        (harm.YOUNG_ROOT_SHARE, 0.01),
        (harm.ALL_YOUNG_SHARE, 0.3),
        (harm.FLUSH_SHARE, 0.025),
    ):
        assert chance(harm.freezing_hazard(np.array(0.0), share)) == pytest.approx(lost)
    assert chance(harm.freezing_hazard(np.array(3.0))) == pytest.approx(0.01)
    assert harm.freezing_hazard(np.array(-1000.0)) == pytest.approx(-np.log(1e-4), rel=1e-6)
    assert chance(harm.freezing_hazard(np.array(1000.0))) < 1e-12


def test_no_root_dies_of_frost_where_nothing_is_frozen() -> None:
    # docs/risk.md: none at 0 degC, in full from -1 on; between them it rises without a step.
    zone = np.linspace(-5.0, 5.0, 401)
    for lt50 in (-1.0, -3.0, -8.0):
        hazard = harm.freezing_hazard(harm.frost_in_roots_c(zone) - lt50)
        usual = harm.freezing_hazard(zone - lt50)
        assert (np.diff(hazard) <= 0).all()
        assert hazard[zone <= -1.0] == pytest.approx(usual[zone <= -1.0])
        assert hazard[zone >= 0.0].max() < 1e-6
        assert (hazard <= usual).all()


def test_too_little_cold_and_chilled() -> None:
    # Half of the value without any chilling, an eighth where half of it lacks.
    short = harm.short_chill_hazard(np.array([1.0, 0.5, 0.0, 2.0, -1.0]))
    assert [chance(h) for h in short] == pytest.approx([0.5, 0.125, 0.0, 0.5, 0.0])
    assert chance(harm.dose_hazard(np.array(50.0), np.array(50.0))) == pytest.approx(0.5)


def test_rates_and_thresholds_of_the_docs() -> None:
    assert pytest.approx(1 - 1 / 5) == harm.RECOVERY_PER_DAY  # "a day mends a fifth"
    assert pytest.approx(0.0002) == harm.RESTLESS_PER_K_D
    assert pytest.approx(0.0005) == harm.DRYING_PER_DAY
    assert pytest.approx(0.3) == harm.SHELTERED_DRYING
    # A clear late-winter day at 40 to 45 N: 9 to 10 MJ/m2 x 2.1 mol/MJ.
    assert 18.0 <= harm.FULL_SUN_MOL_M2_D <= 21.0
    assert harm.FROZEN_C == -1.0


def test_a_weak_tree_dies_two_kelvins_warmer_and_a_strong_one_a_kelvin_colder(table) -> None:
    ordinary = Kind(table["acer-palmatum"].limits, 5.0, False, Condition.ORDINARY)
    for condition, shift in ((Condition.WEAK, 2.0), (Condition.STRONG, -1.0)):
        own, other = kind_arrays([ordinary]), kind_arrays([replace(ordinary, condition=condition)])
        for name in (
            "root_kill_c",
            "root_kill_unhardened_c",
            "root_kill_young_c",
            "top_kill_c",
            "top_kill_unhardened_c",
            "new_leaf_kill_c",
        ):
            assert getattr(other, name) - getattr(own, name) == pytest.approx(shift), name
        assert other.rest_ceiling_c == own.rest_ceiling_c
