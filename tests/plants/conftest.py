"""The shipped species table, and a tree to test on."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from species_rows import species_of, table_rows

from overwinter.model.species import Limits, Species
from overwinter.model.tree import Condition, Tree


@pytest.fixture(scope="session")
def table() -> dict[str, Species]:
    return {row["key"]: species_of(row) for row in table_rows("species.csv")}


@pytest.fixture(scope="session")
def maple(table: dict[str, Species]) -> Limits:
    return table["acer-palmatum"].limits


@pytest.fixture(scope="session")
def maple_tree(maple: Limits) -> Callable[..., Tree]:
    tree = Tree(
        "maple", "maple", "acer-palmatum", maple, 0.4, 0.4, 0.6, 8.0, 5.0, Condition.ORDINARY, 1.0
    )

    def make(**changes: object) -> Tree:
        return replace(tree, **changes)

    return make
