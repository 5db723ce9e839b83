"""A drive in windows of about a second: small whatever its length, and enough for most that it shows.

What lasts one row only, a dip of speed or a leap of the pickup, is looked for in the rows themselves and
counted in its window.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.kernel import speed_events, window_values
from sparkwright.drive.reader import Block
from sparkwright.numeric import FloatArray

WIDTH_S = 1.0
FEWEST_ROWS = 4
"""Rows that a window holds at least; a slow logger's windows are longer."""

MEANS = (
    "advance_deg",
    "commanded_deg",
    "throttle_percent",
    "speed_km_h",
    "mixture_lambda",
    "coolant_c",
    "intake_c",
    "battery_v",
    "dwell_ms",
    "dwell_asked_ms",
    "idle_correction_deg",
    "trim_deg",
    "knock_retard_deg",
)
MOST = ("knock_level", "knock_retard_deg", "mixture_lambda", "knock_mark", "sync_losses", "advance_deg")
LEAST = ("sync_losses", "battery_v", "knock_retard_deg")

PLAIN = ("start_s", "rpm", "rpm_low", "rpm_high", "kpa", "kpa_low", "kpa_high")
WHOLE = ("rows", "file", "dips", "bumps", "leaps")

Part = dict[str, NDArray[Any]]
"""Windows of one block by name; those of a quantity under "means", "most" or "least" before its own."""

DIP_SIGMAS = 6.0
"""Depth of a dip of speed over the scatter from row to row: of noise one in a thousand million."""
DIP_SHARE = 0.01
"""Least depth of a dip, in shares of speed; a choice."""
SPIKE_SHARE = 0.3
"""How far speed must leap away and back within two rows for its pickup to be doubted [-]; a choice."""


@dataclass(frozen=True)
class Windows:
    """One value a window, windows in their order; nan where a channel has none.

    Parameters
    ----------
    start_s, rows : array
        When it begins, from the first row of its file, and how many rows it has.
    file : array
        Which file.
    rpm, rpm_low, rpm_high, kpa, kpa_low, kpa_high : array
        Mean and span of speed and load.
    dips, bumps, leaps : array
        How many dips of speed it has, how many bumps, and leaps of the speed signal.
    means, most, least : dict
        By quantity.
    """

    start_s: FloatArray
    rows: NDArray[np.int64]
    file: NDArray[np.int64]
    rpm: FloatArray
    rpm_low: FloatArray
    rpm_high: FloatArray
    kpa: FloatArray
    kpa_low: FloatArray
    kpa_high: FloatArray
    dips: NDArray[np.int64]
    bumps: NDArray[np.int64]
    leaps: NDArray[np.int64]
    means: dict[str, FloatArray]
    most: dict[str, FloatArray]
    least: dict[str, FloatArray]
    width_s: float

    @property
    def count(self) -> int:
        """How many windows there are."""
        return int(self.start_s.size)

    def mean(self, quantity: str) -> FloatArray | None:
        """Give the means of a quantity; None where no file has it.

        Parameters
        ----------
        quantity : str
            Name of the quantity, such as "speed" or "advance".
        """
        return self.means.get(quantity)

    def steady(self) -> NDArray[np.bool_]:
        """Whether speed and load hardly move within a window: 4 % and 4 kPa; choices."""
        return np.asarray(
            (self.rpm_high - self.rpm_low < np.maximum(0.04 * self.rpm, 40.0))
            & (self.kpa_high - self.kpa_low < 4.0)
        )

    def at(self, wanted: NDArray[np.bool_]) -> Windows:
        """Give some of the windows.

        Parameters
        ----------
        wanted : array of bool
            Which of the windows to give, one for each.
        """
        values: dict[str, Any] = {
            name: {key: each[wanted] for key, each in value.items()}
            if isinstance(value, dict)
            else value[wanted]
            for name, value in vars(self).items()
            if name != "width_s"
        }
        return Windows(**values, width_s=self.width_s)


