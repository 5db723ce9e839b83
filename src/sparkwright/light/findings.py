"""What a fit means at the engine: one finding a subject, with what to do about it.

Which cause goes with which picture is common practice of the trade, with no source; where more than one cause
makes the same picture, the finding names them all and what would tell them apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sparkwright.light.bench import HOUSING_DIAMETER_MM, Bench
from sparkwright.light.fit import ENOUGH_READINGS, Estimate, LightFit, delay_angle_deg, reading_sigma_deg
from sparkwright.light.readings import Reading

State = Literal["problem", "look", "good", "open"]

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
class Finding:
    """One subject: how it stands, and what to do.

    ``state`` is "problem", "look", "good", or "open" where the readings do not determine it.
    """

    topic: str
    state: State
    sentence: str
    action: str = ""


@dataclass(frozen=True)
class Fooled:
    """Readings that show half or twice what was commanded while the others agree with it."""

    indices: tuple[int, ...]
    factor: float


def where(reading: Reading) -> str:
    """Name a reading: its line, speed and what was seen.

    Examples
    --------
    >>> where(Reading(30, 2000, 29.5, line=3))
    'line 3 (2,000 rpm, 29.5 deg seen)'
    """
    place = f"line {reading.line} " if reading.line else "the reading "
    return f"{place}({reading.speed_rpm:,.0f} rpm, {reading.seen_deg:g} deg seen)"


def fooled(readings: Sequence[Reading], bench: Bench) -> Fooled | None:
    """Find readings at half or twice the command among others that agree with it.

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
    """Give 0.5 or 2 where every reading, at least two, shows that multiple of its command."""
    for factor in (0.5, 2.0):
        if len(readings) >= 2 and all(_shows(each, factor, bench) for each in readings):
            return factor
    return None


def mixed(fit: LightFit) -> Finding | None:
    """Tell readings of two settings in one list."""
    effect = fit.effect("setting")
    if effect is None or effect.which is None:
        return None
    split = int(effect.which)
    before, after = fit.readings[:split], fit.readings[split:]
    more = "more" if effect.estimate.value > 0 else "less"
    turned = (
        " If speed was rising in the first and falling in the later ones, say so in the column sweep."
        if all(each.sweep is None for each in fit.readings)
        else ""
    )
    return Finding(
        "two settings",
        "problem",
        f"These look like readings of two settings: from {where(after[0])} on they read "
        f"{abs(effect.estimate.value):.1f} deg {more} than up to {where(before[-1])}, at the same speeds. "
        "They were not fitted together.",
        f"Give each setting its own list, or read all again without touching anything between.{turned}",
    )


def light_fooled(odd: Fooled | None, readings: Sequence[Reading], bench: Bench) -> Finding | None:
    """Tell of a light that shows half or twice at some of the readings."""
    if odd is None:
        return None
    named = ", ".join(where(readings[index]) for index in odd.indices)
    times = "half" if odd.factor < 1.0 else "twice"
    cause = (
        "A dial-back light does so when it sees every second spark only, or is set for one spark a turn."
        if odd.factor < 1.0
        else "A dial-back light does so when it sees each spark twice, as with a driver that fires several "
        "sparks at low speed."
    )
    return Finding(
        "light",
        "problem",
        f"Near {times} of what was commanded was seen in {named}, while the others agree. {cause} "
        "These readings were left out.",
        "Read these speeds again with the light's dial at zero, against a timing tape; clamp its pickup the "
        "right way round, away from other leads.",
    )


def ratio_held(factor: float | None, fit: LightFit, bench: Bench) -> Finding | None:
    """Tell where every reading shows half or twice the one command: the light, or a large offset."""
    if factor is None or fit.effect("command") is not None:
        return None
    times = "half" if factor < 1.0 else "twice"
    offset = float(np.mean([each.difference_deg for each in fit.readings]))
    other = bench.hold_deg - 10.0
    return Finding(
        "light or offset",
        "problem",
        f"All readings show {times} of what was commanded. Either the light is fooled (one set for the other "
        f"count of sparks a turn shows {times}), or the spark is {offset:+.0f} deg off. With one command "
        "held, readings can't tell these apart.",
        f"Read it with the light's dial at zero against a timing tape, or command {other:.0f} deg: a fooled "
        f"light then moves by {10.0 * factor:.0f} deg, a spark that is off by 10. Turn nothing before.",
    )


