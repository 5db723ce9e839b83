"""A map from elsewhere, and the old curves, held against the plan, in sentences."""

from __future__ import annotations

from functools import partial
from typing import Any

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

CHANGE = "Change those cells before the engine is loaded."


def _clear(_: System) -> Said:
    return "No cell stands over a ceiling of the plan.", "Prove it with the light."


def _at_any_advance(_: System, **where: Any) -> Said:
    return _knocks_anyway(**where), CHANGE


def _knocks_anyway(*, cells: int, of_cells: int, rpm: float, kpa: float) -> str:
    return (
        f"This fuel knocks at any advance in {cells} of {of_cells} cells, the first at "
        f"{rpm:,.0f} rpm and {kpa:.0f} kPa."
    )


def _the_most(
    says: str,
    *,
    cells: int,
    of_cells: int,
    over_deg: float,
    rpm: float,
    kpa: float,
    advance_deg: float,
    ceiling_deg: float,
) -> str:
    return (
        f"{says}: {cells} of {of_cells} cells, the most by {over_deg:.1f} deg "
        f"at {rpm:,.0f} rpm and {kpa:.0f} kPa ({advance_deg:g} deg, ceiling {ceiling_deg:.1f})"
    )


def _over(says: str, _: System, **most: Any) -> Said:
    return f"{_the_most(says, **most)}.", CHANGE


def _past_best(_: System, **most: Any) -> Said:
    return f"{_the_most('Past best', **most)}; more advance there only costs torque.", ""


def _left_late(_: System, *, cells: int, of_cells: int, advance_deg: float, rpm: float, kpa: float) -> Said:
    return (
        f"Later than the rotor covers its post: {cells} of {of_cells} cells, the first "
        f"{advance_deg:g} deg at {rpm:,.0f} rpm and {kpa:.0f} kPa; such a spark can go to the "
        "wrong cylinder.",
        CHANGE,
    )


def _set_by_hand(_: System, *, cells: int) -> Said:
    return (
        f"Set by hand to just this value in the job: {cells} of the cells over a ceiling; the plan "
        "gives their reasons.",
        "",
    )


def _outside_the_plan(_: System, *, cells: int, of_cells: int) -> Said:
    return (
        f"Outside the plan's speeds and loads: {cells} of {of_cells} cells; nothing is said of them.",
        "",
    )


def _old_late(_: System, *, late_deg: float, mean_deg: float, rpm: float, kpa: float) -> Said:
    return (
        f"The old curves were late where the engine works: by {late_deg:.0f} deg at {rpm:,.0f} rpm and "
        f"{kpa:.0f} kPa, where it counts most, and by {mean_deg:.1f} deg on average.",
        "",
    )


def _old_over_knock(_: System, *, over_deg: float, rpm: float, kpa: float) -> Said:
    return (
        f"They stood up to {over_deg:.0f} deg over the knock ceiling, margin included, "
        f"most at {rpm:,.0f} rpm and {kpa:.0f} kPa.",
        "",
    )


def _old_at_any_advance(_: System, **where: Any) -> Said:
    return _knocks_anyway(**where), ""


def _old_close(_: System) -> Said:
    return "The old curves lay close to the plan.", ""


WRITERS: dict[str, Writer] = {
    "held-against.clear": _clear,
    "held-against.at-any-advance": _at_any_advance,
    "held-against.over-knock": partial(_over, "Over the knock ceiling"),
    "held-against.over-reach": partial(_over, "More than the rotor reaches"),
    "held-against.over-limit": partial(_over, "Over a limit set by hand"),
    "held-against.left-late": _left_late,
    "held-against.set-by-hand": _set_by_hand,
    "held-against.past-best": _past_best,
    "held-against.outside-the-plan": _outside_the_plan,
    "old-curve.late": _old_late,
    "old-curve.over-knock": _old_over_knock,
    "old-curve.at-any-advance": _old_at_any_advance,
    "old-curve.close": _old_close,
}
"""How each kind of finding about another map is told."""
