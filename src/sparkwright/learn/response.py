"""How a hook answers to each move: finite differences of the cycle on the lattice of its advances.

A hook is kept as torque and ln of the knock integral at the lattice's nodes. To each move it answers by a
straight line and a bend, found from one standard deviation each way; the moves together by their sum. So a
belief costs the cycle once for each place, and arithmetic after that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sparkwright.cycle.sparse import LATTICE_DEG, LEAST_DEG, MOST_DEG, SparseHooks
from sparkwright.learn.moves import Move, moves_of
from sparkwright.numeric import FloatArray
from sparkwright.plan.corrected import OneHook
from sparkwright.plan.hooks import USUAL_BEST_DEG
from sparkwright.plan.physics import Physics

NODES_DEG: FloatArray = LATTICE_DEG[::-1].copy()
"""Advances of the nodes, rising [deg]."""

_STEP_DEG = float(NODES_DEG[1] - NODES_DEG[0])


@dataclass(frozen=True)
class Place:
    """Where a hook is run: speed, load, and what was measured of mixture and air."""

    rpm: float
    kpa: float
    mixture_lambda: float | None = None
    intake_c: float | None = None


@dataclass(frozen=True, eq=False)
class Response:
    """A hook and its answer to the moves; arrays over the nodes, the moves along the first axis.

    ``curves`` holds torque [N m] and ln of the knock integral [-], shape (2, nodes); ``slope`` and ``bend``
    what one standard deviation of each move adds, straight and squared, shape (moves, 2, nodes); ``best_by``
    what it adds to best [crank deg], shape (moves,).
    """

    curves: FloatArray
    slope: FloatArray
    bend: FloatArray
    best_deg: float
    best_by: FloatArray

    def at(self, amounts: FloatArray) -> FloatArray:
        """Give both curves after the moves, shape (2, nodes); past three deviations a bend goes straight.

        Parameters
        ----------
        amounts : array
            How far each move goes, in its standard deviations.
        """
        inside = np.clip(amounts, -3.0, 3.0)
        return np.asarray(
            self.curves
            + np.tensordot(amounts, self.slope, 1)
            + np.tensordot(inside * (2.0 * amounts - inside), self.bend, 1)
        )

    def by(self, amounts: FloatArray) -> FloatArray:
        """Give how both curves change with each move, shape (moves, 2, nodes).

        Parameters
        ----------
        amounts : array
            How far each move goes, in its standard deviations.
        """
        inside = np.clip(amounts, -3.0, 3.0)[:, None, None]
        return np.asarray(self.slope + 2.0 * inside * self.bend)

    def corrected(self, amounts: FloatArray, there: OneHook) -> Response:
        """Give the same answer, put so that after these moves it is what the cycle gives there.

        Parameters
        ----------
        amounts : array
            How far each move goes, in its standard deviations.
        there : OneHook
            The hook that the cycle gives after exactly these moves.
        """
        return replace(
            self,
            curves=self.curves + curves_of(there) - self.at(amounts),
            best_deg=there.best(USUAL_BEST_DEG)[0] - float(self.best_by @ amounts),
        )


def hook_of(physics: Physics, place: Place) -> OneHook:
    """Make the hook of an engine at a place, with the mixture and air that were measured there.

    Parameters
    ----------
    physics : Physics
        The engine.
    place : Place
        Speed, load, and the mixture and air that were measured.
    """
    air = physics.air_at(place.kpa)
    if place.intake_c is not None:
        air = replace(air, intake_k=place.intake_c + 273.15)
    mixture = physics.lambda_at(place.rpm, place.kpa)
    hooks = SparseHooks(
        physics.engine,
        air,
        physics.fuel,
        physics.constants,
        speed_rpm=place.rpm,
        map_kpa=place.kpa,
        mixture_lambda=mixture if place.mixture_lambda is None else round(place.mixture_lambda, 2),
    )
    return OneHook(hooks)


def curves_of(hook: OneHook) -> FloatArray:
    """Give torque and ln of the knock integral at every node, shape (2, nodes).

    Parameters
    ----------
    hook : OneHook
        The hook of one place.
    """
    return np.array([hook.at(float(advance))[:2] for advance in NODES_DEG]).T


@lru_cache(maxsize=512)
def response_of(physics: Physics, place: Place) -> Response:
    """Run a hook and its answer to every move.

    Parameters
    ----------
    physics : Physics
        The engine before any move.
    place : Place
        Speed, load, and the mixture and air that were measured.
    """
    base = hook_of(physics, place)
    curves = curves_of(base)
    slopes, bends, best_by = [], [], []
    for each in moves_of(physics):
        pair = [hook_of(each.moved(physics, way * each.sigma), place) for way in (1.0, -1.0)]
        more, less = (curves_of(hook) for hook in pair)
        slopes.append(0.5 * (more - less))
        bends.append(0.5 * (more + less) - curves)
        best_by.append(0.5 * (pair[0].best(USUAL_BEST_DEG)[0] - pair[1].best(USUAL_BEST_DEG)[0]))
    best_deg = base.best(USUAL_BEST_DEG)[0]
    return Response(curves, np.array(slopes), np.array(bends), best_deg, np.array(best_by))


@dataclass(frozen=True, eq=False)
class Answer:
    """How best and ln of the knock integral at one advance of one cell answer to the moves.

    ``best_by`` and ``ln_knock_by`` have the shape (moves,); ``ln_slope`` is ln of the integral per degree.
    """

    best_deg: float
    stands_deg: float
    best_by: FloatArray
    ln_knock_by: FloatArray
    ln_slope: float


def answer_of(physics: Physics, moves: tuple[Move, ...], rpm: float, kpa: float) -> Answer:
    """Find how one cell answers, by one standard deviation each way; nan where best is not determined.

    Parameters
    ----------
    physics : Physics
        The engine before any move.
    moves : tuple of Move
        What may be otherwise in it.
    rpm : float
        Speed of the cell [rpm].
    kpa : float
        Load of the cell [kPa absolute].
    """
    hook = hook_of(physics, Place(rpm, kpa))
    best = hook.best(USUAL_BEST_DEG)[0]
    limit = hook.knock(0.0)
    stands = float(np.clip(best if np.isnan(limit) else min(best, limit), 0.0, 56.0))
    slope = 0.5 * (hook.at(stands + 1.0)[1] - hook.at(stands - 1.0)[1])
    bests, knocks = [], []
    for each in moves:
        pair = [hook_of(each.moved(physics, way * each.sigma), Place(rpm, kpa)) for way in (1.0, -1.0)]
        tops = [other.best(best)[0] for other in pair]
        ends = not LEAST_DEG < min(best, *tops) <= max(best, *tops) < MOST_DEG
        bests.append(float("nan") if ends else 0.5 * (tops[0] - tops[1]))
        knocks.append(0.5 * (pair[0].at(stands)[1] - pair[1].at(stands)[1]))
    return Answer(best, stands, np.array(bests), np.array(knocks), float(slope))


def reading(advance_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the weights of a curve's nodes in its values between them, and in its slopes there.

    Between nodes a curve is the cubic through the four about each advance; beyond them the last goes on.

    Parameters
    ----------
    advance_deg : array, shape (points,)
        Where [deg].

    Returns
    -------
    values, slopes : array, shape (nodes, points)
        ``curve @ values`` and ``curve @ slopes``, the latter per degree.

    Examples
    --------
    >>> values, slopes = reading(np.array([10.0, 33.3]))
    >>> (NODES_DEG**2 @ values).round(6).tolist(), (NODES_DEG**2 @ slopes).round(6).tolist()
    ([100.0, 1108.89], [20.0, 66.6])
    """
    place = (advance_deg - NODES_DEG[0]) / _STEP_DEG
    first = np.clip(np.floor(place).astype(int) - 1, 0, NODES_DEG.size - 4)
    x = place - first
    a, b, c = x - 1.0, x - 2.0, x - 3.0
    here, at = np.zeros((2, NODES_DEG.size, x.size)), np.arange(x.size)
    for k, (value, slope) in enumerate(
        (
            (-a * b * c / 6.0, -(a * b + b * c + a * c) / 6.0),
            (x * b * c / 2.0, (b * c + x * c + x * b) / 2.0),
            (-x * a * c / 2.0, -(a * c + x * c + x * a) / 2.0),
            (x * a * b / 6.0, (a * b + x * b + x * a) / 6.0),
        )
    ):
        here[0, first + k, at], here[1, first + k, at] = value, slope / _STEP_DEG
    return here[0], here[1]
