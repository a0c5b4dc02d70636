"""A plan beside all it is judged by."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Place
from overwinter.model.stage import StageDays
from overwinter.model.start import Start
from overwinter.model.tree import Tree

IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Ledger:
    """One plan to audit, and the views of it that several rules share."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    start: Start

    @property
    def stages(self) -> range:
        """Indices of all stages."""
        return range(len(self.plan.stages))

    @property
    def free_stages(self) -> range:
        """Stages that the plan could choose; what was before is a fact."""
        return range(max(1, self.plan.fixed_stages, self.start.fixed_stages), len(self.plan.stages))

    @property
    def days(self) -> int:
        """Days of the plan."""
        return self.stage_days.days

    @property
    def winters(self) -> int:
        """How many winters."""
        return int(self.stage_days.first_day.shape[1])

    @cached_property
    def placed(self) -> tuple[Tree, ...]:
        """Trees that have a place, in the order of the season."""
        return tuple(tree for tree in self.season.trees if tree.id in self.plan.stays)

    def home(self, tree: Tree) -> str:
        """Id of the place where a tree belongs in summer."""
        return tree.stands_at or self.season.site.summer_place

    def open_air(self, place_id: str) -> bool:
        """Whether a place is under the open sky."""
        return self.season.shelter_by_id[self.season.places[place_id].shelter_id].open_air

    @cached_property
    def _trees_at(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        found: dict[tuple[str, int], list[Tree]] = {}
        for tree in self.placed:
            for k, place_id in enumerate(self.plan.stays[tree.id]):
                if place_id is not None:
                    found.setdefault((place_id, k), []).append(tree)
        return {key: tuple(trees) for key, trees in found.items()}

    def occupied(self) -> Iterator[tuple[Place, int, tuple[Tree, ...]]]:
        """Every place with trees in a stage."""
        for (place_id, k), trees in self._trees_at.items():
            yield self.season.places[place_id], k, trees

    @cached_property
    def setting(self) -> Mapping[str, tuple[int, ...]]:
        """Index of each shelter's setting in each stage."""
        return {
            shelter_id: tuple(self.conditions.shelters[shelter_id].settings.index(s) for s in settings)
            for shelter_id, settings in self.plan.settings.items()
        }

    @cached_property
    def mean_days(self) -> FloatArray:
        """Length of each stage, days, mean over the winters, ``(stage,)``."""
        return np.asarray((self.stage_days.end_day - self.stage_days.first_day).mean(axis=1))
