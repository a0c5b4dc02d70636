"""A drawing of a place in words: its measures, its trees, where each stands."""

import math
from collections.abc import Iterator, Mapping, Sequence

from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.render.bench_ground import Part, marks_in_words
from overwinter.render.bench_labels import NO_BREAK
from overwinter.render.words import count
from overwinter.units import Display


def legend_words(tree: Tree, display: Display) -> str:
    """Name and height of a tree that has only its number in the drawing."""
    tall = f"{display.length(tree.height_m)} tall".replace(" ", NO_BREAK)
    return f"{tree.name}, {tall}"


def facts(
    place: Place, layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> str:
    """Measures of the place, how full and how heavily loaded it is."""
    weight_kg = sum(by_id[it.tree_id].weight_kg for it in layouts)
    taken = sum(it.width_m * it.depth_m for it in layouts) / place.area_m2
    facts = [
        f"{display.length(place.width_m)} wide, {display.length(place.depth_m)} deep",
        count(len(layouts), "tree"),
        f"{taken * 100:.0f} % of the area",
    ]
    if math.isfinite(place.headroom_m):
        facts.append(f"headroom {display.length(place.headroom_m)}")
    if math.isfinite(place.load_limit_kg):
        facts.append(f"{display.weight(weight_kg)} of {display.weight(place.load_limit_kg)}")
    else:
        facts.append(display.weight(weight_kg))
    return ", ".join(facts)


def part_words(part: Part, number: int, parts: int, display: Display) -> str:
    """Which stretch of a long place this is."""
    start, end = display.length(part.start_m), display.length(part.end_m)
    return f"Part {number} of {parts}: {start} to {end} from the left"


def described(
    place: Place, layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> str:
    """The drawing in words: what stands where, from the front left on."""
    return " ".join(
        [
            f"{facts(place, layouts, by_id, display)}. {marks_in_words(place)}",
            *_stands(layouts, by_id, display),
        ]
    )


def _stands(
    layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> Iterator[str]:
    for layout in layouts:
        tree = by_id[layout.tree_id]
        yield (
            f"{tree.name}: {display.length(layout.x_m)} from the left, "
            f"{display.length(layout.y_m)} from the front, {measures(tree, display)}."
        )


def measures(tree: Tree, display: Display) -> str:
    """Footprint, height and weight."""
    return (
        f"{display.length(tree.width_m)} × {display.length(tree.depth_m)}, "
        f"{display.length(tree.height_m)} tall, {display.weight(tree.weight_kg)}"
    )
