"""Shared checks of plain formulas: they compile unchanged, and arrays answer like their numbers."""

from collections.abc import Callable
from typing import Any

import numba
import numpy as np

Formula = Callable[..., Any]
Case = tuple[Formula, tuple[float, ...]]


def name_of(part: object) -> str:
    """Test ids: the formula's name; its numbers say nothing more."""
    return getattr(part, "__name__", "numbers")


def assert_compiles(formula: Formula, numbers: tuple[float, ...]) -> None:
    """The formula compiles as it stands, and the compiled one agrees to rounding."""
    np.testing.assert_allclose(numba.njit(formula)(*numbers), formula(*numbers), rtol=1e-12)


def assert_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    """Arrays in every argument give, cell by cell, what the numbers give."""
    factors = np.array([[1.0, 1.01, 1.02], [0.98, 0.99, 1.0]])
    columns = [number * factors for number in numbers]
    whole = np.asarray(formula(*columns))
    assert whole.shape[-2:] == factors.shape
    for row, column in np.ndindex(factors.shape):
        single = formula(*(float(values[row, column]) for values in columns))
        np.testing.assert_allclose(whole[..., row, column], single, rtol=1e-12)
