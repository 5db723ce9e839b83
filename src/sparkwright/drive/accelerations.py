"""Accelerations at full throttle in one gear, as pulls: torque over speed, at a timing.

What speeds a vehicle up is its mass, and what turns with it, times its acceleration; rolling, air and grade
take their share beside it. Divided by how far the vehicle goes in a turn of the crank that is torque at the
crank, less what gearbox and axle take. Mass, rolling data, grade and wind are facts with usual values, so
that the torque is no measurement. The ratio of two timings hangs on them little, since both stand on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from sparkwright.check.assumed import Assumed, Taken
from sparkwright.drive.asked import Road
from sparkwright.drive.reader import Block
from sparkwright.drive.seen import between_cells
from sparkwright.job import Job
from sparkwright.job.site_air import air_pressure_kpa
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import PlanResult

FULL_LOAD = 0.9
"""Load from which a throttle counts as full, in shares of the air's pressure; a choice."""
FULL_PERCENT = 80.0
LEAST_RISE_RPM, LEAST_S, FEWEST_ROWS = 800.0, 1.5, 15
"""What rises less, lasts less or has fewer rows is no pull; choices."""
FALLS_RPM = 150.0
"""How far speed may fall back in a pull: further is a change of gear."""
SAME_GEAR = 0.04
"""How far the ratio of engine and road speed may wander in one gear; more is a slip of clutch or wheel."""
ONE_TIMING_DEG = 0.75
"""Timings that lie so close to each other are one."""
MOST_KEPT = 200
STEP_RPM = 50.0
ORDER = 4
"""Of the polynomial that speed over time is taken for in one pull."""
TURNING = 1.06
"""What turns with a vehicle counts as 6 % more mass, more in low gears; common practice, no source."""
GRAVITY = 9.80665
GAS_J_KG_K = 287.05
ZERO_C_K = 273.15
CHANNELS = ("speed_km_h", "advance_deg", "commanded_deg", "throttle_percent")


@dataclass(frozen=True)
class Acceleration:
    """One pull on the road.

    Parameters
    ----------
    name : str
        Its number, in the order in which they were driven.
    timing : str
        How far its advance lay off the map, in words that say the same for pulls that belong together.
    gear : float
        Turns of the crank a minute for each km/h: the same in one gear [rpm h/km].
    file : int
        Place of its file among those given.
    from_s, to_s : float
        When it was, from the first row of the file [s].
    off_map_deg : float
        Mean of advance less map [deg]; nan where no advance is logged.
    rpm, torque_nm : array
        Torque at the crank by these facts, less what gearbox and axle take, over even speeds.
    """

    name: str
    timing: str
    gear: float
    file: int
    from_s: float
    to_s: float
    off_map_deg: float
    rpm: FloatArray
    torque_nm: FloatArray


Rows = dict[str, FloatArray]


class FullThrottle:
    """Stretches at full throttle with all their rows, taken while a drive is read."""

    def __init__(self, ambient_kpa: float) -> None:
        self._full_kpa = FULL_LOAD * ambient_kpa
        self._open: Rows = {}
        self._file = -1
        self.stretches: list[tuple[int, Rows]] = []

    def add(self, block: Block) -> None:
        """Take the rows at full throttle; a stretch that a block breaks off in goes on in the next.

        Parameters
        ----------
        block : Block
            The next rows of a file, in their order.
        """
        if block.file != self._file:
            self.close()
            self._file = block.file
        road = block.of("speed_km_h")
        if road is None or not np.isfinite(block.time_s[:1]).all():
            return
        full: NDArray[np.bool_] = np.asarray(block.kpa >= self._full_kpa)
        throttle = block.of("throttle_percent")
        if throttle is not None:
            full &= ~(throttle < FULL_PERCENT)
        edges = np.flatnonzero(np.diff(full.astype(np.int8), prepend=0, append=0))
        if self._open and not (edges.size and edges[0] == 0):
            self.close()
        rows = {"time": block.time_s, "rpm": block.rpm, "kpa": block.kpa}
        for name in CHANNELS:
            values = block.of(name)
            rows[name] = np.full(block.rpm.size, np.nan) if values is None else values
        for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            part = {name: values[begin:end].copy() for name, values in rows.items()}
            before = self._open if begin == 0 else {}
            self._open = {
                name: np.concatenate([before.get(name, values[:0]), values]) for name, values in part.items()
            }
            if end < full.size:
                self.close()

    def close(self) -> None:
        """Finish the stretch that is open; those that rise too little are left out."""
        part, self._open = self._open, {}
        if part and part["rpm"].size >= FEWEST_ROWS and len(self.stretches) < MOST_KEPT:
            self.stretches += [(self._file, each) for each in _rising(part)]


