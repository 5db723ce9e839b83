"""What pulls say: each smoothed, the factors for its air, and timings held against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.air.correction import DynoCorrection, dyno_correction
from sparkwright.air.humidity import OutsideAir
from sparkwright.dyno.pulls import CONFIDENCE, Compared, Pull, compared, smoothed, speeds_of
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value

STANDARDS = ("SAE J1349", "ISO 1585")


@dataclass(frozen=True, eq=False)
class PullCurve:
    """One pull, smoothed, uncorrected."""

    name: str
    timing: str
    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    most_nm: float
    most_at_rpm: float


@dataclass(frozen=True, eq=False)
class PullResult:
    """What pulls say.

    ``corrections`` are factors on torque and power for the air of the day, with what lies outside a
    standard's window; pulls of one day are compared uncorrected.
    """

    findings: tuple[Finding, ...]
    """What leads: every further timing against the first, or that there is none."""
    to_do: Finding
    """Whether there are pulls enough, and how many more are needed."""
    bandwidth_rpm: float
    pulls: tuple[PullCurve, ...]
    compared: tuple[Compared, ...]
    corrections: tuple[DynoCorrection, ...]
    warnings: tuple[Finding, ...]


def pulls_of(pulls: Sequence[Pull], bandwidth_rpm: float, air: OutsideAir | None = None) -> PullResult:
    """Smooth pulls, correct them, and hold each further timing against the first.

    Parameters
    ----------
    pulls : sequence of Pull
        The pulls, of one timing or of several; the first one's timing is held against.
    bandwidth_rpm : float
        Standard deviation of the normal weights that smooth over speed [rpm].
    air : OutsideAir, optional
        Air of the day, by which torque is corrected; None for no correction.

    Raises
    ------
    Refusal
        If two pulls have one name, or pulls of several timings have no speeds in common.
    """
    names = [each.name for each in pulls]
    twice = sorted({each for each in names if names.count(each) > 1})
    if twice:
        raise Refusal.at("pulls", twice[0], "must have a name each", "name them in the column pull")
    timings = list(dict.fromkeys(each.timing for each in pulls))
    if len(timings) > 1 and speeds_of(pulls).size < 2:
        raise Refusal.at(
            "pulls", f"{len(pulls)} pulls", "must have speeds in common", "run them over the same speeds"
        )
    found = tuple(compared(pulls, timings[0], each, bandwidth_rpm) for each in timings[1:])
    corrections = tuple(dyno_correction(each, air) for each in STANDARDS) if air is not None else ()
    return PullResult(
        findings=tuple(_told(each) for each in found) or (_one_timing(pulls),),
        to_do=_repeats_needed(found) if found else _one_timing(pulls),
        bandwidth_rpm=bandwidth_rpm,
        pulls=tuple(_curve(each, bandwidth_rpm) for each in pulls),
        compared=found,
        corrections=corrections,
        warnings=tuple(found for each in corrections for found in each.outside_range),
    )


def _curve(pull: Pull, bandwidth_rpm: float) -> PullCurve:
    rpm = speeds_of([pull])
    torque = smoothed(pull, rpm, bandwidth_rpm)
    most = int(np.nanargmax(torque))
    return PullCurve(
        pull.name,
        pull.timing,
        tuple(rpm.tolist()),
        tuple(torque.tolist()),
        float(torque[most]),
        float(rpm[most]),
    )


def _one_timing(pulls: Sequence[Pull]) -> Finding:
    return Finding("pulls.one-timing", "open", {"pulls": len(pulls)})


def _told(found: Compared) -> Finding:
    mean_nm = float(np.mean(found.difference_nm))
    numbers: dict[str, Value] = {"first": found.first, "second": found.second, "mean_nm": mean_nm}
    if np.isnan(found.low_nm).any():
        return Finding("pulls.without-repeat", "open", numbers)
    if not found.real:
        return Finding("pulls.not-real", "good", numbers)
    return Finding("pulls.real", "good", {**numbers, "real_rpm": found.real, "percent": 100.0 * CONFIDENCE})


def _repeats_needed(found: Sequence[Compared]) -> Finding:
    needed = [each.needed for each in found if each.needed is not None]
    if len(needed) < len(found):
        return Finding("pulls.repeat", "open")
    least, most = min(min(each.pulls) for each in found), max(needed)
    if least >= most:
        return Finding("pulls.enough", "good")
    return Finding("pulls.too-few", "look", {"more": most - least, "needed": most})
