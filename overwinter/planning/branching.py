"""Heater settings and carry days by branch and bound, the trees in between as whole winters.

How trees are shared out among places costs little more in whole trees than in pieces; half a heater
setting and half a carry day cost far less than whole ones. So only these are branched on, with the
relaxation by winters (``winters.py``) at every node. What comes out is a decision for them and a
bound that no plan of these trees stays below.
"""

import contextlib
import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.planning.decided import Decided
from overwinter.planning.exchanges import Exchange, exchanges
from overwinter.planning.rounding import (
    ANY,
    HALF,
    chosen_settings,
    fix_days,
    fix_settings,
    out_money,
    value,
    whole_out_money,
)
from overwinter.planning.winters import NoPoint, Stand, Winters

IntArray = NDArray[np.int64]

TOLERANCE = 2e-4
"""How near to its own best value a relaxation is solved, share of it."""
TOLERANCE_OF_GAP = 0.05
"""The same as a share of the gap asked, where that is more."""
ROUGH = 5e-3
"""The same where only trees left out are of interest, which cost more than anything, or which
of the settings that are left has the largest share."""
SETTINGS_SHARE = 0.5
"""Part of the gap asked that settings and days take, where whole trees take much."""
MOST_EXCHANGES = 8
"""So many exchanges of warmth are tried at most."""
WORTH_ROUNDING = 0.25
"""Part of the gap that the relaxation of an exchange must close, or it is not rounded."""
WORTH_A_LOOK = 0.5
"""Part of the gap that an exchange may cost in heat, as trees may stand cheaper."""
NEAR = 0.02
"""Places come into question on winters that cost a tree at most this much more than its cheapest,
share of the mean cost of a tree."""


@dataclass(order=True)
class Node:
    """A part of the choice: bounds on the choosing columns."""

    bound: float
    number: int
    lower: FloatArray = field(compare=False)
    upper: FloatArray = field(compare=False)
    values: FloatArray | None = field(compare=False, default=None)
    """The point of its relaxation; None while that is not solved, and ``bound`` its parent's."""
    stand: Stand | None = field(compare=False, default=None)
    """Where its relaxation ended, or its parent's: there is less to do from there than from
    wherever the last one ended."""
    every_row: bool = field(compare=False, default=False)
    """Its relaxation keeps all rows: those broken by little may be what is left to decide."""


@dataclass(frozen=True)
class Effort:
    """How much a winter is worth."""

    nodes: int
    """Parts that the choice is divided into at most."""
    rounds_once: bool
    """Round the undivided choice only; the parts are for the bound."""
    share: float = SETTINGS_SHARE
    """Part of the gap asked that settings and days may take; the rest is for whole trees."""


@dataclass(frozen=True)
class Choice:
    """The settings of a shelter in a spell, cheapest first."""

    shelter_id: str
    spell: int
    settings: IntArray
    at: IntArray
    """Where they are among the choosing columns."""
    money: FloatArray


