"""Where an engine ran: time and sparks in each cell, steady stretches, moves, and cells never visited."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sparkwright.drive.seen import DriveSeen
from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray

STEADY_S, STEADY_SHARE, STEADY_KPA = 5.0, 0.04, 3.0
"""A stretch is steady for at least so long within so much of speed and load; choices."""
FAST_KPA_S, FAST_RPM_S = 20.0, 500.0
"""What moves faster than this is a transition; choices."""
MOST_STRETCHES = 50
INSIDE = 0.94
"""Share of the driving that the narrowest set of cells is told for."""


@dataclass(frozen=True)
class CellUse:
    """How much an engine ran in a cell: seconds, share of all, and sparks of all cylinders together."""

    rpm: float
    kpa: float
    seconds: float
    share: float
    sparks: float


@dataclass(frozen=True)
class Stretch:
    """A steady stretch: the file's place among those given, when it begins, how long it lasts, and where."""

    file: int
    start_s: float
    seconds: float
    rpm: float
    kpa: float


@dataclass(frozen=True)
class Where:
    """Where an engine ran.

    Parameters
    ----------
    cells : tuple of CellUse
        Cells that were met, the most used first.
    inside_percent, inside_cells : float, int
        The fewest cells that hold so much of the driving.
    never : tuple of (float, float)
        Cells that a running engine meets by the plan and that were never visited: speed and load.
    stretches : tuple of Stretch
        The longest steady ones, the longest first; ``steady_share`` is that of all of them.
    moves : int
        Windows in which speed or load moves fast.
    """

    cells: tuple[CellUse, ...]
    inside_percent: float
    inside_cells: int
    never: tuple[tuple[float, float], ...]
    stretches: tuple[Stretch, ...]
    steady_share: float
    moves: int


def where_of(seen: DriveSeen, seconds: FloatArray) -> Where:
    """Say where the engine ran; ``seconds`` is the time in each cell of the axes.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan.
    seconds : array
        Time in each cell [s], shape (loads, speeds).
    """
    axes, windows = seen.axes, seen.windows
    total = float(seconds.sum())
    order = [cell for cell in np.argsort(-seconds, kind="stable").tolist() if seconds[cell] > 0.0]
    cylinders = seen.job.engine.cylinders
    speed = np.bincount(seen.cells, weights=windows.rpm, minlength=axes.cells) / np.maximum(
        np.bincount(seen.cells, minlength=axes.cells), 1
    )
    cells = []
    for cell in order:
        rpm, kpa = axes.place(cell)
        turns = (speed[cell] or rpm) / 60.0 * seconds[cell]
        cells.append(
            CellUse(
                rpm, kpa, float(seconds[cell]), float(seconds[cell]) / total, float(0.5 * turns * cylinders)
            )
        )
    shares = np.cumsum([each.share for each in cells])
    met = seen.plan.cells.met.ravel()
    never = tuple(axes.place(cell) for cell in np.flatnonzero(met & (seconds <= 0.0)).tolist())
    stretches = _stretches(seen)
    fast = (windows.kpa_high - windows.kpa_low > FAST_KPA_S * windows.width_s) | (
        windows.rpm_high - windows.rpm_low > FAST_RPM_S * windows.width_s
    )
    return Where(
        cells=tuple(cells),
        inside_percent=100.0 * INSIDE,
        inside_cells=int(np.searchsorted(shares, INSIDE - 1e-12)) + 1 if cells else 0,
        never=never,
        stretches=tuple(sorted(stretches, key=lambda each: -each.seconds)[:MOST_STRETCHES]),
        steady_share=sum(each.seconds for each in stretches) / total if total else float("nan"),
        moves=int(np.count_nonzero(fast)),
    )


def _stretches(seen: DriveSeen) -> list[Stretch]:
    """Join steady windows that follow each other without wandering off."""
    windows = seen.windows
    steady, file = windows.steady().tolist(), windows.file.tolist()
    start_s, rpm, kpa = (each.tolist() for each in (windows.start_s, windows.rpm, windows.kpa))
    found: list[Stretch] = []
    begin, count = 0, windows.count
    for k in range(count + 1):
        goes_on = (
            k < count
            and steady[k]
            and k > begin
            and file[k] == file[k - 1]
            and start_s[k] - start_s[k - 1] < 2.5 * windows.width_s
            and abs(rpm[k] - rpm[begin]) <= max(STEADY_SHARE * rpm[begin], 40.0)
            and abs(kpa[k] - kpa[begin]) <= STEADY_KPA
        )
        if goes_on:
            continue
        lasts = (k - begin) * windows.width_s
        if lasts >= STEADY_S and steady[begin]:
            part = slice(begin, k)
            found.append(
                Stretch(
                    int(windows.file[begin]),
                    float(windows.start_s[begin]),
                    lasts,
                    float(windows.rpm[part].mean()),
                    float(windows.kpa[part].mean()),
                )
            )
        begin = k
    return found


def where_findings(where: Where) -> Iterator[Finding]:
    """Tell where the engine ran, and what it never saw.

    Parameters
    ----------
    where : Where
        Shares of time and of cells that the engine ran in.
    """
    if not where.cells:
        return
    top = where.cells[0]
    numbers: dict[str, Value] = {
        "inside_percent": where.inside_percent,
        "inside_cells": where.inside_cells,
        "met_cells": len(where.cells),
        "rpm": top.rpm,
        "kpa": top.kpa,
        "top_percent": 100.0 * top.share,
        "steady_percent": 100.0 * where.steady_share,
        "moves": where.moves,
    }
    yield Finding("where.ran", "good", numbers)
    if where.never:
        yield Finding("where.never", "good", {"cells": len(where.never), "places": where.never[:12]})
