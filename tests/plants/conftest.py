"""The shipped species table."""

from collections.abc import Mapping

import pytest

from overwinter.files.species_table import shipped_species
from overwinter.model.species import Species


@pytest.fixture(scope="session")
def table() -> Mapping[str, Species]:
    return shipped_species()
