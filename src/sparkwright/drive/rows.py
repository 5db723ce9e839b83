"""The rows of a drive, kept beside memory while it is looked at, and stretches of them that can be drawn.

A drawn stretch is the least and the most of each channel in as many parts as fit a screen, so that nothing
short is lost in it, whether it holds ten rows or ten million.
"""

from __future__ import annotations

from dataclasses import dataclass
from tempfile import TemporaryFile
from typing import IO, Any
from weakref import finalize

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.kernel import window_values
from sparkwright.drive.reader import Block
from sparkwright.numeric import FloatArray

MOST_PARTS = 2000
"""Parts of a drawn stretch; more than a screen has room for shows nothing more."""
TRACKS = (
    "rpm",
    "map_kpa",
    "advance_deg",
    "commanded_deg",
    "throttle_percent",
    "knock_level",
    "knock_retard_deg",
    "mixture_lambda",
    "dwell_ms",
    "battery_v",
    "speed_km_h",
)
"""What is kept of each row, in the order in which it is drawn."""


@dataclass(frozen=True)
class Track:
    """One channel of a stretch: its least and most in each part, nan where it holds nothing."""

    quantity: str
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Stretch:
    """A stretch of a drive, small enough to be drawn.

    Parameters
    ----------
    from_s, to_s : float
        Its ends, from the first row of the drive [s].
    whole_s : float
        Length of the whole drive [s].
    rows : int
        Rows that it holds.
    time_s : array
        When each part begins [s].
    tracks : tuple of Track
        Channels that the drive has.
    """

    from_s: float
    to_s: float
    whole_s: float
    rows: int
    time_s: FloatArray
    tracks: tuple[Track, ...]


class RowKeeper:
    """Rows of the first file of a drive, kept in files without a name that go when nobody holds them."""

    def __init__(self) -> None:
        self._files: dict[str, IO[bytes]] = {}
        self._rows = 0
        self._kept: dict[str, FloatArray] | None = None
        finalize(self, _close, self._files)

    def add(self, block: Block) -> None:
        """Keep the rows of a block; those without a time and those of further files are left out.

        Parameters
        ----------
        block : Block
            The next rows of a file, in their order.
        """
        if block.file or not np.isfinite(block.time_s[:1]).all():
            return
        columns = {"time_s": block.time_s, "rpm": block.rpm, "map_kpa": block.kpa}
        for name in TRACKS:
            values = columns.get(name, block.of(name))
            if values is not None:
                columns[name] = values
        for name, values in columns.items():
            if name not in self._files:
                self._files[name] = TemporaryFile(prefix="sparkwright-drive-")  # noqa: SIM115 - held as long as this
            np.ascontiguousarray(values, dtype=_kind(name)).tofile(self._files[name])
        self._rows += block.time_s.size

    def stretch(self, from_s: float | None = None, to_s: float | None = None, parts: int = 600) -> Stretch:
        """Give a stretch, the whole drive where nothing is asked.

        Parameters
        ----------
        from_s : float, optional
            Where it begins [s from the first row]; None for the drive's start.
        to_s : float, optional
            Where it ends [s from the first row]; None, or no later than its beginning, for the drive's end.
        parts : int, optional
            Most parts that it is drawn in; a part holds at least a row.
        """
        columns = self._columns()
        time_s = columns.get("time_s", np.zeros(0))
        # The last row stands for as long as the one before it.
        whole = round(float(time_s[-1] + np.diff(time_s[-2:]).sum()), 3) if time_s.size else 0.0
        low = min(max(from_s or 0.0, 0.0), whole)
        high = whole if to_s is None or to_s <= low else min(to_s, whole)
        first = max(int(np.searchsorted(time_s, low)) - 1, 0)
        last = min(int(np.searchsorted(time_s, high, side="right")) + 1, time_s.size)
        begins = _begins(time_s[first:last], low, high, min(max(parts, 1), MOST_PARTS))
        tracks = tuple(
            Track(name, *_span(columns[name][first:last], begins)) for name in TRACKS if name in columns
        )
        return Stretch(low, high, whole, max(last - first, 0), time_s[first:last][begins], tracks)

    def _columns(self) -> dict[str, FloatArray]:
        if self._kept is None:
            kept: dict[str, FloatArray] = {}
            for name, file in self._files.items():
                file.flush()
                kept[name] = np.memmap(file, dtype=_kind(name), mode="r", shape=(self._rows,))
            self._kept = kept
        return self._kept


def _close(files: dict[str, IO[bytes]]) -> None:
    for each in files.values():
        each.close()


def _kind(name: str) -> type[np.floating[Any]]:
    """Give the type of number that a column is kept in: time needs more digits than any sensor has."""
    return np.float64 if name == "time_s" else np.float32


def _begins(time_s: FloatArray, low: float, high: float, parts: int) -> NDArray[np.int64]:
    """Give the first row of each part; parts that hold no row are left out."""
    if time_s.size <= parts:
        return np.arange(time_s.size)
    edges = np.searchsorted(time_s, np.linspace(low, high, parts, endpoint=False))
    return np.unique(np.minimum(np.append(edges, 0), time_s.size - 1))


def _span(values: FloatArray, begins: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    means, lows, highs = (np.empty(begins.size) for _ in range(3))
    window_values(np.array(values, dtype=np.float64), begins, means, lows, highs)
    return lows, highs
