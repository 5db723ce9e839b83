"""What the cells of a map have seen: counts, means and quantiles of each channel, in bounded memory.

A row belongs to the cell whose speed and load lie nearest; one that lies midway goes to the lower. Beyond the
axes that is the cell at the edge, as a controller holds its edge; how many rows lay beyond is told apart.

Quantiles are exact, with a straight line between neighbours, while all values together fit a stated number;
beyond it they are read from bins, and the width of a bin is told as their error.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.kernel import NOWHERE, Cells, count_and_sum, count_sum_and_bin, place_rows
from sparkwright.numeric import FloatArray

MOST_KEPT = 16_000_000
"""Values, of all channels together, up to which quantiles are exact: 160 MB with the cells they belong to."""
BINS = 4096
WIDER = 0.5
"""What is added to each side of the span of the values kept so far, in shares of it, when bins are made."""
QUARTILES = (0.25, 0.5, 0.75)

Mapper = Callable[..., Iterable[Any]]
"""Runs a function over many arguments, like ``map``."""


@dataclass(frozen=True)
class Axes:
    """Speeds [rpm] and loads [kPa absolute] of a map, rising."""

    rpm: FloatArray
    kpa: FloatArray

    @property
    def cells(self) -> int:
        """How many cells they span; cell i*speeds + j is of load i and speed j."""
        return self.rpm.size * self.kpa.size

    def place(self, cell: int) -> tuple[float, float]:
        """Give speed and load of a cell.

        Parameters
        ----------
        cell : int
            Number of the cell, loads slowest, from 0.
        """
        row, column = divmod(cell, self.rpm.size)
        return float(self.rpm[column]), float(self.kpa[row])

    def placed(self, rpm: FloatArray, kpa: FloatArray, above_rpm: float) -> tuple[Cells, int]:
        """Give the cell of each row, `NOWHERE` where it doesn't run, and how many rows run.

        Parameters
        ----------
        rpm : array
            Speed of each row [rpm]; nan where unknown.
        kpa : array
            Load of each row [kPa absolute]; nan where unknown.
        above_rpm : float
            Speed from which the engine counts as running [rpm].

        Examples
        --------
        >>> axes = Axes(np.array([1000.0, 2000.0]), np.array([30.0, 50.0]))
        >>> rpm, kpa = np.array([1500.0, 1501.0, 300.0, 9000.0]), np.array([40.0, 41.0, 40.0, 200.0])
        >>> cells, running = axes.placed(rpm, kpa, 400.0)
        >>> cells.tolist(), running
        ([0, 3, -1, 3], 3)
        """
        cells: Cells = np.empty(rpm.size, dtype=np.int32)
        borders = [0.5 * (axis[1:] + axis[:-1]) for axis in (self.rpm, self.kpa)]
        running = place_rows(
            np.ascontiguousarray(rpm), np.ascontiguousarray(kpa), above_rpm, borders[0], borders[1], cells
        )
        return cells, int(running)

    def beyond(self, rpm: FloatArray, kpa: FloatArray) -> NDArray[np.bool_]:
        """Whether rows lie further out than half a step past an end of an axis.

        Parameters
        ----------
        rpm : array
            Speed of each row [rpm].
        kpa : array
            Load of each row [kPa absolute].
        """
        outside = np.zeros(rpm.shape, dtype=bool)
        for values, axis in ((rpm, self.rpm), (kpa, self.kpa)):
            outside |= values < axis[0] - 0.5 * (axis[1] - axis[0])
            outside |= values > axis[-1] + 0.5 * (axis[-1] - axis[-2])
        return outside


@dataclass(frozen=True)
class CellSeen:
    """What one cell has seen of one channel, in the channel's unit."""

    rpm: float
    kpa: float
    count: int
    mean: float
    q25: float
    q50: float
    q75: float


