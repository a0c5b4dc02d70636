"""Interchangeable trees: alike in everything that a place, a carry or the money can see."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from overwinter.domain.season import Season
from overwinter.domain.start import Start, TreeStart
from overwinter.domain.tree import Tree


@dataclass(frozen=True)
class Group:
    """Interchangeable trees; ``tree`` stands for any of them."""

    index: int
    tree: Tree
    start: TreeStart
    tree_ids: tuple[str, ...]

    @property
    def count(self) -> int:
        """How many trees."""
        return len(self.tree_ids)


def group_trees(
    season: Season,
    start: Start,
    apart: Collection[str] = (),
    without: Collection[str] = (),
) -> tuple[Group, ...]:
    """Groups in the order of the tree list.

    Trees in ``apart`` are groups of their own; trees in ``without`` are left aside.
    """
    keyed: dict[object, list[Tree]] = {}
    for tree in season.trees:
        if tree.id in without:
            continue
        alone = tree.id if tree.id in apart else ""
        seen = replace(tree, id=alone, name="", species_key="", row=0)
        keyed.setdefault((seen, start.trees[tree.id]), []).append(tree)
    return tuple(
        Group(index, trees[0], start.trees[trees[0].id], tuple(tree.id for tree in trees))
        for index, trees in enumerate(keyed.values())
    )
