"""What the constants can't explain: a smooth surface over speed and load, known where it was measured.

A Gaussian process (Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, ch. 2): the
covariance of two places is a constant, a slope along speed and load, and a part that fades with the distance
between them. Speed counts in octaves about 2,500 rpm, load in octaves about 68 kPa, stretched so that a map
is about as wide as it is high.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class Smooth:
    """How such a surface may run: standard deviations of its parts, and over what it fades.

    ``fade_octaves`` and ``fade_steps`` belong to the last part, along speed and load as `coordinates` counts
    them [-].
    """

    constant: float
    slope: float
    local: float
    fade_octaves: float = 1.2
    fade_steps: float = 1.2

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
        )

    def covariance(self, one: FloatArray, other: FloatArray) -> FloatArray:
        """Covariance between places, shape (ones, others); places as `coordinates` gives them.

        Parameters
        ----------
        one : array
            Coordinates of some places, shape (ones, 2).
        other : array
            Coordinates of others, shape (others, 2).
        """
        apart = (one[:, None, :] - other[None, :, :]) / np.array([self.fade_octaves, self.fade_steps])
        return np.asarray(
            self.constant**2
            + self.slope**2 * one @ other.T
            + self.local**2 * np.exp(-0.5 * np.sum(apart**2, axis=2))
        )


LOAD_STRETCH = 1.6
"""How many times an octave of load counts against one of speed [-]; a choice."""


def coordinates(rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Octaves of speed, and stretched ones of load, from the middle of a map, shape (places, 2).

    Parameters
    ----------
    rpm : array
        Speed of each place [rpm].
    kpa : array
        Load of each place [kPa absolute].

    Examples
    --------
    >>> coordinates(np.array([5000.0]), np.array([136.0])).tolist()
    [[1.0, 1.6]]
    """
    return np.stack(
        [np.log2(np.asarray(rpm) / 2500.0), LOAD_STRETCH * np.log2(np.asarray(kpa) / 68.0)], axis=-1
    )


def carried(
    smooth: Smooth, measured: FloatArray, asked: FloatArray, jitter: float = 1e-6
) -> tuple[FloatArray, FloatArray]:
    """Carry a surface from where it is known to where it is asked for.

    Parameters
    ----------
    smooth : Smooth
        How it runs.
    measured, asked : array, shape (places, 2)
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
    own = np.asarray(smooth.constant**2 + smooth.slope**2 * np.sum(asked**2, axis=1) + smooth.local**2)
    if not len(measured):
        return np.zeros((len(asked), 0)), own
    inside = smooth.covariance(measured, measured)
    inside[np.diag_indices_from(inside)] += jitter * np.trace(inside) / len(inside)
    across = smooth.covariance(asked, measured)
    weights = np.asarray(np.linalg.solve(inside, across.T).T)
    return weights, np.maximum(own - np.sum(weights * across, axis=1), 0.0)
