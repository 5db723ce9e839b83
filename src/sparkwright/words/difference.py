"""What moved from one plan to another, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.units import System
from sparkwright.words.loads import load_text
from sparkwright.words.parts import Said, Writer, air_pressure, number_of_cells


def _no_cell(_: System) -> Said:
    return "No cell of the map moved.", ""


def _no_cell_met(_: System) -> Said:
    return "No cell moved that the engine meets before and after.", ""


def _cells(
    _: System,
    *,
    of_cells: int,
    all_met: bool,
    more_cells: int = 0,
    more_deg: float = 0.0,
    more_rpm: float = 0.0,
    more_kpa: float = 0.0,
    less_cells: int = 0,
    less_deg: float = 0.0,
    less_rpm: float = 0.0,
    less_kpa: float = 0.0,
) -> Said:
    of = f"{of_cells} cells" if all_met else f"{of_cells} cells met before and after"
    ways = (
        ("more", more_cells, more_deg, more_rpm, more_kpa),
        ("less", less_cells, less_deg, less_rpm, less_kpa),
    )
    said = "; ".join(_moved_most(*each) for each in ways if each[1])
    return f"Of {of} {more_cells + less_cells} moved: {said}.", ""


def _moved_most(way: str, cells: int, by_deg: float, rpm: float, kpa: float) -> str:
    return (
        f"{number_of_cells(cells, 'has', 'have')} {way} advance, by up to {by_deg:.1f} deg "
        f"at {rpm:,.0f} rpm and {load_text(kpa)} kPa"
    )


def _axes(_: System, *, outside_cells: int) -> Said:
    left_out = (
        f" {number_of_cells(outside_cells, 'lies', 'lie')} outside the old map." if outside_cells else ""
    )
    return (
        "Speeds or loads of the map have changed; the old values were carried over, linear between cells."
        f"{left_out}",
        "",
    )


def _holders(_: System, *, held_by_before_now: Sequence[tuple[str, int, int]]) -> Said:
    said = {kind: f"{kind} {before}, now {now}" for kind, before, now in held_by_before_now}
    by_hand = said.pop("by hand", "")
    held = f"held by {'; '.join(said.values())}" if said else ""
    return f"Cells {'; '.join(each for each in (held, by_hand and f'set {by_hand}') if each)}.", ""


def _torque(system: System, *, rpm: float, percent: float, top_before_kpa: float, top_now_kpa: float) -> Said:
    same_site = abs(top_now_kpa - top_before_kpa) < 0.5
    pressures = f" ({_before_and_now(top_before_kpa, top_now_kpa, system)})"
    return (
        f"At full load{'' if same_site else pressures} torque changes most at "
        f"{rpm:,.0f} rpm, by {percent:+.1f} %.",
        "",
    )


def _before_and_now(before_kpa: float, now_kpa: float, system: System) -> str:
    if system == "inch":
        return f"{air_pressure(before_kpa, system)} absolute before, {air_pressure(now_kpa, system)} now"
    return f"{before_kpa:.0f} kPa before, {now_kpa:.0f} now"


WRITERS: dict[str, Writer] = {
    "moved.no-cell": _no_cell,
    "moved.no-cell-met": _no_cell_met,
    "moved.cells": _cells,
    "moved.axes": _axes,
    "moved.holders": _holders,
    "moved.torque": _torque,
}
"""How each kind of finding about a difference is told."""
