"""The plan in sentences: each kind of finding and what to do about it, and how its parts are told."""

from __future__ import annotations

from collections.abc import Sequence
from math import isinf, isnan
from typing import Any

from sparkwright.plan.result import CEILING_WORDS, LEAST_MOVE_MM, WORST_FIRST, Hook, IdleReserve, OverCeiling
from sparkwright.units import System
from sparkwright.words.loads import load_text
from sparkwright.words.parts import Said, Writer, length, number_of_cells, torque

OVER_MEANS = {
    "knock": "there it can knock and break the engine",
    "reach": "there the rotor tip has left its post and the spark can go to the wrong cylinder",
    "limit": "that is more than job or controller allow",
}
"""What standing over a ceiling does."""
NO_BEST = "only knock, reach, limits and slopes hold the value: come to it from the late side"
NO_REASON = "no reason given"
LOAD_NONE = "Load no map before that is done."


def over_count(over: Sequence[OverCeiling]) -> str:
    """Count in a few words the cells over the worst ceiling that any stands over.

    Parameters
    ----------
    over : sequence of OverCeiling
        Cells that stand over a ceiling, the worst first.

    Examples
    --------
    >>> over_count([OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None)])
    '1 cell over knock'
    """
    worst = min((each.ceiling for each in over), key=WORST_FIRST.index)
    over_worst = f"over {CEILING_WORDS[worst]}"
    return number_of_cells(sum(each.ceiling == worst for each in over), over_worst, over_worst)


def _lower(system: System, all_over: int, cost: dict[str, Any]) -> str:
    """Say what to do about a danger: lower what was set by hand, and move the rotor where that helps."""
    them = "it" if all_over == 1 else "them"
    do = f"Set {them} lower before the engine is loaded." if all_over else LOAD_NONE
    return f"{do} {_free_the_plan(system, **cost)}" if cost else do


def _set_over(set_cells: int, ceiling: str, over_deg: float, rpm: float, kpa: float) -> str:
    """Say how many cells stand over a ceiling, and by how much and where the one that does the most."""
    stand = number_of_cells(set_cells, "set by hand stands", "set by hand stand")
    most = "the most " if set_cells > 1 else ""
    by = "where this fuel knocks at any advance," if isinf(over_deg) else f"{most}by {over_deg:.1f} deg"
    return f"{stand} over {CEILING_WORDS[ceiling]}, {by} at {rpm:,.0f} rpm and {load_text(kpa)} kPa"


def _set_by_hand(
    system: System,
    *,
    ceiling: str,
    set_cells: int,
    over_deg: float,
    rpm: float,
    kpa: float,
    reason: str | None,
    all_over: int,
    **cost: Any,
) -> Said:
    return (
        f"{_set_over(set_cells, ceiling, over_deg, rpm, kpa)}: {_reason(reason)}.",
        _lower(system, all_over, cost),
    )


def _stands(
    _: System,
    *,
    ceiling: str,
    set_cells: int,
    over_deg: float,
    rpm: float,
    kpa: float,
    reason: str | None,
) -> Said:
    return f"{_set_over(set_cells, ceiling, over_deg, rpm, kpa)}; {OVER_MEANS[ceiling]}.", ""


def _reason(reason: str | None) -> str:
    return (reason or NO_REASON).rstrip(".")


def _at_any_advance(system: System, *, kpa: float, rpm: float, all_over: int, **cost: Any) -> Said:
    return (
        f"At {kpa:.0f} kPa and {rpm:,.0f} rpm this fuel knocks at any advance; use a better fuel, less boost "
        "or cooler air.",
        _lower(system, all_over, cost),
    )


def _reach_holds(
    system: System, *, reach_deg: float, cells: int, most_wanted_deg: float, **rest: Any
) -> Said:
    return (
        f"The rotor runs out at {reach_deg:.0f} deg. Under power "
        f"{number_of_cells(cells, 'would', 'would')} take more, up to {most_wanted_deg:.0f} deg.",
        _free_the_plan(system, reach_deg=reach_deg, cells=cells, most_wanted_deg=most_wanted_deg, **rest),
    )


def _runs_out(system: System, *, reach_deg: float, most_wanted_deg: float, **rest: Any) -> Said:
    more_deg = most_wanted_deg - reach_deg
    return (
        f"The rotor runs out at {reach_deg:.0f} deg; this engine would still take {more_deg:.0f} more.",
        _free_the_plan(system, reach_deg=reach_deg, most_wanted_deg=most_wanted_deg, **rest),
    )


