"""From a job to what the cycle computes with, and a note of every value taken for one not stated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.air import humidity_ratio, magnus_saturation_hpa
from sparkwright.check.assumed import Assumed, Taken
from sparkwright.check.demand import site_pressure_kpa
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.cycle.cam import ValveEvents, events_from_durations
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel
from sparkwright.cycle.octane import octane_of_fuel
from sparkwright.cycle.shapes import SHAPES
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.job.usual import ICE_POINT_K, usual_value
from sparkwright.numeric import FloatArray, Numeric
from sparkwright.plan.own_belief import OwnBelief

SEAT_SHARE = 0.9
"""Valve heads over bore, and inner seat over valve head [-]; common practice, no source."""

CRUISE_SHARE, FULL_SHARE = 0.75, 0.92
"""Shares of the site's pressure up to which the cruise mixture and from which the full-load mixture is set
[-]; common practice, no source."""

BOOST_SHARE = 0.5
"""Share of the boost at which its mixture is reached from that of full load [-]; a choice."""


WARM_C = 90.0
"""Coolant of the warm engine that walls and ports are counted for [degC]; walls follow it one for one,
recalled."""


ROUNDED_KPA = 1e-3
"""How far a load that is the air outside may stand off it for having been written in other terms [kPa]."""


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

    @property
    def left_to_assumption(self) -> set[str]:
        """The keys of the job that it doesn't state and this depends on."""
        return {each.field for each in self.assumed}

    def air_at(self, kpa: Numeric) -> Air:
        """Air in the manifold at a manifold pressure [kPa], or at several.

        Parameters
        ----------
        kpa : float or array
            Manifold pressure [kPa absolute].
        """
        if not self.top_kpa > self.ambient_kpa:
            return Air(self.ambient_kpa, self.intake_k, self.humidity)
        warm_k = np.interp(kpa, (self.ambient_kpa, self.top_kpa), (self.intake_k, self.boosted_k))
        return Air(self.ambient_kpa, warm_k, self.humidity)

    def is_boost(self, kpa: Numeric) -> NDArray[np.bool_]:
        """Say whether loads stand above the air outside; one that is only rounded above it doesn't.

        Parameters
        ----------
        kpa : float or array
            Manifold pressure [kPa absolute].
        """
        return np.asarray(np.asarray(kpa) > self.ambient_kpa + ROUNDED_KPA)

    def lambda_at(self, rpm: Numeric, kpa: Numeric) -> FloatArray:
        """Mixture at a speed and load [-], in straight lines between what is stated.

        Parameters
        ----------
        rpm : float or array
            Speed [rpm].
        kpa : float or array
            Manifold pressure, absolute [kPa].
        """
        stated = self._by_load(kpa)
        if self.idle_lambda is None:
            return np.broadcast_to(stated, np.broadcast(rpm, kpa).shape)
        return stated + idle_share(self, rpm, kpa) * (self.idle_lambda - stated)

    def _by_load(self, kpa: Numeric) -> FloatArray:
        return np.asarray(np.interp(kpa, self.mixture_kpa, self.mixture_lambda))


def idle_share(physics: Physics, rpm: Numeric, kpa: Numeric) -> FloatArray:
    """How far a cell belongs to the idle: 1 about the idle point, fading to 0 with speed and load [-].

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it, for speed and load of its idle.
    rpm : float or array
        Speeds of the cells [rpm].
    kpa : float or array
        Loads of the cells [kPa absolute].
    """
    by_speed = np.interp(rpm, (1.15 * physics.idle_rpm, 1.6 * physics.idle_rpm), (1.0, 0.0))
    by_load = np.interp(kpa, (1.2 * physics.idle_kpa, 1.6 * physics.idle_kpa), (1.0, 0.0))
    return np.asarray(by_speed * by_load)


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
    notes = Taken(job)
    ambient = site_pressure_kpa(job)
    boost = job.induction.max_boost_kpa or 0.0
    intake_k = notes.take("induction.intake_temperature", _kelvin(job.induction.intake_temperature_c))
    boosted_k, boost_from_rpm = intake_k, 0.0
    if boost:
        boosted_k = notes.take("induction.charge_temperature", _kelvin(job.induction.charge_temperature_c))
        boost_from_rpm = notes.take("induction.boost_from_rpm", job.induction.boost_from_rpm)
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
        idle_rpm=notes.take("engine.idle_rpm", job.engine.idle_rpm),
        idle_kpa=notes.take("engine.idle_kpa", job.engine.idle_kpa),
        mixture_kpa=mixture_kpa,
        mixture_lambda=mixture_lambda,
        idle_lambda=idle_lambda,
        assumed=tuple(notes.found),
    )
    return belief.engine_of(physics) if isinstance(belief, OwnBelief) else physics


