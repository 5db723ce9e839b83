"""Two drives compared: the same cells, the differences of their channels, and how sure they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.tally import Axes
from sparkwright.drive.windows import Windows
from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray

FEWEST_WINDOWS = 6
"""Windows that a cell must hold in both drives; a choice."""
LEAST_CORRELATED = 0.98
TELLS = (
    "advance_deg",
    "commanded_deg",
    "mixture_lambda",
    "knock_retard_deg",
    "coolant_c",
    "intake_c",
    "dwell_ms",
)
MOST_CHANCE = 0.01


@dataclass(frozen=True)
class CellDifference:
    """One cell: this drive's mean less the other's, and the 95 % interval of that.

    ``windows`` and ``other_windows`` count the windows of either drive.
    """

    rpm: float
    kpa: float
    difference: float
    low: float
    high: float
    windows: int
    other_windows: int
    chance: float


@dataclass(frozen=True)
class QuantityDifference:
    """One quantity in all cells that both drives visited."""

    quantity: str
    unit: str
    cells: tuple[CellDifference, ...]


def differences(axes: Axes, one: Windows, other: Windows) -> tuple[QuantityDifference, ...]:
    """Hold two drives against each other, cell by cell.

    Welch's test (Welch 1947) of the means of their windows. Windows that follow each other say little new:
    their number is lessened by how much each is like the one before (Bartlett 1946).

    Parameters
    ----------
    axes : Axes
        Cells over speed and load in which both drives are held.
    one : Windows
        Windows of the drive that is asked about; its mean comes first in each difference.
    other : Windows
        Windows of the drive that it is held against.
    """
    cells = [axes.placed(each.rpm, each.kpa, 0.0)[0] for each in (one, other)]
    found = []
    for name in TELLS:
        values = [each.mean(name) for each in (one, other)]
        if values[0] is None or values[1] is None:
            continue
        rows = tuple(_cells(axes, values[0], cells[0], values[1], cells[1]))
        if rows:
            found.append(QuantityDifference(name, BY_NAME[name].unit, rows))
    return tuple(found)


def _cells(
    axes: Axes, one: FloatArray, at: NDArray[np.int32], other: FloatArray, other_at: NDArray[np.int32]
) -> Iterator[CellDifference]:
    from scipy.stats import t

    for cell in np.intersect1d(at, other_at).tolist():
        parts = [
            values[(where == cell) & np.isfinite(values)] for values, where in ((one, at), (other, other_at))
        ]
        if min(each.size for each in parts) < FEWEST_WINDOWS:
            continue
        squares = [(float(each.var(ddof=1)) + 1e-12) / _effective(each) for each in parts]
        error = float(np.sqrt(sum(squares)))
        freedom = sum(squares) ** 2 / sum(
            square**2 / max(_effective(each) - 1.0, 1.0) for square, each in zip(squares, parts, strict=True)
        )
        difference = float(parts[0].mean() - parts[1].mean())
        half = float(t.ppf(0.975, freedom)) * error
        chance = 2.0 * float(t.sf(abs(difference) / error, freedom))
        rpm, kpa = axes.place(cell)
        yield CellDifference(
            rpm, kpa, difference, difference - half, difference + half, parts[0].size, parts[1].size, chance
        )


def _effective(values: FloatArray) -> float:
    """Give how many windows would say as much if they didn't follow each other."""
    off = values - values.mean()
    power = float(off @ off)
    alike = float(off[1:] @ off[:-1]) / power if power > 0.0 else 0.0
    alike = min(max(alike, 0.0), LEAST_CORRELATED)
    return max(values.size * (1.0 - alike) / (1.0 + alike), 2.0)


def against_findings(found: tuple[QuantityDifference, ...]) -> Iterator[Finding]:
    """Tell what differs between two drives more than chance would have it, over all cells that were held.

    Parameters
    ----------
    found : tuple of QuantityDifference
        Differences by quantity and cell, as `differences` gives them.
    """
    for each in found:
        sure = [cell for cell in each.cells if cell.chance * len(each.cells) < MOST_CHANCE]
        if not sure:
            continue
        most = max(sure, key=lambda cell: abs(cell.difference))
        numbers: dict[str, Value] = {
            "called": BY_NAME[each.quantity].called,
            "unit": each.unit,
            "rpm": most.rpm,
            "kpa": most.kpa,
            "difference": most.difference,
            "low": most.low,
            "high": most.high,
            "cells": len(sure),
            "of_cells": len(each.cells),
        }
        yield Finding("against.differs", "good", numbers)
