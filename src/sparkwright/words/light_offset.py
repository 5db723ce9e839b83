"""An offset of the spark in sentences, and which way to turn the body."""

from __future__ import annotations

from sparkwright.job.usual import USUAL_HOUSING_MM
from sparkwright.units import System
from sparkwright.words.light_parts import signed, span, tempered, told_apart
from sparkwright.words.parts import Said, Writer, length, sentence_case
from sparkwright.words.ways import way_of


def _degrees(value: float, low: float, high: float) -> str:
    return f"{signed(value)} deg ({signed(low)} to {signed(high)})"


def _offset_small(_: System, *, real: bool, **size: float) -> Said:
    return f"Offset of the distributor: {_degrees(**size)}, {told_apart(real)}.", ""


def _offset_beside_delay(_: System, *, seen_deg: float, **size: float) -> Said:
    return (
        f"In the middle of the speeds read the spark is {signed(seen_deg)} deg off. Reckoned back to 0 rpm, "
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
    rotation: str,
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
    offset_deg: float, rotation: str, rim_mm: float, rim_diameter_mm: float | None, system: System = "metric"
) -> str:
    """Say as the end of a sentence how to turn the body so that an offset goes away.

    The body is turned with the rotor's rotation for a later spark, against it for an earlier one.

    Parameters
    ----------
    offset_deg : float
        How much earlier than meant the spark comes [crank deg].
    rotation : str
        Which way the rotor turns, as the eye sees it from above.
    rim_mm : float
        The same offset along the rim of the body [mm].
    rim_diameter_mm : float or None
        Diameter of that rim [mm]; None where it isn't stated.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> print(turn_words(-4.0, "clockwise", 1.26, 72.0))
    stop the engine, loosen the clamp, and turn the distributor's body 4.0 crank deg, 2.0 deg of its own,
    anticlockwise seen from above, against the rotor, 1.3 mm at its rim of 72 mm; tighten, and read again.
    """
    diameter = (
        f"of {length(rim_diameter_mm, system, 'g')}"
        if rim_diameter_mm is not None
        else f"if that is {length(USUAL_HOUSING_MM, system, 'g')} across"
    )
    return (
        f"stop the engine, loosen the clamp, and turn the distributor's body {abs(offset_deg):.1f} crank "
        f"deg, {abs(offset_deg) / 2.0:.1f} deg of its own, {way_of(rotation, offset_deg)}, "
        f"{length(rim_mm, system)} at its rim {diameter}; tighten, and read again."
    )


def _offset_or_delay(_: System, *, rpm: float, value: float, low: float, high: float) -> Said:
    return (
        f"At {rpm:,.0f} rpm the spark comes {abs(value):.1f} deg {'early' if value > 0 else 'late'} "
        f"({span(low, high)}); whether by an offset or by a delay, these readings can't tell.",
        "Read at another speed, far from this one, before anything is turned or set.",
    )


WRITERS: dict[str, Writer] = {
    "offset.small": tempered(_offset_small),
    "offset.beside-delay": tempered(_offset_beside_delay),
    "offset.to-turn": tempered(_offset_to_turn),
    "offset-or-delay.not-told": tempered(_offset_or_delay),
}
"""How each kind of finding is told."""
