"""Sweeps at the dyno and what was noticed of them, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, in_own_units, own_unit, torque


def count_sweeps(sweeps: int) -> str:
    """Count sweeps.

    Parameters
    ----------
    sweeps : int
        How many.

    Examples
    --------
    >>> count_sweeps(1), count_sweeps(3)
    ('1 sweep', '3 sweeps')
    """
    return f"{sweeps} sweep{'' if sweeps == 1 else 's'}"


def set_aside(aside: int) -> str:
    """Say how many sweeps were set aside, to stand behind what was used; nothing where none was.

    Parameters
    ----------
    aside : int
        How many.

    Examples
    --------
    >>> set_aside(2), set_aside(0)
    ('; 2 set aside', '')
    """
    return f"; {aside} set aside" if aside else ""


def _no_top(_: System, *, aside: int) -> Said:
    measure = "Measure at several advances, on both sides of the top."
    return f"No sweep places a top{set_aside(aside)}.", measure


def _tops(_: System, *, sweeps: int, aside: int, least_half_deg: float, most_half_deg: float) -> Said:
    return (
        f"{count_sweeps(sweeps)}{set_aside(aside)}: best is known to +-{least_half_deg:.1f} to "
        f"+-{most_half_deg:.1f} deg (90 %) where they were measured.",
        "Give them to `sparkwright learn` for the whole map.",
    )


def _given_twice(_: System, *, sweep: str, twin: str) -> Said:
    same_name = twin == sweep
    where = "stands there twice with" if same_name else "holds"
    whose = "" if same_name else f" as {twin}"
    return (
        f"Sweep {sweep} {where} the same points{whose}; it counts once.",
        "If it was measured again, give its own figures.",
    )


def _sign_reversed(_: System, *, sweep: str, least_deg: float, most_deg: float) -> Said:
    return (
        f"Sweep {sweep} has advances of {least_deg:g} to {most_deg:g} deg: its sign seems reversed.",
        "Advance before top dead centre counts positive; turn the signs if so.",
    )


def _torque_reversed(_: System, *, sweep: str) -> Said:
    return (
        f"Sweep {sweep} has no torque above 0: the brake's sign seems reversed, or the engine was dragged.",
        "Give torque that the engine makes as positive.",
    )


def _unsteady_speed(_: System, *, sweep: str, least_rpm: float, most_rpm: float) -> Said:
    return (
        f"Sweep {sweep} ran from {least_rpm:,.0f} to {most_rpm:,.0f} rpm: unsteady speed.",
        "Hold speed within 3 % over a sweep, or give its points a name each in the column sweep.",
    )


def _unsteady_load(_: System, *, sweep: str, least_kpa: float, most_kpa: float) -> Said:
    return (
        f"Sweep {sweep} ran from {least_kpa:g} to {most_kpa:g} kPa: unsteady load.",
        "Hold manifold pressure within 4 kPa over a sweep.",
    )


def _stuck_sensor(system: System, *, sweep: str, torque_nm: float) -> Said:
    same = torque(torque_nm, system, ".4g")
    return (
        f"Sweep {sweep} has the same torque, {same}, at every advance: the sensor seems stuck.",
        "Look at the load cell and its cable, and measure again.",
    )


def _without_a_top(
    _: System,
    *,
    sweep: str,
    points: int,
    advances: int,
    first_deg: float,
    span_deg: float,
    fewest: int,
    listened: bool,
) -> Said:
    if points == 1:
        what = "has one point"
    elif advances == 1:
        what = f"has all its points at {first_deg:g} deg"
    else:
        what = f"has {advances} advances over {span_deg:g} deg"
    keeps = "only what was heard of knock is used" if listened else "it is set aside"
    return (
        f"Sweep {sweep} {what}: its torque can't place a top, so {keeps}.",
        f"Measure at {fewest} advances or more, 5 deg apart, on both sides of the top.",
    )


def _other_torque(_: System, *, sweep: str, others: bool, torque_ratio: float) -> Said:
    return _other_engine(sweep, f"its torque is {torque_ratio:.2f} times what {_whom(others)} would have it")


def _other_best(_: System, *, sweep: str, others: bool, off_deg: float) -> Said:
    return _other_engine(
        sweep, f"its best lies {abs(off_deg):.0f} deg from where {_whom(others)} would have it"
    )


def _whom(others: bool) -> str:
    return "the others" if others else "the job"


def _other_engine(sweep: str, why: str) -> Said:
    return (
        f"Sweep {sweep} seems to be of another engine: {why}.",
        "It is set aside; check file, speed, load and unit, or the job.",
    )


def _cut_short_by_knock(_: System, *, sweep: str, knock_to_deg: float) -> Said:
    return (
        f"Sweep {sweep} was cut short by knock at {knock_to_deg:g} deg, before its top; best is the cycle's "
        "shape carried on.",
        "Leave it there: knock holds this point.",
    )


def _not_crossed(_: System, *, sweep: str, end_deg: float, top_is_earlier: bool) -> Said:
    side = "earlier" if top_is_earlier else "later"
    return (
        f"Sweep {sweep} never crossed the top: torque still rises at {end_deg:g} deg.",
        f"Measure two or three {side} advances, 5 deg apart.",
    )


def _drift(_: System, *, sweep: str, drift_percent: float) -> Said:
    return (
        f"Torque of sweep {sweep} drifted by {drift_percent:+.1f} % from first to last point.",
        "Go back to the first advance at the end: a repeated point tells drift from timing.",
    )


def _coolant_moved(system: System, *, sweep: str, least_c: float, most_c: float) -> Said:
    return _moved("coolant", system, sweep, least_c, most_c)


def _intake_moved(system: System, *, sweep: str, least_c: float, most_c: float) -> Said:
    return _moved("intake air", system, sweep, least_c, most_c)


def _moved(what: str, system: System, sweep: str, least_c: float, most_c: float) -> Said:
    low, high = (in_own_units(each, "temperature", system) for each in (least_c, most_c))
    return (
        f"The {what} of sweep {sweep} ran from {low:.0f} to {high:.0f} {own_unit('temperature', system)}.",
        "Let it settle before each point.",
    )


def _repeat_differs(_: System, *, sweep: str, differs_percent: float) -> Said:
    return (
        f"Sweep {sweep} repeats an advance, and its torque differs by {differs_percent:.1f} %.",
        "Something moved in between: temperature, mixture or the brake.",
    )


WRITERS: dict[str, Writer] = {
    "dyno.no-top": _no_top,
    "dyno.tops": _tops,
    "sweep.given-twice": _given_twice,
    "sweep.sign-reversed": _sign_reversed,
    "sweep.torque-reversed": _torque_reversed,
    "sweep.unsteady-speed": _unsteady_speed,
    "sweep.unsteady-load": _unsteady_load,
    "sweep.stuck-sensor": _stuck_sensor,
    "sweep.no-top": _without_a_top,
    "sweep.other-torque": _other_torque,
    "sweep.other-best": _other_best,
    "sweep.cut-short-by-knock": _cut_short_by_knock,
    "sweep.not-crossed": _not_crossed,
    "sweep.drift": _drift,
    "sweep.coolant-moved": _coolant_moved,
    "sweep.intake-moved": _intake_moved,
    "sweep.repeat-differs": _repeat_differs,
}
"""How sweeps are told."""
