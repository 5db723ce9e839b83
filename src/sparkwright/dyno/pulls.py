"""Pulls at full throttle: torque over speed, smoothed, and pulls at two timings held against each other.

Torque comes as it is, from power, or from a drum of known inertia: what speeds a drum up is its inertia
times its angular acceleration, and what it loses by itself is read while it coasts. A pull is smoothed by a
straight line fitted about each speed with normal weights (Fan and Gijbels, Local Polynomial Modelling, 1996,
ch. 2); the bandwidth is one standard deviation of these weights. How far pulls at one timing lie apart is the
noise, pooled over timings and speeds; a difference has Student's interval with the degrees of freedom of the
repeats.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, pi

import numpy as np
from scipy.stats import t as student

from sparkwright.numeric import FloatArray

BANDWIDTH_RPM = 100.0
"""Usual bandwidth of the smoothing [rpm]; a choice."""

STEP_RPM = 50.0
"""Speeds at which pulls are compared lie so far apart [rpm]."""

AS_IT_WAS = "as it was"
"""Timing of a pull of which nobody said it."""

CONFIDENCE = 0.90
WANTED_PERCENT = 1.0
"""The difference that is to be seen [%]."""

FEWEST_READINGS = 10
"""Readings without which nothing is smoothed."""

MOST_PULLS = 1000
APART_BANDWIDTHS = 4.0
"""Speeds so many bandwidths apart share next to no reading."""

RPM_TO_RAD_S = 2.0 * pi / 60.0


@dataclass(frozen=True, eq=False)
class Pull:
    """One pull, torque at the crank over rising speed; ``timing`` is what it was run at, in words.

    ``advance_deg`` is the advance at each speed [crank deg before top dead centre], ``map_kpa`` the pressure
    in the manifold [kPa absolute]; without both a pull is compared but teaches nothing. None where not
    known.
    """

    name: str
    timing: str
    rpm: FloatArray
    torque_nm: FloatArray
    advance_deg: FloatArray | None = None
    map_kpa: float | None = None
    mixture_lambda: float | None = None
    intake_c: float | None = None


@dataclass(frozen=True, eq=False)
class Coasting:
    """What a drum loses by itself: torque at the drum as a parabola of its speed [rad/s]."""

    coefficients_nm: FloatArray

    def torque_nm(self, drum_rad_s: FloatArray) -> FloatArray:
        """Give the torque that slows the drum [N m].

        Parameters
        ----------
        drum_rad_s : array
            Speed of the drum [rad/s].
        """
        return np.asarray(np.polyval(self.coefficients_nm, drum_rad_s))


@dataclass(frozen=True, eq=False)
class Compared:
    """Pulls at a second timing less those at a first, over the speeds that all of them reach.

    ``low_nm`` to ``high_nm`` holds the difference at all speeds together with 90 %; nan without repeats.
    ``real`` lists the stretches of speed in which it isn't 0 [rpm]. ``needed`` is how many pulls at each
    timing would show 1 %; None without repeats.
    """

    first: str
    second: str
    pulls: tuple[int, int]
    rpm: FloatArray
    difference_nm: FloatArray
    low_nm: FloatArray
    high_nm: FloatArray
    real: tuple[tuple[float, float], ...]
    noise_percent: float
    needed: int | None


def torque_of_power(rpm: FloatArray, power_w: FloatArray) -> FloatArray:
    """Give torque [N m] from power [W].

    Parameters
    ----------
    rpm : array
        Engine speed [rpm], above 0.
    power_w : array
        Power at each speed [W].

    Examples
    --------
    >>> torque_of_power(np.array([3000.0]), np.array([100_000.0])).round(2).tolist()
    [318.31]
    """
    return np.asarray(power_w / (rpm * RPM_TO_RAD_S))


def torque_of_drum(
    time_s: FloatArray,
    rpm: FloatArray,
    drum_rpm: FloatArray,
    inertia_kg_m2: float,
    bandwidth_rpm: float,
    coasting: Coasting | None = None,
) -> FloatArray:
    """Give torque at the crank from a drum that is sped up.

    Parameters
    ----------
    time_s, rpm, drum_rpm : array
        Time [s], and the speeds of engine and drum [rpm].
    inertia_kg_m2 : float
        Of the drum and what turns with it, at the drum [kg m2].
    bandwidth_rpm : float
        Of the straight lines that give the acceleration, in engine speed [rpm].
    coasting : Coasting, optional
        What the drum loses by itself; else the losses stay in the torque.
    """
    drum = drum_rpm * RPM_TO_RAD_S
    rate = abs(float(np.polyfit(time_s, rpm, 1)[0]))
    _, acceleration = local_line(time_s, drum, time_s, bandwidth_rpm / max(rate, 1e-9))
    lost = 0.0 if coasting is None else coasting.torque_nm(drum)
    return np.asarray((inertia_kg_m2 * acceleration + lost) * drum_rpm / rpm)


def coasting_of(time_s: FloatArray, drum_rpm: FloatArray, inertia_kg_m2: float) -> Coasting:
    """Find what a drum loses from how it slows down by itself.

    Speed over time is taken as a cubic, and the torque read off it as a parabola of speed.

    Parameters
    ----------
    time_s : array
        Time of each reading [s], rising.
    drum_rpm : array
        Speed of the drum at each [rpm].
    inertia_kg_m2 : float
        Inertia of the drum [kg m2].
    """
    drum = drum_rpm * RPM_TO_RAD_S
    speed = np.polynomial.Polynomial.fit(time_s, drum, 3)
    lost = -inertia_kg_m2 * speed.deriv()(time_s)
    return Coasting(np.polyfit(speed(time_s), lost, 2))


def local_line(
    x: FloatArray, y: FloatArray, at: FloatArray, bandwidth: float
) -> tuple[FloatArray, FloatArray]:
    """Fit a straight line about each place with normal weights; give its value and its slope there.

    Parameters
    ----------
    x : array
        Where each reading stands.
    y : array
        What was read there.
    at : array
        Places at which the line is wanted.
    bandwidth : float
        Standard deviation of the normal weights, in the unit of ``x``.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 3.0, 4.0])
    >>> value, slope = local_line(x, 2.0 + 3.0 * x, np.array([2.0]), 1.0)
    >>> value.round(9).tolist(), slope.round(9).tolist()
    ([8.0], [3.0])
    """
    off = x[None, :] - at[:, None]
    weight = np.exp(-0.5 * (off / bandwidth) ** 2)
    s0, s1, s2 = (np.sum(weight * off**k, axis=1) for k in range(3))
    t0, t1 = (np.sum(weight * off**k * y, axis=1) for k in range(2))
    under = s0 * s2 - s1**2
    with np.errstate(divide="ignore", invalid="ignore"):
        value, slope = (s2 * t0 - s1 * t1) / under, (s0 * t1 - s1 * t0) / under
    found = under > 1e-12 * s0 * np.maximum(s2, bandwidth**2 * 1e-6)
    return np.where(found, value, np.nan), np.where(found, slope, np.nan)


def smoothed(pull: Pull, rpm: FloatArray, bandwidth_rpm: float = BANDWIDTH_RPM) -> FloatArray:
    """Give the torque of a pull at some speeds [N m], smoothed.

    Parameters
    ----------
    pull : Pull
        The pull, with its torque at each speed.
    rpm : array
        Speeds at which it is wanted [rpm].
    bandwidth_rpm : float, optional
        Standard deviation of the normal weights [rpm].
    """
    return local_line(pull.rpm, pull.torque_nm, rpm, bandwidth_rpm)[0]


def speeds_of(pulls: Sequence[Pull]) -> FloatArray:
    """Give the even speeds that all of some pulls reach [rpm]; none where they have no speed in common.

    Parameters
    ----------
    pulls : sequence of Pull
        The pulls that shall be held against each other.
    """
    low = ceil(max(float(each.rpm.min()) for each in pulls) / STEP_RPM)
    high = int(min(float(each.rpm.max()) for each in pulls) // STEP_RPM)
    return STEP_RPM * np.arange(low, high + 1, dtype=float)


def compared(
    pulls: Sequence[Pull], first: str, second: str, bandwidth_rpm: float = BANDWIDTH_RPM
) -> Compared:
    """Hold the pulls at a second timing against those at a first.

    Parameters
    ----------
    pulls : sequence of Pull
        All of one day, as measured; those at further timings tell of the noise too.
    first, second : str
        The two timings.
    bandwidth_rpm : float
        Of the smoothing [rpm].
    """
    groups: dict[str, list[Pull]] = {}
    for each in pulls:
        groups.setdefault(each.timing, []).append(each)
    rpm = speeds_of(pulls)
    curves = {
        timing: np.array([smoothed(each, rpm, bandwidth_rpm) for each in some])
        for timing, some in groups.items()
    }
    difference = curves[second].mean(axis=0) - curves[first].mean(axis=0)
    level = float(np.mean([curve.mean() for curve in curves.values()]))
    variance, freedom = _noise(curves)
    counts = (len(groups[first]), len(groups[second]))
    reach = _reach(variance, freedom, counts, _stretches(rpm, bandwidth_rpm))
    low, high = difference - reach, difference + reach
    return Compared(
        first=first,
        second=second,
        pulls=counts,
        rpm=rpm,
        difference_nm=difference,
        low_nm=low,
        high_nm=high,
        real=_real(rpm, (low > 0.0) | (high < 0.0)),
        noise_percent=100.0 * float(np.sqrt(variance)) / level,
        needed=_needed(100.0 * float(np.sqrt(variance)) / level) if freedom else None,
    )


def _noise(curves: Mapping[str, FloatArray]) -> tuple[float, int]:
    """Variance of a pull about its timing's mean, pooled over speeds [(N m)^2], and its degrees of freedom.

    Speeds of one pull err together, so that they add none.
    """
    freedom = sum(len(each) - 1 for each in curves.values())
    if not freedom:
        return float("nan"), 0
    squares = sum(float(np.sum((each - each.mean(axis=0)) ** 2)) / each.shape[1] for each in curves.values())
    return squares / freedom, freedom


def _stretches(rpm: FloatArray, bandwidth_rpm: float) -> int:
    """Count the stretches of speed that are independent of each other, for an interval that holds in all."""
    return max(1, ceil(float(np.ptp(rpm)) / (APART_BANDWIDTHS * bandwidth_rpm)))


def _reach(variance: float, freedom: int, counts: tuple[int, int], stretches: int) -> float:
    if not freedom:
        return float("nan")
    # Bonferroni's bound: the stretches together hold what each is given a share of.
    level = 1.0 - 0.5 * (1.0 - CONFIDENCE) / stretches
    return float(student.ppf(level, freedom)) * float(np.sqrt(variance * (1 / counts[0] + 1 / counts[1])))


def _needed(noise_percent: float) -> int:
    """How many pulls at each of two timings bring the interval at one speed within 1 %."""
    for count in range(2, MOST_PULLS):
        reach = float(student.ppf(0.5 + 0.5 * CONFIDENCE, 2 * count - 2)) * np.sqrt(2.0 / count)
        if reach * noise_percent <= WANTED_PERCENT:
            return count
    return MOST_PULLS


def _real(rpm: FloatArray, is_real: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Give the stretches of speed in which a difference is real."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_real, [False]]).astype(int)))
    return tuple((float(rpm[a]), float(rpm[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True))
