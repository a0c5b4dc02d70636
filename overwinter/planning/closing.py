"""Closes what lies between a plan and the bound, in winters where that is little.

Branching (``branching.py``) stops when its own part of the gap is reached, with trees in pieces.
Here a plan of whole trees is at hand, and most of the choice cannot hold a much cheaper one: its
relaxation is dearer. Of each part that branching has left, what is too dear falls out first, a
setting or a carry day at a time. On all winters that a cheaper plan could be made of with what is
left, an integer program places whole trees; where that does not show that there is no cheaper plan,
the part is divided, until settings and days are decided. That is exact: the least bound of all
parts holds for every plan.
"""

from collections.abc import Callable

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.planning.alternatives import Alternatives, alternatives
from overwinter.planning.branching import Branching, Choice, Node
from overwinter.planning.placing import MANY_NODES, Placed, Placing, money_of
from overwinter.planning.winters import NoPoint

TOLERANCE = 2e-4
AIM = 0.8
"""Part of the gap aimed at: what a plan is said to cost is reckoned anew at the end."""
MOST_RELAXED = 250
"""Relaxations of parts that are solved at most."""
FEW_NODES = 100
"""Nodes of branching for whole trees while dividing on may say more, sooner."""
PHASE, SHARE = "looking for a cheaper plan", 0.7
"""What it is called, and the part of the gap asked that placing whole trees may take."""


