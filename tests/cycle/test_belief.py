"""The belief: constants, and how firmly and how jointly they are known."""

from __future__ import annotations

import numpy as np
import pytest

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import PhysicsError


def test_moves_along_the_directions_make_up_the_covariance() -> None:
    """Linear algebra: the outer products of a covariance's own directions sum to it."""
    middle = np.log([getattr(PRIOR.constants, name) for name in PRIOR.uncertain])
    moves = [
        np.log([getattr(moved, name) for name in PRIOR.uncertain]) - middle for moved in PRIOR.directions()
    ]
    total = sum(np.outer(move, move) for move in moves)
    np.testing.assert_allclose(total, PRIOR.covariance, atol=1e-10)


def test_the_widest_direction_comes_first() -> None:
    middle = np.log([getattr(PRIOR.constants, name) for name in PRIOR.uncertain])
    lengths = [
        float(np.linalg.norm(np.log([getattr(moved, name) for name in PRIOR.uncertain]) - middle))
        for moved in PRIOR.directions()
    ]
    assert lengths == sorted(lengths, reverse=True)


def test_the_burns_constants_are_known_jointly_better_than_alone() -> None:
    """Gain and burn-up act against each other: a fast front with a slow burn-up is much the same flame."""
    i, j = PRIOR.uncertain.index("flame_gain"), PRIOR.uncertain.index("burn_up")
    correlation = PRIOR.covariance[i, j] / np.sqrt(PRIOR.covariance[i, i] * PRIOR.covariance[j, j])
    assert correlation > 0.5


def test_a_covariance_that_does_not_fit_is_refused() -> None:
    with pytest.raises(PhysicsError, match="must be symmetric, 2 by 2"):
        Belief(PRIOR.constants, ("ram", "burn_up"), np.eye(3))
    with pytest.raises(PhysicsError, match="must have none"):
        Belief(PRIOR.constants, ("ram", "burn_up"), np.array([[1.0, 2.0], [2.0, 1.0]]))
