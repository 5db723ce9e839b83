"""Polynomials and cubics that the kernel evaluates: between nodes of a table, and within one of its steps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import gas_fits
from sparkwright.cycle.jit import compiled

FloatArray = NDArray[np.float64]


def surface(coefficients: FloatArray, x: float, y: float) -> tuple[float, float, float]:
    """Evaluate a polynomial in two variables and its two derivatives, by nested multiplication.

    Parameters
    ----------
    coefficients : array, shape (m, n)
        Factor of ``x**i y**j`` at ``[i, j]``.
    x, y : float
        The two variables.

    Notes
    -----
    Horner's scheme; algebra, by definition of the polynomial.
    """
    value, by_x, by_y = 0.0, 0.0, 0.0
    for i in range(gas_fits.ENTHALPY_DEGREE, -1, -1):
        inner, inner_by_y = 0.0, 0.0
        for j in range(gas_fits.PRESSURE_DEGREE, -1, -1):
            inner_by_y = inner_by_y * y + inner
            inner = inner * y + coefficients[i, j]
        by_x = by_x * x + value
        value = value * x + inner
        by_y = by_y * x + inner_by_y
    return value, by_x, by_y


def surface_value(coefficients: FloatArray, x: float, y: float) -> float:
    """Evaluate a polynomial in two variables, by nested multiplication.

    Parameters
    ----------
    coefficients : array, shape (m, n)
        Factor of ``x**i y**j`` at ``[i, j]``.
    x, y : float
        The two variables.

    Notes
    -----
    Horner's scheme; algebra, by definition of the polynomial.
    """
    value = 0.0
    for i in range(gas_fits.ENTHALPY_DEGREE, -1, -1):
        inner = 0.0
        for j in range(gas_fits.PRESSURE_DEGREE, -1, -1):
            inner = inner * y + coefficients[i, j]
        value = value * x + inner
    return value


def cubic_weights(place: float, nodes: int) -> tuple[int, float, float, float, float]:
    """First node and four weights of a cubic that passes through evenly spaced nodes, C1 between them.

    Parameters
    ----------
    place : float
        Where to look, counted in nodes from the first [-].
    nodes : int
        How many nodes there are.

    Notes
    -----
    Catmull and Rom (1974), recalled: slopes at a node from its neighbours.
    """
    first = min(max(int(place), 0), nodes - 2)
    t = place - first
    return (
        first - 1,
        t * (-0.5 + t * (1.0 - 0.5 * t)),
        1.0 + t * t * (1.5 * t - 2.5),
        t * (0.5 + t * (2.0 - 1.5 * t)),
        t * t * (0.5 * t - 0.5),
    )


def hermite_share(level: float, y0: float, y1: float, slope0: float, slope1: float) -> float:
    """Share of a step at which a rising cubic through both ends reaches a level (slopes per step).

    Parameters
    ----------
    level : float
        What is to be reached.
    y0, y1 : float
        Value at either end.
    slope0, slope1 : float
        Slope at either end, for a step of 1.

    Notes
    -----
    Cubic of Hermite, by definition; halved 30 times.
    """
    low, high = 0.0, 1.0
    for _ in range(30):
        t = 0.5 * (low + high)
        value = (
            y0
            + t * slope0
            + t * t * (3.0 * (y1 - y0) - 2.0 * slope0 - slope1)
            + t * t * t * (2.0 * (y0 - y1) + slope0 + slope1)
        )
        if value < level:
            low = t
        else:
            high = t
    return 0.5 * (low + high)


def hermite_peak(y0: float, y1: float, slope0: float, slope1: float) -> tuple[float, float]:
    """Share of a step and height of the top of a cubic that rises at one end and falls at the other.

    Parameters
    ----------
    y0, y1 : float
        Value at either end.
    slope0, slope1 : float
        Slope at either end, for a step of 1; above and below 0.

    Notes
    -----
    Cubic of Hermite, by definition.
    """
    low, high = 0.0, 1.0
    square, cube = 3.0 * (y1 - y0) - 2.0 * slope0 - slope1, 2.0 * (y0 - y1) + slope0 + slope1
    for _ in range(30):
        t = 0.5 * (low + high)
        if slope0 + t * (2.0 * square + t * 3.0 * cube) > 0.0:
            low = t
        else:
            high = t
    t = 0.5 * (low + high)
    return t, y0 + t * (slope0 + t * (square + t * cube))


surface_compiled = compiled(surface)
surface_value_compiled = compiled(surface_value)
cubic_weights_compiled = compiled(cubic_weights)
hermite_share_compiled = compiled(hermite_share)
hermite_peak_compiled = compiled(hermite_peak)
