"""A map on rows that have speeds of their own, safe between them.

Such a controller goes along each of the two rows about a load, in straight lines between that row's own
speeds and at its end's value beyond them, then in a straight line between the rows. The plan stands on the
speeds of all rows together: a cell at a speed that its row doesn't have holds what the controller makes of
those it has, so that nothing else needs to know of rows. The rows' own cells are lowered as little as will
do, by the linear programme that serves the plan itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.demand import highest_rpm
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import Pairs, lowered_under, made_of
from sparkwright.plan.between_cells import Grid, OnRows
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.result import MapCells
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.support import straight_weights
from sparkwright.plan.use import use_of

if TYPE_CHECKING:
    from scipy.sparse import csr_array


def nodes_of(
    rows: Sequence[Sequence[float]] | None, rpm: FloatArray, kpa: FloatArray
) -> NDArray[np.bool_] | None:
    """Mark the cells that a controller has itself, shape (loads, speeds).

    Parameters
    ----------
    rows : sequence of rows, or None
        Load and then speeds of each row, as a job's controller states them.
    rpm, kpa : array
        Axes of a map.

    Returns
    -------
    array of bool, or None
        None where its rows have no speeds of their own, or the map stands on other axes.

    Examples
    --------
    >>> rows = [[30, 800, 2000], [90, 800, 3000]]
    >>> nodes_of(rows, np.array([800.0, 2000.0, 3000.0]), np.array([30.0, 90.0])).tolist()
    [[True, True, False], [True, False, True]]
    """
    if rows is None:
        return None
    together = sorted({speed for _, *speeds in rows for speed in speeds})
    if (rpm.tolist(), kpa.tolist()) != (together, [row[0] for row in rows]):
        return None
    return np.array([np.isin(rpm, row[1:]) for row in rows])


def beyond_ends(nodes: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the cells before the first and after the last speed of their row, shape (loads, speeds).

    Parameters
    ----------
    nodes : array of bool, shape (loads, speeds)
        The controller's own cells.

    Examples
    --------
    >>> beyond_ends(np.array([[False, True, False, True, False]])).tolist()
    [[True, False, False, False, True]]
    """
    begun = np.logical_or.accumulate(nodes, axis=1)
    not_ended = np.logical_or.accumulate(nodes[:, ::-1], axis=1)[:, ::-1]
    return ~(begun & not_ended)


def not_asked(cells: MapCells) -> NDArray[np.bool_]:
    """Mark the cells that nothing is asked of: beyond the ends of their row, where no running engine comes.

    Parameters
    ----------
    cells : MapCells
        The map; none of its cells where its rows have no speeds of their own.
    """
    if cells.rows is None:
        return np.zeros(cells.met.shape, dtype=bool)
    return beyond_ends(cells.rows.nodes) & ~cells.met


def asked_of_rows(
    grid: Grid, rpm: FloatArray, kpa: FloatArray, nodes: NDArray[np.bool_], met: NDArray[np.bool_]
) -> Grid:
    """Give ceilings as rows are held to them: inf beyond a row's ends where no running engine comes.

    A row of boost that begins where boost builds is not held down for speeds that never see it.

    Parameters
    ----------
    grid : Grid
        The ceilings, at the cells and between.
    rpm, kpa : array
        The map's axes.
    nodes : array of bool, shape (loads, speeds)
        The controller's own cells.
    met : array of bool, shape of the grid
        Whether a running engine comes to a point.
    """
    beyond = made_of("straight lines", rpm, kpa, grid) @ beyond_ends(nodes).ravel().astype(float)
    free = (beyond.reshape(grid.lowest_deg.shape) > 0.0) & ~met
    return replace(grid, lowest_deg=np.where(free, np.inf, grid.lowest_deg))


def own_cells(spark_map: SparkMap, rows: Sequence[Sequence[float]] | None) -> SparkMap:
    """Give a map as it is typed in: nan at the speeds that a row of the controller doesn't have.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    rows : sequence of rows, or None
        As for `nodes_of`; where that gives none, the map stays as it is.
    """
    nodes = nodes_of(rows, spark_map.rpm, spark_map.kpa)
    if nodes is None:
        return spark_map
    return replace(spark_map, advance_deg=np.where(nodes, spark_map.advance_deg, np.nan))


def made_of_nodes(nodes: NDArray[np.bool_], rpm: FloatArray) -> csr_array:
    """Give of which of its own cells a controller makes each cell of the map, shape (cells, own cells).

    Parameters
    ----------
    nodes : array of bool, shape (loads, speeds)
        Its own cells, at least one in each row.
    rpm : array
        Speeds of all rows together.
    """
    from scipy.sparse import block_diag, csr_array

    return csr_array(block_diag([_along(rpm[own], rpm) for own in nodes]))


