"""placements.csv: one row a tree and stage."""

import csv
from dataclasses import replace

import pytest
from folders import GOOD
from plans import HOLD_5, OFF, small_plan

from overwinter.files.season import read_season
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterPart
from overwinter.render.table import csv_text
from overwinter.render.tables import placements_table
from overwinter.units import Display


def placed(season: Season, plan: Plan) -> str:
    return csv_text(placements_table(season, plan))


def test_rows_of_a_small_plan() -> None:
    # The end is the last usual day; a tree that has not joined and a left-out one have no rows.
    season = read_season(GOOD)
    rows = list(csv.DictReader(placed(season, small_plan()).splitlines()))
    assert [(row["tree"], row["stage_usually_begins"]) for row in rows] == [
        ("Maple", "2026-10-01"),
        ("Maple", "2026-11-20"),
        ("Pine 1/2", "2026-10-01"),
        ("Pine 1/2", "2026-11-20"),
        ("Gift", "2026-11-20"),
    ]
    assert rows[0]["stage_usually_ends"] == "2026-11-19"
    assert rows[-1] == {
        "tree": "Gift",
        "species": "ulmus-parvifolia",
        "stage": "2",
        "stage_usually_begins": "2026-11-20",
        "stage_usually_ends": "2027-05-15",
        "shelter": "greenhouse",
        "place": "bench",
        "place_id": "greenhouse/bench",
        "heater_setting": "hold 5 °C",
    }


@pytest.mark.parametrize(("us", "shown"), [(False, "hold 2.2 °C"), (True, "hold 36 °F")])
def test_a_setting_reads_as_in_the_report(us: bool, shown: str) -> None:
    # 36 °F is 2.2222... °C: neither six figures nor the other unit.
    season, plan = read_season(GOOD), small_plan()
    season = replace(season, site=replace(season.site, display=Display(us)))
    held = replace(HOLD_5, parts=(HeaterPart("fan", hold_c=20 / 9),), hold_c=20 / 9)
    plan = replace(plan, settings={**plan.settings, "greenhouse": (OFF, held)})
    rows = list(csv.DictReader(placed(season, plan).splitlines()))
    assert {row["heater_setting"] for row in rows if row["shelter"] == "greenhouse"} >= {shown}
    assert "2.22222" not in placed(season, plan)


def test_every_tree_has_one_place_a_day() -> None:
    # The rows of a tree cover the season from the day it joins without gap or overlap.
    season = read_season(GOOD)
    text = placed(season, small_plan())
    rows = [row for row in csv.DictReader(text.splitlines()) if row["tree"] == "Maple"]
    assert rows[0]["stage_usually_begins"] == season.site.starts.isoformat()
    assert rows[-1]["stage_usually_ends"] == season.site.ends.isoformat()
