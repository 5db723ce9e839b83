"""What the program believes of an engine's constants: their values, how firmly known, and how jointly.

The prior is what ``scripts/calibrate.py`` found over all its engines; it stands in ``prior.json`` beside this
module. Evidence of one engine gives another belief; what computes with it is the same.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.engine import Constants
from sparkwright.errors import PhysicsError

FloatArray = NDArray[np.float64]

ENGINE_BEST_DEG = 2.5
"""How far an engine's best lies from the program's beyond what its constants explain, one standard deviation
[crank deg]; set from the engines that took no part in the fit, see ``docs/measured-engines.md``."""

ENGINE_LN_KNOCK = 0.12
"""The same for the logarithm of the knock integral [-]: about one octane number and a half."""


@dataclass(frozen=True, eq=False)
class Belief:
    """Constants with the covariance of their logarithms, and what differs from engine to engine.

    Parameters
    ----------
    constants : Constants
        The middle of the belief.
    uncertain : tuple of str, length n
        Constants that are not known exactly, in the order of the covariance.
    covariance : array, shape (n, n)
        Of the logarithms of those constants [-].
    engine_best_deg : float
        Spread of best from engine to engine, one standard deviation [crank deg].
    engine_ln_knock : float
        Spread of the logarithm of the knock integral from engine to engine [-].

    Raises
    ------
    PhysicsError
        If the covariance does not belong to the constants named, or is no covariance.
    """

    constants: Constants
    uncertain: tuple[str, ...]
    covariance: FloatArray
    engine_best_deg: float = ENGINE_BEST_DEG
    engine_ln_knock: float = ENGINE_LN_KNOCK

    def __post_init__(self) -> None:
        n = len(self.uncertain)
        shape = self.covariance.shape
        if shape != (n, n) or not np.allclose(self.covariance, self.covariance.T):
            raise PhysicsError("belief.covariance", f"shape {shape}", f"must be symmetric, {n} by {n}")
        if n and np.linalg.eigvalsh(self.covariance)[0] < -1e-9:
            raise PhysicsError("belief.covariance", "a negative variance", "must have none")

    @cached_property
    def fingerprint(self) -> str:
        """The SHA-256 of all its numbers, in hexadecimal: a result that is kept belongs to it and a job."""
        stated = {**asdict(self), "covariance": self.covariance.tolist()}
        return hashlib.sha256(json.dumps(stated, sort_keys=True).encode()).hexdigest()

    def directions(self) -> tuple[Constants, ...]:
        """Move the constants by one standard deviation along each of the covariance's own directions.

        The widest comes first. What these moves do is independent of each other: the squares add up.
        """
        variances, vectors = np.linalg.eigh(self.covariance)
        moves = vectors * np.sqrt(np.maximum(variances, 0.0))
        return tuple(self.moved(move) for move in moves.T[::-1])

    def moved(self, logarithms: FloatArray) -> Constants:
        """Give the constants moved by a step of their logarithms, in the order of the covariance.

        Parameters
        ----------
        logarithms : array, shape (n,)
            Step in ln of each constant [-], in the order of ``names``.
        """
        values = {
            name: getattr(self.constants, name) * float(np.exp(by))
            for name, by in zip(self.uncertain, logarithms, strict=True)
        }
        return replace(self.constants, **values)


def _prior() -> Belief:
    stored = json.loads((files("sparkwright.cycle") / "prior.json").read_text(encoding="utf-8"))
    return Belief(Constants(**stored["constants"]), tuple(stored["fitted"]), np.array(stored["covariance"]))


PRIOR = _prior()
"""The program's belief before anything was measured on an engine."""
