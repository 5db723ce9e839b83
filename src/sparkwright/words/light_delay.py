"""What changes with speed and battery under a timing light, in sentences: delay, drift and a free advance."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.light_parts import span, tempered, told_apart
from sparkwright.words.parts import Said, Writer


def _volts(most_v: float, least_v: float) -> str:
    return f"between {most_v:g} and {least_v:g} V"


def _no_growth(_: System, *, most_v: float, least_v: float, value: float, low: float, high: float) -> Said:
    return (
        f"No growth of the delay was seen {_volts(most_v, least_v)}: {value:.0f} us for each volt "
        f"({low:.0f} to {high:.0f}).",
        "",
    )


def _battery_earlier(
    _: System, *, most_v: float, least_v: float, value: float, low: float, high: float
) -> Said:
    return (
        f"The spark comes earlier as the battery falls {_volts(most_v, least_v)}: {-value:.0f} us for each "
        f"volt ({span(low, high, 0)}).",
        "Look whether a delay table over battery voltage makes up for too much.",
    )


def _delay_grows(
    _: System,
    *,
    most_v: float,
    least_v: float,
    value: float,
    low: float,
    high: float,
    lost_deg: float,
    rpm: float,
    driver: str,
) -> Said:
    cause = (
        "Look at the dwell for low voltage in the check's table, then at the driver's feed and ground."
        if driver == "inductive"
        else "Look at the driver's feed and ground: at low voltage its capacitor may not be charged in time."
    )
    return (
        f"The delay grows {value:.0f} us for each volt that the battery falls ({span(low, high, 0)}), "
        f"{_volts(most_v, least_v)}: {lost_deg:.1f} deg at {rpm:,.0f} rpm.",
        f"{cause} A delay table over voltage in the controller may take up the rest.",
    )


_NO_DELAY = "A delay in time makes a straight line, so this is something else."


def _step(
    _: System,
    *,
    above_rpm: float,
    value: float,
    low: float,
    high: float,
    rises: bool,
    mechanical_advance: str,
) -> Said:
    return (
        f"Above about {above_rpm:,.0f} rpm the light reads {abs(value):.1f} deg "
        f"{'more' if rises else 'less'} than below ({span(low, high)}): a step. {_NO_DELAY}",
        _drifts(rises, mechanical_advance),
    )


def _bend(
    _: System,
    *,
    moved_deg: float,
    lowest_rpm: float,
    highest_rpm: float,
    rises: bool,
    mechanical_advance: str,
) -> Said:
    return (
        f"Seen less commanded bends with speed, {moved_deg:.1f} deg between {lowest_rpm:,.0f} and "
        f"{highest_rpm:,.0f} rpm. {_NO_DELAY}",
        _drifts(rises, mechanical_advance),
    )


def _drifts(rises: bool, mechanical_advance: str) -> str:
    if rises:
        return _free_advance(mechanical_advance)
    return (
        "Make sure that the controller holds one advance at every speed; then look at the pickup's "
        "gap and polarity, a slack shaft, and a dial-back light with a driver that fires several sparks."
    )


def _free_advance(mechanical_advance: str) -> str:
    return (
        "Stop the engine and twist the rotor against the shaft: a mechanical advance that still moves "
        f"does this (the job says it is {mechanical_advance}). Disconnect the vacuum advance. "
        "Then see that the controller holds one advance."
    )


def _microseconds(value: float, low: float, high: float) -> str:
    return f"{round(value)} us ({round(low)} to {round(high)})"


def _delay_small(_: System, *, real: bool, **size: float) -> Said:
    return (
        f"Delay of pickup, driver and light together: {_microseconds(**size)}, {told_apart(real)}.",
        "",
    )


def _speeds(lowest_rpm: float, highest_rpm: float) -> str:
    return f"from {lowest_rpm:,.0f} to {highest_rpm:,.0f} rpm"


def _delay_too_large(
    _: System,
    *,
    lost_deg: float,
    lowest_rpm: float,
    highest_rpm: float,
    pickup: str,
    polarity_checked: bool | None,
    **size: float,
) -> Said:
    return (
        f"The spark falls back {lost_deg:.1f} deg {_speeds(lowest_rpm, highest_rpm)}, as a delay of "
        f"{_microseconds(**size)} would. Pickup, driver and light together take far less.",
        _late_pickup(pickup, polarity_checked),
    )


def _late_pickup(pickup: str, polarity_checked: bool | None) -> str:
    if pickup == "two-wire" and not polarity_checked:
        return (
            "Stop the engine and swap the two wires of the pickup: the wrong way round it fires on the slow "
            "flank, later the faster it turns. Then read again."
        )
    if pickup == "two-wire":
        return (
            "Prove the pickup's polarity once more (stop the engine, swap its two wires, read again); then "
            "look at its gap, and at a driver or delay setting that is not meant for it."
        )
    return (
        "Look at which edge of the signal the controller fires on, then at a driver or delay setting that "
        "is not meant for this pickup; then for a shaft that lags behind."
    )


def _delay_to_set(
    _: System,
    *,
    lost_deg: float,
    lowest_rpm: float,
    highest_rpm: float,
    set_us: float,
    value: float,
    low: float,
    high: float,
) -> Said:
    more = f" ({value:.0f} more than the {set_us:.0f} it has)" if set_us else ""
    return (
        f"The spark falls back {lost_deg:.1f} deg {_speeds(lowest_rpm, highest_rpm)}: a delay of "
        f"{_microseconds(value, low, high)}.",
        f"Set the delay in the controller to {set_us + value:.0f} us{more}.",
    )


def _delay_set_too_long(
    _: System,
    *,
    gained_deg: float,
    lowest_rpm: float,
    highest_rpm: float,
    set_us: float,
    gained_us: float,
    mechanical_advance: str,
) -> Said:
    return (
        f"The spark comes {gained_deg:.1f} deg earlier {_speeds(lowest_rpm, highest_rpm)}; the delay set in "
        f"the controller, {set_us:.0f} us, makes up for too much.",
        f"Set the delay in the controller to {set_us - gained_us:.0f} us, and read again."
        if set_us >= gained_us
        else _free_advance(mechanical_advance),
    )


def _delay_earlier(
    _: System, *, gained_deg: float, lowest_rpm: float, highest_rpm: float, mechanical_advance: str
) -> Said:
    return (
        f"The spark comes {gained_deg:.1f} deg earlier {_speeds(lowest_rpm, highest_rpm)}; no delay does "
        "that.",
        _free_advance(mechanical_advance),
    )


WRITERS: dict[str, Writer] = {
    "low-battery.no-growth": _no_growth,
    "low-battery.earlier": _battery_earlier,
    "low-battery.delay-grows": _delay_grows,
    "drift.step": _step,
    "drift.bend": _bend,
    "delay.small": tempered(_delay_small),
    "delay.too-large": tempered(_delay_too_large),
    "delay.to-set": tempered(_delay_to_set),
    "delay.set-too-long": tempered(_delay_set_too_long),
    "delay.earlier": tempered(_delay_earlier),
}
"""How each kind of finding is told."""
