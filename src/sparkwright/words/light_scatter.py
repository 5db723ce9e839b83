"""The scatter of light readings in sentences: one reading, one sweep or one cylinder beside the others."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.units import System
from sparkwright.words.light_parts import Place, span, where
from sparkwright.words.parts import Said, Writer


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
        f"with speed falling ({span(low, high)}).",
        "Hold each speed until it is steady and read again; if it stays, stop the engine and look for "
        "slack in chain, gear or shaft, and for weights of the mechanical advance that stick.",
    )


def _cylinder_differs(
    _: System, *, cylinder: float, readings: int, value: float, low: float, high: float
) -> Said:
    once = " It was read only once." if readings == 1 else ""
    return (
        f"Cylinder {cylinder:.0f} fires {abs(value):.1f} deg {'earlier' if value > 0 else 'later'} than the "
        f"others ({span(low, high)}).{once}",
        "Prove that cylinder's mark first. Then look at its tooth or vane; errors that swing once "
        "around the cap come from a bent shaft or worn bushing, a lone one from a tooth.",
    )


def _cylinders_agree(_: System, *, cylinders: int, within_deg: float) -> Said:
    return f"The {cylinders} cylinders read agree within {within_deg:.1f} deg.", ""


WRITERS: dict[str, Writer] = {
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
}
"""How each kind of finding is told."""
