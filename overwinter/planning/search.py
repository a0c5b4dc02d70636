"""Finds a placement: solve, follow every tree, lay every place out, cut off what fails, again."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

from overwinter.domain.conditions import Conditions
from overwinter.domain.plan import Layout, LeftOut
from overwinter.domain.season import Season, Spell
from overwinter.domain.start import Start
from overwinter.planning.fit import Drawer
from overwinter.planning.histories import short_of_chill, unhardened_histories
from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.problems import UserError
from overwinter.program.build import build
from overwinter.program.data import Cuts, ProgramData, program_data
from overwinter.program.model import Model
from overwinter.program.read_back import Placement, read_back
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverReport, Termination
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import Group, group_trees
from overwinter.suitability.lacks import lacks
from overwinter.suitability.table import Suitability

MOST_ROUNDS = 60
LAST_ROUNDS_S = 10.0
"""Solving time a round still gets after the limit is used up: a plan that fails is no plan."""

NO_PLAN = (Termination.INFEASIBLE, Termination.INFEASIBLE_OR_UNBOUNDED)


class NoPlan(UserError):  # noqa: N818 - an event, as the report words it
    """The search was stopped before any plan was found."""


@dataclass(frozen=True)
class Found:
    """The end of a search."""

    data: ProgramData
    placement: Placement
    report: SolverReport
    rounds: int
    seconds: float
    left_out: tuple[LeftOut, ...]
    layouts: Mapping[str, Mapping[int, tuple[Layout, ...]]]
    misfits: int
    """Sets that could not be laid out and were cut off on the way."""


class Search:
    """One search; keeps what the rounds have in common."""

    def __init__(
        self,
        season: Season,
        conditions: Conditions,
        start: Start,
        spells: tuple[Spell, ...],
        options: PlanOptions,
        on_progress: OnProgress | None,
    ) -> None:
        self.season = season
        self.conditions = conditions
        self.start = start
        self.options = options
        self.workshop = Workshop(season, conditions, spells)
        self.drawer = Drawer(season)
        self.cuts = Cuts()
        self.without: set[str] = set()
        self.began = time.perf_counter()
        self._tell = on_progress or (lambda _progress: None)
        self._values: dict[str, float] = {}

    def run(self) -> Found:
        """Search until a placement passes everything.

        Raises
        ------
        NoPlan
            Stopped before a first plan was found.
        """
        for tree_id in self._hopeless():
            self.without.add(tree_id)
        for number in range(1, MOST_ROUNDS + 1):
            data, model, report = self._solve_round(number)
            placement = read_back(model)
            together = unhardened_histories(data, self.workshop, placement)
            short = short_of_chill(data, placement)
            layouts, room = (
                self.drawer.draw(placement)
                if self.options.layouts and not together and not short
                else ({}, ())
            )
            if not together and not short and not room:
                return self._found(data, placement, report, number, layouts)
            keep = not short and not together
            self._values = _values(model) if keep else {}
            self.cuts = replace(
                self.cuts,
                together=(*self.cuts.together, *together),
                room=(*self.cuts.room, *room),
                apart=self.cuts.apart | set(short) | self._split(together),
            )
        raise NoPlan(f"No plan passed every check in {MOST_ROUNDS} rounds.")

    def _split(self, together: list) -> set[str]:
        """Trees of groups whose history was already cut once: from now on each for itself."""
        before = {cut.group_key for cut in self.cuts.together}
        return {tree for cut in together if cut.group_key in before for tree in cut.group_key}

    def _solve_round(self, number: int) -> tuple[ProgramData, Model, SolverReport]:
        """Solve; where not every tree can be placed, first find whom to leave out."""
        data = self._data()
        if not data.groups:
            raise NoPlan("No tree has a safe place in every spell.")
        model, report = self._solve(data, f"round {number}", may_leave_out=False)
        while report.termination in NO_PLAN:
            out_model, out_report = self._solve(data, "whom to leave out", may_leave_out=True)
            self._demand(out_report)
            out = read_back(out_model).left_out
            if not out:
                raise NoPlan("The program contradicts itself; please report this winter.")
            self.without |= out
            data = self._data()
            model, report = self._solve(data, f"round {number}", may_leave_out=False)
        self._demand(report)
        return data, model, report

    def _demand(self, report: SolverReport) -> None:
        if not report.has_solution:
            raise NoPlan(f"Stopped ({report.termination}) before any plan was found.")

    def _groups(self) -> tuple[Group, ...]:
        return group_trees(self.season, self.start, self.cuts.apart, self.without)

    def _data(self) -> ProgramData:
        groups = self._groups()
        table: Suitability = self.workshop.table(groups)
        return program_data(self.season, self.conditions, self.start, table, self.cuts)

    def _hopeless(self) -> list[str]:
        """Trees that in some spell are refused everywhere."""
        table = self.workshop.table(self._groups())
        somewhere = table.allowed.any(axis=1) | ~table.present
        return [
            tree_id
            for group, fine in zip(table.groups, somewhere.all(axis=1), strict=True)
            if not fine
            for tree_id in group.tree_ids
        ]

    def _solve(
        self, data: ProgramData, phase: str, *, may_leave_out: bool
    ) -> tuple[Model, SolverReport]:
        model = build(data, may_leave_out=may_leave_out)
        limit = self.options.time_limit_s
        if limit is not None:
            limit = max(limit - (time.perf_counter() - self.began), LAST_ROUNDS_S)

        def on_progress(_s: float, objective: float | None, bound: float | None) -> None:
            self._report(phase, objective, bound)

        self._report(phase, None, None)
        report = solve(
            model.problem,
            solver=self.options.solver,
            gap=0.0 if may_leave_out else self.options.gap,
            time_limit_s=limit,
            threads=self.options.threads,
            start=None if may_leave_out or not self._values else self._values,
            on_progress=on_progress,
        )
        return model, report

    def _report(self, phase: str, objective: float | None, bound: float | None) -> None:
        gap = None
        if objective is not None and bound is not None and objective:
            gap = max(0.0, (objective - bound) / abs(objective))
        self._tell(Progress(phase, time.perf_counter() - self.began, objective, bound, gap))

    def _found(
        self,
        data: ProgramData,
        placement: Placement,
        report: SolverReport,
        rounds: int,
        layouts: Mapping[str, Mapping[int, tuple[Layout, ...]]],
    ) -> Found:
        everyone = {g.tree_ids[0]: g for g in group_trees(self.season, self.start, self.without)}
        left_out = tuple(
            LeftOut(tree.id, lacks(self.workshop, everyone[tree.id]))
            for tree in self.season.trees
            if tree.id in self.without
        )
        return Found(
            data=data,
            placement=placement,
            report=report,
            rounds=rounds,
            seconds=time.perf_counter() - self.began,
            left_out=left_out,
            layouts=layouts,
            misfits=len(self.drawer.misfits),
        )


def _values(model: Model) -> dict[str, float]:
    return {
        variable.name: variable.varValue
        for variable in model.problem.variables()
        if variable.varValue is not None
    }