class Branching:
    """Branch and bound on the settings and carry days of one program.

    ``stop`` is asked between relaxations; ``tell`` hears of the best money and the bound.
    """

    def __init__(
        self,
        winters: Winters,
        gap: float,
        tell: Callable[[float | None, float], None],
        stop: Callable[[], bool],
        effort: Effort,
    ) -> None:
        self.bound = -np.inf
        """No plan costs less, prices of trees left out included."""
        self.best: Decided | None = None
        self.winters = winters
        self._enough = effort.share * gap
        self._tolerance = min(max(TOLERANCE, gap * TOLERANCE_OF_GAP), ROUGH)
        self._tell, self._stop, self._effort = tell, stop, effort
        self.choices: list[Choice] = []
        self.columns, self.days = self._list_choices()
        """Columns of settings and carry days in the program, and which of them are carry days."""
        arrays = winters.arrays
        lower, upper = arrays.lower[self.columns], arrays.upper[self.columns]
        self.root = Node(-np.inf, 0, lower, upper)
        self.parts: list[Node] = [self.root]
        """What the choice was divided into; no plan is outside of them."""
        self._number = 0
        self.held: FloatArray | None = None
        """Values of the choosing columns in the best decision."""
        self._held_stand: Stand | None = None
        """Where its relaxation ended."""

    def _list_choices(self) -> tuple[IntArray, IntArray]:
        """Columns of settings and carry days, and which of them are carry days."""
        model = self.winters.model
        column_of = self.winters.column_of
        columns: list[int] = []
        for (shelter, spell), found in model.settings.items():
            if len(found) < 2:
                continue
            money = model.data.heat_money[shelter][:, spell]
            settings = np.array(sorted(found))
            cheapest_first = settings[np.argsort(money[settings], kind="stable")]
            at = np.arange(len(columns), len(columns) + len(found))
            self.choices.append(Choice(shelter, spell, cheapest_first, at, money[cheapest_first]))
            columns += [column_of[id(found[s])] for s in cheapest_first.tolist()]
        days = np.arange(len(columns), len(columns) + len(model.carry_day))
        columns += [column_of[id(v)] for v in model.carry_day.values()]
        return np.array(columns, dtype=np.int64), days

    def leaves_out(self) -> float:
        """What trees left out cost in the relaxation, solved roughly."""
        self.winters.relax(ROUGH)
        return out_money(self.winters.model)

    def run(self) -> Decided | None:
        """Branch until the best decision is near enough, or the nodes are used up.

        None if no decision keeps every row (breakers may forbid what was rounded).
        """
        self._begin()
        if self._effort.rounds_once:
            self._round(self.root)
            self._exchange()
        open_nodes = [self.root]
        decided: list[Node] = []
        """Parts that need no branching."""
        for _ in range(self._effort.nodes):
            if not open_nodes or self._near_enough() or self._stop():
                break
            self._go_on(heapq.heappop(open_nodes), open_nodes, decided)
            self.parts = [*open_nodes, *decided]
            least = min((n.bound for n in self.parts), default=np.inf)
            if np.isfinite(least):
                self.bound = max(self.bound, least)
        if self.best is None:
            node = min((n for n in open_nodes if n.values is not None), default=self.root)
            self._round(node)
        self._spare_trees()
        return self.best

    def _go_on(self, node: Node, open_nodes: list[Node], decided: list[Node]) -> None:
        """Solve a part, or divide it once that is done."""
        children = None if node.values is None else self.children(node)
        if children is not None:
            node, other = children
            heapq.heappush(open_nodes, other)
        elif node.values is not None and node.every_row:
            self._try(node)
            decided.append(node)
            return
        elif node.values is not None:
            node.every_row, node.values = True, None
        if self._evaluate(node):
            heapq.heappush(open_nodes, node)
            self._try(node)

    def _spare_trees(self) -> None:
        """Round again without haste if that may have cost a tree its place."""
        if self.best is not None and self.best.left_out_money > 0.0 and self._stop():
            self.winters.patient = True
            self._round(self.root)

    def _begin(self) -> None:
        """Solve the undivided choice."""
        if self.winters.money is None:
            self.winters.relax(ROUGH)
        # with prices at hand, it is soon known what chilling every tree for itself costs
        self.winters.demand_chilling()
        self._evaluate(self.root)
        self.bound = self.root.bound

    def hold(self, node: Node) -> None:
        """Hold a node's bounds, to be solved from where it or its parent ended."""
        self.winters.hold(self.columns, node.lower, node.upper)
        if node.stand is not None:
            self.winters.begin_at(node.stand)

    def hold_best(self) -> None:
        """Hold the best decision and solve its relaxation.

        Raises
        ------
        NoPoint
            There is no decision.
        """
        if self.held is None:
            raise NoPoint("No decision keeps every row.")
        self.winters.hold(self.columns, self.held, self.held)
        if self._held_stand is not None:
            self.winters.begin_at(self._held_stand)
        before, self.winters.patient = self.winters.patient, True  # trees are placed by its prices
        self.winters.relax(self._tolerance)
        self.winters.patient = before

    def _near_enough(self) -> bool:
        return self.best is not None and self.bound >= self._near_best(self.best)

    def _near_best(self, best: Decided) -> float:
        """A bound that is near enough to the best decision."""
        return best.money - self._enough * abs(best.money)

    # --- nodes --------------------------------------------------------------------------------

    def _evaluate(self, node: Node) -> bool:
        """Solve a node's relaxation as far as it is of interest; False if it has no point."""
        enough = np.inf
        if np.isfinite(self.bound):
            # dearer than one must know: of the other parts first, or for good
            enough = max(self.bound, node.bound) * (1.0 + self._enough)
            if self.best is not None:
                enough = min(enough, self._near_best(self.best))
        self.hold(node)
        try:
            node.bound = max(node.bound, self._relaxed(node, enough))
        except NoPoint:
            return False
        if node.bound <= enough:
            node.values, node.stand = self.values(), self.winters.stand()
        self._tell(None if self.best is None else self.best.money, self.bound)
        return True

    def _relaxed(self, node: Node, enough: float) -> float:
        return self.winters.relax(self._tolerance, enough, every_row=node.every_row)

    def values(self) -> FloatArray:
        """Values of the choosing columns in the relaxation solved last, share."""
        variables = self.winters.arrays.variables
        return np.array([value(variables[c]) for c in self.columns.tolist()])

    def children(self, node: Node) -> tuple[Node, Node] | None:
        """A node in two, the likelier half first; None where all is decided.

        Divided is what moves most money: a carry day is in or out; of a shelter's settings in a
        spell, cheapest first, the front part falls out or the rest.
        """
        x = node.values
        assert x is not None
        moved, halves = 0.0, None
        day_price = self.winters.model.weights.carry_day
        for day in self.days:
            share = min(x[day], 1.0 - x[day])
            if share > ANY and (1.0 + share) * day_price + share > moved:
                moved = (1.0 + share) * day_price + share
                halves = (self.days[:0], np.array([day]), x[day] > HALF)
        for choice in self.choices:
            shares = x[choice.at]
            for front in range(1, len(shares)):
                low, high = shares[:front].sum(), shares[front:].sum()
                if min(low, high) <= ANY:
                    continue
                between = (
                    choice.money[front:] @ shares[front:] / high
                    - choice.money[:front] @ shares[:front] / low
                )
                money = float(min(low, high) * between)
                if halves is None or money > moved:
                    moved, halves = money, (choice.at[:front], choice.at[front:], low < HALF)
        if halves is None:
            return None
        first, second, second_is_likelier = halves
        children = [self._without(node, first), self._without(node, second)]
        if first.size == 0:
            children[0].lower[second] = 1.0
        return (children[0], children[1]) if second_is_likelier else (children[1], children[0])

    def _without(self, node: Node, some: IntArray) -> Node:
        """The part of a node in which some columns are 0."""
        self._number += 1
        upper = node.upper.copy()
        upper[some] = 0.0
        return Node(node.bound, self._number, node.lower.copy(), upper, stand=node.stand)

    # --- decisions ----------------------------------------------------------------------------

    def _try(self, node: Node) -> None:
        """Round a node to a decision, if its days are decided and it can pay."""
        if node.values is None or self._effort.rounds_once:
            return
        days = node.values[self.days]
        if np.minimum(days, 1.0 - days).max(initial=0.0) > ANY:
            return
        if self.best is None or node.bound < (1.0 - self._enough) * self.best.money:
            self._round(node)

    def _round(self, node: Node) -> None:
        """Fix days, then one shelter after the other; keep what comes out if it is the best."""
        self.hold(node)
        try:
            self.winters.relax(ROUGH)
            self._decide_all()
        except NoPoint:
            return

    def _decide_all(self) -> bool:
        """Round what the relaxation solved last leaves open; whether that is the best now.

        Raises
        ------
        NoPoint
            What is rounded breaks a row.
        """
        fix_days(self.winters, ROUGH)
        most = np.inf if self.best is None else self.best.money
        if not fix_settings(self.winters, ROUGH, most):
            return False
        self.winters.relax(self._tolerance)
        money = self.winters.objective
        better = self.best is None or money < self.best.money
        if better:
            self._keep()
        return better

    def _exchange(self) -> None:
        """Try exchanges of warmth between shelters on the best decision while it gets better."""
        tried: set[tuple[str, int]] = set()
        while (best := self.best) is not None:
            apart = best.money - self.bound
            self.hold_best()
            ways = [
                way
                for way in exchanges(self.winters.model, best.settings, -WORTH_A_LOOK * apart)
                if (way.shelter_id, way.setting) not in tried
            ]
            if not self._any_better(ways, tried, best.money - WORTH_ROUNDING * apart):
                return

    def _any_better(self, ways: list[Exchange], tried: set[tuple[str, int]], enough: float) -> bool:
        """Take the first of these exchanges that is better; ``enough`` is too dear to round."""
        held = self.held
        assert held is not None
        for way in ways:
            if len(tried) >= MOST_EXCHANGES or self._near_enough() or self._stop():
                return False
            tried.add((way.shelter_id, way.setting))
            lower, upper = held.copy(), held.copy()
            for choice in self.choices:
                if choice.shelter_id in way.colder:
                    lower[choice.at] = self.root.lower[choice.at]
                    upper[choice.at] = self.root.upper[choice.at]
                elif choice.shelter_id == way.shelter_id:
                    chosen = choice.settings == way.by_spell[choice.spell]
                    lower[choice.at] = upper[choice.at] = chosen
            self.winters.hold(self.columns, lower, upper)
            with contextlib.suppress(NoPoint):
                if self.winters.relax(self._tolerance, enough) <= enough and self._decide_all():
                    return True
        return False

    def take(self, held: FloatArray) -> Decided:
        """Take values of the choosing columns for the best decision."""
        self.winters.hold(self.columns, held, held)
        self.winters.relax(self._tolerance)
        return self._keep()

    def _keep(self) -> Decided:
        """The decision that is held is the best one."""
        model, money = self.winters.model, self.winters.objective
        settings, out = chosen_settings(model), whole_out_money(model)
        self.best = Decided(settings, self._near(money), out, money)
        self.held, self._held_stand = self.values().round(), self.winters.stand()
        return self.best

    def _near(self, money: float) -> dict[str, tuple[frozenset[str], ...]]:
        """By tree and spell: the places that come into question.

        Those of the point found, and of winters that cost little more than the cheapest.
        """
        model = self.winters.model
        trees = sum(group.count for group in model.data.groups)
        near = self.winters.near(NEAR * money / max(trees, 1))
        ids = list(model.data.season.places)
        at = {place_id: index for index, place_id in enumerate(ids)}
        for (group, spell), stays in model.stays.items():
            for stay in stays:
                if value(stay.variable) > ANY:
                    near[group, spell, at[stay.place_id]] = True
        named = np.array(ids)
        return {
            tree_id: tuple(frozenset(named[places].tolist()) for places in near[group.index])
            for group in model.data.groups
            if value(model.left_out[group.index]) <= ANY
            for tree_id in group.tree_ids
        }
