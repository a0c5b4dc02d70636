"""The starter folder: commented, invented, read without a problem, written over nothing."""

from pathlib import Path

import pytest

from overwinter.files.season import read_season
from overwinter.files.shelter_kinds import NAMES, starter_files, write_folder
from overwinter.problems import UserError


def test_it_reads_without_a_problem(tmp_path: Path) -> None:
    # As it stands; and says that its grower is invented.
    assert write_folder(tmp_path / "winter", starter_files()) == sorted(NAMES)
    season = read_season(tmp_path / "winter")
    assert season.site.invented
    assert len(season.trees) >= 10
    assert len({tree.species_key for tree in season.trees}) >= 8
    assert any(tree.joins for tree in season.trees)
    assert any(shelter.thermometer for shelter in season.shelters)
    assert any(shelter.heaters for shelter in season.shelters)


def test_every_file_says_it_is_invented_and_is_commented() -> None:
    # Demo data is our own invention and says so.
    for name, content in starter_files().items():
        text = content.decode("utf-8")
        if name == "species.csv":
            continue
        assert "invented" in text.lower(), name
        assert "#" in text, name


def test_cautions_stand_where_heaters_are() -> None:
    # Heaters, cords, fuel: local codes and licensed people.
    text = starter_files()["shelters.toml"].decode("utf-8")
    for word in ("cords", "fuel", "licensed", "local codes"):
        assert word in text


@pytest.mark.parametrize("name", NAMES)
def test_a_user_file_is_never_written_over(name: str, tmp_path: Path) -> None:
    # Nothing at all is written then.
    (tmp_path / name).write_text("mine")
    with pytest.raises(UserError, match="left alone"):
        write_folder(tmp_path, starter_files())
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"
