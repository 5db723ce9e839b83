"""The chance of knock over a whole map, whatever advance stands in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sparkwright.numeric import FloatArray
from sparkwright.plan.corrected import Hooks
from sparkwright.plan.firmness import knock_chances_percent
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at
from sparkwright.plan.physics import Physics


def hooks_over(physics: Physics, rpm: FloatArray, kpa: FloatArray) -> tuple[Hooks, ...]:
    """Make the hooks of a map, a row of speeds for each load; cycles are run when they are asked.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it.
    rpm : array
        Speeds of the map [rpm], rising.
    kpa : array
        Loads of the map [kPa absolute], rising.
    """
    return tuple(sparse_at(physics, rpm, load) for load in kpa.tolist())


def chances_over(hooks: Sequence[Hooks], advance_deg: FloatArray, ln_sigma: FloatArray) -> FloatArray:
    """Give the chance of knock in each cell of a map [%].

    Parameters
    ----------
    hooks : sequence of Hooks
        Of `hooks_over`.
    advance_deg : array, shape (loads, speeds)
        The advance in each cell; beyond the tested advances the nearest tested one is taken.
    ln_sigma : array, shape (loads, speeds)
        One standard deviation of ln of the knock integral, as `MapCells.ln_knock_sigma`.
    """
    tested_deg = np.clip(advance_deg, FIRST_DEG, LAST_DEG)
    rows = zip(hooks, tested_deg, ln_sigma, strict=True)
    return np.array([knock_chances_percent(hook.at(advance)[1], sigma) for hook, advance, sigma in rows])
