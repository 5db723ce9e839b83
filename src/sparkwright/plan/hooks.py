"""Hooks of a job's engine: whole, or of which only what is asked for is run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import knock
from sparkwright.cycle.hook import HookTrace, best_spark, burn_state, hook_trace, knock_limit_deg
from sparkwright.cycle.laminar import laminar_flame_outside_range
from sparkwright.cycle.residual import residual_outside_range
from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG, SparseHooks
from sparkwright.findings import Finding
from sparkwright.numeric import FloatArray, Numeric
from sparkwright.plan.corrected import CorrectedHooks, Hooks, OneHook, corrections
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import Hook

USUAL_BEST_DEG = 28.0
"""Where a search for best begins [deg]; it moves no result."""

POINT_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 65)
POINT_STEP_DEG = 1.0
"""Advances of a whole hook, and how far they lie apart [deg]."""

FIRST_DEG, LAST_DEG = LEAST_DEG, MOST_DEG
"""Least and most advance that is tested [deg]."""


def sparse_at(physics: Physics, rpm: Numeric, kpa: Numeric) -> Hooks:
    """Make the hooks of a job's engine at speeds and loads, of which only what is asked for is run.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : float or array
        Speeds [rpm].
    kpa : float or array
        Loads [kPa absolute]; both spread to one shape, a hook for each place of it.
    """
    hooks = SparseHooks(
        physics.engine,
        physics.air_at(kpa),
        physics.fuel,
        physics.constants,
        speed_rpm=rpm,
        map_kpa=kpa,
        mixture_lambda=physics.lambda_at(rpm, kpa),
    )
    belief = physics.belief
    return CorrectedHooks(hooks, corrections(belief, rpm, kpa)) if isinstance(belief, OwnBelief) else hooks


def one_hook_at(physics: Physics, rpm: float, kpa: float) -> OneHook:
    """Make the hook of a job's engine at one speed and load, asked in plain numbers.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : float
        Speed [rpm].
    kpa : float
        Load [kPa absolute].
    """
    return OneHook(sparse_at(physics, rpm, kpa))


def trace_at(
    physics: Physics,
    rpm: float,
    kpa: float,
    advance_deg: FloatArray,
    wanted: NDArray[np.bool_] | None = None,
) -> HookTrace:
    """Run the cycle of a job's engine at one speed and load over some advances, or those of them wanted.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : float
        Speed [rpm].
    kpa : float
        Load [kPa absolute].
    advance_deg : array
        Advances [deg before top dead centre].
    wanted : array of bool, optional
        At which of the advances the cycle is run; None for all.
    """
    if not isinstance(physics.belief, OwnBelief):
        return _trace(physics, rpm, kpa, advance_deg, wanted)
    own = physics.belief.correction(rpm, kpa)
    trace = _trace(physics, rpm, kpa, advance_deg - own.later_deg, wanted)
    knock = _trace(physics, rpm, kpa, advance_deg - own.knock_later_deg, wanted).knock_integral
    return replace(
        trace,
        advance_deg=advance_deg,
        torque_nm=own.torque_factor * trace.torque_nm - own.friction_nm,
        knock_integral=knock * np.exp(own.ln_knock),
    )


def _trace(
    physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray, wanted: NDArray[np.bool_] | None
) -> HookTrace:
    return hook_trace(
        physics.engine,
        physics.air_at(kpa),
        physics.fuel,
        physics.constants,
        speed_rpm=rpm,
        map_kpa=kpa,
        mixture_lambda=float(physics.lambda_at(rpm, kpa)),
        advance_deg=advance_deg,
        wanted=wanted,
    )


def best_of(hook: Hooks) -> tuple[float, float, str]:
    """Give best [deg] of one hook, its torque [N m] and how far the charge burns there.

    Best and its torque are nan where the top lies beyond the last tested advance, or stands on a charge that
    does not burn.

    Parameters
    ----------
    hook : Hooks
        Hooks of one place.
    """
    best_deg, best_nm = map(float, hook.best(USUAL_BEST_DEG))
    state = burn_state(float(hook.at(best_deg)[2]))
    found = state != "misfire" and best_deg < LAST_DEG
    return (best_deg, best_nm, state) if found else (np.nan, np.nan, state)


def hook_at(physics: Physics, rpm: float, kpa: float, advance_deg: FloatArray) -> Hook:
    """Run one hook and read off it what a person asks.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : float
        Speed [rpm].
    kpa : float
        Load [kPa absolute].
    advance_deg : array
        Advances of the hook's rows [deg before top dead centre], rising.
    """
    trace = trace_at(physics, rpm, kpa, advance_deg)
    # Best and limit are read off the same nodes as in a map, so that a point and its cell agree.
    sparse = sparse_at(physics, rpm, kpa)
    best_deg, best_nm, state = best_of(sparse)
    found = not np.isnan(best_deg)
    best = best_spark(trace.advance_deg, trace.torque_nm)
    return Hook(
        rpm=rpm,
        kpa=kpa,
        mixture_lambda=float(sparse.mixture_lambda),
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
        best_deg=best_deg,
        best_torque_nm=best_nm,
        late99_deg=best.late99_deg if found else np.nan,
        early99_deg=best.early99_deg if found else np.nan,
        knock_limit_deg=_limit_deg(sparse, trace),
        residual_share=trace.residual_share,
        charge_mg=1e6 * trace.charge_kg,
        intake_closing_k=trace.charge.closing_k,
        burn_state=state,
        outside=outside_range(physics, rpm, kpa, sparse, sparse.best(USUAL_BEST_DEG)[0])[0],
    )


def _limit_deg(sparse: Hooks, trace: HookTrace) -> float:
    """Read the limit as in a map; beyond where a map looks, off the whole hook."""
    near = float(sparse.knock(0.0))
    if not np.isnan(near):
        return near
    return knock_limit_deg(trace.advance_deg, np.maximum.accumulate(trace.knock_integral))


def outside_range(
    physics: Physics, rpm: Numeric, kpa: Numeric, hooks: Hooks, best_deg: Numeric
) -> list[tuple[Finding, ...]]:
    """Give, for each hook, every formula that is used outside the range it was proven in.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : float or array
        Speeds of the hooks [rpm].
    kpa : float or array
        Loads of the hooks [kPa absolute].
    hooks : Hooks
        The hooks, as `sparse_at` gives them for these places.
    best_deg : float or array
        Best of each [deg before top dead centre], whose spark the flame starts from.
    """
    met = hooks.spark_at(best_deg)
    places = np.broadcast_arrays(rpm, kpa, hooks.residual_share, hooks.mixture_lambda, *met)
    by_octane, ambient_bar = knock.octane_outside_range(physics.fuel.octane), physics.ambient_kpa / 100.0
    return [
        (
            *by_octane,
            *residual_outside_range(speed, load / 100.0, ambient_bar, residual),
            *laminar_flame_outside_range(1.0 / mixture, spark_k, spark_pa, residual),
        )
        for speed, load, residual, mixture, spark_k, spark_pa in zip(
            *(each.ravel().tolist() for each in places), strict=True
        )
    ]
