"""A plot's frame: where values stand on a picture, lines through them, ticks, and labels that keep apart."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparkwright.drawing.svg import LINE_PX, grouped, line, path, words


def even_ticks(low: float, high: float, at_most: int) -> list[float]:
    """Round values within a span, evenly 1, 2, 2.5 or 5 times a power of ten apart.

    Parameters
    ----------
    low : float
        Least value of the span.
    high : float
        Most value of the span, above ``low``.
    at_most : int
        How many values there may be.

    Examples
    --------
    >>> even_ticks(3.0, 52.0, 6)
    [10.0, 20.0, 30.0, 40.0, 50.0]
    """
    power = 10.0 ** math.floor(math.log10((high - low) / at_most))
    for factor in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0):
        step = factor * power
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < at_most:
            break
    return [round(index * step, 10) for index in range(first, last + 1)]


def kept_apart(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move places along a line as little as needed so that none is nearer than ``gap`` to the next.

    The order is kept, and so are the ends ``low`` and ``high`` where all fit between them.

    Parameters
    ----------
    wanted : sequence of float
        Places as they were wanted, in any order.
    gap : float
        Least distance from one to the next.
    low : float
        Least place.
    high : float
        Most place.

    Examples
    --------
    >>> kept_apart([50.0, 52.0, 10.0], gap=20.0, low=0.0, high=100.0)
    [41.0, 61.0, 10.0]
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    groups: list[list[int]] = []
    for index in order:
        groups.append([index])
        while len(groups) > 1 and _crowded(groups[-2], groups[-1], wanted, gap, low, high):
            last = groups.pop()
            groups[-1] += last
    places = [0.0] * len(wanted)
    for group in groups:
        start = _group_start(group, wanted, gap, low, high)
        for rank, index in enumerate(group):
            places[index] = start + rank * gap
    return places


def _group_start(group: list[int], wanted: Sequence[float], gap: float, low: float, high: float) -> float:
    span = (len(group) - 1) * gap
    middle = sum(wanted[index] for index in group) / len(group)
    return max(low, min(middle - span / 2, high - span))


def _crowded(
    before: list[int], after: list[int], wanted: Sequence[float], gap: float, low: float, high: float
) -> bool:
    end = _group_start(before, wanted, gap, low, high) + (len(before) - 1) * gap
    return _group_start(after, wanted, gap, low, high) - end < gap


@dataclass(frozen=True)
class Frame:
    """A plot's place on the picture (pixels) and the values its edges stand for.

    Examples
    --------
    >>> frame = Frame(left=40, top=10, right=240, bottom=110, x_span=(0, 100), y_span=(0, 50))
    >>> float(frame.x(50)), float(frame.y(0))
    (140.0, 110.0)
    """

    left: float
    top: float
    right: float
    bottom: float
    x_span: tuple[float, float]
    y_span: tuple[float, float]

    def x(self, value: ArrayLike) -> NDArray[np.float64]:
        """Horizontal place of a value [px].

        Parameters
        ----------
        value : array
            Values along the bottom.
        """
        low, high = self.x_span
        return self.left + (np.asarray(value, dtype=float) - low) / (high - low) * (self.right - self.left)

    def y(self, value: ArrayLike) -> NDArray[np.float64]:
        """Vertical place of a value; larger values stand higher [px].

        Parameters
        ----------
        value : array
            Values along the left edge.
        """
        low, high = self.y_span
        return self.bottom - (np.asarray(value, dtype=float) - low) / (high - low) * (self.bottom - self.top)

    def points(self, x_values: ArrayLike, y_values: ArrayLike) -> NDArray[np.float64]:
        """Places of many values, shape (n, 2) [px].

        Parameters
        ----------
        x_values : array
            Values along the bottom.
        y_values : array
            As many along the left edge.
        """
        return np.column_stack((np.atleast_1d(self.x(x_values)), np.atleast_1d(self.y(y_values))))

    def curve(self, x_values: ArrayLike, y_values: ArrayLike, class_: str) -> str:
        """Draw a line through the values that are known and within the frame, broken where they are not.

        Parameters
        ----------
        x_values : array
            Values along the bottom.
        y_values : array
            As many along the left edge; nan where one is not known.
        class_ : str
            Class by which the theme gives it its colour and line.
        """
        points = self.points(x_values, self._kept(y_values))
        return "".join(path(run, class_) for run in _known_runs(points) if len(run) > 1)

    def band(self, x_values: ArrayLike, low: ArrayLike, high: ArrayLike, class_: str) -> str:
        """Fill the area between two lines, cut at the frame, where both are known.

        Parameters
        ----------
        x_values : array
            Values along the bottom.
        low : array
            Lower line, as many values along the left edge.
        high : array
            Upper line, in the same way.
        class_ : str
            Class by which the theme gives it its colour and line.
        """
        x_px = self.x(x_values)
        edges = np.column_stack((x_px, self.y(self._clipped(low)), self.y(self._clipped(high))))
        runs = [run for run in _known_runs(edges) if len(run) > 1]
        return "".join(
            path(np.vstack((run[:, [0, 1]], run[::-1][:, [0, 2]])), class_, closed=True) for run in runs
        )

    def _clipped(self, values: ArrayLike) -> NDArray[np.float64]:
        low, high = self.y_span
        within: NDArray[np.float64] = np.clip(np.asarray(values, dtype=float), low, high)
        return within

    def _kept(self, values: ArrayLike) -> NDArray[np.float64]:
        array = np.asarray(values, dtype=float)
        low, high = self.y_span
        kept: NDArray[np.float64] = np.where((array >= low) & (array <= high), array, np.nan)
        return kept

    def scales(
        self,
        x_ticks: Iterable[float],
        y_ticks: Iterable[float],
        write_x: Callable[[float], str] = grouped,
        write_y: Callable[[float], str] = grouped,
    ) -> str:
        """Light level lines with their values at the left, and values along the bottom.

        Parameters
        ----------
        x_ticks : iterable of float
            Values that are written along the bottom.
        y_ticks : iterable of float
            Values that have a level line.
        write_x : callable, optional
            Writes a value of the bottom for a person.
        write_y : callable, optional
            Writes a value of a level line.
        """
        drawn = []
        for value in y_ticks:
            y_px = float(self.y(value))
            drawn.append(line(self.left, y_px, self.right, y_px, "grid"))
            drawn.append(words(self.left - 8, y_px + 5, write_y(value), "soft", "end"))
        drawn += [
            words(float(self.x(value)), self.bottom + 22, write_x(value), "soft", "middle")
            for value in x_ticks
        ]
        return "".join(drawn)

    def end_labels(self, labels: Sequence[tuple[float, str, str]]) -> str:
        """Labels (value at the right edge, text, class) beside the right edge, kept apart.

        Parameters
        ----------
        labels : sequence of tuple
            Of each its value at the right edge, its text, and its class.
        """
        wanted = [float(self.y(value)) + 5 for value, _, _ in labels]
        places = kept_apart(wanted, LINE_PX, self.top + 5, self.bottom + 5)
        return "".join(
            words(self.right + 10, y_px, text, class_)
            for y_px, (_, text, class_) in zip(places, labels, strict=True)
        )


def _known_runs(rows: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    known = np.isfinite(rows).all(axis=1)
    breaks = np.flatnonzero(np.diff(known.astype(int))) + 1
    return [
        run for run, whole in zip(np.split(rows, breaks), np.split(known, breaks), strict=True) if whole.all()
    ]
