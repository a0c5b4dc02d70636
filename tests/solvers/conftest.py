"""Both solvers in turn."""

import pytest


@pytest.fixture(params=["highs", "cbc"])
def solver(request: pytest.FixtureRequest) -> str:
    """Each solver in turn."""
    return str(request.param)
