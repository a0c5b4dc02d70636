"""What trees meet at places, and the table of harm beside trees on true paths."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from overwinter.files.season import read_season
from overwinter.model.stage import StageDays
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.exposures import Exposures, _smoothed, key_of
from overwinter.simulate.follow import HARMS
from overwinter.simulate.harm_table import Follower

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
MICE = {"rodent_exposure": 0.5}


@pytest.fixture(scope="module")
def followed() -> tuple[Follower, StageDays]:
    """The follower of a tiny winter and its stages."""
    season = read_season(TINY)
    follower = Follower(season, compute_conditions(season))
    return follower, follower.stages()


def test_light_is_the_mean_of_two_weeks() -> None:
    """A fifteenth of a bright day, a week either way; fewer days at the ends."""
    bright = np.zeros((1, 1, 40), dtype=np.float32)
    bright[0, 0, 20] = 15.0
    found = _smoothed(bright)[0, 0]
    assert found[13:28] == pytest.approx(np.ones(15))
    assert found[:13].max() == found[28:].max() == 0.0
    first = np.zeros((1, 1, 40), dtype=np.float32)
    first[0, 0, 0] = 8.0
    assert _smoothed(first)[0, 0, :9] == pytest.approx([8.0 / n for n in range(8, 16)] + [0.0])
    assert _smoothed(first[..., ::-1])[0, 0, -1] == pytest.approx(1.0)


def test_a_path_gathers_what_its_options_have(followed: tuple[Follower, StageDays]) -> None:
    """Day by day from the options' own series, in each winter."""
    follower, _ = followed
    ex = follower.exposures
    rng = np.random.default_rng(1)
    key = key_of(follower.kinds[0])
    every = ex.series(np.arange(len(ex.options)), key)
    paths = rng.integers(0, len(ex.options), (2, ex.winters, ex.days))
    found = ex.series(paths, key)
    for n, w, d in rng.integers(0, (2, ex.winters, ex.days), (200, 3)):
        at = paths[n, w, d]
        for name in vars(every):
            theirs = np.broadcast_to(getattr(every, name), (len(ex.options), ex.winters, ex.days))
            assert getattr(found, name)[n, w, d] == theirs[at, w, d], name


def test_places_differ_in_wind_and_mice() -> None:
    """Under cover drying is three tenths, and mesh leaves a tenth of the mice (docs/risk.md)."""
    bare = read_season(TINY)
    conditions = compute_conditions(bare)
    for guarded, left in ((False, 0.5), (True, 0.05)):
        shelters = [
            replace(one, places=tuple(replace(p, **MICE, guarded=guarded) for p in one.places))
            for one in bare.shelters
        ]
        season = replace(bare, shelters=tuple(shelters))
        ex = Exposures(season, conditions)
        assert ex.rodents == pytest.approx(np.full(len(ex.options), left))
        for at, option in enumerate(ex.options):
            open_air = season.shelter_by_id[option.shelter_id].open_air
            assert ex.shelter_factor[at] == pytest.approx(1.0 if open_air else 0.3)


def test_places_of_one_shelter_may_differ_in_their_air() -> None:
    """`warmer_k` moves the air's minima and chilling (docs/physics.md), not of the first place."""
    bare = read_season(TINY)
    shelters = [
        replace(
            s, places=(s.places[0], replace(s.places[0], id=f"{s.id}/by the door", warmer_k=-3))
        )
        for s in bare.shelters
    ]
    season = replace(bare, shelters=tuple(shelters))
    ex = Exposures(season, compute_conditions(season))
    for shelter in shelters:
        one, two = (ex.air_of[ex.index[place.id, 0]] for place in shelter.places)
        assert ex.air_min_c[two] == pytest.approx(ex.air_min_c[one] - 3.0, abs=1e-4)


def test_the_table_beside_trees_on_true_paths(followed: tuple[Follower, StageDays]) -> None:
    """At home up to a stage and elsewhere in it: what the table says of that stage there.

    Else as known: a tree that comes by a likely path comes as that path made it.
    """
    follower, days = followed
    ex, stages = follower.exposures, len(days.stages)
    home = ex.index[follower.season.site.summer_place, 0]
    elsewhere = [at for at in range(len(ex.options)) if at != home]
    likely = [home if k < stages // 2 else elsewhere[0] for k in range(stages)]
    by_home, by_path = follower.table(days), follower.table(days, {0: likely})
    for table, before in ((by_home, [home] * stages), (by_path, likely)):
        for stage in range(1, stages):
            paths = np.array([before[:stage] + [at] * (stages - stage) for at in elsewhere])
            hazards, _, _ = follower.along([0] * len(paths), paths, days, np.ones(len(paths)))
            found = hazards[:, :, stage]
            assert found.mean(axis=1) == pytest.approx(
                table.by_harm[0, elsewhere, stage], rel=1e-3, abs=1e-5
            )
            lost = (1.0 - np.exp(-found.sum(axis=-1))).mean(axis=1)
            assert lost == pytest.approx(table.chance[0, elsewhere, stage], rel=1e-3, abs=1e-5)
    assert by_home.by_harm.shape[-1] == len(HARMS)


def test_days_that_are_spare_and_chilling_by_slow_loops(
    followed: tuple[Follower, StageDays],
) -> None:
    follower, days = followed
    ex = follower.exposures
    table, unsafe = follower.table(days), follower.home.unsafe
    at = days.stage_of_day
    calendar = follower.calendar
    for kind in range(len(follower.kinds)):
        for stage in range(len(days.stages)):
            spare = [
                sum(not unsafe[kind, w, d] for d in range(ex.days) if at[w, d] == stage)
                for w in range(ex.winters)
            ]
            assert table.spare_days[kind, stage] == pytest.approx(np.mean(spare))
    kind = int(np.argmax(follower.arrays.chill_need))
    need = follower.arrays.chill_need[kind].item()
    series = ex.series(np.arange(len(ex.options)), key_of(follower.kinds[kind]))
    for option in range(0, len(ex.options), 3):
        for stage in range(len(days.stages)):
            here = (at == stage) & calendar.chills
            earned = (np.maximum(series.chill[option], 0.0) * here).sum(axis=1).mean()
            share = table.chill_share[kind, option, stage]
            assert share == pytest.approx(earned / need, rel=1e-3, abs=1e-6)


def test_a_dose_of_chilling_is_that_of_the_place() -> None:
    """Degree-hours below the floor of a tropical kind, hour by hour from the air of its shelter."""
    season = read_season(TINY)
    warm = replace(season.trees[0].limits, air_floor_c=10.0)
    season = replace(season, trees=(replace(season.trees[0], limits=warm), *season.trees[1:]))
    conditions = compute_conditions(season)
    ex = Exposures(season, conditions)
    key = (min(ex.roots), 10.0, False)
    found = ex.series(np.arange(len(ex.options)), key).cold_dose_k_h
    apart = ex.apart(key).cold_dose_k_h
    for at, option in enumerate(ex.options):
        air = np.asarray(conditions.shelters[option.shelter_id].air_c[option.setting])
        lacks = np.maximum(10.0 - air, 0.0).reshape(ex.winters, ex.days, 24).sum(axis=2)
        assert found[at] == pytest.approx(lacks, rel=1e-3, abs=1e-2)
        assert apart[ex.air_of[at]] == pytest.approx(found[at])
        path = np.full((1, ex.winters, ex.days), at)
        assert ex.series(path, key).cold_dose_k_h[0] == pytest.approx(found[at])
    assert found.max() > 0.0
