"""Pulls that can't be this engine's, set aside one by one so that the rest goes on.

What steady sweeps leave possible of an engine, or the prior where there are none, foretells the torque of
each pull with its covariance, all unknowns together. A pull lies off by its mean over speed, the level, and
by how it runs over speed, the shape; each is held against its own spread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.dyno.sweep import Sweep, SweepPoint
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.learn.belief import in_order, problem_of
from sparkwright.learn.posterior import posterior_of
from sparkwright.numeric import FloatArray

LEVEL_SIGMAS, SHAPE_SIGMAS = 6.0, 7.0
"""Standard deviations from which a pull's level, and its shape over all speeds together, are taken for
another engine's [-]. Invented engines, whose laws are not the cycle's, lie up to 4.5 and 5.2 off; choices."""

OTHER_PULLS, OWN_SIGMAS = 0.3, 2.0
"""How far the level of a pull may lie from the middle of two or more others, in ln of torque over what is
foretold [-], and how many standard deviations of what is less sure of it than of the surest come on top: far
from best a hook is foretold less firmly; choices."""

STUCK_SPEEDS = 4
"""Speeds with torque alike to the last figure that a stuck sensor gives; a choice."""

ALIKE_NM = 1e-6
"""Torque that differs less is the same, but for rounding [N m]."""

ROUNDED = 1e-6
"""Share of the largest variance below which a direction of the shape is only rounding [-]."""


@dataclass(frozen=True)
class SortedPulls:
    """What is used of pulls, the names of those set aside, and why."""

    used: tuple[Sweep, ...]
    aside: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class _Off:
    """How far one pull lies from what is foretold, in ln of torque, at each of its speeds."""

    rpm: FloatArray
    ln_off: FloatArray
    covariance: FloatArray

    @property
    def level(self) -> float:
        return float(self.ln_off.mean())

    @property
    def level_variance(self) -> float:
        return float(self.covariance.mean())

    @property
    def level_sigmas(self) -> float:
        return abs(self.level) / float(np.sqrt(self.level_variance))

    @property
    def shape(self) -> FloatArray:
        return np.asarray(self.ln_off - self.level)

    @property
    def shape_sigmas(self) -> float:
        """Mahalanobis' distance of the shape."""
        if self.rpm.size < 2:
            return 0.0
        centred = np.eye(self.rpm.size) - 1.0 / self.rpm.size
        inverse = np.linalg.pinv(centred @ self.covariance @ centred, rcond=ROUNDED, hermitian=True)
        return float(np.sqrt(self.shape @ inverse @ self.shape))


def sort_pulls(job: Job, steady: Sequence[Sweep], pulls: Sequence[Sweep]) -> SortedPulls:
    """Set aside the pulls that can't be, were given twice, or are another engine's.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    steady : sequence of Sweep
        Steady sweeps that count.
    pulls : sequence of Sweep
        What pulls say at some speeds, as `points_of_pulls` gives it.
    """
    points = _by_pull(pulls)
    found = dict(_impossible(points))
    rest = _without(pulls, found)
    if rest:
        swept = any(each.determines_a_top for each in steady)
        offs = _offs(job, steady, rest)
        found |= {name: each for name in offs if (each := _stranger(name, offs, swept)) is not None}
    return SortedPulls(tuple(_without(pulls, found)), tuple(sorted(found)), tuple(found.values()))


def _by_pull(pulls: Sequence[Sweep]) -> dict[str, tuple[SweepPoint, ...]]:
    points: dict[str, list[SweepPoint]] = {}
    for sweep in pulls:
        for name, point in zip(sweep.pulls, sweep.points, strict=True):
            points.setdefault(name, []).append(point)
    return {name: tuple(points[name]) for name in sorted(points)}


def _without(pulls: Sequence[Sweep], names: Mapping[str, object]) -> list[Sweep]:
    """Give what pulls say without some of them."""
    kept = []
    for sweep in pulls:
        places = [k for k, name in enumerate(sweep.pulls) if name not in names]
        if places:
            points, left = tuple(sweep.points[k] for k in places), tuple(sweep.pulls[k] for k in places)
            kept.append(replace(sweep, points=points, pulls=left))
    return kept


