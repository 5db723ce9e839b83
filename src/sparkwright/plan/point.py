"""One hook of a job: torque against advance at one speed and load, with all its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM, Job
from sparkwright.plan.axes import axes_of
from sparkwright.plan.cell import cells_at
from sparkwright.plan.firmness import Mapper, firmness_of, knock_chances_percent
from sparkwright.plan.hooks import POINT_ADVANCE_DEG, hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import Hook
from sparkwright.plan.spark_map import SparkMap

ROW_DEG = 4.0
"""Advances of a hook that a table shows, this far apart [deg]; a choice: 17 rows fit a screen."""


def in_rows(hook: Hook) -> Hook:
    """Give the rows of a hook that a table shows: every few degrees, and the plan's own value among them.

    Parameters
    ----------
    hook : Hook
        The hook at every advance that was run.
    """
    first, last = hook.advance_deg[0], hook.advance_deg[-1]
    rows = np.arange(first, last + 0.5 * ROW_DEG, ROW_DEG)
    plan_deg = hook.plan_deg
    return hook.along(np.union1d(rows, plan_deg) if first <= plan_deg <= last else rows)


def with_plan(hook: Hook, spark_map: SparkMap) -> Hook:
    """Put the map's value at a hook's speed and load beside it; nan off the map.

    Parameters
    ----------
    hook : Hook
        The hook of one speed and load.
    spark_map : SparkMap
        The map whose value there is wanted.
    """
    at = spark_map.carried_to(np.array([hook.rpm]), np.array([hook.kpa]))
    return replace(hook, plan_deg=float(at[0, 0]))


def point(job: Job, rpm: float, kpa: float, belief: Belief = PRIOR, *, run: Mapper = map) -> Hook:
    """Compute the hook of a job at one speed and load.

    Parameters
    ----------
    job : Job
        The job.
    rpm : float
        Engine speed [rpm], 100 to 12,000.
    kpa : float
        Manifold pressure, absolute [kPa], 10 to 400.
    belief : Belief, optional
        What is believed of the engine's constants; by default what the program believes of any engine.
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.

    Returns
    -------
    Hook
        Torque and its companions over -4 to 60 deg, with the chance of knock along them and the ceiling that
        the plan would keep here.

    Raises
    ------
    Refusal
        If speed or load lies outside what an engine does.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> hook = point(Job.from_toml(starter_text()), 3000.0, 90.0)
    >>> hook.burn_state
    'burns'
    """
    for name, value, (low, high), do in (
        ("rpm", rpm, SPEED_SPAN_RPM, "give the engine speed in rpm"),
        ("kpa", kpa, LOAD_SPAN_KPA, "give the absolute manifold pressure in kPa"),
    ):
        if not low <= value <= high:
            raise Refusal.at(name, f"{value:g}", f"must be {low} to {high}", do)
    physics = physics_of(job, belief)
    speed = np.array([rpm])
    firmness = firmness_of(job, physics, *axes_of(job, physics), run)
    _, (ln_sigma,), (guess,) = firmness.over(speed, np.array([kpa]))
    cell = cells_at(job, physics, speed, kpa, np.full(1, np.nan), ln_sigma, guess)
    hook = hook_at(physics, rpm, kpa, POINT_ADVANCE_DEG)
    return replace(
        hook,
        knock_chance_percent=knock_chances_percent(
            np.log(hook.knock_integral), np.full(hook.knock_integral.shape, ln_sigma)
        ),
        knock_ceiling_deg=float(cell.knock_deg[0]),
        knock_chance_allowed_percent=float(cell.knock_allowed_percent[0]),
    )
