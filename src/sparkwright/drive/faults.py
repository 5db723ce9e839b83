"""What went wrong on a drive: knock, misfire, sparks under the cap, a pickup that drops out, short dwell.

Each finding has its place, its evidence, a count, the chance that it is chance, and, where it is known, a
change with its cost in torque. Nothing is changed by itself. Thresholds are choices; `docs/drives.md` tells
how often they find what is there, and what is not.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.chance import Heap, heaps, rising_chance
from sparkwright.drive.seen import DriveSeen
from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray

MOST_CHANCE = 1e-3
"""Chance above which nothing is told of a place."""
FEWEST_KNOCKS, FEWEST_DIPS, FEWEST_LEAPS = 3, 5, 3
FEWEST_SHORT = 5
RETARD_COUNTS_DEG = 0.5
"""Least retard that counts as the controller's answer to knock [deg]."""
LEVEL_SIGMAS, LEVEL_TIMES = 6.0, 1.6
"""How far a knock level stands out over what is usual at its speed: in robust deviations, and times it."""
WITHOUT_NUMBER_DEG = 2.0
"""Retard proposed where only sound or level tells of knock [deg]; common practice, no source."""
LEAN_SPIKE = 0.12
"""Lambda over the middle of its window's neighbours that tells of a charge that didn't burn [-]."""
SHORT_SHARE = 0.07
"""Share of the dwell asked for that must be missing."""
HIGH_LOAD = 0.75
"""Load from which sparks under the cap are looked for, in shares of the air's pressure."""
FALSE_DIP = 2e-8
"""Dips of speed that noise makes in a row; by the tail of the normal law at six deviations, with room."""


def faults(seen: DriveSeen) -> Iterator[Finding]:
    """Look for every fault that the channels can show.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan.
    """
    yield from knock(seen)
    # Sparks under the cap make the engine stumble too; what tells more is told.
    yield from list(arcing(seen)) or misfire(seen)
    yield from dropouts(seen)
    yield from dwell(seen)


def knocked(seen: DriveSeen) -> dict[str, NDArray[np.bool_]]:
    """Say in which windows it knocked, by what tells of it: "marks", "retard", "level".

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with marks, retard or level where the log has them.
    """
    windows, found = seen.windows, {}
    marks = windows.most.get("knock_mark")
    if marks is not None and np.nanmax(marks, initial=0.0) > 0:
        found["marks"] = np.nan_to_num(marks) > 0
    if "knock_retard_deg" in windows.most:
        found["retard"] = retard_deg(seen) >= RETARD_COUNTS_DEG
    level = windows.most.get("knock_level")
    if level is not None and np.isfinite(level).any():
        found["level"] = _stands_out(level, windows.rpm, seen.axes.rpm)
    return found


def retard_deg(seen: DriveSeen) -> FloatArray:
    """Give the most retard for knock in each window, whatever its sign in the log [deg]; 0 where unknown.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with least and most of the controller's retard where it logs one.
    """
    most, least = seen.windows.most.get("knock_retard_deg"), seen.windows.least.get("knock_retard_deg")
    if most is None or least is None:
        return np.zeros(seen.windows.count)
    return np.nan_to_num(np.maximum(np.abs(most), np.abs(least)))


def _stands_out(level: FloatArray, rpm: FloatArray, axis: FloatArray) -> NDArray[np.bool_]:
    """Say which levels stand out over what is usual at their speed, by median and median deviation."""
    logs = np.log(np.maximum(np.nan_to_num(level, nan=1e-6), 1e-6))
    column = np.searchsorted(0.5 * (axis[1:] + axis[:-1]), rpm)
    out = np.zeros(level.size, dtype=bool)
    for each in np.unique(column).tolist():
        here = column == each
        if np.count_nonzero(here) < 20:
            continue
        middle = float(np.median(logs[here]))
        sigma = 1.4826 * float(np.median(np.abs(logs[here] - middle)))
        out[here] = logs[here] > middle + max(LEVEL_SIGMAS * sigma, np.log(LEVEL_TIMES))
    return out


