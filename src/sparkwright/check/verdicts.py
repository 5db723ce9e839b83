"""What the numbers of the hardware check mean: findings on every part, and how each stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from sparkwright.check.result import CapacitiveResult, CoilResult, HardwareResult, SparkTurn
from sparkwright.findings import Finding, State, Value, worst
from sparkwright.ignition.rotor import LEAST_REACH_DEG
from sparkwright.job import Job
from sparkwright.job.usual import USUAL, switched_by_points

ENOUGH_VOLTAGE = 1.5
"""Voltage there over voltage asked that we call enough: worn plugs, rotor and leads, and wet, ask up to half
as much again. Common practice, no source."""

CLOSE_DEG = 2.0
"""Reach left over below which we say so [crank deg]. Common practice, no source."""

_CAP = (
    "distributor.tip_radius",
    "distributor.tip_width",
    "distributor.post_radius",
    "distributor.post_width",
    "distributor.rotor_phase_deg",
)


def verdicts(job: Job, result: HardwareResult) -> tuple[Finding, ...]:
    """Give the findings on every part, in the order in which to work.

    Parameters
    ----------
    job : Job
        The job.
    result : HardwareResult
        Its numbers; the findings in it are not looked at.

    Returns
    -------
    tuple of Finding
        At least one for each of rotor, neighbours, coil, voltage, cranking and wiring.
    """
    return (
        *_advance_mechanism(job),
        _unless_assumed(_reach(result), result, *_CAP),
        _late_end(result.spark_turn),
        *(_unless_assumed(each, result, *_CAP) for each in _neighbours(result)),
        *_coil(job, result),
        *_voltage(result),
        _unless_assumed(_cranking(result), result, "driver.cranking_sparks", *_CAP),
        *_order(result),
        _wiring(result),
    )


def headline(findings: tuple[Finding, ...]) -> Finding:
    """Give the finding that leads: the first of the worst, or one for all when all is good.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    """
    first = worst(findings)
    return first if first.state != "good" else Finding("ignition.delivers", "good")


def not_looked_at(result: HardwareResult, keys: Iterable[str] = tuple(USUAL)) -> tuple[str, ...]:
    """Give those of these facts that are only assumed and that a look would settle, in their order.

    Parameters
    ----------
    result : HardwareResult
        The check.
    keys : iterable of str
        Keys of the job.
    """
    assumed = {each.field for each in result.assumed}
    return tuple(key for key in keys if key in assumed and USUAL[key].settled_by)


def _unless_assumed(finding: Finding, result: HardwareResult, *fields: str) -> Finding:
    """Take a good finding back where it counts on assumed facts, and note which."""
    assumed = not_looked_at(result, fields)
    if finding.state != "good" or not assumed:
        return finding
    return replace(finding, state="look", numbers={**finding.numbers, "assumed": assumed})


def _advance_mechanism(job: Job) -> Iterator[Finding]:
    if job.distributor.advance == "free":
        yield Finding("rotor.advance-free", "problem")
    if job.distributor.advance == "not lockable":
        yield Finding("rotor.not-lockable", "problem")
    if job.distributor.module_inside == "own dwell":
        yield Finding("rotor.module-times-itself", "problem")
    if job.distributor.vacuum_advance == "connected":
        yield Finding("rotor.vacuum-connected", "problem")


def _reach(result: HardwareResult) -> Finding:
    rotor = result.rotor
    short_deg = rotor.most_deg - rotor.today.most_deg
    short_below_deg = rotor.today.least_deg - rotor.least_deg
    if max(short_deg, short_below_deg) < LEAST_REACH_DEG:
        left_deg = -max(short_deg, short_below_deg)
        close = left_deg < max(CLOSE_DEG, rotor.reach_spread_deg)
        return Finding(
            "rotor.hardly-covers" if close else "rotor.covers",
            "look" if close else "good",
            {
                "covers_from_deg": rotor.today.least_deg,
                "covers_to_deg": rotor.today.most_deg,
                "least_needed_deg": rotor.least_deg,
                "most_needed_deg": rotor.most_deg,
                "left_deg": left_deg,
            },
        )
    if short_deg >= LEAST_REACH_DEG:
        return Finding(
            "rotor.runs-out",
            "problem",
            {
                "reach_deg": rotor.today.most_deg,
                "above_base_deg": rotor.today.above_base_deg,
                "missing_deg": short_deg,
                **_what_to_move(result),
            },
        )
    return Finding(
        "rotor.leaves-late",
        "problem",
        {
            "cranked_there": rotor.least_deg >= rotor.cap.base_deg,
            "covers_from_deg": rotor.today.least_deg,
            "missing_deg": short_below_deg,
            **_what_to_move(result),
        },
    )


def _what_to_move(result: HardwareResult) -> Mapping[str, Value]:
    rotor = result.rotor
    return {
        "least_needed_deg": rotor.least_deg,
        "most_needed_deg": rotor.most_deg,
        "move_distributor_deg": rotor.advice.move_distributor_deg,
        "move_mm": rotor.advice.move_mm,
        "move_tip_fraction": rotor.advice.move_tip_fraction,
        "phased_from_deg": rotor.phased.least_deg,
        "phased_to_deg": rotor.phased.most_deg,
    }


def _late_end(turn: SparkTurn) -> Finding:
    """Give what a spark that goes on burning asks of the late end of the reach."""
    return Finding(
        "late-end.turns-on",
        "good",
        {
            "rpm": turn.rpm,
            "burning_ms": turn.burning_ms,
            "turn_distributor_deg": turn.turn_distributor_deg,
            "ends_over_post_from_deg": turn.ends_over_post_from_deg,
        },
    )


_NEIGHBOURS = {"good": "neighbours.kept", "look": "neighbours.close", "problem": "neighbours.crossed"}


def _neighbours(result: HardwareResult) -> Iterator[Finding]:
    rotor = result.rotor
    if rotor.hardest is None or rotor.hardest_paths is None:
        return
    ways, point = rotor.hardest_paths, rotor.hardest
    yield Finding(
        _NEIGHBOURS[ways.state],
        ways.state,
        {
            "neighbour": rotor.hardest_neighbour,
            "rpm": point.rpm,
            "kpa": point.kpa,
            "advance_deg": point.advance_deg,
            "right_kv": ways.right_kv,
            "wrong_low_kv": ways.wrong_low_kv,
            "wrong_high_kv": ways.wrong_high_kv,
        },
    )


def _coil(job: Job, result: HardwareResult) -> Iterator[Finding]:
    if result.capacitive is not None:
        yield _discharge(result.capacitive)
    if result.coil is None:
        return
    charged_by = ("driver.controls_dwell", "driver.ballast")
    yield _unless_assumed(_full_energy(job, result.coil), result, *charged_by, "battery.running")
    yield _unless_assumed(_starting_energy(job, result.coil), result, *charged_by, "battery.cranking")
    yield _heat("coil", float(np.max(result.coil.coil_w)), job.coil.max_mean_power_w)
    if not switched_by_points(job):
        yield _heat("driver", float(np.max(result.coil.driver_w)), job.driver.max_mean_power_w)


def _discharge(capacitive: CapacitiveResult) -> Finding:
    return Finding(
        "coil.discharge",
        "good",
        {
            "energy_mj": capacitive.energy_mj,
            "rise_us": capacitive.rise_us,
            "most_w": float(np.max(capacitive.mean_w)),
        },
    )


def _full_energy(job: Job, coil: CoilResult) -> Finding:
    top_rpm = float(coil.rpm[-1])
    wanted: dict[str, Value] = {"energy_wanted_mj": coil.energy_wanted_mj}
    if coil.highest_full_energy_rpm is None:
        never: dict[str, Value] = {"running_v": job.battery.running_v, "current_a": coil.current_a}
        return Finding("coil.never-full", "problem", wanted | never)
    if coil.highest_full_energy_rpm < top_rpm:
        return Finding(
            "coil.full-up-to",
            "look",
            {
                **wanted,
                "highest_full_energy_rpm": coil.highest_full_energy_rpm,
                "top_rpm": top_rpm,
                "left_mj": float(coil.energy_mj[-1]),
            },
        )
    return Finding(
        "coil.full",
        "good",
        {**wanted, "top_rpm": top_rpm, "duty_percent": float(coil.duty_percent[-1])},
    )


def _starting_energy(job: Job, coil: CoilResult) -> Finding:
    enough = coil.cranking_energy_mj >= 0.98 * coil.energy_wanted_mj
    return Finding(
        "coil.starts" if enough else "coil.starts-weakly",
        "good" if enough else "look",
        {
            "cranking_v": job.battery.cranking_v,
            "stored_mj": coil.cranking_energy_mj,
            "energy_wanted_mj": coil.energy_wanted_mj,
        },
    )


def _heat(part: str, most_w: float, allowed_w: float | None) -> Finding:
    if allowed_w is None:
        return Finding(f"{part}.heat-not-stated", "look", {"most_w": most_w})
    over = most_w > allowed_w
    return Finding(
        f"{part}.too-hot" if over else f"{part}.cool-enough",
        "problem" if over else "good",
        {"most_w": most_w, "allowed_w": allowed_w},
    )


def _voltage(result: HardwareResult) -> Iterator[Finding]:
    demand = result.demand
    if not demand.rpm.size:
        return
    hardest = int(np.argmin(demand.available_kv / demand.asked_kv))
    asked_kv, there_kv = float(demand.asked_kv[hardest]), float(demand.available_kv[hardest])
    asked_low_kv, asked_high_kv = _band_kv(asked_kv, float(demand.asked_band_kv[hardest]))
    there_low_kv, there_high_kv = _band_kv(there_kv, float(demand.available_band_kv[hardest]))
    kind, state = _voltage_stands(
        asked_kv, (asked_low_kv, asked_high_kv), there_kv, (there_low_kv, there_high_kv)
    )
    yield Finding(
        kind,
        state,
        {
            "rpm": float(demand.rpm[hardest]),
            "kpa": float(demand.kpa[hardest]),
            "asked_kv": asked_kv,
            "asked_low_kv": asked_low_kv,
            "asked_high_kv": asked_high_kv,
            "there_kv": there_kv,
            "there_low_kv": there_low_kv,
            "there_high_kv": there_high_kv,
            "worn_kv": ENOUGH_VOLTAGE * asked_kv,
        },
    )


def _voltage_stands(
    asked_kv: float, asked_band_kv: tuple[float, float], there_kv: float, there_band_kv: tuple[float, float]
) -> tuple[str, State]:
    if asked_band_kv[0] > there_band_kv[1]:
        return "voltage.misfires", "problem"
    if asked_kv > there_kv:
        return "voltage.may-misfire", "problem"
    if asked_band_kv[1] > there_band_kv[0]:
        return "voltage.may-misfire-worn", "look"
    if there_kv < ENOUGH_VOLTAGE * asked_kv:
        return "voltage.little-spare", "look"
    return "voltage.enough", "good"


def _band_kv(middle_kv: float, half_kv: float) -> tuple[float, float]:
    return middle_kv - half_kv, middle_kv + half_kv


def _cranking(result: HardwareResult) -> Finding:
    sparks = result.cranking
    covered = sum(spark.under_post for spark in sparks)
    numbers: dict[str, Value] = {
        "sparks": len(sparks),
        "last_advance_deg": sparks[-1].advance_deg,
        "covered": covered,
    }
    if not sparks[-1].right_cylinder:
        return Finding("cranking.astray", "problem", numbers)
    if covered == len(sparks):
        return Finding("cranking.under-post", "good", numbers)
    return Finding("cranking.past-post", "look", numbers)


def _order(result: HardwareResult) -> Iterator[Finding]:
    order = result.cap_order
    if order.agrees is False and order.stated is not None:
        yield Finding("order.changed-over", "problem", {"stated": order.stated, "wanted": order.cylinders})


def _wiring(result: HardwareResult) -> Finding:
    """Give how the wiring list stands, with the key of the first point to see to."""
    wrong = [item.key for item in result.wiring if item.state == "look"]
    unsaid = [item.key for item in result.wiring if item.state == "open"]
    points = len(result.wiring)
    if not wrong and not unsaid:
        return Finding("wiring.done", "good", {"points": points})
    first = (wrong or unsaid)[0]
    numbers: dict[str, Value] = {"points": points, "count": len(wrong or unsaid), "first": first}
    if first == "leads-apart":
        numbers["pairs"] = tuple((pair.first, pair.second) for pair in result.kept_apart or ())
    if wrong:
        return Finding("wiring.otherwise", "problem" if "capacitive-alone" in wrong else "look", numbers)
    return Finding("wiring.open", "look", numbers)
