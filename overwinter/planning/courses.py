"""Winters of single groups: which stays and carries they are, whether they are open, what they cost
beyond the costs of their variables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.program.flow import Flow
from overwinter.program.model import Model
from overwinter.program.sweep import Prices
from overwinter.solvers.arrays import Rows

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

ENOUGH = 1e-6
"""Chilling by which a tree may fall short; as the checks of single trees have it."""
ANYWAY, NEVER = -1, -2
"""Stand for choices that are none."""


@dataclass(frozen=True, slots=True)
class Course:
    """A winter of one group's trees."""

    group: int
    columns: IntArray
    """Columns of the program that are 1."""
    stays: IntArray
    """``(spell,)``, -1 before the trees join."""
    carried: BoolArray
    """``(spell,)``: on its first day."""


@dataclass(frozen=True, slots=True)
class CourseTable:
    """Winters as arrays."""

    group: IntArray
    """``(winter,)``."""
    stays: IntArray
    """``(winter, spell)``, -1 before the trees join."""
    carried: BoolArray
    """``(winter, spell)``: on its first day."""

    def only(self, some: IntArray) -> "CourseTable":
        """Some of them."""
        return CourseTable(self.group[some], self.stays[some], self.carried[some])

    def followed_by(self, more: "CourseTable") -> "CourseTable":
        """These and then ``more``."""
        return CourseTable(
            np.concatenate([self.group, more.group]),
            np.concatenate([self.stays, more.stays]),
            np.concatenate([self.carried, more.carried]),
        )


@dataclass(frozen=True, slots=True)
class Changed:
    """Choices that have opened or closed."""

    settings: BoolArray
    """``(option, spell)``."""
    days: BoolArray
    """``(spell,)``."""