def _impossible(points: Mapping[str, tuple[SweepPoint, ...]]) -> Iterator[tuple[str, Finding]]:
    """Name what is no pull at all, and what was given twice; of twins the first by name counts."""
    firsts: dict[tuple[SweepPoint, ...], str] = {}
    for name, some in points.items():
        torque = np.array([each.torque_nm for each in some])
        first = firsts.setdefault(some, name)
        if first != name:
            yield name, Finding("pull.given-twice", "problem", {"pull": name, "twin": first})
        elif torque.min() <= 0.0:
            yield name, Finding("pull.torque-reversed", "problem", {"pull": name})
        elif torque.size >= STUCK_SPEEDS and np.ptp(torque) <= ALIKE_NM:
            same = float(torque[0])
            yield name, Finding("pull.stuck-sensor", "problem", {"pull": name, "torque_nm": same})


def _offs(job: Job, steady: Sequence[Sweep], pulls: Sequence[Sweep]) -> dict[str, _Off]:
    """Hold each pull against what steady sweeps alone, or the prior, leave possible."""
    sweeps = in_order((*steady, *pulls))
    problem = problem_of(job, sweeps)
    blind = replace(
        problem,
        sweeps=tuple(
            replace(each, sigma_nm=np.full(each.sigma_nm.size, np.inf)) if sweep.pulls else each
            for sweep, each in zip(sweeps, problem.sweeps, strict=True)
        ),
    )
    posterior = posterior_of(blind)
    rows: dict[str, list[tuple[float, float, FloatArray, float]]] = {}
    for k, (sweep, each) in enumerate(zip(sweeps, problem.sweeps, strict=True)):
        if sweep.pulls:
            torque, _, by, _ = blind.predicted(posterior.middle, k)
            for i, name in enumerate(sweep.pulls):
                if torque[i] <= 0.0 or not np.isfinite(each.sigma_nm[i]):
                    continue
                ln_off, noise = float(np.log(each.torque_nm[i] / torque[i])), each.sigma_nm[i] / torque[i]
                rows.setdefault(name, []).append((sweep.rpm, ln_off, by[i] / torque[i], noise))
    return {name: _off_of(some, posterior.covariance) for name, some in sorted(rows.items())}


def _off_of(rows: Sequence[tuple[float, float, FloatArray, float]], covariance: FloatArray) -> _Off:
    rpm, ln_off, share, noise = (np.array(column) for column in zip(*rows, strict=True))
    return _Off(rpm, ln_off, share @ covariance @ share.T + np.diag(noise**2))


def _stranger(name: str, offs: Mapping[str, _Off], swept: bool) -> Finding | None:
    off, others = offs[name], [each.level for other, each in offs.items() if other != name]
    against = "sweeps" if swept else "job"
    if off.level_sigmas > LEVEL_SIGMAS:
        return _other("pull.other-torque", name, against, torque_ratio=float(np.exp(off.level)))
    from_others = off.level - float(np.median(others)) if len(others) > 1 else 0.0
    own_doubt = off.level_variance - min(each.level_variance for each in offs.values())
    if abs(from_others) > OTHER_PULLS + OWN_SIGMAS * float(np.sqrt(own_doubt)):
        return _other("pull.other-torque", name, "pulls", torque_ratio=float(np.exp(from_others)))
    if off.shape_sigmas > SHAPE_SIGMAS:
        most = int(np.argmax(np.abs(off.shape)))
        percent = 100.0 * float(np.expm1(off.shape[most]))
        return _other("pull.other-shape", name, against, off_percent=percent, rpm=float(off.rpm[most]))
    return None


def _other(kind: str, name: str, against: str, **numbers: float) -> Finding:
    return Finding(kind, "problem", {"pull": name, "against": against, **numbers})