def _free_the_plan(
    system: System,
    *,
    cells: int,
    most_wanted_deg: float,
    reach_deg: float,
    most_torque_lost_percent: float,
    lost_at_rpm: float,
    lost_at_kpa: float,
    phase_move_distributor_deg: float,
    phase_move_mm: float,
    phase_move_tip_fraction: float,
    reach_when_phased_deg: float,
    leaves_when_phased_deg: float,
    cells_left_when_phased: int,
) -> str:
    """Say what would free the plan of the rotor's reach, and what it costs to accept it."""
    short_deg = most_wanted_deg - reach_when_phased_deg
    still = f", {short_deg:.0f} short of what is wanted" if short_deg >= 0.5 else ""
    move = (
        f"Move the rotor tip {length(phase_move_mm, system)} ahead in the direction of rotation "
        f"({phase_move_distributor_deg:.1f} distributor deg, "
        f"{phase_move_tip_fraction:.2f} of its width) and it reaches "
        f"{reach_when_phased_deg:.0f}{still}; or raise"
    )
    left = ""
    if cells_left_when_phased:
        left = (
            f" Moved so, the tip leaves its post below {leaves_when_phased_deg:.0f} deg, where "
            f"{number_of_cells(cells_left_when_phased, 'stands', 'stand')}: a spark there can go to "
            "the wrong cylinder."
        )
    if phase_move_mm < LEAST_MOVE_MM:
        left = ""
        move = "The tip stands as far ahead as base allows; fit a wider one, raise"
    return (
        f"{move} the base; or accept it: it costs at most {most_torque_lost_percent:.1f} % of "
        f"torque, at {lost_at_rpm:,.0f} rpm and {lost_at_kpa:.0f} kPa.{left}"
    )


def _left_late(
    system: System,
    *,
    cells: int,
    floor_deg: float,
    advance_deg: float,
    rpm: float,
    kpa: float,
    back_mm: float | None,
    back_distributor_deg: float | None,
) -> Said:
    do = "Fit a wider tip: moved, this one lacks reach at the other end."
    if back_mm is not None:
        do = (
            f"Move the rotor tip {length(back_mm, system)} back, against the direction of rotation "
            f"({back_distributor_deg:.1f} distributor deg), and plan again before any map is loaded."
        )
    return (
        f"{number_of_cells(cells, 'lies', 'lie')} below {floor_deg:.1f} deg, where the rotor has left "
        f"its post on the late side{_the_most(cells)} {advance_deg:g} deg at {rpm:,.0f} rpm and "
        f"{load_text(kpa)} kPa; a spark there can go to the wrong cylinder.",
        do,
    )


def _the_most(cells: int) -> str:
    return ":" if cells == 1 else ", the latest"


def _takes_no_less(
    _: System, *, cells: int, least_deg: float, over_deg: float, rpm: float, kpa: float
) -> Said:
    stands = "it stands" if cells == 1 else "they stand up to"
    return (
        f"{number_of_cells(cells, 'lies', 'lie')} below {least_deg:g} deg, the least this controller takes; "
        f"fired there {stands} {over_deg:.1f} deg over what the plan allows, at {rpm:,.0f} rpm "
        f"and {load_text(kpa)} kPa.",
        "Use a better fuel, less boost or cooler air, or a controller that takes less, and plan again before "
        "any map is loaded.",
    )


def _fits(_: System, *, reach_deg: float, spare_deg: float, held_by_knock: int, held_by_reach: int) -> Said:
    knocking = f"{number_of_cells(held_by_knock, 'is', 'are')} held by knock; prove"
    holds = f"{number_of_cells(held_by_reach, 'is', 'are')} held by reach, at no cost that can be measured"
    spare = holds if held_by_reach else f"with {spare_deg:.0f} deg to spare at full load"
    return (
        f"The rotor reaches {reach_deg:.0f} deg and the plan fits{';' if held_by_reach else ','} {spare}.",
        f"{knocking if held_by_knock else 'Prove'} base and reach with the light before load.",
    )


def _off_at_base(_: System, *, base_deg: float, least_deg: float, reach_deg: float) -> Said:
    return (
        f"The plan fits, but the engine cranks at base, {base_deg:g} deg, where the rotor has left its post: "
        f"it covers {least_deg:.0f} to {reach_deg:.0f} deg.",
        "Move the tip back, or raise base, until it covers both, and look at the check's line on cranking "
        "before the first start.",
    )


def _past_best(_: System, *, cells: int, past_deg: float, rpm: float, kpa: float) -> Said:
    return (
        f"{number_of_cells(cells, 'set by hand stands', 'set by hand stand')} past best, by up to "
        f"{past_deg:.1f} deg at {rpm:,.0f} rpm and {load_text(kpa)} kPa; "
        "more advance there only costs torque.",
        "",
    )