class Courses:
    """What is known of the winters of one program.

    ``column_of`` maps ``id(variable)`` to its column.
    """

    def __init__(self, model: Model, flow: Flow, rows: Rows, column_of: Mapping[int, int]) -> None:
        self._flow = flow
        columns = 1 + max(column_of.values(), default=0)
        self._stay_at = np.full(columns, -1, dtype=np.int64)
        """Stay of each column of the program, and spell of each carry, -1 for others."""
        self._stay_at[flow.stay_column] = np.arange(flow.stay_column.size)
        self._spell_of_stay: IntArray = flow.stay_cell // flow.places % flow.spells
        self._carry_at = np.full(columns, -1, dtype=np.int64)
        carries = flow.in_column >= 0
        self._carry_at[flow.in_column[carries]] = np.nonzero(carries)[1]
        self._settings, self._days = _choices(model, column_of)
        self._possible: BoolArray = self._settings != NEVER
        self._carry_days: BoolArray = self._days != NEVER
        self._read_chilling(model, rows)
        self.owing: IntArray = np.zeros(0, dtype=np.int64)
        """Groups of which every tree must earn what it owes; others may as a mean."""

    def _read_chilling(self, model: Model, rows: Rows) -> None:
        flow = self._flow
        row_of = rows.row_of_entry()
        stay = self._stay_at[rows.columns]
        wanted = np.zeros(len(rows), dtype=np.bool_)
        wanted[list(model.rows["chilling"])] = True
        inside = np.flatnonzero(wanted[row_of] & (stay >= 0))
        self.chill: FloatArray = np.zeros(flow.stay_column.size + 1)
        """What each stay earns; 0 for none."""
        self.chill[stay[inside]] = rows.values[inside]
        self.group_of_stay: IntArray = flow.stay_cell // (flow.spells * flow.places)
        owing_row = np.full(flow.groups, -1, dtype=np.int64)
        group = self.group_of_stay[stay[inside]]
        owing_row[group] = row_of[inside]
        lower = np.append(rows.lower, 0.0)
        self.owed: FloatArray = lower[owing_row] / flow.count
        self.owed[owing_row < 0] = 0.0
        """By group: what a tree owes."""

    def keep_open(self, upper: FloatArray) -> Changed:
        """Only choices whose columns may still be more than a half; ``upper`` ``(column,)``."""
        may = np.append(upper > 0.5, [False, True])
        possible, days = may[self._settings], may[self._days]
        changed = Changed(possible != self._possible, days != self._carry_days)
        self._possible, self._carry_days = possible, days
        return changed

    def touched(self, table: CourseTable, changed: Changed) -> BoolArray:
        """``(winter,)``: which of them pass a choice that has changed."""
        stays_with = self._flow.responses.stays_with
        of_stay = np.append(stays_with(changed.settings, self._spell_of_stay), False)
        carried = table.carried[:, changed.days].any(axis=1)
        return np.asarray(of_stay[table.stays].any(axis=1)) | carried

    def demand_chilling(self) -> None:
        """From now on no winter makes up for the chilling that another one of its group lacks."""
        self.owing = np.flatnonzero(self.owed > 0.0)

    def course(self, group: int, columns: IntArray) -> Course:
        """The winter of these columns."""
        flow = self._flow
        at = self._stay_at[columns]
        at = at[at >= 0]
        stays = np.full(flow.spells, -1, dtype=np.int64)
        stays[self._spell_of_stay[at]] = at
        spells = self._carry_at[columns]
        carried = np.zeros(flow.spells, dtype=np.bool_)
        carried[spells[spells >= 0]] = True
        return Course(group, columns, stays, carried)

    def table(self, courses: Sequence[Course]) -> CourseTable:
        """Winters as arrays."""
        shape = (len(courses), self._flow.spells)
        stays = np.array([course.stays for course in courses], dtype=np.int64)
        carried = np.array([course.carried for course in courses], dtype=np.bool_)
        group = np.array([course.group for course in courses], dtype=np.int64)
        return CourseTable(group, stays.reshape(shape), carried.reshape(shape))

    def extra(self, table: CourseTable, mixed: bool = False) -> FloatArray:
        """Cost beyond that of their columns; infinite for winters that are not open.

        Those that do not chill a tree that owes it are not, unless they may be ``mixed``.
        """
        extra = self._flow.responses.of_winters(table.group, table.stays, self._possible)
        extra[table.carried[:, ~self._carry_days].any(axis=1)] = np.inf
        if self.owing.size and not mixed:
            extra[~self._chilled(table)] = np.inf
        return extra

    def costs(
        self, ways: Sequence[tuple[int, IntArray]], prices: FloatArray, mixed: bool = False
    ) -> FloatArray:
        """Cost of winters (group, columns) at prices by column of the program; as ``extra``."""
        courses = [self.course(group, columns) for group, columns in ways]
        own = np.array([prices[columns].sum() for _, columns in ways], dtype=np.float64)
        return own + self.extra(self.table(courses), mixed)

    def _chilled(self, table: CourseTable) -> BoolArray:
        """Which of them earn a tree what it owes; True for groups that may mix."""
        earned = self.chill[table.stays].sum(axis=1)
        enough = earned >= self.owed[table.group] - ENOUGH
        chilled: BoolArray = ~np.isin(table.group, self.owing) | enough
        return chilled

    def prices(self, columns: FloatArray) -> Prices:
        """Prices of columns with what is not open priced out."""
        closed = self._flow.in_column[:, ~self._carry_days, :]
        if closed.size:
            columns = columns.copy()
            columns[closed[closed >= 0]] = np.inf
        return Prices(columns, self._possible)


def _choices(model: Model, column_of: Mapping[int, int]) -> tuple[IntArray, IntArray]:
    """Columns of settings ``(option, spell)`` and carry days ``(spell,)``."""
    options, spells = model.data.suitability.options, len(model.data.spells)
    settings = np.full((len(options), spells), NEVER, dtype=np.int64)
    for option in options:
        for spell in range(spells):
            found = model.settings[option.shelter_id, spell]
            if option.setting in found:
                variable = found[option.setting]
                at = ANYWAY if variable is None else column_of[id(variable)]
                settings[option.index, spell] = at
    days = np.full(spells, ANYWAY, dtype=np.int64)
    for spell, variable in model.carry_day.items():
        days[spell] = column_of[id(variable)]
    return settings, days
