"""Hooks of a job's engine: whole, or of which only what is asked for is run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sparkwright.cycle import knock
from sparkwright.cycle.hook import HookTrace, best_spark, burn_state, hook_trace, knock_limit_deg
from sparkwright.cycle.laminar import laminar_flame_outside_range
from sparkwright.cycle.residual import residual_outside_range
from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG, SparseHook
from sparkwright.plan.corrected import CorrectedHook
from sparkwright.plan.own_belief import Correction, OwnBelief
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import FloatArray, Hook

USUAL_BEST_DEG = 28.0
"""Where a search for best begins [deg]; it moves no result."""

POINT_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 65)
FIRST_DEG, LAST_DEG = LEAST_DEG, MOST_DEG
"""Least and most advance that is tested [deg]."""


def sparse_at(physics: Physics, rpm: float, kpa: float) -> SparseHook | CorrectedHook:
    """Make the hook of a job's engine at one speed and load, of which only what is asked for is run."""
    hook = SparseHook(
        physics.engine,
        physics.air_at(kpa),
        physics.fuel,
        physics.constants,
        speed_rpm=rpm,
        map_kpa=kpa,
        mixture_lambda=physics.lambda_at(rpm, kpa),
    )
    belief = physics.belief
    return CorrectedHook(hook, belief.correction(rpm, kpa)) if isinstance(belief, OwnBelief) else hook


def trace_at(physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray) -> HookTrace:
    """Run the cycle of a job's engine at one speed and load over some advances."""
    if isinstance(physics.belief, OwnBelief):
        return _corrected_trace(physics, physics.belief.correction(rpm, kpa), rpm, kpa, advance_deg)
    return _trace(physics, rpm, kpa, advance_deg)


def _corrected_trace(
    physics: Physics, correction: Correction, rpm: float, kpa: float, advance_deg: FloatArray
) -> HookTrace:
    trace = _trace(physics, rpm, kpa, advance_deg - correction.later_deg)
    return replace(
        trace,
        advance_deg=advance_deg,
        torque_nm=correction.torque_factor * trace.torque_nm - correction.friction_nm,
        knock_integral=trace.knock_integral * np.exp(correction.ln_knock),
    )


def _trace(physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray) -> HookTrace:
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
        knock_limit_deg=_limit_deg(sparse, trace),
        residual_share=trace.residual_share,
        charge_mg=1e6 * trace.charge_kg,
        intake_closing_k=trace.charge.closing_k,
        burn_state=state,
        outside=outside_range(physics, rpm, kpa, sparse, best_deg),
    )


def _limit_deg(sparse: SparseHook | CorrectedHook, trace: HookTrace) -> float:
    """Read the limit as in a map; beyond where a map looks, off the whole hook."""
    near = sparse.knock(0.0)
    if not np.isnan(near):
        return near
    return knock_limit_deg(trace.advance_deg, np.maximum.accumulate(trace.knock_integral))


def outside_range(
    physics: Physics, rpm: float, kpa: float, hook: SparseHook | CorrectedHook, best_deg: float
) -> tuple[str, ...]:
    """Name every formula that is used outside the range it was proven in."""
    spark_k, spark_pa = hook.spark_at(best_deg)
    phi = 1.0 / hook.mixture_lambda
    return tuple(
        knock.octane_outside_range(physics.fuel.octane)
        + residual_outside_range(rpm, kpa / 100.0, physics.ambient_kpa / 100.0, hook.residual_share)
        + laminar_flame_outside_range(phi, spark_k, spark_pa, hook.residual_share)
    )
