"""Can this ignition deliver what the engine asks? Rotor and cap, coil and driver, cranking, wiring."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np

from sparkwright.check import voltage
from sparkwright.check.assumed import Assumed, SpreadTaken, Taken
from sparkwright.check.demand import compression_demand, highest_rpm, site_pressure_kpa
from sparkwright.check.doubts import order_doubts
from sparkwright.check.result import (
    CapacitiveResult,
    CoilResult,
    DemandResult,
    DwellTable,
    HardwareResult,
    IgnitionDemand,
    RotorResult,
    SparkPoint,
    SparkTurn,
)
from sparkwright.check.verdicts import headline, verdicts
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, each_once
from sparkwright.ignition import coil as charging
from sparkwright.ignition import coil_formulas
from sparkwright.ignition.capacitive import (
    Capacitive,
    condenser_capacitance_uf,
    condenser_voltage_v,
)
from sparkwright.ignition.coil import Coil, CoilCharge, Driver
from sparkwright.ignition.crank import numbering_of
from sparkwright.ignition.cranking import CrankingSpark, cranking_sparks
from sparkwright.ignition.gap import (
    CORNER_FIELD_FACTOR,
    PROVEN_BAR_CM,
    Paths,
    paths,
    plug_breakdown_kv,
    pressure_times_gap_bar_cm,
    uniform_field_kuffel_zaengl_kv,
)
from sparkwright.ignition.order import LeadPair, cap_order, leads_to_keep_apart
from sparkwright.ignition.rotor import CAP_SIZES, SIZE_SPREAD, PhaseAdvice, RotorCap
from sparkwright.ignition.wiring import WiringFacts, checklist
from sparkwright.job import Job
from sparkwright.job.usual import PLUG_VOLTAGE, ROTOR_GAP, USUAL_CAP_SIZE, switched_by_points
from sparkwright.numeric import FloatArray

LOAD_MOHM = 1.0
"""Resistance across a dirty plug [Mohm]: the careful case. Recalled, no source."""

BURNING_KV = 1.5
"""Voltage across plug and rotor gap while a spark burns [kV]. Recalled, no source."""

CAPACITIVE_SPARK_MS = 0.3
"""Time that the spark of a capacitive driver burns [ms]. Recalled, no source."""

SPARK_MS = 1.0
"""Time that a spark is given before the next charge starts [ms]. Common practice, no source."""

POINTS_DWELL_SHARE = 0.65
"""Share of the time that points, or a driver without dwell control, stay closed. Recalled: 30 of 45
distributor degrees on an eight, 38 of 60 on a six, 55 of 90 on a four."""

TRANSISTOR = Driver(clamp_v=400.0, capacitance_uf=0.01)
POINTS = Driver(clamp_v=None, capacitance_uf=0.22)
"""What a driver and a set of points usually are beside what the job states; recalled, no source."""

DWELL_VOLTS = np.arange(8.0, 16.5, 0.5)
"""Battery voltages of the dwell table on a 12 V system; halved on 6 V, doubled on 24 V."""
SIX_VOLT_BELOW_V, TWENTY_FOUR_VOLT_ABOVE_V = 9.0, 18.0
RADIAL_GAP_MM = 0.8
BASE_SPARE_DEG = 1.0
"""How far the tip must still cover its post on the late side of base [crank deg]; a choice."""


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
    rotor = _rotor(job, demand, assumed)
    order = cap_order(job.engine.firing_order, job.distributor.rotation, job.distributor.cap_order)
    engine = job.engine
    kept_apart = leads_to_keep_apart(
        engine.firing_order, engine.layout, job.plugs.leads_adjacent, engine.bank_numbering
    )
    _note_numbering(job, assumed)
    coil = _coil(job, assumed)
    dwell, inductive, capacitive = None, None, None
    if job.driver.kind == "inductive":
        driver = _driver(job, assumed)
        wanted_mj = _wanted_mj(job, assumed)
        dwell = _dwell_table(coil, driver, wanted_mj, job.battery.running_v)
        inductive = _inductive(job, coil, driver, wanted_mj)
    else:
        capacitive = _capacitive(job, coil)
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


def rotor_cap(job: Job) -> RotorCap:
    """Give the rotor in its cap, from what was measured and, for the rest, from its size class.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> rotor_cap(Job.from_toml(starter_text())).cylinders
    8
    """
    distributor = job.distributor
    size = CAP_SIZES[distributor.cap_size or USUAL_CAP_SIZE]
    tip_radius_mm, post_radius_mm = distributor.tip_radius_mm, distributor.post_radius_mm
    if tip_radius_mm is None:
        tip_radius_mm = size.tip_radius_mm if post_radius_mm is None else post_radius_mm - RADIAL_GAP_MM
    if post_radius_mm is None:
        given = distributor.tip_radius_mm
        post_radius_mm = size.post_radius_mm if given is None else given + RADIAL_GAP_MM
    return RotorCap(
        cylinders=job.engine.cylinders,
        tip_radius_mm=tip_radius_mm,
        tip_width_mm=distributor.tip_width_mm or size.tip_width_mm,
        post_radius_mm=post_radius_mm,
        post_width_mm=distributor.post_width_mm or size.post_width_mm,
        base_deg=distributor.base_deg,
        phase_distributor_deg=distributor.rotor_phase_deg,
    )


def phase_advice(job: Job, least_deg: float, most_deg: float) -> PhaseAdvice:
    """Give the rotor phase for a span of advance, with base kept under the post.

    A span that fits the window is centred in it. A wider one can't be covered: the engine is cranked at
    base, so the tip then covers base by `BASE_SPARE_DEG` and the rest of the window goes to advance.

    Parameters
    ----------
    job : Job
        The job.
    least_deg, most_deg : float
        Span of advance wanted [crank deg].

    Returns
    -------
    PhaseAdvice
        The phase, and how far to move the tip for it.
    """
    cap = rotor_cap(job)
    width_deg = cap.reach().width_deg
    least_deg = min(least_deg, job.distributor.base_deg)
    if most_deg - least_deg > width_deg:
        least_deg = job.distributor.base_deg - BASE_SPARE_DEG
        most_deg = min(most_deg, least_deg + width_deg)
    return cap.advice(least_deg, max(least_deg, most_deg))


def _rotor(job: Job, demand: IgnitionDemand, assumed: Taken) -> RotorResult:
    cap = rotor_cap(job)
    spread_deg = 0.0
    for name, angle_deg in (
        ("tip_radius", 0.0),
        ("tip_width", cap.tip_distributor_deg),
        ("post_radius", 0.0),
        ("post_width", cap.post_distributor_deg),
    ):
        if getattr(job.distributor, f"{name}_mm") is None:
            spread_deg += SIZE_SPREAD * angle_deg
            assumed.take(f"distributor.{name}", None, getattr(cap, f"{name}_mm"))
    reach = cap.reach()
    advice = phase_advice(job, demand.least_deg, demand.most_deg)
    advance = np.arange(
        math.floor(min(demand.least_deg, reach.least_deg)) - 4.0,
        math.ceil(max(demand.most_deg, reach.most_deg)) + 4.5,
        0.5,
    )
    right_mm, next_mm, previous_mm = (
        np.asarray(gap_mm(advance)) for gap_mm in (cap.right_gap_mm, cap.next_gap_mm, cap.previous_gap_mm)
    )
    bar, kelvin = _cap_air(job)
    hardest, ways, neighbour = _hardest(job, demand, cap)
    return RotorResult(
        cap=cap,
        rotation=job.distributor.rotation,
        today=reach,
        unphased=replace(cap, phase_distributor_deg=0.0).reach(),
        phased=replace(cap, phase_distributor_deg=advice.phase_distributor_deg).reach(),
        advice=advice,
        reach_spread_deg=spread_deg,
        least_deg=demand.least_deg,
        most_deg=demand.most_deg,
        advance_deg=advance,
        right_gap_mm=right_mm,
        next_gap_mm=next_mm,
        previous_gap_mm=previous_mm,
        right_kv=np.asarray(uniform_field_kuffel_zaengl_kv(bar, right_mm, kelvin)),
        next_kv=CORNER_FIELD_FACTOR * np.asarray(uniform_field_kuffel_zaengl_kv(bar, next_mm, kelvin)),
        previous_kv=CORNER_FIELD_FACTOR
        * np.asarray(uniform_field_kuffel_zaengl_kv(bar, previous_mm, kelvin)),
        hardest=hardest,
        hardest_paths=ways,
        hardest_neighbour=neighbour,
    )


def _cap_air(job: Job) -> tuple[float, float]:
    return site_pressure_kpa(job) / 100.0, job.distributor.cap_air_temperature_c + 273.15


def _hardest(job: Job, demand: IgnitionDemand, cap: RotorCap) -> tuple[SparkPoint | None, Paths | None, str]:
    """Find the running point and the neighbour with the least reserve against a stray spark."""
    bar, kelvin = _cap_air(job)
    gap_mm = job.plugs.gap_mm
    found = [
        (
            point,
            paths(
                right_gap_mm=float(cap.right_gap_mm(point.advance_deg)),
                wrong_gap_mm=float(wrong_gap(point.advance_deg)),
                cap_pressure_bar=bar,
                cap_temperature_k=kelvin,
                right_plug_kv=float(
                    plug_breakdown_kv(point.gas.pressure_bar, point.gas.temperature_k, gap_mm)
                ),
                wrong_plug_kv=float(plug_breakdown_kv(gas.pressure_bar, gas.temperature_k, gap_mm)),
            ),
            neighbour,
        )
        for point in demand.points
        for neighbour, wrong_gap, gas in (
            ("next", cap.next_gap_mm, demand.next_plug),
            ("previous", cap.previous_gap_mm, demand.previous_plug),
        )
    ]
    if not found:
        return None, None, ""
    return min(found, key=lambda each: each[1].ratio)


def _coil(job: Job, assumed: Taken) -> Coil:
    stated = job.coil
    return Coil(
        primary_ohm=assumed.take("coil.primary_resistance", stated.primary_ohm),
        primary_mh=assumed.take("coil.primary_inductance", stated.primary_mh),
        turns_ratio=assumed.take("coil.turns_ratio", stated.turns_ratio),
        secondary_kohm=assumed.take("coil.secondary_resistance", stated.secondary_kohm),
        secondary_pf=stated.secondary_pf,
        saturation_a=stated.saturation_a,
        winding_c=stated.warm_c,
    )


def _driver(job: Job, assumed: Taken) -> Driver:
    usual = POINTS if switched_by_points(job) else TRANSISTOR
    drop_v = assumed.take("driver.drop", job.driver.drop_v)
    for name in ("cranking_v", "running_v"):
        if getattr(job.battery, name) <= drop_v:
            raise Refusal.at(
                f"battery.{job.battery.key(name)}",
                job.battery.say(name),
                f"must be above driver.drop ({drop_v:g} V)",
                "below that no current flows; measure both again",
            )
    return replace(
        usual,
        drop_v=drop_v,
        current_limit_a=job.driver.current_limit_a,
        ballast_ohm=job.driver.ballast_ohm,
    )


def _wanted_mj(job: Job, assumed: Taken) -> float:
    return assumed.take("coil.energy_wanted", job.coil.energy_wanted_mj)


def _dwell_table(coil: Coil, driver: Driver, wanted_mj: float, running_v: float) -> DwellTable:
    scale = 0.5 if running_v < SIX_VOLT_BELOW_V else 2.0 if running_v > TWENTY_FOUR_VOLT_ABOVE_V else 1.0
    battery_v = scale * DWELL_VOLTS
    return DwellTable(
        battery_v=battery_v,
        dwell_ms=charging.dwell_for_energy_ms(coil, driver, wanted_mj, battery_v),
        current_a=coil.current_for_energy_a(wanted_mj),
        energy_mj=wanted_mj,
    )


def _speeds(job: Job) -> FloatArray:
    return np.linspace(500.0, highest_rpm(job), 12)


def _settling_ms(charge: CoilCharge) -> float:
    """Time after which the current has as good as settled [ms]."""
    return 5.0 * charge.coil.primary_mh / charge.loop_ohm


def _inductive(job: Job, coil: Coil, driver: Driver, wanted_mj: float) -> CoilResult:
    cylinders = job.engine.cylinders
    current_a = coil.current_for_energy_a(wanted_mj)
    running = CoilCharge(coil, driver, job.battery.running_v)
    needed_ms = running.dwell_ms(current_a)
    rpm = _speeds(job)
    interval_ms = np.asarray(coil_formulas.spark_interval_ms(cylinders, rpm))
    if job.driver.controls_dwell:
        aimed_ms = _settling_ms(running) if needed_ms is None else needed_ms
        dwell_ms = np.minimum(aimed_ms, np.maximum(interval_ms - SPARK_MS, 0.0))
    else:
        dwell_ms = POINTS_DWELL_SHARE * interval_ms
    currents = [running.current_a(float(each)) for each in dwell_ms]
    heats = [running.heat(float(each)) for each in dwell_ms]
    opened = {
        amperes: charging.opening(
            coil, driver, battery_v=job.battery.running_v, current_a=amperes, load_mohm=LOAD_MOHM
        ).secondary_kv
        for amperes in sorted(set(currents))
    }
    per_second = 1000.0 / interval_ms
    watts = {
        name: per_second * np.array([getattr(heat, f"{name}_mj") for heat in heats]) * 1e-3
        for name in ("supply", "coil", "driver", "ballast")
    }
    cranking = CoilCharge(coil, driver, job.battery.cranking_v)
    cranking_ms = cranking.dwell_ms(current_a)
    cranking_a = cranking.current_a(_settling_ms(cranking) if cranking_ms is None else cranking_ms)
    if not job.driver.controls_dwell:
        cranking_a = cranking.most_current_a
    return CoilResult(
        energy_wanted_mj=wanted_mj,
        current_a=current_a,
        highest_full_energy_rpm=_highest_full_energy_rpm(job, needed_ms),
        rpm=rpm,
        spark_interval_ms=interval_ms,
        dwell_ms=dwell_ms,
        duty_percent=100.0 * dwell_ms / interval_ms,
        energy_mj=np.array([coil.energy_mj(amperes) for amperes in currents]),
        supply_w=watts["supply"],
        coil_w=watts["coil"],
        driver_w=watts["driver"],
        ballast_w=watts["ballast"],
        available_kv=np.array([opened[amperes] for amperes in currents]),
        cranking_dwell_ms=cranking_ms,
        cranking_energy_mj=coil.energy_mj(cranking_a),
        cranking_available_kv=charging.opening(
            coil,
            driver,
            battery_v=job.battery.cranking_v,
            current_a=cranking_a,
            load_mohm=LOAD_MOHM,
        ).secondary_kv,
    )


def _highest_full_energy_rpm(job: Job, needed_ms: float | None) -> float | None:
    if needed_ms is None:
        return None
    cylinders = job.engine.cylinders
    if job.driver.controls_dwell:
        return coil_formulas.highest_full_energy_rpm(cylinders, needed_ms, SPARK_MS)
    return coil_formulas.highest_full_energy_rpm(cylinders, needed_ms / POINTS_DWELL_SHARE, 0.0)


def _capacitive(job: Job, coil: Coil) -> CapacitiveResult:
    driver = job.driver
    voltage_v, capacitance_uf, energy_mj = driver.primary_v, driver.capacitance_uf, driver.energy_mj
    if voltage_v is None and capacitance_uf is not None and energy_mj is not None:
        voltage_v = float(condenser_voltage_v(capacitance_uf, energy_mj))
    if capacitance_uf is None and voltage_v is not None and energy_mj is not None:
        capacitance_uf = float(condenser_capacitance_uf(voltage_v, energy_mj))
    discharge = Capacitive(coil, voltage_v or math.nan, capacitance_uf or math.nan)
    rpm = _speeds(job)
    interval_ms = np.asarray(coil_formulas.spark_interval_ms(job.engine.cylinders, rpm))
    return CapacitiveResult(
        energy_mj=discharge.energy_mj,
        primary_v=discharge.voltage_v,
        capacitance_uf=discharge.capacitance_uf,
        rise_us=discharge.rise_us(),
        available_kv=discharge.peak_kv(LOAD_MOHM),
        rpm=rpm,
        mean_w=discharge.energy_mj / interval_ms,
    )


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
    bar, kelvin = _cap_air(job)
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
