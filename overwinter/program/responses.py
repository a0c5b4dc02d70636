"""What a stay does to a tree and costs it, by the hardening that the tree comes with.

The program itself knows hardening only from above; a winter taken as a whole knows it. Where the
table does not say how hardening answers (``Suitability.hardening``), a stay is as the program has
it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.program.model import Model, Stay
from overwinter.suitability.table import Hardening

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

MATTERS = 0.005
"""Money: hardening that changes a tree's risk by less in any spell to come need not be known."""
ROUNDING = 1e-9


@dataclass(frozen=True)
class Arcs:
    """Stays that are open to trees with given states; arrays ``(arc,)``."""

    entry: IntArray
    stay: IntArray
    option: IntArray
    extra: FloatArray
    """Cost beyond that of the stay's variable, money."""
    hardening: FloatArray
    """After the stay, as ``level``."""
    level: IntArray


class Responses:
    """The stays of one program, ``stays`` in the order in which they are numbered."""

    def __init__(self, model: Model, stays: Sequence[Stay]) -> None:
        data, table = model.data, model.data.suitability
        groups, spells = len(data.groups), len(data.spells)
        self.hardening: Hardening | None = table.hardening
        self.knows = self.hardening is not None
        """Whether winters keep their own hardening."""
        self.present: BoolArray = np.asarray(table.present)
        self.start: FloatArray = np.array(
            [g.start.hardening if self.knows else 0.0 for g in data.groups]
        )
        self._value: FloatArray = np.array([g.tree.value for g in data.groups])
        self._table = table
        self._number_options(model, stays)
        open_to = self._stay_of >= 0
        self._matters: BoolArray = np.zeros((groups, spells + 1), dtype=np.bool_)
        if self.hardening is not None:
            softest, hardest = (
                np.exp(-self.hardening.soft[:, 0]),
                np.exp(-self.hardening.hard[:, -1]),
            )
            swing = self.hardening.tail_chance * (softest - hardest)[self.hardening.kind]
            asks = (swing * self._value[:, None, None] > MATTERS) | (table.entry_least > 0.0)
            now: BoolArray = np.asarray((asks & open_to).any(axis=1))
            ahead = np.logical_or.accumulate(now[:, ::-1], axis=1)
            self._matters[:, :-1] = ahead[:, ::-1]
        # what is asked for together lies together: the same numbers spell by spell
        self._growth: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        """By spell: ``soft``, ``hard`` and ``slope``, flat ``(kind, step, option)``."""
        if self.hardening is not None:
            known = (self.hardening.soft, self.hardening.hard, self.hardening.slope)
            self._growth = [
                (known[0][..., k].ravel(), known[1][..., k].ravel(), known[2][..., k].ravel())
                for k in range(spells)
            ]

    def _number_options(self, model: Model, stays: Sequence[Stay]) -> None:
        """Which options belong to which place and stay; a stay has those of its settings."""
        data, table = model.data, model.data.suitability
        by_place = data.options_of_place
        most = max((len(options) for options in by_place.values()), default=0)
        ids = list(data.season.places)
        self._place_options: IntArray = np.full((len(ids), most), -1, dtype=np.int64)
        for place, options in by_place.items():
            self._place_options[ids.index(place), : len(options)] = [o.index for o in options]
        shape = (len(data.groups), len(table.options), len(data.spells))
        self._stay_of: IntArray = np.full(shape, -1, dtype=np.int64)
        self._stay_options: IntArray = np.full((len(stays), most), -1, dtype=np.int64)
        self._stay_money: FloatArray = np.array([stay.money for stay in stays])
        index = table.option_at
        for number, stay in enumerate(stays):
            options_of = [index[stay.place_id, setting] for setting in stay.settings]
            self._stay_of[stay.group, options_of, stay.spell] = number
            self._stay_options[number, : len(options_of)] = options_of

    def stays_with(self, options: BoolArray, spell: IntArray) -> BoolArray:
        """``(stay,)``: which of them stand for one of ``(option, spell)``.

        ``spell`` ``(stay,)`` is that of each stay.
        """
        none = np.zeros((1, options.shape[1]), dtype=np.bool_)  # -1 stands for no option
        some = np.concatenate([options, none])
        found: BoolArray = np.asarray(some[self._stay_options, spell[:, None]].any(axis=1))
        return found

    # --- levels -------------------------------------------------------------------------------

    def level(
        self, group: IntArray, spell: int, hardening: FloatArray, levels: IntArray
    ) -> IntArray:
        """Level of hardening at the beginning of a spell; ``levels`` ``(group,)`` there are."""
        if not self.knows:
            return np.zeros_like(group)
        of_group = levels[group]
        level = np.minimum((hardening * of_group).astype(np.int64), of_group - 1)
        told: IntArray = np.where(self._matters[group, spell], level, 0)
        return told

    # --- arcs ---------------------------------------------------------------------------------

    def arcs(
        self,
        group: IntArray,
        place: IntArray,
        hardening: FloatArray,
        spell: int,
        levels: IntArray,
    ) -> Arcs:
        """Stays through ``spell`` for entries with these states, arrays ``(entry,)``."""
        options = self._place_options[place]
        entry, column = np.nonzero(options >= 0)
        option = options[entry, column]
        stay = self._stay_of[group[entry], option, spell]
        good = stay >= 0
        if self.knows:
            least = self._table.entry_least[group[entry], option, spell]
            good &= hardening[entry] >= least - ROUNDING
        entry, option, stay = entry[good], option[good], stay[good]
        of_group, state = group[entry], hardening[entry]
        if not self.knows:
            return Arcs(entry, stay, option, np.zeros(entry.size), state, np.zeros_like(entry))
        extra = self._extra(of_group, stay, option, spell, state)
        after = self._after(of_group, option, spell, state)
        level = self.level(of_group, spell + 1, after, levels)
        return Arcs(entry, stay, option, extra, after, level)

    def _after(
        self, group: IntArray, option: IntArray, spell: int, state: FloatArray
    ) -> FloatArray:
        assert self.hardening is not None
        at = (self.hardening.kind[group], option, spell)
        high, low = self.hardening.high[at], self.hardening.low[at]
        after: FloatArray = np.clip(state + self.hardening.change[at], low, high)
        return after

    def _extra(
        self, group: IntArray, stay: IntArray, option: IntArray, spell: int, state: FloatArray
    ) -> FloatArray:
        """Cost of stays beyond that of their variables, never more than it truly is."""
        known = self.hardening
        assert known is not None
        steps = known.soft.shape[1]
        step = np.clip((state * steps).astype(np.int64), 0, steps - 1)
        soft, hard, slope = self._growth[spell]
        at = np.ravel_multi_index((known.kind[group], step, option), known.soft.shape[:3])
        grown = soft[at] + slope[at] * (state - step / steps)
        risk = known.tail_chance * np.exp(-np.minimum(grown, hard[at]))
        rodents = self._table.rodent_money[group, option, spell]
        extra: FloatArray = rodents + self._value[group] * risk - self._stay_money[stay]
        return extra

    # --- whole winters ------------------------------------------------------------------------

    def of_winters(self, group: IntArray, stays: IntArray, possible: BoolArray) -> FloatArray:
        """Cost of winters beyond that of their variables, ``(winter,)``; infinite for those that
        no tree comes through.

        Where a stay stands for several options, the best of each is taken.

        Parameters
        ----------
        group : ``(winter,)``.
        stays : ``(winter, spell)``, -1 before the trees join.
        possible : ``(option, spell)``, which settings are still in question.
        """
        extra, state = np.zeros(group.size), self.start[group]
        for spell in range(stays.shape[1]):
            here = np.flatnonzero(stays[:, spell] >= 0)
            stay = stays[here, spell]
            options = self._stay_options[stay]
            row, column = np.nonzero(options >= 0)
            option, of_group, entry = options[row, column], group[here][row], state[here][row]
            good = possible[option, spell]
            if self.knows:
                least = self._table.entry_least[of_group, option, spell]
                good &= entry >= least - ROUNDING
            row, option, of_group, entry = row[good], option[good], of_group[good], entry[good]
            money, after = np.full(here.size, np.inf), np.zeros(here.size)
            if self.knows:
                each = self._extra(of_group, stay[row], option, spell, entry)
                np.minimum.at(money, row, each)
                np.maximum.at(after, row, self._after(of_group, option, spell, entry))
            else:
                money[row] = 0.0
            extra[here] += money
            state[here] = after
        return extra
