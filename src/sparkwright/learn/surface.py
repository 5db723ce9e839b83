"""What the constants can't explain: a smooth surface over speed and load, known where it was measured.

A Gaussian process (Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, ch. 2): the
covariance of two places is a constant, a slope along speed and load, and a part that fades with the distance
between them. Speed counts in octaves about 2,500 rpm, load in steps of 25 kPa about 70.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.plan.result import FloatArray


@dataclass(frozen=True)
class Smooth:
    """How such a surface may run: standard deviations of its parts, and over what it fades.

    ``fade_octaves`` and ``fade_steps`` belong to the last part, along speed and load [-].
    """

    constant: float
    slope: float
    local: float
    fade_octaves: float = 1.2
    fade_steps: float = 1.2

    def scaled(self, parts: float, fade: float) -> Smooth:
        """Give one with all its parts and both its lengths multiplied."""
        return Smooth(
            self.constant * parts,
            self.slope * parts,
            self.local * parts,
            self.fade_octaves * fade,
            self.fade_steps * fade,
        )

    def covariance(self, one: FloatArray, other: FloatArray) -> FloatArray:
        """Covariance between places, shape (ones, others); places as `coordinates` gives them."""
        apart = (one[:, None, :] - other[None, :, :]) / np.array([self.fade_octaves, self.fade_steps])
        return np.asarray(
            self.constant**2
            + self.slope**2 * one @ other.T
            + self.local**2 * np.exp(-0.5 * np.sum(apart**2, axis=2))
        )


def coordinates(rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Octaves of speed and steps of load from the middle of a map, shape (places, 2).

    Examples
    --------
    >>> coordinates(np.array([5000.0]), np.array([95.0])).tolist()
    [[1.0, 1.0]]
    """
    return np.stack([np.log2(np.asarray(rpm) / 2500.0), (np.asarray(kpa) - 70.0) / 25.0], axis=-1)


def carried(
    smooth: Smooth, measured: FloatArray, asked: FloatArray, jitter: float = 1e-6
) -> tuple[FloatArray, FloatArray]:
    """Carry a surface from where it is known to where it is asked for.

    Returns
    -------
    weights : array, shape (asked, measured)
        On the values where it is known.
    covariance : array, shape (asked, asked)
        What is left unknown even where those were known exactly.
    """
    inside = smooth.covariance(measured, measured)
    inside[np.diag_indices_from(inside)] += jitter * np.trace(inside) / max(len(inside), 1)
    across = smooth.covariance(asked, measured)
    weights = np.linalg.solve(inside, across.T).T if len(measured) else np.zeros((len(asked), 0))
    return weights, smooth.covariance(asked, asked) - weights @ across.T
