"""What accelerations of a drive say about two timings, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer
from sparkwright.words.pulls import count_pulls


def _one_timing(_: System, *, pulls: int, timing: str) -> Said:
    return (
        f"{count_pulls(pulls)} at full throttle in one gear, all at one timing ({timing}).",
        "Pull at another timing too, on the same stretch of road and both ways, two times and more at each.",
    )


def _apart(_: System, *, pulls: int) -> Said:
    return (
        f"{count_pulls(pulls)} at full throttle in one gear have too little speed in common to be compared.",
        "Pull over the same speeds at each timing.",
    )


def _compared(
    _: System,
    *,
    first: str,
    second: str,
    first_pulls: int,
    second_pulls: int,
    low_rpm: float,
    high_rpm: float,
    percent: float,
    low_percent: float,
    high_percent: float,
    confidence_percent: float,
    real: tuple[tuple[float, float], ...],
    noise_percent: float,
    needed: int | None,
) -> Said:
    where = f"from {low_rpm:,.0f} to {high_rpm:,.0f} rpm"
    if needed is None:
        return (
            f"Torque at {second} against {first}: {percent:+.1f} % in the mean {where}; how real that is "
            "can't be said without a repeat.",
            "Pull at each timing again: only repeats tell the noise.",
        )
    least = min(first_pulls, second_pulls)
    more = f"To see 1 % pull {needed} times at each timing." if least < needed else ""
    stands = "real" if real else "within the noise"
    return (
        f"Torque at {second} against {first}: {percent:+.1f} % in the mean {where} ({low_percent:+.1f} to "
        f"{high_percent:+.1f} %, {confidence_percent:.0f} % sure over all speeds), {stands}; "
        f"{first_pulls} and {second_pulls} pulls that lie {noise_percent:.1f} % apart.",
        more,
    )


WRITERS: dict[str, Writer] = {
    "road-pulls.one-timing": _one_timing,
    "road-pulls.apart": _apart,
    "road-pulls.compared": _compared,
}
