"""Idle block, cranking row and the rules of running, in sentences."""

from __future__ import annotations

from math import isnan
from typing import Any

from sparkwright.units import System
from sparkwright.words.loads import load_text
from sparkwright.words.parts import Said, Writer, number_of_cells

KICK = "A spark too early while cranking kicks the starter back; hands and tools clear of fan and belts."


def _laid(
    _: System,
    *,
    from_rpm: float,
    to_rpm: float,
    from_kpa: float,
    to_kpa: float,
    advance_deg: float,
    reserve_deg: float,
    earlier_percent: float,
    later_percent: float,
    lowered: int,
) -> Said:
    buys = (
        "what 5 deg either way buy is not determined"
        if isnan(earlier_percent)
        else f"5 deg more give {earlier_percent:+.1f} % torque, 5 deg less {later_percent:+.1f} %"
    )
    beside = (
        f"; {number_of_cells(lowered, 'beside it is', 'beside it are')} lowered for the slopes"
        if lowered
        else ""
    )
    return (
        f"Idle block: {advance_deg:g} deg from {from_rpm:,.0f} to {to_rpm:,.0f} rpm and "
        f"{load_text(from_kpa)} to {load_text(to_kpa)} kPa, {reserve_deg:.1f} below best; {buys}{beside}.",
        "Type it flat. Let the controller's idle control move it by 5 deg either way, later when fast.",
    )


def _off_the_map(_: System, *, least_rpm: float, map_rpm: float, map_kpa: float) -> Said:
    return (
        f"Idle wanders to {least_rpm:,.0f} rpm, and the map begins at {map_rpm:,.0f} rpm and "
        f"{load_text(map_kpa)} kPa: what lies below takes its first cells.",
        "Give the map a speed and a load below idle.",
    )


def _no_own_cell(_: System) -> Said:
    return (
        "No row of the controller has a speed within the idle block: nothing can be typed there, and idle "
        "gets what its rows make between their speeds.",
        "Give the rows about the idle load a speed below idle and one above.",
    )


def _set_by_hand(_: System, *, cells: int) -> Said:
    stay = number_of_cells(cells, "stays", "stay")
    return (
        f"In the idle block {stay} as set by hand, so that it isn't flat there.",
        "If idle hunts, let the plan have them back.",
    )


def _sparks(sparks: int, last_deg: float) -> str:
    if sparks == 1:
        return ""
    side = "before" if last_deg >= 0.0 else "after"
    return f" The last of {sparks} sparks falls {abs(last_deg):.1f} deg {side} top."


def _cranking(
    *,
    advance_deg: float,
    carried_deg: float,
    least_deg: float,
    base_deg: float,
    cranking_rpm: float,
    until_rpm: float,
    sparks: int,
    last_deg: float,
    uncovered: int,
) -> str:
    not_covered = (
        ""
        if not uncovered
        else f" {uncovered} of them with the tip off its post: weaker, but to the right cylinder."
    )
    return (
        f"Cranking: {advance_deg:g} deg up to {until_rpm:,.0f} rpm; the starter carries {carried_deg:.1f} at "
        f"{cranking_rpm:,.0f} rpm.{_sparks(sparks, last_deg)}{not_covered}"
    )


def _crank_set(_: System, **numbers: Any) -> Said:
    return _cranking(**numbers), KICK


def _base_kicks(_: System, *, base_deg: float, carried_deg: float, **numbers: Any) -> Said:
    said = _cranking(base_deg=base_deg, carried_deg=carried_deg, **numbers)
    return (
        f"{said} Base is {base_deg:g}: a controller that fires at base while cranking is earlier than that.",
        f"Let it crank later than base, or set base to {carried_deg:.0f} deg. {KICK}",
    )


def _rotor_too_early(_: System, *, least_deg: float, carried_deg: float, **numbers: Any) -> Said:
    return (
        f"The starter carries {carried_deg:.1f} deg, and rotor or controller no less than {least_deg:.1f}.",
        f"Move the rotor's phase back before it is cranked. {KICK}",
    )


def _wrong_cylinder(_: System, **numbers: Any) -> Said:
    return (
        f"{_cranking(**numbers)} The last of them stand nearer to another post.",
        f"Set fewer sparks for cranking, or closer together. {KICK}",
    )


def _place(from_rpm: float, to_rpm: float, from_kpa: float, to_kpa: float) -> str:
    return f"{from_rpm:,.0f} to {to_rpm:,.0f} rpm, {from_kpa:.0f} to {to_kpa:.0f} kPa"


def _idle_loaded(_: System, *, least_deg: float, most_deg: float, **place: float) -> Said:
    return (
        f"Idle with a load on or in gear: {_place(**place)}, {least_deg:.1f} to {most_deg:.1f} deg in the "
        "map.",
        "Never later than the idle block: it must hold against the load. If it stalls, raise it by 2 deg.",
    )


def _overrun(_: System, *, least_deg: float, most_deg: float, **place: float) -> Said:
    return (
        f"Overrun: {_place(**place)}, {least_deg:.1f} to {most_deg:.1f} deg in the map.",
        "The plan's values do no harm with the throttle shut. Late sparks there heat the exhaust and bang in "
        "it: leave them, or cut the fuel where the controller can.",
    )


def _soft_limit(_: System, *, rpm: float) -> Said:
    return (
        f"Soft limit: {rpm:,.0f} rpm.",
        "Take 10 deg off, or every second spark, for seconds only: late and unburned charge makes the "
        "exhaust glow.",
    )


def _hard_limit(_: System, *, rpm: float) -> Said:
    return (
        f"Hard limit: {rpm:,.0f} rpm.",
        "Cut the fuel where the controller can, else the spark, and try it once without load. It is no "
        "governor: an engine under load on a broken shaft outruns it.",
    )


WRITERS: dict[str, Writer] = {
    "idle-block.laid": _laid,
    "idle-block.off-the-map": _off_the_map,
    "idle-block.no-own-cell": _no_own_cell,
    "idle-block.set-by-hand": _set_by_hand,
    "cranking-row.set": _crank_set,
    "cranking-row.base-kicks": _base_kicks,
    "cranking-row.rotor-too-early": _rotor_too_early,
    "cranking-row.wrong-cylinder": _wrong_cylinder,
    "running.idle-loaded": _idle_loaded,
    "running.overrun": _overrun,
    "running.soft-limit": _soft_limit,
    "running.hard-limit": _hard_limit,
}
"""How idle, cranking and running are told."""
