"""How much each cell counts: a stated guess of how an engine is used, until drives tell better."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sparkwright.job import Use
from sparkwright.numeric import FloatArray

LEAST_USE = 0.1
"""Use that even the least used cell has, of the most [-]: every cell is met some day; a choice."""


class _Place(NamedTuple):
    """Where an engine mostly runs, as shares of its spans of speed and load, and how far about it [-]."""

    speed: float
    load: float
    speed_spread: float
    load_spread: float


_PLACES: dict[Use, tuple[_Place, ...]] = {
    "road": (_Place(0.35, 0.45, 0.15, 0.25), _Place(0.05, 0.2, 0.1, 0.1)),
    "stationary": (_Place(0.6, 0.8, 0.1, 0.2),),
    "competition": (_Place(0.8, 1.0, 0.2, 0.15),),
}
"""Common practice, no source: on the road an engine cruises and idles, a stationary one turns at its governed
speed under most of its load, in competition it runs fast at full load."""


def use_of(use: Use, rpm: FloatArray, kpa: FloatArray, top_rpm: float, top_kpa: float) -> FloatArray:
    """Give how much each cell counts, `LEAST_USE` to 1, shape (loads, speeds) [-].

    Parameters
    ----------
    use : {"road", "stationary", "competition"}
        How the engine is used.
    rpm, kpa : array
        Speeds and loads of the cells.
    top_rpm, top_kpa : float
        Highest speed of the engine, and most pressure that site and boost give.

    Notes
    -----
    The highest of normal curves about where such an engine mostly runs. A guess, no source.

    Examples
    --------
    >>> cruise, full = use_of("road", np.array([2100.0]), np.array([45.0, 100.0]), 6000.0, 100.0)[:, 0]
    >>> bool(cruise > 3 * full)
    True
    """
    speed, load = rpm[None, :] / top_rpm, kpa[:, None] / top_kpa
    curves = [
        np.exp(
            -0.5 * ((speed - at.speed) / at.speed_spread) ** 2
            - 0.5 * ((load - at.load) / at.load_spread) ** 2
        )
        for at in _PLACES[use]
    ]
    return np.asarray(LEAST_USE + (1.0 - LEAST_USE) * np.max(curves, axis=0))
