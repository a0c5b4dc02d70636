"""Finds a placement: solve, follow every tree, lay every place out, cut off what fails, again."""

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.plan import LeftOut
from overwinter.model.season import Season, Spell
from overwinter.model.start import Start
from overwinter.planning.branching import SETTINGS_SHARE, Branching, Effort
from overwinter.planning.closing import Closing
from overwinter.planning.decided import Decided, Freedom, Held, held, penalty, restricted
from overwinter.planning.fit import Drawer, LayoutsBySpell
from overwinter.planning.histories import parts_of, short_of_chill, unhardened_histories
from overwinter.planning.lift import lifted_less
from overwinter.planning.no_room import no_room
from overwinter.planning.options import OnProgress, PlanOptions
from overwinter.planning.placing import Placed, Placing
from overwinter.planning.rounding import ANY
from overwinter.planning.solving import BoundPassed, NoPlan, Solving
from overwinter.planning.winters import NoPoint, winters_of
from overwinter.program.build import build
from overwinter.program.data import Cuts, ProgramData, TogetherCut, program_data
from overwinter.program.model import Model
from overwinter.program.objective import LEFT_OUT_EACH
from overwinter.program.read_back import Placement, read_back
from overwinter.solvers.report import SolverReport, Termination
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import Group, group_trees, taken_apart
from overwinter.suitability.lacks import lacks
from overwinter.suitability.table import Suitability

MOST_ROUNDS = 60
SMALLER = 0.97
"""How much smaller a place is reckoned each time its trees could not be laid out."""
SMALL = 500
"""Up to so many allowed (group, option, spell) cells one program decides everything at once."""
LARGE = 100_000
"""From so many, what is slow is left to be approximate: branching, and lifting heavy trees less."""
MEDIUM = 6_000
"""Up to so many, with settings decided, every allowed place comes into question."""
THOROUGH = Effort(nodes=60, rounds_once=False)
BRIEF = Effort(nodes=16, rounds_once=True, share=0.85)
"""For deciding on settings and carry days; brief in a large winter, where whole trees cost little
more than pieces of them."""
FEW_NODES = 200
"""Nodes of branching for a program that is a part of the choice: where it leaves trees out, more
choice finds them a place sooner than proving that this part has none."""
MANY_NODES = 1000
"""The same for the whole choice of a winter that is not small."""

WHOLE_SHARE = 0.1
"""Part of the gap asked that placing whole trees on winters may take at most; that is soon
reached, and any solver then finds trees the same winters at nearly the same money."""
WHOLE_GAP = 4e-4
"""A gap that is near enough for that in any case."""
CLOSABLE = 0.02
"""A gap that is wider than this after all trees are placed is not closed: too much is left."""
MUCH_DEARER = 1.5
"""A bound that many times the costs decided on means that trees are left out."""


@dataclass(frozen=True)
class Found:
    """The end of a search."""

    data: ProgramData
    workshop: Workshop
    placement: Placement
    report: SolverReport
    """Of the program that the bound comes from."""
    bound: float | None
    """No plan that leaves out the same trees costs less, money."""
    left_out_money: float
    """What the objective counts for the trees left out since the last decision, money."""
    rounds: int
    seconds: float
    left_out: tuple[LeftOut, ...]
    layouts: LayoutsBySpell
    misfits: int
    """Sets that could not be laid out and were cut off on the way."""
    gap_asked: float
    ended_by: Termination | None = None
    """What brought the search to an end before its time."""


