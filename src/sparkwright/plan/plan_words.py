"""What a plan says: its headline and action, what must be seen, and what is worth a look."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf, isnan

import numpy as np

from sparkwright.check.doubts import cam_doubts
from sparkwright.cycle import knock
from sparkwright.ignition.rotor import Reach
from sparkwright.job import HandCell, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import WORST_FIRST, Hook, IdleReserve, Line, MapCells, OverCeiling, ReachCost

LEAST_MOVE_MM = 0.1
"""Smallest move of a rotor tip worth asking for [mm]; a choice."""

CEILING_WORDS = {"knock": "knock", "reach": "reach", "hand": "a limit or peg"}
OVER_MEANS = {
    "knock": "there it can knock and break the engine",
    "reach": "there the rotor tip has left its post and the spark can go to the wrong cylinder",
    "hand": "that is more than job or controller allow",
}
"""What standing over a ceiling does."""
NO_BEST = "only knock, reach, limits and slopes hold the value: come to it from the late side"
NO_REASON = "no reason given"
SEE_ABOVE = "See the sentence above before any map is loaded."


def problems(
    job: Job, cells: MapCells, cost: ReachCost | None, over: Sequence[OverCeiling]
) -> tuple[str, ...]:
    """Say what the person must see before the map runs an engine."""
    met, ceilings, value = cells.met, cells.ceilings, cells.spark_map.advance_deg
    found = [*dangers(cells, over)]
    if cost is not None:
        found.append(
            f"The rotor runs out at {cost.reach_deg:.0f} deg. Under power "
            f"{number_of_cells(cost.cells, 'would', 'would')} take more, "
            f"up to {cost.most_wanted_deg:.0f} deg."
        )
    under = (value < ceilings.floor_deg) & met
    if under.any():
        found.append(
            f"{number_of_cells(int(under.sum()), 'lies', 'lie')} below {ceilings.floor_deg[0, 0]:.1f} deg, "
            "where the rotor has left its post on the late side; a spark there can go to the wrong cylinder."
        )
    found += _below_controller(job.controller.min_deg, value[met])
    return tuple(found)


def dangers(cells: MapCells, over: Sequence[OverCeiling]) -> tuple[str, ...]:
    """Say what comes before all else: cells set over a ceiling, and a fuel that knocks at any advance."""
    set_over = [(worst.ceiling, f"{said}: {_reason(worst)}.") for said, worst in _over_by_ceiling(over)]
    found = [said for ceiling, said in set_over if ceiling == "knock"]
    hopeless = np.isneginf(cells.ceilings.knock_deg) & cells.met
    if hopeless.any():
        i, j = np.argwhere(hopeless)[0]
        found.append(
            f"At {cells.spark_map.kpa[i]:.0f} kPa and {cells.spark_map.rpm[j]:,.0f} rpm this fuel knocks at "
            "any advance; use a better fuel, less boost or cooler air."
        )
    return (*found, *(said for ceiling, said in set_over if ceiling != "knock"))


def standing_in_words(cells: MapCells, over: Sequence[OverCeiling]) -> tuple[str, ...]:
    """Say of cells set by hand over which ceiling they stand, by how much, where, and what that does.

    Past best come only cells that stand over nothing else.
    """
    found = [f"{said}; {OVER_MEANS[worst.ceiling]}." for said, worst in _over_by_ceiling(over)]
    return (*found, *_set_past_best(cells))


def over_count(over: Sequence[OverCeiling]) -> str:
    """Count in a few words the cells over the worst ceiling that any stands over.

    Examples
    --------
    >>> over_count([OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None)])
    '1 cell over knock'
    """
    worst = min((each.ceiling for each in over), key=WORST_FIRST.index)
    over_worst = f"over {CEILING_WORDS[worst]}"
    return number_of_cells(sum(each.ceiling == worst for each in over), over_worst, over_worst)


def _over_by_ceiling(over: Sequence[OverCeiling]) -> Iterator[tuple[str, OverCeiling]]:
    """Give for each ceiling, the worst first, how many cells stand over it and the one that does the most."""
    for name in WORST_FIRST:
        those = [each for each in over if each.ceiling == name]
        if those:
            worst = max(those, key=lambda each: each.over_deg)
            stand = number_of_cells(len(those), "set by hand stands", "set by hand stand")
            most = "the most " if len(those) > 1 else ""
            by = (
                "where this fuel knocks at any advance,"
                if isinf(worst.over_deg)
                else f"{most}by {worst.over_deg:.1f} deg"
            )
            yield (
                f"{stand} over {CEILING_WORDS[name]}, {by} at {worst.rpm:,.0f} rpm and {worst.kpa:g} kPa",
                worst,
            )


def _reason(each: OverCeiling) -> str:
    return (each.reason or NO_REASON).rstrip(".")


def _below_controller(least_deg: float, value_deg: FloatArray) -> tuple[str, ...]:
    below = value_deg < least_deg
    if not below.any():
        return ()
    count = number_of_cells(int(below.sum()), "lies", "lie")
    return (
        f"{count} below {least_deg:g} deg, the least this controller takes; fired there "
        f"they stand up to {least_deg - value_deg.min():.1f} deg over what they may have.",
    )


def number_of_cells(count: int, one: str, many: str) -> str:
    """Count cells with their verb: "1 cell lies", "3 cells lie"."""
    return f"{count} cell {one}" if count == 1 else f"{count} cells {many}"


def headline(
    cells: MapCells,
    over: Sequence[OverCeiling],
    cost: ReachCost | None,
    reach: Reach,
    problems: tuple[str, ...],
    full: Line,
) -> tuple[str, str]:
    """Say in one sentence how things stand, and in one line what to do."""
    first = dangers(cells, over)
    if first:
        them = "it" if len({(each.rpm, each.kpa) for each in over}) == 1 else "them"
        do = f"Set {them} lower before the engine is loaded." if over else SEE_ABOVE
        return first[0], do if cost is None else f"{do} {_reach_words(cost)[1]}"
    if cost is not None:
        return _reach_words(cost)
    if problems:
        return problems[0], SEE_ABOVE
    knocking = sum(row.count("knock") for row in cells.held_by)
    spare = reach.most_deg - float(np.max(full.plan_deg))
    return (
        f"The rotor reaches {reach.most_deg:.0f} deg and the plan fits, "
        f"with {spare:.0f} deg to spare at full load.",
        f"{number_of_cells(knocking, 'is', 'are')} held by knock; "
        "prove base and reach with the light before load."
        if knocking
        else "Prove base and reach with the light before load.",
    )


def _reach_words(cost: ReachCost) -> tuple[str, str]:
    """Say where the rotor runs out, and what would free the plan."""
    more = cost.most_wanted_deg - cost.reach_deg
    short = cost.most_wanted_deg - cost.reach_when_phased_deg
    still = f", {short:.0f} short of what is wanted" if short >= 0.5 else ""
    move = (
        f"Move the rotor tip {cost.phase_move_mm:.1f} mm ahead in the direction of rotation "
        f"({cost.phase_move_distributor_deg:.1f} distributor deg, "
        f"{cost.phase_move_tip_fraction:.2f} of its width) and it reaches "
        f"{cost.reach_when_phased_deg:.0f}{still}; or raise"
    )
    left = ""
    if cost.cells_left_when_phased:
        left = (
            f" Moved so, the tip leaves its post below {cost.leaves_when_phased_deg:.0f} deg, where "
            f"{number_of_cells(cost.cells_left_when_phased, 'stands', 'stand')}: a spark there can go to "
            "the wrong cylinder."
        )
    if cost.phase_move_mm < LEAST_MOVE_MM:
        left = ""
        move = "The tip stands as far ahead as base allows; fit a wider one, raise"
    return (
        f"The rotor runs out at {cost.reach_deg:.0f} deg; this engine would still take {more:.0f} more.",
        f"{move} the base; or accept it: it costs at most {cost.most_torque_lost_percent:.1f} % of "
        f"torque, at {cost.lost_at_rpm:,.0f} rpm and {cost.lost_at_kpa:.0f} kPa.{left}",
    )


def warnings(job: Job, physics: Physics, cells: MapCells, off_the_map: Sequence[HandCell]) -> tuple[str, ...]:
    """Say what is worth a look but keeps nobody from going on."""
    ceilings, value, met = cells.ceilings, cells.spark_map.advance_deg, cells.met
    kpa = cells.spark_map.kpa
    found = [
        *(each.sentence for each in cam_doubts(job)),
        *_set_past_best(cells),
        *_set_off_the_map(off_the_map),
    ]
    beyond = kpa[kpa > physics.top_kpa + 0.5]
    if beyond.size:
        found.append(
            f"Rows from {beyond[0]:.0f} kPa lie above the {physics.top_kpa:.0f} kPa "
            "that this site and boost can give."
        )
    states = [state for row in cells.burn_state for state in row]
    bad = {state: states.count(state) for state in ("slow burn", "misfire")}
    if bad["misfire"]:
        found.append(
            f"{number_of_cells(bad['misfire'], 'burns', 'burn')} too little of the charge to run (misfire); "
            f"best is not determined there, and {NO_BEST}."
        )
    found += _best_outside_the_tested(cells)
    if bad["slow burn"]:
        found.append(
            f"{number_of_cells(bad['slow burn'], 'burns', 'burn')} slowly: "
            "the charge is not all burned when the exhaust opens."
        )
    unmet = value[~met & ((value < job.controller.min_deg) | (value < ceilings.floor_deg))]
    if unmet.size:
        found.append(
            "Below what controller or rotor allow, in cells that a running engine does not meet: "
            f"{unmet.size}, down to {unmet.min():.1f} deg. Keep the engine out of them."
        )
    found += _pegs(job, cells)
    found += _chamber_doubt(physics)
    found += knock.octane_outside_range(physics.fuel.octane)
    outside = int(cells.outside_range.sum())
    if outside:
        found.append(
            f"{number_of_cells(outside, 'uses', 'use')} a formula outside the range it was measured in; "
            "the hook of a point names it."
        )
    return tuple(found)


def _chamber_doubt(physics: Physics) -> list[str]:
    """Say where the knock limit of a kind of chamber is not firm."""
    doubt = physics.engine.chamber.kind.limit_doubt
    if doubt is None:
        return []
    if doubt.kind == "fast-burn":
        return [
            f"No knock limit of a {physics.engine.chamber.shape} head is firm here: the program asks for "
            f"some {doubt.octane_numbers:.0f} octane numbers less than such engines need, and keeps clear by "
            "that much. Come to the plan from the late side, and listen."
        ]
    return [
        "Best and knock limit of a side-valve engine are not firm here: the program was held against one "
        "of 1923. Come to the plan from the late side, and listen."
    ]


ABOUT = "about "
"""How `chance_words` begins where it tells a number."""


def chance_words(percent: float) -> str:
    """Say a chance of knock as a mechanic would.

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


