"""How a map from elsewhere may have to be read: upside down, turned, in a vacuum scale, its axes lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from sparkwright.check.demand import site_pressure_kpa
from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, MOST_NODES, SPEED_SPAN_RPM, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.exchange import read_map
from sparkwright.plan.load_terms import ABSOLUTE, Loads, loads_named, loads_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading import number_or_none
from sparkwright.reading.tables import rows_of
from sparkwright.units import convert

AS_IT_STANDS = "as it stands"
KPA_PER_INHG = convert(1.0, "pressure", "inHg", "kPa")

CLEARLY_BETTER = 0.6
"""A reading must lie this much nearer to the plan than another to be guessed [-]; a choice."""

NEAR_DEG = 1.5
"""A map that lies so near to the plan as it stands is never guessed to be otherwise [deg]; a choice."""

LEAST_SHARED = 0.5
"""Share of a reading's cells that must lie within the plan's speeds and loads to judge it [-]; a choice."""


@dataclass(frozen=True)
class Reading:
    """One way to read a map; ``off_deg`` is how far it lies from the plan, root of the mean square."""

    name: str
    spark_map: SparkMap
    off_deg: float


def read_as(text: str, job: Job, planned: PlanResult, name: str = "") -> Reading:
    """Read a map in the way that is named, or as it stands where that is how it looks.

    Parameters
    ----------
    text : str
        The map as text, with its axes or without.
    job : Job
        Its job, for the air pressure that a vacuum counts from.
    planned : PlanResult
        The plan of the job.
    name : str
        A name of `readings_of`; "" asks where the map looks as if it were to be read otherwise.

    Returns
    -------
    Reading
        A map that shares too little with the plan to be judged is read as it stands, ``off_deg`` being nan.

    Raises
    ------
    Refusal
        If it can't be read so, or looks as if it were to be read otherwise and nobody has said so.
    """
    readings = readings_of(text, job, planned)
    if name and name not in (known := [each.name for each in readings] or [AS_IT_STANDS]):
        allowed = ", ".join(f'"{each}"' for each in known)
        raise Refusal.at("read as", f'"{name}"', f"must be one of {allowed}")
    standing = next((each for each in readings if each.name == (name or AS_IT_STANDS)), None)
    looks = None if name else looks_otherwise(readings)
    if looks is None:
        return standing or Reading(AS_IT_STANDS, read_map(text, loads_of(job)), float("nan"))
    otherwise = "and can't be read as it stands"
    if standing is not None:
        otherwise = f"and {standing.off_deg:.0f} as it stands"
    raise Refusal.at(
        "map",
        f"looks {looks.name}",
        f"must be read as somebody says: it lies {looks.off_deg:.0f} deg from the plan so, {otherwise}",
        f'look at the controller, and give read-as "{looks.name}" or what it is',
    )


def looks_otherwise(readings: tuple[Reading, ...]) -> Reading | None:
    """Give the reading that a map looks like, where that is another than as it stands; None where it isn't.

    Parameters
    ----------
    readings : tuple of Reading
        Every way to read it, as `readings_of` gives them.
    """
    if not readings:
        return None
    nearest = min(readings, key=lambda each: each.off_deg)
    standing = next((each for each in readings if each.name == AS_IT_STANDS), None)
    if standing is not None and (
        standing.off_deg <= NEAR_DEG or nearest.off_deg > CLEARLY_BETTER * standing.off_deg
    ):
        return None
    return nearest


def readings_of(text: str, job: Job, planned: PlanResult) -> tuple[Reading, ...]:
    """Give every way in which a map can be read and judged by the plan; as it stands first.

    Parameters
    ----------
    text : str
        The map as it was given, in any of the forms.
    job : Job
        The job, for the air pressure that gauge pressures and vacuum count from.
    planned : PlanResult
        Its plan, which every reading is held against.
    """
    found = []
    plan = planned.cells.spark_map
    for name, spark_map in _candidates(text, job, plan):
        rpm, kpa = (
            np.clip(getattr(spark_map, axis), *getattr(plan, axis)[[0, -1]]) for axis in ("rpm", "kpa")
        )
        shared = np.outer(kpa == spark_map.kpa, rpm == spark_map.rpm)
        if shared.mean() >= LEAST_SHARED:
            # Beyond the plan its edge holds, or a row there would speak for no way to read it.
            off = spark_map.advance_deg - plan.carried_to(rpm, kpa)
            found.append(Reading(name, spark_map, float(np.sqrt(np.mean(off**2)))))
    return tuple(found)


@dataclass(frozen=True)
class _Table:
    """A map as it stands on paper: what stands across and down, None where it has no axes, and its cells."""

    across: FloatArray | None
    down: FloatArray | None
    cells: FloatArray


def _table(text: str) -> _Table | None:
    """Read a table of numbers; None where it holds anything else."""
    rows = [row.cells for row in rows_of(text, "map")]
    if len(rows) < 2 or len({len(row) for row in rows}) != 1 or len(rows[0]) < 2:
        return None
    if max(len(rows), len(rows[0])) > MOST_NODES + 1:
        return None
    named = number_or_none(rows[0][0]) is None
    body = [row[1:] for row in rows[1:]] if named else rows
    cells = _numbers(body)
    if cells is None or min(cells.shape) < 2:
        return None
    if not named:
        return _Table(None, None, cells)
    across, down = _numbers([rows[0][1:]]), _numbers([[row[0] for row in rows[1:]]])
    return None if across is None or down is None else _Table(across[0], down[0], cells)


def _numbers(rows: list[list[str]] | list[tuple[str, ...]]) -> FloatArray | None:
    values = [[number_or_none(cell) for cell in row] for row in rows]
    if any(each is None for row in values for each in row):
        return None
    return np.array(values, dtype=float)


def _candidates(text: str, job: Job, plan: SparkMap) -> Iterator[tuple[str, SparkMap]]:
    said = _loads_said(text, job)
    if said.rows is not None and _has_empty_cells(text):
        # Rows of their own speeds name the cells that they have; what doesn't fit its reader refuses.
        with suppress(Refusal):
            yield AS_IT_STANDS, read_map(text, said)
        return
    if said.term != ABSOLUTE.term:
        # Terms that are stated need no guess; a map that can't be read in them is refused by its reader.
        with suppress(Refusal):
            stated = read_map(text, said)
            yield from _either_way_up((), stated.rpm, stated.kpa, stated.advance_deg)
        return
    if text.lstrip().startswith("{"):
        spark_map = read_map(text)
        table = _Table(spark_map.rpm, spark_map.kpa, spark_map.advance_deg)
    else:
        found = _table(text)
        if found is None:
            return
        table = found
    if table.across is None or table.down is None:
        yield from _on_the_plans_axes(table.cells, plan)
        return
    for turned, speeds, loads, cells in (
        ("", table.across, table.down, table.cells),
        ("turned", table.down, table.across, table.cells.T),
    ):
        for scale, kpa_of in _scales(site_pressure_kpa(job)).items():
            kpa = kpa_of(loads)
            if _are(speeds, SPEED_SPAN_RPM, least_top=1000.0) and _are(kpa, LOAD_SPAN_KPA, least_top=50.0):
                yield from _either_way_up((turned, scale), speeds, kpa, cells)


def _has_empty_cells(text: str) -> bool:
    rows = () if text.lstrip().startswith("{") else rows_of(text, "map")
    return any(not cell.strip() for row in rows for cell in row.cells)


def _loads_said(text: str, job: Job) -> Loads:
    """Give the terms that a map's corner names, or its controller has; kPa for JSON and bare cells."""
    rows = () if text.lstrip().startswith("{") else rows_of(text, "map")
    corner = rows[0].cells[0] if rows else "0"
    return ABSOLUTE if number_or_none(corner) is not None else loads_named(corner, loads_of(job), "map")


