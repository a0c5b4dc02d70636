"""What does not fit: the smallest set of trees that already does not, for a cut in the program.

Of any set that contains these trees, at least one must go elsewhere. The same holds when some of
them are exchanged for other trees at least as large, so that one cut speaks for many sets.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from overwinter.benches.layout import PATH_M, REACH_M, Memo, lay_out
from overwinter.benches.results import Effort, Impossible, LaidOut, Unknown, Why
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree


@dataclass(frozen=True, slots=True)
class Misfit:
    """Trees that do not fit together at one place, none of which can be left out.

    Valid as a cut for good only when computed with the least clearance (0): a fuller place asks
    for less.
    """

    tree_ids: tuple[str, ...]
    proven: bool
    """False: no arrangement was found within the work limit, but none is excluded."""
    why: Why
    """NOT_FOUND where nothing is proven."""
    detail: str
    calls: int
    """Sets laid out to find this one."""


def minimal_misfit(
    place: Place,
    trees: Sequence[Tree],
    *,
    clearance_m: float = 0.0,
    reach_m: float = REACH_M,
    path_m: float = PATH_M,
    effort: Effort | None = None,
    memo: Memo | None = None,
    calls_max: int = 200,
) -> Misfit | None:
    """A smallest set within ``trees`` that does not fit, or None when all of them fit.

    Deletion filter: trees are left out one by one, small ones first, as long as the rest still
    does not fit. Where all of ``trees`` are proven not to fit, so is the set returned; nothing
    unproven ever makes a proven misfit smaller. "Smallest": no tree of it can be left out without
    the rest being laid out (or, for a proven one, no longer being proven); ``calls_max`` calls of
    ``lay_out`` may end the search earlier.
    """
    memo = Memo() if memo is None else memo
    calls = 0

    def refused(some: Sequence[Tree]) -> Impossible | Unknown | None:
        nonlocal calls
        calls += 1
        result = lay_out(
            place,
            some,
            clearance_m=clearance_m,
            reach_m=reach_m,
            path_m=path_m,
            effort=effort,
            memo=memo,
        )
        return None if isinstance(result, LaidOut) else result

    last = refused(trees)
    if last is None:
        return None
    kept = _within(trees, last.tree_ids)
    needed: list[Tree] = []
    for tree in sorted(kept, key=lambda t: (t.footprint_m2, t.height_m, t.weight_kg, t.id)):
        if calls >= calls_max or len(kept) == 1:
            break
        # leaving out a larger tree than one that was needed would let the rest fit as well
        if tree not in kept or any(_covers(tree, other) for other in needed):
            continue
        rest = [other for other in kept if other is not tree]
        result = refused(rest)
        if result is None or (isinstance(last, Impossible) and isinstance(result, Unknown)):
            needed.append(tree)
            continue
        last, kept = result, _within(rest, result.tree_ids)
    proof = last if isinstance(last, Impossible) else None
    return Misfit(
        tuple(tree.id for tree in kept),
        proof is not None,
        proof.why if proof else Why.NOT_FOUND,
        last.detail,
        calls,
    )


def _within(trees: Sequence[Tree], tree_ids: Sequence[str]) -> list[Tree]:
    """Those of ``trees`` the refusal speaks of."""
    named = set(tree_ids)
    return [tree for tree in trees if tree.id in named]


def _spans(tree: Tree) -> tuple[float, float]:
    return min(tree.width_m, tree.depth_m), max(tree.width_m, tree.depth_m)


def _covers(tree: Tree, other: Tree) -> bool:
    """Whether ``tree`` is at least as large as ``other`` in every way that layouts see."""
    return (
        all(mine >= its for mine, its in zip(_spans(tree), _spans(other), strict=True))
        and tree.height_m >= other.height_m
        and tree.weight_kg >= other.weight_kg
    )


def at_least_as_large(
    misfit: Sequence[Tree], among: Iterable[Tree], why: Why | None = None
) -> tuple[str, ...]:
    """Ids of ``misfit`` and of those ``among`` others that may stand for any tree of it.

    As many of them as ``misfit`` has trees do not fit either. With ``why`` (``Misfit.why``) only
    what matters is compared: height for TOO_TALL, weight for TOO_HEAVY, both sides of the footprint
    (turned either way) for everything else; without it, all of these, which is always valid.
    """

    def measures(tree: Tree) -> tuple[float, ...]:
        if why is Why.TOO_TALL:
            return (tree.height_m,)
        if why is Why.TOO_HEAVY:
            return (tree.weight_kg,)
        sides = _spans(tree)
        return sides if why is not None else (*sides, tree.height_m, tree.weight_kg)

    own = {tree.id: None for tree in misfit}
    largest = [max(values) for values in zip(*map(measures, misfit), strict=True)]
    larger = (
        tree.id
        for tree in among
        if tree.id not in own
        and all(has >= asks for has, asks in zip(measures(tree), largest, strict=True))
    )
    return (*own, *larger)
