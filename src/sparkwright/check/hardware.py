"""Can this ignition deliver what the engine asks? Rotor and cap, coil and driver, cranking, wiring."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np

from sparkwright.check import voltage
from sparkwright.check.assumed import Assumed, SpreadTaken, Taken
from sparkwright.check.charging import (
    SPARK_MS,
    capacitive_result,
    coil_of,
    driver_of,
    dwell_table,
    energy_wanted_mj,
    inductive_result,
)
from sparkwright.check.demand import compression_demand, highest_rpm
from sparkwright.check.doubts import order_doubts
from sparkwright.check.result import (
    CapacitiveResult,
    CoilResult,
    DemandResult,
    HardwareResult,
    IgnitionDemand,
    RotorResult,
    SparkTurn,
)
from sparkwright.check.rotor import cap_air, rotor_result
from sparkwright.check.verdicts import headline, verdicts
from sparkwright.findings import Finding, each_once
from sparkwright.ignition import coil_formulas
from sparkwright.ignition.coil import Coil
from sparkwright.ignition.crank import numbering_of
from sparkwright.ignition.cranking import CrankingSpark, cranking_sparks
from sparkwright.ignition.gap import (
    PROVEN_BAR_CM,
    plug_breakdown_kv,
    pressure_times_gap_bar_cm,
    uniform_field_kuffel_zaengl_kv,
)
from sparkwright.ignition.order import LeadPair, cap_order, leads_to_keep_apart
from sparkwright.ignition.rotor import RotorCap
from sparkwright.ignition.wiring import WiringFacts, checklist
from sparkwright.job import Job
from sparkwright.job.usual import PLUG_VOLTAGE, ROTOR_GAP

BURNING_KV = 1.5
"""Voltage across plug and rotor gap while a spark burns [kV]. Recalled, no source."""

CAPACITIVE_SPARK_MS = 0.3
"""Time that the spark of a capacitive driver burns [ms]. Recalled, no source."""


def check_hardware(job: Job, asks: IgnitionDemand | None = None) -> HardwareResult:
    """Hold an ignition against what its engine asks.

    Parameters
    ----------
    job : Job
        The job.
    asks : IgnitionDemand, optional
        What the engine asks, from the cycle (`plan.demand.hook_demand`). Not given: from plain
        compression and usual advances (`plan.demand.compression_demand`).

    Returns
    -------
    HardwareResult
        Verdicts, the numbers behind them, and everything that was assumed.

    Raises
    ------
    Refusal
        Where the battery doesn't reach above the driver's drop.
    PhysicsError
        Where parts that each may be can't be put together, such as a tip too wide for its radius.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> result = check_hardware(Job.from_toml(starter_text()))
    >>> result.state in ("good", "look", "problem"), len(result.dwell.battery_v)
    (True, 17)
    """
    demand = asks if asks is not None else compression_demand(job)
    assumed = Taken(job)
    rotor = rotor_result(job, demand, assumed)
    order = cap_order(job.engine.firing_order, job.distributor.rotation, job.distributor.cap_order)
    engine = job.engine
    kept_apart = leads_to_keep_apart(
        engine.firing_order, engine.layout, job.plugs.leads_adjacent, engine.bank_numbering
    )
    _note_numbering(job, assumed)
    coil = coil_of(job, assumed)
    dwell, inductive, capacitive = None, None, None
    if job.driver.kind == "inductive":
        driver = driver_of(job, assumed)
        wanted_mj = energy_wanted_mj(job, assumed)
        dwell = dwell_table(coil, driver, wanted_mj, job.battery.running_v)
        inductive = inductive_result(job, coil, driver, wanted_mj)
    else:
        capacitive = capacitive_result(job, coil)
    wiring = checklist(_wiring_facts(job, order.agrees, _pairs(kept_apart)))
    sparks = _cranking(job, rotor.cap, inductive, assumed)
    turn = _spark_turn(job, coil, rotor, inductive, assumed)
    taken = (*_stated_defaults(job), *assumed.found)
    result = HardwareResult(
        job_name=job.name,
        fingerprint=job.fingerprint,
        headline=Finding("ignition.delivers", "good"),
        verdicts=(),
        rotor=rotor,
        spark_turn=turn,
        cap_order=order,
        kept_apart=kept_apart,
        dwell=dwell,
        coil=inductive,
        capacitive=capacitive,
        demand=_held_against(job, demand, rotor.cap, inductive, capacitive, {each.field for each in taken}),
        cranking=sparks,
        wiring=wiring,
        demand_origin=demand.origin,
        warnings=(*(each.finding for each in order_doubts(job)), *_warnings(job, demand, kept_apart)),
        assumed=taken,
    )
    found = verdicts(job, result)
    return replace(result, headline=headline(found), verdicts=found)


def _spark_turn(
    job: Job, coil: Coil, rotor: RotorResult, inductive: CoilResult | None, assumed: Taken
) -> SparkTurn:
    """Let the rotor turn on while the last spark of the speeds looked at burns, or until the next charge."""
    rpm = highest_rpm(job)
    if inductive is None:
        why = "usual for a capacitive driver; recalled, no source"
        assumed.found.append(Assumed("driver.spark_duration", f"{CAPACITIVE_SPARK_MS:g} ms", why))
        burning_ms = CAPACITIVE_SPARK_MS
    else:
        secondary_h = 1e-3 * coil.primary_mh * coil.turns_ratio**2
        energy_mj = float(inductive.energy_mj[-1])
        left_ms = float(inductive.spark_interval_ms[-1] - inductive.dwell_ms[-1])
        alone_ms = float(
            coil_formulas.burning_time_ms(energy_mj, secondary_h, coil.secondary_kohm, BURNING_KV)
        )
        burning_ms = min(alone_ms, left_ms)
    turn_deg = 6e-3 * rpm * burning_ms
    from_deg = rotor.today.least_deg + turn_deg
    return SparkTurn(rpm, burning_ms, turn_deg / 2.0, from_deg if from_deg <= rotor.today.most_deg else None)


def _held_against(
    job: Job,
    demand: IgnitionDemand,
    cap: RotorCap,
    inductive: CoilResult | None,
    capacitive: CapacitiveResult | None,
    assumed: Collection[str],
) -> DemandResult:
    points = demand.points
    rpm, kpa, advance = (
        np.array([getattr(point, name) for point in points]) for name in ("rpm", "kpa", "advance_deg")
    )
    pressure = np.array([point.gas.pressure_bar for point in points])
    temperature = np.array([point.gas.temperature_k for point in points])
    plug_kv = np.asarray(plug_breakdown_kv(pressure, temperature, job.plugs.gap_mm))
    bar, kelvin = cap_air(job)
    rotor_kv = np.asarray(uniform_field_kuffel_zaengl_kv(bar, cap.right_gap_mm(advance), kelvin))
    if inductive is not None:
        running_kv = np.interp(rpm, inductive.rpm, inductive.available_kv)
        at_starter = rpm <= job.engine.cranking_rpm
        available_kv = np.where(at_starter, inductive.cranking_available_kv, running_kv)
    else:
        available_kv = np.full(rpm.shape, math.nan if capacitive is None else capacitive.available_kv)
    asked_kv, charged = plug_kv + rotor_kv, inductive is not None
    return DemandResult(
        rpm=rpm,
        kpa=kpa,
        advance_deg=advance,
        plug_kv=plug_kv,
        rotor_kv=rotor_kv,
        asked_kv=asked_kv,
        available_kv=available_kv,
        asked_band_kv=voltage.asked_band_kv(plug_kv, rotor_kv, assumed),
        available_band_kv=voltage.there_band_kv(available_kv, charged, assumed),
        spreads=tuple(
            SpreadTaken.of(each, assumed)
            for each in (PLUG_VOLTAGE, ROTOR_GAP, *voltage.there_spreads(charged))
        ),
        least_ratio=float(np.min(available_kv / asked_kv)) if points else math.nan,
    )


def _cranking(
    job: Job, cap: RotorCap, inductive: CoilResult | None, assumed: Taken
) -> tuple[CrankingSpark, ...]:
    sparks = job.driver.cranking_sparks
    spacing_ms = job.driver.spark_spacing_ms or 1.0
    if sparks > 1 and job.driver.spark_spacing_ms is None:
        recharge_ms = (inductive.cranking_dwell_ms or 5.0) if inductive is not None else 0.0
        spacing_ms = assumed.take("driver.spark_spacing", None, round(recharge_ms + SPARK_MS, 1))
    return cranking_sparks(
        cap,
        first_advance_deg=job.distributor.base_deg,
        sparks=sparks,
        spacing_ms=spacing_ms,
        speed_rpm=job.engine.cranking_rpm,
    )


def _note_numbering(job: Job, assumed: Taken) -> None:
    """Note a numbering of the banks that the firing order tells and nobody stated."""
    engine = job.engine
    told = numbering_of(engine.firing_order, engine.layout)
    if engine.bank_numbering is None and told is not None:
        assumed.note("engine.bank_numbering", told)


def _pairs(kept_apart: tuple[LeadPair, ...] | None) -> tuple[tuple[int, int], ...] | None:
    return None if kept_apart is None else tuple((pair.first, pair.second) for pair in kept_apart)


def _wiring_facts(
    job: Job, order_agrees: bool | None, pairs: tuple[tuple[int, int], ...] | None
) -> WiringFacts:
    vacuum = job.distributor.vacuum_advance
    nobody_looked = job.plugs.leads_adjacent is None and not pairs
    return WiringFacts(
        pickup=job.pickup.kind,
        driver=job.driver.kind,
        controls_dwell=job.driver.controls_dwell,
        # None where it is only assumed: nobody has looked for a resistance wire then.
        ballast_ohm=job.driver.ballast_ohm if "ballast_ohm" in job.driver.model_fields_set else None,
        advance_locked=job.distributor.advance == "locked",
        module_times_by_itself=None
        if job.distributor.module_inside is None
        else job.distributor.module_inside == "own dwell",
        vacuum_sealed=None if vacuum is None else vacuum != "connected",
        polarity_checked=job.pickup.polarity_checked,
        twisted_pair=job.pickup.twisted_pair,
        away_from_plug_leads=job.pickup.away_from_plug_leads,
        other_leads_on_coil=job.driver.other_leads_on_coil,
        rotor_screws_secured=job.distributor.rotor_screws_secured,
        cap_vented=job.distributor.cap_vented,
        cap_order_agrees=order_agrees,
        kept_apart=None if nobody_looked else pairs,
    )


def _warnings(job: Job, demand: IgnitionDemand, kept_apart: tuple[LeadPair, ...] | None) -> Iterator[Finding]:
    if kept_apart is None:
        yield Finding("leads.numbering-not-told", "look")
    if job.driver.kind == "inductive" and job.coil.saturation_a is None:
        yield Finding("coil.saturation-not-stated", "look")
    yield from each_once(_beyond_proven(job, demand))


def _beyond_proven(job: Job, demand: IgnitionDemand) -> Iterator[Finding]:
    """Give the plugs at which the breakdown formula is used outside the range it is proven in."""
    least_bar_cm, most_bar_cm = PROVEN_BAR_CM
    for point in demand.points:
        bar, kelvin, gap_mm = point.gas.pressure_bar, point.gas.temperature_k, job.plugs.gap_mm
        bar_cm = pressure_times_gap_bar_cm(bar, gap_mm, kelvin)
        if not least_bar_cm <= bar_cm <= most_bar_cm:
            yield Finding(
                "gap.beyond-proven",
                "look",
                {
                    "gap_mm": gap_mm,
                    "pressure_bar": bar,
                    "temperature_k": kelvin,
                    "bar_cm": bar_cm,
                    "least_bar_cm": least_bar_cm,
                    "most_bar_cm": most_bar_cm,
                },
            )


def _stated_defaults(job: Job) -> Iterator[Assumed]:
    """Give the job file's own defaults in the sections that count here."""
    for each in job.assumptions():
        if each.section in ("distributor", "driver", "coil", "battery") or each.key == "cranking_rpm":
            yield Assumed(f"{each.section}.{each.key}", each.value, each.why)
