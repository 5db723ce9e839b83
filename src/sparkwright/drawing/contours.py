"""Contours of a table over two axes: the areas between two levels, and the lines at one level."""

from __future__ import annotations

from itertools import pairwise
from typing import cast

import numpy as np
from contourpy import FillType, LineType, contour_generator
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]
"""Points of shape (n, 2): x, y in the units of the axes."""


def areas_between(
    x: ArrayLike, y: ArrayLike, values: ArrayLike, low: float, high: float
) -> list[list[Points]]:
    """Find where a table lies between two levels.

    Parameters
    ----------
    x, y : array, shapes (n,) and (m,)
        Rising axes.
    values : array, shape (m, n)
        The table.
    low, high : float
        The levels; ``low`` belongs to the area, ``high`` does not.

    Returns
    -------
    list of list of array
        Areas; each is its outer ring followed by the rings of its holes.

    Examples
    --------
    >>> area, = areas_between([0, 1], [0, 1], [[0, 0], [2, 2]], 1.0, 3.0)
    >>> float(area[0][:, 1].min())
    0.5
    """
    generator = contour_generator(
        x, y, np.asarray(values, dtype=float), fill_type=FillType.OuterOffset, corner_mask=False
    )
    # The library's type names every fill type at once; this is the shape of the one asked for.
    filled = cast(tuple[list[Points], list[NDArray[np.uint32]]], generator.filled(low, high))
    return [
        [points[start:stop] for start, stop in pairwise(offsets)]
        for points, offsets in zip(*filled, strict=True)
    ]


def lines_at(x: ArrayLike, y: ArrayLike, values: ArrayLike, level: float) -> list[Points]:
    """Find the lines along which a table has one value.

    Parameters
    ----------
    x, y : array, shapes (n,) and (m,)
        Rising axes.
    values : array, shape (m, n)
        The table.
    level : float
        The value.

    Examples
    --------
    >>> line, = lines_at([0, 1], [0, 1], [[0, 0], [2, 2]], 1.0)
    >>> line[:, 1].tolist()
    [0.5, 0.5]
    """
    generator = contour_generator(
        x, y, np.asarray(values, dtype=float), line_type=LineType.Separate, corner_mask=False
    )
    return cast(list[Points], generator.lines(level))
