"""The hook of one sweep: where its top lies, how flat it is, and what keeps it from being known.

The cycle gives the shape, the sweep its place: the cycle's hook is moved along advance, stretched about its
top and scaled, and torque may drift in a straight line over the sweep. How far each may go is held by a
normal prior that a sweep of seven points outweighs. A point's pull stops
growing some way off, so that one bad point does not lead (Huber 1964, in its smooth form). Solved by least
squares (SciPy's trust region); intervals come from the curvature at the solution.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares
from scipy.stats import norm

from sparkwright.dyno.sweep import FloatArray, Sweep
from sparkwright.findings import Finding

NOISE = 0.005
"""Scatter of a steady reading of torque over torque [-]; recalled, of a good brake."""

MOVE_SIGMA_DEG, STRETCH_SIGMA, DRIFT_SIGMA = 8.0, 0.15, 0.005
"""How far a hook may lie from the cycle's [crank deg], how much wider it may be, in ln [-], and how much
torque may drift over a sweep [-]; one standard deviation each, choices."""

REPEATED_DRIFT_SIGMA = 0.02
"""The same of drift where an advance was measured twice, which tells drift from timing [-]; a choice."""

PULL = 3.0
"""Standard deviations from which a point's pull stops growing [-]; a choice."""

TOP_DROP = 0.01
"""The share of torque [-] by which the 99 % points lie below the top."""

DRIFT_TOLD = 0.005
"""Drift over a sweep that is told [-]."""

WARMING_TOLD_K = 10.0
"""Change of coolant or intake air within a sweep that is told [K]; common practice, no source."""

_CONFIDENCE = 0.9


@dataclass(frozen=True)
class SweepFit:
    """What a sweep says. Angles in crank deg; nan where it is not determined.

    ``best_low_deg`` to ``best_high_deg`` is the 90 % interval of best; ``curvature_percent_deg2`` the share
    of torque lost at one degree off the top. ``knock_from_deg`` to ``knock_to_deg`` holds the knock limit:
    the most advance that was heard without knock, and the least with it. ``scatter_percent`` is that about
    the fitted hook.
    """

    sweep: str
    rpm: float
    kpa: float
    points: int
    best_deg: float
    best_low_deg: float
    best_high_deg: float
    best_torque_nm: float
    late99_deg: float
    early99_deg: float
    curvature_percent_deg2: float
    drift_percent: float
    scatter_percent: float
    crossed_top: bool
    knock_from_deg: float
    knock_to_deg: float
    fitted_nm: FloatArray
    findings: tuple[Finding, ...]
    from_cycle_deg: float = float("nan")
    """Best less that of the cycle for this job [crank deg]."""
    torque_ratio: float = float("nan")
    """Torque at best over that of the cycle for this job [-]."""


def fit_sweep(sweep: Sweep, advance_deg: FloatArray, torque_nm: FloatArray) -> SweepFit:
    """Fit the hook of a sweep.

    Parameters
    ----------
    sweep : Sweep
        What was measured, at three different advances or more.
    advance_deg, torque_nm : array
        The cycle's hook at this speed and load, rising in advance [crank deg], [N m].

    Returns
    -------
    SweepFit
        Best with its interval, width, drift, and what was noticed.

    Examples
    --------
    >>> from sparkwright.dyno.sweep import SweepPoint
    >>> shape = np.linspace(0.0, 60.0, 31)
    >>> torque = lambda advance, best: 200.0 * (1.0 - 3e-4 * (advance - best) ** 2)
    >>> points = tuple(SweepPoint(2000, 90, a, torque(a, 27.0)) for a in (10.0, 16.0, 22.0, 28.0, 34.0, 40.0))
    >>> round(fit_sweep(Sweep("a", points), shape, torque(shape, 31.0)).best_deg, 1)
    27.0
    """
    curve = CubicSpline(advance_deg, torque_nm)
    tops = curve.derivative().roots(extrapolate=False)
    top = float(max(tops, key=curve)) if len(tops) else float(advance_deg[int(np.argmax(torque_nm))])
    measured, advance = sweep.torque_nm, sweep.advance_deg
    drift_sigma = DRIFT_SIGMA if _repeats(sweep) is None else REPEATED_DRIFT_SIGMA
    sigma = np.maximum(NOISE * np.abs(measured), 1e-6 * np.abs(measured).max())

    def hook(x: FloatArray, at_deg: FloatArray, elapsed: FloatArray | float) -> FloatArray:
        place = top + np.exp(x[2]) * (at_deg - top - x[1])
        held = np.clip(place, advance_deg[0], advance_deg[-1])
        beyond = place - held
        return np.asarray(
            np.exp(x[0]) * (curve(held) + curve(held, 1) * beyond) * (1.0 + drift_sigma * x[3] * elapsed)
        )

    def residuals(x: FloatArray) -> FloatArray:
        off = (hook(x, advance, sweep.elapsed) - measured) / sigma
        robust = off * np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + (off / PULL) ** 2)))
        return np.concatenate([robust, [x[1] / MOVE_SIGMA_DEG, x[2] / STRETCH_SIGMA, x[3]]])

    found = min(
        (_solved(residuals, start) for start in _starts(sweep, curve, top)), key=lambda each: each.cost
    )
    x = found.x
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    best = top + x[1]
    reach = float(norm.ppf(0.5 + 0.5 * _CONFIDENCE)) * float(np.sqrt(covariance[1, 1]))
    torque = float(hook(x, np.array([best]), 0.0)[0])
    grid = np.linspace(best - 25.0, best + 25.0, 1001)
    along = hook(x, grid, 0.0)
    late, early = (_where(grid, along, (1.0 - TOP_DROP) * torque, side) for side in (-1, 1))
    near = hook(x, np.array([best - 2.0, best + 2.0]), 0.0)
    fitted = hook(x, advance, sweep.elapsed)
    heard = [(each.advance_deg, each.knock) for each in sweep.points if each.knock is not None]
    quiet = max((at for at, knock in heard if knock == "none"), default=float("nan"))
    loud = min((at for at, knock in heard if knock != "none"), default=float("nan"))
    fit = SweepFit(
        sweep=sweep.name,
        rpm=sweep.rpm,
        kpa=sweep.kpa,
        points=len(sweep.points),
        best_deg=float(best),
        best_low_deg=float(best - reach),
        best_high_deg=float(best + reach),
        best_torque_nm=torque,
        late99_deg=late,
        early99_deg=early,
        curvature_percent_deg2=float(100.0 * (1.0 - near.mean() / torque) / 4.0),
        drift_percent=float(100.0 * drift_sigma * x[3]),
        scatter_percent=float(100.0 * np.sqrt(np.mean((fitted / measured - 1.0) ** 2))),
        crossed_top=bool(advance.min() < best < advance.max()),
        knock_from_deg=quiet,
        knock_to_deg=loud,
        fitted_nm=fitted,
        findings=(),
    )
    return replace(fit, findings=noticed(sweep, fit))


