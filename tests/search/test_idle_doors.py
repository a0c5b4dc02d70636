"""A shelter that opens late and that no tree waits for.

That its day should move no tree is common practice, no source; cost and stages of the same winter
without the shelter, and the audit, are what plans are held against.
"""

from dataclasses import replace
from datetime import date

import pytest
from random_winters import random_season

from overwinter.model.changes import Changes, Unmarked
from overwinter.model.season import Season
from overwinter.model.stage import DOORS, HappeningKind
from overwinter.replan.past import stages_of
from overwinter.replan.replan import InForce, Request, replan
from overwinter.search.plan_winter import plan_winter
from overwinter.simulate.harm_table import passed_over

OPENS = date(2026, 11, 20)


def with_idle_shed(season: Season) -> Season:
    """With one more shelter, where the grower wants no tree."""
    shed = season.shelters[1]
    idle = replace(
        shed,
        id="idle",
        name="Idle",
        heaters=(),
        opens=OPENS,
        places=tuple(replace(p, id=f"idle/{p.kind}", shelter_id="idle") for p in shed.places),
    )
    trees = (replace(tree, forbidden=tree.forbidden | {"idle"}) for tree in season.trees)
    return replace(season, shelters=(*season.shelters, idle), trees=tuple(trees))


@pytest.mark.parametrize("seed", range(6))
def test_its_day_moves_no_tree(seed: int) -> None:
    season = with_idle_shed(random_season(seed))
    outcome = plan_winter(season)
    plan = outcome.plan
    assert outcome.report.passed
    assert plan.costs.total <= 1.01 * plan_winter(random_season(seed)).plan.costs.total
    assert not [stage for stage in plan.stages if {what.kind for what in stage.happenings} & DOORS]
    # Read again from its folder, the plan has the stages that it was made with.
    assert stages_of(season, outcome.conditions, plan).stages == plan.stages
    assert "idle" in passed_over(season, plan.stages)


def test_its_day_stays_where_trees_lack_room() -> None:
    """Trees that find no safe place may need that day to make room."""
    season = with_idle_shed(random_season(0))
    small = tuple(
        replace(s, places=tuple(replace(p, width_m=0.2 * p.width_m) for p in s.places))
        if s.id != season.site.summer_place.split("/")[0]
        else s
        for s in season.shelters
    )
    plan = plan_winter(replace(season, shelters=small)).plan
    assert plan.left_out or plan.unsafe
    assert {what.subject for s in plan.stages for what in s.happenings if what.kind in DOORS}


def test_a_day_for_another_reason_stays() -> None:
    """A tree joins on the day on which the shed opens."""
    season = with_idle_shed(random_season(0))
    first, *rest = season.trees
    joined = replace(season, trees=(replace(first, joins=OPENS), *rest))
    kinds = {what.kind for s in plan_winter(joined).plan.stages for what in s.happenings}
    assert HappeningKind.JOINS in kinds


def test_it_opens_later_still_and_no_list_changes() -> None:
    """An earlier opening, which may help, is a day of the calendar again."""
    season = with_idle_shed(random_season(0))
    in_force, today = InForce(plan_winter(season).plan), date(2026, 11, 5)
    for opens, waits in ((date(2026, 12, 4), False), (date(2026, 11, 14), True)):
        news = Changes(opens={"idle": opens})
        found = replan(season, in_force, Request(today, news, Unmarked.DONE))
        assert found.outcome.report.passed
        stages = found.outcome.plan.stages
        assert any({what.kind for what in s.happenings} & DOORS for s in stages) is waits
        assert waits or (found.kept and not found.comparison.changed)


def test_a_day_written_into_the_inputs_since_is_waited_for() -> None:
    """The plan in force has trees in the shelter before that day, and did not know of it."""
    season, opens = random_season(2), date(2027, 1, 15)
    plan, today = plan_winter(season).plan, date(2026, 11, 5)
    assert plan.stages[2].usual < opens
    assert "shed/bench" in {path[2] for path in plan.stays.values()}
    garden, shed, *others = season.shelters
    written = replace(season, shelters=(garden, replace(shed, opens=opens), *others))
    found = replan(written, InForce(plan), Request(today, Changes(), Unmarked.DONE)).outcome
    assert opens in {stage.usual for stage in found.plan.stages}
