"""Plans that all tests of a run share: the same facts are planned once in each process of the run."""

from __future__ import annotations

from sparkwright.job import Job
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.planner import Progress, planned_without_hand
from sparkwright.plan.result import PlanResult

_PLANS: dict[str, PlanResult] = {}


def planned_once(job: Job, *, progress: Progress | None = None) -> PlanResult:
    """Plan a job without its cells set by hand, as the workbench does, but the same facts once."""
    fingerprint = job.without_hand().fingerprint
    if fingerprint not in _PLANS:
        _PLANS[fingerprint] = planned_without_hand(job, progress=progress)
    return _PLANS[fingerprint]


def plan_of(job: Job) -> PlanResult:
    """Give the whole plan of a job."""
    return set_by_hand(planned_once(job), job)
