"""Accelerations of a drive as pulls: timings held against each other, a table to keep, and evidence.

The road gives torque by facts that are assumed or stated; the ratio of two timings is what is told. As
evidence they teach nothing: read off in scale by what mass and grade are taken for, and along speed by drag
and wind, they move best by more than they tell of it, since along a map advance rises as speed does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from sparkwright.drive.accelerations import SAME_GEAR, Acceleration
from sparkwright.drive.result import DriveResult
from sparkwright.dyno.pulls import (
    CONFIDENCE,
    FEWEST_READINGS,
    Compared,
    Pull,
    compared,
    smoothed,
    speeds_of,
)
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import PullReadings, RoadRun, read
from sparkwright.evidence.records import Record
from sparkwright.findings import Finding, Value

FEWEST_SPEEDS = 5
MASS = "vehicle.mass_kg"
"""Fact of the job without which torque on the road isn't even about right."""


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


def road_pulls_of(result: DriveResult, drive: str) -> list[PullReadings]:
    """Give a drive's accelerations as they are kept; those too short to be compared are left out.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    drive : str
        Name of its file.

    Raises
    ------
    Refusal
        Where one can't be: speed or torque of no engine.
    """
    stated = all(each.field != MASS for each in result.assumed)
    long = [each for each in result.accelerations if each.rpm.size >= FEWEST_READINGS]
    return [_kept(each, drive, stated) for each in long]


def _kept(pull: Acceleration, drive: str, mass_stated: bool) -> PullReadings:
    road: dict[str, object] = {
        "drive": drive[:80],
        "gear_rpm_h_km": round(pull.gear, 4),
        "mass_stated": mass_stated,
    }
    if not np.isnan(pull.off_map_deg):
        road["off_map_deg"] = round(pull.off_map_deg, 3)
    rows = [
        {"speed_rpm": round(rpm, 2), "torque_nm": round(torque, 3)}
        for rpm, torque in zip(pull.rpm.tolist(), pull.torque_nm.tolist(), strict=True)
    ]
    seen = read("pull", 1, {"rows": rows, "name": pull.name, "timing": pull.timing, "road": road})
    assert isinstance(seen, PullReadings)
    return seen


def kept_road_pulls(records: Iterable[Record]) -> list[PullReadings]:
    """Give every pull on the road that counts.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind; what was withdrawn doesn't count.
    """
    counted = [each.data for each in records if each.withdrawn is None]
    return [each for each in counted if isinstance(each, PullReadings) and each.road is not None]


def kept_road_findings(records: Iterable[Record]) -> list[Found]:
    """Tell what kept pulls on the road say of timing, drive by drive and gear by gear.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind; what was withdrawn doesn't count.
    """
    drives: dict[str, list[Acceleration]] = {}
    for seen in kept_road_pulls(records):
        if seen.road is not None:
            drives.setdefault(seen.road.drive, []).append(_run_again(seen, seen.road))
    return [Found(told, drive) for drive in sorted(drives) for told in pull_findings(drives[drive])]


def _run_again(seen: PullReadings, road: RoadRun) -> Acceleration:
    return Acceleration(
        name=seen.name,
        timing=seen.timing,
        gear=road.gear_rpm_h_km,
        file=0,
        from_s=float("nan"),
        to_s=float("nan"),
        off_map_deg=float("nan") if road.off_map_deg is None else road.off_map_deg,
        rpm=np.array([each.speed_rpm for each in seen.rows]),
        torque_nm=np.array([each.torque_nm for each in seen.rows]),
    )
