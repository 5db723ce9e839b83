"""How much later one channel shows what another has shown: by where their changes agree best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.drive.reader import Block
from sparkwright.drive.seen import between_cells
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import PlanResult

MOST_ROWS = 120_000
"""Rows of the first file that delays are estimated from; a choice."""
MOST_DELAY_S = 3.0
LEAST_AGREEMENT = 0.35
"""Correlation of the changes below which no delay is told; a choice."""
PAIRS = (
    ("map_kpa", "throttle_percent"),
    ("advance_deg", "map"),
    ("commanded_deg", "map"),
    ("mixture_lambda", "map_kpa"),
    ("rpm", "throttle_percent"),
)


@dataclass(frozen=True)
class Delay:
    """How much later ``channel`` moves than ``after`` [s]; "map" is what the map asks for at each row.

    ``agreement`` is the correlation of their changes at that delay.
    """

    channel: str
    after: str
    seconds: float
    agreement: float


class DelaySample:
    """The first rows of a drive, kept to estimate delays from."""

    def __init__(self) -> None:
        self._parts: list[dict[str, FloatArray]] = []
        self._rows = 0

    def add(self, block: Block) -> None:
        """Take rows while there is room, from the first file only.

        Parameters
        ----------
        block : Block
            The next rows of a file, in their order.
        """
        if block.file or self._rows >= MOST_ROWS or not np.isfinite(block.time_s[:1]).all():
            return
        part = {"time": block.time_s, "rpm": block.rpm, "map_kpa": block.kpa}
        for name in ("throttle_percent", "advance_deg", "commanded_deg", "mixture_lambda"):
            values = block.of(name)
            if values is not None:
                part[name] = values
        self._parts.append({name: values[: MOST_ROWS - self._rows].copy() for name, values in part.items()})
        self._rows += self._parts[-1]["time"].size

    def delays(self, plan: PlanResult) -> tuple[Delay, ...]:
        """Estimate the delays that the sample shows.

        Parameters
        ----------
        plan : PlanResult
            Plan whose map says what advance is asked for at each row's speed and load.
        """
        if self._rows < 200:
            return ()
        rows = {name: np.concatenate([each[name] for each in self._parts]) for name in self._parts[0]}
        rows["map"] = between_cells(plan, rows["rpm"], rows["map_kpa"])
        steps = np.diff(rows["time"])
        step_s = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
        if step_s <= 0.0:
            return ()
        found = []
        for channel, after in PAIRS:
            if channel in rows and after in rows:
                delay = delay_between(rows[channel], rows[after], step_s)
                if delay is not None:
                    found.append(Delay(channel, after, *delay))
        return tuple(found)


def delay_between(late: FloatArray, early: FloatArray, step_s: float) -> tuple[float, float] | None:
    """Estimate how much later one series moves than another, and how well they agree there.

    The changes from row to row are correlated at every delay up to some seconds either way; a parabola
    through the highest three gives the fraction of a row. None where they hardly agree.

    Parameters
    ----------
    late : array
        The series that should move later, a value for each row.
    early : array
        The series that should lead, in the same rows.
    step_s : float
        Time from one row to the next [s].

    Examples
    --------
    >>> early = np.repeat(np.random.default_rng(1).normal(size=60), 40)
    >>> late = np.interp(np.arange(early.size) - 5.0, np.arange(early.size), early)
    >>> delay_between(late, early, 0.05)[0].__round__(3)
    0.25
    """
    changes = [np.nan_to_num(np.diff(each)) for each in (late, early)]
    moved, before = (each - each.mean() for each in changes)
    power = float(np.sqrt((moved @ moved) * (before @ before)))
    most = min(int(MOST_DELAY_S / step_s), moved.size // 4)
    if power <= 0.0 or most < 1:
        return None
    size = 1 << int(np.ceil(np.log2(2 * moved.size)))
    both = np.fft.irfft(np.fft.rfft(moved, size) * np.conj(np.fft.rfft(before, size)), size)
    around = np.abs(np.concatenate([both[-most:], both[: most + 1]])) / power
    best = int(around.argmax())
    if around[best] < LEAST_AGREEMENT:
        return None
    shift = 0.0
    if 0 < best < around.size - 1:
        low, top, high = around[best - 1 : best + 2]
        bend = low - 2.0 * top + high
        shift = 0.5 * (low - high) / bend if bend < 0 else 0.0
    return (best - most + float(shift)) * step_s, float(around[best])
