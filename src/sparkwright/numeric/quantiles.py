"""Student's t and chi-square at whole degrees of freedom, in closed form.

Source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.4.4, 26.4.5 (chi-square) and
26.7.3, 26.7.4 (Student's t). Readings are few, so the sums are short.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from statistics import NormalDist

from sparkwright.errors import PhysicsError

_NORMAL = NormalDist()
_LEAST_TAIL, _MOST_DEGREES = 1e-9, 2000


def normal_quantile(probability: float) -> float:
    """Value below which a standard normal error falls with this probability [-].

    Examples
    --------
    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    return _NORMAL.inv_cdf(probability)


def normal_two_sided(size: float) -> float:
    """Probability that a standard normal error is at least this large, either way [-].

    Examples
    --------
    >>> round(normal_two_sided(1.959964), 6)
    0.05
    """
    return math.erfc(abs(size) / math.sqrt(2.0))


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

    Examples
    --------
    >>> round(student_two_sided(12.7062, 1), 5)
    0.05
    """
    _require(degrees_of_freedom)
    angle = math.atan(abs(size) / math.sqrt(degrees_of_freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = degrees_of_freedom % 2
    term, total = (cosine, 0.0) if odd else (1.0, 0.0)
    for step in range(2 + odd, degrees_of_freedom + 1, 2):
        total += term
        term *= cosine**2 * (step - 1) / step
    inside = 2.0 / math.pi * (angle + sine * total) if odd else sine * total
    return max(0.0, 1.0 - inside)


def chi_square_above(size: float, degrees_of_freedom: int) -> float:
    """Probability that chi-square is at least this large [-].

    Examples
    --------
    >>> round(chi_square_above(3.841459, 1), 6), round(chi_square_above(5.991465, 2), 6)
    (0.05, 0.05)
    """
    _require(degrees_of_freedom)
    if size <= 0.0:
        return 1.0
    half = size / 2.0
    if degrees_of_freedom % 2:
        tail = math.erfc(math.sqrt(half))
        term = math.sqrt(2.0 * size / math.pi) * math.exp(-half)
        first = 1
    else:
        tail, term, first = 0.0, math.exp(-half), 0
    for step in range(first, degrees_of_freedom - 1, 2):
        tail += term
        term *= size / (step + 2)
    return min(1.0, tail)


@cache
def student_quantile(confidence: float, degrees_of_freedom: int) -> float:
    """How many standard errors an interval of this confidence reaches to either side [-].

    Examples
    --------
    >>> round(student_quantile(0.95, 4), 4)
    2.7764
    """
    _require(degrees_of_freedom)
    return _where_tail_is(lambda size: student_two_sided(size, degrees_of_freedom), 1.0 - confidence)


@cache
def chi_square_quantile(probability: float, degrees_of_freedom: int) -> float:
    """Value below which chi-square falls with this probability [-].

    Examples
    --------
    >>> round(chi_square_quantile(0.99, 2), 4)
    9.2103
    """
    _require(degrees_of_freedom)
    return _where_tail_is(lambda size: chi_square_above(size, degrees_of_freedom), 1.0 - probability)


def _where_tail_is(tail: Callable[[float], float], wanted: float) -> float:
    if not _LEAST_TAIL <= wanted < 1.0:
        raise PhysicsError("confidence", 1.0 - wanted, "must be above 0 and not within 1e-9 of 1")
    low, high = 0.0, 1.0
    while tail(high) > wanted:
        high *= 2.0
    # Sixty halvings take any bracket below the spacing of floats near its middle.
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if tail(middle) > wanted else (low, middle)
    return 0.5 * (low + high)


def _require(degrees_of_freedom: int) -> None:
    if not 1 <= degrees_of_freedom <= _MOST_DEGREES:
        raise PhysicsError("degrees_of_freedom", degrees_of_freedom, f"must be 1 to {_MOST_DEGREES}")
