"""A plan beside all it is judged by, and the views of it that several rules share."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, HeaterSetting, Place, Shelter
from overwinter.model.stage import StageDays
from overwinter.model.start import Start
from overwinter.model.tree import Tree

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Ledger:
    """One plan to audit. All but the rules of structure take for granted that those hold."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    start: Start | None
    """Where the plan began, if anybody knows."""

    @property
    def stages(self) -> range:
        """Indices of all stages."""
        return range(len(self.stage_days.stages))

    @property
    def free_stages(self) -> range:
        """Stages that the plan could choose; what was before is a fact."""
        begun = 1 if self.start is None else self.start.fixed_stages
        return range(max(1, begun, self.plan.fixed_stages), len(self.stages))

    @property
    def winters(self) -> int:
        """How many winters."""
        return int(self.stage_days.first_day.shape[1])

    @cached_property
    def mean_days(self) -> FloatArray:
        """Length of each stage, days, mean over the winters, ``(stage,)``."""
        lengths = self.stage_days.end_day - self.stage_days.first_day
        return np.asarray(lengths.mean(axis=1))

    @cached_property
    def placed(self) -> tuple[Tree, ...]:
        """Trees that have a place, in the order of the season."""
        return tuple(tree for tree in self.season.trees if tree.id in self.plan.stays)

    def home(self, tree: Tree) -> str:
        """Id of the place where a tree belongs in summer."""
        return tree.stands_at or self.season.site.summer_place

    def shelter_of(self, place_id: str) -> Shelter:
        """The shelter that a place is in."""
        return self.season.shelter_by_id[self.season.places[place_id].shelter_id]

    def joined(self, tree: Tree, stage: int) -> bool:
        """Whether a tree is there in a stage: it has joined in every winter when the stage begins,
        and a tree that joins does so after the first stage began."""
        if tree.joins is None:
            return True
        day = self.season.day_index(tree.joins)
        return stage > 0 and bool((self.stage_days.first_day[stage] >= day).all())

    @cached_property
    def occupants(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        """Trees by (place, stage), facts included."""
        found: dict[tuple[str, int], list[Tree]] = {}
        for tree in self.placed:
            for stage, place_id in enumerate(self.plan.stays[tree.id]):
                if place_id is not None:
                    found.setdefault((place_id, stage), []).append(tree)
        return {key: tuple(trees) for key, trees in found.items()}

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

    def settings_known(self, shelter_id: str) -> tuple[HeaterSetting, ...]:
        """Every setting the shelter's heaters offer, off first."""
        return self.conditions.shelters[shelter_id].settings

    @cached_property
    def setting(self) -> Mapping[str, tuple[int, ...]]:
        """Index of each shelter's setting in each stage."""
        return {
            shelter_id: tuple(self.settings_known(shelter_id).index(s) for s in settings)
            for shelter_id, settings in self.plan.settings.items()
        }