def knock(seen: DriveSeen) -> Iterator[Finding]:
    """Tell where it knocked, by ear, by the controller's retard, or by a level that stands out.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan, which says what less advance would cost.
    """
    for by, events in knocked(seen).items():
        fewest = 1 if by == "marks" else FEWEST_KNOCKS
        most_chance = 1.0 if by == "marks" else MOST_CHANCE
        found = heaps(events, seen.cells, fewest, most_chance)
        if not found:
            continue
        lead = found[0]
        here = (seen.cells == lead.cell) & events
        rpm, kpa = seen.axes.place(lead.cell)
        step = seen.job.controller.step_deg
        taken = float(np.percentile(retard_deg(seen)[here], 90)) if by == "retard" else WITHOUT_NUMBER_DEG
        less = step * ceil(round(taken / step, 6))
        advance = seen.advance_in(here)
        stands = advance + taken if by == "retard" else advance
        numbers: dict[str, Value] = {
            "by": by,
            "rpm": rpm,
            "kpa": kpa,
            "count": lead.count,
            "of": lead.of,
            "chance": lead.chance,
            "advance_deg": stands,
            "less_deg": less,
            "cost_percent": seen.cost_percent(rpm, kpa, stands, less),
            "places": seen.places(found),
        }
        yield Finding("knock.heard" if by == "marks" else "knock.logged", "problem", numbers)


def stumbled(seen: DriveSeen) -> NDArray[np.bool_]:
    """Say in which windows the engine stumbled: speed dipped and came back, or the probe read air briefly.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with dips of speed counted, and lambda where it is logged.
    """
    windows = seen.windows
    found = windows.dips > 0
    mean, most = windows.mean("mixture_lambda"), windows.most.get("mixture_lambda")
    if mean is not None and most is not None:
        found = found | (windows.steady() & (np.nan_to_num(most - mean) > LEAN_SPIKE))
    return found


def at_high_load(seen: DriveSeen) -> NDArray[np.bool_]:
    """Say in which windows sparks under the cap are looked for.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with the pressure of the day's air.
    """
    return np.asarray(seen.windows.kpa >= HIGH_LOAD * seen.ambient_kpa)


def misfire(seen: DriveSeen) -> Iterator[Finding]:
    """Tell where speed dips and comes back, or lambda leaps, as a charge that doesn't burn makes them.

    Speed that rises and comes back measures the noise: twice as many dips are allowed it.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with dips of speed and leaps of lambda counted in each.
    """
    from scipy.stats import poisson

    windows, events = seen.windows, stumbled(seen)
    total = int(events.sum())
    if total < FEWEST_DIPS:
        return
    by_noise = float(np.count_nonzero(windows.bumps)) + FALSE_DIP * float(windows.rows.sum()) + 0.01
    chance = float(poisson.sf(total - 1, 2.0 * by_noise))
    if chance > MOST_CHANCE:
        return
    spikes = events & (windows.dips == 0)
    numbers: dict[str, Value] = {"count": total, "of": windows.count, "with_lambda": int(spikes.sum())}
    found = _heap_of(seen, events)
    if found is None:
        yield Finding("misfire.everywhere", "look", numbers | {"chance": chance})
        return
    heap, rpm, kpa = found
    here: dict[str, Value] = {"rpm": rpm, "kpa": kpa, "here": heap.count, "here_of": heap.of}
    yield Finding("misfire.heaped", "look", numbers | here | {"chance": heap.chance})


def _dip_heaps(events: NDArray[np.bool_], places: NDArray[np.int32]) -> list[Heap]:
    return heaps(events, places, FEWEST_DIPS, MOST_CHANCE)


HeapAt: TypeAlias = tuple[Heap, float | None, float | None]
"""A heap with its speed and load; None where it may be any."""


def _heap_of(seen: DriveSeen, events: NDArray[np.bool_]) -> HeapAt | None:
    """Find where events heap up most surely: in a cell, at a speed at any load, or at a load at any speed."""
    speeds, loads = seen.cells % seen.axes.rpm.size, seen.cells // seen.axes.rpm.size
    found: list[HeapAt] = [
        *((each, *seen.axes.place(each.cell)) for each in _dip_heaps(events, seen.cells)),
        *((each, float(seen.axes.rpm[each.cell]), None) for each in _dip_heaps(events, speeds)),
        *((each, None, float(seen.axes.kpa[each.cell])) for each in _dip_heaps(events, loads)),
    ]
    return min(found, key=lambda each: each[0].chance, default=None)


