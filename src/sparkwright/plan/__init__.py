"""Planning: from a job to a spark map, a hardware verdict and the reasons for both.

Importing a package binds its name in its parent, over a function of the same name there. So that
``from sparkwright import plan`` gives something to call whatever was imported before, the package can be
called like its planner.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sparkwright.job import Job
    from sparkwright.plan.result import PlanResult


class _Planning(ModuleType):
    """The package as something to call."""

    def __call__(self, job: Job, *arguments: Any, **options: Any) -> PlanResult:
        """Plan the spark map of a job, as ``sparkwright.plan.planner.plan``."""
        from sparkwright.plan.planner import plan

        return plan(job, *arguments, **options)


sys.modules[__name__].__class__ = _Planning
