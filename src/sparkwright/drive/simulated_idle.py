"""An idle that is simulated: manifold, crank, and a timing loop whose reserve, gain and slope can be tried.

Air comes through a choked throttle and so at one rate; the cylinders take it out by speed and pressure (speed
and density, Heywood, *Internal Combustion Engine Fundamentals* (1988), ch. 7.6); what is drawn in gives its
torque two strokes later. Torque follows pressure, speed and advance as the engine's hook does about its idle.
The timing answers speed at once by the map's slope, after a delay by its loop's gain, within what it may add
and take. About one place this is linear; its margin is read from the open loop at every frequency (Nyquist
1932), with every delay as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.assumed import Assumed, Taken
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.hooks import FIRST_DEG, one_hook_at
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import PlanResult

ComplexArray: TypeAlias = NDArray[np.complex128]

STEP_S = 1e-3
STEP_RPM, STEP_KPA, STEP_DEG = 60.0, 3.0, 1.0
"""How far the hooks lie apart that slopes are taken from."""
VOLUMETRIC = 0.8
"""What the cylinders take of the volume they sweep, at the manifold's density [-]; common practice, no
source."""
TORQUE_SCATTER = 0.08
"""Scatter of torque from firing to firing at idle, one standard deviation over the indicated [-]; common
practice, no source."""
INDICATED_BAR_A_KPA = 0.06
"""Indicated mean pressure for the pressure in the manifold, at idle [bar/kPa]; common practice, no source."""
STABLE_QUARTERS = 2
"""Quarter turns that the locus of a stable loop of this order makes: one for each of its two states."""
RPM = 30.0 / pi
"""Revolutions a minute for one radian a second."""


@dataclass(frozen=True)
class IdlePlant:
    """An engine at idle, with straight lines for what moves it.

    Parameters
    ----------
    rpm, kpa, advance_deg : float
        Where it idles.
    inertia_kg_m2, manifold_m3, swept_m3 : float
        What turns, what fills, what is swept in two turns.
    torque_by_kpa, torque_by_rpm : float
        How torque follows pressure and speed [N m/kPa, N m/rpm].
    hook_deg, hook_nm : array
        Torque against advance there, less that at the idle's own advance [deg, N m].
    cylinders : int
        How many fire in two turns.
    loop_delay_s : float
        From a change of speed to the advance with which the loop answers.
    indicated_nm : float
        Torque of the gas, by which firings scatter.
    """

    rpm: float
    kpa: float
    advance_deg: float
    inertia_kg_m2: float
    manifold_m3: float
    swept_m3: float
    torque_by_kpa: float
    torque_by_rpm: float
    hook_deg: FloatArray
    hook_nm: FloatArray
    cylinders: int
    loop_delay_s: float
    indicated_nm: float

    @property
    def emptying_per_s(self) -> float:
        """How fast the cylinders empty the manifold [1/s]."""
        return VOLUMETRIC * self.swept_m3 * self.rpm / 120.0 / self.manifold_m3

    @property
    def filling_by_rpm(self) -> float:
        """How fast pressure falls for a speed too high [kPa/s/rpm]."""
        return VOLUMETRIC * self.swept_m3 * self.kpa / 120.0 / self.manifold_m3

    @property
    def drawn_to_torque_s(self) -> float:
        """From what is drawn in to its torque: two strokes [s]."""
        return 60.0 / self.rpm

    @property
    def pickup_delay_s(self) -> float:
        """From speed to the spark that answers it: half of what lies between two sparks [s]."""
        return 0.5 * 120.0 / (self.rpm * self.cylinders)

    def torque_nm(self, advance_deg: float) -> float:
        """Torque at an advance, less that at the idle's own [N m].

        Parameters
        ----------
        advance_deg : float
            Advance [deg before top dead centre], held at the ends of the idle's hook.
        """
        return float(np.interp(advance_deg, self.hook_deg, self.hook_nm))

    @property
    def torque_by_deg(self) -> float:
        """How torque follows advance about the idle's own [N m/deg]."""
        ahead, behind = (self.torque_nm(self.advance_deg + side * STEP_DEG) for side in (1.0, -1.0))
        return (ahead - behind) / (2.0 * STEP_DEG)


