"""What was learned of an engine, and which sweep to run next, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.loads import load_text
from sparkwright.words.parts import Said, Writer, in_own_units, torque
from sparkwright.words.pulls import count_pulls
from sparkwright.words.sweeps import count_sweeps, set_aside

_AFTER_LEARNING = "Ask `sparkwright next` what to measure now; prove the new map from the late side."


def _learned_from(sweeps: int, pulls: int, aside: int) -> str:
    more = f" and {count_pulls(pulls)}" if pulls else ""
    return f"Learned from {count_sweeps(sweeps)}{more}{set_aside(aside)}"


def _no_best(_: System, *, sweeps: int, pulls: int, aside: int) -> Said:
    learned = _learned_from(sweeps, pulls, aside)
    return f"{learned}; best is not determined in any cell.", _AFTER_LEARNING


def _best(_: System, *, sweeps: int, pulls: int, aside: int, half_deg: float) -> Said:
    learned = _learned_from(sweeps, pulls, aside)
    return f"{learned}: best is known to +-{half_deg:.1f} deg (90 %) in the middle cell.", _AFTER_LEARNING


def _unseen(_: System, *, unseen: tuple[str, ...]) -> Said:
    return f"The measurements don't see {', '.join(unseen)}; there the prior stands.", ""


def _next_sweep(
    system: System,
    *,
    rpm: float,
    kpa: float,
    advances_deg: tuple[float, ...],
    worth_nm: float,
    lost_nm: float,
) -> Said:
    worth, lost = torque(worth_nm, system, ".2f"), in_own_units(lost_nm, "torque", system)
    told = ", ".join(f"{each:g}" for each in advances_deg)
    return (
        f"Next: {rpm:,.0f} rpm and {load_text(kpa)} kPa, worth {worth} over the map, of {lost:.2f} lost to "
        "not knowing.",
        f"Measure torque at {told} deg, in this order, and stop at the first trace of knock.",
    )


def _enough(system: System, *, lost_nm: float) -> Said:
    lost = torque(lost_nm, system, ".2f")
    return (
        f"More sweeps aren't worth their time: not knowing costs {lost}, as mean over the map.",
        "Prove the map on the engine, from the late side.",
    )


WRITERS: dict[str, Writer] = {
    "learned.no-best": _no_best,
    "learned.best": _best,
    "learned.unseen": _unseen,
    "next.sweep": _next_sweep,
    "next.enough": _enough,
}
"""How what was learned, and what to run next, is told."""
