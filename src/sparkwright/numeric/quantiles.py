"""Tails and quantiles of the normal, Student's t and chi-square, at whole degrees of freedom.

SciPy's special functions under the names that the statistics of readings use; what has no answer is refused.
"""

from __future__ import annotations

from scipy.special import chdtrc, chdtri, ndtr, ndtri, stdtr, stdtrit

from sparkwright.errors import PhysicsError

_LEAST_TAIL, _MOST_DEGREES = 1e-9, 2000


def normal_quantile(probability: float) -> float:
    """Value below which a standard normal error falls with this probability [-].

    Parameters
    ----------
    probability : float
        Probability [-], above 0 and below 1.

    Notes
    -----
    By definition, the inverse of the normal distribution; SciPy has it.

    Examples
    --------
    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    return float(ndtri(probability))


def normal_two_sided(size: float) -> float:
    """Probability that a standard normal error is at least this large, either way [-].

    Parameters
    ----------
    size : float
        The error in standard errors; its sign does not matter.

    Notes
    -----
    By definition of the normal distribution; SciPy has it.

    Examples
    --------
    >>> round(normal_two_sided(1.959964), 6)
    0.05
    """
    return float(2.0 * ndtr(-abs(size)))


def student_two_sided(size: float, degrees_of_freedom: int) -> float:
    """Probability that Student's t is at least this large, either way [-].

    Parameters
    ----------
    size : float
        The value of t; its sign does not matter.
    degrees_of_freedom : int
        Readings less what was fitted, at least 1.

    Raises
    ------
    PhysicsError
        For less than one degree of freedom.

    Notes
    -----
    By definition of Student's distribution.

    Examples
    --------
    >>> round(student_two_sided(12.7062, 1), 5)
    0.05
    """
    _require(degrees_of_freedom)
    return float(2.0 * stdtr(degrees_of_freedom, -abs(size)))


def chi_square_above(size: float, degrees_of_freedom: int) -> float:
    """Probability that chi-square is at least this large [-].

    Parameters
    ----------
    size : float
        The value of chi-square; nothing is below 0.
    degrees_of_freedom : int
        Readings less what was fitted, at least 1.

    Notes
    -----
    By definition of the chi-square distribution.

    Examples
    --------
    >>> round(chi_square_above(3.841459, 1), 6), round(chi_square_above(5.991465, 2), 6)
    (0.05, 0.05)
    """
    _require(degrees_of_freedom)
    return float(chdtrc(degrees_of_freedom, max(size, 0.0)))


def student_quantile(confidence: float, degrees_of_freedom: int) -> float:
    """How many standard errors an interval of this confidence reaches to either side [-].

    Parameters
    ----------
    confidence : float
        Probability that the interval holds the truth [-].
    degrees_of_freedom : int
        Readings less what was fitted, at least 1.

    Notes
    -----
    By definition of Student's distribution.

    Examples
    --------
    >>> round(student_quantile(0.95, 4), 4)
    2.7764
    """
    _require(degrees_of_freedom)
    _require_confidence(confidence)
    return float(stdtrit(degrees_of_freedom, 0.5 + 0.5 * confidence))


def chi_square_quantile(probability: float, degrees_of_freedom: int) -> float:
    """Value below which chi-square falls with this probability [-].

    Parameters
    ----------
    probability : float
        Probability [-].
    degrees_of_freedom : int
        Readings less what was fitted, at least 1.

    Notes
    -----
    By definition of the chi-square distribution.

    Examples
    --------
    >>> round(chi_square_quantile(0.99, 2), 4)
    9.2103
    """
    _require(degrees_of_freedom)
    _require_confidence(probability)
    return float(chdtri(degrees_of_freedom, 1.0 - probability))


def _require_confidence(confidence: float) -> None:
    if not _LEAST_TAIL <= 1.0 - confidence < 1.0:
        raise PhysicsError("confidence", confidence, "must be above 0 and not within 1e-9 of 1")


def _require(degrees_of_freedom: int) -> None:
    if not 1 <= degrees_of_freedom <= _MOST_DEGREES:
        raise PhysicsError("degrees_of_freedom", degrees_of_freedom, f"must be 1 to {_MOST_DEGREES}")
