"""What pulls say: each smoothed, the factors for its air, and timings held against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.air.correction import DynoCorrection, dyno_correction
from sparkwright.air.humidity import OutsideAir
from sparkwright.dyno.pulls import CONFIDENCE, Compared, Pull, compared, smoothed, speeds_of
from sparkwright.errors import Refusal
from sparkwright.findings import Finding

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

    headline: str
    action: str
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
        headline=" ".join(_compared_words(each) for each in found) or _alone_words(pulls),
        action=_action(found),
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


def _alone_words(pulls: Sequence[Pull]) -> str:
    count = f"{len(pulls)} pull" + ("" if len(pulls) == 1 else "s")
    return f"{count} at one timing."


def _compared_words(found: Compared) -> str:
    of = f"{found.second} less {found.first}"
    mean = float(np.mean(found.difference_nm))
    if np.isnan(found.low_nm).any():
        return f"{of}: {mean:+.1f} N m in the mean, but how real that is isn't determined without a repeat."
    if not found.real:
        return f"{of}: no difference that is real; {mean:+.1f} N m in the mean lies within the noise."
    where = ", ".join(f"{low:,.0f} to {high:,.0f}" for low, high in found.real)
    return f"{of}: {mean:+.1f} N m in the mean, real at {where} rpm ({100 * CONFIDENCE:.0f} % over all)."


def _action(found: Sequence[Compared]) -> str:
    if not found:
        return "Run pulls at a second timing, two or more at each."
    needed = [each.needed for each in found]
    if any(each is None for each in needed):
        return "Run each timing again: only repeats tell the noise."
    least = min(min(each.pulls) for each in found)
    most = max(each for each in needed if each is not None)
    if least >= most:
        return "There are pulls enough to see 1 % at a speed."
    return f"To see 1 % at a speed run {most - least} more at each timing, {most} in all."