def _hand_off_the_map(_: System, *, rpm: float, kpa: float, advance_deg: float) -> Said:
    return (
        f"The value set by hand at {rpm:,.6g} rpm and {load_text(kpa)} kPa ({advance_deg:g} deg) is no "
        "cell of this map; the job keeps it, the map does not use it.",
        "",
    )


def _above_the_site(_: System, *, from_kpa: float, top_kpa: float) -> Said:
    return (
        f"Rows from {from_kpa:.0f} kPa lie above the {top_kpa:.0f} kPa that this site and boost can give.",
        "",
    )


def _misfires(_: System, *, cells: int) -> Said:
    return (
        f"{number_of_cells(cells, 'burns', 'burn')} too little of the charge to run (misfire); "
        f"best is not determined there, and {NO_BEST}.",
        "",
    )


def _beyond_the_tested(_: System, *, cells: int, last_deg: float) -> Said:
    return (
        f"{number_of_cells(cells, 'has', 'have')} best beyond {last_deg:g} deg, the last advance "
        f"tested; it is not determined there, and {NO_BEST}.",
        "",
    )


def _before_the_tested(_: System, *, cells: int, first_deg: float) -> Said:
    return (
        f"{number_of_cells(cells, 'has', 'have')} best at or before {first_deg:g} deg, the first "
        "advance tested.",
        "",
    )


def _slow(_: System, *, cells: int) -> Said:
    return (
        f"{number_of_cells(cells, 'burns', 'burn')} slowly: "
        "the charge is not all burned when the exhaust opens.",
        "",
    )


def _below_least_unmet(_: System, *, cells: int, least_deg: float) -> Said:
    return (
        f"{number_of_cells(cells, 'lies', 'lie')} below what controller or rotor allow, down to "
        f"{least_deg:.1f} deg, where a running engine does not come; nothing has to be done.",
        "",
    )


def _peg_off_the_map(
    _: System, *, rpm: float, kpa: float, reason: str, cell_rpm: float, cell_kpa: float
) -> Said:
    return (
        f"The peg at {rpm:,.0f} rpm and {kpa:.0f} kPa ({reason}) lies outside the map; "
        f"it was set at its nearest cell, {cell_rpm:,.0f} rpm and {cell_kpa:.0f} kPa.",
        "",
    )


def _peg(rpm: float, kpa: float, reason: str, advance_deg: float) -> str:
    return f"The peg of {advance_deg:g} deg at {rpm:,.0f} rpm and {kpa:.0f} kPa ({reason})"


def _peg_over_a_ceiling(_: System, *, ceiling_deg: float, **peg: Any) -> Said:
    return (
        f"{_peg(**peg)} stands above another ceiling, {ceiling_deg:.1f} deg; the plan keeps to the ceiling.",
        "",
    )


def _peg_not_reached(_: System, *, comes_out_deg: float, **peg: Any) -> Said:
    return f"{_peg(**peg)} is not reached; its cell comes out at {comes_out_deg:g} deg.", ""


def _fast_burn(_: System, *, shape: str, octane_numbers: float) -> Said:
    return (
        f"No knock limit of a {shape} head is firm here: the program asks for "
        f"some {octane_numbers:.0f} octane numbers less than such engines need, and keeps clear by "
        "that much. Come to the plan from the late side, and listen.",
        "",
    )


def _side_valve(_: System, *, shape: str, octane_numbers: float | None) -> Said:
    return (
        "Best and knock limit of a side-valve engine are not firm here: the program was held against one "
        "of 1923. Come to the plan from the late side, and listen.",
        "",
    )


def _formula_outside(_: System, *, cells: int) -> Said:
    return (
        f"{number_of_cells(cells, 'uses', 'use')} a formula outside the range it was measured in; "
        "the hook of a point names it.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "over.set-by-hand": _set_by_hand,
    "over.stands": _stands,
    "knock.at-any-advance": _at_any_advance,
    "reach.holds": _reach_holds,
    "reach.runs-out": _runs_out,
    "reach.left-late": _left_late,
    "controller.takes-no-less": _takes_no_less,
    "plan.fits": _fits,
    "reach.off-at-base": _off_at_base,
    "hand.past-best": _past_best,
    "hand.off-the-map": _hand_off_the_map,
    "rows.above-the-site": _above_the_site,
    "burn.misfires": _misfires,
    "burn.slow": _slow,
    "best.beyond-the-tested": _beyond_the_tested,
    "best.before-the-tested": _before_the_tested,
    "map.below-least-unmet": _below_least_unmet,
    "peg.off-the-map": _peg_off_the_map,
    "peg.over-a-ceiling": _peg_over_a_ceiling,
    "peg.not-reached": _peg_not_reached,
    "chamber.fast-burn": _fast_burn,
    "chamber.side-valve": _side_valve,
    "formula.outside-range": _formula_outside,
}
"""How each kind of finding of a plan is told."""


