"""What a fit means at the engine: what is off alike at every speed, and what changes with speed."""

from __future__ import annotations

import numpy as np

from sparkwright.findings import Finding, State, Value
from sparkwright.light.bench import Bench
from sparkwright.light.findings import ELECTRIC_US, LARGE_DEG, SMALL_DEG, grave, interval
from sparkwright.light.fit import Estimate, LightFit, delay_angle_deg


def drift(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell of a step or bend against speed, which no delay makes.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    bench : Bench
        The light and what it is read against.
    """
    step, bend = fit.effect("step"), fit.effect("bend")
    if step is None and bend is None:
        return None
    moved_deg = float(np.ptp(fit.band_deg))
    if step is not None and step.which is not None:
        size = step.estimate
        numbers: dict[str, Value] = {"above_rpm": step.which, "rises": size.value > 0, **interval(size)}
        kind = "drift.step"
    else:
        kind = "drift.bend"
        numbers = {
            "moved_deg": moved_deg,
            "lowest_rpm": fit.lowest_rpm,
            "highest_rpm": fit.highest_rpm,
            "rises": fit.at_highest.value > fit.at_lowest.value,
        }
    return Finding(kind, grave(moved_deg), numbers | _mechanism(bench))


def _mechanism(bench: Bench) -> dict[str, Value]:
    return {"mechanical_advance": bench.mechanical_advance}


def delay(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell the delay of pickup, driver and light together.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    bench : Bench
        The light and what it is read against.
    """
    size = fit.delay_us
    if size is None:
        return None
    if not _moves_with_speed(fit):
        state: State = "good" if max(abs(size.low), abs(size.high)) < ELECTRIC_US else "open"
        return Finding("delay.small", state, {"real": size.real, **interval(size)})
    spread_deg = delay_angle_deg(fit.highest_rpm - fit.lowest_rpm, size.value)
    speeds: dict[str, Value] = {"lowest_rpm": fit.lowest_rpm, "highest_rpm": fit.highest_rpm}
    if size.value < 0:
        return _negative_delay(-spread_deg, -size.value, speeds, bench)
    numbers: dict[str, Value] = {"lost_deg": spread_deg, **speeds, **interval(size)}
    if size.value > ELECTRIC_US:
        pickup: dict[str, Value] = {"pickup": bench.pickup, "polarity_checked": bench.polarity_checked}
        return Finding("delay.too-large", "problem", numbers | pickup)
    return Finding("delay.to-set", "look", {**numbers, "set_us": bench.delay_set_us or 0.0})


def _negative_delay(gained_deg: float, gained_us: float, speeds: dict[str, Value], bench: Bench) -> Finding:
    numbers = {"gained_deg": gained_deg, **speeds, **_mechanism(bench)}
    state: State = "look" if gained_deg <= LARGE_DEG else "problem"
    if bench.delay_set_us:
        set_us: dict[str, Value] = {"set_us": bench.delay_set_us, "gained_us": gained_us}
        return Finding("delay.set-too-long", state, numbers | set_us)
    return Finding("delay.earlier", state, numbers)


def offset(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell what is off alike at every speed: the body, or the mark.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    bench : Bench
        The light and what it is read against.
    """
    size = offset_read(fit)
    if size is None:
        return None
    if not size.real or abs(size.value) < SMALL_DEG:
        state: State = "good" if max(abs(size.low), abs(size.high)) <= LARGE_DEG else "open"
        return Finding("offset.small", state, {"real": size.real, **interval(size)})
    if _moves_with_speed(fit):
        return _offset_beside_delay(fit, size)
    return Finding(
        "offset.to-turn",
        "problem" if abs(size.value) >= LARGE_DEG else "look",
        {
            **interval(size),
            "mark_proved": bool(bench.top_dead_centre_proved),
            "rotation": bench.rotation,
            "rim_mm": bench.rim_mm(size.value),
            "rim_diameter_mm": bench.housing_diameter_mm,
        },
    )


def _offset_beside_delay(fit: LightFit, size: Estimate) -> Finding:
    """Tell an offset that nothing is turned for yet: one act first, then read again."""
    seen_deg = _at_middle(fit).value
    state: State = "open"
    if abs(seen_deg) >= SMALL_DEG:
        state = "problem" if abs(seen_deg) >= LARGE_DEG else "look"
    return Finding("offset.beside-delay", state, {"seen_deg": seen_deg, **interval(size)})


def offset_read(fit: LightFit) -> Estimate | None:
    """Give what is off alike at every speed [crank deg].

    Beside a delay that is to be put right it is what is left at no speed at all. Else that would be a guess
    far from any reading; then it is what the line has at the middle of those that were read, in the wider
    band of the whole line.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    if fit.offset_deg is None or _moves_with_speed(fit) or not fit.offset_deg.real:
        return fit.offset_deg
    return _at_middle(fit)


def _moves_with_speed(fit: LightFit) -> bool:
    """Whether the delay is real and large enough to be put right."""
    size = fit.delay_us
    if size is None or not size.real:
        return False
    return abs(delay_angle_deg(fit.highest_rpm - fit.lowest_rpm, size.value)) >= SMALL_DEG


def _at_middle(fit: LightFit) -> Estimate:
    """Give what the line has at the middle of the readings, in the band of the whole line [crank deg]."""
    speeds = [each.speed_rpm for each in fit.readings]
    middle = int(np.abs(fit.band_rpm - sum(speeds) / len(speeds)).argmin())
    return Estimate(*(float(each[middle]) for each in (fit.band_deg, fit.band_low_deg, fit.band_high_deg)))


def untold(fit: LightFit) -> Finding | None:
    """Tell of a difference while neither offset nor delay is told apart from none.

    Parameters
    ----------
    fit : LightFit
        What the readings say, fitted.
    """
    ends = (fit.at_lowest, fit.at_highest)
    if not any(each.real and abs(each.value) >= SMALL_DEG for each in ends):
        return None
    if fit.effect("step") or fit.effect("bend"):
        return None
    if any(each is not None and each.real for each in (fit.offset_deg, fit.delay_us)):
        return None
    worst, rpm = max(
        ((fit.at_lowest, fit.lowest_rpm), (fit.at_highest, fit.highest_rpm)),
        key=lambda each: abs(each[0].value),
    )
    return Finding("offset-or-delay.not-told", "look", {"rpm": rpm, **interval(worst)})
