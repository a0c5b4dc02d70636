"""Interchangeable trees: alike in everything that a place, a carry or the money can see."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from overwinter.model.season import Season
from overwinter.model.start import Start, TreeStart
from overwinter.model.tree import Tree


@dataclass(frozen=True)
class Group:
    """Interchangeable trees; ``tree`` stands for any of them."""

    index: int
    tree: Tree
    start: TreeStart
    tree_ids: tuple[str, ...]
    together: bool = False
    """All of them are always at one place."""

    @property
    def count(self) -> int:
        """How many trees."""
        return len(self.tree_ids)


def group_trees(
    season: Season,
    start: Start,
    apart: Collection[frozenset[str]] = (),
    without: Collection[str] = (),
) -> tuple[Group, ...]:
    """Groups in the order of the tree list.

    Each set in ``apart`` is a group of its own that stays together; trees in ``without`` are left
    aside.
    """
    part_of = {tree_id: min(part) for part in apart for tree_id in part}
    keyed: dict[object, list[Tree]] = {}
    for tree in season.trees:
        if tree.id in without:
            continue
        alone = part_of.get(tree.id, "")
        seen = replace(tree, id=alone, name="", species_key="", row=0)
        keyed.setdefault((seen, start.trees[tree.id]), []).append(tree)
    return tuple(
        Group(
            index,
            trees[0],
            start.trees[trees[0].id],
            tuple(tree.id for tree in trees),
            together=len(trees) > 1 and trees[0].id in part_of,
        )
        for index, trees in enumerate(keyed.values())
    )


def taken_apart(
    apart: Collection[frozenset[str]], more: Collection[frozenset[str]]
) -> tuple[frozenset[str], ...]:
    """Disjoint sets: those of ``apart`` without what goes into ``more``, and these."""
    gone = frozenset().union(*more)
    kept = [part - gone for part in apart]
    return (*(part for part in kept if part), *dict.fromkeys(more))
