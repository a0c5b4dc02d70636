"""How full a bench gets and how long it takes: ours beside a plain shelf heuristic.

Run it:  python tests/benchmarks/packing.py [--cases N]

Trees come from a seed, in a fixed order; for each method the longest run of them that it still lays
out is found by bisection. Density is footprint with clearance over area with clearance, so that the
area bound is 100 %. Times are those of one call on that run, all methods in one session; compare
the ratios, not the seconds. `rectpack` is measured too where it is installed.
"""

import argparse
import importlib.util
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "benches"))
sys.path.insert(0, str(Path(__file__).parents[2]))

from bench_cases import make_place, random_trees

from overwinter.benches import region as ground
from overwinter.benches.heuristics import packed_in_corners, packed_in_rows
from overwinter.benches.layout import LaidOut, lay_out
from overwinter.benches.region import pots_of, regions, units_down, units_up
from overwinter.model.shelter import Place, PlaceKind
from overwinter.model.tree import Tree

CLEARANCE_M = 0.01
ground.REACH_M = 100.0  # the others know nothing of reach: packing alone is compared
Method = Callable[[Place, Sequence[Tree]], bool]


def plain_shelf(place: Place, trees: Sequence[Tree]) -> bool:
    """Next-fit decreasing-height shelves, trees as they stand: the textbook's first heuristic."""
    used_depth, row_depth, used_width = 0.0, 0.0, float("inf")
    for tree in sorted(trees, key=lambda t: -t.depth_m):
        width, depth = tree.width_m + CLEARANCE_M, tree.depth_m + CLEARANCE_M
        if used_width + width > place.width_m + CLEARANCE_M + 1e-9:
            used_depth, row_depth, used_width = used_depth + row_depth, depth, 0.0
        used_width += width
        if used_depth + row_depth > place.depth_m + CLEARANCE_M + 1e-9:
            return False
        if width > place.width_m + CLEARANCE_M + 1e-9:
            return False
    return True


def rows_only(place: Place, trees: Sequence[Tree]) -> bool:
    """Our rows."""
    region = regions(place, clearance_m=CLEARANCE_M)[0]
    return any(True for _ in packed_in_rows(region, pots_of(trees, sideways=False)))


def corners_only(place: Place, trees: Sequence[Tree]) -> bool:
    """Our corners."""
    region = regions(place, clearance_m=CLEARANCE_M)[0]
    return packed_in_corners(region, pots_of(trees, sideways=False)) is not None


def ours(place: Place, trees: Sequence[Tree]) -> bool:
    """Both: rows, then corners."""
    return isinstance(lay_out(place, trees, clearance_m=CLEARANCE_M), LaidOut)


def rectpack_maxrects(place: Place, trees: Sequence[Tree]) -> bool:
    """The library's default packer: maximal rectangles, largest side first, turning allowed."""
    import rectpack

    packer = rectpack.newPacker(rotation=True)
    gap = units_up(CLEARANCE_M)
    for tree in trees:
        packer.add_rect(units_up(tree.width_m) + gap, units_up(tree.depth_m) + gap)
    packer.add_bin(units_down(place.width_m) + gap, units_down(place.depth_m) + gap)
    packer.pack()
    return len(packer.rect_list()) == len(trees)


def methods() -> dict[str, Method]:
    """By name; the last only where it is installed."""
    found: dict[str, Method] = {
        "plain shelf": plain_shelf,
        "rows": rows_only,
        "corners": corners_only,
        "rows, then corners": ours,
    }
    if importlib.util.find_spec("rectpack") is None:
        return found
    return {**found, "rectpack (MaxRects)": rectpack_maxrects}


def density(place: Place, trees: Sequence[Tree]) -> float:
    """Boxes with clearance over the area with clearance."""
    taken = sum((t.width_m + CLEARANCE_M) * (t.depth_m + CLEARANCE_M) for t in trees)
    return taken / ((place.width_m + CLEARANCE_M) * (place.depth_m + CLEARANCE_M))


def longest_run(method: Method, place: Place, trees: Sequence[Tree]) -> int:
    """How many of ``trees``, in order, are still laid out."""
    low, high = 0, len(trees)
    while low < high:
        middle = (low + high + 1) // 2
        if method(place, trees[:middle]):
            low = middle
        else:
            high = middle - 1
    return low


BENCHES: dict[str, tuple[Place, tuple[int, int], int | None]] = {
    "bench 3.0 x 0.9 m, mixed": (make_place(3.0, 0.9), (15, 50), None),
    "bench 3.0 x 0.9 m, 5 kinds": (make_place(3.0, 0.9), (15, 50), 5),
    "shelf 2.4 x 0.35 m, mixed": (make_place(2.4, 0.35), (10, 30), None),
    "bed 6.0 x 5.0 m, mixed": (make_place(6.0, 5.0, kind=PlaceKind.GROUND), (30, 70), None),
}


def main() -> None:
    """Print one table a kind of bench."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20, help="seeds for each kind of bench")
    cases = parser.parse_args().cases
    ours(make_place(1, 1), random_trees(0, 1.0, 0.97, sides_cm=(15, 40)))  # imports
    for name, (place, sides_cm, kinds) in BENCHES.items():
        print(f"\n{name}\n{'method':24}{'density':>9}{'worst':>8}{'trees':>7}{'ms':>9}{'ratio':>9}")
        base_ms = 0.0
        for method_name, method in methods().items():
            densities, counts, milliseconds = [], [], []
            for seed in range(cases):
                trees = random_trees(seed, place.area_m2, 1.0, sides_cm=sides_cm, kinds=kinds)
                run = trees[: longest_run(method, place, trees)]
                began = time.perf_counter()
                method(place, run)
                milliseconds.append(1000 * (time.perf_counter() - began))
                densities.append(density(place, run))
                counts.append(len(run))
            mean_ms = statistics.mean(milliseconds)
            base_ms = base_ms or mean_ms
            print(
                f"{method_name:24}{statistics.mean(densities):9.1%}{min(densities):8.1%}"
                f"{statistics.mean(counts):7.1f}{mean_ms:9.3f}{mean_ms / base_ms:9.0f}"
            )


if __name__ == "__main__":
    main()
