"""Accelerations of a drive as pulls of the dyno: two timings held against each other, and a table to keep.

The road gives torque by facts that are assumed or stated; the ratio of two timings is what is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from sparkwright.drive.accelerations import SAME_GEAR, Acceleration
from sparkwright.dyno.pulls import CONFIDENCE, Compared, Pull, compared, smoothed, speeds_of
from sparkwright.findings import Finding, Value

FEWEST_SPEEDS = 5


def pulls_in(accelerations: Sequence[Acceleration]) -> tuple[Pull, ...]:
    """Give accelerations as the dyno's pulls.

    Parameters
    ----------
    accelerations : sequence of Acceleration
        Those of one gear, to be held against each other.
    """
    return tuple(Pull(each.name, each.timing, each.rpm, each.torque_nm) for each in accelerations)


def by_gear(accelerations: Sequence[Acceleration]) -> list[list[Acceleration]]:
    """Part accelerations by gear; those of which no advance is logged are left out.

    Parameters
    ----------
    accelerations : sequence of Acceleration
        All that a drive has.
    """
    found: list[list[Acceleration]] = []
    for each in sorted(accelerations, key=lambda each: each.gear):
        if each.off_map_deg != each.off_map_deg:
            continue
        if found and each.gear <= found[-1][0].gear * (1.0 + SAME_GEAR):
            found[-1].append(each)
        else:
            found.append([each])
    return [sorted(group, key=lambda each: int(each.name)) for group in found]


def pull_findings(accelerations: Sequence[Acceleration]) -> Iterator[Finding]:
    """Tell what another timing was worth, gear by gear, with its interval and the runs it takes to see 1 %.

    Parameters
    ----------
    accelerations : sequence of Acceleration
        All that a drive has.
    """
    for group in by_gear(accelerations):
        pulls = pulls_in(group)
        timings = list(dict.fromkeys(each.timing for each in pulls))
        # What lies nearest to the map is what the others are held against.
        timings.sort(key=lambda timing: min(abs(each.off_map_deg) for each in group if each.timing == timing))
        if len(timings) < 2:
            yield Finding("road-pulls.one-timing", "good", {"pulls": len(pulls), "timing": timings[0]})
            continue
        if speeds_of(pulls).size < FEWEST_SPEEDS:
            yield Finding("road-pulls.apart", "look", {"pulls": len(pulls)})
            continue
        for other in timings[1:]:
            found = compared(pulls, timings[0], other)
            yield Finding("road-pulls.compared", "good", _numbers(pulls, found))


def _numbers(pulls: Sequence[Pull], found: Compared) -> dict[str, Value]:
    first = [smoothed(each, found.rpm) for each in pulls if each.timing == found.first]
    level_nm = float(np.mean(first))
    low, high = (100.0 * float(np.mean(each)) / level_nm for each in (found.low_nm, found.high_nm))
    return {
        "first": found.first,
        "second": found.second,
        "first_pulls": found.pulls[0],
        "second_pulls": found.pulls[1],
        "low_rpm": float(found.rpm[0]),
        "high_rpm": float(found.rpm[-1]),
        "percent": 100.0 * float(np.mean(found.difference_nm)) / level_nm,
        "low_percent": low,
        "high_percent": high,
        "confidence_percent": 100.0 * CONFIDENCE,
        "real": found.real,
        "noise_percent": found.noise_percent,
        "needed": found.needed,
    }


def pull_table(accelerations: Sequence[Acceleration]) -> str:
    """Write accelerations as the table that `sparkwright pulls` reads.

    Parameters
    ----------
    accelerations : sequence of Acceleration
        Those to be kept.
    """
    lines = ["pull,timing,speed_rpm,torque_nm"]
    for each in accelerations:
        lines += [
            f"{each.name},{each.timing},{rpm:.0f},{torque:.2f}"
            for rpm, torque in zip(each.rpm.tolist(), each.torque_nm.tolist(), strict=True)
        ]
    return "\n".join(lines) + "\n"