class ChannelTally:
    """What each cell has seen of one channel so far."""

    def __init__(self, cells: int) -> None:
        self._counts: NDArray[np.int64] = np.zeros(cells, dtype=np.int64)
        self._sums: FloatArray = np.zeros(cells)
        self._kept: list[tuple[NDArray[np.int16], FloatArray]] = []
        self._bins: NDArray[np.uint32] | None = None
        self._low = self._width = 0.0
        self.low, self.high = np.inf, -np.inf

    def add(self, cells: Cells, values: FloatArray) -> int:
        """Add rows; gives how many values are kept for it.

        Parameters
        ----------
        cells : Cells
            Cell of each row, `NOWHERE` where it doesn't run.
        values : array
            The channel's value in each row, in the unit inside; nan where unknown.
        """
        if self._bins is None:
            count_and_sum(cells, values, self._counts, self._sums)
            wanted = (cells != NOWHERE) & np.isfinite(values)
            self._kept.append((cells[wanted].astype(np.int16), values[wanted]))
            return int(self._kept[-1][1].size)
        count_sum_and_bin(cells, values, self._low, 1.0 / self._width, self._counts, self._sums, self._bins)
        return 0

    def into_bins(self) -> None:
        """Put what is kept into bins; what follows goes there at once."""
        if self._bins is not None:
            return
        seen = [values for _, values in self._kept if values.size]
        low = min((float(each.min()) for each in seen), default=0.0)
        high = max((float(each.max()) for each in seen), default=1.0)
        span = max(high - low, 1e-9 * max(abs(low), abs(high), 1.0))
        self._low, self._width = low - WIDER * span, (1.0 + 2.0 * WIDER) * span / BINS
        self._bins = np.zeros((self._counts.size, BINS), dtype=np.uint32)
        counts, sums = np.zeros_like(self._counts), np.zeros_like(self._sums)
        for kept, values in self._kept:
            cells = kept.astype(np.int32)
            count_sum_and_bin(cells, values, self._low, 1.0 / self._width, counts, sums, self._bins)
        self._kept = []

    @property
    def quantile_error(self) -> float:
        """How far a quantile may lie from the exact one, in the channel's unit; 0 where it is exact."""
        return 0.0 if self._bins is None else self._width

    def seen(self, axes: Axes) -> tuple[CellSeen, ...]:
        """Give what each cell has seen; cells that saw nothing are left out."""
        quantiles = self._exact() if self._bins is None else self._from_bins(self._bins)
        found = []
        for cell in np.flatnonzero(self._counts).tolist():
            count = int(self._counts[cell])
            rpm, kpa = axes.place(cell)
            found.append(
                CellSeen(rpm, kpa, count, float(self._sums[cell]) / count, *quantiles[cell].tolist())
            )
        return tuple(found)

    def _exact(self) -> FloatArray:
        quantiles = np.full((self._counts.size, 3), np.nan)
        if not self._kept:
            return quantiles
        cells = np.concatenate([each for each, _ in self._kept])
        values = np.concatenate([each for _, each in self._kept])
        # Sorted by its digits, which small whole numbers allow, this takes a pass and no comparing.
        order = np.argsort(cells, kind="stable")
        values = values[order]
        ends = np.cumsum(self._counts)
        for cell in np.flatnonzero(self._counts).tolist():
            own = values[ends[cell] - self._counts[cell] : ends[cell]]
            quantiles[cell] = np.quantile(own, QUARTILES)
        return quantiles

    def _from_bins(self, bins: NDArray[np.uint32]) -> FloatArray:
        quantiles = np.full((self._counts.size, 3), np.nan)
        for cell in np.flatnonzero(self._counts).tolist():
            passed = np.cumsum(bins[cell], dtype=np.int64)
            for k, share in enumerate(QUARTILES):
                rank = share * (self._counts[cell] - 1)
                below = int(rank)
                one, other = (
                    self._at_rank(bins[cell], passed, each) for each in (below, below + (rank > below))
                )
                quantiles[cell, k] = one + (rank - below) * (other - one)
        return quantiles

    def _at_rank(self, bins: NDArray[np.uint32], passed: NDArray[np.int64], rank: int) -> float:
        """Give the value of a rank, from 0, within the width of its bin; nan where that is an end bin."""
        place = int(np.searchsorted(passed, rank, side="right"))
        if not 0 < place < BINS - 1:
            return float("nan")
        within = (rank - (passed[place] - bins[place]) + 0.5) / bins[place]
        return float(self._low + (place + within) * self._width)


class Tally:
    """All channels of a drive on the cells of a map."""

    def __init__(self, axes: Axes, above_rpm: float, run: Mapper = map) -> None:
        self.axes, self.above_rpm, self._run = axes, above_rpm, run
        self.channels: dict[str, ChannelTally] = {}
        self.rows = self.running = self.placed = 0
        self.beyond: NDArray[np.int64] = np.zeros(axes.cells, dtype=np.int64)
        self.seconds: FloatArray = np.zeros(axes.cells)
        self._kept = 0

    def seen(self) -> dict[str, tuple[CellSeen, ...]]:
        """Give what each cell has seen of each channel."""
        names = list(self.channels)
        return dict(
            zip(names, self._run(lambda name: self.channels[name].seen(self.axes), names), strict=True)
        )

    def add(
        self, rpm: FloatArray, kpa: FloatArray, seconds: FloatArray, channels: dict[str, FloatArray]
    ) -> Cells:
        """Add rows, with the seconds that each stands for, and give their cells.

        Parameters
        ----------
        rpm : array
            Speed of each row [rpm].
        kpa : array
            Load of each row [kPa absolute].
        seconds : array
            Time that each row stands for [s].
        channels : dict
            Values of every other quantity by its name, one a row; nan where unknown.
        """
        cells, running = self.axes.placed(rpm, kpa, self.above_rpm)
        self.rows += rpm.size
        self.running += running
        counted = cells != NOWHERE
        self.placed += int(np.count_nonzero(counted))
        beyond = counted & self.axes.beyond(rpm, kpa)
        if beyond.any():
            self.beyond += np.bincount(cells[beyond], minlength=self.axes.cells)
        known = counted & np.isfinite(seconds)
        self.seconds += np.bincount(cells[known], weights=seconds[known], minlength=self.axes.cells)
        for name in [each for each in channels if each not in self.channels]:
            self.channels[name] = ChannelTally(self.axes.cells)
            if self._kept > MOST_KEPT:
                self.channels[name].into_bins()
        self._kept += sum(self._run(lambda name: self.channels[name].add(cells, channels[name]), channels))
        if self._kept > MOST_KEPT:
            for each in self.channels.values():
                each.into_bins()
        return cells
