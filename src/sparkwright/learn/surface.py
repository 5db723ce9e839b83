"""What the constants can't explain: a smooth surface over speed and load, known where it was measured.

A Gaussian process (Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, ch. 2): the
covariance of two places is a constant, a slope along speed and load, a part that fades with the distance
between them, one that grows as burned gas is drawn back through the valves' overlap, and one that grows with
what the mixture is enriched by. Speed counts in octaves about 2,500 rpm, load in octaves about 68 kPa,
stretched so that a map is about as wide as it is high.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class Smooth:
    """How such a surface may run: standard deviations of its parts, and over what it fades.

    ``fade_octaves`` and ``fade_steps`` belong to the part that fades, along speed and load as `coordinates`
    counts them [-]; ``backflow`` goes with `drawn_back`, ``mixture`` with enrichment.
    """

    constant: float
    slope: float
    local: float
    fade_octaves: float = 1.2
    fade_steps: float = 1.2
    backflow: float = 0.0
    mixture: float = 0.0

    def scaled(self, parts: float, fade: float) -> Smooth:
        """Give one with all its parts and both its lengths multiplied.

        Parameters
        ----------
        parts : float
            Factor on the standard deviation of every part [-].
        fade : float
            Factor on both lengths over which places are alike [-].
        """
        return Smooth(
            self.constant * parts,
            self.slope * parts,
            self.local * parts,
            self.fade_octaves * fade,
            self.fade_steps * fade,
            self.backflow * parts,
            self.mixture * parts,
        )

    def covariance(self, one: FloatArray, other: FloatArray) -> FloatArray:
        """Covariance between places, shape (ones, others); places as `coordinates` gives them.

        Parameters
        ----------
        one : array
            Coordinates of some places, shape (ones, 3).
        other : array
            Coordinates of others, shape (others, 3).
        """
        there, here = one[:, :2], other[:, :2]
        apart = (there[:, None, :] - here[None, :, :]) / np.array([self.fade_octaves, self.fade_steps])
        return np.asarray(
            self.constant**2
            + self.slope**2 * there @ here.T
            + self.local**2 * np.exp(-0.5 * np.sum(apart**2, axis=2))
            + self.backflow**2 * np.outer(drawn_back(one), drawn_back(other))
            + self.mixture**2 * np.outer(one[:, 2], other[:, 2])
        )

    def variance(self, places: FloatArray) -> FloatArray:
        """Variance at places, shape (places,).

        Parameters
        ----------
        places : array
            Coordinates of some places, shape (places, 3).
        """
        return np.asarray(
            self.constant**2
            + self.slope**2 * np.sum(places[:, :2] ** 2, axis=1)
            + self.local**2
            + self.backflow**2 * drawn_back(places) ** 2
            + self.mixture**2 * places[:, 2] ** 2
        )


LOAD_STRETCH = 1.6
"""How many times an octave of load counts against one of speed [-]; a choice."""

MIDDLE_RPM, MIDDLE_KPA = 2500.0, 68.0
EXHAUST_KPA = 103.0
"""Pressure behind the exhaust valve, for how much is drawn back [kPa]; a choice."""

BACKFLOW_RPM = 1000.0
"""Speed at which `drawn_back` counts its pressures as they are [rpm]."""


RICH_BY = 0.12
"""How far below stoichiometric a mixture counts as enriched by 1 [-]: usual at full throttle; common
practice, no source."""


def coordinates(rpm: FloatArray, kpa: FloatArray, mixture_lambda: FloatArray | float = 1.0) -> FloatArray:
    """Octaves of speed, stretched ones of load, from the middle of a map, and enrichment, shape (places, 3).

    Parameters
    ----------
    rpm : array
        Speed of each place [rpm].
    kpa : array
        Load of each place [kPa absolute].
    mixture_lambda : array or float, optional
        Air over stoichiometric air there [-].

    Examples
    --------
    >>> coordinates(np.array([5000.0]), np.array([136.0]), 0.88).round(9).tolist()
    [[1.0, 1.6, 1.0]]
    """
    octaves, steps = (
        np.log2(np.asarray(rpm) / MIDDLE_RPM),
        LOAD_STRETCH * np.log2(np.asarray(kpa) / MIDDLE_KPA),
    )
    rich = np.broadcast_to((1.0 - np.asarray(mixture_lambda)) / RICH_BY, octaves.shape)
    return np.stack([octaves, steps, rich], axis=-1)


def drawn_back(places: FloatArray) -> FloatArray:
    """How much burned gas an overlap draws back, but for a factor that is the engine's own, shape (places,).

    The form of the first term of Fox, Cheng and Heywood (SAE 931025, 1993): over speed, by the root of the
    difference of pressures. A cam card tells the overlap's window poorly, since it counts from some lift on.

    Parameters
    ----------
    places : array, shape (places, 3)
        As `coordinates` gives them.

    Examples
    --------
    A quarter of the speed draws back four times as much, and nothing where the pressures are equal:

    >>> places = coordinates(np.array([1000.0, 4000.0, 1000.0]), np.array([45.0, 45.0, 103.0]))
    >>> drawn_back(places).round(3).tolist()
    [1.542, 0.386, 0.0]
    """
    rpm = MIDDLE_RPM * 2.0 ** places[:, 0]
    ratio = np.minimum(MIDDLE_KPA * 2.0 ** (places[:, 1] / LOAD_STRETCH) / EXHAUST_KPA, 1.0)
    return np.asarray(BACKFLOW_RPM / rpm * np.sqrt(np.maximum(1.0 - ratio, 0.0)) * ratio**-0.87)


def carried(
    smooth: Smooth, measured: FloatArray, asked: FloatArray, jitter: float = 1e-6
) -> tuple[FloatArray, FloatArray]:
    """Carry a surface from where it is known to where it is asked for.

    Parameters
    ----------
    smooth : Smooth
        How it runs.
    measured, asked : array, shape (places, 3)
        As `coordinates` gives them.
    jitter : float
        Variance added where it is known, over the mean variance there, so that one place may stand twice [-].

    Returns
    -------
    weights : array, shape (asked, measured)
        On the values where it is known.
    variance : array, shape (asked,)
        What is left unknown even where those were known exactly.
    """
    own = smooth.variance(asked)
    if not len(measured):
        return np.zeros((len(asked), 0)), own
    inside = smooth.covariance(measured, measured)
    inside[np.diag_indices_from(inside)] += jitter * np.trace(inside) / len(inside)
    across = smooth.covariance(asked, measured)
    weights = np.asarray(np.linalg.solve(inside, across.T).T)
    return weights, np.maximum(own - np.sum(weights * across, axis=1), 0.0)
