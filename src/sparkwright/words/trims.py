"""Trims, and the map as it is driven on another day, in sentences."""

from __future__ import annotations

from typing import Any

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, air_pressure, in_own_units, number_of_cells, own_unit

_WHAT = {
    "air temperature": ("temperature", "outside"),
    "engine temperature": ("temperature", "of coolant"),
    "air pressure": ("pressure", "of air"),
}

SHORT_NAMES = {
    "air temperature": "air",
    "engine temperature": "engine",
    "air pressure": "height",
    "fuel": "fuel",
}
"""Trims by one word, for the heads of narrow columns."""


def conditions_words(at: tuple[tuple[str, float], ...], system: System = "metric") -> str:
    """Say a set of conditions.

    Parameters
    ----------
    at : tuple of tuple of str and float
        Name and value of each condition.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> conditions_words((("air temperature", 40.0), ("air pressure", 75.0)))
    '40 degC outside, 75 kPa of air'
    >>> conditions_words((("air temperature", 40.0), ("air pressure", 75.0)), "inch")
    '104 degF outside, 22.1 inHg of air'
    """
    return ", ".join(_condition(name, value, system) for name, value in at) or "the job's own conditions"


def _condition(name: str, value: float, system: System) -> str:
    if name == "fuel":
        return f"{value:.4g} % of the second fuel"
    dimension, of = _WHAT[name]
    if dimension == "pressure" and system == "inch":
        return f"{air_pressure(value, system)} {of}"
    return f"{in_own_units(value, dimension, system):.4g} {own_unit(dimension, system)} {of}"


def _hold(
    _: System, *, places: int, corners: int, trims: int, most_off_deg: float, most_added_deg: float
) -> Said:
    return (
        f"Map and {trims} trims stand under every ceiling at {places} conditions, {corners} of them corners "
        f"of all that is stated; they take off up to {most_off_deg:g} deg and add up to {most_added_deg:g}.",
        "Type them in after the map, and see with the light that each moves the timing as it says.",
    )


def _over(system: System, *, places: int, over_deg: float, rpm: float, kpa: float, at: Any) -> Said:
    return (
        f"Map and trims stand over a ceiling at {places} of the stated conditions, the most by "
        f"{over_deg:.1f} deg at {rpm:,.0f} rpm and {kpa:.0f} kPa, {conditions_words(at, system)}.",
        "Don't load it under those conditions; state narrower ones, or plan for the worst of them.",
    )


def _knocks_anyway(system: System, *, cells: int, at: Any) -> Said:
    return (
        f"At {conditions_words(at, system)} {number_of_cells(cells, 'knocks', 'knock')} at any advance: no "
        "trim helps there.",
        "Keep out of that load then: less boost, a better fuel, or a cooler charge.",
    )


def _cant_follow(system: System, *, lost_deg: float, rpm: float, kpa: float, at: Any) -> Said:
    return (
        f"What the trims can't follow: at {conditions_words(at, system)} they leave up to {lost_deg:.1f} deg "
        f"unused, at {rpm:,.0f} rpm and {kpa:.0f} kPa, since one number serves all speeds of a load.",
        "",
    )


def _worst_day(
    _: System, *, untrimmed: tuple[str, ...], lower_deg: float, lost_percent: float, rpm: float, kpa: float
) -> Said:
    return (
        f"The controller doesn't trim by {' and '.join(untrimmed)}: the map is that for the worst of it, up "
        f"to {lower_deg:g} deg later, which costs up to {lost_percent:.1f} % of torque on an ordinary day, "
        f"at {rpm:,.0f} rpm and {kpa:.0f} kPa.",
        "",
    )


def _driven(
    system: System,
    *,
    at: Any,
    wrong_ron: float | None,
    trimmed: bool,
    chance_percent: float,
    allowed_percent: float,
    rpm: float,
    kpa: float,
) -> str:
    fuel = "" if wrong_ron is None else f", {wrong_ron:g} RON in the tank by mistake"
    with_trims = "with its trims" if trimmed else "without trims"
    return (
        f"At {conditions_words(at, system)}{fuel}, {with_trims}: chance of knock up to "
        f"{chance_percent:.1f} % where {allowed_percent:g} % is allowed, at {rpm:,.0f} rpm and {kpa:.0f} kPa"
    )


def _driven_over(system: System, *, cells: int, **rest: Any) -> Said:
    return (
        f"{_driven(system, **rest)}; {number_of_cells(cells, 'has', 'have')} more than is allowed.",
        "Don't load the engine so: trims, a later map or the right fuel first.",
    )


def _driven_holds(system: System, *, cells: int, **rest: Any) -> Said:
    return f"{_driven(system, **rest)}; no cell has more than is allowed.", ""


WRITERS: dict[str, Writer] = {
    "trims.hold": _hold,
    "trims.over-a-ceiling": _over,
    "trims.knocks-anyway": _knocks_anyway,
    "trims.cant-follow": _cant_follow,
    "trims.worst-day": _worst_day,
    "driven.over": _driven_over,
    "driven.holds": _driven_holds,
}
"""How trims are told."""
