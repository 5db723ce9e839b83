"""The innermost loops over a drive: which cell a row belongs to, and what a cell has seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.jit import compiled
from sparkwright.numeric import FloatArray

Cells = NDArray[np.int32]
NOWHERE = -1
"""Cell of a row that is not counted: not running, or without speed or load."""


def _place_rows(
    rpm: FloatArray,
    kpa: FloatArray,
    above_rpm: float,
    rpm_borders: FloatArray,
    kpa_borders: FloatArray,
    cells: Cells,
) -> int:
    """Write the cell of each row, and give how many rows run."""
    running = 0
    speeds = rpm_borders.size + 1
    column = row = 0
    for i in range(rpm.size):
        cells[i] = -1
        if not rpm[i] > above_rpm:
            continue
        running += 1
        if not np.isfinite(kpa[i]) or not np.isfinite(rpm[i]):
            continue
        # A row lies in the cell of the row before, or near it.
        while column < rpm_borders.size and rpm_borders[column] < rpm[i]:
            column += 1
        while column > 0 and rpm_borders[column - 1] >= rpm[i]:
            column -= 1
        while row < kpa_borders.size and kpa_borders[row] < kpa[i]:
            row += 1
        while row > 0 and kpa_borders[row - 1] >= kpa[i]:
            row -= 1
        cells[i] = row * speeds + column
    return running


def _count_and_sum(cells: Cells, values: FloatArray, counts: NDArray[np.int64], sums: FloatArray) -> None:
    """Count and sum the values of each cell."""
    for i in range(cells.size):
        cell = cells[i]
        if cell >= 0 and np.isfinite(values[i]):
            counts[cell] += 1
            sums[cell] += values[i]


def _count_sum_and_bin(
    cells: Cells,
    values: FloatArray,
    low: float,
    per_unit: float,
    counts: NDArray[np.int64],
    sums: FloatArray,
    bins: NDArray[np.uint32],
) -> None:
    """Count and sum the values of each cell, and count them in bins, beyond the ends in the last ones."""
    last = bins.shape[1] - 1
    for i in range(cells.size):
        cell = cells[i]
        value = values[i]
        if cell >= 0 and np.isfinite(value):
            counts[cell] += 1
            sums[cell] += value
            place = (value - low) * per_unit
            if place < 0.0:
                bins[cell, 0] += 1
            elif place > last:
                bins[cell, last] += 1
            else:
                bins[cell, int(place)] += 1


def _clean(
    values: FloatArray, scale: float, offset: float, low: float, high: float
) -> tuple[int, int, float, float]:
    """Turn values into the unit inside, in place; nan where they can't be.

    Gives how many were left out, how many are there, and the lowest and highest of them.
    """
    dropped = there = 0
    lowest, highest = np.inf, -np.inf
    for i in range(values.size):
        value = scale * values[i] + offset
        if not np.isfinite(value):
            values[i] = np.nan
        elif value < low or value > high:
            values[i] = np.nan
            dropped += 1
        else:
            values[i] = value
            there += 1
            lowest = min(lowest, value)
            highest = max(highest, value)
    return dropped, there, lowest, highest


def _carry(values: FloatArray, times: FloatArray, held: float, held_s: float, most_s: float) -> int:
    """Put the last value into the gaps after it, for a while; gives how many were put."""
    carried = 0
    for i in range(values.size):
        if np.isfinite(values[i]):
            held, held_s = values[i], times[i]
        elif np.isfinite(held) and times[i] - held_s <= most_s:
            values[i] = held
            carried += 1
    return carried


def _window_values(
    values: FloatArray, begins: NDArray[np.int64], means: FloatArray, lows: FloatArray, highs: FloatArray
) -> None:
    """Write mean, least and most of each window; nan where it holds nothing."""
    for window in range(begins.size):
        end = begins[window + 1] if window + 1 < begins.size else values.size
        count = 0
        total = 0.0
        low, high = np.inf, -np.inf
        for i in range(begins[window], end):
            value = values[i]
            if np.isfinite(value):
                count += 1
                total += value
                low = min(low, value)
                high = max(high, value)
        means[window] = total / count if count else np.nan
        lows[window] = low if count else np.nan
        highs[window] = high if count else np.nan


def _speed_events(
    rpm: FloatArray,
    limit_rpm: float,
    share: float,
    leap_share: float,
    dips: NDArray[np.bool_],
    bumps: NDArray[np.bool_],
    leaps: NDArray[np.bool_],
) -> None:
    """Mark the rows in which speed dips, bumps or leaps, as `windows.events_of` tells."""
    for i in range(3, rpm.size - 3):
        here = rpm[i]
        one, two, three = rpm[i - 1], rpm[i - 2], rpm[i - 3]
        four, five, six = rpm[i + 1], rpm[i + 2], rpm[i + 3]
        high_before, high_after = max(two, three), max(five, six)
        if abs(high_before - high_after) < 0.15 * high_before and min(two, three, five, six) > 0.0:
            down = here < (1.0 - leap_share) * min(max(one, two), max(four, five))
            up = here > (1.0 + leap_share) * max(high_before, high_after)
            leaps[i] = down or up
        limit = max(limit_rpm, share * here)
        dips[i] = (
            min(max(one, two), max(four, five)) - here > limit
            and here <= min(one, four)
            and here < max(one, four)
        )
        bumps[i] = (
            here - max(min(one, two), min(four, five)) > limit
            and here >= max(one, four)
            and here > min(one, four)
        )
    for i in range(rpm.size):
        if leaps[i]:
            for k in range(max(i - 3, 0), min(i + 4, rpm.size)):
                dips[k] = False
                bumps[k] = False


window_values = compiled(_window_values, inline=False)
speed_events = compiled(_speed_events, inline=False)
clean = compiled(_clean, inline=False)
carry = compiled(_carry, inline=False)
place_rows = compiled(_place_rows, inline=False)
count_and_sum = compiled(_count_and_sum, inline=False)
count_sum_and_bin = compiled(_count_sum_and_bin, inline=False)