def arcing(seen: DriveSeen) -> Iterator[Finding]:
    """Suspect sparks under the cap where stumbling grows with advance at one speed and load, at high load.

    A plug asks the same voltage at any advance near enough; a rotor tip that leaves its post asks more.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan, for load and advance where it stumbled.
    """
    advance = seen.advance_deg
    if advance is None:
        return
    events = stumbled(seen)
    high = at_high_load(seen) & np.isfinite(advance)
    if np.count_nonzero(events & high) < FEWEST_DIPS:
        return
    z, chance = rising_chance(events[high], advance[high], seen.cells[high])
    if chance > MOST_CHANCE:
        return
    hit = events & high
    cell = int(np.bincount(seen.cells[hit]).argmax())
    rpm, kpa = seen.axes.place(cell)
    here = seen.cells == cell
    with_deg, without_deg = seen.advance_in(here & hit), seen.advance_in(here & ~events)
    less = seen.job.controller.step_deg * ceil(
        max(with_deg - without_deg, 1.0) / seen.job.controller.step_deg
    )
    numbers: dict[str, Value] = {
        "rpm": rpm,
        "kpa": kpa,
        "count": int(hit.sum()),
        "of": int(high.sum()),
        "chance": chance,
        "z": z,
        "with_deg": with_deg,
        "without_deg": without_deg,
        "less_deg": less,
        "cost_percent": seen.cost_percent(rpm, kpa, with_deg, less),
        "reach_deg": float(np.nanmin(seen.plan.cells.ceilings.reach_deg)),
    }
    yield Finding("arcing.suspected", "problem", numbers)


def dropped_out(seen: DriveSeen) -> tuple[NDArray[np.bool_], float]:
    """Say in which windows the pickup dropped out, and how many teeth the controller counted as lost.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with leaps of speed counted, and the controller's own count where logged.
    """
    windows = seen.windows
    leaps = windows.leaps > 0
    most, least = windows.most.get("sync_losses"), windows.least.get("sync_losses")
    if most is None or least is None:
        return leaps, 0.0
    grown = np.nan_to_num(most - least)
    joins = np.nan_to_num(least[1:] - most[:-1]) * (windows.file[1:] == windows.file[:-1])
    grown[1:] += np.maximum(joins, 0.0)
    return leaps | (grown > 0), float(grown.sum())


def dropouts(seen: DriveSeen) -> Iterator[Finding]:
    """Tell of a speed signal that leaps as no crank can, and of the controller's own count of lost teeth.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with leaps of speed counted, and the controller's own count where logged.
    """
    windows, (events, lost) = seen.windows, dropped_out(seen)
    if int(windows.leaps.sum()) < FEWEST_LEAPS and lost < 1:
        return
    found = heaps(events, seen.cells, FEWEST_LEAPS, MOST_CHANCE)
    numbers: dict[str, Value] = {
        "leaps": int(windows.leaps.sum()),
        "losses": lost,
        "of": windows.count,
        "low_rpm": float(np.percentile(windows.rpm[events], 10)),
        "high_rpm": float(np.percentile(windows.rpm[events], 90)),
        "chance": found[0].chance if found else None,
        "places": seen.places(found),
    }
    yield Finding("pickup.drops-out", "problem", numbers)


def short_of_dwell(seen: DriveSeen) -> NDArray[np.bool_] | None:
    """Say in which windows the coil got less dwell than was asked for; None where it isn't logged.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with dwell got and dwell asked for.
    """
    got, asked = seen.windows.mean("dwell_ms"), seen.windows.mean("dwell_asked_ms")
    if got is None or asked is None:
        return None
    return np.asarray(got < (1.0 - SHORT_SHARE) * asked)


def dwell(seen: DriveSeen) -> Iterator[Finding]:
    """Tell where the coil gets less dwell than was asked for: at speed, or on a low battery.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, of which those with dwell got and dwell asked for count.
    """
    windows, short = seen.windows, short_of_dwell(seen)
    got, asked = windows.mean("dwell_ms"), windows.mean("dwell_asked_ms")
    if short is None or got is None or asked is None:
        return
    count = int(np.count_nonzero(short))
    if count < FEWEST_SHORT:
        return
    found = heaps(short, seen.cells, FEWEST_SHORT, MOST_CHANCE)
    order = np.argsort(windows.rpm)
    speed = windows.rpm[order]
    # The speed that parts those that are short from the others best.
    gain = np.cumsum(np.where(short[order], -1.0, 1.0))
    from_rpm = float(speed[min(int(gain.argmax()) + 1, speed.size - 1)])
    above = windows.rpm >= from_rpm
    share_above = float(short[above].mean()) if above.any() else 0.0
    battery = windows.mean("battery_v")
    volts = float(np.nanmedian(battery[short])) if battery is not None else float("nan")
    usual = float(np.nanmedian(battery[~short])) if battery is not None and (~short).any() else float("nan")
    numbers: dict[str, Value] = {
        "count": count,
        "of": windows.count,
        "missing_percent": 100.0 * float(np.nanmedian(1.0 - got[short] / asked[short])),
        "from_rpm": from_rpm if share_above > 0.5 else None,
        "battery_v": volts,
        "usual_v": usual,
        "low_battery": bool(usual - volts > 1.0),
        "chance": found[0].chance if found else None,
        "places": seen.places(found),
    }
    yield Finding("dwell.runs-out", "problem", numbers)
