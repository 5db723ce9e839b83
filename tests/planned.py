"""Plans that all tests of a run share: the same facts are planned once in each process of the run."""

from __future__ import annotations

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.job import Job
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.planner import Progress, planned_without_hand
from sparkwright.plan.result import PlanResult

_PLANS: dict[tuple[str, str], PlanResult] = {}


def planned_once(
    job: Job, belief: Belief = PRIOR, *, run: Mapper = map, progress: Progress | None = None
) -> PlanResult:
    """Plan a job without its cells set by hand, as the workbench does, but the same facts once."""
    key = job.without_hand().fingerprint, belief.fingerprint
    if key not in _PLANS:
        _PLANS[key] = planned_without_hand(job, belief, run=run, progress=progress)
    return _PLANS[key]


def plan_of(job: Job) -> PlanResult:
    """Give the whole plan of a job."""
    return set_by_hand(planned_once(job), job)