@dataclass(frozen=True)
class IdleLoop:
    """What of the timing can be tried at idle.

    Parameters
    ----------
    gain_deg_per_100rpm : float
        Degrees that the loop adds for each 100 rpm too few, after its delay.
    slope_deg_per_100rpm : float
        The same of the map itself about the idle, at once.
    most_deg, least_deg : float
        What loop and map may add and take [deg].
    """

    gain_deg_per_100rpm: float = 0.0
    slope_deg_per_100rpm: float = 0.0
    most_deg: float = 6.0
    least_deg: float = -6.0


@dataclass(frozen=True)
class IdleMargin:
    """How far a loop is from hunting.

    ``gain_margin`` is by how much gain and slope together may grow until it hunts (inf where never), and
    ``phase_margin_deg`` what phase is left where the loop's gain is one (nan where it never is); ``hunts_hz``
    where it would hunt.
    """

    stable: bool
    gain_margin: float
    phase_margin_deg: float
    hunts_hz: float


@dataclass(frozen=True)
class IdleRun:
    """A simulated stretch of idle: times, speed, advance, and how steady it came out."""

    time_s: FloatArray
    rpm: FloatArray
    advance_deg: FloatArray
    rpm_sigma: float
    at_limit_percent: float


def plant_of(
    job: Job, physics: Physics, planned: PlanResult, reserve_deg: float | None = None
) -> tuple[IdlePlant, tuple[Assumed, ...]]:
    """Make the idle of a job, at its planned advance or another reserve, with what was assumed for it.

    Parameters
    ----------
    job : Job
        The job, for its idle speed, flywheel and displacement.
    physics : Physics
        The same job as the cycle takes it.
    planned : PlanResult
        Its plan, for best and for the advance that is set at idle.
    reserve_deg : float, optional
        Degrees below best at which the idle is timed [deg]; None for what the plan has.
    """
    notes = Taken(job)
    rpm, kpa, best = physics.idle_rpm, physics.idle_kpa, planned.idle.best_deg
    stands = planned.idle.set_deg if reserve_deg is None else best - reserve_deg
    hook_deg = np.arange(max(stands - 20.0, FIRST_DEG), best + 12.0)
    hook = one_hook_at(physics, rpm, kpa)
    at = hook.at(stands)[0]

    def torque(at_rpm: float, at_kpa: float) -> float:
        return one_hook_at(physics, at_rpm, at_kpa).at(stands)[0]

    swept_m3 = physics.engine.displacement_m3
    plant = IdlePlant(
        rpm=rpm,
        kpa=kpa,
        advance_deg=stands,
        inertia_kg_m2=notes.take("engine.inertia_kg_m2", job.engine.inertia_kg_m2),
        manifold_m3=1e-3 * notes.take("induction.manifold_litres", job.induction.manifold_litres),
        swept_m3=swept_m3,
        torque_by_kpa=(torque(rpm, kpa + STEP_KPA) - torque(rpm, kpa - STEP_KPA)) / (2.0 * STEP_KPA),
        torque_by_rpm=(torque(rpm + STEP_RPM, kpa) - torque(rpm - STEP_RPM, kpa)) / (2.0 * STEP_RPM),
        hook_deg=hook_deg,
        hook_nm=np.array([hook.at(float(each))[0] - at for each in hook_deg]),
        cylinders=physics.engine.cylinders,
        loop_delay_s=1e-3 * notes.take("controller.idle_delay_ms", job.controller.idle_delay_ms),
        indicated_nm=1e5 * INDICATED_BAR_A_KPA * kpa * swept_m3 / (4.0 * pi),
    )
    return plant, tuple(notes.found)


def engine_response(plant: IdlePlant, hz: FloatArray) -> ComplexArray:
    """Give how speed answers torque, at frequencies [rpm/N m].

    With s = 2 pi i f, a the rate at which the manifold empties, b that at which a speed too high empties it:
    1 / (J s - dT/dN + dT/dp b exp(-s t) / (s + a)).

    Parameters
    ----------
    plant : IdlePlant
        The idling engine, with what turns, what fills and how torque follows both.
    hz : array
        Frequencies above 0 [Hz].
    """
    s = 2j * pi * hz
    by_air = plant.torque_by_kpa * plant.filling_by_rpm * np.exp(-s * plant.drawn_to_torque_s)
    stiffness = plant.inertia_kg_m2 / RPM * s - plant.torque_by_rpm + by_air / (s + plant.emptying_per_s)
    return np.asarray(1.0 / stiffness)


