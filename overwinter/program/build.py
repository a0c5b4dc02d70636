"""Builds the integer program."""

from collections.abc import Collection

import pulp

from overwinter.program import objective
from overwinter.program.constraints.quarantine import add_quarantine
from overwinter.program.data import ProgramData
from overwinter.program.model import (
    Model,
    add_carries,
    add_crowding,
    add_settings,
    add_stays,
)
from overwinter.program.registry import FAMILIES


def build(
    data: ProgramData, *, may_leave_out: bool = False, without: Collection[str] = ()
) -> Model:
    """The program for ``data``, constant of the objective included.

    With ``may_leave_out`` trees may be left without a place, at a price above everything else;
    otherwise every tree must have one. Families of rows named in ``without`` are left away, for
    whoever keeps them otherwise.
    """
    model = Model(data, pulp.LpProblem("winter", pulp.LpMinimize))
    add_settings(model)
    if may_leave_out:
        for group in data.groups:
            model.left_out[group.index] = model.variable(0, group.count, integer=True)
    add_stays(model)
    add_carries(model)
    add_crowding(model)
    add_quarantine(model)
    model.problem.setObjective(objective.total(model))
    row = 0
    for family in FAMILIES:
        first = row
        for constraint in () if family.name in without else family.rows(model):
            model.problem.addConstraint(constraint, f"r{row}")
            row += 1
        model.rows[family.name] = range(first, row)
    return model
