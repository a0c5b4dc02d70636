"""What a plan costs at least with a setting or a carry day other than the likely one.

Read off the prices of one relaxation (Lagrange's bound with one choice held), so it costs a few
sums for each; where such a bound is above the cost of a plan, the alternative is out of the
question.
"""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.planning.branching import Branching, Choice, Node
from overwinter.planning.outlook import Outlook


@dataclass(frozen=True)
class Alternatives:
    """Bounds, money, by choosing column: with the column 0, and with it 1.

    A setting is 0 wherever another one of its choice is 1, so only carry days have ``without``.
    """

    without: FloatArray
    having: FloatArray


def alternatives(branching: Branching, node: Node, outlook: Outlook) -> Alternatives:
    """Bounds on the parts of a node, whose relaxation was solved last; -inf: nothing is known."""
    own = outlook.columns[branching.columns]
    at = np.where(own > 0.0, node.lower, node.upper)
    without = np.full(own.size, -np.inf)
    having = np.full(own.size, -np.inf)
    rest = outlook.bound - own * at
    for spell, day in enumerate(branching.days.tolist()):
        uncarried = outlook.sweep.least_uncarried(spell)
        without[day] = rest[day] + _dearer(branching, outlook, uncarried)
        having[day] = rest[day] + own[day]
    for choice in branching.choices:
        base = outlook.bound - float(own[choice.at] @ at[choice.at])
        for column, options in _options(branching, choice):
            if node.upper[column] > 0.0:
                least = outlook.sweep.least_with(choice.spell, options)
                having[column] = base + own[column] + _dearer(branching, outlook, least)
    return Alternatives(without, having)


def _dearer(branching: Branching, outlook: Outlook, least: FloatArray) -> float:
    """What all trees cost more if each costs ``least`` ``(group,)`` or is left out."""
    flow = branching.winters.flow
    # sweeps know nothing of chilling that each tree owes
    each = np.maximum(np.minimum(least, outlook.columns[flow.left_out]), outlook.each)
    return float((each - outlook.each) @ flow.count)


def _options(
    branching: Branching, choice: Choice
) -> list[tuple[int, np.ndarray[tuple[int], np.dtype[np.bool_]]]]:
    """By column of a choice: the options open with that setting, ``(option,)``."""
    options = branching.winters.model.data.suitability.options
    elsewhere = np.array([o.shelter_id != choice.shelter_id for o in options])
    setting = np.array([o.setting for o in options])
    pairs = zip(choice.at.tolist(), choice.settings.tolist(), strict=True)
    return [(column, elsewhere | (setting == s)) for column, s in pairs]
