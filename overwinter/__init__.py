"""Plan where every potted tree spends the winter.

    import overwinter as ow

    season = ow.read("my-winter")
    plan = ow.plan(season)

docs/python.md goes through all of it.
"""

import os
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

from overwinter.problems import AuditRefused, InputProblems, UserError

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Before numpy comes: threads wait for each other over matrices this small, 0.6 s of physics become
1.4, and 5 on a busy machine."""

if TYPE_CHECKING:
    from overwinter.api.plan import Plan, audit, load, plan, read, replan  # noqa: TC004
    from overwinter.search.options import PlanOptions  # noqa: TC004

__version__ = "0.1.0"
__all__ = [
    "AuditRefused",
    "InputProblems",
    "Plan",
    "PlanOptions",
    "UserError",
    "audit",
    "load",
    "plan",
    "read",
    "replan",
]


class _Package(ModuleType):
    """Imports what is asked for when it is asked for: the solver and pandas take a second."""

    def __getattr__(self, name: str) -> Any:
        if name not in __all__:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from overwinter.api import plan as api

        return getattr(api, name)

    def __setattr__(self, name: str, value: object) -> None:
        # importing overwinter.audit must not hide the function of that name
        if name not in __all__:
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
