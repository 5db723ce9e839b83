"""Sweeps that can't be what they say, set aside one by one so that the rest goes on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.dyno.findings import Finding
from sparkwright.dyno.sweep import FEWEST_ADVANCES, Sweep

UNSTEADY_SPEED, UNSTEADY_KPA = 0.06, 8.0
"""Span of speed over its mean [-], and of load [kPa], above which points belong to no one hook; choices."""

STUCK_POINTS = 4
"""Points of different advance with torque alike to the last figure that a stuck sensor gives; a choice."""

LEAST_SPAN_DEG = 4.0
"""Span of advance below which torque says nothing of its top [crank deg]; a choice."""


@dataclass(frozen=True)
class Sorted:
    """Sweeps that are used, those that are set aside, and what was noticed."""

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
    ['given twice']
    """
    used: list[Sweep] = []
    aside: list[Sweep] = []
    findings: list[Finding] = []
    firsts = _firsts(sweeps)
    for sweep in sweeps:
        first = firsts[_contents(sweep)]
        found = list(_wrong(sweep)) if sweep is first else [_twice(sweep, first)]
        findings += found
        (aside if any(each.state == "aside" for each in found) else used).append(sweep)
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
    where = "stands there twice with" if twin.name == sweep.name else "holds"
    whose = "" if twin.name == sweep.name else f" as {twin.name}"
    return Finding(
        "given twice",
        "aside",
        sweep.name,
        f"Sweep {sweep.name} {where} the same points{whose}; it counts once.",
        "If it was measured again, give its own figures.",
    )


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
    advance, torque = sweep.advance_deg, sweep.torque_nm
    speeds = np.array([each.speed_rpm for each in sweep.points])
    loads = np.array([each.map_kpa for each in sweep.points])
    listened = any(each.knock is not None for each in sweep.points)
    if advance.max() < 0.0 and np.ptp(advance) > 0.0:
        yield Finding(
            "sign reversed",
            "aside",
            sweep.name,
            f"Sweep {sweep.name} has advances of {advance.min():g} to {advance.max():g} deg: its sign seems "
            "reversed.",
            "Advance before top dead centre counts positive; turn the signs if so.",
        )
        return
    if torque.max() <= 0.0:
        yield Finding(
            "torque reversed",
            "aside",
            sweep.name,
            f"Sweep {sweep.name} has no torque above 0: the brake's sign seems reversed, or the engine was "
            "dragged.",
            "Give torque that the engine makes as positive.",
        )
        return
    if np.ptp(speeds) > UNSTEADY_SPEED * speeds.mean():
        yield Finding(
            "unsteady speed",
            "aside",
            sweep.name,
            f"Sweep {sweep.name} ran from {speeds.min():,.0f} to {speeds.max():,.0f} rpm: unsteady speed.",
            "Hold speed within 3 % over a sweep, or give its points a name each in the column sweep.",
        )
        return
    if np.ptp(loads) > UNSTEADY_KPA:
        yield Finding(
            "unsteady load",
            "aside",
            sweep.name,
            f"Sweep {sweep.name} ran from {loads.min():g} to {loads.max():g} kPa: unsteady load.",
            "Hold manifold pressure within 4 kPa over a sweep.",
        )
        return
    if len(set(advance.tolist())) >= STUCK_POINTS and np.ptp(torque) == 0.0:
        yield Finding(
            "stuck sensor",
            "aside",
            sweep.name,
            f"Sweep {sweep.name} has the same torque, {torque[0]:g} N m, at every advance: the sensor seems "
            "stuck.",
            "Look at the load cell and its cable, and measure again.",
        )
        return
    if not np.isfinite(torque).any():
        return
    if len(sweep.points) == 1:
        yield _no_top(sweep, "one point", "has one point", listened)
    elif len(set(advance.tolist())) == 1:
        yield _no_top(sweep, "one advance", f"has all its points at {advance[0]:g} deg", listened)
    elif not sweep.determines_a_top or np.ptp(advance) < LEAST_SPAN_DEG:
        yield _no_top(
            sweep,
            "too few advances",
            f"has {len(set(advance.tolist()))} advances over {np.ptp(advance):g} deg",
            listened,
        )


def _no_top(sweep: Sweep, kind: str, what: str, listened: bool) -> Finding:
    keeps = "only what was heard of knock is used" if listened else "it is set aside"
    return Finding(
        kind,
        "look" if listened else "aside",
        sweep.name,
        f"Sweep {sweep.name} {what}: its torque can't place a top, so {keeps}.",
        f"Measure at {FEWEST_ADVANCES} advances or more, 5 deg apart, on both sides of the top.",
    )
