"""What moved from one plan to another: cell by cell, and what there is to say of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import HELD_BY, PlanResult
from sparkwright.plan.spark_map import SparkMap

SAME_DEG = 1e-6
"""Values nearer than this are the same value."""

WORTH_SAYING_PERCENT = 0.1
"""Smallest change of torque worth telling; a choice, below what a dyno can tell."""


@dataclass(frozen=True)
class MovedCell:
    """One cell that has another value, or is held by something else.

    ``old_deg`` is nan, and ``old_held_by`` empty, where the old map had no such cell.
    """

    rpm: float
    kpa: float
    old_deg: float
    new_deg: float
    moved_deg: float
    old_held_by: str
    new_held_by: str


@dataclass(frozen=True)
class Moved:
    """One plan held against an older one, on the cells of the newer.

    ``difference_deg`` is new less old; ``old_deg`` and it are nan where the old map did not go.
    """

    spark_map: SparkMap
    old_deg: FloatArray
    difference_deg: FloatArray
    cells: tuple[MovedCell, ...]
    """Highest load first, then by speed, as the map stands on a page."""
    headline: Finding
    findings: tuple[Finding, ...]
    """Other axes, what holds cells now, and torque at full load."""


def moved(old: PlanResult, new: PlanResult) -> Moved:
    """Say what moved from one plan to another.

    Parameters
    ----------
    old, new : PlanResult
        The plans; their axes may differ.

    Returns
    -------
    Moved
        On the new plan's cells. Where the axes differ the old map is carried over, linear between its cells.
    """
    before, after = old.cells.spark_map, new.cells.spark_map
    same_axes = np.array_equal(before.rpm, after.rpm) and np.array_equal(before.kpa, after.kpa)
    old_deg = before.advance_deg if same_axes else before.carried_to(after.rpm, after.kpa)
    difference = after.advance_deg - old_deg
    old_held = _held_before(old, after)
    cells = tuple(
        MovedCell(
            rpm=float(after.rpm[j]),
            kpa=float(after.kpa[i]),
            old_deg=float(old_deg[i, j]),
            new_deg=float(after.advance_deg[i, j]),
            moved_deg=float(difference[i, j]),
            old_held_by=old_held[i][j],
            new_held_by=new.cells.held_by[i][j],
        )
        for i in reversed(range(after.kpa.size))
        for j in range(after.rpm.size)
        if not abs(difference[i, j]) <= SAME_DEG
        or (old_held[i][j] and old_held[i][j] != new.cells.held_by[i][j])
    )
    return Moved(
        spark_map=after,
        old_deg=old_deg,
        difference_deg=difference,
        cells=cells,
        headline=_headline(difference, after, _met_at_both(old, new)),
        findings=(
            *_axes(same_axes, difference),
            *_holders(old, new, old_held),
            *_torque(old, new),
        ),
    )


def _met_at_both(old: PlanResult, new: PlanResult) -> NDArray[np.bool_]:
    """Whether a running engine meets each of the new map's cells after the change, and met it before."""
    before, after = old.cells.spark_map, new.cells.spark_map
    old_met = SparkMap(before.rpm, before.kpa, old.cells.met.astype(float)).carried_to(after.rpm, after.kpa)
    return new.cells.met & (np.nan_to_num(old_met) > 1.0 - 1e-9)


def _held_before(old: PlanResult, after: SparkMap) -> list[list[str]]:
    """Give what held each of the new map's cells in the old one; empty where the old one had no such cell."""
    rows = {float(kpa): i for i, kpa in enumerate(old.cells.spark_map.kpa)}
    columns = {float(rpm): j for j, rpm in enumerate(old.cells.spark_map.rpm)}
    return [
        [
            old.cells.held_by[rows[float(kpa)]][columns[float(rpm)]]
            if float(kpa) in rows and float(rpm) in columns
            else ""
            for rpm in after.rpm
        ]
        for kpa in after.kpa
    ]


def _headline(difference: FloatArray, after: SparkMap, met: NDArray[np.bool_]) -> Finding:
    known = np.where(met, np.nan_to_num(difference, nan=0.0), 0.0)
    more, less = known > SAME_DEG, known < -SAME_DEG
    if not more.any() and not less.any():
        elsewhere = np.any(np.abs(np.nan_to_num(difference, nan=0.0)) > SAME_DEG)
        return Finding("moved.no-cell-met" if elsewhere else "moved.no-cell", "good")
    numbers: dict[str, Value] = {"of_cells": int(met.sum()), "all_met": bool(met.all())}
    for name, places in (("more", more), ("less", less)):
        numbers |= _most_moved(name, places, known, after)
    return Finding("moved.cells", "good", numbers)


def _most_moved(name: str, places: NDArray[np.bool_], known: FloatArray, after: SparkMap) -> dict[str, Value]:
    """Count the cells with more, or less, advance, and give the one that moved most."""
    if not places.any():
        return {}
    size = np.where(places, np.abs(known), 0.0)
    i, j = np.unravel_index(int(np.argmax(size)), size.shape)
    return {
        f"{name}_cells": int(places.sum()),
        f"{name}_deg": float(size[i, j]),
        f"{name}_rpm": float(after.rpm[j]),
        f"{name}_kpa": float(after.kpa[i]),
    }


def _axes(same_axes: bool, difference: FloatArray) -> Iterator[Finding]:
    if not same_axes:
        yield Finding("moved.axes", "look", {"outside_cells": int(np.isnan(difference).sum())})


def _holders(old: PlanResult, new: PlanResult, old_held: Sequence[Sequence[str]]) -> Iterator[Finding]:
    """Count what holds the cells that both maps have and that are met before and after."""
    before, after = np.array(old_held), np.array(new.cells.held_by)
    alike = (before != "") & _met_at_both(old, new)
    counts = [
        (kind, int((before[alike] == kind).sum()), int((after[alike] == kind).sum())) for kind in HELD_BY
    ]
    changed = tuple(each for each in counts if each[1] != each[2])
    if changed:
        yield Finding("moved.holders", "good", {"held_by_before_now": changed})


def _torque(old: PlanResult, new: PlanResult) -> Iterator[Finding]:
    """Give where at full load, each at the most pressure of its own site and boost, torque changes most."""
    if not np.array_equal(old.cells.spark_map.rpm, new.cells.spark_map.rpm):
        return
    (before, met_before), (after, met_after) = _at_full_load(old), _at_full_load(new)
    pulls = met_before & met_after & np.isfinite(after) & (np.nan_to_num(before) > 0.1 * np.nanmax(before))
    if not pulls.any():
        return
    percent = np.where(pulls, 100.0 * (after / np.where(pulls, before, 1.0) - 1.0), 0.0)
    place = int(np.argmax(np.abs(percent)))
    if abs(percent[place]) > WORTH_SAYING_PERCENT:
        numbers: dict[str, Value] = {
            "rpm": float(new.cells.spark_map.rpm[place]),
            "percent": float(percent[place]),
            "top_before_kpa": old.top_kpa,
            "top_now_kpa": new.top_kpa,
        }
        yield Finding("moved.torque", "good", numbers)


def _at_full_load(plan: PlanResult) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Give torque over speed at the most pressure that site and boost give [N m], and where it is met.

    Between two rows of the map it is taken in a straight line; above the highest row it is that row's.
    """
    kpa = plan.cells.spark_map.kpa
    torque = np.array([np.interp(plan.top_kpa, kpa, column) for column in plan.cells.torque_nm.T])
    row = int(np.argmin(np.abs(kpa - plan.full_load.kpa)))
    return torque, plan.cells.met[row]
