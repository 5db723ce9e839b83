"""Torque against advance at one speed and load, and what can be read off it.

The kernel gives the closed part of the cycle. This module adds the gas exchange and friction, turns
work into torque, and finds best, the 99 % span and the knock limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import friction
from sparkwright.cycle.charge import Charge, charge_at, exhaust_kpa
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel
from sparkwright.cycle.fuel_air import heat_release_j_kg
from sparkwright.cycle.kernel import RESULTS, run_hook
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]

FRICTION = (0.4, 0.005, 0.09, 0.0009)
"""Chen and Flynn's four constants [bar, -, bar s/m, bar s2/m2]; recalled, of the order given for SI engines.

With full-load peak pressures they and the pumping loss lie near Barnes-Moss's polynomial (I.Mech.E.
C343/73, 1975) from 1500 to 4500 rpm.
"""

BLOWDOWN_SHARE = 0.35
"""Mean of cylinder over exhaust pressure between exhaust opening and bottom dead centre, as a share of
the fall [-]; recalled."""

SLOW_BURN_SHARE = 0.98
MISFIRE_SHARE = 0.80
"""Burned shares at exhaust opening below which a burn counts as slow, and as a misfire [-]; a choice."""

COARSEST_STEP_DEG = 2.4
LONGEST_STEP_MS = 0.25


@dataclass(frozen=True)
class HookTrace:
    """Everything about one charge over a range of advances; arrays run along ``advance_deg``, rising.

    Torque is the whole engine's brake torque. Angles after top dead centre have names ending in
    ``_atdc_deg``; nan where the burn does not get so far.
    """

    advance_deg: FloatArray
    torque_nm: FloatArray
    imep_bar: FloatArray
    net_imep_bar: FloatArray
    fmep_bar: FloatArray
    knock_integral: FloatArray
    ca10_atdc_deg: FloatArray
    ca50_atdc_deg: FloatArray
    ca90_atdc_deg: FloatArray
    peak_bar: FloatArray
    peak_atdc_deg: FloatArray
    burned_share: FloatArray
    exhaust_k: FloatArray
    spark_bar: FloatArray
    spark_k: FloatArray
    energy_gap_share: FloatArray
    """Energy not accounted for, over the heat in the fuel [-]: a check of the numerics."""
    heat_share: FloatArray
    """Heat to the walls over the work and heat leaving the closed cycle with the gas [-]."""
    residual_share: float
    charge_kg: float
    charge: Charge


def step_deg(speed_rpm: float) -> float:
    """Integration step [crank deg]: fine enough in angle and in time.

    Halving it moves mean pressure by less than 0.1 % (see ``tests/cycle/test_kernel.py``).

    Parameters
    ----------
    speed_rpm : float
        Engine speed [rpm], above 0.

    Notes
    -----
    Both bounds are our choice.

    Examples
    --------
    >>> step_deg(6000.0), round(step_deg(600.0), 2)
    (2.4, 0.9)
    """
    return min(COARSEST_STEP_DEG, LONGEST_STEP_MS * 6e-3 * speed_rpm)


@dataclass(frozen=True)
class GasExchange:
    """What the open part of the cycle adds to the closed part: of one charge, or of several as arrays."""

    port_pa: Numeric
    """Pressure in the exhaust port."""
    filling_j: Numeric
    """Work on the piston between bottom dead centre and intake closing."""
    blowdown_m3: float
    """Volume that the piston sweeps between exhaust opening and bottom dead centre."""
    displaced_m3: float
    pumping_bar: Numeric

    def gross_bar(self, work_j: FloatArray, opening_pa: FloatArray) -> FloatArray:
        """Gross mean pressure [bar], from the closed cycle's work [J] and the pressure at opening [Pa].

        Parameters
        ----------
        work_j : array
            Work on the piston over the closed cycle [J].
        opening_pa : array, same shape
            Pressure at exhaust opening [Pa].
        """
        blowdown_pa = self.port_pa + BLOWDOWN_SHARE * (opening_pa - self.port_pa)
        result: FloatArray = (
            1e-5 * (work_j - self.filling_j + blowdown_pa * self.blowdown_m3) / self.displaced_m3
        )
        return result


def gas_exchange(
    engine: Engine, air: Air, map_kpa: Numeric, mean_piston_speed_m_s: Numeric, closing_pa: Numeric
) -> GasExchange:
    """Give what the open part of a charge's cycle adds.

    Parameters
    ----------
    engine : Engine
        Volumes and valve events.
    air : Air
        The air outside.
    map_kpa : float or array
        Manifold pressure, absolute [kPa].
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].
    closing_pa : float or array
        Pressure in the cylinder at intake closing [Pa].

    Notes
    -----
    First principles, work of a pressure over a change of volume; pumping at the mean port pressures is our
    choice.
    """
    port_pa = 1e3 * exhaust_kpa(air.ambient_kpa, map_kpa, mean_piston_speed_m_s)
    bottom_m3 = engine.volume_m3(180.0)
    return GasExchange(
        port_pa=port_pa,
        filling_j=closing_pa * (bottom_m3 - engine.volume_m3(engine.intake_closes_deg)),
        blowdown_m3=bottom_m3 - engine.volume_m3(engine.exhaust_opens_deg),
        displaced_m3=engine.displaced_m3,
        pumping_bar=1e-5 * (port_pa - 1e3 * map_kpa),
    )


def hook_trace(
    engine: Engine,
    air: Air,
    fuel: Fuel,
    constants: Constants,
    *,
    speed_rpm: float,
    map_kpa: float,
    mixture_lambda: float,
    advance_deg: FloatArray,
    wanted: NDArray[np.bool_] | None = None,
    refine: float = 1.0,
) -> HookTrace:
    """Run the cycle over a range of advances at one speed, load and mixture.

    Parameters
    ----------
    engine, air, fuel, constants : records
        The facts, see ``sparkwright.cycle.engine``.
    speed_rpm : float
        Engine speed [rpm].
    map_kpa : float
        Manifold pressure, absolute [kPa].
    mixture_lambda : float
        Air over stoichiometric air [-].
    advance_deg : array, shape (n,)
        Advances, rising [crank deg before top dead centre].
    wanted : array of bool, shape (n,), optional
        Which of them to run; results at the others are nan. All, where not given.
    refine : float
        Divides the integration step, for proofs of convergence.

    Returns
    -------
    HookTrace
        Arrays of shape (n,).

    Notes
    -----
    The kernel's closed cycle, with `gas_exchange` and Chen and Flynn's friction (1965); how they are put
    together is our choice.
    """
    charge, residual_share = charge_at(
        engine, air, fuel, constants, speed_rpm=speed_rpm, map_kpa=map_kpa, mixture_lambda=mixture_lambda
    )
    falling = np.ascontiguousarray(advance_deg[::-1], dtype=float)
    burned = None if wanted is None else np.ascontiguousarray(wanted[::-1])
    rows = run_hook(charge, falling, step_deg(speed_rpm) / refine, burned)
    columns = dict(zip(RESULTS, rows[::-1].T, strict=True))
    exchange = gas_exchange(engine, air, map_kpa, charge.mean_piston_speed_m_s, charge.closing_pa)
    peak_bar = 1e-5 * columns["peak_pa"]
    gross_bar = exchange.gross_bar(columns["work_j"], columns["opening_pa"])
    net_bar = gross_bar - exchange.pumping_bar
    fmep_bar = np.asarray(friction.chen_flynn_friction_bar(peak_bar, charge.mean_piston_speed_m_s, *FRICTION))
    # Gas left at the exhaust's pressure after an isentropic blowdown is what a probe in the port sees.
    port_pa = exchange.port_pa
    exhaust_k = columns["opening_k"] * (port_pa / np.maximum(columns["opening_pa"], port_pa)) ** 0.2
    fuel_j = (
        charge.mass_kg * (1.0 - residual_share) * heat_release_j_kg(fuel.ethanol_share_volume, mixture_lambda)
    )
    return HookTrace(
        advance_deg=np.asarray(advance_deg, dtype=float),
        torque_nm=1e5 * (net_bar - fmep_bar) * engine.displacement_m3 / (4 * pi),
        imep_bar=gross_bar,
        net_imep_bar=net_bar,
        fmep_bar=fmep_bar,
        knock_integral=columns["knock_integral"],
        ca10_atdc_deg=columns["ca10_deg"],
        ca50_atdc_deg=columns["ca50_deg"],
        ca90_atdc_deg=columns["ca90_deg"],
        peak_bar=peak_bar,
        peak_atdc_deg=columns["peak_at_deg"],
        burned_share=columns["burned_share"],
        exhaust_k=exhaust_k,
        spark_bar=1e-5 * columns["spark_pa"],
        spark_k=columns["spark_k"],
        energy_gap_share=columns["energy_gap_j"] / fuel_j,
        heat_share=columns["heat_j"] / fuel_j,
        residual_share=residual_share,
        charge_kg=charge.mass_kg,
        charge=charge,
    )


@dataclass(frozen=True)
class BestSpark:
    """The top of a hook and the advances around it [crank deg]; nan where the hook does not show them."""

    best_deg: float
    best_torque_nm: float
    late99_deg: float
    early99_deg: float
    at_edge: bool
    """True when torque still rises at an end of the tested advances."""


def _crossing(x: FloatArray, y: FloatArray, level: float) -> float:
    """First x at which y passes a level between two samples, by a straight line; nan if it never does."""
    above = y >= level
    change = np.flatnonzero(above[1:] != above[:-1])
    if change.size == 0:
        return float("nan")
    i = int(change[0])
    return float(x[i] + (level - y[i]) / (y[i + 1] - y[i]) * (x[i + 1] - x[i]))


def best_spark(advance_deg: FloatArray, torque_nm: FloatArray) -> BestSpark:
    """Find the least advance for best torque.

    A parabola through the highest sample and its neighbours; the 99 % span by straight lines.

    Parameters
    ----------
    advance_deg : array, shape (n,)
        Advances, rising and evenly spaced [deg].
    torque_nm : array, shape (n,)
        Torque [N m].

    Returns
    -------
    BestSpark
        Best advance, its torque, and the 99 % span.

    Notes
    -----
    Algebra of the parabola, by definition; which sample is the least best advance is our choice.

    Examples
    --------
    >>> advance = np.arange(10.0, 50.0, 2.0)
    >>> best_spark(advance, 400.0 - 0.05 * (advance - 31.0) ** 2).best_deg
    31.0
    """
    top = int(np.argmax(torque_nm))
    if top in (0, advance_deg.size - 1):
        best, torque = float(advance_deg[top]), float(torque_nm[top])
    else:
        low, middle, high = torque_nm[top - 1 : top + 2]
        part = 0.5 * (low - high) / (low - 2.0 * middle + high)
        best = float(advance_deg[top] + part * (advance_deg[top + 1] - advance_deg[top]))
        torque = float(middle - 0.25 * (low - high) * part)
    level = torque - 0.01 * abs(torque)
    late = _crossing(advance_deg[: top + 1][::-1], torque_nm[: top + 1][::-1], level)
    early = _crossing(advance_deg[top:], torque_nm[top:], level)
    return BestSpark(best, torque, late, early, top in (0, advance_deg.size - 1))


def knock_limit_deg(advance_deg: FloatArray, knock_integral: FloatArray) -> float:
    """Give the advance at which the knock integral first reaches 1 [deg].

    nan where it does not within the tested advances, -inf where it always has.

    Parameters
    ----------
    advance_deg : array, shape (n,)
        Advances, rising [deg].
    knock_integral : array, shape (n,)
        Integral of Livengood and Wu (1955) at each [-].

    Returns
    -------
    float
        The knock limit [deg].

    Examples
    --------
    >>> knock_limit_deg(np.array([10.0, 20.0, 30.0]), np.array([0.6, 0.8, 1.2]))
    25.0
    """
    if knock_integral[0] >= 1.0:
        return float("-inf")
    return _crossing(advance_deg, knock_integral, 1.0)


def burn_state(burned_share: float) -> str:
    """Say in the trade's words how far a charge burned by exhaust opening.

    Parameters
    ----------
    burned_share : float
        Burned mass over charge at exhaust opening [-].

    Notes
    -----
    The two bounds are our choice.

    Examples
    --------
    >>> burn_state(0.999), burn_state(0.9), burn_state(0.3)
    ('burns', 'slow burn', 'misfire')
    """
    if burned_share >= SLOW_BURN_SHARE:
        return "burns"
    return "slow burn" if burned_share >= MISFIRE_SHARE else "misfire"