def _pegs(job: Job, cells: MapCells) -> list[str]:
    """Say which peg lies off the map, above a ceiling, or is not reached."""
    ceilings, value = cells.ceilings, cells.spark_map.advance_deg
    rpm, kpa = cells.spark_map.rpm, cells.spark_map.kpa
    found = []
    for peg in job.pegs:
        i, j = int(np.argmin(np.abs(kpa - peg.kpa))), int(np.argmin(np.abs(rpm - peg.rpm)))
        if not (rpm[0] <= peg.rpm <= rpm[-1] and kpa[0] <= peg.kpa <= kpa[-1]):
            found.append(
                f"The peg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa ({peg.reason}) lies outside the map; "
                f"it was set at its nearest cell, {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
            )
        latest_deg = FIRST_DEG - job.limits.knock_margin_deg
        limit = max(float(np.fmin(ceilings.reach_deg[i, j], ceilings.knock_deg[i, j])), latest_deg)
        if peg.advance_deg > limit:
            found.append(
                f"The peg of {peg.advance_deg:g} deg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa "
                f"({peg.reason}) stands above another ceiling, {limit:.1f} deg; "
                "the plan keeps to the ceiling."
            )
        elif not cells.by_hand[i, j] and value[i, j] < peg.advance_deg - job.controller.step_deg:
            found.append(
                f"The peg of {peg.advance_deg:g} deg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa "
                f"({peg.reason}) is not reached; its cell comes out at {value[i, j]:g} deg."
            )
    return found


