"""Sweeps that can't be what they say, set aside one by one so that the rest goes on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.dyno.sweep import FEWEST_ADVANCES, Sweep
from sparkwright.findings import Finding

UNSTEADY_SPEED, UNSTEADY_KPA = 0.06, 8.0
"""Span of speed over its mean [-], and of load [kPa], above which points belong to no one hook; choices."""

STUCK_POINTS = 4
"""Points of different advance with torque alike to the last figure that a stuck sensor gives; a choice."""

LEAST_SPAN_DEG = 4.0
"""Span of advance below which torque says nothing of its top [crank deg]; a choice."""


@dataclass(frozen=True)
class Sorted:
    """Sweeps that are used, those that are set aside, and what was noticed.

    A sweep is set aside where one of its findings is to be put right.
    """

    used: tuple[Sweep, ...]
    aside: tuple[Sweep, ...]
    findings: tuple[Finding, ...]


def sort_out(sweeps: Sequence[Sweep]) -> Sorted:
    """Set aside what can't be used, and what was given twice.

    A sweep that is set aside takes no part in anything. One whose torque places no top, but that has marks of
    knock, stays for the marks.

    Parameters
    ----------
    sweeps : sequence of Sweep
        Sweeps as they were given, in any order.

    Examples
    --------
    >>> from sparkwright.dyno.sweep import SweepPoint
    >>> points = tuple(SweepPoint(2000, 90, x, 200.0 - 0.1 * (x - 28) ** 2) for x in (10, 20, 30, 40))
    >>> once = Sweep("a", points)
    >>> [finding.kind for finding in sort_out([once, Sweep("b", once.points)]).findings]
    ['sweep.given-twice']
    """
    used: list[Sweep] = []
    aside: list[Sweep] = []
    findings: list[Finding] = []
    firsts = _firsts(sweeps)
    for sweep in sweeps:
        first = firsts[_contents(sweep)]
        found = list(_wrong(sweep)) if sweep is first else [_twice(sweep, first)]
        findings += found
        (aside if any(each.state == "problem" for each in found) else used).append(sweep)
    return Sorted(tuple(used), tuple(aside), tuple(findings))


def _contents(sweep: Sweep) -> tuple[str, ...]:
    """Give what sweeps of the same points share, in whatever order those stand."""
    return tuple(sorted(repr(each) for each in sweep.points))


def _firsts(sweeps: Sequence[Sweep]) -> dict[tuple[str, ...], Sweep]:
    """Give the one that counts of sweeps of the same points, whatever order they come in."""
    firsts: dict[tuple[str, ...], Sweep] = {}
    for sweep in sorted(sweeps, key=lambda each: (repr(each.points), each.name)):
        firsts.setdefault(_contents(sweep), sweep)
    return firsts


def _twice(sweep: Sweep, twin: Sweep) -> Finding:
    return Finding("sweep.given-twice", "problem", {"sweep": sweep.name, "twin": twin.name})


def new_among(given: Sequence[Sweep], kept: Sequence[Sweep]) -> tuple[Sweep, ...]:
    """Give the sweeps that can be used and aren't kept already.

    Parameters
    ----------
    given : sequence of Sweep
        Sweeps as they were given now.
    kept : sequence of Sweep
        Those that are kept already.
    """
    there = {_contents(each) for each in kept}
    return tuple(each for each in sort_out(given).used if _contents(each) not in there)


def _wrong(sweep: Sweep) -> Iterator[Finding]:
    impossible = _impossible(sweep)
    if impossible is not None:
        yield impossible
    elif np.isfinite(sweep.torque_nm).any():
        yield from _without_a_top(sweep)


def _impossible(sweep: Sweep) -> Finding | None:
    """Name the first thing for which none of a sweep can be used."""
    advance, torque = sweep.advance_deg, sweep.torque_nm
    speeds = np.array([each.speed_rpm for each in sweep.points])
    loads = np.array([each.map_kpa for each in sweep.points])
    if advance.max() < 0.0 and np.ptp(advance) > 0.0:
        return _put_right("sweep.sign-reversed", sweep, least_deg=advance.min(), most_deg=advance.max())
    if torque.max() <= 0.0:
        return _put_right("sweep.torque-reversed", sweep)
    if np.ptp(speeds) > UNSTEADY_SPEED * speeds.mean():
        return _put_right("sweep.unsteady-speed", sweep, least_rpm=speeds.min(), most_rpm=speeds.max())
    if np.ptp(loads) > UNSTEADY_KPA:
        return _put_right("sweep.unsteady-load", sweep, least_kpa=loads.min(), most_kpa=loads.max())
    if len(set(advance.tolist())) >= STUCK_POINTS and np.ptp(torque) == 0.0:
        return _put_right("sweep.stuck-sensor", sweep, torque_nm=torque[0])
    return None


def _put_right(kind: str, sweep: Sweep, **numbers: float) -> Finding:
    plain = {name: float(value) for name, value in numbers.items()}
    return Finding(kind, "problem", {"sweep": sweep.name, **plain})


def _without_a_top(sweep: Sweep) -> Iterator[Finding]:
    """Say why torque can't place a top, where it can't; such a sweep stays if anybody listened for knock."""
    advances = set(sweep.advance_deg.tolist())
    span_deg = float(np.ptp(sweep.advance_deg))
    if sweep.determines_a_top and span_deg >= LEAST_SPAN_DEG:
        return
    listened = any(each.knock is not None for each in sweep.points)
    yield Finding(
        "sweep.no-top",
        "look" if listened else "problem",
        {
            "sweep": sweep.name,
            "points": len(sweep.points),
            "advances": len(advances),
            "first_deg": float(sweep.advance_deg[0]),
            "span_deg": span_deg,
            "fewest": FEWEST_ADVANCES,
            "listened": listened,
        },
    )
