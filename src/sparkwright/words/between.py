"""The map between its cells, in sentences."""

from __future__ import annotations

from math import isnan

from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.result import CEILING_WORDS
from sparkwright.units import System
from sparkwright.words.loads import load_said, load_text
from sparkwright.words.parts import Said, Writer, number_of_cells

HOW = {"straight lines": "runs in straight lines", "nearest cell": "takes the nearest cell"}


def _words(ceiling: str) -> str:
    return "best" if ceiling == "best" else CEILING_WORDS[ceiling]


def _costs(
    _: System,
    *,
    cells: int,
    lost_percent: float,
    lowered_deg: float,
    rpm: float,
    kpa: float,
    ceiling: str,
    at_rpm: float,
    at_kpa: float,
) -> Said:
    return (
        f"{number_of_cells(cells, 'stands', 'stand')} lower for what lies between cells; it costs most at "
        f"{rpm:,.0f} rpm and {load_text(kpa)} kPa: {lost_percent:.1f} % of torque for {lowered_deg:g} deg, "
        f"since the map would stand over {_words(ceiling)} at {at_rpm:,.0f} rpm and {at_kpa:.0f} kPa.",
        "Put a speed and a load there, or have speeds and loads chosen for it.",
    )


def _set_by_hand(
    _: System,
    *,
    ceiling: str,
    points: int,
    of_points: int,
    over_deg: float,
    rpm: float,
    kpa: float,
    advance_deg: float,
    ceiling_deg: float,
) -> Said:
    return (
        f"Between cells set by hand the map stands up to {over_deg:.1f} deg over {_words(ceiling)}, most at "
        f"{rpm:,.0f} rpm and {kpa:.0f} kPa ({advance_deg:.1f} deg, ceiling {ceiling_deg:.1f}).",
        "Lower those cells, or those beside them.",
    )


def _held_against(
    _: System,
    *,
    ceiling: str,
    points: int,
    of_points: int,
    over_deg: float,
    rpm: float,
    kpa: float,
    advance_deg: float,
    ceiling_deg: float,
) -> Said:
    return (
        f"Between cells that are under their ceilings the map stands up to {over_deg:.1f} deg over "
        f"{_words(ceiling)}, most at {rpm:,.0f} rpm and {kpa:.0f} kPa ({advance_deg:.1f} deg, ceiling "
        f"{ceiling_deg:.1f}).",
        "" if ceiling == "best" else "Lower the cells about it before the engine is loaded.",
    )


def _holds(
    _: System,
    *,
    lowered_deg: float,
    ceiling: str,
    rpm: float,
    kpa: float,
    how: str,
    load: float | None = None,
    load_term: str = "",
) -> Said:
    return (
        f"What lies between cells holds: the controller {HOW[how]} there, and with {lowered_deg:g} deg more "
        f"here it would stand over {_words(ceiling)} at {rpm:,.0f} rpm and "
        f"{load_said(round(kpa), load, load_term)}.",
        "",
    )


def _rows_cost(
    _: System,
    *,
    cells: int,
    lowered_deg: float,
    lost_percent: float,
    rpm: float,
    kpa: float,
    has_speed: bool,
) -> Said:
    lost = (
        "what that costs is not determined there"
        if isnan(lost_percent)
        else f"{lost_percent:.1f} % of torque"
    )
    why = (
        "since between that row's speeds the map would stand over a ceiling"
        if has_speed
        else "since that row has no speed there"
    )
    return (
        f"{number_of_cells(cells, 'stands', 'stand')} lower because rows have speeds of their own; it costs "
        f"most at {rpm:,.0f} rpm and {kpa:g} kPa: {lowered_deg:.1f} deg, {lost}, {why}.",
        "Give that row a speed beside it." if has_speed else "Give that row a speed there.",
    )


def _rows_hold(_: System, *, lowered_deg: float) -> Said:
    return (
        f"It stands {lowered_deg:.1f} deg lower for what the controller makes of this row between its own "
        "speeds, and beyond them.",
        "",
    )


def _made_of_row(_: System, *, below_rpm: float | None, above_rpm: float | None, lowered_deg: float) -> Said:
    at = " and ".join(f"{each:,.0f}" for each in (below_rpm, above_rpm) if each is not None)
    kept = "" if below_rpm and above_rpm else ", kept beyond it"
    made = f"Its row has no speed here: the controller makes this of its cells at {at} rpm{kept}."
    if lowered_deg > TELLABLE_DEG:
        return f"{made} With a speed here the plan would give {lowered_deg:.1f} deg more.", ""
    return made, ""


WRITERS: dict[str, Writer] = {
    "between.costs": _costs,
    "between.set-by-hand": _set_by_hand,
    "cell.between-holds": _holds,
    "cell.made-of-row": _made_of_row,
    "cell.rows-hold": _rows_hold,
    "held-against.between": _held_against,
    "rows.cost": _rows_cost,
}
"""How each kind of finding about the map between its cells is told."""