def command(fit: LightFit) -> Finding | None:
    """Whether the spark moves as the commands do."""
    effect = next((each for each in fit.effects if each.kind == "command"), None)
    if effect is None:
        return None
    slope = Estimate(*(1.0 + each for each in _ends(effect.estimate)))
    said = f"{slope.value:.2f} deg for each degree commanded ({slope.low:.2f} to {slope.high:.2f})"
    if not effect.accepted:
        return Finding("command", "good", f"The spark follows the command: {said}.")
    if abs(slope.value - 0.5) < _RATIO_SPAN or abs(slope.value - 2.0) < 2.0 * _RATIO_SPAN:
        times = "half" if slope.value < 1.0 else "twice"
        return Finding(
            "command",
            "problem",
            f"What is seen moves {said}. So near to {times} it is the light: one set for the other count of "
            "sparks a turn, or one that sees every second spark or each spark twice.",
            "Read again with the light's dial at zero, against a timing tape, before anything is turned.",
        )
    if abs(slope.value) < 0.2:
        return Finding(
            "command",
            "problem",
            f"The spark hardly follows the command: {said}. The controller doesn't have hold of the timing.",
            "Stop the engine; look at the wire from controller to driver, at a connector left in its "
            "setting for base timing, and whether the advance is held at all.",
        )
    return Finding(
        "command",
        "problem",
        f"The spark moves {said}.",
        "Look for a trim or a limit in the controller that changes what it was told, and prove the light's "
        "dial against a timing tape.",
    )


def blunder(fit: LightFit) -> Finding | None:
    """Tell of one reading that doesn't fit, or several of which one doesn't."""
    if fit.left_out is not None:
        reading = fit.readings[fit.left_out]
        off = reading.difference_deg - float(fit.fitted_difference_deg[fit.left_out])
        return Finding(
            "one reading",
            "look",
            f"In {where(reading)} the reading is {off:+.1f} deg off what the others say; reading errors "
            f"explain {2.0 * float(fit.sigma_deg[fit.left_out]):.1f}. It was left out.",
            f"Read that speed again{'; if it shows the same, read on to six' if _few(fit) else ''}.",
        )
    if fit.suspects:
        named = ", ".join(where(fit.readings[index]) for index in fit.suspects)
        return Finding(
            "one reading",
            "look",
            f"One of these readings is off, and the others can't tell which: {named}. "
            "The intervals cover every choice.",
            "Read these speeds again"
            f"{'; fewer than six readings may look so by a bend too' if _few(fit) else ''}.",
        )
    return None


def _few(fit: LightFit) -> bool:
    """Whether there are too few readings to tell one that is wrong from what is wrong with the engine."""
    return len(fit.readings) < ENOUGH_READINGS


def scatter(fit: LightFit) -> Finding:
    """Whether readings scatter more than light and eye explain."""
    if fit.scatter_ratio is None or fit.degrees_of_freedom == 0:
        return Finding(
            "scatter", "open", "Scatter is not determined: there are no more readings than what is fitted."
        )
    if fit.suspects:
        return Finding("scatter", "open", "Scatter is not determined while one of the readings is in doubt.")
    if fit.bars == "stated":
        return Finding(
            "scatter",
            "good",
            f"The readings scatter {fit.scatter_ratio:.1f} times what light and eye explain, which is no "
            "more than chance allows.",
        )
    sigma = fit.scatter_ratio * float(np.median(fit.sigma_deg))
    return Finding(
        "scatter",
        "problem" if sigma > LARGE_DEG else "look",
        f"The readings scatter {fit.scatter_ratio:.1f} times what light and eye explain, "
        f"{sigma:.1f} deg as a standard deviation; intervals were widened to it."
        f"{' Among so few readings one that is wrong may do this.' if _few(fit) else ''}",
        ""
        if _few(fit)
        else "Stop the engine; look for slack in timing chain, distributor gear and shaft, for a loose "
        "pickup or rotor, and for noise on the pickup's wires.",
    )


def hysteresis(fit: LightFit) -> Finding | None:
    """Whether rising and falling speed read the same."""
    effect = next((each for each in fit.effects if each.kind == "sweep"), None)
    if effect is None:
        return None
    size = effect.estimate
    if not effect.accepted or abs(size.value) < SMALL_DEG:
        most = max(abs(size.low), abs(size.high))
        return Finding("rising and falling", "good", f"Rising and falling speed agree within {most:.1f} deg.")
    more = "earlier" if size.value > 0 else "later"
    return Finding(
        "rising and falling",
        "problem" if abs(size.value) > LARGE_DEG else "look",
        f"With speed rising the spark reads {abs(size.value):.1f} deg {more} than with speed falling "
        f"({_span(size)}).",
        "Hold each speed until it is steady and read again; if it stays, stop the engine and look for "
        "slack in chain, gear or shaft, and for weights of the mechanical advance that stick.",
    )