def _kelvin(celsius: float | None) -> float | None:
    return None if celsius is None else celsius + ICE_POINT_K


def _engine(job: Job, notes: Taken) -> Engine:
    facts, cam = job.engine, job.cam
    rod_mm = (
        facts.rod_mm
        if facts.rod_mm is not None or facts.rod_ratio is None
        else facts.rod_ratio * facts.stroke_mm
    )
    rod_mm = notes.take("engine.rod", rod_mm)
    plug_mm = notes.take("engine.plug_offset", facts.plug_offset_mm)
    swirl = notes.take("engine.swirl", facts.swirl)
    ratio = notes.take("engine.compression_ratio", facts.stated_ratio)
    if not job.stated("engine", "chamber"):
        notes.note("engine.chamber", facts.chamber)
    intake_mm = SEAT_SHARE * notes.take("cam.intake_valve", cam.intake_valve_mm)
    exhaust_mm = SEAT_SHARE * notes.take("cam.exhaust_valve", cam.exhaust_valve_mm)
    lifts_mm = [
        notes.take("cam.intake_lift", cam.intake_lift_mm),
        notes.take("cam.exhaust_lift", cam.exhaust_lift_mm),
    ]
    usual_mm = [usual_value(f"cam.{valve}_lift", job) for valve in ("intake", "exhaust")]
    return Engine(
        chamber=Chamber(facts.chamber, 1e-3 * facts.bore_mm, 1e-3 * facts.stroke_mm, ratio, 1e-3 * plug_mm),
        cylinders=facts.cylinders,
        rod_m=1e-3 * rod_mm,
        events=_events(job, notes),
        intake_seat_m=1e-3 * intake_mm,
        exhaust_seat_m=1e-3 * exhaust_mm,
        # More lift over the same events means steeper flanks, as a larger rocker ratio would make them.
        rocker_ratio=SHAPES[facts.chamber].rocker_ratio * sum(lifts_mm) / sum(usual_mm),
        head=facts.head,
        swirl=swirl,
        warmer_k=0.0 if facts.coolant_temperature_c is None else facts.coolant_temperature_c - WARM_C,
    )


def _events(job: Job, notes: Taken) -> ValveEvents:
    cam = job.cam
    lift_mm = notes.take("cam.at_lift", cam.at_lift_mm)
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
    raise Refusal.at("cam", None, "must have its four events, or durations, centreline and lobe separation")


def _fuel(job: Job, notes: Taken) -> Fuel:
    octane = octane_of_fuel(job.fuel.ron, job.fuel.mon, job.fuel.aki)
    missing = "fuel.mon" if job.fuel.mon is None else "fuel.ron"
    notes.found.extend(Assumed(missing, sentence, "not stated") for sentence in octane.assumed)
    # A pump's number already counts the ethanol in what it sells.
    return Fuel(octane.ron, job.fuel.ethanol_percent / 100.0, octane.sensitivity)


def _mixture(
    job: Job, ambient_kpa: float, top_kpa: float, notes: Taken
) -> tuple[tuple[float, ...], tuple[float, ...], float | None]:
    if job.fuel.mixture_kpa and job.fuel.mixture_lambda:
        return job.fuel.mixture_kpa, job.fuel.mixture_lambda, None
    stated = {"idle": job.fuel.lambda_idle, "cruise": job.fuel.lambda_cruise, "full": job.fuel.lambda_full}
    if top_kpa > ambient_kpa:
        stated["boost"] = job.fuel.lambda_boost
    taken = {name: notes.take(f"fuel.lambda_{name}", value) for name, value in stated.items()}
    nodes = (CRUISE_SHARE * ambient_kpa, FULL_SHARE * ambient_kpa)
    if "boost" not in taken:
        return nodes, (taken["cruise"], taken["full"]), taken["idle"]
    rich_kpa = ambient_kpa + BOOST_SHARE * (top_kpa - ambient_kpa)
    return (
        (*nodes, ambient_kpa, rich_kpa),
        (taken["cruise"], taken["full"], taken["full"], taken["boost"]),
        taken["idle"],
    )
