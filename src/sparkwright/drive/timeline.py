"""A drive over time, small enough to be drawn: the least and most of each channel in as many parts as fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.drive.windows import Windows
from sparkwright.numeric import FloatArray

PARTS = 600
"""Parts of a drawn stretch; more than a screen has room for shows nothing more."""


@dataclass(frozen=True)
class Timeline:
    """One stretch of a drive.

    Parameters
    ----------
    start_s : array
        When each part begins, from the first row of the drive.
    rpm_low, rpm_high, kpa_low, kpa_high : array
        Span of speed and load in each part.
    advance_deg : array
        Most advance of the windows of each part; nan where it isn't logged.
    from_s, to_s : float
        The stretch.
    whole_s : float
        The whole drive.
    """

    start_s: FloatArray
    rpm_low: FloatArray
    rpm_high: FloatArray
    kpa_low: FloatArray
    kpa_high: FloatArray
    advance_deg: FloatArray
    from_s: float
    to_s: float
    whole_s: float


def timeline_of(windows: Windows, from_s: float | None = None, to_s: float | None = None) -> Timeline:
    """Give a stretch of a drive, the whole one where nothing is asked; no spike is lost in it.

    Parameters
    ----------
    windows : Windows
        Windows of the whole drive, in the order of time.
    from_s : float, optional
        Where the stretch begins [s from the drive's start]; None for its start.
    to_s : float, optional
        Where it ends [s from the drive's start]; None for its end.
    """
    whole = float(windows.start_s.max() + windows.width_s) if windows.count else 0.0
    low = min(max(from_s or 0.0, 0.0), whole)
    high = whole if to_s is None or to_s <= low else min(to_s, whole)
    inside = windows.at((windows.start_s >= low - windows.width_s) & (windows.start_s < high))
    if not inside.count:
        none = np.zeros(0)
        return Timeline(none, none, none, none, none, none, low, high, whole)
    width = max((high - low) / PARTS, windows.width_s)
    part = np.floor((inside.start_s - low) / width)
    begins = np.flatnonzero(np.diff(part, prepend=-np.inf))
    advance = inside.mean("advance_deg")
    if advance is None:
        advance = inside.mean("commanded_deg")
    if advance is None:
        advance = np.full(inside.count, np.nan)
    return Timeline(
        start_s=inside.start_s[begins],
        rpm_low=np.fmin.reduceat(inside.rpm_low, begins),
        rpm_high=np.fmax.reduceat(inside.rpm_high, begins),
        kpa_low=np.fmin.reduceat(inside.kpa_low, begins),
        kpa_high=np.fmax.reduceat(inside.kpa_high, begins),
        advance_deg=np.fmax.reduceat(advance, begins),
        from_s=low,
        to_s=high,
        whole_s=whole,
    )