def _along(speeds: FloatArray, rpm: FloatArray) -> FloatArray:
    """Give the weights of a row's own speeds at others; a single speed holds for all."""
    return np.ones((rpm.size, 1)) if speeds.size == 1 else straight_weights(speeds, rpm)


def as_rows_make(value_deg: FloatArray, rpm: FloatArray, rows: OnRows | None) -> FloatArray:
    """Give the map that a controller makes of its own cells of a map.

    Parameters
    ----------
    value_deg : array, shape (loads, speeds)
        The map [crank deg]; only the controller's own cells count.
    rpm : array
        Speeds of the map.
    rows : OnRows or None
        Which cells those are; None where rows have no speeds of their own, and the map stays as it is.

    Examples
    --------
    >>> own, nothing = np.array([[True, False, True, False]]), np.zeros((1, 4))
    >>> value_deg, rpm = np.array([[10.0, 0.0, 20.0, 0.0]]), np.array([1000.0, 2000.0, 3000.0, 4000.0])
    >>> as_rows_make(value_deg, rpm, OnRows(own, nothing, nothing)).tolist()
    [[10.0, 15.0, 20.0, 20.0]]
    """
    if rows is None:
        return value_deg
    return np.asarray(made_of_nodes(rows.nodes, rpm) @ value_deg[rows.nodes]).reshape(value_deg.shape)


def filled(
    rows: Sequence[Sequence[float]], rpm: FloatArray, kpa: FloatArray, cells: FloatArray
) -> FloatArray:
    """Fill the empty cells of a table that came in with what the controller makes of the others [deg].

    Parameters
    ----------
    rows : sequence of rows
        Load [kPa absolute] and then speeds of each of the controller's rows.
    rpm, kpa : array
        Axes of the table.
    cells : array, shape (loads, speeds)
        Its cells, nan where empty. Without any such it is a whole map: on the axes of the rows together only
        their own cells count, as in the controller; on others it stays as it is.

    Raises
    ------
    Refusal
        If what is filled is not what the controller has.
    """
    own, empty = ~np.isnan(cells), np.zeros(cells.shape)
    if own.all():
        nodes = nodes_of(rows, rpm, kpa)
        return cells if nodes is None else as_rows_make(cells, rpm, OnRows(nodes, empty, empty))
    stated = {row[0]: list(row[1:]) for row in rows}
    anew = "export the map of this job, and fill that in"
    for load, has in zip(kpa.tolist(), own, strict=True):
        found = rpm[has].tolist()
        if load not in stated:
            must = f"must be one of the controller's rows: {_listed(list(stated))} kPa"
            raise Refusal.at("map", f"a row at {load:g} kPa", must, anew)
        if found != stated[load]:
            must = f"must have the speeds of that row: {_listed(stated[load])} rpm"
            do = "leave a cell empty only where its row has no such speed"
            raise Refusal.at("map", f"the row at {load:g} kPa with {_listed(found) or 'no'} rpm", must, do)
    missing = [load for load in stated if load not in kpa]
    if missing:
        raise Refusal.at("map", f"{kpa.size} rows", f"must have a row at {_listed(missing)} kPa too", anew)
    return as_rows_make(cells, rpm, OnRows(own, empty, empty))


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{each:g}" for each in values)


def onto_rows(
    value_deg: FloatArray,
    rpm: FloatArray,
    kpa: FloatArray,
    grid: Grid,
    nodes: NDArray[np.bool_],
    use: FloatArray,
    *,
    step_deg: float,
    per_rpm: float,
    per_kpa: float,
) -> FloatArray:
    """Lower the controller's own cells, as little as will do, until nothing made of them is over a ceiling.

    Parameters
    ----------
    value_deg : array, shape (loads, speeds)
        The map on the speeds of all rows together, in whole steps at its own cells [crank deg].
    rpm, kpa : array
        Its axes.
    grid : Grid
        The ceilings, at the cells and between.
    nodes : array of bool, shape (loads, speeds)
        The controller's own cells.
    use : array, shape (loads, speeds)
        How much a degree at each cell weighs, above 0 [-].
    step_deg : float
        The controller's step [crank deg].
    per_rpm, per_kpa : float
        Steepest slopes allowed between own cells, along a row, and between rows at a speed that both have
        [deg/rpm], [deg/kPa].

    Returns
    -------
    array, shape (loads, speeds)
        What the controller makes of them [crank deg].
    """
    make = made_of_nodes(nodes, rpm)
    weights = made_of("straight lines", rpm, kpa, grid) @ make
    pairs, weighs = _neighbours(nodes, rpm, kpa, per_rpm, per_kpa), make.T @ use.ravel()
    own_deg = lowered_under(value_deg[nodes], weights, grid.lowest_deg.ravel(), pairs, weighs, step_deg)
    return np.asarray(make @ own_deg).reshape(value_deg.shape)


