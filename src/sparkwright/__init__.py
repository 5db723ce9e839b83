"""Sparkwright: a workbench for the ignition timing of engines that fire through a distributor.

``Job`` holds what a shop writes down; ``check``, ``point`` and ``plan`` answer from it. They are loaded
when first asked for, so that a command that needs none of them starts at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sparkwright.job import Job
    from sparkwright.plan.compare import compare_map
    from sparkwright.plan.planned_demand import check
    from sparkwright.plan.planner import plan
    from sparkwright.plan.point import point

__version__ = "0.1.0"
__all__ = ["Job", "__version__", "check", "compare_map", "plan", "point"]

_HOMES = {
    "Job": "sparkwright.job",
    "check": "sparkwright.plan.planned_demand",
    "compare_map": "sparkwright.plan.compare",
    "plan": "sparkwright.plan.planner",
    "point": "sparkwright.plan.point",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'sparkwright' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