class WindowMaker:
    """Makes windows out of blocks; a window that a block breaks off in is finished by the next."""

    def __init__(self, above_rpm: float) -> None:
        self._above_rpm = above_rpm
        self._parts: list[Part] = []
        self._tail: dict[str, FloatArray] = {}
        self._file = -1
        self._width_s = WIDTH_S

    def add(self, block: Block) -> None:
        """Take the next rows.

        Parameters
        ----------
        block : Block
            The next rows of a file, in their order.
        """
        if not np.isfinite(block.time_s[:1]).all():
            return
        if block.file != self._file:
            self._finish()
            self._file, self._width_s = block.file, width_of(block.time_s)
        rows = {"time": block.time_s, "rpm": block.rpm, "kpa": block.kpa}
        for name in dict.fromkeys((*MEANS, *MOST, *LEAST)):
            values = block.of(name)
            if values is not None:
                rows[name] = values
        if self._tail:
            rows = {name: np.concatenate([self._tail[name], values]) for name, values in rows.items()}
        number = np.floor(rows["time"] / self._width_s)
        whole = int(np.searchsorted(number, number[-1]))
        self._cut(rows, number, whole)
        # Copied, so that a few rows don't hold the whole block.
        self._tail = {name: values[whole:].copy() for name, values in rows.items()}

    def windows(self) -> Windows:
        """Give all windows in which the engine runs; the maker lets go of them."""
        self._finish()
        parts, self._parts = self._parts, []
        return _joined(parts, self._width_s)

    def _finish(self) -> None:
        if self._tail and self._tail["time"].size:
            number = np.floor(self._tail["time"] / self._width_s)
            self._cut(self._tail, number, number.size)
        self._tail = {}

    def _cut(self, rows: dict[str, FloatArray], number: FloatArray, count: int) -> None:
        if not count:
            return
        begins = np.flatnonzero(np.diff(number[:count], prepend=-1.0))
        part = {name: values[:count] for name, values in rows.items()}
        sizes = np.diff(begins, append=count)
        found = events_of(part["rpm"])
        seen = {name: _values(part[name], begins) for name in part if name != "time"}
        rpm, kpa = seen["rpm"], seen["kpa"]
        runs = np.isfinite(kpa[0]) & (rpm[0] > self._above_rpm)
        made: Part = {
            "start_s": part["time"][begins],
            "rows": sizes,
            "file": np.full(begins.size, self._file),
            **dict(zip(("rpm", "rpm_low", "rpm_high"), rpm, strict=True)),
            **dict(zip(("kpa", "kpa_low", "kpa_high"), kpa, strict=True)),
            "dips": np.add.reduceat(found.dips, begins, dtype=np.int64),
            "bumps": np.add.reduceat(found.bumps, begins, dtype=np.int64),
            "leaps": np.add.reduceat(found.leaps, begins, dtype=np.int64),
            **{f"means {name}": seen[name][0] for name in MEANS if name in seen},
            **{f"most {name}": seen[name][2] for name in MOST if name in seen},
            **{f"least {name}": seen[name][1] for name in LEAST if name in seen},
        }
        self._parts.append({name: values[runs] for name, values in made.items()})


def width_of(time_s: FloatArray) -> float:
    """Give the width of a file's windows: a second, or what holds some rows [s].

    Parameters
    ----------
    time_s : array
        Times of the file's first rows [s].
    """
    steps = np.diff(time_s)
    steps = steps[steps > 0]
    usual = float(np.median(steps)) if steps.size else WIDTH_S
    return max(WIDTH_S, round(FEWEST_ROWS * usual, 3))


@dataclass(frozen=True)
class SpeedEvents:
    """Rows in which speed dips and comes back, rises and comes back, or leaps as no crank can."""

    dips: NDArray[np.bool_]
    bumps: NDArray[np.bool_]
    leaps: NDArray[np.bool_]


def events_of(rpm: FloatArray) -> SpeedEvents:
    """Find dips of speed that come and go within three rows, their mirror image, and leaps.

    A dip lies below what came before and what comes after, by more than noise and by a share of speed; a
    slope that only begins or ends has one higher side. Noise makes bumps as often as dips, a charge that
    doesn't burn makes dips only. A leap is further than any flywheel lets speed go.

    Parameters
    ----------
    rpm : array
        Speed of each row [rpm], in the order of time; nan where unknown.

    Examples
    --------
    >>> found = events_of(np.array([2000.0, 2001, 1999, 1900, 2000, 2002, 2001, 900, 2000, 2000, 2001]))
    >>> np.flatnonzero(found.dips).tolist(), np.flatnonzero(found.leaps).tolist()
    ([3], [7])
    """
    dips, bumps, leaps = (np.zeros(rpm.size, dtype=bool) for _ in range(3))
    steps = np.abs(np.diff(rpm))[:: max(rpm.size // 20_000, 1)]
    steps = steps[np.isfinite(steps)]
    if rpm.size >= 7 and steps.size:
        scatter = 1.4826 * float(np.median(steps)) / np.sqrt(2.0)
        speed_events(
            np.ascontiguousarray(rpm), float(DIP_SIGMAS * scatter), DIP_SHARE, SPIKE_SHARE, dips, bumps, leaps
        )
    return SpeedEvents(dips, bumps, leaps)


def _values(values: FloatArray, begins: NDArray[np.int64]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give mean, least and most of each window."""
    means, lows, highs = (np.empty(begins.size) for _ in range(3))
    window_values(np.ascontiguousarray(values), begins, means, lows, highs)
    return means, lows, highs


def _joined(parts: list[Part], width_s: float) -> Windows:
    """Join parts, letting go of each value once it is joined, so that no drive stands in memory twice."""
    counts = [part["start_s"].size for part in parts]

    def joined(name: str) -> NDArray[Any]:
        found = [part.pop(name, None) for part in parts]
        known = [
            np.full(count, np.nan) if values is None else values
            for values, count in zip(found, counts, strict=True)
        ]
        return np.concatenate(known) if known else np.zeros(0)

    def each_of(group: str) -> dict[str, FloatArray]:
        names = dict.fromkeys(name for part in parts for name in part if name.startswith(f"{group} "))
        return {name.partition(" ")[2]: joined(name) for name in names}

    values: dict[str, Any] = {name: joined(name) for name in PLAIN}
    values |= {name: joined(name).astype(np.int64) for name in WHOLE}
    values |= {name: each_of(name) for name in ("means", "most", "least")}
    return Windows(**values, width_s=width_s)
