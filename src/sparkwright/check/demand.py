"""What the engine asks of its ignition, from plain compression, without the cycle."""

from __future__ import annotations

import math

import numpy as np

from sparkwright.check.result import Gas, IgnitionDemand, SparkPoint
from sparkwright.cycle.kinematics import piston_drop_m
from sparkwright.ignition.rotor import pitch_distributor_deg
from sparkwright.job import Job
from sparkwright.job.site_air import air_pressure_kpa
from sparkwright.job.usual import USUAL_ROD_RATIO, usual_value

POLYTROPIC_EXPONENT = 1.32
"""Compression of a charge that loses some heat; recalled, 1.30 to 1.34."""

HEATING_K = 40.0
"""Warming of the charge on its way into the cylinder [K]; recalled, no source."""

CLOSING_DEG_BEFORE_TOP = 120.0
"""Crank angle from which the charge is taken as shut in [deg]; common practice, no source."""

BURNED_K = 2200.0
"""Burned gas in the middle of expansion [K]; recalled, no source."""

EXHAUST_K = 1200.0
EXHAUST_OPENS_DEG_AFTER_TOP = 140.0
"""Gas once the exhaust valve is open [K], and from where [deg]; recalled, no source."""

FULL_LOAD_SHARE = 0.97
"""Manifold pressure at full load over that of the site; common practice, no source."""

USUAL_MOST_DEG = 38.0
"""Most advance a plan for an unboosted engine usually uses at part load; common practice, no source."""

USUAL_FULL_LOAD_DEG = 32.0
"""Full-load advance reached at 3,000 rpm; common practice, no source."""


def site_pressure_kpa(job: Job) -> float:
    """Air pressure at the job's site [kPa absolute]: as stated, from its altitude, or at sea level.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return air_pressure_kpa(job.site.pressure_kpa, job.site.altitude_m)


def highest_rpm(job: Job) -> float:
    """Highest speed to look at: the limit, else the redline, stated or usual.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return job.limits.highest_rpm or job.engine.redline_rpm or usual_value("engine.redline_rpm", job)


