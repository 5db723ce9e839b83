"""What the sentences of a light check share: a reading, signed numbers, and when a hand is asked for."""

from __future__ import annotations

from typing import Any

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

UNSURE = (
    "Among so few readings one that is wrong could make this: read on to six before a hand goes to anything."
)


Place = tuple[int | None, float, float]
"""A reading: its line, its speed [rpm] and what was seen [deg]."""


def where(reading: Place) -> str:
    """Name a reading: its line, speed and what was seen.

    Parameters
    ----------
    reading : Place
        Line, speed [rpm] and what was seen [deg] of a reading.

    Examples
    --------
    >>> where((3, 2000.0, 29.5))
    'line 3 (2,000 rpm, 29.5 deg seen)'
    """
    line, speed_rpm, seen_deg = reading
    name = f"line {line}" if line else "the reading"
    return f"{name} ({speed_rpm:,.0f} rpm, {seen_deg:g} deg seen)"


def told_apart(real: bool) -> str:
    """Say of an effect too small to act on whether it is there at all.

    Parameters
    ----------
    real : bool
        Whether the effect is told apart from none.
    """
    return "too small to matter" if real else "not told apart from none"


def signed(value: float, decimals: int = 1) -> str:
    """Write a number with its sign; none for what rounds to zero.

    Parameters
    ----------
    value : float
        The number.
    decimals : int, optional
        Figures after the point.
    """
    rounded = round(value, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else f"{0.0:.{decimals}f}"


def span(low: float, high: float, decimals: int = 1) -> str:
    """Write an interval: with signs where it holds zero, else as sizes, the nearer end first.

    Parameters
    ----------
    low : float
        Lower end of the interval.
    high : float
        Upper end of the interval.
    decimals : int, optional
        Figures after the point.
    """
    if low < 0.0 < high:
        return f"{signed(low, decimals)} to {signed(high, decimals)}"
    nearer, farther = sorted((abs(low), abs(high)))
    return f"{nearer:.{decimals}f} to {farther:.{decimals}f}"


def tempered(write: Writer) -> Writer:
    """Let a finding ask for no hand where too few readings make it unsure, or where it is settled.

    Parameters
    ----------
    write : Writer
        What tells a finding and what to do about it.
    """

    def once_sure(system: System, *, unsure: bool = False, settled: bool = False, **numbers: Any) -> Said:
        sentence, action = write(system, **numbers)
        said = [
            sentence,
            *([UNSURE] if unsure else []),
            *(["It is within what is wanted."] if settled else []),
        ]
        return " ".join(said), "" if unsure or settled else action

    return once_sure
