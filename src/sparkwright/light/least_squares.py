"""Weighted least squares with stated errors, kept from being led astray by one blunder.

Many sets of values over one design are fitted at once, so that what the interval promises can be proved
over ten thousand draws of the very code that fits one. Values have the shape (sets, readings); a design has
one row a reading and one column a parameter.

Everything follows from the QR factors of the weighted design. Leaving a reading out needs no second fit
(Cook and Weisberg, Residuals and Influence in Regression, 1982, section 2.2; formulas recalled).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sparkwright.errors import PhysicsError
from sparkwright.numeric import FloatArray
from sparkwright.numeric.quantiles import (
    chi_square_above,
    chi_square_quantile,
    normal_quantile,
    student_quantile,
)

Bars = Literal["stated", "rescaled"]

FALSE_ALARM = 0.01
"""Share of good sets of readings in which a blunder, or too much scatter, may be seen where there is none."""

RIVAL = 6.63
"""A second reading stays suspect while leaving it out explains chi-square to within this of the best.

99 % point of chi-square with one degree of freedom: two choices that differ by less are not told apart.
"""

_ALONE = 1e-6
"""Share of its own variance that a reading must leave to its residual, so that others can check it."""


@dataclass(frozen=True)
class PlainFit:
    """An ordinary weighted least-squares fit of one set of values.

    ``standard_error`` is of the coefficients; ``scale`` the root of chi-square over its degrees of freedom,
    None where there are none. With ``bars`` "rescaled" the standard errors were multiplied by it.
    """

    coefficients: FloatArray
    standard_error: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    chi_square: float
    degrees_of_freedom: int
    scale: float | None
    bars: Bars

    def interval(self, confidence: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Low and high end for each coefficient: normal where errors are stated, Student's t otherwise.

        Parameters
        ----------
        confidence : float
            Probability that the interval holds the truth [-].
        """
        reach = (
            normal_quantile(0.5 + confidence / 2.0)
            if self.bars == "stated"
            else student_quantile(confidence, self.degrees_of_freedom)
        )
        return (
            self.coefficients - reach * self.standard_error,
            self.coefficients + reach * self.standard_error,
        )


def least_squares(design: FloatArray, values: FloatArray, sigma: FloatArray, bars: Bars) -> PlainFit:
    """Fit one set of values, nothing left out.

    Parameters
    ----------
    design : array, shape (readings, parameters)
        Full column rank.
    values : array, shape (readings,)
        What was read.
    sigma : array, shape (readings,)
        Standard deviation of each; only their ratios count when ``bars`` is "rescaled".
    bars : {"stated", "rescaled"}
        Whether error bars come from ``sigma`` as stated or from the scatter found.

    Raises
    ------
    PhysicsError
        If the design can't part its parameters, or nothing is left to find the scatter from.

    Examples
    --------
    >>> fit = least_squares(np.array([[1.0, 0], [1, 1], [1, 2]]), np.array([2.0, 3, 4]), np.ones(3), "stated")
    >>> fit.coefficients.round(9).tolist(), fit.degrees_of_freedom
    ([2.0, 1.0], 1)
    """
    factors = _Factors.of(design, sigma)
    weighted = values / sigma
    coefficients = factors.inverse @ (factors.q.T @ weighted)
    residuals = values - design @ coefficients
    chi_square = float(np.sum((residuals / sigma) ** 2))
    freedom = design.shape[0] - design.shape[1]
    scale = float(np.sqrt(chi_square / freedom)) if freedom else None
    if bars == "rescaled" and scale is None:
        raise PhysicsError(
            "readings", design.shape[0], "must be more than what is fitted to find the scatter"
        )
    covariance = factors.inverse @ factors.inverse.T
    if bars == "rescaled" and scale is not None:
        covariance = covariance * scale**2
    return PlainFit(
        coefficients=coefficients,
        standard_error=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        residuals=residuals,
        chi_square=chi_square,
        degrees_of_freedom=freedom,
        scale=scale,
        bars=bars,
    )


def parts(design: FloatArray) -> bool:
    """Whether the readings can part every column of a design from the others.

    Parameters
    ----------
    design : array, shape (readings, unknowns)
        What each unknown does to each reading.

    Examples
    --------
    >>> parts(np.array([[1.0, 2.0], [1.0, 2.0]])), parts(np.array([[1.0, 2.0], [1.0, 3.0]]))
    (False, True)
    """
    if design.shape[0] < design.shape[1]:
        return False
    sizes = np.linalg.norm(design, axis=0)
    if not np.all(sizes > 0.0):
        return False
    return bool(np.linalg.svd(design / sizes, compute_uv=False)[-1] > 1e-6)


@dataclass(frozen=True)
class _Factors:
    q: FloatArray
    inverse: FloatArray

    @classmethod
    def of(cls, design: FloatArray, sigma: FloatArray) -> _Factors:
        if not parts(design):
            raise PhysicsError(
                "readings",
                design.shape[0],
                "must differ enough to part what is fitted",
                "read at more speeds",
            )
        q, r = np.linalg.qr(design / sigma[:, None])
        return cls(q, np.linalg.inv(r))