class Closing:
    """The search for a cheaper plan, or the proof that there is none.

    ``money`` is the cost of the plan at hand, ``gap`` how nearly it has to be proven.
    """

    def __init__(
        self,
        branching: Branching,
        placing: Placing,
        money: float,
        gap: float,
        stop: Callable[[], bool],
    ) -> None:
        assert branching.held is not None
        self._branching, self._gap, self._stop = branching, gap, stop
        self._placing = placing
        self._likely: FloatArray = branching.held
        self.money = money
        """Of the cheapest plan so far."""
        self.best: tuple[FloatArray, Placed] | None = None
        """A cheaper plan than the one at hand: values of the choosing columns, and its trees."""
        self._closed = np.inf
        """Least bound of the parts that are done with."""
        self._relaxed = 0

    @property
    def _target(self) -> float:
        """A part whose bound is no less need not be looked at."""
        return self.money - AIM * self._gap * abs(self.money)

    def run(self) -> float:
        """Close as much as the effort allows; a bound on every plan, money."""
        # the least bound last: a cheaper plan is likelier there, and brings the target down
        open_nodes = [self._anew(part) for part in sorted(self._branching.parts, reverse=True)]
        while open_nodes and not self._spent():
            node = open_nodes.pop()
            if node.bound >= self._target:
                self._close(node.bound)
            elif node.values is None:
                if self._relax(node) and self._drop_unlikely(node):
                    open_nodes.append(node)
            else:
                children = self._parts(node)
                self._place_whole(node, FEW_NODES if children else MANY_NODES)
                if children is None or node.bound >= self._target:
                    self._close(node.bound)
                    continue
                for child in children:
                    child.bound = max(child.bound, node.bound)
                open_nodes += [child for child in children if self._relax(child)]
        return min([self._closed, *(node.bound for node in open_nodes)])

    def _spent(self) -> bool:
        # a part given up below the gap asked: no other part can mend that, however long it takes
        given_up = self._closed < self.money - self._gap * abs(self.money)
        return given_up or self._relaxed >= MOST_RELAXED or self._stop()

    def _close(self, bound: float) -> None:
        self._closed = min(self._closed, bound)

    # --- parts --------------------------------------------------------------------------------

    def _bound_of(self, node: Node) -> float:
        """Relaxes a part; infinite where it has no point."""
        self._relaxed += 1
        self._branching.hold(node)
        try:
            return self._branching.winters.relax(TOLERANCE, self._target)
        except NoPoint:
            return np.inf

    def _relax(self, node: Node) -> bool:
        """Solve a part's relaxation; False if it is closed by that."""
        if node.values is not None:  # decided as the part it comes from
            return True
        node.bound = max(node.bound, self._bound_of(node))
        if node.bound >= self._target:
            self._close(node.bound)
            return False
        node.values = self._branching.values()
        node.stand = self._branching.winters.stand()
        self._drop(node)
        # nothing may be left of a choice: that was said when its settings were dropped
        return all(node.upper[choice.at].any() for choice in self._branching.choices)

    def _drop(self, node: Node) -> Alternatives:
        """Drop from a part whose relaxation was solved last what its prices rule out."""
        winters = self._branching.winters
        found = alternatives(self._branching, node, winters.outlook())
        for bounds, on in ((found.having, False), (found.without, True)):
            for column in np.flatnonzero(bounds >= self._target).tolist():
                if node.lower[column] < node.upper[column]:
                    self._close(float(bounds[column]))
                    node.lower[column] = node.upper[column] = float(on)
        return found

    def _drop_unlikely(self, part: Node) -> bool:
        """Drop days and settings one by one whose own relaxation rules them out.

        Those go first that seem easiest to rule out; what has been dropped helps with the rest.
        False if the part is closed by that.
        """
        branching = self._branching
        found = self._drop(part)
        for day in branching.days.tolist():
            if part.lower[day] == part.upper[day] or self._spent():
                continue
            likely = float(round(self._likely[day]))
            other = Node(part.bound, 0, part.lower.copy(), part.upper.copy())
            other.lower[day] = other.upper[day] = 1.0 - likely
            if (bound := self._bound_of(other)) >= self._target:
                self._close(bound)
                part.lower[day] = part.upper[day] = likely

        def others(choice: Choice) -> float:
            """The least bound of a choice with another setting than the likely one."""
            may = (part.upper[choice.at] > 0.0) & (self._likely[choice.at] < 0.5)
            return float(found.having[choice.at][may].min(initial=np.inf))

        for choice in sorted(branching.choices, key=others, reverse=True):
            likely_at = choice.at[np.argmax(self._likely[choice.at])]
            may = choice.at[part.upper[choice.at] > 0.0]
            if may.size < 2 or likely_at not in may or self._spent():
                continue
            other = Node(part.bound, 0, part.lower.copy(), part.upper.copy())
            other.upper[likely_at] = 0.0
            if (bound := self._bound_of(other)) >= self._target:
                self._close(bound)
                part.upper[may[may != likely_at]] = 0.0
        part.values = None
        return self._relax(part)

    def _parts(self, node: Node) -> tuple[Node, Node] | None:
        """A part in two; None where all is decided."""
        assert node.values is not None
        if (children := self._branching.children(node)) is not None:
            return children
        for choice in self._branching.choices:
            may = choice.at[node.upper[choice.at] > 0.0]
            if may.size > 1:
                on = may[np.argmax(node.values[may])]
                other, same = self._anew(node), self._anew(node)
                other.upper[on] = 0.0
                same.upper[may[may != on]] = 0.0
                same.values = node.values
                return other, same
        for day in self._branching.days.tolist():
            if node.lower[day] < node.upper[day]:
                on = float(round(node.values[day]))
                other, same = self._anew(node), self._anew(node)
                other.lower[day] = other.upper[day] = 1.0 - on
                same.lower[day] = same.upper[day] = on
                same.values = node.values
                return other, same
        return None

    @staticmethod
    def _anew(node: Node) -> Node:
        """The same part, not yet solved."""
        lower, upper = node.lower.copy(), node.upper.copy()
        return Node(node.bound, node.number, lower, upper, stand=node.stand)

    def _place_whole(self, node: Node, nodes: int) -> None:
        """Place whole trees in a part, which may show that it holds no cheaper plan.

        Before all is decided: most settings that could not be dropped differ by cents, and each
        of the parts they divide into takes as long as all of them at once.
        """
        winters, columns = self._branching.winters, self._branching.columns
        self._branching.hold(node)
        node.bound = max(node.bound, winters.relax(TOLERANCE, self._target))
        if node.bound >= self._target:
            return
        found = self._placing.no_dearer(self._target, PHASE, SHARE, nodes)
        node.bound = max(node.bound, found.bound)
        if found.shared is None:
            return
        held = found.shared[np.searchsorted(winters.shared, columns)].round()
        winters.hold(columns, held, held)
        placed = self._placing.only_on(found.winters, PHASE, SHARE)
        if money_of(placed) < self.money:
            self.money, self.best = money_of(placed), (held, placed)
