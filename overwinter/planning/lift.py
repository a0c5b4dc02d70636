"""Heavy trees lower, light ones higher, where it costs nothing and changes nothing else."""

from dataclasses import replace

from overwinter.benches.low import heavier_low
from overwinter.model.season import Season
from overwinter.model.tree import Tree
from overwinter.planning.costs import carries_of, placement_costs
from overwinter.planning.histories import option_path, short_of_chill, unhardened_histories
from overwinter.program.data import ProgramData
from overwinter.program.read_back import Placement
from overwinter.suitability.compute import Workshop

SAME_MONEY = 1e-6


def lifted_less(
    season: Season, data: ProgramData, workshop: Workshop, placement: Placement
) -> Placement:
    """The placement with winters exchanged so that heavy trees are lifted less.

    The placement itself where an exchange would cost anything, or leave a tree short of hardening
    or chilling.
    """
    group_of = {tree_id: group.index for group in data.groups for tree_id in group.tree_ids}
    allowed = data.suitability.allowed
    present = data.suitability.present

    def may_change(heavy: Tree, light: Tree) -> bool:
        one, other = group_of[heavy.id], group_of[light.id]
        if (present[one] != present[other]).any():
            return False
        here = option_path(data, placement, heavy.id)
        there = option_path(data, placement, light.id)
        return all(
            option is None or bool(allowed[group, option, spell])
            for group, path in ((one, there), (other, here))
            for spell, option in enumerate(path)
        )

    stays = heavier_low(placement.stays, season.trees, season.places, may_change)
    if stays == dict(placement.stays):
        return placement
    lower = replace(placement, stays=stays)
    if unhardened_histories(data, workshop, lower) or short_of_chill(data, lower):
        return placement
    dearer = _money(season, data, lower) > _money(season, data, placement) + SAME_MONEY
    return placement if dearer else lower


def _money(season: Season, data: ProgramData, placement: Placement) -> float:
    return placement_costs(data, placement, carries_of(season, data, placement)).total
