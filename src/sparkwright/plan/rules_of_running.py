"""Overrun, idle under load and the limits of speed: each with its place in the map and its rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.check.demand import highest_rpm
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.plan.idle_block import LOAD_WANDER_KPA, idle_wander_rpm
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import PlanResult

LOADED_IDLE_KPA = 15.0
"""How much more pressure a switched-on load or a gear puts into the manifold at idle [kPa]; common practice,
no source."""

OVERRUN_IDLES = 1.5
"""From how many idle speeds a shut throttle is overrun [-]; common practice, no source."""

SOFT_SHARE = 0.97
"""Soft limit of speed over the hard one [-]; common practice, no source."""

EXCEED_SHARE = 1.02
"""What a hard limit may lie over the highest speed of the plan [-]; common practice, no source."""


@dataclass(frozen=True)
class RunningRule:
    """One rule of running and its place: speeds and loads, and the map's advance between them.

    ``least_deg`` and ``most_deg`` are nan where the rule is about speed alone.
    """

    name: str
    from_rpm: float
    to_rpm: float
    from_kpa: float
    to_kpa: float
    least_deg: float
    most_deg: float
    finding: Finding


def running_rules(job: Job, planned: PlanResult, belief: Belief = PRIOR) -> tuple[RunningRule, ...]:
    """Give overrun, idle under load, and the soft and hard limit of speed.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan.
    belief : Belief, optional
        The belief that the plan was made under.
    """
    physics = physics_of(job, belief)
    spark_map = planned.cells.spark_map
    idle_rpm, idle_kpa, wander = physics.idle_rpm, physics.idle_kpa, idle_wander_rpm(job)
    top, least_kpa = highest_rpm(job), float(spark_map.kpa[0])
    hard = 50.0 * np.floor(top * EXCEED_SHARE / 50.0)
    soft = 50.0 * np.floor(hard * SOFT_SHARE / 50.0)
    loaded_from = idle_kpa + LOAD_WANDER_KPA
    return (
        _rule(
            planned,
            "idle-loaded",
            idle_rpm - wander,
            idle_rpm + wander,
            loaded_from,
            idle_kpa + LOADED_IDLE_KPA,
        ),
        _rule(planned, "overrun", OVERRUN_IDLES * idle_rpm, top, least_kpa, max(least_kpa, 0.8 * idle_kpa)),
        _limit("soft-limit", soft),
        _limit("hard-limit", hard),
    )


def _rule(
    planned: PlanResult, name: str, from_rpm: float, to_rpm: float, from_kpa: float, to_kpa: float
) -> RunningRule:
    spark_map = planned.cells.spark_map
    corners = [
        spark_map.at(rpm, kpa)
        for rpm in (from_rpm, 0.5 * (from_rpm + to_rpm), to_rpm)
        for kpa in (from_kpa, to_kpa)
    ]
    least, most = min(corners), max(corners)
    numbers: dict[str, Value] = {
        "from_rpm": from_rpm,
        "to_rpm": to_rpm,
        "from_kpa": from_kpa,
        "to_kpa": to_kpa,
        "least_deg": least,
        "most_deg": most,
    }
    finding = Finding(f"running.{name}", "good", numbers)
    return RunningRule(name, from_rpm, to_rpm, from_kpa, to_kpa, least, most, finding)


def _limit(name: str, rpm: float) -> RunningRule:
    nothing = float("nan")
    finding = Finding(f"running.{name}", "good", {"rpm": rpm})
    return RunningRule(name, rpm, rpm, nothing, nothing, nothing, nothing, finding)