def open_loop(plant: IdlePlant, loop: IdleLoop, hz: FloatArray) -> ComplexArray:
    """Give the open loop, from speed through timing and engine back to speed, at frequencies [-].

    Parameters
    ----------
    plant : IdlePlant
        The idling engine, with what an advance gives in torque.
    loop : IdleLoop
        Gain and slope of the timing that answers speed.
    hz : array
        Frequencies above 0 [Hz].
    """
    s = 2j * pi * hz
    at_once = loop.slope_deg_per_100rpm * np.exp(-s * plant.pickup_delay_s)
    after = loop.gain_deg_per_100rpm * np.exp(-s * (plant.pickup_delay_s + plant.loop_delay_s))
    return np.asarray(engine_response(plant, hz) * plant.torque_by_deg * (at_once + after) / 100.0)


def sigma_rpm_of(plant: IdlePlant, loop: IdleLoop, scatter: float = TORQUE_SCATTER) -> float:
    """Give the standard deviation of speed that the scatter of firings makes, within the ends [rpm].

    Each firing holds until the next; its power is spread as that of a train of steps (Papoulis 1965, ch. 10).

    Parameters
    ----------
    plant : IdlePlant
        The idling engine.
    loop : IdleLoop
        The timing that answers speed.
    scatter : float, optional
        Standard deviation of one firing's work over its mean [-].
    """
    hold_s = 120.0 / (plant.rpm * plant.cylinders)
    hz: FloatArray = np.geomspace(1e-3, 200.0, 40_000)
    answers = engine_response(plant, hz) / (1.0 + open_loop(plant, loop, hz))
    power = 2.0 * (scatter * plant.indicated_nm) ** 2 * hold_s * np.sinc(hz * hold_s) ** 2
    return float(np.sqrt(np.trapezoid(np.abs(answers) ** 2 * power, hz)))


def margin_of(plant: IdlePlant, loop: IdleLoop) -> IdleMargin:
    """Say how far an idle is from hunting.

    The closed loop is stable where the locus of its characteristic turns by as many quarters as it has states
    (Mikhailov 1938); it is followed along 0.01 to 100 Hz.

    Parameters
    ----------
    plant : IdlePlant
        The idling engine.
    loop : IdleLoop
        The timing that answers speed.
    """
    hz: FloatArray = np.geomspace(0.01, 100.0, 20_000)
    opened = open_loop(plant, loop, hz)
    stable = _quarters(_characteristic(plant, loop, hz)) == STABLE_QUARTERS
    size, phase = np.abs(opened), np.unwrap(np.angle(opened))
    crossings = np.flatnonzero(np.diff(np.floor((phase + pi) / (2.0 * pi))) != 0)
    gains = [(1.0 / float(size[k]), float(hz[k])) for k in crossings.tolist() if opened[k].real < 0]
    rising = sorted(each for each in gains if each[0] > 0)
    margin, hunts = rising[0] if rising else (float("inf"), float("nan"))
    ones = np.flatnonzero((size[:-1] >= 1.0) & (size[1:] < 1.0))
    left = [180.0 - abs(float(np.degrees(np.angle(opened[k])))) for k in ones.tolist()]
    return IdleMargin(bool(stable), margin, min(left, default=float("nan")), hunts)


def _characteristic(plant: IdlePlant, loop: IdleLoop, hz: FloatArray) -> ComplexArray:
    """Give what is nought where the closed loop rings for ever."""
    states = (2j * pi * hz + plant.emptying_per_s) / engine_response(plant, hz)
    return np.asarray(states * (1.0 + open_loop(plant, loop, hz)))


def _quarters(locus: ComplexArray) -> int:
    """Count the quarter turns about nought along a locus."""
    angle = np.unwrap(np.angle(locus))
    return round(float(angle[-1] - angle[0]) / (0.5 * pi))


