"""What the prices of a relaxation say of winters that are not in it."""

from dataclasses import dataclass

from overwinter.model.shelter import FloatArray
from overwinter.program.sweep import Sweep


@dataclass(frozen=True)
class Outlook:
    """What the prices of a relaxation say of every winter."""

    bound: float
    """Of the relaxation, at these prices, money."""
    columns: FloatArray
    """Price of each column of the program."""
    sweep: Sweep
    each: FloatArray
    """``(group,)``: the least a tree costs, a winter's price or that of leaving it out."""
