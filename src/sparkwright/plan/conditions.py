"""The conditions that a job states beside its own: what each moves, and the corners that they make."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from sparkwright.air import magnus_saturation_hpa
from sparkwright.check.demand import site_pressure_kpa
from sparkwright.job import Job
from sparkwright.job.site_air import air_pressure_kpa
from sparkwright.job.usual import ICE_POINT_K
from sparkwright.numeric import FloatArray
from sparkwright.plan.physics import WARM_C, physics_of

Name = Literal["air temperature", "engine temperature", "air pressure", "fuel"]

BETWEEN = 1
"""Nodes of a trim between the job's own condition and each end that is stated; a choice."""


@dataclass(frozen=True)
class Way:
    """One condition that may change, and the values at which the map is planned.

    ``values`` rise, in ``unit``; ``own`` is the place of the job's own among them. ``trimmed`` says whether
    the controller has a trim for it.
    """

    name: Name
    unit: str
    values: tuple[float, ...]
    own: int
    trimmed: bool

    @property
    def ends(self) -> tuple[int, ...]:
        """Places of the least and the greatest value."""
        return tuple(dict.fromkeys((0, len(self.values) - 1)))


Place = tuple[int, ...]
"""Where each way stands, by the place of its value."""

_Set = Callable[[Job, float], Job]


def ways_of(job: Job) -> tuple[Way, ...]:
    """Give the conditions that a job states beside its own; none where it states none.

    Parameters
    ----------
    job : Job
        The job, with or without a section of conditions.
    """
    stated = job.conditions
    if stated is None:
        return ()
    own_kpa = site_pressure_kpa(job)
    own_coolant_c = WARM_C if job.engine.coolant_temperature_c is None else job.engine.coolant_temperature_c
    spans: list[tuple[Name, str, float, tuple[float | None, ...], bool]] = [
        (
            "air temperature",
            "degC",
            job.site.air_temperature_c,
            (stated.coldest_air_c, stated.hottest_air_c),
            stated.air_trim,
        ),
        (
            "engine temperature",
            "degC",
            own_coolant_c,
            (stated.coldest_coolant_c, stated.hottest_coolant_c),
            stated.coolant_trim,
        ),
        (
            "air pressure",
            "kPa",
            own_kpa,
            (_pressure_kpa(stated.highest_altitude_m), _pressure_kpa(stated.lowest_altitude_m)),
            stated.pressure_trim,
        ),
    ]
    found = [_way(*each) for each in spans]
    if stated.second_fuel:
        found.append(Way("fuel", "% of the second fuel", (0.0, 100.0), 0, stated.fuel_trim))
    return tuple(way for way in found if len(way.values) > 1)


def _pressure_kpa(altitude_m: float | None) -> float | None:
    return None if altitude_m is None else round(air_pressure_kpa(None, altitude_m), 1)


def _way(name: Name, unit: str, own: float, ends: tuple[float | None, ...], trimmed: bool) -> Way:
    """Put nodes between the job's own value and each end that lies apart from it."""
    values = {own}
    for end in ends:
        if end is not None and abs(end - own) > 1e-6:
            values |= {own + (end - own) * step / (BETWEEN + 1) for step in range(1, BETWEEN + 2)}
    rising = tuple(sorted(values))
    return Way(name, unit, rising, rising.index(own), trimmed)


def own_place(ways: tuple[Way, ...]) -> Place:
    """Give the job's own place among its conditions.

    Parameters
    ----------
    ways : tuple of Way
        The job's conditions, as `ways_of` gives them.
    """
    return tuple(way.own for way in ways)


def places_of(ways: tuple[Way, ...]) -> tuple[Place, ...]:
    """Give every place at which the map is planned: each value by itself, and every corner.

    The job's own is not among them.

    Parameters
    ----------
    ways : tuple of Way
        The job's conditions, as `ways_of` gives them.
    """
    own = own_place(ways)
    alone = [
        (*own[:number], place, *own[number + 1 :])
        for number, way in enumerate(ways)
        for place in range(len(way.values))
    ]
    corners = product(*(way.ends for way in ways))
    return tuple(place for place in dict.fromkeys((*alone, *corners)) if place != own)


def job_at(job: Job, ways: tuple[Way, ...], place: Place) -> Job:
    """Give the job as it is at a place of its conditions.

    Parameters
    ----------
    job : Job
        The job at its own conditions.
    ways : tuple of Way
        Its conditions, as `ways_of` gives them.
    place : Place
        Which value of each condition, one number from 0 for each of ``ways``.
    """
    return job_under(job, {way.name: way.values[at] for way, at in zip(ways, place, strict=True)})


def job_under(job: Job, values: dict[Name, float]) -> Job:
    """Give the job with some conditions at other values, in the units of `Way`.

    Parameters
    ----------
    job : Job
        The job at its own conditions.
    values : dict
        Value of each condition by its name [degC, kPa absolute or % of the second fuel].
    """
    for name, value in values.items():
        job = _SETS[name](job, value)
    return job


def _air(job: Job, celsius: float) -> Job:
    """Move the outside air, and with it the air in the manifold and the charge where they are stated.

    The air keeps its water, or what it can hold of it: warm air of the same relative humidity would hold
    more, and water keeps knock away that a dry hot day brings.
    """
    moved = celsius - job.site.air_temperature_c
    if not moved:
        return job
    induction = {
        name: f"{stated + moved} degC"
        for name in ("intake_temperature", "charge_temperature")
        if (stated := getattr(job.induction, f"{name}_c")) is not None
    }
    held = magnus_saturation_hpa(job.site.air_temperature_c) / magnus_saturation_hpa(celsius)
    humidity = min(100.0, float(held) * job.site.humidity_percent)
    outside = job.changed("site", air_temperature=f"{celsius} degC", humidity_percent=humidity)
    return outside.changed("induction", **induction)


def _coolant(job: Job, celsius: float) -> Job:
    return job.changed("engine", coolant_temperature=f"{celsius} degC")


def _pressure(job: Job, kpa: float) -> Job:
    if kpa == site_pressure_kpa(job):
        return job
    return job.changed("site", altitude=None, pressure=f"{kpa} kPa")


def _fuel(job: Job, percent: float) -> Job:
    stated = job.conditions
    if stated is None or percent < 50.0:
        return job
    ethanol = stated.other_ethanol_percent
    return job.changed(
        "fuel",
        ron=stated.other_ron,
        mon=stated.other_mon,
        aki=stated.other_aki,
        ethanol_percent=job.fuel.ethanol_percent if ethanol is None else ethanol,
    )


_SETS: dict[Name, _Set] = {
    "air temperature": _air,
    "engine temperature": _coolant,
    "air pressure": _pressure,
    "fuel": _fuel,
}
"""What gives the job at another value of each condition."""


def sensor_reads(job: Job, way: Way) -> FloatArray:
    """Give what the controller's sensor is taken to read at each value: of the air, that in the manifold.

    Parameters
    ----------
    job : Job
        The job at its own conditions.
    way : Way
        The condition whose values are asked about.
    """
    if way.name != "air temperature":
        return np.array(way.values)
    return np.array([physics_of(_air(job, value)).intake_k - ICE_POINT_K for value in way.values])
