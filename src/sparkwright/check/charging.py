"""Coil and driver: what they are taken to be, dwell, energy and heat over speed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from sparkwright.check.assumed import Taken
from sparkwright.check.demand import highest_rpm
from sparkwright.check.result import (
    CapacitiveResult,
    CoilResult,
    DwellTable,
)
from sparkwright.errors import Refusal
from sparkwright.ignition import coil as charging
from sparkwright.ignition import coil_formulas
from sparkwright.ignition.capacitive import (
    Capacitive,
    condenser_capacitance_uf,
    condenser_voltage_v,
)
from sparkwright.ignition.coil import Coil, CoilCharge, Driver
from sparkwright.job import Job
from sparkwright.job.usual import switched_by_points
from sparkwright.numeric import FloatArray

LOAD_MOHM = 1.0
"""Resistance across a dirty plug [Mohm]: the careful case. Recalled, no source."""

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


def coil_of(job: Job, assumed: Taken) -> Coil:
    """Give the coil as it is stated, else as its kind usually is.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    assumed : Taken
        Where what is taken is noted.
    """
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


def driver_of(job: Job, assumed: Taken) -> Driver:
    """Give the driver, or the points; refused where the battery does not reach above its drop.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    assumed : Taken
        Where what is taken is noted.
    """
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


def energy_wanted_mj(job: Job, assumed: Taken) -> float:
    """Give the energy wanted in the coil at each spark [mJ].

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    assumed : Taken
        Where what is taken is noted.
    """
    return assumed.take("coil.energy_wanted", job.coil.energy_wanted_mj)


def dwell_table(coil: Coil, driver: Driver, wanted_mj: float, running_v: float) -> DwellTable:
    """Give the dwell for the wanted energy over the battery voltages of the vehicle.

    Parameters
    ----------
    coil : Coil
        The coil.
    driver : Driver
        What switches it.
    wanted_mj : float
        Energy wanted at each spark [mJ].
    running_v : float
        Voltage while the engine runs [V].
    """
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


def inductive_result(job: Job, coil: Coil, driver: Driver, wanted_mj: float) -> CoilResult:
    """Hold a coil that is charged against speed: dwell, energy, voltage, heat.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    coil : Coil
        The coil.
    driver : Driver
        What switches it.
    wanted_mj : float
        Energy wanted at each spark [mJ].
    """
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


def capacitive_result(job: Job, coil: Coil) -> CapacitiveResult:
    """Hold a capacitive driver against speed: energy, rise, voltage, power.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    coil : Coil
        The coil.
    """
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