ABOUT = "about "
"""How `chance_words` begins where it tells a number."""


def chance_words(percent: float) -> str:
    """Say a chance of knock as a mechanic would.

    Parameters
    ----------
    percent : float
        The chance [%].

    Examples
    --------
    >>> chance_words(9.6), chance_words(0.02), chance_words(62.0), chance_words(float("nan"))
    ('about 1 in 10', 'next to none', 'more likely than not', 'not determined')
    """
    if isnan(percent):
        return "not determined"
    if percent < 0.1:
        return "next to none"
    if percent >= 55.0:
        return "more likely than not"
    if percent >= 45.0:
        return "as likely as not"
    one_in = 100.0 / percent
    step = 1 if one_in < 20 else 10 if one_in < 200 else 100
    return f"{ABOUT}1 in {step * round(one_in / step)}"


def idle_sentence(idle: IdleReserve) -> str:
    """Say how the idle is set, and what the reserve is worth.

    Parameters
    ----------
    idle : IdleReserve
        How far short of best the idle is set, and the torque it keeps.

    Examples
    --------
    >>> idle_sentence(IdleReserve(700.0, 38.0, 22.0, 6.0, 16.0, 2.1))
    'Idle at 700 rpm and 38 kPa: best 22.0, set 16.0 deg; the 6.0 deg of reserve hold 2.1 % of torque.'
    """
    if isnan(idle.best_deg):
        return (
            f"Idle at {idle.rpm:,.0f} rpm and {load_text(idle.kpa)} kPa: best and reserve are not "
            f"determined, set {idle.set_deg:.1f} deg."
        )
    where = (
        f"Idle at {idle.rpm:,.0f} rpm and {load_text(idle.kpa)} kPa: best {idle.best_deg:.1f}, "
        f"set {idle.set_deg:.1f}"
    )
    if idle.reserve_deg <= 0:
        return f"{where} deg; no reserve is left to steady it with."
    worth = f"{idle.authority_percent:.1f} % of torque"
    return f"{where} deg; the {idle.reserve_deg:.1f} deg of reserve hold {worth}."


def over_list(over: Sequence[OverCeiling], most: int) -> list[str]:
    """Say each of the cells that a person has set over a ceiling, up to a number of them.

    Parameters
    ----------
    over : sequence of OverCeiling
        Cells that stand over a ceiling, the worst first.
    most : int
        How many are said one by one.
    """
    more = len(over) - most
    return [over_sentence(each) for each in over[:most]] + (
        [f"{more} more stand in the output of --json."] if more > 0 else []
    )


def best_words(hook: Hook, system: System = "metric") -> str:
    """Say where best lies, or why it is not determined.

    Parameters
    ----------
    hook : Hook
        The hook of one speed and load.
    system : System, optional
        Units that the person reads.
    """
    if hook.burn_state == "misfire":
        return "best is not determined: too little of the charge burns to run (misfire)"
    if isnan(hook.best_deg):
        last_deg = hook.advance_deg[-1]
        return f"best is not determined: torque still rises at {last_deg:g} deg, the last advance tested"
    less = " or less" if hook.best_deg <= hook.advance_deg[0] else ""
    return f"best is {hook.best_deg:.1f} deg{less} ({torque(hook.best_torque_nm, system)})"


def over_words(each: OverCeiling) -> str:
    """Say by how much a cell stands over which ceiling.

    Parameters
    ----------
    each : OverCeiling
        A cell that stands over a ceiling.

    Examples
    --------
    >>> over_words(OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None))
    '2.5 over knock (28.5)'
    """
    if isinf(each.over_deg):
        return "where this fuel knocks at any advance"
    return f"{each.over_deg:.1f} over {CEILING_WORDS[each.ceiling]} ({each.ceiling_deg:.1f})"


def over_sentence(each: OverCeiling) -> str:
    """Say of one cell set by hand how far it stands over which ceiling, why, and who set it.

    Parameters
    ----------
    each : OverCeiling
        A cell that stands over a ceiling.

    Examples
    --------
    >>> over_sentence(OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, "A. Example", None))
    '2,400 rpm, 85 kPa: 31 deg, 2.5 over knock (28.5). No reason given. Set by A. Example.'
    """
    reason = _reason(each.reason)
    when = f" on {each.on}" if each.on else ""
    return (
        f"{each.rpm:,.0f} rpm, {load_text(each.kpa)} kPa: {each.set_deg:g} deg, {over_words(each)}. "
        f"{reason[0].upper()}{reason[1:]}. Set by {each.by or 'a person not named'}{when}."
    )
