"""A tree in a drawing, in words."""

from overwinter.model.tree import Tree
from overwinter.units import Display


def measures(tree: Tree, display: Display) -> str:
    """Footprint, height and weight."""
    return (
        f"{display.length(tree.width_m)} × {display.length(tree.depth_m)}, "
        f"{display.length(tree.height_m)} tall, {display.weight(tree.weight_kg)}"
    )
