"""What a notebook uses: read a winter, plan it, look at the plan as tables, plan anew."""

import os
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overwinter.api.changed_facts import Names, day_said, request_of
from overwinter.api.folder import (
    OUTPUTS,
    audited,
    audited_plan,
    drips,
    in_unseen,
    open_winter,
    record_plan,
    record_replan,
    refuse_restart,
    write_plan,
)
from overwinter.audit.audit import colder
from overwinter.audit.report import AuditReport, HeatUse, TreeRisk
from overwinter.files.outputs import check_free, write_outputs
from overwinter.files.plan_file import jsonable
from overwinter.files.season import read_season
from overwinter.model.changes import Changes, Mark
from overwinter.model.plan import Carry
from overwinter.model.plan import Plan as ModelPlan
from overwinter.model.season import Season
from overwinter.model.stage import Stage
from overwinter.problems import UserError
from overwinter.render.replan_report import change_words
from overwinter.render.report_page import Told, report_page
from overwinter.render.tables import by_loss, costs_values
from overwinter.render.terminal import at_risk, how_many_safe
from overwinter.replan.going_on import TreeChange, stays_by
from overwinter.replan.past import marks_by_carry
from overwinter.replan.replan import InForce, Replanned
from overwinter.replan.replan import replan as replan_winter
from overwinter.search import plan_winter as search
from overwinter.search.explain import Elsewhere, explain, next_best
from overwinter.search.options import OnProgress, PlanOptions

if TYPE_CHECKING:
    import pandas as pd

COLDER_K = (2.0, 5.0)  # what a report asks: these winters, so much colder


@dataclass(frozen=True, repr=False, eq=False)
class Plan:
    """An audited plan; tables are DataFrames in SI units, money in the site's currency."""

    season: Season  # the inputs, no changed fact laid over them
    outcome: search.Outcome  # all that the plan was made from, in the terms of the model
    facts: Changes = field(default_factory=Changes)  # what came otherwise than the inputs say
    marks: tuple[Mark, ...] = ()  # carries that were really done, or taken as done
    before: ModelPlan | None = None  # the plan in force from which this one was planned anew
    because: tuple[str, ...] = ()  # why it was, in words
    replanned: Replanned | None = None  # the two plans side by side, in the terms of the model
    notices: tuple[str, ...] = ()  # what has changed since it was made

    def __repr__(self) -> str:
        plan, report = self.outcome.plan, self.outcome.report
        safe, risky = how_many_safe(self.season, plan, report), len(at_risk(report))
        gap = plan.proof.gap
        return (
            f"<Plan of {self.season.site.name}: {safe} trees safe, {risky} at"
            f" risk, {len(plan.left_out)} left out; heat {report.bill.mean:.0f}"
            f" {self.season.site.currency} a winter;"
            f" {'no bound known' if gap is None else f'gap {gap:.1%}'}>"
        )

    @property
    def stages(self) -> "pd.DataFrame":
        """One row a stage."""
        return _frame(Stage, self.outcome.plan.stages).set_index("index")

    @property
    def stays(self) -> "pd.DataFrame":
        """Tree x stage: the id of the place; None before a tree joins. Left-out trees lack."""
        import pandas as pd

        frame = pd.DataFrame.from_dict(dict(self.outcome.plan.stays), orient="index")
        return frame.rename_axis(index="tree_id", columns="stage")

    @property
    def risk(self) -> "pd.DataFrame":
        """One row a tree, the largest expected loss first."""
        risks = by_loss(self.outcome.report)
        frame = _frame(TreeRisk, risks).set_index("tree_id")
        frame["worst"] = [risk.worst for risk in risks]
        return frame

    @property
    def heat(self) -> "pd.DataFrame":
        """One row a shelter and stage that is heated: means over the winters."""
        return _frame(HeatUse, self.outcome.report.heat)

    @property
    def carries(self) -> "pd.DataFrame":
        """One row a carry, in the order of the stages; ``source`` None: the tree joins."""
        return _frame(Carry, self.outcome.plan.carries)

    @property
    def costs(self) -> "pd.Series[float]":
        """Parts and sums of the costs, money a winter, as the audit reckons them."""
        import pandas as pd

        return pd.Series(costs_values(self.outcome.report.costs))

    def explain(self, tree: str, stage: int | None = None) -> "pd.DataFrame":
        """Every other place for a tree (or all trees of a row): what it lacks, or would cost.

        stage : in which it would stand there; None: in deep winter.

        Raises ``InputProblems``: There is no such tree.
        """
        names = Names(self.outcome.season)
        ids = [one for one in names.trees("tree", tree) if one in self.outcome.plan.stays]
        names.raise_if_any()
        return _frame(Elsewhere, explain(self.outcome, ids, stage))

    @property
    def changes(self) -> "pd.DataFrame":
        """One row a tree that goes elsewhere than by the plan before: carries still to come.

        Raises ``UserError``: It was not planned anew.
        """
        if self.replanned is None:
            raise UserError("This plan was not made by replan: there is no plan before.")
        return _frame(TreeChange, self.replanned.comparison.changed).set_index("tree_id")

    def save(
        self, folder: str | os.PathLike[str], restart: bool = False, force: bool = False
    ) -> None:
        """Put the plan in force in its winter's folder: history, plan, placements and carries.

        restart : begin afresh though the winter is under way; the history of before is kept.
        force : replace files that were edited or made by something else.

        Raises ``UserError``: The winter is under way, another plan is in force there than the one
        before this one, or a file in the way is not ours.
        """
        target = Path(folder)
        check_free(target, OUTPUTS, force)
        if self.before is None or self.replanned is None:
            refuse_restart(target, restart)
            record_plan(target, self.outcome, restart, warnings.warn)
        else:
            parent = open_winter(target).history.in_force
            if parent.document.get("plan") != jsonable(self.before):
                raise UserError(f"Another plan is in force in {target} than this one changes.")
            record_replan(target, self.replanned, parent.number, self.because)
        write_plan(self.outcome, target, force)

    def report(self, path: str | os.PathLike[str], force: bool = False) -> None:
        """Write the plan as one HTML page."""
        target, outcome = Path(path), self.outcome
        season, plan = outcome.season, outcome.plan
        told = Told(
            notices=self.notices,
            next_best=next_best(outcome),
            colder={k: colder(season, plan, k) for k in COLDER_K},
            before=None if self.before is None else stays_by(self.before, plan),
            because=self.because,
            wet=drips(outcome),
            done=marks_by_carry(season, self.marks),
        )
        html = report_page(season, plan, outcome.report, told)
        write_outputs(target.parent, {target.name: html}, force)


