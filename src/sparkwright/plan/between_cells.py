"""What lies between the cells of a map, and what that takes from them: plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sparkwright.job import Between
from sparkwright.numeric import FloatArray

NOT_IN_RECORD = {"record": False}
"""Marks a field that ``--json`` leaves out, being long and made of what else stands there."""


@dataclass(frozen=True)
class Grid:
    """The lowest ceilings on a fine grid over a map, shape (loads, speeds) [deg], and what each is."""

    rpm: FloatArray
    kpa: FloatArray
    lowest_deg: FloatArray
    names: NDArray[np.str_]


@dataclass(frozen=True)
class Lowered:
    """What was taken from cells for what lies between them; arrays have the map's shape.

    ``rpm`` and ``kpa`` are the point that asked the most of a cell, and ``ceiling`` which one it is under;
    nan and "" where nothing was asked.
    """

    advance_deg: FloatArray
    lowered_deg: FloatArray
    rpm: FloatArray
    kpa: FloatArray
    ceiling: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class BetweenCells:
    """What a controller makes of the map between its cells, and what that took; arrays of the map's shape."""

    how: Between
    lowered_deg: FloatArray
    """Degrees taken from a cell for a point between cells; 0 where nothing was asked."""
    lost_percent: FloatArray
    """Torque that those degrees cost in the cell; nan where the engine hardly pulls."""
    rpm: FloatArray
    kpa: FloatArray
    """The point that asked the most of the cell; nan where nothing was asked."""
    ceiling: tuple[tuple[str, ...], ...]
    """The ceiling there; "" where nothing was asked."""
    grid: Grid | None = field(default=None, metadata=NOT_IN_RECORD)
    """The ceilings between the cells; None where nobody looked. Infinite where a row with speeds of its own
    keeps its end's value and no running engine comes."""

    def without(self, cells: NDArray[np.bool_]) -> BetweenCells:
        """Give the same with nothing asked of some cells.

        Parameters
        ----------
        cells : array of bool
            Which cells nothing is asked of, shape (loads, speeds).
        """
        return replace(
            self,
            lowered_deg=np.where(cells, 0.0, self.lowered_deg),
            lost_percent=np.where(cells, np.nan, self.lost_percent),
            rpm=np.where(cells, np.nan, self.rpm),
            kpa=np.where(cells, np.nan, self.kpa),
            ceiling=tuple(
                tuple("" if left else name for left, name in zip(*row, strict=True))
                for row in zip(cells.tolist(), self.ceiling, strict=True)
            ),
        )


@dataclass(frozen=True)
class OnRows:
    """What it takes from a map that each row has speeds of its own; arrays of the map's shape."""

    nodes: NDArray[np.bool_]
    """Cells that the controller has; each other one is what it makes of those of its row."""
    lowered_deg: FloatArray
    """Degrees by which the map stands below that of a controller with every speed in every row; below 0
    where it stands above that, under its ceilings."""
    lost_percent: FloatArray
    """Torque that those degrees cost in the cell; nan where the engine hardly pulls."""
