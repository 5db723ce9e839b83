"""The same cycle left to SciPy's LSODA: same equations, its own steps.

The compression is carried once through all sparks, as the kernel does it; each burn is one more call. The
independent variable is the crank angle. LSODA chooses its steps from ``rtol`` and from an ``atol`` that is
``rtol`` times the usual size of each state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import log, pi
from types import FunctionType
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.integrate import odeint, solve_ivp

from sparkwright.cycle import curves, cylinder, kernel
from sparkwright.cycle.charge import Charge

FloatArray = NDArray[np.float64]
Rates = Callable[[float, FloatArray], Any]
OUTPUT_STEP_RAD = 1.0 * pi / 180.0
MOST_STEPS = 5000


def plain_functions() -> dict[str, Any]:
    """All functions of the kernel as interpreted Python that call one another, none of them compiled."""
    parts = (curves, cylinder, kernel)
    plain: dict[str, Any] = {name: member for part in parts for name, member in vars(part).items()}
    for name, member in list(plain.items()):
        function = getattr(member, "py_func", member)
        if not isinstance(function, FunctionType):
            continue
        home = plain if function.__module__ in {part.__name__ for part in parts} else function.__globals__
        plain[name] = FunctionType(function.__code__, home, name, function.__defaults__)
    return plain


@dataclass(frozen=True)
class Sides:
    """Makers of right sides: of the compression, and of the burn, from ln(p V^1.33) at the spark."""

    compressing: Callable[[Charge], Rates]
    burning: Callable[[Charge, float], Rates]


def plain_sides() -> Sides:
    """Right sides in interpreted Python."""
    plain = plain_functions()
    compressing_rates, burning_rates = plain["_compressing_rates"], plain["burning_rates"]

    def compressing(charge: Charge) -> Rates:
        speed = charge.speed_rad_s
        return lambda angle, y: [r / speed for r in compressing_rates(charge, angle, float(y[0]))]

    def burning(charge: Charge, ln_spark_pvn: float) -> Rates:
        speed = charge.speed_rad_s
        return lambda angle, y: [r / speed for r in burning_rates(charge, ln_spark_pvn, angle, y.tolist())]

    return Sides(compressing, burning)


def _as_record(charge: Charge) -> Any:
    """The charge as one NumPy record: a compiled function takes it in a microsecond, the tuple in many."""
    kinds = [(name, "f8", np.shape(value)) for name, value in charge._asdict().items()]
    record = np.zeros(1, dtype=np.dtype(kinds))
    for name, value in charge._asdict().items():
        record[name] = value
    return record[0]


@cache
def compiled_sides() -> Sides:
    """Right sides compiled by Numba, called through Python as LSODA asks for it."""
    compressing_rates = kernel._compressing_rates_compiled
    burning_rates = kernel._burning_rates_compiled

    def compressing_per_rad(charge: Any, angle: float, y: FloatArray) -> FloatArray:
        rates: FloatArray = np.array(compressing_rates(charge, angle, y[0])) / charge.speed_rad_s
        return rates

    def burning_per_rad(charge: Any, ln_spark_pvn: float, angle: float, y: FloatArray) -> FloatArray:
        state = (y[0], y[1], y[2], y[3], y[4], y[5], y[6], y[7])
        rates: FloatArray = np.array(burning_rates(charge, ln_spark_pvn, angle, state)) / charge.speed_rad_s
        return rates

    compressing_compiled, burning_compiled = numba.njit(compressing_per_rad), numba.njit(burning_per_rad)

    def compressing(charge: Charge) -> Rates:
        record = _as_record(charge)
        return lambda angle, y: compressing_compiled(record, angle, y)

    def burning(charge: Charge, ln_spark_pvn: float) -> Rates:
        record = _as_record(charge)
        return lambda angle, y: burning_compiled(record, ln_spark_pvn, angle, y)

    return Sides(compressing, burning)


Integrator = Callable[[Rates, FloatArray, FloatArray, float, FloatArray], FloatArray]


odeint_with_scales: Callable[..., Any] = odeint
"""``odeint``, whose published types leave out that ``atol`` may be an array."""


def by_odeint(
    rates: Rates, start: FloatArray, angle: FloatArray, rtol: float, atol: FloatArray
) -> FloatArray:
    """LSODA whole in Fortran, the right side its only call into Python. Shape (angles, states)."""
    return np.asarray(
        odeint_with_scales(rates, start, angle, rtol=rtol, atol=atol, tfirst=True, mxstep=MOST_STEPS)
    )


def by_solve_ivp(
    rates: Rates, start: FloatArray, angle: FloatArray, rtol: float, atol: FloatArray
) -> FloatArray:
    """LSODA stepped from Python, through SciPy's common interface. Shape (angles, states)."""
    solution = solve_ivp(
        rates, (angle[0], angle[-1]), start, method="LSODA", t_eval=angle, rtol=rtol, atol=atol
    )
    return np.asarray(solution.y).T


@dataclass(frozen=True)
class Outcome:
    """Mean pressure of the closed cycle [Pa] and where half is burned [deg after top dead centre]."""

    mean_pa: FloatArray
    ca50_deg: FloatArray


def run_lsoda(
    charge: Charge, advance_deg: FloatArray, sides: Sides, integrate: Integrator, rtol: float
) -> Outcome:
    """Run one charge at each advance, which fall, to the kernel's own results."""
    sparks = -advance_deg * pi / 180.0
    work = charge.closing_pa * charge.displaced_m3
    mass = charge.mass_kg
    closing = np.array([charge.closing_k, 0.0, 0.0, 0.0])
    compressed = integrate(
        sides.compressing(charge),
        closing,
        np.concatenate(([charge.intake_closes_rad], sparks)),
        rtol,
        rtol * np.array([300.0, work, work, 1.0]),
    )[1:]
    usual = np.array([charge.closing_pa, 300.0, 1e6 * mass, mass, mass, work, work, 1.0])
    mean_pa, ca50_deg = np.empty(sparks.size), np.empty(sparks.size)
    for i, (spark, (temperature, *sums)) in enumerate(zip(sparks, compressed, strict=True)):
        volume, _ = cylinder.volume_compiled(charge, spark)
        room_m3 = volume + charge.crevice_m3 * temperature / charge.wall_k
        spark_pa = mass * charge.gas_constant_j_kgk * temperature / room_m3
        state = kernel._ignite_compiled(charge, spark_pa, temperature, volume, tuple(sums))
        ln_spark_pvn = log(spark_pa) + kernel.MOTORED_EXPONENT * log(volume)
        points = int(np.ceil((charge.exhaust_opens_rad - spark) / OUTPUT_STEP_RAD)) + 1
        angle = np.linspace(spark, charge.exhaust_opens_rad, points)
        burn = integrate(sides.burning(charge, ln_spark_pvn), np.array(state), angle, rtol, rtol * usual)
        mean_pa[i] = burn[-1, 5] / charge.displaced_m3
        ca50_deg[i] = np.interp(0.5 * mass, burn[:, 3], angle) * 180.0 / pi
    return Outcome(mean_pa, ca50_deg)