def idle_sentence(idle: IdleReserve) -> str:
    """Say how the idle is set, and what the reserve is worth.

    Examples
    --------
    >>> idle_sentence(IdleReserve(700.0, 38.0, 22.0, 6.0, 16.0, 2.1))
    'Idle at 700 rpm and 38 kPa: best 22.0, set 16.0 deg; the 6.0 deg of reserve hold 2.1 % of torque.'
    """
    if isnan(idle.best_deg):
        return (
            f"Idle at {idle.rpm:,.0f} rpm and {idle.kpa:g} kPa: best and reserve are not determined, "
            f"set {idle.set_deg:.1f} deg."
        )
    where = (
        f"Idle at {idle.rpm:,.0f} rpm and {idle.kpa:g} kPa: best {idle.best_deg:.1f}, set {idle.set_deg:.1f}"
    )
    if idle.reserve_deg <= 0:
        return f"{where} deg; no reserve is left to steady it with."
    worth = f"{idle.authority_percent:.1f} % of torque"
    return f"{where} deg; the {idle.reserve_deg:.1f} deg of reserve hold {worth}."


def over_list(over: Sequence[OverCeiling], most: int) -> list[str]:
    """Say each of the cells that a person has set over a ceiling, up to a number of them."""
    more = len(over) - most
    return [over_sentence(each) for each in over[:most]] + (
        [f"{more} more stand in the output of --json."] if more > 0 else []
    )