def read(folder: str | os.PathLike[str]) -> Season:
    """Read a winter's folder; raises ``InputProblems`` with every mistake of every file."""
    return read_season(Path(folder))


def load(folder: str | os.PathLike[str]) -> Plan:
    """The plan in force in a winter's folder, audited against the inputs as they are now.

    Raises ``AuditRefused``: It no longer holds.
    """
    winter, notices = open_winter(Path(folder)), list[str]()
    entry = winter.entry()
    outcome = in_unseen(audited(winter, say=notices.append))
    before, because = None, tuple[str, ...]()
    if entry.parent is not None:
        parent = winter.entry(entry.parent)
        before = parent.read().plan
        because = change_words(winter.season, entry.changes, parent.changes, before)
    facts = replace(entry.changes, leaves_down=winter.history.leaves_down)
    marks = winter.in_force.marks
    return Plan(winter.season, outcome, facts, marks, before, because, notices=tuple(notices))


def plan(
    season: Season, options: PlanOptions | None = None, on_progress: OnProgress | None = None
) -> Plan:
    """Plan a winter.

    Raises ``AuditRefused``: The plan breaks a rule: a mistake of this program.
    """
    outcome = search.plan_winter(season, options, on_progress)
    outcome.report.refuse_unless_passed()
    return Plan(season, outcome)


def replan(
    old: Plan,
    today: date | str,
    *,
    late: Mapping[str, date | str] | None = None,
    closes: Mapping[str, date | str] | None = None,
    broken: Sequence[str] = (),
    mended: Sequence[str] = (),
    gone: Sequence[str] = (),
    unmarked: str | None = None,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
) -> Plan:
    """Plan the rest of a winter anew from where every tree really is.

    today : what is before has happened.
    late, closes : by shelter: it opens on that day instead; from that day it cannot be used.
    broken, mended : "SHELTER" or "SHELTER/HEATER".
    gone : trees that were sold or died.
    unmarked : "done" or "not-done": what to make of due carries that nobody marked.

    Raises ``InputProblems``: With every name and day that is wrong. ``UserError``: Carries were due
    and are not marked, and ``unmarked`` does not say what to make of them.
    """
    opens, shuts = ([f"{h}={day}" for h, day in (one or {}).items()] for one in (late, closes))
    said = {"late": opens, "closes": shuts, "broken": broken, "mended": mended, "gone": gone}
    known = tuple({*old.outcome.plan.stays, *old.facts.gone})
    request = request_of(old.season, old.facts, known, day_said(today), unmarked, **said)
    in_force = InForce(old.outcome.plan, old.facts, old.marks)
    found = replan_winter(old.season, in_force, request, options, on_progress)
    found.outcome.report.refuse_unless_passed()
    marks = (*old.marks, *found.assumed)
    because = change_words(old.season, found.changes, old.facts, in_force.plan)
    return Plan(old.season, found.outcome, found.changes, marks, in_force.plan, because, found)


def audit(old: Plan) -> AuditReport:
    """Judge a plan again, weather and stages computed anew; ``passed`` and ``findings`` say how."""
    return audited_plan(old.outcome.season, old.outcome.plan).report


def _frame(kind: type, items: Sequence[Any]) -> "pd.DataFrame":
    """Dataclasses of a kind as rows, under the names that plan.json has for their fields."""
    import pandas as pd

    return pd.DataFrame(map(asdict, items), columns=[one.name for one in fields(kind)])