def _starts(sweep: Sweep, curve: CubicSpline, top: float) -> list[FloatArray]:
    """Give starts at the cycle's own place and at the highest point measured."""
    highest = int(np.argmax(sweep.torque_nm))
    level = float(np.log(max(sweep.torque_nm[highest], 1e-6) / max(float(curve(top)), 1e-6)))
    return [np.array([level, move, 0.0, 0.0]) for move in (0.0, float(sweep.advance_deg[highest]) - top)]


def _solved(residuals: Callable[[FloatArray], FloatArray], start: FloatArray) -> Any:
    return least_squares(residuals, start, x_scale=[0.05, 3.0, 0.1, 1.0], xtol=1e-10, ftol=1e-10)


def _where(grid: FloatArray, along: FloatArray, level: float, side: int) -> float:
    """Give where a hook has fallen to a level on one side of its middle; nan where it doesn't."""
    half = along.size // 2
    values, places = (along[half::-1], grid[half::-1]) if side < 0 else (along[half:], grid[half:])
    below = np.flatnonzero(values < level)
    return float(places[below[0]]) if below.size else float("nan")


def noticed(sweep: Sweep, fit: SweepFit) -> tuple[Finding, ...]:
    """Say what keeps a sweep from telling more.

    Parameters
    ----------
    sweep : Sweep
        What was measured.
    fit : SweepFit
        The hook fitted to it.
    """
    found = [*_short_of_the_top(sweep, fit)]
    if abs(fit.drift_percent) > 100.0 * DRIFT_TOLD:
        found.append(_seen("sweep.drift", sweep, drift_percent=fit.drift_percent))
    for field, kind in (("coolant_c", "sweep.coolant-moved"), ("intake_c", "sweep.intake-moved")):
        values = [value for each in sweep.points if (value := getattr(each, field)) is not None]
        if values and max(values) - min(values) > WARMING_TOLD_K:
            found.append(_seen(kind, sweep, least_c=min(values), most_c=max(values)))
    repeated = _repeats(sweep)
    if repeated is not None and repeated > 100.0 * 2.0 * NOISE:
        found.append(_seen("sweep.repeat-differs", sweep, differs_percent=repeated))
    return tuple(found)


def _short_of_the_top(sweep: Sweep, fit: SweepFit) -> Iterator[Finding]:
    if fit.crossed_top:
        return
    least_deg, most_deg = float(sweep.advance_deg.min()), float(sweep.advance_deg.max())
    top_is_earlier = fit.best_deg >= most_deg
    if top_is_earlier and not np.isnan(fit.knock_to_deg):
        yield _seen("sweep.cut-short-by-knock", sweep, knock_to_deg=fit.knock_to_deg)
    else:
        end_deg = most_deg if top_is_earlier else least_deg
        yield _seen("sweep.not-crossed", sweep, end_deg=end_deg, top_is_earlier=top_is_earlier)


def _seen(kind: str, sweep: Sweep, **numbers: float) -> Finding:
    return Finding(kind, "look", {"sweep": sweep.name, **numbers})


def _repeats(sweep: Sweep) -> float | None:
    """Give the largest difference of torque between points of one advance [%]; None without such points."""
    by_advance: dict[float, list[float]] = {}
    for each in sweep.points:
        by_advance.setdefault(each.advance_deg, []).append(each.torque_nm)
    spans = [100.0 * (max(each) - min(each)) / max(each) for each in by_advance.values() if len(each) > 1]
    return max(spans, default=None)
