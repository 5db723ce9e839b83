"""The map as it is driven on another day, at another height or on another fuel: its chance of knock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.job.site_air import air_pressure_kpa
from sparkwright.numeric import FloatArray
from sparkwright.plan.chance_over_map import chances_over, hooks_over
from sparkwright.plan.conditions import Name, job_under
from sparkwright.plan.firmness import Mapper, chance_allowed_percent
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import cells_met
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.trims import Trims
from sparkwright.reading import quantity
from sparkwright.units import show_span

TELLABLE_PERCENT = 0.5
"""By how much a chance must be over what is allowed before it is told [%]: a tenth of a degree, about."""


@dataclass(frozen=True)
class Driven:
    """What a map with its trims does under other conditions.

    ``knock_chance_percent`` is nan in cells that the engine doesn't meet there. ``cells_over`` counts those
    with more chance than the job allows; the highest stands at ``rpm`` and ``kpa``.
    """

    job_name: str
    fingerprint: str
    values: dict[str, float]
    wrong_ron: float | None
    spark_map: SparkMap
    knock_chance_percent: FloatArray
    over: NDArray[np.bool_]
    """Cells with more chance than the job allows."""
    most_chance_percent: float
    rpm: float
    kpa: float
    cells_over: int
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]


def values_asked(
    job: Job,
    *,
    air: str | None = None,
    coolant: str | None = None,
    altitude: str | None = None,
    second_fuel: bool = False,
) -> dict[Name, float]:
    """Read conditions as a person writes them, with their units; None where one is the job's own.

    Parameters
    ----------
    job : Job
        The job, which must state a second fuel where that is asked for.
    air : str, optional
        Temperature of the outside air, from -50 to 60 degC.
    coolant : str, optional
        Temperature of the coolant, from -40 to 140 degC.
    altitude : str, optional
        Height of the site above the sea, from -450 to 5500 m.
    second_fuel : bool, optional
        Whether the tank holds the second fuel.

    Raises
    ------
    Refusal
        If one can't be read or lies out of all reason, or the job states no second fuel.
    """
    values: dict[Name, float] = {}
    if air:
        values["air temperature"] = _read(air, "temperature", "degC", (-50.0, 60.0), "air")
    if coolant:
        values["engine temperature"] = _read(coolant, "temperature", "degC", (-40.0, 140.0), "coolant")
    if altitude:
        metres = _read(altitude, "altitude", "m", (-450.0, 5500.0), "altitude")
        values["air pressure"] = air_pressure_kpa(None, metres)
    if second_fuel:
        if job.conditions is None or not job.conditions.second_fuel:
            raise Refusal.at(
                "second fuel", None, "must be stated in the job", "give conditions.other_ron, or a wrong RON"
            )
        values["fuel"] = 100.0
    return values


def _read(text: str, dimension: str, unit: str, span: tuple[float, float], field: str) -> float:
    low, high = span
    value = quantity(text, dimension, into=unit, low=low, high=high, field=field)
    if not low <= value <= high:
        raise Refusal.at(
            field, f'"{text}"', f"must be {show_span(low, high, dimension, unit)}", "check its unit"
        )
    return value


def driven(
    job: Job,
    planned: PlanResult,
    values: Mapping[Name, float],
    trims: Trims | None = None,
    *,
    wrong_ron: float | None = None,
    belief: Belief = PRIOR,
    run: Mapper = map,
) -> Driven:
    """Say what a map does under other conditions.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan.
    values : mapping
        The conditions that are otherwise than the job's, in the units of ``plan.conditions.Way``.
    trims : Trims, optional
        What the controller adds; without, the plan's map as it stands.
    wrong_ron : float, optional
        Research octane number of a fuel that was put in by mistake, so that no trim knows of it.
    belief : Belief, optional
        The belief that the plan was made under.
    run : callable, optional
        Runs a function over many arguments, like ``map``.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text())
    >>> planned = plan(job)
    >>> hot = driven(job, planned, {"air temperature": 45.0})
    >>> hot.cells_over > driven(job, planned, {}).cells_over
    True
    """
    other = job_under(job.without_hand(), dict(values))
    if wrong_ron is not None:
        fuel = physics_of(other).fuel
        other = other.changed("fuel", ron=wrong_ron, mon=wrong_ron - fuel.sensitivity, aki=None)
    physics = physics_of(other, belief)
    rpm, kpa = planned.cells.spark_map.rpm, planned.cells.spark_map.kpa
    named = {str(name): value for name, value in values.items()}
    advance_deg = planned.cells.spark_map.advance_deg if trims is None else trims.advance_deg(named)
    rows = zip(hooks_over(physics, rpm, kpa), advance_deg, planned.cells.ln_knock_sigma, strict=True)
    chance = np.concatenate(
        list(run(lambda row: chances_over((row[0],), row[1][None, :], row[2][None, :]), rows))
    )
    met = cells_met(rpm, kpa, physics)
    allowed = np.array([chance_allowed_percent(other, physics, load) for load in kpa.tolist()])
    told = np.where(met & np.isfinite(chance), chance, -np.inf)
    i, j = np.unravel_index(int(np.argmax(told - allowed[:, None])), told.shape)
    too_much = told > allowed[:, None] + TELLABLE_PERCENT
    cells_over = int(too_much.sum())
    most = float(told[i, j]) if np.isfinite(told[i, j]) else float("nan")
    numbers: dict[str, Value] = {
        "at": tuple(named.items()),
        "wrong_ron": wrong_ron,
        "trimmed": trims is not None,
        "cells": cells_over,
        "chance_percent": most,
        "allowed_percent": float(allowed[i]),
        "rpm": float(rpm[j]),
        "kpa": float(kpa[i]),
    }
    over = Finding("driven.over", "problem", numbers)
    return Driven(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        values=named,
        wrong_ron=wrong_ron,
        spark_map=SparkMap(rpm, kpa, advance_deg),
        knock_chance_percent=np.where(met, chance, np.nan),
        over=too_much,
        most_chance_percent=most,
        rpm=float(rpm[j]),
        kpa=float(kpa[i]),
        cells_over=cells_over,
        headline=over if cells_over else Finding("driven.holds", "good", numbers),
        problems=(over,) if cells_over else (),
        warnings=(),
    )
