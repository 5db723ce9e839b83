"""The fact that a plan itself asks to have changed."""

from __future__ import annotations

from sparkwright.job import Job
from sparkwright.plan.result import LEAST_MOVE_MM, PlanResult


def rotor_phase_that_frees(plan: PlanResult, job: Job) -> float | None:
    """Give the rotor phase at which the rotor reaches most of what the plan wants [distributor deg].

    To a tenth of a degree; None where reach holds nothing, or no move of the tip helps.

    Parameters
    ----------
    plan : PlanResult
        Its plan.
    job : Job
        What the shop states of the engine.
    """
    cost = plan.reach_cost
    if cost is None or cost.phase_move_mm < LEAST_MOVE_MM:
        return None
    return round(job.distributor.rotor_phase_deg + cost.phase_move_distributor_deg, 1)
