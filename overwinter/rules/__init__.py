"""All rules; each stands with its check, its refusal and its words in one file."""

from collections.abc import Iterator

from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.rules import carrying, doors, figures, heating, places, room, structure
from overwinter.rules.rule import Rule

RULES: tuple[Rule, ...] = (
    *structure.RULES,
    *doors.RULES,
    *places.RULES,
    *room.RULES,
    *heating.RULES,
    *carrying.RULES,
    *figures.RULES,
)


def misfits(season: Season, tree: Tree, place: Place) -> Iterator[tuple[Rule, float]]:
    """Every rule that refuses a place to a tree whatever the weather, and by how much."""
    for rule in RULES:
        over = None if rule.refuses is None else rule.refuses(season, tree, place)
        if over is not None:
            yield rule, over