@dataclass(frozen=True)
class GuardedFit:
    """Guarded fits of many sets; arrays have one row a set.

    ``value``, ``low`` and ``high`` have one column for each combination asked for. ``left_out`` is the index
    of the one reading that is a blunder, or -1. ``suspect`` marks readings one of which must be a blunder
    while none can be told from the others: the interval then covers every choice. ``rescaled`` marks sets
    whose scatter is more than stated and whose error bars were therefore widened by ``scale``. ``chi_square``
    and ``degrees_of_freedom`` are of the readings kept.
    """

    coefficients: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    left_out: NDArray[np.intp]
    suspect: NDArray[np.bool_]
    rescaled: NDArray[np.bool_]
    scale: FloatArray
    chi_square: FloatArray
    degrees_of_freedom: NDArray[np.intp]


def guarded_fit(
    design: FloatArray,
    values: FloatArray,
    sigma: FloatArray,
    asked: FloatArray,
    confidence: FloatArray,
) -> GuardedFit:
    """Fit sets of values so that at most one blunder in each does little harm.

    In turn, for each set: (1) every residual, over its own standard deviation, is held against the largest
    that good readings would show once in a hundred sets (with Bonferroni's correction). (2) If one is larger
    and leaving one reading out makes the rest agree with their stated errors, that reading is the blunder.
    Where leaving another out explains nearly as much (see ``RIVAL``), none is left out and the interval spans
    all these choices. (3) If the rest still scatters more than stated, error bars are widened to the scatter
    found, with Student's t; a reading that stands out even so is left out. (4) Otherwise the stated errors
    hold.

    Parameters
    ----------
    design : array, shape (readings, parameters)
        Full column rank.
    values : array, shape (sets, readings)
        What was read.
    sigma : array, shape (readings,)
        Stated standard deviation of each reading.
    asked : array, shape (combinations, parameters)
        Each row a linear combination of the parameters to give an interval for.
    confidence : array, shape (combinations,)
        Two-sided, each above 0 and below 1.

    Raises
    ------
    PhysicsError
        If the design can't part its parameters.

    Examples
    --------
    >>> speed = np.array([1.0, 2, 3, 4, 5, 6])
    >>> design = np.column_stack((np.ones(6), speed))
    >>> read = np.array([[2.0, 2, 2, 9, 2, 2]])
    >>> fit = guarded_fit(design, read, np.full(6, 0.4), np.eye(2), np.full(2, 0.95))
    >>> fit.left_out.tolist(), abs(fit.value.round(6)).tolist()
    ([3], [[2.0, 0.0]])
    """
    work = _Workspace(design, values, sigma, asked)
    fit = _of_all_readings(work, confidence)
    if work.freedom == 0:
        return fit
    seen, explained = work.one_blunder()
    choices = work.choices()
    blunder = seen & explained
    several = blunder & (choices.sum(axis=1) > 1)
    scattered = work.chi_square > chi_square_quantile(1.0 - FALSE_ALARM, work.freedom)
    widened = ~blunder & (seen | scattered)
    out = (blunder & ~several) | (widened & work.stands_out_of_scatter())
    for row in np.flatnonzero(several).tolist():
        _span_choices(fit, work, row, choices[row], confidence)
    for row in np.flatnonzero(out).tolist():
        _leave_worst_out(fit, work, row, confidence)
    for row in np.flatnonzero(widened).tolist():
        _widen(fit, work, row, confidence)
    return fit


def _normal_reach(confidence: FloatArray) -> FloatArray:
    return np.array([normal_quantile(0.5 + each / 2.0) for each in confidence.tolist()])


def _of_all_readings(work: _Workspace, confidence: FloatArray) -> GuardedFit:
    sets, n = work.residuals.shape
    half = _normal_reach(confidence) * work.error
    return GuardedFit(
        coefficients=work.coefficients.copy(),
        value=work.value.copy(),
        low=work.value - half,
        high=work.value + half,
        left_out=np.full(sets, -1, dtype=np.intp),
        suspect=np.zeros((sets, n), dtype=bool),
        rescaled=np.zeros(sets, dtype=bool),
        scale=np.ones(sets),
        chi_square=work.chi_square.copy(),
        degrees_of_freedom=np.full(sets, work.freedom, dtype=np.intp),
    )


def _span_choices(
    fit: GuardedFit, work: _Workspace, row: int, choices: NDArray[np.bool_], confidence: FloatArray
) -> None:
    """Let the interval cover every reading that may be the blunder; the value stays that of all readings."""
    fit.suspect[row] = choices
    reach = _normal_reach(confidence)
    out = np.flatnonzero(choices).tolist()
    fit.low[row] = np.min([work.value_without(row, i) - reach * work.error_without(i) for i in out], axis=0)
    fit.high[row] = np.max([work.value_without(row, i) + reach * work.error_without(i) for i in out], axis=0)