def _scales(site_kpa: float) -> dict[str, Callable[[FloatArray], FloatArray]]:
    """Give the scales of load by their names, each with what makes absolute pressure of it."""
    return {
        "": lambda loads: loads,
        "in inHg of vacuum": lambda loads: site_kpa - KPA_PER_INHG * loads,
        "in kPa of vacuum": lambda loads: site_kpa - loads,
    }


def _are(axis: FloatArray, span: tuple[float, float], *, least_top: float) -> bool:
    """Whether values can be an axis: within its span, high enough, and rising or falling throughout."""
    steps = np.diff(axis)
    one_way = bool(np.all(steps > 0.0) or np.all(steps < 0.0))
    return one_way and span[0] <= axis.min() and least_top <= axis.max() <= span[1]


def _either_way_up(
    how: tuple[str, ...], speeds: FloatArray, kpa: FloatArray, cells: FloatArray
) -> Iterator[tuple[str, SparkMap]]:
    """Give the cells as their axes say, and with the most load where they say the least."""
    rpm, by_speed = np.sort(speeds), cells[:, np.argsort(speeds)]
    loads, by_load = np.sort(kpa), by_speed[np.argsort(kpa)]
    yield _name(*how), SparkMap(rpm, loads, by_load)
    yield _name(*how, "upside down"), SparkMap(rpm, loads, by_load[::-1])


def _on_the_plans_axes(cells: FloatArray, plan: SparkMap) -> Iterator[tuple[str, SparkMap]]:
    """Take the plan's axes for lost ones, where the table has as many cells."""
    for turned, table in (("", cells), ("turned", cells.T)):
        if table.shape == plan.advance_deg.shape:
            yield from _either_way_up(("axes lost", turned), plan.rpm, plan.kpa, table)


def _name(*parts: str) -> str:
    """Name a reading.

    Examples
    --------
    >>> _name("", ""), _name("turned", "in inHg of vacuum", "upside down")
    ('as it stands', 'turned, in inHg of vacuum, upside down')
    """
    return ", ".join(part for part in parts if part) or AS_IT_STANDS
