"""The shipped table, and a grower's own laid over it."""

from pathlib import Path

import pytest

from overwinter.files.findings import Findings
from overwinter.files.species_table import LIMIT_FIELDS, read_species, shipped_species
from overwinter.model.species import ChillModel, LeafHabit, Standing


def laid_over(tmp_path: Path, text: str):
    (tmp_path / "species.csv").write_text(text, encoding="utf-8")
    findings = Findings()
    return read_species(tmp_path / "species.csv", findings).species, findings


def test_every_shipped_number_says_where_it_comes_from() -> None:
    # At least 60 species or groups, each limit with a source of a known standing.
    table = shipped_species()
    assert len(table) >= 60
    for kind in table.values():
        assert set(kind.sources) == set(LIMIT_FIELDS), kind.key
        standings = {source.standing for source in kind.sources.values()}
        assert Standing.GROWER not in standings, kind.key


def test_a_known_key_replaces_what_is_filled_in(tmp_path: Path) -> None:
    # 14 degF is -10 degC; blank cells leave the table's figures and sources.
    text = "key,root_kill_f,root_kill_c_source,rest_ceiling_c\nolea-europaea,23,,\n"
    table, findings = laid_over(tmp_path, text)
    assert findings.problems == []
    mine, shipped = table["olea-europaea"], shipped_species()["olea-europaea"]
    assert mine.limits.root_kill_c == pytest.approx(-5.0)
    assert mine.sources["root_kill_c"].standing is Standing.GROWER
    assert mine.sources["air_floor_c"] == shipped.sources["air_floor_c"]
    assert mine.limits.root_kill_young_c == shipped.limits.root_kill_young_c
    assert mine.synonyms == shipped.synonyms


def test_a_limit_can_be_taken_away(tmp_path: Path) -> None:
    # "none" is a value; a blank cell is not.
    table, _ = laid_over(tmp_path, "key,air_floor_c,rest_ceiling_c\nacer-palmatum,,none\n")
    assert table["acer-palmatum"].limits.rest_ceiling_c is None
    assert shipped_species()["acer-palmatum"].limits.rest_ceiling_c is not None


def test_a_new_key_takes_the_rest_from_its_group(tmp_path: Path) -> None:
    # What the group gives says that it is the group's.
    text = "key,latin,group,root_kill_c,root_kill_c_source\n"
    text += "my-plum,Prunus mine,fruit-tree,-7,read: my notebook\n"
    table, findings = laid_over(tmp_path, text)
    assert findings.problems == []
    plum, group = table["my-plum"], table["fruit-tree"]
    assert (plum.latin, plum.is_group, plum.group) == ("Prunus mine", False, "fruit-tree")
    assert plum.limits.root_kill_c == -7
    assert plum.sources["root_kill_c"].standing is Standing.READ
    assert plum.limits.chill_need == group.limits.chill_need
    assert "of the group fruit-tree" in plum.sources["chill_need"].text


def test_a_new_key_without_a_group_gives_everything(tmp_path: Path) -> None:
    # A species of the grower's own, complete; air floor and ceiling may stay blank.
    text = (
        "key,leaf,root_kill_c,root_kill_young_c,root_kill_unhardened_c,chill_need,chill_model,"
        "light_floor_mol_m2_d,dark_below_c,rodent_appeal,harden_below_c,harden_days,"
        "deharden_above_c,deharden_per_degree_day,top_kill_c,top_kill_unhardened_c,new_leaf_kill_c,"
        "chill_injury_k_h,bud_break_k_d,drying\n"
        "own,Deciduous,-8,-6,-5,300,UTAH,2,5,0.5,7,30,7,0.02,-25,-5,-3,1000,120,0\n"
    )
    table, findings = laid_over(tmp_path, text)
    assert findings.problems == []
    limits = table["own"].limits
    assert (limits.leaf, limits.chill_model) == (LeafHabit.DECIDUOUS, ChillModel.UTAH)
    assert limits.air_floor_c is None
    assert limits.rest_ceiling_c is None


def test_without_a_file_the_shipped_table_stands(tmp_path: Path) -> None:
    # species.csv is optional.
    assert read_species(tmp_path / "species.csv", Findings()).species == shipped_species()
