"""What a fit means at the engine: one finding a subject.

Which cause goes with which picture is common practice of the trade, with no source; where more than one cause
makes the same picture, the finding names them all and what would tell them apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.findings import Finding, State, Value
from sparkwright.light.bench import Bench
from sparkwright.light.fit import ENOUGH_READINGS, Estimate, LightFit, delay_angle_deg, reading_sigma_deg
from sparkwright.light.readings import Reading

SMALL_DEG = 0.5
"""What is not worth a hand on the clamp, and a good spread of readings. Common practice, no source."""

LARGE_DEG = 2.0
"""From here on something is wrong rather than out of true. Common practice, no source."""

ELECTRIC_US = 200.0
"""Pickup, driver and light together take tens of microseconds to about a hundred; above this a delay is not
electrical. Common practice, no source."""

_RATIO_SPAN = 0.08
_LEAST_RATIO_DEG = 8.0


@dataclass(frozen=True)
class Fooled:
    """Readings that show half or twice what was commanded while the others agree with it."""

    indices: tuple[int, ...]
    factor: float


def place(reading: Reading) -> tuple[int | None, float, float]:
    """Give where a reading stands: its line, its speed [rpm] and what was seen [deg].

    Parameters
    ----------
    reading : Reading
        One reading of the light.
    """
    return reading.line or None, reading.speed_rpm, reading.seen_deg


def interval(estimate: Estimate) -> dict[str, Value]:
    """Give a value and the ends of its interval as numbers of a finding.

    Parameters
    ----------
    estimate : Estimate
        What was estimated, in any unit.
    """
    return {"value": estimate.value, "low": estimate.low, "high": estimate.high}


def fooled(readings: Sequence[Reading], bench: Bench) -> Fooled | None:
    """Find readings at half or twice the command among others that agree with it.

    Parameters
    ----------
    readings : sequence of Reading
        Readings of one engine, at least some of which may be fooled.
    bench : Bench
        The light and what it is read against.

    Examples
    --------
    >>> from sparkwright.light.bench import Bench
    >>> bench = Bench("clockwise", "hall", None, "locked", "inductive", 8, 30.0, 2000.0, 4000.0)
    >>> fooled([Reading(30, 1000, 60), Reading(30, 2000, 30), Reading(30, 3000, 30)], bench)
    Fooled(indices=(0,), factor=2.0)
    """
    for factor in (0.5, 2.0):
        odd = tuple(place for place, each in enumerate(readings) if _shows(each, factor, bench))
        rest = [abs(each.difference_deg) for place, each in enumerate(readings) if place not in odd]
        if odd and len(rest) >= 2 and max(rest) <= 2.0 * LARGE_DEG:
            return Fooled(odd, factor)
    return None


def _shows(reading: Reading, factor: float, bench: Bench) -> bool:
    """Whether a reading shows that multiple of its command, within three errors of reading."""
    far = abs(reading.difference_deg) > 2.0 * LARGE_DEG and reading.commanded_deg >= _LEAST_RATIO_DEG
    near = 3.0 * reading_sigma_deg(reading.resolution_deg or bench.step_deg, bench.eye_deg)
    return far and abs(reading.true_deg - factor * reading.commanded_deg) <= near


def shown_ratio(readings: Sequence[Reading], bench: Bench) -> float | None:
    """Give 0.5 or 2 where every reading, at least two, shows that multiple of its command.

    Parameters
    ----------
    readings : sequence of Reading
        All readings of the set.
    bench : Bench
        The light and what it is read against.
    """
    for factor in (0.5, 2.0):
        if len(readings) >= 2 and all(_shows(each, factor, bench) for each in readings):
            return factor
    return None


def mixed(fit: LightFit) -> Finding | None:
    """Tell readings of two settings in one list.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    effect = fit.effect("setting")
    if effect is None or effect.which is None:
        return None
    split = int(effect.which)
    return Finding(
        "two-settings.mixed",
        "problem",
        {
            "last_before": place(fit.readings[split - 1]),
            "first_after": place(fit.readings[split]),
            "more_deg": effect.estimate.value,
            "sweep_noted": any(each.sweep is not None for each in fit.readings),
        },
    )


