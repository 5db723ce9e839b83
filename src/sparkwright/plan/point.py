"""One hook of a job: torque against advance at one speed and load, with all its numbers."""

from __future__ import annotations

import numpy as np

from sparkwright.cycle import knock
from sparkwright.cycle.hook import HookTrace, best_spark, burn_state, hook_trace
from sparkwright.cycle.laminar import laminar_flame_outside_range
from sparkwright.cycle.residual import residual_outside_range
from sparkwright.cycle.sparse import LATTICE_DEG, SparseHook
from sparkwright.errors import InputError
from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM, Job
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.result import FloatArray, Hook

USUAL_BEST_DEG = 28.0
"""Where a search for best begins [deg]; it moves no result."""

POINT_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 65)
FIRST_DEG, LAST_DEG = float(LATTICE_DEG[-1]), float(LATTICE_DEG[0])
"""Least and most advance that is tested [deg]."""


def point(job: Job, rpm: float, kpa: float) -> Hook:
    """Compute the hook of a job at one speed and load.

    Parameters
    ----------
    job : Job
        The job.
    rpm : float
        Engine speed [rpm], 100 to 12,000.
    kpa : float
        Manifold pressure, absolute [kPa], 10 to 400.

    Returns
    -------
    Hook
        Torque and its companions over -4 to 60 deg.

    Raises
    ------
    InputError
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
            raise InputError(name, f"{value:g}", f"must be {low} to {high}", do)
    return hook_at(physics_of(job), rpm, kpa, POINT_ADVANCE_DEG)


def sparse_at(physics: Physics, rpm: float, kpa: float) -> SparseHook:
    """Make the hook of a job's engine at one speed and load, of which only what is asked for is run."""
    return SparseHook(
        physics.engine,
        physics.air_at(kpa),
        physics.fuel,
        physics.constants,
        speed_rpm=rpm,
        map_kpa=kpa,
        mixture_lambda=physics.lambda_at(rpm, kpa),
    )


def trace_at(physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray) -> HookTrace:
    """Run the cycle of a job's engine at one speed and load over some advances."""
    return hook_trace(
        physics.engine,
        physics.air_at(kpa),
        physics.fuel,
        physics.constants,
        speed_rpm=rpm,
        map_kpa=kpa,
        mixture_lambda=physics.lambda_at(rpm, kpa),
        advance_deg=advance_deg,
    )


def hook_at(physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray) -> Hook:
    """Run one hook and read off it what a person asks."""
    trace = trace_at(physics, rpm, kpa, advance_deg)
    # Best and limit are read off the same nodes as in a map, so that a point and its cell agree.
    sparse = sparse_at(physics, rpm, kpa)
    best_deg, best_nm = sparse.best(USUAL_BEST_DEG)
    state = burn_state(sparse.at(best_deg)[2])
    # A top that lies beyond the last tested advance, or stands on a charge that does not burn, is none.
    found = state != "misfire" and best_deg < LAST_DEG
    best = best_spark(trace.advance_deg, trace.torque_nm)
    return Hook(
        rpm=rpm,
        kpa=kpa,
        mixture_lambda=physics.lambda_at(rpm, kpa),
        advance_deg=trace.advance_deg,
        torque_nm=trace.torque_nm,
        imep_bar=trace.imep_bar,
        knock_integral=trace.knock_integral,
        ca10_deg=trace.ca10_atdc_deg,
        ca50_deg=trace.ca50_atdc_deg,
        ca90_deg=trace.ca90_atdc_deg,
        peak_bar=trace.peak_bar,
        peak_at_deg=trace.peak_atdc_deg,
        exhaust_c=trace.exhaust_k - 273.15,
        burned_share=trace.burned_share,
        spark_bar=trace.spark_bar,
        spark_k=trace.spark_k,
        spark_density_kg_m3=1e5 * trace.spark_bar / (trace.charge.gas_constant_j_kgk * trace.spark_k),
        best_deg=best_deg if found else np.nan,
        best_torque_nm=best_nm if found else np.nan,
        late99_deg=best.late99_deg if found else np.nan,
        early99_deg=best.early99_deg if found else np.nan,
        knock_limit_deg=sparse.knock(0.0),
        residual_share=trace.residual_share,
        charge_mg=1e6 * trace.charge_kg,
        intake_closing_k=trace.charge.closing_k,
        burn_state=state,
        outside=outside_range(physics, rpm, kpa, sparse, best_deg),
    )


def outside_range(
    physics: Physics, rpm: float, kpa: float, hook: SparseHook, best_deg: float
) -> tuple[str, ...]:
    """Name every formula that is used outside the range it was proven in."""
    spark_k, spark_pa = hook.spark_at(best_deg)
    phi = 1.0 / hook.mixture_lambda
    return tuple(
        knock.octane_outside_range(physics.fuel.octane)
        + residual_outside_range(rpm, kpa / 100.0, physics.ambient_kpa / 100.0, hook.residual_share)
        + laminar_flame_outside_range(phi, spark_k, spark_pa, hook.residual_share)
    )