def _money(found: Found) -> float:
    return np.inf if found.report.objective is None else found.report.objective


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
        self.work = Solving(options, on_progress)
        self._decided: Decided | None = None
        self._branching: Branching | None = None
        self._closed = False
        """The gap has been closed as far as it goes."""
        self._placed: Placed | None = None
        """Whole trees placed already within what is held now."""
        self._placing: Placing | None = None
        """With what is decided held; None where trees are not placed on them (any more)."""
        self._held: Held | None = None
        """A placement of which only a part is to be arranged anew."""
        self._room_share: dict[str, float] = {}
        self._loose: frozenset[str] = frozenset()
        """Trees that may be at any place, not only those that came into question for them."""
        self._freedom = Freedom.NEAR
        self._round = 0
        self._undrawn_money = np.inf
        """The least that trees cost which then could not be laid out."""
        self._bound: float | None = None
        """Best bound so far, prices of trees left out included."""

    def run(self) -> Found:
        """Search until a placement passes everything.

        Raises
        ------
        NoPlan
            Stopped before a first plan was found.
        """
        self.without.update(self.workshop.table(self._groups()).refused())
        found = self._next_plan()
        try:
            if self._closes(found):
                with contextlib.suppress(NoPlan):
                    found = min(found, self._next_plan(), key=_money)
        except KeyboardInterrupt:  # there is a plan
            self.work.interrupted = True
        return replace(
            found,
            bound=self._bound_on(found),
            ended_by=self.work.ended_by(),
            seconds=self.work.seconds(),
        )

    def forbid(self, stays: Iterable[tuple[str, str, int]]) -> None:
        """From now on trees, and those like them, are not at a place in a spell (ids, number)."""
        group_of = {tree_id: group for group in self._groups() for tree_id in group.tree_ids}
        options = self.workshop.table(self._groups()).options
        forbidden = {
            TogetherCut(
                group_of[tree_id].tree_ids,
                ((spell, frozenset(o.index for o in options if o.place_id == place_id)),),
            )
            for tree_id, place_id, spell in stays
        }
        self.cuts = replace(self.cuts, together=(*self.cuts.together, *forbidden))
        self._settle(None)
        self._held = self._placing = self._branching = None
        self._closed = False

    def _next_plan(self) -> Found:
        while self._round < MOST_ROUNDS:
            self._round += 1
            data = self._data()
            if not data.groups:
                raise NoPlan("No tree has a safe place in every spell.")
            fine = self._fine(data)
            if fine is None:
                continue
            model, report, placement = fine
            if self._learns(data, placement):
                continue
            layouts, room = self.drawer.draw(placement) if self.options.layouts else ({}, ())
            if not room:
                if not self._is_large(data):  # every pair of trees is looked at
                    placement, layouts = self._lowered(data, placement, layouts)
                out = penalty(model, placement.left_out)
                return self._found(data, placement, report, layouts, out)
            self.cuts = replace(self.cuts, room=(*self.cuts.room, *room))
            if report.objective is not None:
                self._undrawn_money = min(self._undrawn_money, report.objective)
            if self._decided is not None:
                self._reckon_smaller(placement, {cut.place_id for cut in room})
        raise NoPlan(f"No plan passed every check in {MOST_ROUNDS} rounds.")

    def _lowered(
        self, data: ProgramData, placement: Placement, layouts: LayoutsBySpell
    ) -> tuple[Placement, LayoutsBySpell]:
        """Heavy trees lower where that costs nothing and still can be laid out."""
        lower = lifted_less(self.season, data, self.workshop, placement)
        if lower is not placement and self.options.layouts:
            drawn, misfits = self.drawer.draw(lower)
            if not misfits:
                return lower, drawn
        return placement, layouts

    def _fine(self, data: ProgramData) -> tuple[Model, SolverReport, Placement] | None:
        """Place every tree; unless the winter is small, within what is decided beforehand.

        None where that leaves more trees out than what was decided on, and more can be tried.
        """
        if self._cells(data) <= SMALL:
            self._freedom = Freedom.SETTINGS
            return self._all_at_once(data)
        if self._decided is None:
            self._settle(self._decide(data))
            if self._decided is None:
                return None
        found = None
        if self._placing is not None:
            found = self._by_winters(self._placing, self._decided)
        if found is None:
            self._placing = None
            found = self._by_stays(data, self._decided)
        if found is not None and found[2].left_out and not self.work.interrupted:
            self._without_these(found[2].left_out)
            return None
        return found

    def _by_stays(
        self, data: ProgramData, decided: Decided
    ) -> tuple[Model, SolverReport, Placement] | None:
        """Place whole trees with the program of single stays; None as ``_fine``."""
        # with few choices, as while most trees are held, all places may be asked for
        free = self._held is not None or self._cells(data) <= MEDIUM
        freedom = max(self._freedom, Freedom.PLACES) if free else self._freedom
        kept = restricted(data, decided, freedom, self._loose)
        kept = replace(kept, room_share=self._room_share)
        if self._held is not None:
            kept = held(kept, self._held)
        model = build(kept, may_leave_out=True)
        may_open_up = self._freedom is not Freedom.SETTINGS
        most = decided.left_out_money + LEFT_OUT_EACH / 2
        # to let trees loose one must know which
        stop = np.inf
        if self._loose and may_open_up:
            stop = most + MUCH_DEARER * (decided.money - decided.left_out_money)
        try:
            report = self.work.solve(
                model.problem,
                f"places, round {self._round}",
                most=stop,
                nodes=FEW_NODES if may_open_up else MANY_NODES,
                share=self._share_left(),
            )
        except BoundPassed:
            self._open_up(model, frozenset())
            return None
        self._demand(report)
        placement = read_back(model)
        if may_open_up and penalty(model, placement.left_out) > most:
            self._open_up(model, placement.left_out)
            return None
        return model, report, placement

    def _by_winters(
        self, placing: Placing, decided: Decided
    ) -> tuple[Model, SolverReport, Placement] | None:
        """Place whole trees on the winters found; None where that leaves more trees out."""
        placed, self._placed = self._placed, None
        if placed is None:
            least = WHOLE_GAP / max(self.options.gap, WHOLE_GAP)
            placed = placing.near(
                decided,
                self.cuts.room,
                self._room_share,
                f"places, round {self._round}",
                min(self._share_left(), max(WHOLE_SHARE, least)),
            )
        if placed.leaves_out_more_than(decided):
            return None
        return placing.winters.model, placed.report, placed.read(decided)

    def _closes(self, found: Found) -> bool:
        """Prove a plan more nearly if there is a chance; whether a cheaper one was found."""
        money, bound = found.report.objective, self._bound
        branching, placing = self._branching, self._placing
        if self._closed or branching is None or placing is None or self.work.stopped():
            return False
        if self._is_large(found.data):
            return False
        if money is None or bound is None or money <= 0.0:
            return False
        # closing knows nothing of layouts, and would find those trees again
        undrawn = self._undrawn_money < (1.0 - self.options.gap) * money
        if undrawn or not self.options.gap < (money - bound) / money <= CLOSABLE:
            return False
        self._closed = True
        closing = Closing(branching, placing, money, self.options.gap, self.work.stopped)
        self._heed(closing.run())
        if closing.best is None:
            return False
        held, self._placed = closing.best
        self._settle(branching.take(held))
        branching.hold_best()
        return True

    def _share_left(self) -> float:
        """Of the gap asked, after what settings and carry days took of it."""
        decided, bound, gap = self._decided, self._bound, self.options.gap
        if decided is None or bound is None or gap <= 0 or decided.money <= 0:
            return 1.0
        return max(1.0 - (decided.money - bound) / decided.money / gap, 1.0 - SETTINGS_SHARE)

    def _without_these(self, trees: frozenset[str]) -> None:
        """Leave trees out for good and decide anew: their price hides the costs of the others."""
        self.without |= trees
        self._settle(None)
        self._bound = self._held = self._placing = None
        self._freedom = Freedom.NEAR

    def _settle(self, decided: Decided | None) -> None:
        self._decided = decided
        self.work.plan_money = np.inf if decided is None else decided.money + LEFT_OUT_EACH / 2

    @staticmethod
    def _cells(data: ProgramData) -> int:
        return int(data.suitability.allowed.sum())

    def _all_at_once(self, data: ProgramData) -> tuple[Model, SolverReport, Placement] | None:
        """One program for everything; its bound holds. None where trees have to go first."""
        model = build(data, may_leave_out=True)
        report = self.work.solve(model.problem, f"places, round {self._round}")
        self._demand(report)
        placement = read_back(model)
        if placement.left_out and not self.work.interrupted:
            self._without_these(placement.left_out)
            return None
        self._heed(report.bound)
        return model, report, placement

    def _decide(self, data: ProgramData) -> Decided | None:
        """Settings and carry days by branch and bound; None where trees had to go first."""
        self.work.tell("shelters and heat", None, None)
        branching = Branching(
            winters_of(data, self.work.stopped),
            self.options.gap,
            lambda money, bound: self.work.tell("shelters and heat", money, bound),
            self.work.stopped,
            BRIEF if self._is_large(data) else THOROUGH,
        )
        # the coarse program is asked at once where it costs little, otherwise if it has to be
        if self._cells(data) <= MEDIUM or branching.leaves_out() > LEFT_OUT_EACH * ANY:
            without = no_room(data, self.work.solve)
            if without:
                self._without_these(without)
                return None
        decided = branching.run()
        self._heed(branching.bound)
        if decided is None:
            self._freedom = Freedom.SETTINGS
            return Decided({}, {}, 0.0)
        with contextlib.suppress(NoPoint):
            branching.hold_best()
            self._branching = branching
            self._placing = Placing(branching.winters, self.work.solve)
        return decided

    def _is_large(self, data: ProgramData) -> bool:
        return self._cells(data) > LARGE

    def _open_up(self, model: Model, left_out: frozenset[str]) -> None:
        """Give the next round more room to place everyone."""
        assert self._decided is not None
        if self._held is not None:
            self._held = None
        elif self._let_loose(model, left_out):
            return
        else:
            self._freedom = Freedom(self._freedom + 1)

    def _let_loose(self, model: Model, trees: frozenset[str]) -> bool:
        """Let trees and their like go to any shelter; whether that is new."""
        like = {
            tree_id
            for group in model.data.groups
            if trees.intersection(group.tree_ids)
            for tree_id in group.tree_ids
        }
        if like <= self._loose:
            return False
        self._loose |= like
        return True

    def _learns(self, data: ProgramData, placement: Placement) -> bool:
        """Cut off histories that leave a tree too tender or short of chilling."""
        together = unhardened_histories(data, self.workshop, placement)
        short = short_of_chill(data, placement)
        if not together and not short:
            return False
        before = {cut.group_key for cut in self.cuts.together}
        # a group whose history was cut once already: from now on each tree for itself
        again = {cut.group_key for cut in together if cut.group_key in before}
        split = [
            part
            for group in data.groups
            if group.tree_ids in again
            for part in parts_of(group, group.tree_ids)
        ]
        self.cuts = replace(
            self.cuts,
            together=(*self.cuts.together, *together),
            apart=taken_apart(self.cuts.apart, [*short, *split]),
        )
        self._held = self._placing = None
        if self._is_large(data):
            # everything anew would take minutes: the others stay where they are
            learned = frozenset().union(*short, *split, *(cut.group_key for cut in together))
            self._loose |= learned
            self._held = Held(placement, loose_trees=learned)
        return True

    def _reckon_smaller(self, placement: Placement, too_full: set[str]) -> None:
        """Reckon places that were drawn in vain a little smaller, and rearrange their shelters.

        A cut forbids one set, and the next best is often as full.
        """
        for place_id in too_full:
            self._room_share[place_id] = self._room_share.get(place_id, 1.0) * SMALLER
        shelters = {self.season.places[place_id].shelter_id for place_id in too_full}
        self._held = Held(placement, loose_shelters=frozenset(shelters))

    def _heed(self, bound: float | None) -> None:
        """Every round's bound holds: later rounds only cut more off."""
        if bound is not None:
            self._bound = bound if self._bound is None else max(bound, self._bound)

    def _bound_on(self, found: Found) -> float | None:
        """Bound on the costs of any plan that leaves out the same trees."""
        if self._bound is None:
            return None
        # no part of the costs is below 0
        return max(self._bound - found.left_out_money, 0.0)

    def _demand(self, report: SolverReport) -> None:
        if not report.has_solution:
            raise NoPlan(f"Stopped ({report.termination}) before any plan was found.")

    def _groups(self) -> tuple[Group, ...]:
        return group_trees(self.season, self.start, self.cuts.apart, self.without)

    def _data(self) -> ProgramData:
        table: Suitability = self.workshop.table(self._groups())
        return program_data(self.season, self.conditions, self.start, table, self.cuts)

    def _found(
        self,
        data: ProgramData,
        placement: Placement,
        report: SolverReport,
        layouts: LayoutsBySpell,
        left_out_money: float,
    ) -> Found:
        out = self.without | placement.left_out
        single = [frozenset({tree_id}) for tree_id in out]
        alone = {g.tree.id: g for g in group_trees(self.season, self.start, apart=single)}
        left_out = tuple(
            LeftOut(tree.id, lacks(self.workshop, alone[tree.id]))
            for tree in self.season.trees
            if tree.id in out
        )
        return Found(
            data=data,
            workshop=self.workshop,
            placement=placement,
            report=report,
            bound=None,
            left_out_money=left_out_money,
            rounds=self._round,
            seconds=self.work.seconds(),
            left_out=left_out,
            layouts=layouts,
            misfits=len(self.drawer.misfits),
            gap_asked=self.options.gap,
        )
