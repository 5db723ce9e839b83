"""Faults with known places, put into an invented drive."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from invented_drives import Columns

Fault = Callable[[Columns, np.random.Generator], Columns]


def _at(columns: Columns, rpm: tuple[float, float], kpa: tuple[float, float]) -> NDArray[np.bool_]:
    return np.asarray(
        (columns["rpm"] > rpm[0])
        & (columns["rpm"] < rpm[1])
        & (columns["map"] > kpa[0])
        & (columns["map"] < kpa[1])
    )


KNOCK_AT = ((2300.0, 2800.0), (70.0, 86.0))


def knock_by_retard(columns: Columns, rng: np.random.Generator) -> Columns:
    """The controller takes 3 deg off for half a second, now and then, where it knocks."""
    begins = _at(columns, *KNOCK_AT) & (rng.random(columns["rpm"].size) < 0.02)
    held = np.convolve(begins, np.ones(10))[: begins.size] > 0
    retard = np.where(held, 3.0, 0.0)
    return columns | {"knock retard": retard, "advance": columns["advance"] - retard}


def knock_by_level(columns: Columns, rng: np.random.Generator) -> Columns:
    """A sensor that reads four times what is usual there."""
    hit = _at(columns, *KNOCK_AT) & (rng.random(columns["rpm"].size) < 0.02)
    return columns | {"knock": np.where(hit, 4.0, 1.0) * columns["knock"]}


def knock_by_ear(columns: Columns, rng: np.random.Generator) -> Columns:
    """A button that the driver pressed four times."""
    there = np.flatnonzero(_at(columns, *KNOCK_AT))
    marks = np.zeros(columns["rpm"].size)
    marks[there[:: max(there.size // 4, 1)][:4]] = 1.0
    return columns | {"mark": marks}


MISFIRE_AT = ((3600.0, 4600.0), (25.0, 90.0))


def misfire(columns: Columns, rng: np.random.Generator) -> Columns:
    """Speed dips by 3 % for a row where the mixture is hard to light."""
    hit = _at(columns, *MISFIRE_AT) & (rng.random(columns["rpm"].size) < 0.01)
    return columns | {"rpm": np.where(hit, 0.97, 1.0) * columns["rpm"]}


def misfire_everywhere(columns: Columns, rng: np.random.Generator) -> Columns:
    """One cylinder that fails now and then at any speed and load."""
    hit = rng.random(columns["rpm"].size) < 0.002
    return columns | {"rpm": np.where(hit, 0.96, 1.0) * columns["rpm"]}


def arcing(columns: Columns, rng: np.random.Generator) -> Columns:
    """Trims move the advance by up to 5 deg; at high load the engine stumbles where it stands early."""
    stays = np.repeat(rng.uniform(-5, 5, columns["rpm"].size // 300 + 1), 300)[: columns["rpm"].size]
    chance = np.where((columns["map"] > 62) & (stays > 1.5), 0.012 * (stays - 1.5), 0.0)
    hit = rng.random(columns["rpm"].size) < chance
    return columns | {
        "rpm": np.where(hit, 0.97, 1.0) * columns["rpm"],
        "advance": columns["advance"] + stays,
        "commanded advance": columns["commanded advance"] + stays,
        "timing trim": stays,
    }


def pickup_leaps(columns: Columns, rng: np.random.Generator) -> Columns:
    """Teeth are missed for a row above 3,500 rpm."""
    hit = (columns["rpm"] > 3500) & (rng.random(columns["rpm"].size) < 0.0015)
    return columns | {"rpm": np.where(hit, 0.4, 1.0) * columns["rpm"]}


def sync_losses(columns: Columns, rng: np.random.Generator) -> Columns:
    """The controller counts a lost tooth now and then above 3,500 rpm."""
    hit = (columns["rpm"] > 3500) & (rng.random(columns["rpm"].size) < 0.001)
    return columns | {"sync losses": np.cumsum(hit).astype(float)}


def dwell_runs_out(columns: Columns, rng: np.random.Generator) -> Columns:
    """Above 3,800 rpm there is no time left for the dwell that is asked for."""
    short = np.clip((columns["rpm"] - 3800) / 2000, 0, 0.5)
    return columns | {"dwell": columns["dwell"] * (1 - np.where(columns["rpm"] > 3800, 0.08 + short, 0))}


def low_battery(columns: Columns, rng: np.random.Generator) -> Columns:
    """For a tenth of the drive the battery falls to 11 V, and with it the dwell reached."""
    count = columns["rpm"].size
    low = (np.arange(count) > 0.4 * count) & (np.arange(count) < 0.5 * count)
    return columns | {
        "battery": columns["battery"] - np.where(low, 2.8, 0.0),
        "dwell": columns["dwell"] * np.where(low, 0.85, 1.0),
    }


OFF_AT = ((1900.0, 2700.0), (46.0, 66.0))


def timing_off(columns: Columns, rng: np.random.Generator) -> Columns:
    """A table of the controller adds 4 deg at some speeds and loads."""
    more = np.where(_at(columns, *OFF_AT), 4.0, 0.0)
    return columns | {
        "advance": columns["advance"] + more,
        "commanded advance": columns["commanded advance"] + more,
    }


def late_to_command(columns: Columns, rng: np.random.Generator) -> Columns:
    """The engine gets 3 deg less than it is commanded."""
    return columns | {"advance": columns["advance"] - 3.0}


FAULTS: dict[str, tuple[Fault, str]] = {
    "knock by retard": (knock_by_retard, "knock.logged"),
    "knock by level": (knock_by_level, "knock.logged"),
    "knock by ear": (knock_by_ear, "knock.heard"),
    "misfire at some speeds": (misfire, "misfire.heaped"),
    "misfire everywhere": (misfire_everywhere, "misfire.everywhere"),
    "sparks under the cap": (arcing, "arcing.suspected"),
    "pickup that leaps": (pickup_leaps, "pickup.drops-out"),
    "lost teeth": (sync_losses, "pickup.drops-out"),
    "dwell that runs out": (dwell_runs_out, "dwell.runs-out"),
    "low battery": (low_battery, "dwell.runs-out"),
    "timing off the map": (timing_off, "timing.off"),
    "timing not as commanded": (late_to_command, "timing.not-as-commanded"),
}
"""Each fault, and the kind of finding that tells it."""
