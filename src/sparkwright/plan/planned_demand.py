"""Hold an ignition against its own plan, with the gas in the gap of the plug from the cycle itself."""

from __future__ import annotations

import numpy as np

from sparkwright.job import Job
from sparkwright.plan.demand import hook_demand
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hardware import check_hardware
from sparkwright.plan.hardware_result import HardwareResult, IgnitionDemand
from sparkwright.plan.hooks import POINT_ADVANCE_DEG, hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan as plan_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.summary import advance_asked

FULL_LOAD_RPM = (1000.0, 2000.0, 3000.0)


def planned_demand(job: Job, plan: PlanResult, run: Mapper = map) -> IgnitionDemand:
    """Ask the cycle for the gas in the plug's gap where the plan asks most of the ignition.

    Parameters
    ----------
    job : Job
        The job.
    plan : PlanResult
        Its plan.
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.

    Returns
    -------
    IgnitionDemand
        Full load at the columns nearest 1000, 2000 and 3000 rpm and at the highest speed, where the gas
        is densest, and the cell of most advance, where the rotor is furthest from its post. The span of
        advance is what the plan would use if the rotor let it.
    """
    spark_map = plan.spark_map
    columns = {int(np.argmin(np.abs(spark_map.rpm - rpm))) for rpm in FULL_LOAD_RPM}
    columns.add(spark_map.rpm.size - 1)
    full_load = int(np.argmin(np.abs(spark_map.kpa - plan.full_load.kpa)))
    cells = {(full_load, column) for column in columns}
    row, column = np.unravel_index(int(np.argmax(spark_map.advance_deg)), spark_map.advance_deg.shape)
    cells.add((int(row), int(column)))
    physics = physics_of(job)
    rows, columns = np.array(sorted(cells)).T
    speeds, loads = spark_map.rpm[columns].tolist(), spark_map.kpa[rows].tolist()
    hooks = run(lambda rpm, kpa: hook_at(physics, rpm, kpa, POINT_ADVANCE_DEG), speeds, loads)
    chosen = list(zip(hooks, spark_map.advance_deg[rows, columns].tolist(), strict=True))
    most_wanted_deg = None if plan.reach_cost is None else plan.reach_cost.most_wanted_deg
    return hook_demand(job, chosen, *advance_asked(plan, most_wanted_deg))


def check(job: Job, plan: PlanResult | None = None, *, run: Mapper = map) -> HardwareResult:
    """Hold the ignition of a job against what its own plan asks.

    Parameters
    ----------
    job : Job
        The job.
    plan : PlanResult, optional
        Its plan; made here when not given.
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.

    Returns
    -------
    HardwareResult
        Verdicts and the numbers behind them.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> check(Job.from_toml(starter_text())).state in ("good", "look", "problem")
    True
    """
    planned = plan_of(job, run=run) if plan is None else plan
    return check_hardware(job, planned_demand(job, planned, run))