def light_fooled(odd: Fooled | None, readings: Sequence[Reading]) -> Finding | None:
    """Tell of a light that shows half or twice at some of the readings.

    Parameters
    ----------
    odd : Fooled or None
        What `fooled` found; None for nothing.
    readings : sequence of Reading
        All readings of the set.
    """
    if odd is None:
        return None
    places = tuple(place(readings[index]) for index in odd.indices)
    return Finding("light.fooled", "problem", {"factor": odd.factor, "readings": places})


def ratio_held(factor: float | None, fit: LightFit, bench: Bench) -> Finding | None:
    """Tell where every reading shows half or twice the one command: the light, or a large offset.

    Parameters
    ----------
    factor : float or None
        What `shown_ratio` gave: 0.5, 2 or None.
    fit : LightFit
        What the readings say, fitted.
    bench : Bench
        The light and what it is read against.
    """
    if factor is None or fit.effect("command") is not None:
        return None
    offset_deg = float(np.mean([each.difference_deg for each in fit.readings]))
    return Finding(
        "light-or-offset.ratio",
        "problem",
        {"factor": factor, "offset_deg": offset_deg, "other_deg": bench.hold_deg - 10.0},
    )


def command(fit: LightFit) -> Finding | None:
    """Whether the spark moves as the commands do.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    effect = next((each for each in fit.effects if each.kind == "command"), None)
    if effect is None:
        return None
    size = effect.estimate
    slope = Estimate(1.0 + size.value, 1.0 + size.low, 1.0 + size.high)
    if not effect.accepted:
        return Finding("command.followed", "good", interval(slope))
    if abs(slope.value - 0.5) < _RATIO_SPAN or abs(slope.value - 2.0) < 2.0 * _RATIO_SPAN:
        return Finding("command.fooled", "problem", interval(slope))
    if abs(slope.value) < 0.2:
        return Finding("command.hardly-followed", "problem", interval(slope))
    return Finding("command.changed", "problem", interval(slope))


def blunder(fit: LightFit) -> Finding | None:
    """Tell of one reading that doesn't fit, or several of which one doesn't.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    if fit.left_out is not None:
        reading = fit.readings[fit.left_out]
        return Finding(
            "one-reading.left-out",
            "look",
            {
                "reading": place(reading),
                "off_deg": reading.difference_deg - float(fit.fitted_difference_deg[fit.left_out]),
                "explained_deg": 2.0 * float(fit.sigma_deg[fit.left_out]),
                "few": _few(fit),
            },
        )
    if fit.suspects:
        places = tuple(place(fit.readings[index]) for index in fit.suspects)
        return Finding("one-reading.in-doubt", "look", {"readings": places, "few": _few(fit)})
    return None


def _few(fit: LightFit) -> bool:
    """Whether there are too few readings to tell one that is wrong from what is wrong with the engine."""
    return len(fit.readings) < ENOUGH_READINGS


def scatter(fit: LightFit) -> Finding:
    """Whether readings scatter more than light and eye explain.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    if fit.scatter_ratio is None or fit.degrees_of_freedom == 0:
        return Finding("scatter.not-determined", "open")
    if fit.suspects:
        return Finding("scatter.while-in-doubt", "open")
    if fit.bars == "stated":
        return Finding("scatter.explained", "good", {"ratio": fit.scatter_ratio})
    sigma_deg = fit.scatter_ratio * float(np.median(fit.sigma_deg))
    return Finding(
        "scatter.wide-of-few" if _few(fit) else "scatter.wide",
        "problem" if sigma_deg > LARGE_DEG else "look",
        {"ratio": fit.scatter_ratio, "sigma_deg": sigma_deg},
    )


def hysteresis(fit: LightFit) -> Finding | None:
    """Whether rising and falling speed read the same.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    effect = next((each for each in fit.effects if each.kind == "sweep"), None)
    if effect is None:
        return None
    size = effect.estimate
    if not effect.accepted or abs(size.value) < SMALL_DEG:
        most_deg = max(abs(size.low), abs(size.high))
        return Finding("rising-and-falling.agree", "good", {"within_deg": most_deg})
    return Finding("rising-and-falling.differ", grave(size.value), interval(size))


