"""The answer: where every tree is in every stage, what is heated, what it costs, how proven."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date
from enum import StrEnum

from overwinter.model.shelter import HeaterSetting
from overwinter.model.species import Harm
from overwinter.model.stage import Stage

Stays = Mapping[str, tuple[str | None, ...]]  # by tree: its place in each stage, None till it joins
SAME_SPOT_M = 0.001
LEAST_MONEY = 1e-6  # money below this is the solver's rounding, no cost


class Cure(StrEnum):
    """The one rule whose fall gives a left-out tree a place."""

    ROOM = "more room"
    CARRIES = "more carries on a day"
    HEATER = "a stronger heater or breaker"
    GROWER = "another place allowed"
    SIZE = "a larger or stronger place"
    NONE = "nothing that was tried"


@dataclass(frozen=True, slots=True)
class Lack:
    """What one place lacks for one tree in the stage in which it lacks most."""

    place_id: str
    stage: int
    reason: str  # in the words of the rule that refuses it (`Rule.lacks`)
    amount: float  # a chance of loss (0 to 1); metres, kilograms or days; 0 where nothing counts
    unit: str
    harm: Harm | None = None  # of a chance of loss: the likeliest harm


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A tree without a place: what would give it one, found by solving, and what places lack."""

    tree_id: str
    cure: Cure
    cure_place: str | None  # where it would stand then
    lacks: tuple[Lack, ...]  # one a place, nearest first


@dataclass(frozen=True, slots=True)
class Carry:
    """One tree moved once, at the beginning of a stage. ``source`` None: it joins then."""

    stage: int
    day: date  # the stage's usual first day, or the day on which it was really carried
    tree_id: str
    source: str | None
    target: str


@dataclass(frozen=True, slots=True)
class Costs:
    """What a plan is judged by, mean money a winter: heat is spent, the rest is worry and work."""

    heat: float = 0.0
    losses: float = 0.0  # caution x value x chance of loss, over all trees
    carries: float = 0.0  # shifts among them, each at its share of a carry
    cover: float = 0.0  # days under cover that a tree could have spent outdoors safely
    crowding: float = 0.0
    disturbance: float = 0.0  # carries that the plan in force before did not have
    not_home: float = 0.0
    left_out: float = 0.0

    @property
    def total(self) -> float:
        """Sum of all parts."""
        return sum(float(getattr(self, part.name)) for part in fields(self))

    def in_cents(self) -> "Costs":
        """The same to be shown: with parts that add up to the total as they are written."""
        return Costs(*(round(getattr(self, part.name), 2) for part in fields(self)))

    @property
    def worry(self) -> float:
        """What does not leave the purse."""
        return self.total - self.heat


class Termination(StrEnum):
    """Why a search or a solve ended; says nothing about whether it has an answer."""

    OPTIMAL = "optimal"
    GAP_REACHED = "gap reached"
    TIME_LIMIT = "time limit"
    NODE_LIMIT = "node limit"
    INFEASIBLE = "infeasible"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Proof:
    """How the plan was found and how far it may be from the best; money unless said."""

    solver: str
    termination: Termination
    objective: float  # sum of all costs
    bound: float | None
    """No plan of the same stages and winters costs the program less, which prices each stage from a
    table. The objective follows true paths: what they make this plan cheaper than the table says
    is taken off the bound. None: not known."""
    gap: float | None  # (objective - bound) / |objective|; None: no bound known
    seconds: float  # processor seconds of the whole search
    rounds: int  # how many times trees were placed until all layouts held
    misfits: int | None = None  # sets that did not fit to scale; None: none was drawn

    @staticmethod
    def gap_of(objective: float, bound: float | None) -> float | None:
        """The gap, a share; money below ``LEAST_MONEY`` is none."""
        return None if bound is None else (objective - bound) / max(objective, LEAST_MONEY)


@dataclass(frozen=True, slots=True)
class Layout:
    """One tree's rectangle on its place, m from the front left corner; turned swaps the sides."""

    tree_id: str
    x_m: float
    y_m: float
    width_m: float
    depth_m: float

    def same_spot(self, other: "Layout") -> bool:
        """Whether the tree stands as it does in ``other``, to a millimetre."""
        moved = abs(self.x_m - other.x_m), abs(self.y_m - other.y_m)
        return max(*moved, abs(self.width_m - other.width_m)) < SAME_SPOT_M


@dataclass(frozen=True, slots=True)
class Shift:
    """One tree that stays at its place, pushed to another spot there as a stage begins."""

    stage: int
    place_id: str
    tree_id: str


@dataclass(frozen=True)
class Plan:
    """Where every tree is in every stage."""

    stages: tuple[Stage, ...]
    settings: Mapping[str, tuple[HeaterSetting, ...]]  # of each shelter in each stage
    stays: Stays  # left-out trees are not here
    carries: tuple[Carry, ...]  # in the order of the stages
    left_out: tuple[LeftOut, ...]
    costs: Costs
    proof: Proof
    layouts: Mapping[str, Mapping[int, tuple[Layout, ...]]] = field(default_factory=dict)
    """By place and stage: where each tree's rectangle lies."""
    shifts: tuple[Shift, ...] = ()  # who makes room where a newcomer fits in no gap
    fixed_stages: int = 0  # begun when the winter was planned anew; 0: planned before it
    unsafe: tuple[str, ...] = ()  # placed trees that are lost more often than the site allows
    other_loss: float | None = None
    """Expected loss in winters that the plan was not made from, money a winter, without caution;
    None: no winters can be drawn."""

    @property
    def tree_ids(self) -> tuple[str, ...]:
        """Every tree that it knows, placed or left out."""
        return (*self.stays, *(left.tree_id for left in self.left_out))


def carries_of_stays(stages: Sequence[Stage], stays: Stays) -> tuple[Carry, ...]:
    """Every change of place, and every joining, on the usual day of its stage."""
    return tuple(
        Carry(k, stages[k].usual, tree_id, path[k - 1], now)
        for k in range(1, len(stages))
        for tree_id, path in stays.items()
        for now in (path[k],)
        if now is not None and now != path[k - 1]
    )


# A ticked list is handed back weeks after it was made, through spreadsheets and phones. The names
# must survive that: they begin with a letter so that no spreadsheet takes one for a number (a bare
# ``12e45678`` would come back as ``1.2E+45679``).


def _digest(content: object, length: int) -> str:
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:length]


def _row(carry: Carry) -> list[str | None]:
    return [carry.day.isoformat(), carry.tree_id, carry.source, carry.target]


def carry_key(carry: Carry) -> str:
    """Name of one carry: the same in every plan that has this carry on this day."""
    return "c" + _digest(_row(carry), 11)


def plan_fingerprint(plan: Plan) -> str:
    """Name of what a plan asks to be done, carries and heater settings, not how it was found."""
    carries = sorted((_row(carry) for carry in plan.carries), key=str)
    settings = {
        shelter: [[[p.heater, p.step_w, p.hold_c] for p in setting.parts] for setting in by_stage]
        for shelter, by_stage in plan.settings.items()
    }
    stages = [[stage.sign, stage.threshold_c, stage.usual.isoformat()] for stage in plan.stages]
    return "p" + _digest([carries, settings, stages], 15)
