"""The fixed-advance check in sentences: each kind of finding, the proof, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from sparkwright.light.fit import ENOUGH_READINGS
from sparkwright.units import System
from sparkwright.words.light_parts import Place, where
from sparkwright.words.parts import Said, Writer, sentence_case

DONE = "Leave body and delay as they are; give the map back to the controller and read base once more."


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

    Parameters
    ----------
    value : float
        A value above the limit.
    limit : float
        The limit, in the same unit.

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
"""How each kind of finding is told."""