def grave(off_deg: float) -> State:
    """Say how grave it is to be off by so much.

    Parameters
    ----------
    off_deg : float
        By how much, either way [crank deg].
    """
    return "problem" if abs(off_deg) > LARGE_DEG else "look"


def cylinders(fit: LightFit) -> Iterator[Finding]:
    """Cylinders that fire earlier or later than the others.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    read = {each.cylinder for each in fit.readings} - {None}
    found = [each for each in fit.effects if each.kind == "cylinder"]
    odd = [each for each in found if each.accepted and abs(each.estimate.value) >= SMALL_DEG]
    for effect in odd:
        yield Finding(
            "cylinders.differ",
            grave(effect.estimate.value),
            {"cylinder": effect.which, "readings": effect.readings, **interval(effect.estimate)},
        )
    if found and not odd:
        most_deg = max(abs(end) for each in found for end in (each.estimate.low, each.estimate.high))
        yield Finding("cylinders.agree", "good", {"cylinders": len(read), "within_deg": most_deg})


def low_battery(fit: LightFit, bench: Bench) -> Finding | None:
    """Whether the delay grows as the battery falls.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    bench : Bench
        The light and what it is read against.
    """
    effect = next((each for each in fit.effects if each.kind == "battery"), None)
    if effect is None:
        return None
    growth = effect.estimate
    volts = [each.battery_v for each in fit.readings if each.battery_v is not None]
    numbers: dict[str, Value] = {"most_v": max(volts), "least_v": min(volts), **interval(growth)}
    if not effect.accepted:
        state: State = "good" if growth.high < ELECTRIC_US / 2.0 else "open"
        return Finding("low-battery.no-growth", state, numbers)
    if growth.value < 0:
        return Finding("low-battery.earlier", "look", numbers)
    lost_deg = delay_angle_deg(fit.highest_rpm, growth.value * (max(volts) - min(volts)))
    lost: dict[str, Value] = {"lost_deg": lost_deg, "rpm": fit.highest_rpm, "driver": bench.driver}
    return Finding("low-battery.delay-grows", grave(lost_deg), numbers | lost)


def most_effect_deg(fit: LightFit) -> float:
    """Give the most that sweep, cylinder and battery, where real, may add to the difference [deg].

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    volts = [each.battery_v for each in fit.readings if each.battery_v is not None]
    fallen_v = max(volts) - min(volts) if volts else 0.0
    shares = {"sweep": 0.5, "cylinder": 1.0, "battery": delay_angle_deg(fit.highest_rpm, fallen_v)}
    added = [
        (each.kind, shares[each.kind] * max(abs(each.estimate.low), abs(each.estimate.high)))
        for each in fit.effects
        if each.accepted and each.kind in shares
    ]
    return sum(max(deg for kind, deg in added if kind == one) for one in {kind for kind, _ in added})


CHANGES = frozenset(
    {
        "light.fooled",
        "light-or-offset.ratio",
        "command.fooled",
        "command.hardly-followed",
        "command.changed",
        "scatter.wide",
        "rising-and-falling.differ",
        "cylinders.differ",
        "low-battery.earlier",
        "low-battery.delay-grows",
        "drift.step",
        "drift.bend",
        "delay.too-large",
        "delay.to-set",
        "delay.set-too-long",
        "delay.earlier",
        "offset.to-turn",
        "two-settings.mixed",
        "offset-or-delay.not-told",
    }
)
"""Kinds that ask for something to be done or read otherwise, rather than for one reading again."""
READ_AGAIN = frozenset({"one-reading.left-out", "one-reading.in-doubt"})


def asks(finding: Finding) -> bool:
    """Whether a finding asks for anything: not while it is unsure, nor where it is settled as it is.

    Parameters
    ----------
    finding : Finding
        Anything that a set of readings told.
    """
    left_alone = finding.numbers.get("unsure") or finding.numbers.get("settled")
    return finding.kind in CHANGES | READ_AGAIN and not left_alone
