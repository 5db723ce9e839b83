"""Why a cell has its value, in sentences."""

from __future__ import annotations

from math import isinf, isnan

from sparkwright.plan.result import CEILING_WORDS
from sparkwright.units import System
from sparkwright.words.loads import load_said
from sparkwright.words.parts import Said, Writer
from sparkwright.words.plan import OVER_MEANS, chance_words


def _by_hand(_: System) -> Said:
    return "A person set this value; the plan left it alone.", ""


def _reach_holds(_: System, *, reach_deg: float) -> Said:
    return f"Reach holds: beyond {reach_deg:.1f} deg the rotor tip leaves its post.", ""


def slope_words(from_rpm: float | None, from_load: str) -> str:
    """Say from where a slope holds a cell, leaving out the speed or load that it shares.

    Parameters
    ----------
    from_rpm : float or None
        Speed of the cell that holds [rpm]; None where it is the same.
    from_load : str
        Load of the cell that holds, in words; "" where it is the same.

    Examples
    --------
    >>> slope_words(None, "85 kPa"), slope_words(2400.0, "85 kPa")
    ('slope from 85 kPa', 'slope from 2,400 rpm and 85 kPa')
    """
    places = (f"{from_rpm:,.0f} rpm" if from_rpm is not None else "", from_load)
    return f"slope from {' and '.join(filter(None, places))}"


_HOLDS_THERE = {"reserve": "the idle reserve", "limit": "a limit or peg"}


def _slope_holds(
    _: System,
    *,
    from_rpm: float | None,
    from_kpa: float | None,
    held_there_by: str,
    load: float | None = None,
    load_term: str = "",
) -> Said:
    there = _HOLDS_THERE.get(held_there_by, held_there_by)
    from_load = "" if from_kpa is None else load_said(from_kpa, load, load_term)
    return f"A {slope_words(from_rpm, from_load)} holds; {there} holds the cell there.", ""


def _knock_holds(_: System, *, allowed_percent: float, margin_deg: float) -> Said:
    on_top = f", less {margin_deg:g} deg" if margin_deg else ""
    chance = chance_words(allowed_percent)
    return f"Knock holds: its ceiling is where knock has a chance of {chance}{on_top}.", ""


def _limit_holds(_: System) -> Said:
    return "A limit or peg holds: the job allows no more here.", ""


def _reserve_holds(_: System, *, reserve_deg: float) -> Said:
    return (
        f"The idle reserve holds: up to {reserve_deg:g} deg below best, so that timing can steady the idle.",
        "",
    )


def _best_holds(_: System) -> Said:
    return "Best holds: more advance would give no more torque.", ""


def _over(_: System, *, ceiling: str, ceiling_deg: float, over_deg: float) -> Said:
    if isinf(over_deg):
        return "This fuel knocks here at any advance.", ""
    return (
        f"It stands {over_deg:.1f} deg over {CEILING_WORDS[ceiling]} ({ceiling_deg:.1f}); "
        f"{OVER_MEANS[ceiling]}.",
        "",
    )


def _lowered(
    _: System, *, lowered_deg: float, slope_deg_per_500rpm: float, slope_deg_per_10kpa: float
) -> Said:
    return (
        f"It stands {lowered_deg:.1f} deg below the lowest of them, since the map may rise no faster than "
        f"{slope_deg_per_500rpm:g} deg in 500 rpm and {slope_deg_per_10kpa:g} deg in 10 kPa.",
        "",
    )


def _best_not_determined(_: System) -> Said:
    return "Best is not determined here.", ""


def _at_best(_: System) -> Said:
    return "That is best for torque.", ""


def _off_best(_: System, *, short_deg: float, lost_percent: float) -> Said:
    off = f"{abs(short_deg):.1f} deg {'short of' if short_deg > 0 else 'past'} best"
    if isnan(lost_percent):
        return f"{off}; what that costs is not determined here.", ""
    if lost_percent < 0.05:
        return f"{off} costs less than 0.1 % of torque here.", ""
    return f"{off} costs about {lost_percent:.1f} % of torque here.", ""


def _best_known_to(_: System, *, sigma_deg: float, cost_percent: float) -> Said:
    return (
        f"Best is known to {sigma_deg:.0f} deg; to be so far off costs {cost_percent:.1f} % of torque.",
        "",
    )


def _chance(_: System, *, percent: float) -> Said:
    return f"Chance of knock at this value: {chance_words(percent)}.", ""


def _misfires(_: System) -> Said:
    return "Too little of the charge burns here to run (misfire).", ""


def _burns_slowly(_: System) -> Said:
    return "It burns slowly here: not all of the charge before the exhaust opens.", ""


def _formula_outside_range(_: System) -> Said:
    return "A formula is used here outside the range it was measured in; its hook names it.", ""


def _not_met(_: System) -> Said:
    return "A running engine does not come here.", ""


WRITERS: dict[str, Writer] = {
    "cell.by-hand": _by_hand,
    "cell.reach-holds": _reach_holds,
    "cell.slope-holds": _slope_holds,
    "cell.knock-holds": _knock_holds,
    "cell.limit-holds": _limit_holds,
    "cell.reserve-holds": _reserve_holds,
    "cell.best-holds": _best_holds,
    "cell.over": _over,
    "cell.lowered": _lowered,
    "cell.best-not-determined": _best_not_determined,
    "cell.at-best": _at_best,
    "cell.off-best": _off_best,
    "cell.best-known-to": _best_known_to,
    "cell.chance": _chance,
    "cell.misfires": _misfires,
    "cell.burns-slowly": _burns_slowly,
    "cell.formula-outside-range": _formula_outside_range,
    "cell.not-met": _not_met,
}
"""How each kind of finding about a cell is told."""
