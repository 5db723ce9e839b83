"""From a job to what the cycle computes with, and a note of every value taken for one not stated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.air import humidity_ratio, magnus_saturation_hpa
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.cycle.cam import ValveEvents, events_from_durations
from sparkwright.cycle.chamber import PLUG_OFFSET_BORES, Chamber
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel
from sparkwright.cycle.octane import octane_of_fuel
from sparkwright.errors import InputError
from sparkwright.job import Job
from sparkwright.plan.demand import USUAL_ROD_RATIO, site_pressure_kpa
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.result import Assumed

USUAL_IDLE_RPM = {4: 850.0, 6: 750.0, 8: 700.0}
USUAL_IDLE_KPA = 40.0
USUAL_LAMBDA = {"idle": 0.97, "cruise": 1.0, "full": 0.87, "boost": 0.80}
"""Usual mixtures [-]; common practice, no source."""
INTAKE_WARMER_K = 12.0
"""Air at the manifold over air outside, where it was not measured [K]; recalled, no source."""

INTAKE_VALVE_BORES, EXHAUST_VALVE_BORES = 0.46, 0.38
LIFT_BORES = 0.105
"""Greatest valve lift over bore [-]; common practice, no source."""

SEAT_SHARE = 0.9
"""Valve heads over bore, and inner seat over valve head [-]; common practice, no source."""

USUAL_BOOST_FROM_RPM = 2000.0
"""Speed below which boost does not build [rpm]; common practice, no source."""

CRUISE_SHARE, FULL_SHARE = 0.75, 0.92
"""Shares of the site's pressure up to which the cruise mixture and from which the full-load mixture is set
[-]; common practice, no source."""

BOOST_SHARE = 0.5
"""Share of the boost at which its mixture is reached from that of full load [-]; a choice."""


@dataclass(frozen=True)
class Physics:
    """A job as the cycle sees it.

    ``intake_k`` is the air temperature at ``ambient_kpa``; under boost it rises in a straight line to
    ``boosted_k`` at ``top_kpa``. Below ``boost_from_rpm`` the engine meets no boost.
    """

    engine: Engine
    fuel: Fuel
    belief: Belief
    ambient_kpa: float
    top_kpa: float
    intake_k: float
    boosted_k: float
    boost_from_rpm: float
    humidity: float
    idle_rpm: float
    idle_kpa: float
    mixture_kpa: tuple[float, ...]
    mixture_lambda: tuple[float, ...]
    idle_lambda: float | None
    assumed: tuple[Assumed, ...]

    @property
    def constants(self) -> Constants:
        """The middle of the belief."""
        return self.belief.constants

    def air_at(self, kpa: float) -> Air:
        """Air in the manifold at a manifold pressure [kPa]."""
        warm_k = float(np.interp(kpa, (self.ambient_kpa, self.top_kpa), (self.intake_k, self.boosted_k)))
        return Air(
            self.ambient_kpa, warm_k if self.top_kpa > self.ambient_kpa else self.intake_k, self.humidity
        )

    def lambda_at(self, rpm: float, kpa: float) -> float:
        """Mixture at a speed and load [-]: as stated, or to two decimals between what is stated.

        Each mixture costs a fit of its own burned gas, so that there may not be one for each cell.
        """
        mixture = float(np.interp(kpa, self.mixture_kpa, self.mixture_lambda))
        share = 0.0 if self.idle_lambda is None else idle_share(self, rpm, kpa)
        if self.idle_lambda is not None and share == 1.0:
            return self.idle_lambda
        if self.idle_lambda is not None and share > 0.0:
            mixture += share * (self.idle_lambda - mixture)
        elif mixture in self.mixture_lambda:
            return mixture
        return round(mixture, 2)


def idle_share(physics: Physics, rpm: float, kpa: float) -> float:
    """How far a cell belongs to the idle: 1 about the idle point, fading to 0 with speed and load [-]."""
    by_speed = np.interp(rpm, (1.15 * physics.idle_rpm, 1.6 * physics.idle_rpm), (1.0, 0.0))
    by_load = np.interp(kpa, (1.2 * physics.idle_kpa, 1.6 * physics.idle_kpa), (1.0, 0.0))
    return float(by_speed * by_load)


class _Notes:
    """Collects assumptions while facts are read."""

    def __init__(self) -> None:
        self.found: list[Assumed] = []

    def take(self, field: str, stated: float | None, usual: float, shown: str, why: str) -> float:
        if stated is not None:
            return stated
        self.found.append(Assumed(field, shown, why))
        return usual


def physics_of(job: Job, belief: Belief = PRIOR) -> Physics:
    """Turn a job into what the cycle computes with.

    Parameters
    ----------
    job : Job
        The job.
    belief : Belief, optional
        What is believed of the engine's constants; by default what the program believes of any engine.

    Returns
    -------
    Physics
        Engine, fuel, air and mixture, with what was assumed.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> physics_of(Job.from_toml(starter_text())).engine.cylinders
    8
    """
    notes = _Notes()
    ambient = site_pressure_kpa(job)
    boost = job.induction.max_boost_kpa or 0.0
    outside_k = job.site.air_temperature_c + 273.15
    stated_k = (
        None if job.induction.intake_temperature_c is None else job.induction.intake_temperature_c + 273.15
    )
    intake_k = notes.take(
        "induction.intake_temperature",
        stated_k,
        outside_k + INTAKE_WARMER_K,
        f"{outside_k + INTAKE_WARMER_K - 273.15:.0f} degC",
        "outside air, warmed a little on its way",
    )
    boosted_k, boost_from_rpm = intake_k, 0.0
    if boost:
        charge_c = job.induction.charge_temperature_c
        usual_k = intake_k * (1 + boost / ambient) ** 0.3
        boosted_k = notes.take(
            "induction.charge_temperature",
            None if charge_c is None else charge_c + 273.15,
            usual_k,
            f"{usual_k - 273.15:.0f} degC",
            "compressed without a cooler",
        )
        boost_from_rpm = notes.take(
            "induction.boost_from_rpm",
            job.induction.boost_from_rpm,
            USUAL_BOOST_FROM_RPM,
            f"{USUAL_BOOST_FROM_RPM:g}",
            "boost builds with speed; a blower that boosts from idle needs the cells below it proved too",
        )
    vapour_kpa = (
        0.1 * float(magnus_saturation_hpa(job.site.air_temperature_c)) * job.site.humidity_percent / 100
    )
    mixture_kpa, mixture_lambda, idle_lambda = _mixture(job, ambient, ambient + boost, notes)
    physics = Physics(
        engine=_engine(job, notes),
        fuel=_fuel(job, notes),
        belief=belief,
        ambient_kpa=ambient,
        top_kpa=ambient + boost,
        intake_k=intake_k,
        boosted_k=boosted_k,
        boost_from_rpm=boost_from_rpm,
        humidity=float(humidity_ratio(vapour_kpa, ambient - vapour_kpa)),
        idle_rpm=notes.take(
            "engine.idle_rpm",
            job.engine.idle_rpm,
            USUAL_IDLE_RPM[job.engine.cylinders],
            f"{USUAL_IDLE_RPM[job.engine.cylinders]:g}",
            "usual for the number of cylinders",
        ),
        idle_kpa=notes.take(
            "engine.idle_kpa",
            job.engine.idle_kpa,
            USUAL_IDLE_KPA,
            f"{USUAL_IDLE_KPA:g}",
            "usual for a mild cam",
        ),
        mixture_kpa=mixture_kpa,
        mixture_lambda=mixture_lambda,
        idle_lambda=idle_lambda,
        assumed=tuple(notes.found),
    )
    return belief.engine_of(physics) if isinstance(belief, OwnBelief) else physics


def _engine(job: Job, notes: _Notes) -> Engine:
    facts, bore = job.engine, job.engine.bore_mm
    rod_mm = (
        facts.rod_mm
        if facts.rod_mm is not None or facts.rod_ratio is None
        else facts.rod_ratio * facts.stroke_mm
    )
    usual_rod = USUAL_ROD_RATIO * facts.stroke_mm
    rod_mm = notes.take("engine.rod", rod_mm, usual_rod, f"{usual_rod:.0f} mm", "1.7 strokes is usual")
    usual_plug = PLUG_OFFSET_BORES[facts.chamber] * bore
    plug_mm = notes.take(
        "engine.plug_offset",
        facts.plug_offset_mm,
        usual_plug,
        f"{usual_plug:.0f} mm",
        "usual for the chamber",
    )
    swirl = notes.take("engine.swirl", facts.swirl, 1.0, "1", "an ordinary port")
    seats = [
        SEAT_SHARE
        * notes.take(f"cam.{name}", stated, usual * bore, f"{usual * bore:.0f} mm", "usual for the bore")
        for name, stated, usual in (
            ("intake_valve", job.cam.intake_valve_mm, INTAKE_VALVE_BORES),
            ("exhaust_valve", job.cam.exhaust_valve_mm, EXHAUST_VALVE_BORES),
        )
    ]
    usual_lift = LIFT_BORES * bore
    lifts = [
        notes.take(f"cam.{name}", stated, usual_lift, f"{usual_lift:.1f} mm", "usual for the bore")
        for name, stated in (
            ("intake_lift", job.cam.intake_lift_mm),
            ("exhaust_lift", job.cam.exhaust_lift_mm),
        )
    ]
    # More lift over the same events means steeper flanks, as a larger rocker ratio would make them.
    rocker = 1.0 if facts.chamber == "side-valve" else 1.5
    return Engine(
        chamber=Chamber(
            facts.chamber, 1e-3 * bore, 1e-3 * facts.stroke_mm, facts.compression_ratio, 1e-3 * plug_mm
        ),
        cylinders=facts.cylinders,
        rod_m=1e-3 * rod_mm,
        events=_events(job, notes),
        intake_seat_m=1e-3 * seats[0],
        exhaust_seat_m=1e-3 * seats[1],
        rocker_ratio=rocker * sum(lifts) / (2.0 * usual_lift),
        head=facts.head,
        swirl=swirl,
    )


def _events(job: Job, notes: _Notes) -> ValveEvents:
    cam = job.cam
    lift_mm = notes.take(
        "cam.at_lift",
        cam.at_lift_mm,
        cam.lift_mm,
        f"{cam.lift_mm:g} mm",
        "kept from before it was asked for; advertised degrees, counted near the seat, make a far milder cam",
    )
    if (
        cam.intake_opens_deg is not None
        and cam.intake_closes_deg is not None
        and cam.exhaust_opens_deg is not None
        and cam.exhaust_closes_deg is not None
    ):
        return ValveEvents(
            cam.intake_opens_deg,
            cam.intake_closes_deg,
            cam.exhaust_opens_deg,
            cam.exhaust_closes_deg,
            lift_mm,
        )
    if (
        cam.intake_duration_deg is not None
        and cam.exhaust_duration_deg is not None
        and cam.centreline_deg is not None
        and cam.lobe_separation_deg is not None
    ):
        return events_from_durations(
            cam.intake_duration_deg,
            cam.exhaust_duration_deg,
            cam.centreline_deg,
            cam.lobe_separation_deg,
            lift_mm,
        )
    raise InputError("cam", None, "must have its four events, or durations, centreline and lobe separation")


def _fuel(job: Job, notes: _Notes) -> Fuel:
    octane = octane_of_fuel(job.fuel.ron, job.fuel.mon, job.fuel.aki)
    notes.found.extend(Assumed("fuel", sentence, "not stated") for sentence in octane.assumed)
    # A pump's number already counts the ethanol in what it sells.
    return Fuel(octane.ron, job.fuel.ethanol_percent / 100.0, octane.sensitivity)


def _mixture(
    job: Job, ambient_kpa: float, top_kpa: float, notes: _Notes
) -> tuple[tuple[float, ...], tuple[float, ...], float | None]:
    if job.fuel.mixture_kpa and job.fuel.mixture_lambda:
        return job.fuel.mixture_kpa, job.fuel.mixture_lambda, None
    stated = {"idle": job.fuel.lambda_idle, "cruise": job.fuel.lambda_cruise, "full": job.fuel.lambda_full}
    if top_kpa > ambient_kpa:
        stated["boost"] = job.fuel.lambda_boost
    taken = {
        name: notes.take(f"fuel.lambda_{name}", value, USUAL_LAMBDA[name], f"{USUAL_LAMBDA[name]:g}", "usual")
        for name, value in stated.items()
    }
    nodes = (CRUISE_SHARE * ambient_kpa, FULL_SHARE * ambient_kpa)
    if "boost" not in taken:
        return nodes, (taken["cruise"], taken["full"]), taken["idle"]
    rich_kpa = ambient_kpa + BOOST_SHARE * (top_kpa - ambient_kpa)
    return (
        (*nodes, ambient_kpa, rich_kpa),
        (taken["cruise"], taken["full"], taken["full"], taken["boost"]),
        taken["idle"],
    )
