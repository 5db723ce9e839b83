"""What the numbers of the hardware check mean, in sentences: how it stands and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from sparkwright.check.result import (
    CapacitiveResult,
    CoilResult,
    HardwareResult,
    SparkTurn,
    State,
    Verdict,
)
from sparkwright.ignition.wiring import CheckedItem
from sparkwright.job import Job
from sparkwright.job.usual import USUAL, switched_by_points

ENOUGH_VOLTAGE = 1.5
"""Voltage there over voltage asked that we call enough: worn plugs, rotor and leads, and wet, ask up to half
as much again. Common practice, no source."""

CLOSE_DEG = 2.0
"""Reach left over below which we say so [crank deg]. Common practice, no source."""

_RANK: dict[State, int] = {"problem": 0, "look": 1, "good": 2}
_CAP = (
    "distributor.tip_radius",
    "distributor.tip_width",
    "distributor.post_radius",
    "distributor.post_width",
    "distributor.rotor_phase_deg",
)

_BATTERY_OFF = (
    "Key off and battery disconnected before a hand goes near cap, leads or coil: the voltage can kill."
)


def verdicts(job: Job, result: HardwareResult) -> tuple[Verdict, ...]:
    """Give the findings on every part, in the order in which to work.

    Parameters
    ----------
    job : Job
        The job.
    result : HardwareResult
        Its numbers; verdicts and headline in it are not looked at.

    Returns
    -------
    tuple of Verdict
        At least one for each of rotor, neighbours, coil, voltage, cranking and wiring.
    """
    return (
        *_advance_mechanism(job),
        _unless_assumed(_reach(result), result, *_CAP),
        Verdict("good", "late end", spark_turn_sentence(result.spark_turn), ""),
        *(_unless_assumed(each, result, *_CAP) for each in _neighbours(result)),
        *_coil(job, result),
        *_voltage(result),
        _unless_assumed(_cranking(result), result, "driver.cranking_sparks", *_CAP),
        *_order(result),
        _wiring(result),
    )


def headline(findings: tuple[Verdict, ...]) -> Verdict:
    """Give the finding that leads: the first of the worst, or one sentence for all when all is good."""
    worst = min(findings, key=lambda finding: _RANK[finding.state])
    if worst.state != "good":
        return worst
    said = "This ignition can deliver what the plan asks."
    return Verdict("good", "all", said, "Work through the wiring list before the first start.")


def not_looked_at(result: HardwareResult, keys: Iterable[str] = tuple(USUAL)) -> tuple[str, ...]:
    """Say what settles each of these values that is only assumed, each once."""
    assumed = {each.field for each in result.assumed}
    settled = (USUAL[key].settled_by for key in keys if key in assumed)
    return tuple(dict.fromkeys(each for each in settled if each))


def _unless_assumed(verdict: Verdict, result: HardwareResult, *fields: str) -> Verdict:
    """Take a good verdict back where it counts on assumed values, and say what to look at instead."""
    looks = not_looked_at(result, fields)
    if verdict.state != "good" or not looks:
        return verdict
    return replace(
        verdict,
        state="look",
        action=f"Nobody has proved it yet, for it counts on assumed values: {'; '.join(looks)}.",
    )


def _advance_mechanism(job: Job) -> Iterator[Verdict]:
    if job.distributor.advance == "free":
        yield Verdict(
            "problem",
            "rotor",
            "The mechanical advance is still free: it adds to the controller's advance and carries the rotor "
            "with it.",
            "Lock the mechanism first; every figure for the rotor here counts on that.",
        )
    if job.distributor.vacuum_advance == "connected":
        yield Verdict(
            "problem",
            "rotor",
            "The vacuum advance is still connected: it moves the timing behind the controller's back.",
            "Disconnect the canister, fix the plate, and seal the port on the manifold.",
        )


def _reach(result: HardwareResult) -> Verdict:
    rotor = result.rotor
    short_deg = rotor.most_deg - rotor.today.most_deg
    short_below_deg = rotor.today.least_deg - rotor.least_deg
    if short_deg <= 0.0 and short_below_deg <= 0.0:
        left_deg = -max(short_deg, short_below_deg)
        close = left_deg < max(CLOSE_DEG, rotor.reach_spread_deg)
        return Verdict(
            "look" if close else "good",
            "rotor",
            f"The rotor covers its post from {rotor.today.least_deg:.0f} to {rotor.today.most_deg:.0f} deg; "
            f"{rotor.least_deg:.0f} to {rotor.most_deg:.0f} are needed, {left_deg:.1f} deg are left over.",
            "Measure tip and post with a caliper before relying on it." if close else "",
        )
    if short_deg > 0.0:
        sentence = (
            f"The rotor runs out at {rotor.today.most_deg:.0f} deg, {rotor.today.above_base_deg:.0f} above "
            f"base: "
            f"the plan wants {short_deg:.0f} more."
        )
    else:
        least = (
            "where the engine is cranked"
            if rotor.least_deg >= rotor.cap.base_deg
            else "the least that the plan uses"
        )
        sentence = (
            f"At {rotor.least_deg:.1f} deg, {least}, the tip has already left its post on the late side: it "
            f"covers it only from {rotor.today.least_deg:.1f} deg, and {short_below_deg:.1f} deg are missing."
        )
    return Verdict("problem", "rotor", sentence, _what_to_move(result))


def _what_to_move(result: HardwareResult) -> str:
    advice = result.rotor.advice
    way = (
        "ahead, in the direction of rotation,"
        if advice.move_distributor_deg >= 0.0
        else "back, against rotation,"
    )
    move = (
        f"Move the tip {abs(advice.move_distributor_deg):.1f} distributor deg {way} "
        f"{abs(advice.move_mm):.1f} mm at the tip, {abs(advice.move_tip_fraction):.2f} of its width; "
        f"it then reaches {result.rotor.phased.least_deg:.0f} to {result.rotor.phased.most_deg:.0f} deg."
    )
    if result.rotor.phased.least_deg - result.rotor.least_deg >= 0.5:
        move += (
            f" The plan goes down to {result.rotor.least_deg:.0f}: there it has then left its post on the "
            "late side, and a spark can go to the wrong cylinder."
        )
    missing_deg = result.rotor.most_deg - result.rotor.phased.most_deg
    if missing_deg >= 0.5:
        move += (
            f" Even so {missing_deg:.0f} deg are missing at the top: fit a wider tip, or accept less advance."
        )
    else:
        move += " Or raise base, or accept less advance and what it costs."
    return f"{move} {_BATTERY_OFF}"


def spark_turn_sentence(turn: SparkTurn) -> str:
    """Say what a spark that goes on burning asks of the late end of the reach.

    Examples
    --------
    >>> print(spark_turn_sentence(SparkTurn(5000.0, 1.0, 15.0, 24.0)))
    At 5,000 rpm the rotor turns 15 distributor deg while a spark of 1.0 ms burns: one that starts below 24
    deg ends past the late end of its post, in a longer gap that may put it out early.
    """
    from_deg = turn.ends_over_post_from_deg
    which = "each" if from_deg is None else f"one that starts below {from_deg:.0f} deg"
    return (
        f"At {turn.rpm:,.0f} rpm the rotor turns {turn.turn_distributor_deg:.0f} distributor deg while a "
        f"spark of {turn.burning_ms:.1f} ms burns: {which} ends past the late end of its post, in a longer "
        "gap that may put it out early."
    )


def _neighbours(result: HardwareResult) -> Iterator[Verdict]:
    rotor = result.rotor
    if rotor.hardest is None or rotor.hardest_paths is None:
        return
    ways = rotor.hardest_paths
    which = (
        "the post that fires next" if rotor.hardest_neighbour == "next" else "the post that has just fired"
    )
    point = rotor.hardest
    where = f"At {point.rpm:,.0f} rpm, {point.kpa:.0f} kPa and {point.advance_deg:.0f} deg"
    asked = (
        f"{where} the right path asks {ways.right_kv:.0f} kV, the way over {which} between "
        f"{ways.wrong_low_kv:.0f} and {ways.wrong_high_kv:.0f} kV"
    )
    endings: dict[State, tuple[str, str]] = {
        "good": (f"{asked}: the spark keeps to its post.", ""),
        "look": (
            f"{asked}: the margin against firing the wrong cylinder is small.",
            "Keep the cap clean, dry and vented, the plug gap no wider than needed, and the tip over its "
            "post.",
        ),
        "problem": (
            f"{asked}: the spark can fire the wrong cylinder.",
            "Bring the tip back over its post or narrow the plug gap before running it; a stray spark breaks "
            "engines.",
        ),
    }
    yield Verdict(ways.state, "neighbours", *endings[ways.state])


def _coil(job: Job, result: HardwareResult) -> Iterator[Verdict]:
    if result.capacitive is not None:
        yield _discharge(result.capacitive)
    if result.coil is None:
        return
    charged_by = ("driver.controls_dwell", "driver.ballast")
    yield _unless_assumed(_full_energy(job, result.coil), result, *charged_by, "battery.running")
    yield _unless_assumed(_starting_energy(job, result.coil), result, *charged_by, "battery.cranking")
    yield from _heat("coil", float(np.max(result.coil.coil_w)), job.coil.max_mean_power_w)
    if not switched_by_points(job):
        yield from _heat("driver", float(np.max(result.coil.driver_w)), job.driver.max_mean_power_w)


def _discharge(capacitive: CapacitiveResult) -> Verdict:
    return Verdict(
        "good",
        "coil",
        f"Each discharge holds {capacitive.energy_mj:.0f} mJ and rises in {capacitive.rise_us:.0f} us; "
        f"there is no dwell to set. It draws {float(np.max(capacitive.mean_w)):.0f} W at the highest speed.",
        "",
    )


def _full_energy(job: Job, coil: CoilResult) -> Verdict:
    top_rpm = float(coil.rpm[-1])
    if coil.highest_full_energy_rpm is None:
        return Verdict(
            "problem",
            "coil",
            f"At {job.battery.running_v:g} V the coil never stores {coil.energy_wanted_mj:g} mJ: it takes "
            f"{coil.current_a:.1f} A, more than resistance and driver let flow.",
            "Ask for less energy, take out a ballast that isn't needed, or fit a coil of lower resistance.",
        )
    if coil.highest_full_energy_rpm < top_rpm:
        return Verdict(
            "look",
            "coil",
            f"The coil gives its {coil.energy_wanted_mj:g} mJ up to {coil.highest_full_energy_rpm:,.0f} rpm; "
            f"at {top_rpm:,.0f} rpm {float(coil.energy_mj[-1]):.0f} mJ are left.",
            "Accept it, ask for less energy, or fit a coil of lower inductance.",
        )
    return Verdict(
        "good",
        "coil",
        f"The coil gives its {coil.energy_wanted_mj:g} mJ up to {top_rpm:,.0f} rpm, with "
        f"{float(coil.duty_percent[-1]):.0f} % duty there.",
        "",
    )


def _starting_energy(job: Job, coil: CoilResult) -> Verdict:
    enough = coil.cranking_energy_mj >= 0.98 * coil.energy_wanted_mj
    return Verdict(
        "good" if enough else "look",
        "coil",
        f"On the starter, at {job.battery.cranking_v:g} V, the coil stores {coil.cranking_energy_mj:.0f} of "
        f"{coil.energy_wanted_mj:g} mJ.",
        ""
        if enough
        else "Start with a full battery; a start feed past the ballast helps where there is one.",
    )


def _heat(part: str, most_w: float, allowed_w: float | None) -> Iterator[Verdict]:
    if allowed_w is None:
        yield Verdict(
            "look",
            part,
            f"The {part} sheds up to {most_w:.0f} W; what it can stand isn't stated.",
            f"State {part}.max_mean_power from its data sheet, or feel for heat after a long run, key off.",
        )
        return
    over = most_w > allowed_w
    yield Verdict(
        "problem" if over else "good",
        part,
        f"The {part} sheds up to {most_w:.0f} W of the {allowed_w:g} W it may.",
        "Shorten the dwell, or mount it where it cools." if over else "",
    )


def _voltage(result: HardwareResult) -> Iterator[Verdict]:
    demand = result.demand
    if not demand.rpm.size:
        return
    worst = int(np.argmin(demand.available_kv / demand.asked_kv))
    asked_kv, there_kv = float(demand.asked_kv[worst]), float(demand.available_kv[worst])
    asked_low_kv, asked_high_kv = _band_kv(asked_kv, demand.asked_band_kv[worst])
    there_low_kv, there_high_kv = _band_kv(there_kv, demand.available_band_kv[worst])
    state: State = "good"
    action = ""
    if asked_low_kv > there_high_kv:
        state = "problem"
        action = (
            "Narrow the plug gap, give more dwell, or fit a stronger coil: as it is, this point misfires."
        )
    elif asked_kv > there_kv:
        state = "problem"
        action = (
            "It may misfire here. Narrow the plug gap, give more dwell, or fit a stronger coil; measuring "
            "what is assumed narrows the band."
        )
    elif asked_high_kv > there_low_kv:
        state = "look"
        action = "It may misfire here once plugs are worn or leads wet: keep both fresh, or narrow the gap."
    elif there_kv < ENOUGH_VOLTAGE * asked_kv:
        state = "look"
        action = (
            f"Worn and wet parts may ask up to {ENOUGH_VOLTAGE * asked_kv:.0f} kV here: keep plugs fresh and "
            "leads dry, or narrow the gap a little."
        )
    yield Verdict(
        state,
        "voltage",
        f"Hardest for the coil is {demand.rpm[worst]:,.0f} rpm at {demand.kpa[worst]:.0f} kPa: "
        f"{asked_kv:.1f} kV asked (it may be {asked_low_kv:.0f} to {asked_high_kv:.0f}), "
        f"{there_kv:.1f} kV there ({there_low_kv:.0f} to {there_high_kv:.0f}).",
        action,
    )


def _band_kv(middle_kv: float, half_kv: float) -> tuple[float, float]:
    return middle_kv - half_kv, middle_kv + half_kv


def _cranking(result: HardwareResult) -> Verdict:
    sparks = result.cranking
    last = sparks[-1]
    count = "One spark" if len(sparks) == 1 else f"{len(sparks)} sparks"
    said = f"{count} for each firing while cranking, the last at {_advance(last.advance_deg)}"
    if not last.right_cylinder:
        return Verdict(
            "problem",
            "cranking",
            f"{said}: by then another cylinder's post is nearer.",
            "Allow fewer sparks, or bring them closer together; a spark in the wrong cylinder kicks the "
            "starter.",
        )
    if all(spark.under_post for spark in sparks):
        return Verdict("good", "cranking", f"{said}, still under its post.", "")
    covered = sum(spark.under_post for spark in sparks)
    return Verdict(
        "look",
        "cranking",
        f"{said}: only {covered} fall{'s' if covered == 1 else ''} under the post.",
        "Allow that many, or move the tip so that the arc leaves later.",
    )


def _advance(advance_deg: float) -> str:
    side = "before" if advance_deg >= 0.0 else "after"
    return f"{abs(advance_deg):.1f} deg {side} top dead centre"


def _order(result: HardwareResult) -> Iterator[Verdict]:
    order = result.cap_order
    if order.agrees is False and order.stated is not None:
        stated = "-".join(map(str, order.stated))
        wanted = "-".join(map(str, order.cylinders))
        yield Verdict(
            "problem",
            "order",
            f"The leads in the cap stand {stated}; firing order and rotation ask {wanted}.",
            f"Change the leads over before any start: a wrong one burns back through the inlet. "
            f"{_BATTERY_OFF}",
        )


def _asks(item: CheckedItem) -> str:
    """Give what an item asks for as the end of a sentence."""
    asks = item.what.rstrip(".")
    return f"{asks[0].lower()}{asks[1:]}"


def _wiring(result: HardwareResult) -> Verdict:
    wrong = [item for item in result.wiring if item.state == "look"]
    unsaid = [item for item in result.wiring if item.state == "open"]
    if wrong:
        harmful = any(item.key == "capacitive-alone" for item in wrong)
        return Verdict(
            "problem" if harmful else "look",
            "wiring",
            f"{len(wrong)} of {len(result.wiring)} points of the wiring list are known to be otherwise; "
            f"the first asks: {_asks(wrong[0])}.",
            f"{wrong[0].why} {_BATTERY_OFF}",
        )
    if unsaid:
        return Verdict(
            "look",
            "wiring",
            f"{len(unsaid)} of {len(result.wiring)} points of the wiring list are still open; "
            f"the first asks: {_asks(unsaid[0])}.",
            f"See to each and say so in the job. The first is proved so: {unsaid[0].prove}",
        )
    return Verdict("good", "wiring", "Every point of the wiring list is done.", "")