def best_words(hook: Hook) -> str:
    """Say where best lies, or why it is not determined."""
    if hook.burn_state == "misfire":
        return "best is not determined: too little of the charge burns to run (misfire)"
    if np.isnan(hook.best_deg):
        last_deg = hook.advance_deg[-1]
        return f"best is not determined: torque still rises at {last_deg:g} deg, the last advance tested"
    less = " or less" if hook.best_deg <= hook.advance_deg[0] else ""
    return f"best is {hook.best_deg:.1f} deg{less} ({hook.best_torque_nm:.0f} N m)"


def _best_outside_the_tested(cells: MapCells) -> list[str]:
    first_deg, last_deg = FIRST_DEG, LAST_DEG
    misfire = np.array(cells.burn_state) == "misfire"
    beyond = int((np.isnan(cells.ceilings.best_deg) & ~misfire).sum())
    before = int((cells.ceilings.best_deg <= first_deg).sum())
    found = []
    if beyond:
        found.append(
            f"{number_of_cells(beyond, 'has', 'have')} best beyond {last_deg:g} deg, the last advance "
            f"tested; it is not determined there, and {NO_BEST}."
        )
    if before:
        found.append(
            f"{number_of_cells(before, 'has', 'have')} best at or before {first_deg:g} deg, the first "
            "advance tested."
        )
    return found


def over_words(each: OverCeiling) -> str:
    """Say by how much a cell stands over which ceiling.

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

    Examples
    --------
    >>> over_sentence(OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, "A. Example", None))
    '2,400 rpm, 85 kPa: 31 deg, 2.5 over knock (28.5). No reason given. Set by A. Example.'
    """
    reason = _reason(each)
    when = f" on {each.on}" if each.on else ""
    return (
        f"{each.rpm:,.0f} rpm, {each.kpa:g} kPa: {each.set_deg:g} deg, {over_words(each)}. "
        f"{reason[0].upper()}{reason[1:]}. Set by {each.by or 'a person not named'}{when}."
    )


def _set_past_best(cells: MapCells) -> list[str]:
    only_best = cells.by_hand & ~cells.over_ceiling
    past = np.where(only_best, cells.spark_map.advance_deg - cells.ceilings.best_deg, np.nan)
    past = np.nan_to_num(past, nan=0.0)
    late = past > TELLABLE_DEG
    if not late.any():
        return []
    i, j = np.unravel_index(int(np.argmax(past)), past.shape)
    return [
        f"{number_of_cells(int(late.sum()), 'set by hand stands', 'set by hand stand')} past best, by up to "
        f"{past[i, j]:.1f} deg at {cells.spark_map.rpm[j]:,.0f} rpm and {cells.spark_map.kpa[i]:g} kPa; "
        "more advance there only costs torque."
    ]


def _set_off_the_map(off_the_map: Sequence[HandCell]) -> list[str]:
    return [
        f"The value set by hand at {cell.rpm:,.6g} rpm and {cell.kpa:g} kPa ({cell.advance_deg:g} deg) is no "
        "cell of this map; the job keeps it, the map does not use it."
        for cell in off_the_map
    ]
