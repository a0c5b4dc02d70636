"""The fingerprint changes with what a plan is computed from, and with nothing else."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from folders import GOOD, good_folder, replaced

from overwinter.files.plan_file import season_fingerprint
from overwinter.files.season import read_season
from overwinter.model.season import Season


@cache
def good() -> str:
    return season_fingerprint(read_season(GOOD))


def changed(tmp_path: Path, file: str, *changes: tuple[str, str]) -> Season:
    folder = good_folder(tmp_path)
    replaced(folder, file, *changes)
    return read_season(folder)


@pytest.mark.parametrize(
    ("file", "before", "after"),
    [
        ("trees.csv", "Maple,", "# a comment\nMaple,"),
        ("site.toml", "name =", "# a comment\nname ="),
        ("site.toml", "invented = true", "invented = true\nwinters = 30"),
        ("shelters.toml", 'id = "cellar"', 'id = "cellar"\nnote = "dry"'),
        ("shelters.toml", "width_m = 2.5", "width_cm = 250"),
    ],
)
def test_what_does_not_count(file: str, before: str, after: str, tmp_path: Path) -> None:
    # Comments, notes, defaults written out, the same number in another unit.
    assert season_fingerprint(changed(tmp_path, file, (before, after))) == good()


@pytest.mark.parametrize(
    ("file", "before", "after"),
    [
        ("trees.csv", "50,60,14", "50,61,14"),
        ("trees.csv", "strong", "weak"),
        ("trees.csv", "cellar,,", "garden,,"),
        ("site.toml", "per_kwh = 0.32", "per_kwh = 0.33"),
        ("site.toml", "invented = true", "invented = true\nseed = 2"),
        ("site.toml", "invented = true", "invented = true\nwinters = 31"),
        ("site.toml", "mean_min_c = -3, mean_max_c = 4", "mean_min_c = -3, mean_max_c = 4.1"),
        ("shelters.toml", "hold_c = [2, 5]", "hold_c = [2, 6]"),
        ("shelters.toml", "opens = 2026-10-20", "opens = 2026-10-21"),
    ],
)
def test_what_counts(file: str, before: str, after: str, tmp_path: Path) -> None:
    # Sizes, condition, places, prices, weather, heaters, dates.
    assert season_fingerprint(changed(tmp_path, file, (before, after))) != good()


def test_differences_below_a_millionth_do_not_count() -> None:
    # Other machines may estimate an hour differently in its last bits.
    season = read_season(GOOD)
    nearly = replace(season.winters, sun_w_m2=season.winters.sun_w_m2 * (1 + 1e-15))
    assert season_fingerprint(replace(season, winters=nearly)) == good()
