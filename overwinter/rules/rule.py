"""What a rule is, and a plan as the checks of the rules read it.

All that belongs to a rule stands in one file: the check of a finished plan, which the audit makes;
where a place is refused to a tree, which the search asks; and what is said of it to the grower. The
check shares no line with the refusal (``tests/rules/test_rules.py``).
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from overwinter.model.changes import Start
from overwinter.model.plan import Costs, Cure, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, Place
from overwinter.model.stage import StageDays
from overwinter.model.tree import Tree
from overwinter.units import METRIC, Display

SLACK = 1e-6  # so near, a limit counts as kept in any unit: inches do not come out even, nor sums

Fault = tuple[str | None, str | None, int | None, float, str, str]  # a `Finding` but its rule
Move = tuple[int, str, str | None, str]  # stage, tree, source (None: it joins), target


def excess(value: float, limit: float = 0.0) -> float:
    """By how much a limit is passed; 0 where it is kept."""
    over = value - limit
    return over if over > SLACK else 0.0


@dataclass(frozen=True, eq=False)
class Rule:
    """What a plan must hold to."""

    name: str  # how the audit names it to the grower
    check: Callable[["Ledger"], Iterator[Fault]] = field(repr=False)  # of a finished plan
    lacks: str = ""  # what a place that it refuses lacks, to the grower
    unit: str = ""  # of what it lacks
    refuses: Callable[[Season, Tree, Place], float | None] | None = field(default=None, repr=False)
    """By how much a place is none for a tree, whatever the weather; None: by nothing."""
    cure: Cure = Cure.NONE  # whose fall would give a tree that is refused a place
    first: bool = False  # whoever breaks it is no plan; nothing else can be asked of it then


@dataclass(frozen=True, slots=True)
class Finding:
    """One broken rule. ``by_how_much`` is the excess or shortfall, positive, in ``unit``."""

    rule: Rule
    subject: str | None  # tree id, shelter id or breaker; None: the plan as a whole
    where: str | None  # place or shelter id
    stage: int | None
    by_how_much: float
    unit: str
    text: str

    def __str__(self) -> str:
        return self.told(METRIC)

    def told(self, display: Display) -> str:
        """The rule, the stage, what is wrong and by how much in the site's units."""
        when = "" if self.stage is None else f", stage {self.stage + 1}"
        amount = display.excess(self.by_how_much, self.unit)
        return f"{self.rule.name}{when}: {self.text} (by {amount})."


@dataclass(frozen=True)
class Ledger:
    """One plan to check. All but the rules that come first take for granted that those hold."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    start: Start | None = None  # where the plan began, if anybody knows
    lost: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """By placed tree: chance to be lost for good in a winter, and in its worst stage."""
    costs: Costs = field(default_factory=Costs)  # as the audit reckons them

    @property
    def stages(self) -> range:
        """Indices of all stages."""
        return range(len(self.stage_days.stages))

    @property
    def free_stages(self) -> range:
        """Stages that the plan could choose; what was before is a fact."""
        begun = 1 if self.start is None else self.start.fixed_stages
        return range(max(1, begun, self.plan.fixed_stages), len(self.stages))

    @cached_property
    def placed(self) -> tuple[Tree, ...]:
        """Trees that have a place, in the order of the season."""
        return tuple(tree for tree in self.season.trees if tree.id in self.plan.stays)

    @cached_property
    def occupants(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        """Trees by (place, stage), facts included."""
        found: dict[tuple[str, int], tuple[Tree, ...]] = {}
        for tree in self.placed:
            for stage, place_id in enumerate(self.plan.stays[tree.id]):
                if place_id is not None:
                    found[place_id, stage] = (*found.get((place_id, stage), ()), tree)
        return found

    def chosen(self) -> Iterator[tuple[Place, int, tuple[Tree, ...]]]:
        """Trees at each place in each stage that the plan could choose."""
        for (place_id, stage), trees in self.occupants.items():
            if stage >= self.free_stages.start:
                yield self.season.places[place_id], stage, trees

    def chosen_stays(self) -> Iterator[tuple[Tree, Place, range]]:
        """Each tree with each place it is given, and the stages of one unbroken stay there."""
        for tree in self.placed:
            path = self.plan.stays[tree.id]
            begin = self.free_stages.start
            for stage in range(begin + 1, len(path) + 1):
                if stage == len(path) or path[stage] != path[begin]:
                    place_id = path[begin]
                    if place_id is not None:
                        yield tree, self.season.places[place_id], range(begin, stage)
                    begin = stage

    @cached_property
    def moves(self) -> Counter[Move]:
        """Changes of place in the stays; joining is one."""
        return Counter(
            (stage, tree.id, path[stage - 1], place_id)
            for tree in self.placed
            for path in (self.plan.stays[tree.id],)
            for stage in range(1, len(self.stages))
            for place_id in (path[stage],)
            if place_id is not None and place_id != path[stage - 1]
        )

    @cached_property
    def setting(self) -> Mapping[str, tuple[int, ...]]:
        """Index of each shelter's setting in each stage."""
        known = self.conditions.shelters
        return {
            shelter_id: tuple(known[shelter_id].settings.index(one) for one in settings)
            for shelter_id, settings in self.plan.settings.items()
        }
