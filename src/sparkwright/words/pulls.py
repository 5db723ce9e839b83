"""Pulls at full throttle, and timings held against each other, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, in_own_units, own_unit, torque


def count_pulls(pulls: int) -> str:
    """Say how many pulls.

    Parameters
    ----------
    pulls : int
        How many.

    Examples
    --------
    >>> count_pulls(1), count_pulls(3)
    ('1 pull', '3 pulls')
    """
    return f"{pulls} pull{'' if pulls == 1 else 's'}"


def _one_timing(_: System, *, pulls: int) -> Said:
    if not pulls:
        return "No pull was run at a brake.", "Run pulls at two timings, two or more at each."
    return f"{count_pulls(pulls)} at one timing.", "Run pulls at a second timing, two or more at each."


def _without_repeat(system: System, *, first: str, second: str, mean_nm: float) -> Said:
    mean = _mean(mean_nm, system)
    return f"{second} less {first}: {mean}, but how real that is isn't determined without a repeat.", ""


def _not_real(system: System, *, first: str, second: str, mean_nm: float) -> Said:
    mean = _mean(mean_nm, system)
    return f"{second} less {first}: no difference that is real; {mean} lies within the noise.", ""


def _real(
    system: System,
    *,
    first: str,
    second: str,
    mean_nm: float,
    real_rpm: tuple[tuple[float, float], ...],
    percent: float,
) -> Said:
    where = ", ".join(f"{low:,.0f} to {high:,.0f}" for low, high in real_rpm)
    mean = _mean(mean_nm, system)
    return f"{second} less {first}: {mean}, real at {where} rpm ({percent:.0f} % over all).", ""


def _mean(mean_nm: float, system: System) -> str:
    return f"{in_own_units(mean_nm, 'torque', system):+.1f} {own_unit('torque', system)} in the mean"


def _repeat(_: System) -> Said:
    return "Not every timing was run twice.", "Run each timing again: only repeats tell the noise."


def _too_few(_: System, *, more: int, needed: int) -> Said:
    return (
        "The pulls are too few to see 1 % at a speed.",
        f"To see 1 % at a speed run {more} more at each timing, {needed} in all.",
    )


def _enough(_: System) -> Said:
    enough = "There are pulls enough to see 1 % at a speed."
    return enough, enough


FORETOLD_BY = {"job": "the job", "sweeps": "the sweeps", "pulls": "the other pulls"}


def _other_torque(_: System, *, pull: str, against: str, torque_ratio: float) -> Said:
    would = f"its torque is {torque_ratio:.2f} times what {FORETOLD_BY[against]} would have it"
    return _other_engine(pull, would)


def _other_shape(_: System, *, pull: str, against: str, off_percent: float, rpm: float) -> Said:
    return _other_engine(
        pull,
        f"its torque runs otherwise over speed than {FORETOLD_BY[against]} would have it, "
        f"{off_percent:+.0f} % at {rpm:,.0f} rpm",
    )


def _other_engine(pull: str, why: str) -> Said:
    return (
        f"Pull {pull} seems to be of another engine: {why}.",
        "It is set aside; check file, unit, load and advance, or the job; if it isn't this engine's, take it "
        "back.",
    )


def _given_twice(_: System, *, pull: str, twin: str) -> Said:
    return (
        f"Pull {pull} has the same torque as {twin} at every speed; it counts once.",
        "If it was run again, give its own figures.",
    )


def _torque_reversed(_: System, *, pull: str) -> Said:
    return (
        f"Pull {pull} has torque of 0 or less: the brake's sign seems reversed, or the engine was dragged.",
        "Give torque that the engine makes as positive, over the speeds at full throttle alone.",
    )


def _stuck_sensor(system: System, *, pull: str, torque_nm: float) -> Said:
    same = torque(torque_nm, system, ".4g")
    return (
        f"Pull {pull} has the same torque, {same}, at every speed: the sensor seems stuck.",
        "Look at the load cell and its cable, and run it again.",
    )


WRITERS: dict[str, Writer] = {
    "pulls.one-timing": _one_timing,
    "pulls.without-repeat": _without_repeat,
    "pulls.not-real": _not_real,
    "pulls.real": _real,
    "pulls.repeat": _repeat,
    "pulls.too-few": _too_few,
    "pulls.enough": _enough,
    "pull.other-torque": _other_torque,
    "pull.other-shape": _other_shape,
    "pull.given-twice": _given_twice,
    "pull.torque-reversed": _torque_reversed,
    "pull.stuck-sensor": _stuck_sensor,
}
"""How pulls are told."""
