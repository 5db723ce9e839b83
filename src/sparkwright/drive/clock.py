"""Time as loggers write it, made into seconds that never fall.

It may count in seconds, milliseconds or microseconds, be a time of day or a date with it, start again at
nothing, or jump. Seconds begin at the first row; where the clock goes back, time goes on by one usual step.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from sparkwright.numeric import FloatArray

DAY_S = 86400.0
TURNS_OVER_S = (60.0, 3600.0, 43200.0, DAY_S, 65.536, 655.36, 65536.0, 4294.967296, 4294967.296)
"""Where a clock or counter may begin again: minute, hour, half a day, a day, and 16 or 32 bits of
milliseconds, microseconds or hundredths [s]; how computers count."""
NEAR_TURN = 0.02
GAP_STEPS, GAP_LEAST_S = 50.0, 5.0
"""A step of so many usual ones, and so many seconds, is a gap: the logger paused; choices."""

_CLOCK = re.compile(
    r"(?:(?P<date>\d{1,4}[-./]\d{1,2}[-./]\d{1,4})[ T]+)?(?:(?P<hours>\d{1,3}):)?(?P<minutes>\d{1,3}):"
    r"(?P<seconds>\d{1,2}(?:[.,:]\d+)?)(?:Z|[+-]\d{2}:?\d{2})?"
)


def seconds_of_text(text: str) -> float:
    """Read a time of day, with or without its date, or a plain number; nan where it is none.

    Without hours the first figures are minutes. A date counts from the year 1.

    Parameters
    ----------
    text : str
        One cell of the column of times.

    Examples
    --------
    >>> seconds_of_text("13:05:02.25"), seconds_of_text("05:02,5"), seconds_of_text("2.75")
    (47102.25, 302.5, 2.75)
    >>> seconds_of_text("2026-05-02T00:00:01") - seconds_of_text("2026-05-01 23:59:59")
    2.0
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        try:
            return float(text.strip().replace(",", "."))
        except ValueError:
            return float("nan")
    seconds = match["seconds"].replace(",", ".").replace(":", ".")
    total = 3600.0 * float(match["hours"] or 0) + 60.0 * float(match["minutes"]) + float(seconds)
    return total + DAY_S * _days(match["date"]) if match["date"] else total


def _days(written: str) -> float:
    """Count the days of a date, year first or last; the day of an unclear one stands where Europe has it."""
    parts = [int(each) for each in re.split(r"[-./]", written)]
    year, month, day = parts if parts[0] > 31 else (parts[2], parts[1], parts[0])
    if month > 12:
        month, day = day, month
    try:
        return float(date(year if year > 99 else 2000 + year, month, day).toordinal())
    except ValueError:
        return float("nan")


def seconds_of_texts(texts: Sequence[str | None]) -> FloatArray:
    """Read a column of times.

    Parameters
    ----------
    texts : sequence of str or None
        Cells of the column of times, one a row; None for an empty one.
    """
    return np.array([float("nan") if each is None else seconds_of_text(each) for each in texts])


def scale_by_behaviour(first: FloatArray) -> float:
    """Guess what a column of plain numbers counts in: seconds for one.

    Whole numbers that grow by 5 or more a row are milliseconds, by 5,000 or more microseconds; a choice.

    Parameters
    ----------
    first : array
        The column's first numbers, as they stand in the file.

    Examples
    --------
    >>> scale_by_behaviour(np.arange(0.0, 2.0, 0.1)), scale_by_behaviour(np.arange(0.0, 9000.0, 50.0))
    (1.0, 0.001)
    """
    steps = np.diff(first[np.isfinite(first)])
    steps = steps[steps > 0]
    if not steps.size:
        return 1.0
    step = float(np.median(steps))
    whole = bool(np.all(steps == np.round(steps)))
    if whole and step >= 5000.0:
        return 1e-6
    return 1e-3 if whole and step >= 5.0 else 1.0


@dataclass
class Clock:
    """Makes the times of one file run on, block by block, and counts what it had to mend."""

    start: float | None = None
    wrapped: int = 0
    jumped_back: int = 0
    gaps: int = 0
    gap_s: float = 0.0
    _added: float = 0.0
    _last: float = float("nan")
    _step: float = float("nan")
    _steps: list[float] = field(default_factory=list)

    @property
    def step_s(self) -> float:
        """The usual step from row to row [s]; nan where not determined."""
        return float(np.median(self._steps)) if self._steps else float("nan")

    def run_on(self, raw_s: FloatArray) -> FloatArray:
        """Give the times of the next rows from the first row of all, never falling [s].

        A row without a time stands one usual step behind the row before.

        Parameters
        ----------
        raw_s : array
            Times of the next rows as the file has them [s]: nan where there is none, and they may fall.
        """
        times = np.array(raw_s, dtype=float)
        if not times.size:
            return times
        self._fill(times)
        if self.start is None:
            self.start = float(times[0])
            self._last = float(times[0])
        steps = np.diff(times, prepend=self._last)
        rising = steps[steps > 0]
        if rising.size:
            self._steps.append(float(np.median(rising)))
        usual = self.step_s if self._steps else 0.0
        back = np.flatnonzero(steps < 0)
        for place in back.tolist():
            self._mend(steps, place, usual, times)
        gap = steps > max(GAP_STEPS * usual, GAP_LEAST_S)
        self.gaps += int(np.count_nonzero(gap))
        self.gap_s += float(steps[gap].sum())
        self._last = float(times[-1])
        result = self._added + np.cumsum(steps)
        self._added = float(result[-1])
        return np.asarray(result)

    def _mend(self, steps: FloatArray, place: int, usual: float, times: FloatArray) -> None:
        before = times[place] - steps[place]
        for turn in TURNS_OVER_S:
            forward = steps[place] + turn
            if 0 <= forward <= max(NEAR_TURN * turn, 2 * usual) and before <= turn * (1 + NEAR_TURN):
                self.wrapped += 1
                steps[place] = forward
                return
        if abs(steps[place]) > 1e-9:
            self.jumped_back += 1
        steps[place] = usual

    def _fill(self, times: FloatArray) -> None:
        missing = ~np.isfinite(times)
        if not missing.any():
            return
        usual = self.step_s if self._steps else 0.0
        before = self._last if np.isfinite(self._last) else 0.0
        first = int(np.argmax(~missing)) if not missing.all() else times.size
        times[:first] = before if self.start is not None else (times[first] if first < times.size else 0.0)
        known = np.maximum.accumulate(np.where(np.isfinite(times), np.arange(times.size), 0))
        behind = np.arange(times.size) - known
        times[:] = times[known] + behind * usual
