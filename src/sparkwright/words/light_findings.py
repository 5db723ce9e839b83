"""The fixed-advance check in sentences: each kind of finding, the proof, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from sparkwright.ignition.rotor import Rotation
from sparkwright.light.bench import HOUSING_DIAMETER_MM
from sparkwright.light.fit import ENOUGH_READINGS
from sparkwright.mounting.ways import way_of
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length, sentence_case

UNSURE = (
    "Among so few readings one that is wrong could make this: read on to six before a hand goes to anything."
)
DONE = "Leave body and delay as they are; give the map back to the controller and read base once more."

Place = tuple[int | None, float, float]
"""A reading: its line, its speed [rpm] and what was seen [deg]."""


def where(reading: Place) -> str:
    """Name a reading: its line, speed and what was seen.

    Examples
    --------
    >>> where((3, 2000.0, 29.5))
    'line 3 (2,000 rpm, 29.5 deg seen)'
    """
    line, speed_rpm, seen_deg = reading
    name = f"line {line}" if line else "the reading"
    return f"{name} ({speed_rpm:,.0f} rpm, {seen_deg:g} deg seen)"


def _mixed(_: System, *, last_before: Place, first_after: Place, more_deg: float, sweep_noted: bool) -> Said:
    turned = (
        ""
        if sweep_noted
        else " If speed was rising in the first and falling in the later ones, say so in the column sweep."
    )
    return (
        f"These look like readings of two settings: from {where(first_after)} on they read "
        f"{abs(more_deg):.1f} deg {'more' if more_deg > 0 else 'less'} than up to {where(last_before)}, at "
        "the same speeds. They were not fitted together.",
        f"Give each setting its own list, or read all again without touching anything between.{turned}",
    )


def _times(factor: float) -> str:
    return "half" if factor < 1.0 else "twice"


def _light_fooled(_: System, *, factor: float, readings: Sequence[Place]) -> Said:
    named = ", ".join(where(each) for each in readings)
    cause = (
        "A dial-back light does so when it sees every second spark only, or is set for one spark a turn."
        if factor < 1.0
        else "A dial-back light does so when it sees each spark twice, as with a driver that fires several "
        "sparks at low speed."
    )
    return (
        f"Near {_times(factor)} of what was commanded was seen in {named}, while the others agree. {cause} "
        "These readings were left out.",
        "Read these speeds again with the light's dial at zero, against a timing tape; clamp its pickup the "
        "right way round, away from other leads.",
    )


def _ratio(_: System, *, factor: float, offset_deg: float, other_deg: float) -> Said:
    times = _times(factor)
    return (
        f"All readings show {times} of what was commanded. Either the light is fooled (one set for the other "
        f"count of sparks a turn shows {times}), or the spark is {offset_deg:+.0f} deg off. With one command "
        "held, readings can't tell these apart.",
        f"Read it with the light's dial at zero against a timing tape, or command {other_deg:.0f} deg: a "
        f"fooled light then moves by {10.0 * factor:.0f} deg, a spark that is off by 10. Turn nothing "
        "before.",
    )


def _slope(value: float, low: float, high: float) -> str:
    return f"{value:.2f} deg for each degree commanded ({low:.2f} to {high:.2f})"


def _followed(_: System, **slope: float) -> Said:
    return f"The spark follows the command: {_slope(**slope)}.", ""


def _command_fooled(_: System, **slope: float) -> Said:
    return (
        f"What is seen moves {_slope(**slope)}. So near to {_times(slope['value'])} it is the light: one set "
        "for the other count of sparks a turn, or one that sees every second spark or each spark twice.",
        "Read again with the light's dial at zero, against a timing tape, before anything is turned.",
    )


def _hardly_followed(_: System, **slope: float) -> Said:
    return (
        f"The spark hardly follows the command: {_slope(**slope)}. The controller doesn't have hold of the "
        "timing.",
        "Stop the engine; look at the wire from controller to driver, at a connector left in its "
        "setting for base timing, and whether the advance is held at all.",
    )


def _command_changed(_: System, **slope: float) -> Said:
    return (
        f"The spark moves {_slope(**slope)}.",
        "Look for a trim or a limit in the controller that changes what it was told, and prove the light's "
        "dial against a timing tape.",
    )


def _left_out(_: System, *, reading: Place, off_deg: float, explained_deg: float, few: bool) -> Said:
    return (
        f"In {where(reading)} the reading is {off_deg:+.1f} deg off what the others say; reading errors "
        f"explain {explained_deg:.1f}. It was left out.",
        f"Read that speed again{'; if it shows the same, read on to six' if few else ''}.",
    )


def _in_doubt(_: System, *, readings: Sequence[Place], few: bool) -> Said:
    named = ", ".join(where(each) for each in readings)
    return (
        f"One of these readings is off, and the others can't tell which: {named}. "
        "The intervals cover every choice.",
        f"Read these speeds again{'; fewer than six readings may look so by a bend too' if few else ''}.",
    )


def _scatter_not_determined(_: System) -> Said:
    return "Scatter is not determined: there are no more readings than what is fitted.", ""


def _scatter_in_doubt(_: System) -> Said:
    return "Scatter is not determined while one of the readings is in doubt.", ""


def _scatter_explained(_: System, *, ratio: float) -> Said:
    return (
        f"The readings scatter {ratio:.1f} times what light and eye explain, which is no more than chance "
        "allows.",
        "",
    )


def _scatters(ratio: float, sigma_deg: float) -> str:
    return (
        f"The readings scatter {ratio:.1f} times what light and eye explain, "
        f"{sigma_deg:.1f} deg as a standard deviation; intervals were widened to it."
    )


def _scatter_of_few(_: System, **scatter: float) -> Said:
    return f"{_scatters(**scatter)} Among so few readings one that is wrong may do this.", ""


def _scatter_wide(_: System, **scatter: float) -> Said:
    return (
        _scatters(**scatter),
        "Stop the engine; look for slack in timing chain, distributor gear and shaft, for a loose "
        "pickup or rotor, and for noise on the pickup's wires.",
    )


def _sweeps_agree(_: System, *, within_deg: float) -> Said:
    return f"Rising and falling speed agree within {within_deg:.1f} deg.", ""


def _sweeps_differ(_: System, *, value: float, low: float, high: float) -> Said:
    return (
        f"With speed rising the spark reads {abs(value):.1f} deg {'earlier' if value > 0 else 'later'} than "
        f"with speed falling ({_span(low, high)}).",
        "Hold each speed until it is steady and read again; if it stays, stop the engine and look for "
        "slack in chain, gear or shaft, and for weights of the mechanical advance that stick.",
    )


def _cylinder_differs(
    _: System, *, cylinder: float, readings: int, value: float, low: float, high: float
) -> Said:
    once = " It was read only once." if readings == 1 else ""
    return (
        f"Cylinder {cylinder:.0f} fires {abs(value):.1f} deg {'earlier' if value > 0 else 'later'} than the "
        f"others ({_span(low, high)}).{once}",
        "Prove that cylinder's mark first. Then look at its tooth or vane; errors that swing once "
        "around the cap come from a bent shaft or worn bushing, a lone one from a tooth.",
    )


def _cylinders_agree(_: System, *, cylinders: int, within_deg: float) -> Said:
    return f"The {cylinders} cylinders read agree within {within_deg:.1f} deg.", ""


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
        f"volt ({_span(low, high, 0)}).",
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
        "Look at dwell for low voltage (`sparkwright check` gives it), then at the driver's feed and ground."
        if driver == "inductive"
        else "Look at the driver's feed and ground: at low voltage its capacitor may not be charged in time."
    )
    return (
        f"The delay grows {value:.0f} us for each volt that the battery falls ({_span(low, high, 0)}), "
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
        f"{'more' if rises else 'less'} than below ({_span(low, high)}): a step. {_NO_DELAY}",
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


def _told_apart(real: bool) -> str:
    return "too small to matter" if real else "not told apart from none"


def _delay_small(_: System, *, real: bool, **size: float) -> Said:
    return (
        f"Delay of pickup, driver and light together: {_microseconds(**size)}, {_told_apart(real)}.",
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


def _degrees(value: float, low: float, high: float) -> str:
    return f"{_signed(value)} deg ({_signed(low)} to {_signed(high)})"


def _offset_small(_: System, *, real: bool, **size: float) -> Said:
    return f"Offset of the distributor: {_degrees(**size)}, {_told_apart(real)}.", ""


def _offset_beside_delay(_: System, *, seen_deg: float, **size: float) -> Said:
    return (
        f"In the middle of the speeds read the spark is {_signed(seen_deg)} deg off. Reckoned back to 0 rpm, "
        f"far from any reading, an offset of {_degrees(**size)} is left: it is judged once what changes with "
        "speed is put right and all is read again.",
        "",
    )


def _offset_to_turn(
    system: System,
    *,
    value: float,
    low: float,
    high: float,
    mark_proved: bool,
    rotation: Rotation,
    rim_mm: float,
    rim_diameter_mm: float | None,
) -> Said:
    proved = (
        "The mark was proved, so it is the distributor's body."
        if mark_proved
        else "Whether body or timing mark is off, the light can't tell: prove top dead centre first."
    )
    turn = turn_words(value, rotation, rim_mm, rim_diameter_mm, system)
    return (
        f"The spark comes {abs(value):.1f} deg {'early' if value > 0 else 'late'} at every speed, "
        f"{_degrees(value, low, high)}. {proved}",
        sentence_case(turn)
        if mark_proved
        else f"Prove top dead centre at the piston. If the mark is right: {turn}",
    )


def turn_words(
    offset_deg: float,
    rotation: Rotation,
    rim_mm: float,
    rim_diameter_mm: float | None,
    system: System = "metric",
) -> str:
    """Say as the end of a sentence how to turn the body so that an offset goes away.

    The body is turned with the rotor's rotation for a later spark, against it for an earlier one.

    Examples
    --------
    >>> print(turn_words(-4.0, "clockwise", 1.26, 72.0))
    stop the engine, loosen the clamp, and turn the distributor's body 4.0 crank deg, 2.0 deg of its own,
    anticlockwise seen from above, against the rotor, 1.3 mm at its rim of 72 mm; tighten, and read again.
    """
    diameter = (
        f"of {length(rim_diameter_mm, system, 'g')}"
        if rim_diameter_mm is not None
        else f"if that is {length(HOUSING_DIAMETER_MM, system, 'g')} across"
    )
    return (
        f"stop the engine, loosen the clamp, and turn the distributor's body {abs(offset_deg):.1f} crank "
        f"deg, {abs(offset_deg) / 2.0:.1f} deg of its own, {way_of(rotation, offset_deg)}, "
        f"{length(rim_mm, system)} at its rim {diameter}; tighten, and read again."
    )


def _offset_or_delay(_: System, *, rpm: float, value: float, low: float, high: float) -> Said:
    return (
        f"At {rpm:,.0f} rpm the spark comes {abs(value):.1f} deg {'early' if value > 0 else 'late'} "
        f"({_span(low, high)}); whether by an offset or by a delay, these readings can't tell.",
        "Read at another speed, far from this one, before anything is turned or set.",
    )


def _signed(value: float, decimals: int = 1) -> str:
    """Write a number with its sign; none for what rounds to zero."""
    rounded = round(value, decimals)
    return f"{rounded:+.{decimals}f}" if rounded else f"{0.0:.{decimals}f}"


def _span(low: float, high: float, decimals: int = 1) -> str:
    if low < 0.0 < high:
        return f"{_signed(low, decimals)} to {_signed(high, decimals)}"
    nearer, farther = sorted((abs(low), abs(high)))
    return f"{nearer:.{decimals}f} to {farther:.{decimals}f}"


def _tempered(write: Writer) -> Writer:
    """Let a finding ask for no hand where too few readings make it unsure, or where it is settled."""

    def tempered(system: System, *, unsure: bool = False, settled: bool = False, **numbers: Any) -> Said:
        sentence, action = write(system, **numbers)
        said = [
            sentence,
            *([UNSURE] if unsure else []),
            *(["It is within what is wanted."] if settled else []),
        ]
        return " ".join(said), "" if unsure or settled else action

    return tempered


def _within(within_deg: float, lowest_rpm: float, highest_rpm: float) -> str:
    span = (
        f"over {lowest_rpm:,.0f} to {highest_rpm:,.0f} rpm"
        if highest_rpm > lowest_rpm
        else f"at {lowest_rpm:,.0f} rpm"
    )
    return f"commanded and seen agree within {within_deg:.1f} deg {span} with 95 % confidence"


def _agrees(_: System, **within: float) -> Said:
    return f"{sentence_case(_within(**within))}.", ""


def _one_speed(_: System, **within: float) -> Said:
    return f"Not proved: {_within(**within)}, and it was read at no other speed.", ""


def _too_few(_: System, *, readings: int, **within: float) -> Said:
    return (
        f"Not proved: {readings} readings can't check one another. If both are good, {_within(**within)}.",
        "",
    )


def _too_far_apart(
    _: System, *, within_deg: float, lowest_rpm: float, highest_rpm: float, wanted_deg: float
) -> Said:
    return (
        f"Not proved: commanded and seen may differ by {over_limit(within_deg, wanted_deg)} deg over "
        f"{lowest_rpm:,.0f} to {highest_rpm:,.0f} rpm with 95 % confidence; {wanted_deg:g} is wanted.",
        "",
    )


def over_limit(value: float, limit: float) -> str:
    """Write a value above a limit with as many decimals as show it to be above.

    Examples
    --------
    >>> over_limit(1.34, 1.0), over_limit(1.04, 1.0), over_limit(1.0004, 1.0)
    ('1.3', '1.04', '1.0004')
    """
    written = (f"{value:.{decimals}f}" for decimals in range(1, 9))
    return next((each for each in written if float(each) > limit), repr(value))


def _proof_in_doubt(_: System, *, subject: str) -> Said:
    what = "what the spark does with a command" if subject == "command" else "the light"
    return f"Not proved: {what} is in doubt first.", ""


def _not_fitted(_: System) -> Said:
    return "Not proved: these readings must not be fitted together.", ""


def _nothing_read(_: System) -> Said:
    return "Not proved: no reading was taken.", ""


def _no_readings(_: System) -> Said:
    return "Nothing has been read yet.", ""


def _one_reading(
    _: System, *, speed_rpm: float, seen_deg: float, true_deg: float | None, commanded_deg: float
) -> Said:
    counted = "" if true_deg is None else f", {true_deg:.3g} by the true zero,"
    return (
        f"At {speed_rpm:,.0f} rpm the light shows {seen_deg:g} deg{counted} where "
        f"{commanded_deg:g} is commanded. One reading can't say why; offset and delay are not determined.",
        "",
    )


def _leave_it(_: System) -> Said:
    return DONE, DONE


def _take_reading(_: System, *, reading: int, of_readings: int) -> Said:
    asked = f"Take reading {reading} of {of_readings}."
    return asked, asked


def _take_the_next(_: System) -> Said:
    return "Take the next reading.", "Take the next reading."


def _mark_counted(_: System, *, mark_error_deg: float) -> Said:
    side, done = ("before", "taken off") if mark_error_deg > 0.0 else ("after", "added to")
    shown = f"{abs(mark_error_deg):.3g} deg"
    return (
        f"At true top dead centre the mark shows {shown} {side}: {shown} were {done} everything seen before "
        "it was judged. How well the mark's error is known comes on top of the intervals here.",
        "",
    )


def _counts_each_spark(_: System) -> Said:
    return (
        "A capacitive driver may fire several sparks at low speed, and a dial-back light counts each: "
        "set its dial to zero and read against a timing tape.",
        "",
    )


def _too_much_to_hold(_: System, *, asked_deg: float, most_deg: float) -> Said:
    return (
        f"{asked_deg:g} deg is more than the {most_deg:g} that rotor, knock, controller and "
        "practice allow to be held without load: beyond its reach the rotor's tip has left the post.",
        "",
    )


def _alike(_: System, *, first_line: int, line: int) -> Said:
    return (
        f"Lines {first_line} and {line} are the same reading, counted once; if it was "
        'read anew, say so in its note ("again").',
        "",
    )


def _of_another_engine(_: System, *, named: Sequence[int], cylinders: int) -> Said:
    return (
        f"Readings name cylinder {', '.join(map(str, named))}, and this engine has {cylinders}; they count "
        "as of a cylinder not noted. Take them back if they are of another engine.",
        "",
    )


def _too_many(_: System, *, judged: int) -> Said:
    return f"Only the first {judged} readings of this set are judged; begin a new set.", ""


def _again(_: System, *, reading: Place) -> Said:
    return f"again, in place of {where(reading)}", ""


def _as_expected(_: System, *, within_deg: float) -> Said:
    return f"if it shows what these readings expect, the agreement is known to {within_deg:.1f} deg", ""


_WHY = {
    "tells-light-from-offset": "tells a fooled light from a spark that is off",
    "dial-at-zero": "with the dial at zero, against a timing tape",
    "after-the-change": "after the change: starts a new list",
    "after-the-change-other-end": "after the change: the other end",
    "first": "the first of the two speeds that are always read",
    "other-end": "the other end: parts a delay from an offset",
    "checks-the-others": "lets the readings check one another",
    "shows-one-that-is-wrong": f"of {ENOUGH_READINGS}, one that is wrong stands out",
    "finer-light": "with a finer light or marks: more of the same moves little",
}
"""Why a reading is asked for, as the end of a sentence."""


def _why(words: str, _: System) -> Said:
    return words, ""


WRITERS: dict[str, Writer] = {
    "two-settings.mixed": _mixed,
    "light.fooled": _light_fooled,
    "light-or-offset.ratio": _ratio,
    "command.followed": _followed,
    "command.fooled": _command_fooled,
    "command.hardly-followed": _hardly_followed,
    "command.changed": _command_changed,
    "one-reading.left-out": _left_out,
    "one-reading.in-doubt": _in_doubt,
    "scatter.not-determined": _scatter_not_determined,
    "scatter.while-in-doubt": _scatter_in_doubt,
    "scatter.explained": _scatter_explained,
    "scatter.wide-of-few": _scatter_of_few,
    "scatter.wide": _scatter_wide,
    "rising-and-falling.agree": _sweeps_agree,
    "rising-and-falling.differ": _sweeps_differ,
    "cylinders.differ": _cylinder_differs,
    "cylinders.agree": _cylinders_agree,
    "low-battery.no-growth": _no_growth,
    "low-battery.earlier": _battery_earlier,
    "low-battery.delay-grows": _delay_grows,
    "drift.step": _step,
    "drift.bend": _bend,
    "delay.small": _tempered(_delay_small),
    "delay.too-large": _tempered(_delay_too_large),
    "delay.to-set": _tempered(_delay_to_set),
    "delay.set-too-long": _tempered(_delay_set_too_long),
    "delay.earlier": _tempered(_delay_earlier),
    "offset.small": _tempered(_offset_small),
    "offset.beside-delay": _tempered(_offset_beside_delay),
    "offset.to-turn": _tempered(_offset_to_turn),
    "offset-or-delay.not-told": _tempered(_offset_or_delay),
    "proof.agrees": _agrees,
    "proof.one-speed": _one_speed,
    "proof.too-few": _too_few,
    "proof.too-far-apart": _too_far_apart,
    "proof.in-doubt": _proof_in_doubt,
    "proof.not-fitted": _not_fitted,
    "proof.nothing-read": _nothing_read,
    "readings.none": _no_readings,
    "readings.one": _one_reading,
    "readings.alike": _alike,
    "readings.of-another-engine": _of_another_engine,
    "readings.too-many": _too_many,
    "do.leave-it": _leave_it,
    "do.take-reading": _take_reading,
    "do.take-the-next": _take_the_next,
    "mark.counted": _mark_counted,
    "light.counts-each-spark": _counts_each_spark,
    "advance.too-much-to-hold": _too_much_to_hold,
    "read-next.again": _again,
    "read-next.as-expected": _as_expected,
    **{f"read-next.{kind}": partial(_why, words) for kind, words in _WHY.items()},
}
"""How each kind of finding of a light check is told."""
