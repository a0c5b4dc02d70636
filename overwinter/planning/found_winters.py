"""The winters found so far in one relaxation, and what each costs with what is open now."""

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.planning.courses import Course, Courses, CourseTable
from overwinter.planning.pricing import Ways

IntArray = NDArray[np.int64]
InRows = tuple[IntArray, FloatArray]
"""Kept rows of the program in which a winter is, and with how much."""


class FoundWinters:
    """Winters in the order in which they were found; arrays ``(winter,)``."""

    def __init__(self, rules: Courses) -> None:
        self._rules = rules
        self.each: list[Course] = []
        self.in_rows: list[InRows] = []
        self._table: CourseTable = rules.table(())
        self.own_money: FloatArray = np.zeros(0)
        """Cost of each winter's columns, open or not; ``_extra`` is what hardening makes of it."""
        self._extra: FloatArray = np.zeros(0)
        self._columns: IntArray = np.zeros(0, dtype=np.int64)
        """Of all winters one after another, and the winter of each."""
        self._of_column: IntArray = np.zeros(0, dtype=np.int64)
        self._known: set[tuple[int, bytes]] = set()

    def __len__(self) -> int:
        return len(self.each)

    @property
    def owner(self) -> IntArray:
        """Group of each winter."""
        return self._table.group

    @property
    def costs(self) -> FloatArray:
        """Cost of each winter for one tree; infinite where it is not open now."""
        return self.own_money + self._extra

    def costs_at(self, prices: FloatArray) -> FloatArray:
        """The same at prices by column of the program."""
        weights = prices[self._columns]
        own = np.bincount(self._of_column, weights=weights, minlength=len(self))
        return own + self._extra

    def new(self, ways: Ways) -> list[Course]:
        """Those not known yet; from now on they are."""
        new = []
        for group, columns in ways:
            key = (group, np.sort(columns).tobytes())
            if key not in self._known:
                self._known.add(key)
                new.append(self._rules.course(group, columns))
        return new

    def add(self, new: list[Course], in_rows: list[InRows], own_money: FloatArray) -> FloatArray:
        """Add winters; what hardening makes of the cost of each, infinite where it is not open."""
        table = self._rules.table(new)
        extra = self._rules.extra(table)
        sizes = [course.columns.size for course in new]
        number = len(self) + np.repeat(np.arange(len(new)), sizes)
        self._columns = np.concatenate([self._columns, *(course.columns for course in new)])
        self._of_column = np.concatenate([self._of_column, number])
        self.each += new
        self.in_rows += in_rows
        self._table = self._table.followed_by(table)
        self.own_money = np.concatenate([self.own_money, own_money])
        self._extra = np.concatenate([self._extra, extra])
        return extra

    def keep_open(self, upper: FloatArray) -> IntArray:
        """Numbers of winters that cost otherwise now; ``upper`` as for ``Courses.keep_open``."""
        changed = self._rules.keep_open(upper)
        return self._reckon_again(np.flatnonzero(self._rules.touched(self._table, changed)))

    def demand_chilling(self) -> IntArray:
        """The same, as no winter may make up for another one's chilling any more."""
        self._rules.demand_chilling()
        return self._reckon_again(np.arange(len(self)))

    def _reckon_again(self, some: IntArray) -> IntArray:
        extra = self._rules.extra(self._table.only(some))
        changed = extra != self._extra[some]
        self._extra[some] = extra
        anew: IntArray = some[changed]
        return anew