def full_load_kpa(job: Job) -> float:
    """Manifold pressure at full load [kPa absolute].

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return FULL_LOAD_SHARE * site_pressure_kpa(job) + (job.induction.max_boost_kpa or 0.0)


def compressed(job: Job, kpa: float, degrees_before_top: float, start_k: float | None = None) -> Gas:
    """Gas in a cylinder by polytropic compression, without fire.

    Parameters
    ----------
    job : Job
        Bore, stroke, rod, compression ratio and intake temperature.
    kpa : float
        Absolute manifold pressure [kPa].
    degrees_before_top : float
        Crank angle before top dead centre of compression [deg]; negative after.
    start_k : float, optional
        Temperature of the charge when it is shut in [K]; that of a warm running engine when not given.

    Returns
    -------
    Gas
        `p (V0/V)^n` and `T (V0/V)^(n-1)` with `n` = `POLYTROPIC_EXPONENT`; the manifold's pressure while
        the charge is still open to it. Within some 10 % of a motored cycle.
    """
    start_k = _charge_k(job) if start_k is None else start_k
    if degrees_before_top >= CLOSING_DEG_BEFORE_TOP:
        return Gas(kpa / 100.0, start_k)
    ratio = _volume(job, CLOSING_DEG_BEFORE_TOP) / _volume(job, degrees_before_top)
    return Gas(kpa / 100.0 * ratio**POLYTROPIC_EXPONENT, start_k * ratio ** (POLYTROPIC_EXPONENT - 1.0))


def cranked(job: Job, kpa: float, degrees_before_top: float) -> Gas:
    """Gas in a cold cylinder on the starter: the site's own air, denser, so it asks for more voltage.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    kpa : float
        Manifold pressure, absolute [kPa].
    degrees_before_top : float
        Where the spark comes [crank deg before top dead centre].
    """
    return compressed(job, kpa, degrees_before_top, job.site.air_temperature_c + 273.15)


def next_plug(job: Job, kpa: float, advance_deg: float) -> Gas:
    """Gas at the plug that fires next, one firing interval earlier in its cycle.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    kpa : float
        Manifold pressure, absolute [kPa].
    advance_deg : float
        Advance [crank deg before top dead centre].
    """
    return compressed(job, kpa, advance_deg + _interval_deg(job))


def previous_plug(job: Job, kpa: float, advance_deg: float) -> Gas:
    """Gas at the plug that has just fired, one firing interval later in its cycle: burned, expanding.

    The same charge at `BURNED_K`; after the exhaust valve has opened, exhaust at the site's pressure.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    kpa : float
        Manifold pressure, absolute [kPa].
    advance_deg : float
        Advance [crank deg before top dead centre].
    """
    after_top_deg = _interval_deg(job) - advance_deg
    if after_top_deg >= EXHAUST_OPENS_DEG_AFTER_TOP:
        return Gas(site_pressure_kpa(job) / 100.0, EXHAUST_K)
    unburned = compressed(job, kpa, -after_top_deg)
    return Gas(unburned.pressure_bar * BURNED_K / unburned.temperature_k, BURNED_K)


def compression_demand(
    job: Job, least_deg: float | None = None, most_deg: float | None = None
) -> IgnitionDemand:
    """Build a demand without the cycle: usual advances, and gas by plain compression.

    Parameters
    ----------
    job : Job
        The job.
    least_deg, most_deg : float, optional
        Span of advance the plan needs, cranking included [crank deg]. Not given: from base to the most
        that the limits allow, at most `USUAL_MOST_DEG`.

    Returns
    -------
    IgnitionDemand
        Cranking at base, full load at low, middle and highest speed, and part load at the most advance.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> demand = compression_demand(Job.from_toml(starter_text()), most_deg=34.0)
    >>> demand.most_deg, demand.origin
    (34.0, 'plain compression, without the cycle')
    """
    base_deg = job.distributor.base_deg
    allowed = job.controller.max_deg if job.limits.max_advance_deg is None else job.limits.max_advance_deg
    most = min(allowed, USUAL_MOST_DEG) if most_deg is None else most_deg
    most = max(most, base_deg)
    least = base_deg if least_deg is None else min(least_deg, base_deg)
    full_kpa, top_rpm = full_load_kpa(job), highest_rpm(job)
    plan = [(job.engine.cranking_rpm, site_pressure_kpa(job), base_deg)]
    for rpm in (1000.0, 2000.0, min(3000.0, top_rpm), top_rpm):
        full_load_deg = float(np.interp(rpm, (700.0, 3000.0), (base_deg, USUAL_FULL_LOAD_DEG)))
        plan.append((rpm, full_kpa, min(full_load_deg, most)))
    plan.append((min(2500.0, top_rpm), min(45.0, full_kpa), most))
    points = tuple(
        SparkPoint(
            rpm,
            kpa,
            advance,
            (cranked if rpm == job.engine.cranking_rpm else compressed)(job, kpa, advance),
        )
        for rpm, kpa, advance in plan
    )
    return demand_at(job, least, most, points, "plain compression, without the cycle")


def demand_at(
    job: Job, least_deg: float, most_deg: float, points: tuple[SparkPoint, ...], origin: str
) -> IgnitionDemand:
    """Gather points to a demand; neighbours' gas is taken where a point's own plug holds the densest gas.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    least_deg : float
        Least advance asked for [crank deg].
    most_deg : float
        Most advance asked for [crank deg].
    points : tuple of SparkPoint
        Sparks to look at.
    origin : str
        Where they come from, in words.
    """
    hardest = max(points, key=lambda point: point.gas.pressure_bar / point.gas.temperature_k)
    return IgnitionDemand(
        least_deg=least_deg,
        most_deg=most_deg,
        points=points,
        next_plug=next_plug(job, hardest.kpa, hardest.advance_deg),
        previous_plug=previous_plug(job, hardest.kpa, hardest.advance_deg),
        origin=origin,
    )


def _interval_deg(job: Job) -> float:
    return 2.0 * pitch_distributor_deg(job.engine.cylinders)


def _charge_k(job: Job) -> float:
    induction = job.induction
    intake_c = job.site.air_temperature_c
    for stated in (induction.charge_temperature_c, induction.intake_temperature_c):
        if stated is not None:
            intake_c = stated
            break
    return intake_c + 273.15 + HEATING_K


def _volume(job: Job, degrees_from_top: float) -> float:
    """Cylinder volume as a multiple of the clearance volume."""
    engine = job.engine
    stroke_m = engine.stroke_mm * 1e-3
    rod_m = engine.rod_mm * 1e-3 if engine.rod_mm else (engine.rod_ratio or USUAL_ROD_RATIO) * stroke_m
    drop = float(piston_drop_m(math.fabs(degrees_from_top), stroke_m / 2.0, rod_m))
    return 1.0 + (engine.compression_ratio - 1.0) * drop / stroke_m
