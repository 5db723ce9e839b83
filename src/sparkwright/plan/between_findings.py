"""What there is to say of the map between its cells."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from sparkwright.findings import Finding, Value
from sparkwright.plan.between import made_of, stands_over
from sparkwright.plan.between_cells import BetweenCells, Grid
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.result import LEAST_LOST_PERCENT, WORST_FIRST, MapCells
from sparkwright.plan.spark_map import SparkMap


def over_between(
    spark_map: SparkMap, over_cells: NDArray[np.bool_], between: BetweenCells
) -> Iterator[dict[str, Value]]:
    """Give for each ceiling, the worst first, where a map stands the most over it between its cells.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    over_cells : array of bool, shape (loads, speeds)
        Its cells that stand over a ceiling themselves: what they make of the points about them is told there.
    between : BetweenCells
        What the controller does between cells, and the ceilings there.

    Yields
    ------
    dict
        ``ceiling``, ``points`` over it ``of_points``, and the worst: ``over_deg``, ``rpm``, ``kpa``,
        ``advance_deg`` and ``ceiling_deg``.
    """
    if between.grid is None:
        return
    grid = _within(between.grid, spark_map)
    if not grid.lowest_deg.size:
        return
    rpm, kpa, value = spark_map.rpm, spark_map.kpa, spark_map.advance_deg
    made_deg, over_deg = stands_over(value, rpm, kpa, grid, between.how)
    of_over = made_of(between.how, rpm, kpa, grid) @ over_cells.ravel().astype(float)
    own = np.all(of_over.reshape(-1, *over_deg.shape) == 0.0, axis=0)
    for name in WORST_FIRST:
        those = own & (over_deg > TELLABLE_DEG) & (grid.names == name)
        if those.any():
            i, j = np.unravel_index(int(np.argmax(np.where(those, over_deg, -np.inf))), those.shape)
            yield {
                "ceiling": name,
                "points": int(those.sum()),
                "of_points": int(those.size),
                "over_deg": float(over_deg[i, j]),
                "rpm": float(grid.rpm[j]),
                "kpa": float(grid.kpa[i]),
                "advance_deg": float(made_deg[i, j]),
                "ceiling_deg": float(grid.lowest_deg[i, j]),
            }


def _within(grid: Grid, spark_map: SparkMap) -> Grid:
    """Give the part of a fine grid that lies within a map."""
    rows = (grid.kpa >= spark_map.kpa[0]) & (grid.kpa <= spark_map.kpa[-1])
    columns = (grid.rpm >= spark_map.rpm[0]) & (grid.rpm <= spark_map.rpm[-1])
    part = np.ix_(rows, columns)
    return Grid(grid.rpm[columns], grid.kpa[rows], grid.lowest_deg[part], grid.names[part])


def set_by_hand_between(cells: MapCells) -> Iterator[Finding]:
    """Give over which ceilings cells set by hand bring the map between cells that stand under their own.

    Past best costs only torque; of that nothing is said here.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    """
    if cells.by_hand.any():
        for numbers in over_between(cells.spark_map, cells.over_ceiling, cells.between):
            if numbers["ceiling"] != "best":
                yield Finding("between.set-by-hand", "problem", numbers)


def costs(cells: MapCells) -> Iterator[Finding]:
    """Give what the cells that stand lower for what lies between them cost, where a brake would show it.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    """
    between, lost = cells.between, np.nan_to_num(cells.between.lost_percent)
    told = cells.met & (between.lowered_deg > 0.0)
    if not told.any() or lost[told].max() < LEAST_LOST_PERCENT:
        return
    i, j = np.unravel_index(int(np.argmax(np.where(told, lost, -np.inf))), lost.shape)
    yield Finding(
        "between.costs",
        "look",
        {
            "cells": int(told.sum()),
            "lost_percent": float(lost[i, j]),
            "lowered_deg": float(between.lowered_deg[i, j]),
            "rpm": float(cells.spark_map.rpm[j]),
            "kpa": float(cells.spark_map.kpa[i]),
            "ceiling": between.ceiling[i][j],
            "at_rpm": float(between.rpm[i, j]),
            "at_kpa": float(between.kpa[i, j]),
        },
    )


def lowered_here(between: BetweenCells, row: int, column: int) -> dict[str, Value]:
    """Give what a cell was lowered by for what lies between, for which ceiling, and where.

    Parameters
    ----------
    between : BetweenCells
        What the map was lowered by for what lies between its cells.
    row : int
        Which load, from 0 for the lowest.
    column : int
        Which speed, from 0 for the lowest.
    """
    return {
        "lowered_deg": float(between.lowered_deg[row, column]),
        "ceiling": between.ceiling[row][column],
        "rpm": float(between.rpm[row, column]),
        "kpa": float(between.kpa[row, column]),
        "how": between.how,
    }
