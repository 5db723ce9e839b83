"""Hold an ignition against its own plan, with the gas in the gap of the plug from the cycle itself."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sparkwright.check.demand import cranked, demand_at, site_pressure_kpa
from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import Gas, HardwareResult, IgnitionDemand, SparkPoint
from sparkwright.job import Job
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import POINT_ADVANCE_DEG, hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan as plan_of
from sparkwright.plan.result import Hook, PlanResult
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

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> planned = plan_of(job)
    >>> demand = planned_demand(job, planned)
    >>> demand.most_deg >= planned.cells.spark_map.advance_deg.max().item()
    True
    """
    spark_map = plan.cells.spark_map
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
    return hook_demand(job, chosen, *advance_asked(plan.cells, most_wanted_deg))


def hook_demand(
    job: Job, chosen: Sequence[tuple[Hook, float]], least_deg: float, most_deg: float
) -> IgnitionDemand:
    """Build a demand from hooks of the cycle and the advance chosen on each.

    Parameters
    ----------
    job : Job
        The job.
    chosen : sequence of (Hook, float)
        Hooks, each with the advance the plan uses there [crank deg].
    least_deg, most_deg : float
        Span of advance the plan uses [crank deg]; base, used while cranking, is added here.

    Returns
    -------
    IgnitionDemand
        Gas at the plug read off each hook; cranking added by plain compression.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> hook = hook_at(physics_of(job), 2000.0, 95.0, POINT_ADVANCE_DEG)
    >>> demand = hook_demand(job, [(hook, 24.0)], 12.0, 34.0)
    >>> [(point.rpm, point.advance_deg) for point in demand.points]
    [(180, 10.0), (2000.0, 24.0)]
    >>> demand.least_deg, demand.most_deg
    (10.0, 34.0)
    """
    base_deg = job.distributor.base_deg
    cranking_kpa = site_pressure_kpa(job)
    points = [
        SparkPoint(job.engine.cranking_rpm, cranking_kpa, base_deg, cranked(job, cranking_kpa, base_deg))
    ]
    for hook, advance_deg in chosen:
        pressure_bar = float(np.interp(advance_deg, hook.advance_deg, hook.spark_bar))
        temperature_k = float(np.interp(advance_deg, hook.advance_deg, hook.spark_k))
        points.append(SparkPoint(hook.rpm, hook.kpa, advance_deg, Gas(pressure_bar, temperature_k)))
    span = (min(least_deg, base_deg), max(most_deg, base_deg))
    return demand_at(job, *span, tuple(points), "the engine cycle at the plan's own advances")


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
