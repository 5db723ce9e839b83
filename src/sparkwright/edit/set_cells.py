"""From values that a person wants in cells to the job that states them, with reason, name and moment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sparkwright.edit.cells import whole_map
from sparkwright.findings import Finding
from sparkwright.job import HandCell, Job
from sparkwright.plan.findings import standing
from sparkwright.plan.hand import SAME_CELL, Place
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.result import OverCeiling, PlanResult
from sparkwright.plan.spark_map import SparkMap


@dataclass(frozen=True)
class Wanted:
    """What a person wants in one cell [crank deg], and why if they said."""

    advance_deg: float
    reason: str | None = None


def cells_set(job: Job, spark_map: SparkMap) -> dict[Place, HandCell]:
    """Give the cells that a job sets by hand, by their place on a map; those off the map are left out.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    spark_map : SparkMap
        The map as it stands.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text()).with_hand([{"rpm": 2000, "kpa": 90, "advance_deg": 20}])
    >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
    >>> list(cells_set(job, spark_map))
    [(1, 1)]
    """
    places = {
        _key(rpm, kpa): (i, j) for i, kpa in enumerate(spark_map.kpa) for j, rpm in enumerate(spark_map.rpm)
    }
    found = ((places.get(_key(cell.rpm, cell.kpa)), cell) for cell in job.hand)
    return {place: cell for place, cell in found if place is not None}


def _key(rpm: float, kpa: float) -> tuple[int, int]:
    """Name a cell so that speeds and loads within `SAME_CELL` are the same."""
    return round(float(rpm) / SAME_CELL), round(float(kpa) / SAME_CELL)


def with_cells(job: Job, spark_map: SparkMap, wanted: Mapping[Place, Wanted], *, who: str, on: str) -> Job:
    """Give the job with exactly these cells of a map set by hand.

    Parameters
    ----------
    job : Job
        The job as it stands.
    spark_map : SparkMap
        The map whose rows and columns the places count.
    wanted : mapping
        Every cell to be set by hand; any other of the map's goes back to the plan.
    who, on : str
        Who changes it and when (ISO 8601), written to each cell that is new or other than before; the rest
        keep theirs.

    Returns
    -------
    Job
        Cells that were set before keep their order, new ones follow. Its controller states the map's speeds
        and loads from then on: axes chosen by the planner move with the facts, and a cell set by hand would
        fall between them.

    Raises
    ------
    Refusal
        If a value is none that the controller takes, or a reason can't stand.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
    >>> changed = with_cells(job, spark_map, {(1, 1): Wanted(18.0)}, who="A. Example", on="2030-05-01")
    >>> [(cell.rpm, cell.kpa, cell.advance_deg, cell.by) for cell in changed.hand]
    [(2000.0, 90.0, 18.0, 'A. Example')]
    """
    before = cells_set(job, spark_map)
    place_of = {cell: place for place, cell in before.items()}
    cells: list[dict[str, Any]] = []
    for old in job.hand:
        place = place_of.get(old)
        want = None if place is None else wanted.get(place)
        if place is None or (want and (old.advance_deg, old.reason) == (want.advance_deg, want.reason)):
            cells.append(old.facts())
        elif want:
            cells.append(_cell(spark_map, place, want, who, on))
    new = sorted(place for place in wanted if place not in before)
    cells += [_cell(spark_map, place, wanted[place], who, on) for place in new]
    if cells and (job.controller.speeds is None or job.controller.loads is None):
        job = job.changed("controller", rpm=spark_map.rpm.tolist(), kpa=spark_map.kpa.tolist())
    return job.with_hand(cells)


def _cell(spark_map: SparkMap, place: Place, want: Wanted, who: str, on: str) -> dict[str, Any]:
    """Write a cell set by hand as a job file holds it."""
    i, j = place
    reason = {"reason": want.reason} if want.reason else {}
    speed_and_load = {"rpm": float(spark_map.rpm[j]), "kpa": float(spark_map.kpa[i])}
    return {**speed_and_load, "advance_deg": want.advance_deg, **reason, "by": who, "on": on}


def of_whole_map(job: Job, planned: PlanResult, given: SparkMap, reason: str | None) -> dict[Place, Wanted]:
    """Give the cells that a job would set by hand to stand as a map from elsewhere does.

    Parameters
    ----------
    job : Job
        The job as it stands.
    planned : PlanResult
        Its plan without cells set by hand; what differs from it is set, what does not is given back.
    given : SparkMap
        The map, on any axes; cells that it says nothing of stay as they are.
    reason : str or None
        Written to each cell that is set.

    Raises
    ------
    Refusal
        If a cell lies beyond what the controller takes.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> planned = plan(job)
    >>> own = planned.cells.spark_map
    >>> given = replace(own, advance_deg=own.advance_deg - [[0.0, 4.0], [0.0, 0.0]])
    >>> [(place, want.reason) for place, want in of_whole_map(job, planned, given, "as found").items()]
    [((0, 1), 'as found')]
    """
    own = planned.cells.spark_map
    carried = given.carried_to(own.rpm, own.kpa)
    told = own_cells(replace(own, advance_deg=carried), job.controller.rows).advance_deg
    edited = whole_map(own.rpm, own.kpa, told, own.advance_deg, job.controller)
    wanted = wanted_of(cells_set(job, own))
    for place, value in edited.value_deg.items():
        wanted.pop(place, None)
        if value is not None:
            wanted[place] = Wanted(value, reason)
    return wanted


def without_reason(over: Iterable[OverCeiling]) -> tuple[OverCeiling, ...]:
    """Give the cells over a ceiling for which nobody gave a reason, each once, by its first ceiling.

    Parameters
    ----------
    over : iterable of OverCeiling
        Cells set by hand that stand over a ceiling.

    Examples
    --------
    >>> over = OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None)
    >>> [each.ceiling for each in without_reason([over, over])]
    ['knock']
    """
    found: dict[tuple[float, float], OverCeiling] = {}
    for each in over:
        if not (each.reason or "").strip():
            found.setdefault((each.rpm, each.kpa), each)
    return tuple(found.values())


@dataclass(frozen=True)
class Changes:
    """What a save changes of the cells set by hand.

    ``only`` is the one cell that is set where nothing else changes: speed [rpm], load [kPa], advance [crank
    deg]. Where nothing is set and nothing given back, reasons were given.
    """

    set_by_hand: int
    given_back: int
    only: tuple[float, float, float] | None = None


def changes_of(
    before: Mapping[Place, HandCell], wanted: Mapping[Place, Wanted], spark_map: SparkMap
) -> Changes:
    """Count what a save changes.

    Parameters
    ----------
    before : mapping of place to HandCell
        Cells set by hand before.
    wanted : mapping of place to Wanted
        Cells that are to be set by hand.
    spark_map : SparkMap
        The map as it stands.

    Examples
    --------
    >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
    >>> changes_of({}, {(1, 0): Wanted(12.0)}, spark_map)
    Changes(set_by_hand=1, given_back=0, only=(1000.0, 90.0, 12.0))
    """
    changed = [
        place
        for place, want in wanted.items()
        if place not in before or before[place].advance_deg != want.advance_deg
    ]
    back = [place for place in before if place not in wanted]
    only = None
    if len(changed) == 1 and not back:
        i, j = changed[0]
        only = (float(spark_map.rpm[j]), float(spark_map.kpa[i]), wanted[changed[0]].advance_deg)
    return Changes(len(changed), len(back), only)


def wanted_of(cells: Mapping[Place, HandCell]) -> dict[Place, Wanted]:
    """Give what a job's cells set by hand ask for.

    Parameters
    ----------
    cells : mapping of place to HandCell
        Cells set by hand.

    Examples
    --------
    >>> wanted_of({(1, 1): HandCell(rpm=2000, kpa=90, advance_deg=18, reason="heard it")})
    {(1, 1): Wanted(advance_deg=18.0, reason='heard it')}
    """
    return {place: Wanted(cell.advance_deg, cell.reason) for place, cell in cells.items()}


def changed_places(before: Mapping[Place, HandCell], wanted: Mapping[Place, Wanted]) -> set[Place]:
    """Give the cells that are set anew, set otherwise, or given back.

    Parameters
    ----------
    before : mapping of place to HandCell
        Cells set by hand before.
    wanted : mapping of place to Wanted
        Cells that are to be set by hand.

    Examples
    --------
    >>> changed_places({(1, 1): HandCell(rpm=2000, kpa=90, advance_deg=18)}, {})
    {(1, 1)}
    """
    asked = wanted_of(before)
    return {place for place in asked.keys() | wanted.keys() if asked.get(place) != wanted.get(place)}


def changed_stand(plan: PlanResult, places: Iterable[Place]) -> tuple[Finding, ...]:
    """Give over which ceilings some of a plan's cells stand, the worst first; nothing where none does.

    Parameters
    ----------
    plan : PlanResult
        The plan after the change.
    places : iterable of place
        Row and column of each.

    Examples
    --------
    >>> from sparkwright.edit.preview import preview
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> after = preview(plan(job), {(1, 1): Wanted(60.0)})
    >>> [found.numbers["ceiling"] for found in changed_stand(after, [(1, 1)])], changed_stand(after, [(0, 0)])
    (['knock', 'reach'], ())
    """
    among = np.zeros_like(plan.cells.by_hand)
    for place in places:
        among[place] = True
    own = plan.cells.spark_map
    named = {(float(own.rpm[j]), float(own.kpa[i])) for i, j in np.argwhere(among)}
    over = [each for each in plan.over if (each.rpm, each.kpa) in named]
    return standing(replace(plan.cells, by_hand=plan.cells.by_hand & among), over)