def simulated(
    plant: IdlePlant,
    loop: IdleLoop,
    seconds: float = 60.0,
    *,
    seed: int = 1,
    scatter: float = TORQUE_SCATTER,
    start_rpm: float = 0.0,
) -> IdleRun:
    """Run an idle in steps of a millisecond, with torque that scatters from firing to firing.

    Parameters
    ----------
    plant : IdlePlant
        The engine.
    loop : IdleLoop
        Its timing.
    seconds : float
        How long.
    seed : int
        Of the scatter.
    scatter : float
        One standard deviation of a firing over the indicated torque; 0 for none.
    start_rpm : float
        How far from its idle it begins [rpm].
    """
    count = int(seconds / STEP_S)
    rng = np.random.default_rng(seed)
    pickup, after = (
        round(each / STEP_S) for each in (plant.pickup_delay_s, plant.pickup_delay_s + plant.loop_delay_s)
    )
    drawn = round(plant.drawn_to_torque_s / STEP_S)
    off_rpm, off_kpa, added = np.zeros(count + 1), np.zeros(count + 1), np.zeros(count)
    off_rpm[0] = start_rpm
    a, b = plant.emptying_per_s, plant.filling_by_rpm
    noise_nm, next_firing = 0.0, 0.0
    at_limit = 0
    for k in range(count):
        if k * STEP_S >= next_firing:
            next_firing += 120.0 / (max(plant.rpm + off_rpm[k], 100.0) * plant.cylinders)
            noise_nm = scatter * plant.indicated_nm * float(rng.normal())
        wanted = -0.01 * (
            loop.slope_deg_per_100rpm * off_rpm[max(k - pickup, 0)]
            + loop.gain_deg_per_100rpm * off_rpm[max(k - after, 0)]
        )
        added[k] = min(max(wanted, loop.least_deg), loop.most_deg)
        at_limit += added[k] != wanted
        torque = (
            plant.torque_nm(plant.advance_deg + added[k])
            + plant.torque_by_kpa * (off_kpa[k - drawn] if k >= drawn else 0.0)
            + plant.torque_by_rpm * off_rpm[k]
            + noise_nm
        )
        off_rpm[k + 1] = off_rpm[k] + STEP_S * torque * RPM / plant.inertia_kg_m2
        # Half a step of each in turn keeps the scheme of second order where nothing is delayed.
        middle = 0.5 * (off_rpm[k] + off_rpm[k + 1])
        off_kpa[k + 1] = (off_kpa[k] * (1.0 - 0.5 * a * STEP_S) - STEP_S * b * middle) / (
            1.0 + 0.5 * a * STEP_S
        )
        if abs(off_rpm[k + 1]) > plant.rpm:
            off_rpm[k + 1 :] = np.nan
            added[k + 1 :] = np.nan
            break
    settled = off_rpm[count // 5 : -1]
    return IdleRun(
        time_s=np.linspace(0.0, (count - 1) * STEP_S, count),
        rpm=plant.rpm + off_rpm[:-1],
        advance_deg=plant.advance_deg + added,
        rpm_sigma=float(np.std(settled)),
        at_limit_percent=100.0 * at_limit / count,
    )


@dataclass(frozen=True)
class IdleTry:
    """One way to time an idle, and what it comes to; `sigma_rpm` is nan where it hunts."""

    reserve_deg: float
    gain_deg_per_100rpm: float
    slope_deg_per_100rpm: float
    stable: bool
    gain_margin: float
    phase_margin_deg: float
    sigma_rpm: float


TRIED_GAINS = (0.0, 5.0, 10.0, 20.0, 40.0)
"""Gains that are tried where nobody asks for another [deg/100 rpm]."""


def try_idle(plant: IdlePlant, reserve_deg: float, loop: IdleLoop) -> IdleTry:
    """Say what one way to time an idle comes to.

    Parameters
    ----------
    plant : IdlePlant
        The idling engine as it is planned.
    reserve_deg : float
        Degrees below best at which it is timed in this try [deg].
    loop : IdleLoop
        The timing that answers speed in this try.
    """
    margin = margin_of(plant, loop)
    return IdleTry(
        reserve_deg=reserve_deg,
        gain_deg_per_100rpm=loop.gain_deg_per_100rpm,
        slope_deg_per_100rpm=loop.slope_deg_per_100rpm,
        stable=margin.stable,
        gain_margin=margin.gain_margin,
        phase_margin_deg=margin.phase_margin_deg,
        sigma_rpm=sigma_rpm_of(plant, loop) if margin.stable else float("nan"),
    )