def _leave_worst_out(fit: GuardedFit, work: _Workspace, row: int, confidence: FloatArray) -> None:
    i = int(work.worst[row])
    half = _normal_reach(confidence) * work.error_without(i)
    fit.left_out[row] = i
    fit.coefficients[row] = work.coefficients_without(row, i)
    fit.value[row] = work.value_without(row, i)
    fit.low[row], fit.high[row] = fit.value[row] - half, fit.value[row] + half
    # Where the others agree exactly, rounding would leave a sum of squares just below nothing.
    fit.chi_square[row] = max(fit.chi_square[row] - work.ratio[row, i] ** 2, 0.0)
    fit.degrees_of_freedom[row] -= 1


def _widen(fit: GuardedFit, work: _Workspace, row: int, confidence: FloatArray) -> None:
    """Take the error bars from the scatter of the readings kept."""
    freedom, out = int(fit.degrees_of_freedom[row]), int(fit.left_out[row])
    error = work.error if out < 0 else work.error_without(out)
    scale = float(np.sqrt(fit.chi_square[row] / freedom))
    half = np.array([student_quantile(each, freedom) for each in confidence.tolist()]) * scale * error
    fit.rescaled[row], fit.scale[row] = True, scale
    fit.low[row], fit.high[row] = fit.value[row] - half, fit.value[row] + half


class _Workspace:
    """What all sets over one design share, and each set's residuals."""

    def __init__(self, design: FloatArray, values: FloatArray, sigma: FloatArray, asked: FloatArray) -> None:
        factors = _Factors.of(design, sigma)
        self.freedom = design.shape[0] - design.shape[1]
        weighted = values / sigma
        q = factors.q
        self.coefficients = (weighted @ q) @ factors.inverse.T
        self.residuals = weighted - (weighted @ q) @ q.T
        self.chi_square = np.sum(self.residuals**2, axis=1)
        self.left = 1.0 - np.sum(q**2, axis=1)
        self.checked = self.left > _ALONE
        self.ratio = np.where(self.checked, self.residuals / np.sqrt(np.where(self.checked, self.left, 1)), 0)
        self.worst = np.abs(self.ratio).argmax(axis=1)
        self.most = np.abs(self.ratio).max(axis=1)
        self.value = self.coefficients @ asked.T
        combined = asked @ factors.inverse
        self.error = np.sqrt(np.sum(combined**2, axis=1))
        self._pull = combined @ q.T
        self._shift = factors.inverse @ q.T

    def one_blunder(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Where a blunder is seen, and where leaving out one reading makes the rest agree."""
        # With one degree of freedom all ratios are the same size: a single test, not one for each reading.
        tests = int(self.checked.sum()) if self.freedom > 1 else 1
        if tests == 0:
            none = np.zeros(self.chi_square.size, dtype=bool)
            return none, none
        seen = self.most > normal_quantile(1.0 - FALSE_ALARM / (2.0 * tests))
        if self.freedom == 1:
            return seen, np.ones_like(seen)
        rest = self.chi_square - self.most**2
        return seen, rest <= chi_square_quantile(1.0 - FALSE_ALARM, self.freedom - 1)

    def choices(self) -> NDArray[np.bool_]:
        """Mark readings that may be the blunder, among those that others can check."""
        near = self.ratio**2 >= self.most[:, None] ** 2 - RIVAL
        return np.asarray(near & self.checked, dtype=bool)

    def stands_out_of_scatter(self) -> NDArray[np.bool_]:
        """Where the worst reading stands out even from the scatter of the others."""
        if self.freedom < 3:
            return np.zeros(self.chi_square.size, dtype=bool)
        rest = np.maximum(self.chi_square - self.most**2, 1e-300)
        size = self.most * np.sqrt((self.freedom - 1) / rest)
        limit = student_quantile(1.0 - FALSE_ALARM / int(self.checked.sum()), self.freedom - 1)
        return np.asarray(size > limit)

    def value_without(self, row: int, i: int) -> FloatArray:
        return np.asarray(self.value[row] - self._pull[:, i] * self.residuals[row, i] / self.left[i])

    def coefficients_without(self, row: int, i: int) -> FloatArray:
        shifted: FloatArray = (
            self.coefficients[row] - self._shift[:, i] * self.residuals[row, i] / self.left[i]
        )
        return shifted

    def error_without(self, i: int) -> FloatArray:
        return np.asarray(np.sqrt(self.error**2 + self._pull[:, i] ** 2 / self.left[i]))


def scatter_probability(chi_square: float, degrees_of_freedom: int) -> float | None:
    """Probability of at least this much scatter from the stated errors alone; None with no freedom left.

    Parameters
    ----------
    chi_square : float
        Sum of the squared misfits, each over its own doubt [-].
    degrees_of_freedom : int
        Readings less what was fitted.
    """
    return chi_square_above(chi_square, degrees_of_freedom) if degrees_of_freedom else None
