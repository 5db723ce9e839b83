"""Starting maps for many engines at once."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sparkwright.errors import SparkwrightError
from sparkwright.fleet.filling import Progress, fill
from sparkwright.fleet.members import Member, Members
from sparkwright.fleet.parts import Columns, Parts
from sparkwright.fleet.workers import Workers
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult

ENGINES_A_PART = 64
"""Engines in one part; a choice: half a megabyte of maps of 16 x 16, and ten seconds of work on two cores."""

TELLS = 20
"""Refused jobs that are told one by one; the others stand in the table `engines`."""

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True)
class Planned:
    """One engine's map as the columns of a table, or why it has none."""

    source: str
    name: str = ""
    fingerprint: str = ""
    refused: str = ""
    cells: dict[str, list[Any]] | None = None


def planned(member: Member) -> Planned:
    """Plan one engine; whatever goes wrong is told in its place and never raised.

    Parameters
    ----------
    member : Member
        The engine, whose job may have been refused.

    Examples
    --------
    >>> planned(Member("bench.toml", "engine.bore = 3")).refused.partition(":")[0]
    'name (not given)'
    """
    try:
        job = member.job()
        result = plan(job)
    except SparkwrightError as refusal:
        return Planned(member.source, refused="\n".join(refusal.sentences))
    except Exception as fault:
        _LOG.exception("%s can't be planned", member.source)
        return Planned(member.source, refused=f"the plan broke off ({type(fault).__name__}); report it")
    return Planned(member.source, job.name, result.fingerprint, cells=_cells(result))


def _cells(result: PlanResult) -> dict[str, list[Any]]:
    spark_map, ceilings = result.cells.spark_map, result.cells.ceilings
    kpa, rpm = np.meshgrid(spark_map.kpa, spark_map.rpm, indexing="ij")
    numbers = {
        "rpm": rpm,
        "kpa": kpa,
        "advance_deg": spark_map.advance_deg,
        "best_deg": ceilings.best_deg,
        "knock_deg": ceilings.knock_deg,
        "reach_deg": ceilings.reach_deg,
        "limit_deg": ceilings.limit_deg,
        "knock_chance_percent": result.cells.knock_chance_percent,
        "torque_nm": result.cells.torque_nm,
        "met": result.cells.met,
    }
    held_by = [name for row in result.cells.held_by for name in row]
    return {name: np.ravel(each).tolist() for name, each in numbers.items()} | {"held_by": held_by}


@dataclass(frozen=True)
class FleetPlans:
    """What came of planning a fleet.

    ``already`` engines stood there from before. ``refused`` gives the first jobs that have no map, each as
    (source, sentence).
    """

    folder: str
    engines: int
    already: int
    planned: int
    refused_count: int
    refused: tuple[tuple[str, str], ...]


def plan_fleet(
    members: Members, folder: Path, workers: Workers, *, progress: Progress | None = None
) -> FleetPlans:
    """Plan every engine of a fleet into a folder, going on where an earlier run was stopped.

    Parameters
    ----------
    members : Files or Grid
        The engines.
    folder : Path
        Gets the tables `engines` and `cells` in parts, and their manifest.
    workers : Workers
        Who does the work; it moves no result.
    progress : callable, optional
        Called with (engines done, engines in all); raise from it to stop.

    Returns
    -------
    FleetPlans
        How many have a map, and which have none.

    Raises
    ------
    Refusal
        If the folder holds something else.
    SparkwrightError
        If the disk can't be written.
    """
    parts = Parts(folder, "plan", members.asked(), len(members), ENGINES_A_PART)
    already = parts.done

    def lost(number: int) -> Planned:
        said = "this job brought its worker down twice and was given up"
        return Planned(members.member(number).source, refused=said)

    fill(parts, workers, planned, members.member, lost, _tables, progress)
    return _summary(parts, already)


def _tables(listed: list[tuple[int, Planned]]) -> dict[str, Columns]:
    rows: Columns = {
        "engine": [number for number, _ in listed],
        "source": [each.source for _, each in listed],
        "name": [each.name for _, each in listed],
        "fingerprint": [each.fingerprint for _, each in listed],
        "refused": [each.refused for _, each in listed],
    }
    cells: dict[str, list[Any]] = {"engine": []}
    for number, each in listed:
        if each.cells is not None:
            cells["engine"] += [number] * len(each.cells["rpm"])
            for name, values in each.cells.items():
                cells.setdefault(name, []).extend(values)
    return {"engines": rows, "cells": cells}


def _summary(parts: Parts, already: int) -> FleetPlans:
    engines = parts.read("engines")
    without = engines.filter(engines["refused"] != "")
    told = tuple(zip(without["source"].head(TELLS), without["refused"].head(TELLS), strict=True))
    return FleetPlans(
        folder=str(parts.folder),
        engines=parts.items,
        already=already,
        planned=engines.height - without.height,
        refused_count=without.height,
        refused=told,
    )
