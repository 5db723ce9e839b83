"""What pulls say of hooks: at some speeds the torque of each, at the advance at which it was run.

Pulls at one load stand side by side at each speed, a point each, as a sweep does; only that each point keeps
the name of its pull, since what a pull reads too high it reads too high at every speed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from sparkwright.dyno.pulls import AS_IT_WAS, BANDWIDTH_RPM, STEP_RPM, Pull, smoothed
from sparkwright.dyno.sweep import Sweep, SweepPoint
from sparkwright.numeric import FloatArray

SPEEDS = 6
"""Speeds at which pulls teach: each costs learning its own run of the cycle; a choice."""

ONE_LOAD_KPA = 3.0
"""Pulls whose loads lie closer than this stand side by side [kPa]; a choice."""


def teaches(pull: Pull) -> bool:
    """Tell whether a pull says at what advance and load it was run.

    Parameters
    ----------
    pull : Pull
        The pull.
    """
    return pull.advance_deg is not None and pull.map_kpa is not None


def as_run(pull: Pull, advance_deg: float | None, map_kpa: float | None) -> Pull:
    """Give a pull with the advance and load at which it was run, where its own readings don't say them.

    Parameters
    ----------
    pull : Pull
        The pull.
    advance_deg : float or None
        Advance over all its speeds [crank deg before top dead centre].
    map_kpa : float or None
        Pressure in the manifold [kPa absolute].
    """
    own = pull.advance_deg
    if own is None and advance_deg is not None:
        own = np.full(pull.rpm.size, advance_deg)
    timing = (
        f"{advance_deg:g} deg" if pull.timing == AS_IT_WAS and own is not pull.advance_deg else pull.timing
    )
    load = map_kpa if pull.map_kpa is None else pull.map_kpa
    return replace(pull, timing=timing, advance_deg=own, map_kpa=load)


def points_of_pulls(pulls: Sequence[Pull]) -> tuple[Sweep, ...]:
    """Give what pulls say at some speeds, a sweep for each speed and load; their order changes nothing.

    Parameters
    ----------
    pulls : sequence of Pull
        Pulls of one engine; those that don't say their advance and load are left out.

    Examples
    --------
    >>> rpm = np.linspace(2000.0, 5000.0, 61)
    >>> at = [Pull(f"{deg}", "", rpm, 0.0 * rpm + 300.0 + deg, 0.0 * rpm + deg, 98.0) for deg in (28, 32)]
    >>> found = points_of_pulls(at)
    >>> found[0].name, [(each.advance_deg, round(each.torque_nm)) for each in found[0].points]
    ('pulls at 2,000 rpm', [(28.0, 328), (32.0, 332)])
    """
    known = sorted((each for each in pulls if teaches(each)), key=_order)
    return tuple(sweep for group in _loads(known) for sweep in _side_by_side(group))


def _order(pull: Pull) -> tuple[float, str, bytes]:
    return (pull.map_kpa or 0.0, pull.name, pull.torque_nm.tobytes())


def _loads(pulls: Sequence[Pull]) -> Iterator[list[Pull]]:
    group: list[Pull] = []
    for each in pulls:
        if group and (each.map_kpa or 0.0) - (group[0].map_kpa or 0.0) > ONE_LOAD_KPA:
            yield group
            group = []
        group.append(each)
    if group:
        yield group


def _side_by_side(pulls: Sequence[Pull]) -> Iterator[Sweep]:
    low = min(float(each.rpm.min()) for each in pulls)
    high = max(float(each.rpm.max()) for each in pulls)
    speeds = STEP_RPM * np.unique(np.round(np.linspace(low, high, SPEEDS) / STEP_RPM))
    for rpm in speeds.tolist():
        there = [each for each in pulls if each.rpm.min() - STEP_RPM <= rpm <= each.rpm.max() + STEP_RPM]
        points = tuple(_point(each, rpm) for each in there)
        if points:
            yield Sweep(f"pulls at {rpm:,.0f} rpm", points, tuple(each.name for each in there))


def _point(pull: Pull, rpm: float) -> SweepPoint:
    assert pull.advance_deg is not None
    assert pull.map_kpa is not None
    torque: FloatArray = smoothed(pull, np.array([rpm]), BANDWIDTH_RPM)
    return SweepPoint(
        rpm,
        pull.map_kpa,
        float(np.interp(rpm, pull.rpm, pull.advance_deg)),
        float(torque[0]),
        mixture_lambda=pull.mixture_lambda,
        intake_c=pull.intake_c,
    )