def _neighbours(
    nodes: NDArray[np.bool_], rpm: FloatArray, kpa: FloatArray, per_rpm: float, per_kpa: float
) -> Pairs:
    """Give both orders of own cells that follow one another in a row, or share a speed in two rows."""
    place = np.cumsum(nodes).reshape(nodes.shape) - 1
    found = [
        (place[i, left], place[i, right], per_rpm * (rpm[right] - rpm[left]))
        for i, row in enumerate(nodes)
        for left, right in pairwise(np.flatnonzero(row).tolist())
    ]
    found += [
        (place[i, j], place[i + 1, j], per_kpa * (kpa[i + 1] - kpa[i]))
        for i, j in np.argwhere(nodes[:-1] & nodes[1:]).tolist()
    ]
    table = np.array(found).reshape(-1, 3)
    one, other = table[:, :2].T.astype(np.intp)
    return Pairs(np.concatenate([one, other]), np.concatenate([other, one]), np.tile(table[:, 2], 2))


def on_its_rows(job: Job, value_deg: FloatArray, grid: Grid, nodes: NDArray[np.bool_]) -> FloatArray:
    """Give what the controller of a job makes of a map under ceilings, by its own cells alone.

    Parameters
    ----------
    job : Job
        The job, for its use, its controller and the slopes that it allows.
    value_deg : array, shape (loads, speeds)
        The map on the speeds of all rows together [crank deg].
    grid : Grid
        The ceilings, at the cells and between.
    nodes : array of bool, shape (loads, speeds)
        The controller's own cells.
    """
    rpm, kpa = (np.array(axis) for axis in (job.controller.speeds, job.controller.loads))
    return onto_rows(
        value_deg,
        rpm,
        kpa,
        grid,
        nodes,
        use_of(job.engine.use or "road", rpm, kpa, highest_rpm(job), float(kpa[-1])),
        step_deg=job.controller.step_deg,
        per_rpm=job.limits.slope_deg_per_500rpm / 500.0,
        per_kpa=job.limits.slope_deg_per_10kpa / 10.0,
    )


def held_on_rows(job: Job, spark_map: SparkMap, rows: OnRows | None, grid: Grid | None) -> SparkMap:
    """Give a map made from a plan's as the controller makes it of its own cells, under the plan's ceilings.

    Parameters
    ----------
    job : Job
        The job.
    spark_map : SparkMap
        The map, on the axes of the plan; where it stands over a ceiling itself, a person set it so.
    rows : OnRows or None
        The rows of the plan; None where they have no speeds of their own, and the map stays as it is.
    grid : Grid or None
        The ceilings between the cells of the plan; None where nobody looked.
    """
    if rows is None or grid is None:
        return spark_map
    made = made_of("straight lines", spark_map.rpm, spark_map.kpa, grid)
    made_deg = (made @ spark_map.advance_deg.ravel()).reshape(grid.lowest_deg.shape)
    most = replace(grid, lowest_deg=np.maximum(grid.lowest_deg, made_deg))
    return replace(spark_map, advance_deg=on_its_rows(job, spark_map.advance_deg, most, rows.nodes))


def costs_of_rows(cells: MapCells) -> Iterator[Finding]:
    """Give what it costs that each row has speeds of its own, where a running engine comes.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell.

    Yields
    ------
    Finding
        The cell that gives most torque away; where none pulls, the one that stands lowest for it.
    """
    if cells.rows is None:
        return
    lowered, lost = cells.rows.lowered_deg, cells.rows.lost_percent
    told = cells.met & (lowered > TELLABLE_DEG)
    if not told.any():
        return
    given = np.where(told, np.nan_to_num(lost, nan=0.0), -np.inf)
    by = given if given.max() > 0.0 else np.where(told, lowered, -np.inf)
    i, j = np.unravel_index(int(np.argmax(by)), by.shape)
    yield Finding(
        "rows.cost",
        "look",
        {
            "cells": int(told.sum()),
            "lowered_deg": float(lowered[i, j]),
            "lost_percent": float(lost[i, j]),
            "rpm": float(cells.spark_map.rpm[j]),
            "kpa": float(cells.spark_map.kpa[i]),
            "has_speed": bool(cells.rows.nodes[i, j]),
        },
    )


def made_here(cells: MapCells, row: int, column: int) -> dict[str, Value]:
    """Give of which speeds of its row a cell is made, and what a speed of its own would give it.

    Parameters
    ----------
    cells : MapCells
        The map, on rows with speeds of their own.
    row, column : int
        A cell that the controller doesn't have, counted from the least load and the least speed.
    """
    if cells.rows is None:
        raise ValueError("the controller has every cell of this map")
    rpm = cells.spark_map.rpm
    own = rpm[cells.rows.nodes[row]]
    below, above = own[own < rpm[column]], own[own > rpm[column]]
    return {
        "below_rpm": float(below[-1]) if below.size else None,
        "above_rpm": float(above[0]) if above.size else None,
        "lowered_deg": float(cells.rows.lowered_deg[row, column]),
    }