def cylinders(fit: LightFit) -> Iterator[Finding]:
    """Cylinders that fire earlier or later than the others."""
    read = {each.cylinder for each in fit.readings} - {None}
    found = [each for each in fit.effects if each.kind == "cylinder"]
    odd = [each for each in found if each.accepted and abs(each.estimate.value) >= SMALL_DEG]
    for effect in odd:
        size = effect.estimate
        once = " It was read only once." if effect.readings == 1 else ""
        yield Finding(
            "cylinders",
            "problem" if abs(size.value) > LARGE_DEG else "look",
            f"Cylinder {effect.which:.0f} fires {abs(size.value):.1f} deg "
            f"{'earlier' if size.value > 0 else 'later'} than the others ({_span(size)}).{once}",
            "Prove that cylinder's mark first. Then look at its tooth or vane; errors that swing once "
            "around the cap come from a bent shaft or worn bushing, a lone one from a tooth.",
        )
    if found and not odd:
        most = max(abs(end) for each in found for end in (each.estimate.low, each.estimate.high))
        yield Finding("cylinders", "good", f"The {len(read)} cylinders read agree within {most:.1f} deg.")


def low_battery(fit: LightFit, bench: Bench) -> Finding | None:
    """Whether the delay grows as the battery falls."""
    effect = next((each for each in fit.effects if each.kind == "battery"), None)
    if effect is None:
        return None
    growth = effect.estimate
    volts = [each.battery_v for each in fit.readings if each.battery_v is not None]
    span = f"between {max(volts):g} and {min(volts):g} V"
    if not effect.accepted:
        return Finding(
            "low battery",
            "good" if growth.high < ELECTRIC_US / 2.0 else "open",
            f"No growth of the delay was seen {span}: {growth.value:.0f} us for each volt "
            f"({growth.low:.0f} to {growth.high:.0f}).",
        )
    if growth.value < 0:
        return Finding(
            "low battery",
            "look",
            f"The spark comes earlier as the battery falls {span}: {-growth.value:.0f} us for each volt "
            f"({_span(growth, 0)}).",
            "Look whether a delay table over battery voltage makes up for too much.",
        )
    cause = (
        "Look at dwell for low voltage (`sparkwright check` gives it), then at the driver's feed and ground."
        if bench.driver == "inductive"
        else "Look at the driver's feed and ground: at low voltage its capacitor may not be charged in time."
    )
    lost = delay_angle_deg(fit.highest_rpm, growth.value * (max(volts) - min(volts)))
    return Finding(
        "low battery",
        "problem" if lost > LARGE_DEG else "look",
        f"The delay grows {growth.value:.0f} us for each volt that the battery falls ({_span(growth, 0)}), "
        f"{span}: {lost:.1f} deg at {fit.highest_rpm:,.0f} rpm.",
        f"{cause} A delay table over voltage in the controller may take up the rest.",
    )


