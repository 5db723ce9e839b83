"""Where on the map and when on the road each finding of a drive was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.faults import at_high_load, dropped_out, knocked, short_of_dwell, stumbled
from sparkwright.drive.idle import IDLE_SPEED
from sparkwright.drive.idle import LEAST_S as LEAST_IDLE_S
from sparkwright.drive.seen import DriveSeen
from sparkwright.drive.timing import AGREES_DEG, held_against_map
from sparkwright.findings import Finding

JOINED_S = 5.0
"""Windows of one finding so close to each other are one moment [s]; a choice."""
MOST_MOMENTS = 12
"""Moments that one finding names, those with most windows of it."""


@dataclass(frozen=True)
class Moment:
    """A stretch of one file in which a finding was seen: from its first window to the end of its last.

    ``file`` is the place of the file among those given, ``windows`` how many of its windows show the finding.
    """

    file: int
    from_s: float
    to_s: float
    windows: int


@dataclass(frozen=True)
class SeenAt:
    """Where a finding stands on the map, and its moments in the order of time.

    ``rpm`` and ``kpa`` are None for what has no place, ``moments`` is empty for what belongs to the whole
    drive; ``of_moments`` counts those that are not named too.
    """

    rpm: float | None
    kpa: float | None
    moments: tuple[Moment, ...]
    of_moments: int


@dataclass(frozen=True)
class Mark:
    """A finding that must be looked at, with the number under which list, map and plot show it."""

    number: int
    finding: Finding
    at: SeenAt


def marks(findings: Sequence[Finding], places: Sequence[SeenAt]) -> tuple[Mark, ...]:
    """Give a number to what must be looked at.

    Parameters
    ----------
    findings : sequence of Finding
        What the drive told, the worst first.
    places : sequence of SeenAt
        Where and when each of them was seen, in the same order.
    """
    told = [
        (each, at) for each, at in zip(findings, places, strict=True) if each.state in ("problem", "look")
    ]
    return tuple(Mark(number, *each) for number, each in enumerate(told, start=1))


def seen_at(seen: DriveSeen, findings: Sequence[Finding]) -> tuple[SeenAt, ...]:
    """Say of each finding where and when it was seen.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive that the findings were made from.
    findings : sequence of Finding
        What the drive told.
    """
    return tuple(_seen_at(seen, each) for each in findings)


def _seen_at(seen: DriveSeen, finding: Finding) -> SeenAt:
    rpm, kpa = _place(finding)
    events = _windows_of(seen, finding)
    if events is None:
        return SeenAt(rpm, kpa, (), 0)
    column, row = seen.cells % seen.axes.rpm.size, seen.cells // seen.axes.rpm.size
    if rpm is not None:
        events = events & (column == int(np.abs(seen.axes.rpm - rpm).argmin()))
    if kpa is not None:
        events = events & (row == int(np.abs(seen.axes.kpa - kpa).argmin()))
    if not events.any():
        return SeenAt(rpm, kpa, (), 0)
    moments = _joined(seen, events)
    named = sorted(moments, key=lambda each: -each.windows)[:MOST_MOMENTS]
    if finding.kind != "misfire.everywhere" and (rpm is None or kpa is None):
        rpm, kpa = seen.axes.place(int(np.bincount(seen.cells[events]).argmax()))
    in_order = tuple(sorted(named, key=lambda each: (each.file, each.from_s)))
    return SeenAt(rpm, kpa, in_order, len(moments))


def _place(finding: Finding) -> tuple[float | None, float | None]:
    """Give speed and load that a finding or the first of its places names; None for what it leaves open."""
    rpm, kpa, places = (finding.numbers.get(name) for name in ("rpm", "kpa", "places"))
    if finding.subject == "where":
        return None, None
    if rpm is None and kpa is None and isinstance(places, tuple) and places and isinstance(places[0], tuple):
        rpm, kpa = places[0][:2]
    found = [each if isinstance(each, int | float) else None for each in (rpm, kpa)]
    return found[0], found[1]


def _windows_of(seen: DriveSeen, finding: Finding) -> NDArray[np.bool_] | None:
    """Say which windows show a finding; None for what belongs to the whole drive."""
    match finding.kind:
        case "knock.heard" | "knock.logged":
            return knocked(seen)[str(finding.numbers["by"])]
        case "misfire.heaped" | "misfire.everywhere":
            return stumbled(seen)
        case "arcing.suspected":
            return stumbled(seen) & at_high_load(seen)
        case "pickup.drops-out":
            return dropped_out(seen)[0]
        case "dwell.runs-out":
            return short_of_dwell(seen)
        case "timing.off" | "timing.another-map":
            held = held_against_map(seen)
            return None if held is None else held.steady & ~(np.abs(held.off_deg) <= AGREES_DEG)
        case "idle.hunts" | "idle.wanders" | "idle.at-its-limit":
            return _idles(seen)
    return None


def _idles(seen: DriveSeen) -> NDArray[np.bool_]:
    """Say which windows lie in a stretch of idle that is long enough to be judged."""
    slow = seen.windows.rpm < IDLE_SPEED * seen.physics.idle_rpm
    kept = np.zeros(slow.size, dtype=bool)
    for begin, end in _runs(seen, slow):
        if (end - begin) * seen.windows.width_s >= LEAST_IDLE_S:
            kept[begin:end] = slow[begin:end]
    return kept


def _runs(seen: DriveSeen, events: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give first and last, the latter not included, of windows with events that lie close together."""
    windows, places = seen.windows, np.flatnonzero(events)
    if not places.size:
        return []
    apart = np.diff(windows.start_s[places]) > JOINED_S + windows.width_s
    apart |= np.diff(windows.file[places]) != 0
    ends = np.flatnonzero(apart) + 1
    return [(int(part[0]), int(part[-1]) + 1) for part in np.split(places, ends)]


def _joined(seen: DriveSeen, events: NDArray[np.bool_]) -> list[Moment]:
    windows = seen.windows
    return [
        Moment(
            file=int(windows.file[begin]),
            from_s=float(windows.start_s[begin]),
            to_s=float(windows.start_s[end - 1]) + windows.width_s,
            windows=int(np.count_nonzero(events[begin:end])),
        )
        for begin, end in _runs(seen, events)
    ]
