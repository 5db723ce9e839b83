"""Rotor and cap over the span of advance that the plan needs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from sparkwright.check.assumed import Taken
from sparkwright.check.demand import site_pressure_kpa
from sparkwright.check.result import (
    IgnitionDemand,
    RotorResult,
    SparkPoint,
)
from sparkwright.ignition.gap import (
    CORNER_FIELD_FACTOR,
    Paths,
    paths,
    plug_breakdown_kv,
    uniform_field_kuffel_zaengl_kv,
)
from sparkwright.ignition.rotor import CAP_SIZES, SIZE_SPREAD, PhaseAdvice, RotorCap
from sparkwright.job import Job
from sparkwright.job.usual import USUAL_CAP_SIZE

RADIAL_GAP_MM = 0.8
BASE_SPARE_DEG = 1.0
"""How far the tip must still cover its post on the late side of base [crank deg]; a choice."""


def rotor_cap(job: Job) -> RotorCap:
    """Give the rotor in its cap, from what was measured and, for the rest, from its size class.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> rotor_cap(Job.from_toml(starter_text())).cylinders
    8
    """
    distributor = job.distributor
    size = CAP_SIZES[distributor.cap_size or USUAL_CAP_SIZE]
    tip_radius_mm, post_radius_mm = distributor.tip_radius_mm, distributor.post_radius_mm
    if tip_radius_mm is None:
        tip_radius_mm = size.tip_radius_mm if post_radius_mm is None else post_radius_mm - RADIAL_GAP_MM
    if post_radius_mm is None:
        given = distributor.tip_radius_mm
        post_radius_mm = size.post_radius_mm if given is None else given + RADIAL_GAP_MM
    return RotorCap(
        cylinders=job.engine.cylinders,
        tip_radius_mm=tip_radius_mm,
        tip_width_mm=distributor.tip_width_mm or size.tip_width_mm,
        post_radius_mm=post_radius_mm,
        post_width_mm=distributor.post_width_mm or size.post_width_mm,
        base_deg=distributor.base_deg,
        phase_distributor_deg=distributor.rotor_phase_deg,
    )


def phase_advice(job: Job, least_deg: float, most_deg: float) -> PhaseAdvice:
    """Give the rotor phase for a span of advance, with base kept under the post.

    A span that fits the window is centred in it. A wider one can't be covered: the engine is cranked at
    base, so the tip then covers base by `BASE_SPARE_DEG` and the rest of the window goes to advance.

    Parameters
    ----------
    job : Job
        The job.
    least_deg, most_deg : float
        Span of advance wanted [crank deg].

    Returns
    -------
    PhaseAdvice
        The phase, and how far to move the tip for it.
    """
    cap = rotor_cap(job)
    width_deg = cap.reach().width_deg
    least_deg = min(least_deg, job.distributor.base_deg)
    if most_deg - least_deg > width_deg:
        least_deg = job.distributor.base_deg - BASE_SPARE_DEG
        most_deg = min(most_deg, least_deg + width_deg)
    return cap.advice(least_deg, max(least_deg, most_deg))


def rotor_result(job: Job, demand: IgnitionDemand, assumed: Taken) -> RotorResult:
    """Hold rotor and cap against the span of advance that the plan needs.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    demand : IgnitionDemand
        What is asked of the ignition.
    assumed : Taken
        Where what is taken is noted.
    """
    cap = rotor_cap(job)
    spread_deg = 0.0
    for name, angle_deg in (
        ("tip_radius", 0.0),
        ("tip_width", cap.tip_distributor_deg),
        ("post_radius", 0.0),
        ("post_width", cap.post_distributor_deg),
    ):
        if getattr(job.distributor, f"{name}_mm") is None:
            spread_deg += SIZE_SPREAD * angle_deg
            assumed.take(f"distributor.{name}", None, getattr(cap, f"{name}_mm"))
    reach = cap.reach()
    advice = phase_advice(job, demand.least_deg, demand.most_deg)
    advance = np.arange(
        math.floor(min(demand.least_deg, reach.least_deg)) - 4.0,
        math.ceil(max(demand.most_deg, reach.most_deg)) + 4.5,
        0.5,
    )
    right_mm, next_mm, previous_mm = (
        np.asarray(gap_mm(advance)) for gap_mm in (cap.right_gap_mm, cap.next_gap_mm, cap.previous_gap_mm)
    )
    bar, kelvin = cap_air(job)
    hardest, ways, neighbour = _hardest(job, demand, cap)
    return RotorResult(
        cap=cap,
        rotation=job.distributor.rotation,
        today=reach,
        unphased=replace(cap, phase_distributor_deg=0.0).reach(),
        phased=replace(cap, phase_distributor_deg=advice.phase_distributor_deg).reach(),
        advice=advice,
        reach_spread_deg=spread_deg,
        least_deg=demand.least_deg,
        most_deg=demand.most_deg,
        advance_deg=advance,
        right_gap_mm=right_mm,
        next_gap_mm=next_mm,
        previous_gap_mm=previous_mm,
        right_kv=np.asarray(uniform_field_kuffel_zaengl_kv(bar, right_mm, kelvin)),
        next_kv=CORNER_FIELD_FACTOR * np.asarray(uniform_field_kuffel_zaengl_kv(bar, next_mm, kelvin)),
        previous_kv=CORNER_FIELD_FACTOR
        * np.asarray(uniform_field_kuffel_zaengl_kv(bar, previous_mm, kelvin)),
        hardest=hardest,
        hardest_paths=ways,
        hardest_neighbour=neighbour,
    )


def cap_air(job: Job) -> tuple[float, float]:
    """Give the air in the cap: pressure [bar] and temperature [K].

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return site_pressure_kpa(job) / 100.0, job.distributor.cap_air_temperature_c + 273.15


def _hardest(job: Job, demand: IgnitionDemand, cap: RotorCap) -> tuple[SparkPoint | None, Paths | None, str]:
    """Find the running point and the neighbour with the least reserve against a stray spark."""
    bar, kelvin = cap_air(job)
    gap_mm = job.plugs.gap_mm
    found = [
        (
            point,
            paths(
                right_gap_mm=float(cap.right_gap_mm(point.advance_deg)),
                wrong_gap_mm=float(wrong_gap(point.advance_deg)),
                cap_pressure_bar=bar,
                cap_temperature_k=kelvin,
                right_plug_kv=float(
                    plug_breakdown_kv(point.gas.pressure_bar, point.gas.temperature_k, gap_mm)
                ),
                wrong_plug_kv=float(plug_breakdown_kv(gas.pressure_bar, gas.temperature_k, gap_mm)),
            ),
            neighbour,
        )
        for point in demand.points
        for neighbour, wrong_gap, gas in (
            ("next", cap.next_gap_mm, demand.next_plug),
            ("previous", cap.previous_gap_mm, demand.previous_plug),
        )
    ]
    if not found:
        return None, None, ""
    return min(found, key=lambda each: each[1].ratio)
