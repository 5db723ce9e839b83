"""A reference engine cycle with a prescribed burn: small enough to prove, and to prove others by.

The burn follows a Wiebe function, the gas has one constant ratio of specific heats, and the wall either takes
nothing (`ideal_cycle`) or what Woschni's coefficient says (`wall_loss_cycle`). It predicts no burn: for
the cycle that does, see the kernel. Cycles run from bottom to bottom dead centre, -180 to 180 deg after
top dead centre, with the valves shut.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.heat import wall_area_m2, woschni_gas_velocity, woschni_heat_transfer_w_m2_k
from sparkwright.cycle.kinematics import SliderCrank, mean_piston_speed_m_s
from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]


def wiebe_burned_fraction(
    progress: Numeric, efficiency_factor: Numeric = 5.0, form_factor: Numeric = 2.0
) -> Numeric:
    """Give the burned mass fraction of a Wiebe burn: ``x = 1 - exp(-a y^(m+1))``.

    Parameters
    ----------
    progress
        y, the share of the burn's duration gone by [-]; below 0 nothing has burned.
    efficiency_factor
        a [-]; with 5, 99.3 % have burned at y = 1.
    form_factor
        m [-], above 0.

    Returns
    -------
    float or array
        Burned fraction [-], in the broadcast shape of the arguments.

    Notes
    -----
    Wiebe function; Heywood, Internal Combustion Engine Fundamentals (1988), ch. 9, with a = 5 and m = 2.

    Examples
    --------
    >>> round(float(wiebe_burned_fraction(0.5)), 4)
    0.4647
    """
    result: Numeric = 1.0 - np.exp(-efficiency_factor * np.maximum(progress, 0.0) ** (form_factor + 1.0))
    return result


def wiebe_burn_rate(
    progress: Numeric, efficiency_factor: Numeric = 5.0, form_factor: Numeric = 2.0
) -> Numeric:
    """Give the rate of a Wiebe burn: ``dx/dy = a (m+1) y^m exp(-a y^(m+1))``.

    Parameters
    ----------
    progress, efficiency_factor, form_factor
        As for `wiebe_burned_fraction`.

    Returns
    -------
    float or array
        Burned fraction per whole duration [-], in the broadcast shape of the arguments.

    Notes
    -----
    The exact derivative of `wiebe_burned_fraction`.

    Examples
    --------
    >>> round(float(wiebe_burn_rate(0.5)), 4)
    2.0072
    """
    burning = np.maximum(progress, 0.0)
    result: Numeric = (
        efficiency_factor
        * (form_factor + 1.0)
        * burning**form_factor
        * np.exp(-efficiency_factor * burning ** (form_factor + 1.0))
    )
    return result


def wiebe_progress(
    burned_fraction: Numeric, efficiency_factor: Numeric = 5.0, form_factor: Numeric = 2.0
) -> Numeric:
    """Give the share of the duration at which a fraction has burned: ``y = (-ln(1-x)/a)^(1/(m+1))``.

    Parameters
    ----------
    burned_fraction
        Burned fraction [-], from 0 to below 1.
    efficiency_factor, form_factor
        As for `wiebe_burned_fraction`.

    Returns
    -------
    float or array
        Share of the duration [-], in the broadcast shape of the arguments.

    Notes
    -----
    The inverse of `wiebe_burned_fraction`.

    Examples
    --------
    >>> round(float(wiebe_progress(0.5)), 4)
    0.5175
    """
    result: Numeric = (-np.log(1.0 - burned_fraction) / efficiency_factor) ** (1.0 / (form_factor + 1.0))
    return result


@dataclass(frozen=True)
class HeatRelease:
    """When and how the heat comes: a Wiebe burn that ends with its duration.

    What has not burned by then (0.7 % with a = 5) never does, so a cycle's efficiency counts it as lost.

    Parameters
    ----------
    start_deg
        Start of the burn after top dead centre [deg]; an array runs one cycle for each.
    duration_deg
        Duration of the burn [deg].
    efficiency_factor, form_factor
        a and m of the Wiebe function [-].

    Raises
    ------
    PhysicsError
        When the duration or a factor is not above 0.

    Examples
    --------
    >>> release = HeatRelease(start_deg=-20.0, duration_deg=40.0)
    >>> round(float(release.burned_fraction(0.0)), 4)
    0.4647
    """

    start_deg: Numeric
    duration_deg: float
    efficiency_factor: float = 5.0
    form_factor: float = 2.0

    def __post_init__(self) -> None:
        """Refuse a burn without an extent."""
        _require_above_zero(self, "duration_deg", "efficiency_factor", "form_factor")

    def burned_fraction(self, crank_deg: Numeric) -> Numeric:
        """Burned fraction at a crank angle [deg]."""
        progress = np.minimum((crank_deg - self.start_deg) / self.duration_deg, 1.0)
        return wiebe_burned_fraction(progress, self.efficiency_factor, self.form_factor)

    def rate_per_deg(self, crank_deg: Numeric) -> Numeric:
        """Burned fraction per crank degree at a crank angle [deg]; nothing burns after the duration."""
        progress = (crank_deg - self.start_deg) / self.duration_deg
        burning = wiebe_burn_rate(progress, self.efficiency_factor, self.form_factor) / self.duration_deg
        return np.where(progress <= 1.0, burning, 0.0)


@dataclass(frozen=True, eq=False)
class IdealCycle:
    """A cycle without wall loss, in units of the state at bottom dead centre.

    Arrays of results have the shape of the start of the burn; the trace has the crank angle first.

    Parameters
    ----------
    crank_deg
        Angles of the trace after top dead centre [deg].
    pressure_ratio
        Pressure over the first pressure [-].
    work_ratio
        Net work over first pressure times first volume [-].
    efficiency
        Net work over heat [-].
    peak_pressure_ratio, peak_deg
        Highest pressure of the trace [-] and its angle [deg], to half a step.

    Examples
    --------
    >>> cycle = ideal_cycle(HeatRelease(-20.0, 40.0), compression_ratio=10.0, gamma=1.4, heat_ratio=20.0)
    >>> round(float(cycle.efficiency), 3)
    0.592
    """

    crank_deg: FloatArray
    pressure_ratio: FloatArray
    work_ratio: FloatArray
    efficiency: FloatArray
    peak_pressure_ratio: FloatArray
    peak_deg: FloatArray


def ideal_cycle(
    release: HeatRelease,
    compression_ratio: float,
    gamma: float,
    heat_ratio: float,
    steps_per_deg: int = 4,
) -> IdealCycle:
    """Run the cycle of a burn in a cylinder with a very long rod and no wall loss.

    ``dP/dtheta = -gamma (P/V) dV/dtheta + (gamma - 1)(Q/V) dx/dtheta`` with
    ``V/V1 = [1 + (r - 1)(1 - cos theta)/2]/r``. What is integrated is the work, ``dW/dtheta = P dV/dtheta``,
    by the classical Runge-Kutta method of fourth order; the pressure follows from the energy left,
    ``P V/(gamma - 1) = P1 V1/(gamma - 1) + Q x - W``, which says the same and keeps its accuracy where the
    burn ends abruptly.

    Parameters
    ----------
    release
        The burn; an array of starts runs all of them.
    compression_ratio
        r [-], above 1.
    gamma
        Ratio of specific heats [-], above 1.
    heat_ratio
        Heat over first pressure times first volume [-], above 0.
    steps_per_deg
        Steps in a crank degree, 1 or more.

    Returns
    -------
    IdealCycle
        Traces and results.

    Raises
    ------
    PhysicsError
        When a number is outside what is said above.

    Notes
    -----
    The finite-heat-release problem of Ferguson and Kirkpatrick, Internal Combustion Engines: Applied
    Thermosciences.

    Examples
    --------
    >>> late = ideal_cycle(HeatRelease(0.0, 40.0), compression_ratio=10.0, gamma=1.4, heat_ratio=20.0)
    >>> round(float(late.efficiency), 3)
    0.552
    """
    _require_number_above("compression_ratio", compression_ratio, 1.0)
    _require_number_above("gamma", gamma, 1.0)
    _require_number_above("heat_ratio", heat_ratio, 0.0)
    starts_deg = np.asarray(release.start_deg, dtype=np.float64)
    half_stroke_ratio = 0.5 * (compression_ratio - 1.0) / compression_ratio
    radians = np.pi / 180.0

    def volume_ratio(crank_deg: float | FloatArray) -> Numeric:
        result: Numeric = 1.0 / compression_ratio + half_stroke_ratio * (1.0 - np.cos(radians * crank_deg))
        return result

    def pressure_ratio(crank_deg: float | FloatArray, work: FloatArray) -> FloatArray:
        heat = heat_ratio * release.burned_fraction(crank_deg)
        return np.asarray((1.0 + (gamma - 1.0) * (heat - work)) / volume_ratio(crank_deg))

    def slopes(crank_deg: float, state: FloatArray) -> FloatArray:
        volume_slope = half_stroke_ratio * np.sin(radians * crank_deg) * radians
        return np.asarray(pressure_ratio(crank_deg, state) * volume_slope)

    crank_deg, work = _run_a_turn(slopes, np.zeros_like(starts_deg), steps_per_deg)
    pressures = pressure_ratio(_one_row_each(crank_deg, starts_deg), work)
    return IdealCycle(
        crank_deg=crank_deg,
        pressure_ratio=pressures,
        work_ratio=work[-1],
        efficiency=np.asarray(work[-1] / heat_ratio),
        peak_pressure_ratio=np.max(pressures, axis=0),
        peak_deg=crank_deg[np.argmax(pressures, axis=0)],
    )


@dataclass(frozen=True)
class ClosedCharge:
    """The charge shut in at bottom dead centre, and what it meets.

    Parameters
    ----------
    pressure_kpa, temperature_k
        State at -180 deg [kPa, K].
    heat_j_kg
        Heat of a whole burn per mass of charge [J/kg].
    speed_rpm
        Engine speed [rpm].
    wall_k
        Wall temperature [K].
    gamma
        Ratio of specific heats [-], above 1.
    gas_constant_j_kg_k
        Gas constant [J/(kg K)].

    Raises
    ------
    PhysicsError
        When a number is not above 0, or gamma not above 1.

    Examples
    --------
    >>> ClosedCharge(100.0, 350.0, 2.5e6, 2000.0, 450.0, gamma=1.33, gas_constant_j_kg_k=287.0).gamma
    1.33
    """

    pressure_kpa: float
    temperature_k: float
    heat_j_kg: float
    speed_rpm: float
    wall_k: float
    gamma: float
    gas_constant_j_kg_k: float

    def __post_init__(self) -> None:
        """Refuse a charge that cannot be."""
        _require_above_zero(self, *(field.name for field in fields(self)))
        _require_number_above("gamma", self.gamma, 1.0)


@dataclass(frozen=True, eq=False)
class WallLossCycle:
    """A cycle with heat lost to the wall.

    Arrays of results have the shape of the start of the burn; the trace has the crank angle first.

    Parameters
    ----------
    crank_deg
        Angles of the trace after top dead centre [deg].
    pressure_kpa
        Cylinder pressure [kPa].
    mean_pressure_bar
        Net work from -180 to 180 deg over displaced volume [bar].
    heat_loss_share
        Heat lost to the wall over the heat of a whole burn [-].
    peak_pressure_bar, peak_deg
        Highest pressure of the trace [bar] and its angle [deg], to half a step.

    Examples
    --------
    >>> cylinder = SliderCrank(bore_m=0.08, stroke_m=0.08, rod_m=0.14, compression_ratio=9.0)
    >>> charge = ClosedCharge(95.0, 350.0, 2.5e6, 2500.0, 450.0, gamma=1.33, gas_constant_j_kg_k=287.0)
    >>> cycle = wall_loss_cycle(HeatRelease(-15.0, 50.0), cylinder, charge, steps_per_deg=1)
    >>> bool(0.1 < cycle.heat_loss_share < 0.25)
    True
    """

    crank_deg: FloatArray
    pressure_kpa: FloatArray
    mean_pressure_bar: FloatArray
    heat_loss_share: FloatArray
    peak_pressure_bar: FloatArray
    peak_deg: FloatArray


def wall_loss_cycle(
    release: HeatRelease, cylinder: SliderCrank, charge: ClosedCharge, steps_per_deg: int = 4
) -> WallLossCycle:
    """Run the cycle of a burn in a real cylinder whose walls take what Woschni's coefficient says.

    As `ideal_cycle`, with ``dQ_wall/dt = h A (T - T_wall)``; A is two piston areas and the wall between them,
    h Woschni's coefficient with the exponent -0.55, and the combustion part of its gas velocity counts from
    the start of the burn, with the isentropic pressure of the charge as the motored one.

    Parameters
    ----------
    release
        The burn; an array of starts runs all of them.
    cylinder
        Geometry, without pin offset.
    charge
        The charge at -180 deg, speed and wall.
    steps_per_deg
        Steps in a crank degree, 1 or more.

    Returns
    -------
    WallLossCycle
        Traces and results.

    Raises
    ------
    PhysicsError
        When the steps are less than 1.

    Notes
    -----
    Woschni, SAE 670931 (1967), in the form of Heywood (1988), ch. 12, on the reference problem above.

    Examples
    --------
    >>> cylinder = SliderCrank(bore_m=0.08, stroke_m=0.08, rod_m=0.14, compression_ratio=9.0)
    >>> charge = ClosedCharge(95.0, 350.0, 2.5e6, 2500.0, 450.0, gamma=1.33, gas_constant_j_kg_k=287.0)
    >>> early_and_late = HeatRelease(np.array([-15.0, 5.0]), 50.0)
    >>> cycle = wall_loss_cycle(early_and_late, cylinder, charge, steps_per_deg=1)
    >>> bool(cycle.mean_pressure_bar[0] > cycle.mean_pressure_bar[1])
    True
    """
    starts_deg = np.asarray(release.start_deg, dtype=np.float64)
    gamma = charge.gamma
    first_pressure_pa = 1000.0 * charge.pressure_kpa
    first_volume_m3 = float(cylinder.volume_m3(-180.0))
    mass_kg = first_pressure_pa * first_volume_m3 / (charge.gas_constant_j_kg_k * charge.temperature_k)
    heat_j = charge.heat_j_kg * mass_kg
    first_energy_j = first_pressure_pa * first_volume_m3 / (gamma - 1.0)
    piston_speed_m_s = mean_piston_speed_m_s(cylinder.stroke_m, charge.speed_rpm)
    seconds_per_deg = 1.0 / (6.0 * charge.speed_rpm)

    def pressure_at(crank_deg: Numeric, volume_m3: Numeric, spent_j: FloatArray) -> FloatArray:
        energy_j = first_energy_j + heat_j * release.burned_fraction(crank_deg) - spent_j
        return np.asarray((gamma - 1.0) * energy_j / volume_m3)

    def wall_loss_j_per_deg(crank_deg: float, volume_m3: float, pressure_pa: FloatArray) -> FloatArray:
        temperature_k = pressure_pa * volume_m3 / (mass_kg * charge.gas_constant_j_kg_k)
        motored_pa = first_pressure_pa * (first_volume_m3 / volume_m3) ** gamma
        rise_kpa = np.where(crank_deg > starts_deg, (pressure_pa - motored_pa) / 1000.0, 0.0)
        velocity_m_s = woschni_gas_velocity(
            piston_speed_m_s,
            rise_kpa,
            cylinder.displaced_volume_m3,
            charge.temperature_k,
            charge.pressure_kpa,
            first_volume_m3,
        )
        coefficient = woschni_heat_transfer_w_m2_k(
            cylinder.bore_m, pressure_pa / 1000.0, temperature_k, velocity_m_s
        )
        area_m2 = wall_area_m2(cylinder.bore_m, volume_m3)
        return np.asarray(coefficient * area_m2 * (temperature_k - charge.wall_k) * seconds_per_deg)

    def slopes(crank_deg: float, state: FloatArray) -> FloatArray:
        volume_m3 = float(cylinder.volume_m3(crank_deg))
        pressure_pa = pressure_at(crank_deg, volume_m3, state[0] + state[1])
        volume_slope = cylinder.volume_slope_m3_per_rad(crank_deg) * (np.pi / 180.0)
        return np.array([pressure_pa * volume_slope, wall_loss_j_per_deg(crank_deg, volume_m3, pressure_pa)])

    crank_deg, states = _run_a_turn(slopes, np.zeros((2, *starts_deg.shape)), steps_per_deg)
    work_j, loss_j = states[:, 0], states[:, 1]
    angles_deg = _one_row_each(crank_deg, starts_deg)
    pressure_kpa = pressure_at(angles_deg, cylinder.volume_m3(angles_deg), work_j + loss_j) / 1000.0
    return WallLossCycle(
        crank_deg=crank_deg,
        pressure_kpa=pressure_kpa,
        mean_pressure_bar=np.asarray(work_j[-1] / cylinder.displaced_volume_m3 / 1e5),
        heat_loss_share=np.asarray(loss_j[-1] / heat_j),
        peak_pressure_bar=np.asarray(np.max(pressure_kpa, axis=0) / 100.0),
        peak_deg=crank_deg[np.argmax(pressure_kpa, axis=0)],
    )


def _run_a_turn(
    slopes: Callable[[float, FloatArray], FloatArray], start: FloatArray, steps_per_deg: int
) -> tuple[FloatArray, FloatArray]:
    """Carry a state from -180 to 180 deg by the classical fourth-order Runge-Kutta method."""
    if steps_per_deg < 1:
        raise PhysicsError("steps_per_deg", steps_per_deg, "must be 1 or more")
    crank_deg = np.linspace(-180.0, 180.0, 360 * steps_per_deg + 1)
    step_deg = 1.0 / steps_per_deg
    states = np.empty((crank_deg.size, *start.shape))
    states[0] = start
    for index, angle_deg in enumerate(crank_deg[:-1]):
        state = states[index]
        first = slopes(angle_deg, state)
        second = slopes(angle_deg + 0.5 * step_deg, state + 0.5 * step_deg * first)
        third = slopes(angle_deg + 0.5 * step_deg, state + 0.5 * step_deg * second)
        fourth = slopes(angle_deg + step_deg, state + step_deg * third)
        states[index + 1] = state + step_deg / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
    return crank_deg, states


def _one_row_each(crank_deg: FloatArray, starts_deg: FloatArray) -> FloatArray:
    """Stand the angles of a trace upright, so that they meet every start of the burn."""
    return crank_deg.reshape(-1, *(1,) * starts_deg.ndim)


def _require_number_above(field: str, value: float, floor: float) -> None:
    """Refuse a value that is not a number above a floor."""
    if not (isfinite(value) and value > floor):
        raise PhysicsError(field, value, f"must be above {floor:g}")


def _require_above_zero(record: object, *names: str) -> None:
    """Refuse a record with a named value that is not above 0."""
    for name in names:
        _require_number_above(name, getattr(record, name), 0.0)