def drift(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell of a step or bend against speed, which no delay makes."""
    step, bend = fit.effect("step"), fit.effect("bend")
    real = step or bend
    if real is None:
        return None
    moved = float(np.ptp(fit.band_deg))
    rises = fit.at_highest.value > fit.at_lowest.value
    if step is not None and step.which is not None:
        size = step.estimate
        rises = size.value > 0
        said = (
            f"Above about {step.which:,.0f} rpm the light reads {abs(size.value):.1f} deg "
            f"{'more' if rises else 'less'} than below ({_span(size)}): a step"
        )
    else:
        said = (
            f"Seen less commanded bends with speed, {moved:.1f} deg between {fit.lowest_rpm:,.0f} and "
            f"{fit.highest_rpm:,.0f} rpm"
        )
    return Finding(
        "drift",
        "problem" if moved > LARGE_DEG else "look",
        f"{said}. A delay in time makes a straight line, so this is something else.",
        _free_advance(bench)
        if rises
        else "Make sure that the controller holds one advance at every speed; then look at the pickup's "
        "gap and polarity, a slack shaft, and a dial-back light with a driver that fires several sparks.",
    )


def _free_advance(bench: Bench) -> str:
    states = (
        "the job says it is locked" if bench.mechanical_advance == "locked" else "the job says it is free"
    )
    return (
        "Stop the engine and twist the rotor against the shaft: a mechanical advance that still moves "
        f"does this ({states}). Disconnect the vacuum advance. Then see that the controller holds one "
        "advance."
    )


def delay(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell the delay of pickup, driver and light together."""
    size = fit.delay_us
    if size is None:
        return None
    spread = delay_angle_deg(fit.highest_rpm - fit.lowest_rpm, size.value)
    said = f"{_whole(size.value)} us ({_whole(size.low)} to {_whole(size.high)})"
    speeds = f"from {fit.lowest_rpm:,.0f} to {fit.highest_rpm:,.0f} rpm"
    if not _moves_with_speed(fit):
        state: State = "good" if max(abs(size.low), abs(size.high)) < ELECTRIC_US else "open"
        real = "too small to matter" if size.real else "not told apart from none"
        return Finding("delay", state, f"Delay of pickup, driver and light together: {said}, {real}.")
    if size.value < 0:
        return _negative_delay(-spread, -size.value, speeds, bench)
    if size.value > ELECTRIC_US:
        return Finding(
            "delay",
            "problem",
            f"The spark falls back {spread:.1f} deg {speeds}, as a delay of {said} would. "
            "Pickup, driver and light together take far less.",
            _late_pickup(bench),
        )
    now = bench.delay_set_us or 0.0
    return Finding(
        "delay",
        "look",
        f"The spark falls back {spread:.1f} deg {speeds}: a delay of {said}.",
        f"Set the delay in the controller to {now + size.value:.0f} us"
        + (f" ({size.value:.0f} more than the {now:.0f} it has)." if now else "."),
    )


def _negative_delay(gained_deg: float, gained_us: float, speeds: str, bench: Bench) -> Finding:
    said = f"The spark comes {gained_deg:.1f} deg earlier {speeds}"
    if bench.delay_set_us:
        return Finding(
            "delay",
            "look" if gained_deg <= LARGE_DEG else "problem",
            f"{said}; the delay set in the controller, {bench.delay_set_us:.0f} us, makes up for too much.",
            f"Set the delay in the controller to {bench.delay_set_us - gained_us:.0f} us, and read again."
            if bench.delay_set_us >= gained_us
            else _free_advance(bench),
        )
    return Finding(
        "delay",
        "look" if gained_deg <= LARGE_DEG else "problem",
        f"{said}; no delay does that.",
        _free_advance(bench),
    )


def _late_pickup(bench: Bench) -> str:
    if bench.pickup == "two-wire" and not bench.polarity_checked:
        return (
            "Stop the engine and swap the two wires of the pickup: the wrong way round it fires on the slow "
            "flank, later the faster it turns. Then read again."
        )
    if bench.pickup == "two-wire":
        return (
            "Prove the pickup's polarity once more (stop the engine, swap its two wires, read again); then "
            "look at its gap, and at a driver or delay setting that is not meant for it."
        )
    return (
        "Look at which edge of the signal the controller fires on, then at a driver or delay setting that "
        "is not meant for this pickup; then for a shaft that lags behind."
    )


def offset(fit: LightFit, bench: Bench) -> Finding | None:
    """Tell what is off alike at every speed: the body, or the mark."""
    size = offset_read(fit)
    if size is None:
        return None
    said = f"{_signed(size.value)} deg ({_signed(size.low)} to {_signed(size.high)})"
    if not size.real or abs(size.value) < SMALL_DEG:
        state: State = "good" if max(abs(size.low), abs(size.high)) <= LARGE_DEG else "open"
        real = "too small to matter" if size.real else "not told apart from none"
        return Finding("offset", state, f"Offset of the distributor: {said}, {real}.")
    if _moves_with_speed(fit):
        return _offset_beside_delay(fit, said)
    early = size.value > 0
    turn = turn_sentence(size.value, bench)
    proved = (
        "The mark was proved, so it is the distributor's body."
        if bench.top_dead_centre_proved
        else "Whether body or timing mark is off, the light can't tell: prove top dead centre first."
    )
    return Finding(
        "offset",
        "problem" if abs(size.value) >= LARGE_DEG else "look",
        f"The spark comes {abs(size.value):.1f} deg {'early' if early else 'late'} at every speed, {said}. "
        f"{proved}",
        turn if bench.top_dead_centre_proved else _once_proved(turn),
    )


def _offset_beside_delay(fit: LightFit, said: str) -> Finding:
    """Tell an offset that nothing is turned for yet: one act first, then read again."""
    seen_deg = _at_middle(fit).value
    state: State = "open"
    if abs(seen_deg) >= SMALL_DEG:
        state = "problem" if abs(seen_deg) >= LARGE_DEG else "look"
    return Finding(
        "offset",
        state,
        f"In the middle of the speeds read the spark is {_signed(seen_deg)} deg off. Reckoned back to 0 rpm, "
        f"far from any reading, an offset of {said} is left: it is judged once what changes with "
        "speed is put right and all is read again.",
    )


def offset_read(fit: LightFit) -> Estimate | None:
    """Give what is off alike at every speed [crank deg].

    Beside a delay that is to be put right it is what is left at no speed at all. Else that would be a guess
    far from any reading; then it is what the line has at the middle of those that were read, in the wider
    band of the whole line.
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


def _once_proved(turn: str) -> str:
    return f"Prove top dead centre at the piston. If the mark is right: {turn[0].lower()}{turn[1:]}"


def turn_sentence(offset_deg: float, bench: Bench) -> str:
    """Say how to turn the body so that an offset goes away.

    The body is turned with the rotor's rotation for a later spark, against it for an earlier one.

    Examples
    --------
    >>> from sparkwright.light.bench import Bench
    >>> bench = Bench("clockwise", "hall", None, "locked", "inductive", 8, 30.0, 2000.0, 4000.0, 72.0)
    >>> print(turn_sentence(-4.0, bench))
    Stop the engine, loosen the clamp, and turn the distributor's body 4.0 crank deg, 2.0 deg of its own,
    against rotation (anticlockwise seen from above), 1.3 mm at its rim of 72 mm; tighten, and read again.
    """
    later = offset_deg > 0
    ways = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}
    way = bench.rotation if later else ways[bench.rotation]
    rim = bench.housing_diameter_mm
    diameter = f"of {rim:g} mm" if rim is not None else f"if that is {HOUSING_DIAMETER_MM:g} mm across"
    return (
        f"Stop the engine, loosen the clamp, and turn the distributor's body {abs(offset_deg):.1f} crank "
        f"deg, {abs(offset_deg) / 2.0:.1f} deg of its own, {'with' if later else 'against'} rotation ({way} "
        f"seen from above), {bench.rim_mm(offset_deg):.1f} mm at its rim {diameter}; tighten, and read again."
    )


def untold(fit: LightFit) -> Finding | None:
    """Tell of a difference while neither offset nor delay is told apart from none."""
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
    return Finding(
        "offset or delay",
        "look",
        f"At {rpm:,.0f} rpm the spark comes {abs(worst.value):.1f} deg "
        f"{'early' if worst.value > 0 else 'late'} "
        f"({_span(worst)}); whether by an offset or by a delay, these readings can't tell.",
        "Read at another speed, far from this one, before anything is turned or set.",
    )


def _signed(value: float, decimals: int = 1) -> str:
    """Write a number with its sign; none for what rounds to zero."""
    rounded = round(value, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else f"{0.0:.{decimals}f}"


def _whole(value: float) -> str:
    return f"{round(value)}"


def _ends(estimate: Estimate) -> tuple[float, float, float]:
    return estimate.value, estimate.low, estimate.high


def _span(estimate: Estimate, decimals: int = 1) -> str:
    low, high = sorted((abs(estimate.low), abs(estimate.high)))
    if estimate.low < 0.0 < estimate.high:
        return f"{_signed(estimate.low, decimals)} to {_signed(estimate.high, decimals)}"
    return f"{low:.{decimals}f} to {high:.{decimals}f}"


def most_effect_deg(fit: LightFit) -> float:
    """Give the most that sweep, cylinder and battery, where real, may add to the difference [deg]."""
    volts = [each.battery_v for each in fit.readings if each.battery_v is not None]
    fallen_v = max(volts) - min(volts) if volts else 0.0
    shares = {"sweep": 0.5, "cylinder": 1.0, "battery": delay_angle_deg(fit.highest_rpm, fallen_v)}
    added = [
        (each.kind, shares[each.kind] * max(abs(each.estimate.low), abs(each.estimate.high)))
        for each in fit.effects
        if each.accepted and each.kind in shares
    ]
    return sum(max(deg for kind, deg in added if kind == one) for one in {kind for kind, _ in added})
