"""Sweeps and marks of knock out of the records of a job, and into them."""

from __future__ import annotations

import math
from collections.abc import Iterable

from sparkwright.dyno.sweep import Sweep, SweepPoint
from sparkwright.dyno.table import alike
from sparkwright.evidence import kinds
from sparkwright.evidence.records import Record

LEARNED_FROM = ("sweep", "torque-point", "knock-mark", "pull")
"""Kinds of evidence from which an engine is learned."""


def sweeps_in(records: Iterable[Record]) -> tuple[Sweep, ...]:
    """Give every sweep and mark of knock that counts.

    Points that were typed one by one are a sweep for each number; marks of one speed and load stand
    together, as points without torque, in an order of their own. What is withdrawn or can't be read is left
    out.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind; what was withdrawn doesn't count.
    """
    counted = [each for each in records if each.withdrawn is None]
    whole = [_of_record(each.data, each.id) for each in counted if isinstance(each.data, kinds.SweepReadings)]
    typed: dict[int, list[SweepPoint]] = {}
    marked: dict[tuple[float, float], list[SweepPoint]] = {}
    for each in counted:
        seen = each.data
        if isinstance(seen, kinds.TorquePoint):
            typed.setdefault(seen.sweep, []).append(_point(seen, seen.torque_nm))
        elif isinstance(seen, kinds.KnockMark):
            marked.setdefault((seen.speed_rpm, seen.map_kpa), []).append(_point(seen, math.nan))
    return (
        *whole,
        *(Sweep(typed_name(number), tuple(points)) for number, points in typed.items()),
        *(
            Sweep(f"knock at {rpm:,.0f} rpm and {kpa:g} kPa", tuple(sorted(points, key=repr)))
            for (rpm, kpa), points in marked.items()
        ),
    )


def typed_name(number: int) -> str:
    """Give what a sweep that was typed point by point is called.

    Parameters
    ----------
    number : int
        Number of the typed sweep among those of the job, from 1.
    """
    return f"typed {number}"


def typed_points(records: Iterable[Record], number: int) -> list[Record]:
    """Give the typed points of a sweep, those withdrawn among them.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind.
    number : int
        Number of the typed sweep, from 1.
    """
    found = (each for each in records if isinstance(each.data, kinds.TorquePoint))
    return [each for each in found if isinstance(each.data, kinds.TorquePoint) and each.data.sweep == number]


def number_for(records: Iterable[Record], speed_rpm: float, map_kpa: float) -> int:
    """Say to which sweep a point typed now belongs: the newest, where speed and load are its own.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job, of any kind.
    speed_rpm : float
        Speed of the point typed now [rpm].
    map_kpa : float
        Its manifold pressure [kPa absolute].
    """
    points = [each.data for each in records if isinstance(each.data, kinds.TorquePoint)]
    if not points:
        return 1
    newest = max(each.sweep for each in points)
    first = next(each for each in points if each.sweep == newest)
    here = SweepPoint(speed_rpm, map_kpa, 0.0, 0.0)
    same = alike(SweepPoint(first.speed_rpm, first.map_kpa, 0.0, 0.0), here)
    return newest if same else newest + 1


def sweep_seen(sweep: Sweep) -> kinds.SweepReadings:
    """Give a sweep as it is kept.

    Parameters
    ----------
    sweep : Sweep
        Sweep with its points, as a file of sweeps gives it.

    Raises
    ------
    Refusal
        Where it can't be: torque of no engine, more points than a sweep has.

    Examples
    --------
    >>> sweep_seen(Sweep("a", (SweepPoint(2000.0, 90.0, 20.0, 150.0),))).rows[0].torque_nm
    150.0
    """
    rows = [_row(each) for each in sweep.points]
    kept = {"speed_rpm": sweep.rpm, "map_kpa": sweep.kpa, "name": sweep.name[:80], "rows": rows}
    seen = kinds.read("sweep", 1, kept)
    assert isinstance(seen, kinds.SweepReadings)
    return seen


def _row(point: SweepPoint) -> dict[str, object]:
    noted = {
        "advance_deg": point.advance_deg,
        "torque_nm": point.torque_nm,
        "knock": point.knock,
        "speed_rpm": point.speed_rpm,
        "map_kpa": point.map_kpa,
        "mixture_lambda": point.mixture_lambda,
        "coolant_c": point.coolant_c,
        "intake_air_c": point.intake_c,
        "time_s": point.time_s,
    }
    return {name: value for name, value in noted.items() if value is not None}


def _of_record(seen: kinds.SweepReadings, record_id: int) -> Sweep:
    points = tuple(
        SweepPoint(
            speed_rpm=seen.speed_rpm if row.speed_rpm is None else row.speed_rpm,
            map_kpa=seen.map_kpa if row.map_kpa is None else row.map_kpa,
            advance_deg=row.advance_deg,
            torque_nm=row.torque_nm,
            knock=row.knock,
            mixture_lambda=seen.mixture_lambda if row.mixture_lambda is None else row.mixture_lambda,
            intake_c=seen.intake_air_c if row.intake_air_c is None else row.intake_air_c,
            coolant_c=seen.coolant_c if row.coolant_c is None else row.coolant_c,
            time_s=row.time_s,
        )
        for row in seen.rows
    )
    return Sweep(seen.name or f"sweep {record_id}", points)


def _point(seen: kinds.TorquePoint | kinds.KnockMark, torque_nm: float) -> SweepPoint:
    return SweepPoint(
        seen.speed_rpm,
        seen.map_kpa,
        seen.advance_deg,
        torque_nm,
        seen.knock,
        seen.mixture_lambda,
        seen.intake_air_c,
        seen.coolant_c,
    )
