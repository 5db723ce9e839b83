"""A person's own map against the plan, in sentences."""

from __future__ import annotations

from math import isinf, isnan

from sparkwright.plan.result import CEILING_WORDS
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, number_of_cells, sentence_case

_REGION = {"light load": "cruise and light load"}
"""What a part of the map is called where its name alone doesn't say what is driven there."""


def _name(region: str) -> str:
    return sentence_case(_REGION.get(region, region))


def _over(
    _: System,
    *,
    region: str,
    cells: int,
    of_cells: int,
    ceiling: str,
    over_deg: float,
    chance_percent: float,
    rpm: float,
    kpa: float,
) -> Said:
    which = CEILING_WORDS.get(ceiling, ceiling)
    by = "at any advance" if isinf(over_deg) else f"the most by {over_deg:.1f} deg"
    chance = "" if isnan(chance_percent) else f", with a chance of knock of {chance_percent:.0f} %"
    said = (
        f"{_name(region)}: {cells} of {of_cells} cells over {which}, {by} at {rpm:,.0f} rpm and {kpa:.0f} "
        f"kPa{chance}."
    )
    return said, "More there only costs torque." if ceiling == "best" else "Lower them before it is loaded."


def _late(_: System, *, region: str, late_deg: float, lost_percent: float, rpm: float, kpa: float) -> Said:
    given = (
        f"gives away {lost_percent:.1f} % of torque" if lost_percent >= 0.05 else "costs next to no torque"
    )
    return (
        f"{_name(region)}: up to {late_deg:.1f} deg later than the plan at {rpm:,.0f} rpm and {kpa:.0f} kPa, "
        f"which {given}.",
        "",
    )


def _steps(_: System, *, region: str, steps: int) -> Said:
    many = number_of_cells(steps, "stands", "stand")
    return f"{_name(region)}: {many} a step apart that the engine would feel.", ""


def _merged_steps(_: System, *, steps: int) -> Said:
    many = number_of_cells(steps, "stands", "stand")
    return (
        f"The merged map has steps that yours had not: {many} further from a neighbour than slopes allow.",
        "Smooth them by hand, towards later, before it is loaded.",
    )


def _close(_: System, *, region: str, cells: int) -> Said:
    return f"{_name(region)}: all {cells} cells lie close to the plan.", ""


def _harms(_: System, *, over: int, changed: int, of_cells: int) -> Said:
    stand = number_of_cells(over, "stands", "stand")
    return (
        f"Your map: {stand} over knock, reach or a limit, of {of_cells} that the engine meets.",
        f"Don't load it. The merged map changes {changed} cells and keeps the others as they are.",
    )


def _may_stay(_: System, *, over: int, changed: int, of_cells: int) -> Said:
    if not changed:
        return (
            f"Your map may stay: none of the {of_cells} cells is worth changing.",
            "Prove it with the light.",
        )
    return (
        f"Your map stands over nothing that harms; {number_of_cells(changed, 'is', 'are')} worth changing.",
        "The merged map changes only those. Prove it with the light.",
    )


WRITERS: dict[str, Writer] = {
    "mine.over": _over,
    "mine.late": _late,
    "mine.steps": _steps,
    "mine.merged-steps": _merged_steps,
    "mine.close": _close,
    "mine.harms": _harms,
    "mine.may-stay": _may_stay,
}
"""How a person's map is told."""
