"""Pulls out of the records of a job, and into them; and all from which its engine is learned."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from sparkwright.dyno.pull_points import points_of_pulls
from sparkwright.dyno.pulls import AS_IT_WAS, Pull
from sparkwright.dyno.sweep import Sweep
from sparkwright.evidence import kinds
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import sweeps_in

THINNED_RPM = 5.0
"""Readings of a long pull are kept as means over so much speed [rpm]: far less than it is smoothed by."""


def pulls_in(records: Iterable[Record]) -> tuple[Pull, ...]:
    """Give every pull at a brake that counts, each under a name of its own; what is withdrawn is left out.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind.
    """
    return tuple(
        _of_record(each.data, each.id)
        for each in records
        if each.withdrawn is None and isinstance(each.data, kinds.PullReadings) and each.data.road is None
    )


def taught_by(records: Iterable[Record]) -> tuple[Sweep, ...]:
    """Give all from which an engine is learned: sweeps, marks of knock, and what pulls say at some speeds.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind; what was withdrawn doesn't count.
    """
    kept = tuple(records)
    return (*sweeps_in(kept), *points_of_pulls(pulls_in(kept)))


def pull_seen(pull: Pull) -> kinds.PullReadings:
    """Give a pull as it is kept.

    Parameters
    ----------
    pull : Pull
        The pull, as a file of pulls gives it.

    Raises
    ------
    Refusal
        Where it can't be: speed or torque of no engine.

    Examples
    --------
    >>> rpm = np.linspace(2000.0, 5000.0, 11)
    >>> seen = pull_seen(Pull("a", "28 deg", rpm, 300.0 + 0.0 * rpm, 28.0 + 0.0 * rpm, 98.0))
    >>> seen.advance_deg, seen.rows[0]
    (28.0, PullRow(speed_rpm=2000.0, torque_nm=300.0, advance_deg=None))
    """
    advance = pull.advance_deg
    one = None if advance is None or np.ptp(advance) > 0.0 else float(advance[0])
    columns = {"speed_rpm": pull.rpm, "torque_nm": pull.torque_nm}
    if advance is not None and one is None:
        columns["advance_deg"] = advance
    columns = _thinned(columns)
    rows = [
        {name: round(float(values[k]), 4) for name, values in columns.items()}
        for k in range(columns["speed_rpm"].size)
    ]
    known: dict[str, object] = {
        "advance_deg": one,
        "map_kpa": pull.map_kpa,
        "mixture_lambda": pull.mixture_lambda,
        "intake_air_c": pull.intake_c,
    }
    kept = known | {"rows": rows, "name": pull.name[:80] or None, "timing": pull.timing[:80] or None}
    seen = kinds.read("pull", 1, {name: value for name, value in kept.items() if value is not None})
    assert isinstance(seen, kinds.PullReadings)
    return seen


def new_among(given: Iterable[kinds.PullReadings], records: Iterable[Record]) -> list[kinds.PullReadings]:
    """Give the pulls that aren't kept already, each once.

    Parameters
    ----------
    given : iterable of PullReadings
        Pulls as they were given now.
    records : iterable of Record
        Evidence of the job; what was withdrawn may be given anew.
    """
    kept = [each.data for each in records if each.withdrawn is None]
    there = {_contents(each) for each in kept if isinstance(each, kinds.PullReadings)}
    found = []
    for each in given:
        if _contents(each) not in there:
            there.add(_contents(each))
            found.append(each)
    return found


def _contents(seen: kinds.PullReadings) -> tuple[object, ...]:
    """Give what a pull has in common with itself given anew, whatever it is called then."""
    return (seen.rows, seen.advance_deg, seen.map_kpa)


def _thinned(columns: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Give means over a few rpm where there are more readings than are kept."""
    rpm = columns["speed_rpm"]
    if rpm.size <= kinds.MOST_READINGS:
        return columns
    step = max(THINNED_RPM, float(np.ptp(rpm)) / (kinds.MOST_READINGS - 2))
    _, place, count = np.unique(np.round(rpm / step), return_inverse=True, return_counts=True)
    return {name: np.bincount(place, weights=values) / count for name, values in columns.items()}


def _of_record(seen: kinds.PullReadings, record_id: int) -> Pull:
    advance = [seen.advance_deg if each.advance_deg is None else each.advance_deg for each in seen.rows]
    known = [each for each in advance if each is not None]
    return Pull(
        f"{seen.name or 'pull'} ({record_id})",
        seen.timing or AS_IT_WAS,
        np.array([each.speed_rpm for each in seen.rows]),
        np.array([each.torque_nm for each in seen.rows]),
        np.array(known) if len(known) == len(advance) else None,
        seen.map_kpa,
        seen.mixture_lambda,
        seen.intake_air_c,
    )
