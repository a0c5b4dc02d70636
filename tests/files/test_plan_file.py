"""plan.json: exact there and back, stable as a format, clear when damaged."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from folders import DATA, GOOD
from hypothesis import given, settings
from plans import any_plan, small_plan

from overwinter.files.outputs import write
from overwinter.files.plan_file import (
    FORMAT_VERSION,
    PlanDocument,
    inputs_changed,
    plan_document_of,
    plan_text,
)
from overwinter.files.season import read_season
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.problems import InputProblems, UserError


@cache
def good_season() -> Season:
    return read_season(GOOD)


def read_plan_document(path: Path) -> PlanDocument:
    return plan_document_of(json.loads(path.read_text(encoding="utf-8")), path.name)


@settings(max_examples=80)
@given(plan=any_plan())
def test_any_plan_reads_back_exactly(tmp_path_factory: pytest.TempPathFactory, plan: Plan) -> None:
    # Every name, date and number, infinite ones too; bit for bit.
    path = tmp_path_factory.getbasetemp() / "plan.json"
    write(path, plan_text(good_season(), plan), overwrite=True)
    assert read_plan_document(path).plan == plan


def test_the_file_says_where_it_comes_from(tmp_path: Path) -> None:
    # Enough to read a plan without its folder at hand.
    path = tmp_path / "plan.json"
    write(path, plan_text(good_season(), small_plan()))
    document = read_plan_document(path)
    assert document.plan == small_plan()
    written = json.loads(path.read_text(encoding="utf-8"))
    assert written["site"] == "A garden for tests (invented)"
    assert written["trees"]["Pine 2/2"] == {"name": "Pine 2/2", "species": "pinus-mugo", "row": 3}
    assert not inputs_changed(document, good_season())


def test_format_2_is_still_read() -> None:
    # A file kept from when the format was made; if this fails, the format needs a new version.
    assert FORMAT_VERSION == 2
    assert read_plan_document(DATA / "plan-v2.json").plan == small_plan()


def test_format_2_is_still_written() -> None:
    # The same, the other way; the keys of the kept file are the keys written today.
    kept = json.loads((DATA / "plan-v2.json").read_text(encoding="utf-8"))
    written = json.loads(plan_text(good_season(), small_plan()))
    for later in ("shifts", "unsafe"):  # came later; a file without them has none
        assert written["plan"].pop(later) == []
    assert written["plan"].pop("other_loss") is None
    assert [stage.pop("comes") for stage in written["plan"]["stages"]] == [1.0, 1.0]
    assert [stage.pop("not_before") for stage in written["plan"]["stages"]] == [None, None]
    assert [stage.pop("at_latest") for stage in written["plan"]["stages"]] == [None, None]
    assert written["plan"] == kept["plan"]
    assert list(written) == list(kept)


def test_a_plan_of_the_first_edition_says_what_to_do() -> None:
    # One message, whatever else the old file holds; the file is one of that edition.
    with pytest.raises(InputProblems) as raised:
        read_plan_document(DATA / "plan-v1.json")
    assert str(raised.value) == (
        "plan-v1.json, format_version: found a plan made by the first edition; expected a plan of "
        "this edition. Run `overwinter plan` again."
    )


def test_it_does_not_write_over_a_file(tmp_path: Path) -> None:
    # A user's file is left alone unless asked.
    path = tmp_path / "plan.json"
    path.write_text("mine")
    with pytest.raises(UserError, match="left alone"):
        write(path, plan_text(good_season(), small_plan()))
    assert path.read_text() == "mine"


def changed(**more: Any) -> dict[str, Any]:
    """The document with other top keys."""
    return json.loads(plan_text(good_season(), small_plan())) | more


def with_plan(change: str, value: Any) -> dict[str, Any]:
    """The document with one key of its plan changed; dots lead inwards."""
    document = changed()
    at: Any = document["plan"]
    *path, last = change.split(".")
    for step in path:
        at = at[int(step)] if step.isdigit() else at[step]
    at[last] = value
    return document


@pytest.mark.parametrize(
    ("document", "expected"),
    [
        (changed(format="a recipe"), "plan.json, format: found another kind of file"),
        (
            changed(format_version=3, tool_version="9.1"),
            "plan.json, format_version: found '3', of a newer overwinter (9.1)",
        ),
        (changed(inputs_sha256="abc"), "plan.json, inputs_sha256: found 'abc'"),
        (changed(mood="good"), "plan.json, mood: found 'good'"),
        (with_plan("costs.heat", "dear"), "plan.json, [plan.costs], heat: found 'dear'"),
        (
            with_plan("stages.1.usual", "2026-11-19"),
            "plan.json, [plan.stages.1], usual: found '2026-11-19'",
        ),
        (with_plan("stages.1.index", 3), "plan.json, [plan.stages.1], index: found '3'"),
        (with_plan("carries.0.stage", 9), "plan.json, [plan.carries.0], stage: found '9'"),
        (
            with_plan("stages.1.sign", "full moon"),
            "plan.json, [plan.stages.1], sign: found 'full moon'",
        ),
        (
            with_plan("settings.garden", [{}]),
            "plan.json, [plan.settings.garden]: found 1 entries",
        ),
        (
            with_plan("carries.0.tree_id", "Gilt"),
            "plan.json, [plan.carries.0], tree_id: found 'Gilt'",
        ),
        (with_plan("costs.heet", 1.0), "plan.json, [plan.costs], heet: found an unknown key"),
        (
            with_plan("left_out.0.lacks.0.harm", "too blue"),
            "plan.json, [plan.left_out.0.lacks.0], harm: found 'too blue'",
        ),
    ],
)
def test_a_damaged_file_says_where(document: dict[str, Any], expected: str, tmp_path: Path) -> None:
    # File, dotted key and what was found; never a traceback.
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(InputProblems) as raised:
        read_plan_document(path)
    assert str(raised.value).startswith(expected)


def test_a_plan_for_other_inputs_is_told(tmp_path: Path) -> None:
    # A changed input is seen by its fingerprint.
    path = tmp_path / "plan.json"
    write(path, plan_text(good_season(), small_plan()))
    season = good_season()
    dearer = replace(season, site=replace(season.site, house_c=18.0))
    assert inputs_changed(read_plan_document(path), dearer)
