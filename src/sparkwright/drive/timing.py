"""Did the engine get the timing that its map asks: differences, each with what explains it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.seen import MOST_PLACES, DriveSeen
from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray

AGREES_DEG = 1.0
"""Difference that is none: a controller's step and a row's noise; a choice."""
WARM_C = 65.0
"""Coolant below which trims for a cold engine are expected; common practice, no source."""
OVER_AMBIENT_KPA = 3.0
IDLE_SPEED, IDLE_THROTTLE_PERCENT = 1.3, 5.0
FEWEST_WINDOWS = 8
SIGMAS_OFF = 4.0
"""How surely, in standard errors of its mean, a cell must be off to be told."""
UNLIKE_SHARE = 0.5


@dataclass(frozen=True)
class OffCell:
    """A cell whose timing differs from the map's, and by how much: mean and its standard error [deg]."""

    rpm: float
    kpa: float
    off_deg: float
    error_deg: float
    seconds: float


@dataclass(frozen=True)
class TimingSeen:
    """Timing held against the map, over steady windows.

    ``by`` is "commanded" where the log has what the controller commands, "advance" where it has one advance
    only; ``late_to_command_deg`` is by how much the one lies behind the other where both are there. The
    shares are of steady time, in percent: as asked, and by what explains the rest.
    """

    by: str
    seconds: float
    as_asked_percent: float
    explained_percent: dict[str, float]
    rest_percent: float
    off: tuple[OffCell, ...]
    late_to_command_deg: float | None


@dataclass(frozen=True)
class HeldAgainstMap:
    """How far the timing lies off the map in each window [deg], and which windows are steady."""

    off_deg: FloatArray
    steady: NDArray[np.bool_]


def held_against_map(seen: DriveSeen) -> HeldAgainstMap | None:
    """Hold what is commanded against the map, or the one advance that the log has; None where it has none.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan whose map was asked for.
    """
    commanded, got = seen.windows.mean("commanded_deg"), seen.windows.mean("advance_deg")
    advance = got if commanded is None else commanded
    if advance is None:
        return None
    return HeldAgainstMap(advance - seen.asked_deg, seen.windows.steady() & np.isfinite(advance))


def timing_of(seen: DriveSeen) -> TimingSeen | None:
    """Hold the timing against the map; None where the log has none.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan whose map was asked for.
    """
    windows, held = seen.windows, held_against_map(seen)
    if held is None or not held.steady.any():
        return None
    commanded, got = windows.mean("commanded_deg"), windows.mean("advance_deg")
    steady, off = held.steady, held.off_deg
    left = steady & ~(np.abs(off) <= AGREES_DEG)
    explained: dict[str, float] = {}
    total = float(np.count_nonzero(steady))
    for name, why in _explanations(seen, off).items():
        here = left & why
        explained[name] = 100.0 * float(np.count_nonzero(here)) / total
        left = left & ~here
    late = None
    if commanded is not None and got is not None:
        late = (
            float(np.nanmedian((commanded - got)[steady]))
            if np.isfinite((commanded - got)[steady]).any()
            else None
        )
    return TimingSeen(
        by="commanded" if commanded is not None else "advance",
        seconds=total * windows.width_s,
        as_asked_percent=100.0 * float(np.count_nonzero(steady & (np.abs(off) <= AGREES_DEG))) / total,
        explained_percent=explained,
        rest_percent=100.0 * float(np.count_nonzero(left)) / total,
        off=tuple(_off_cells(seen, off, left)),
        late_to_command_deg=late,
    )


def _explanations(seen: DriveSeen, off: FloatArray) -> dict[str, NDArray[np.bool_]]:
    """Say which windows each cause explains, in the order in which they are asked."""
    windows, found = seen.windows, {}
    named = np.zeros(windows.count)
    for name, sign in (("idle_correction_deg", 1.0), ("trim_deg", 1.0), ("knock_retard_deg", 0.0)):
        values = windows.mean(name)
        if values is None:
            continue
        known = np.nan_to_num(values)
        named = named + (sign * known if sign else -np.abs(known))
        label = {
            "idle_correction_deg": "idle control",
            "trim_deg": "trims",
            "knock_retard_deg": "knock retard",
        }[name]
        found[label] = (np.abs(off - named) <= AGREES_DEG) & (np.abs(known) > 0.25)
    idle = windows.rpm < IDLE_SPEED * seen.physics.idle_rpm
    throttle = windows.mean("throttle_percent")
    if throttle is not None and np.isfinite(throttle).any():
        closed = float(np.nanpercentile(throttle, 1))
        idle &= ~(throttle > closed + IDLE_THROTTLE_PERCENT)
    found["idle control, by where it is"] = idle
    reach = float(np.nanmin(seen.plan.cells.ceilings.reach_deg))
    most = seen.job.controller.max_deg
    advance = seen.asked_deg + off
    clipped = (off < 0) & ((np.abs(advance - reach) <= 0.5) | (np.abs(advance - most) <= 0.5))
    found["reach or the controller's limit"] = clipped
    coolant = windows.mean("coolant_c")
    if coolant is not None:
        found["a cold engine's trims"] = coolant < WARM_C
    found["boost"] = (off < 0) & (windows.kpa > seen.ambient_kpa + OVER_AMBIENT_KPA)
    return found


def _off_cells(seen: DriveSeen, off: FloatArray, left: NDArray[np.bool_]) -> Iterator[OffCell]:
    """Give the cells that stay off for no reason that is known, the most off first."""
    found = []
    for cell in np.unique(seen.cells[left]).tolist():
        here = off[left & (seen.cells == cell)]
        if here.size < FEWEST_WINDOWS:
            continue
        mean = float(here.mean())
        # Windows that follow each other say little new: a third of them counts.
        error = float(here.std(ddof=1)) / np.sqrt(max(here.size / 3.0, 1.0))
        if abs(mean) > AGREES_DEG and abs(mean) > SIGMAS_OFF * error:
            found.append(
                OffCell(*seen.axes.place(cell), mean, float(error), here.size * seen.windows.width_s)
            )
    yield from sorted(found, key=lambda each: -abs(each.off_deg))


def timing_findings(timing: TimingSeen | None) -> Iterator[Finding]:
    """Tell whether the engine got what its map asks.

    Parameters
    ----------
    timing : TimingSeen or None
        What `timing_of` gave; None, of which nothing is told, where no advance is logged.
    """
    if timing is None:
        return
    explained = tuple((name, share) for name, share in timing.explained_percent.items() if share >= 0.5)
    numbers: dict[str, Value] = {
        "by": timing.by,
        "as_asked_percent": timing.as_asked_percent,
        "explained": explained,
        "rest_percent": timing.rest_percent,
    }
    late = timing.late_to_command_deg
    if late is not None and abs(late) > AGREES_DEG:
        yield Finding("timing.not-as-commanded", "look", {"late_deg": late})
    if not timing.off:
        yield Finding("timing.as-asked", "good", numbers)
        return
    worst = timing.off[0]
    if timing.rest_percent > 100.0 * UNLIKE_SHARE:
        yield Finding("timing.another-map", "look", numbers | {"cells": len(timing.off)})
        return
    where: dict[str, Value] = {
        "rpm": worst.rpm,
        "kpa": worst.kpa,
        "off_deg": worst.off_deg,
        "error_deg": worst.error_deg,
        "cells": len(timing.off),
        "places": tuple((each.rpm, each.kpa, each.off_deg) for each in timing.off[:MOST_PLACES]),
    }
    yield Finding("timing.off", "look", numbers | where)