def accelerations_of(
    stretches: Sequence[tuple[int, Rows]], job: Job, planned: PlanResult, road: Road
) -> tuple[tuple[Acceleration, ...], tuple[Assumed, ...]]:
    """Make pulls of stretches at full throttle, and say what was assumed for it.

    Parameters
    ----------
    stretches : sequence of (int, dict)
        File and rows of each, as `FullThrottle` gives them.
    job : Job
        The job, for its vehicle and air.
    planned : PlanResult
        The plan whose map the timing is held against.
    road : Road
        Grade and wind.
    """
    if not stretches:
        return (), ()
    notes = Taken(job)
    vehicle = job.vehicle
    mass_kg = notes.take("vehicle.mass_kg", vehicle.mass_kg)
    drag_m2 = notes.take("vehicle.drag_area_m2", vehicle.drag_area_m2)
    rolling = notes.take("vehicle.rolling_resistance", vehicle.rolling_resistance)
    air_kpa = air_pressure_kpa(job.site.pressure_kpa, job.site.altitude_m)
    density = 1e3 * air_kpa / (GAS_J_KG_K * (job.site.air_temperature_c + ZERO_C_K))
    offs = [_off_map_deg(rows, planned) for _, rows in stretches]
    timings = timings_of(offs)
    found = []
    for number, ((file, rows), off, timing) in enumerate(zip(stretches, offs, timings, strict=True), start=1):
        gear = float(np.nanmedian(rows["rpm"] / rows["speed_km_h"]))
        rpm, speed_m_s, rise_m_s2 = _motion(rows, gear)
        force = TURNING * mass_kg * rise_m_s2 + mass_kg * GRAVITY * (rolling + road.grade_percent / 100.0)
        force += 0.5 * density * drag_m2 * (speed_m_s + road.wind_km_h / 3.6) ** 2
        times = rows["time"]
        found.append(
            Acceleration(
                name=str(number),
                timing=timing,
                gear=gear,
                file=file,
                from_s=float(times[0]),
                to_s=float(times[-1]),
                off_map_deg=off,
                rpm=rpm,
                torque_nm=force * speed_m_s / (rpm * 2.0 * pi / 60.0),
            )
        )
    return tuple(found), tuple(notes.found)


def timings_of(off_map_deg: Sequence[float]) -> list[str]:
    """Give each pull the name of its timing: those that lie close to each other have the same.

    Parameters
    ----------
    off_map_deg : sequence of float
        How far the advance of each lay off the map [deg]; nan where it isn't logged.

    Examples
    --------
    >>> timings_of([-0.2, -3.1, 0.1, -2.8, float("nan")])
    ['the map', 'map -3 deg', 'the map', 'map -3 deg', 'not logged']
    """
    known = sorted((off, k) for k, off in enumerate(off_map_deg) if off == off)
    names = ["not logged"] * len(off_map_deg)
    group: list[tuple[float, int]] = []
    for place, each in enumerate(known):
        group.append(each)
        if place + 1 < len(known) and known[place + 1][0] - each[0] <= ONE_TIMING_DEG:
            continue
        middle = round(2.0 * sum(off for off, _ in group) / len(group)) / 2.0
        for _, k in group:
            names[k] = "the map" if middle == 0.0 else f"map {middle:+g} deg"
        group = []
    return names


def _rising(part: Rows) -> list[Rows]:
    """Part a stretch where speed falls, and give what rises enough in one gear."""
    rpm = part["rpm"]
    if not np.isfinite(rpm).all():
        return []
    highest = np.maximum.accumulate(rpm)
    falls = np.flatnonzero((highest[:-1] - rpm[:-1] <= FALLS_RPM) & (highest[1:] - rpm[1:] > FALLS_RPM)) + 1
    if falls.size:
        cut = int(falls[0])
        top = int(rpm[:cut].argmax()) + 1
        low = cut + int(rpm[cut : cut + FEWEST_ROWS].argmin())
        return [*_rising(_rows(part, slice(0, top))), *_rising(_rows(part, slice(low, None)))]
    ratio = rpm / part["speed_km_h"]
    known = np.isfinite(ratio)
    if rpm.size < FEWEST_ROWS or np.count_nonzero(known) < FEWEST_ROWS:
        return []
    gear = float(np.median(ratio[known]))
    one_gear = float(np.mean(np.abs(ratio[known] / gear - 1.0) <= SAME_GEAR)) >= 0.9
    lasts = float(part["time"][-1] - part["time"][0]) >= LEAST_S
    return [part] if one_gear and lasts and float(np.ptp(rpm)) >= LEAST_RISE_RPM else []


def _rows(part: Rows, wanted: slice) -> Rows:
    return {name: values[wanted] for name, values in part.items()}


def _off_map_deg(rows: Rows, planned: PlanResult) -> float:
    """Give how far the advance lay off the map in the mean [deg]; nan where it isn't logged."""
    advance = np.where(np.isfinite(rows["advance_deg"]), rows["advance_deg"], rows["commanded_deg"])
    off = advance - between_cells(planned, rows["rpm"], rows["kpa"])
    return float(np.nanmean(off)) if np.isfinite(off).any() else float("nan")


def _motion(rows: Rows, gear: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give even engine speeds [rpm], the road speed [m/s] at each, and how fast that grows [m/s2].

    A logger reads engine speed finer than road speed, so that the ratio of the two carries it over.
    """
    speed = Polynomial.fit(rows["time"], rows["rpm"], ORDER)
    times = np.linspace(rows["time"][0], rows["time"][-1], 400)
    rpm, rise = speed(times), speed.deriv()(times)
    order = np.argsort(rpm)
    low, high = np.percentile(rows["rpm"], (2, 98))
    even = STEP_RPM * np.arange(np.ceil(low / STEP_RPM), np.floor(high / STEP_RPM) + 1)
    per_rpm = 1.0 / (gear * 3.6)
    return even, even * per_rpm, np.interp(even, rpm[order], rise[order]) * per_rpm
