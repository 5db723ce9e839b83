"""One hook of a job: torque against advance at one speed and load, with all its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM, Job
from sparkwright.plan.axes import axes_of
from sparkwright.plan.cell import cell_at
from sparkwright.plan.firmness import firmness_of, knock_chance_percent
from sparkwright.plan.hooks import POINT_ADVANCE_DEG, hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import Hook


def point(job: Job, rpm: float, kpa: float, belief: Belief = PRIOR) -> Hook:
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
    _, ln_sigma, guess = firmness_of(job, physics, *axes_of(job, physics)).over(
        np.array([rpm]), np.array([kpa])
    )
    cell = cell_at(job, physics, rpm, kpa, float("nan"), float(ln_sigma[0, 0]), float(guess[0, 0]))
    hook = hook_at(physics, rpm, kpa, POINT_ADVANCE_DEG)
    chances = [knock_chance_percent(float(np.log(each)), cell.ln_knock_sigma) for each in hook.knock_integral]
    return replace(
        hook,
        knock_chance_percent=np.array(chances),
        knock_ceiling_deg=cell.knock_deg,
        knock_chance_allowed_percent=cell.knock_allowed_percent,
    )
