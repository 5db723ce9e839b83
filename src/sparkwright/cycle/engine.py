"""The engine as the cycle sees it, and the charge it takes in at one speed and load.

Four frozen records hold the facts: ``Engine`` (metal), ``Air`` (what it breathes), ``Fuel``, and
``Constants`` (what was calibrated once for the whole program). ``charges_at`` turns them into the
kernel's charges, for any number of speeds and loads at once; ``charge_at`` does so for one.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from math import inf, log, pi
from threading import Lock
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import (
    cam,
    filling,
    fuel_air,
    gas,
    gas_fits,
    heat,
    kinematics,
    knock,
    laminar,
    mixing,
    octane,
    residual,
    turbulence,
)
from sparkwright.cycle.cam import ValveEvents
from sparkwright.cycle.chamber import Chamber, flame_table
from sparkwright.cycle.kernel import Charge, Charges, packed
from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]

HEAD_WALL_K = {"iron": 455.0, "aluminium": 435.0}
"""Mean wall temperature by head material [K]; recalled, about 20 K apart in practice."""

OVERLAP_LIFT_MM = 0.13
"""Tappet lift (0.005 in) from which a valve passes gas worth counting in the overlap [mm]; a choice, since
flanks drawn down to the seat make more overlap than lash and ramps leave."""

HEAT_FACTOR = 1.1
"""On Woschni's coefficient [-]; a choice within the tens of percent to which it is known."""

CREVICE_SHARE = 0.015
"""Gaps about rings, plug and gasket over the clearance volume [-]; Heywood (1988), sec. 8.6: 1 to 2 per cent
(recalled)."""

PORT_WALL_K = 365.0
"""Wall of a warm intake port and manifold [K]; recalled, about coolant temperature."""

INDICATED_BAR_PER_KPA = 0.09
"""Mean indicated pressure that a manifold pressure makes [bar/kPa]; recalled, about 9 bar at full load. Only
its fifth root counts, for the heat about top dead centre."""

EVAPORATED_SHARE = 0.5
"""Share of the fuel that takes its latent heat from the air rather than from hot walls [-]; recalled."""


def _require_above(owner: str, record: object, names: tuple[str, ...], floor: float = 0.0) -> None:
    for name in names:
        _require_all_above(f"{owner}.{name}", getattr(record, name), floor)


def _require_all_above(field: str, value: Numeric, floor: float = 0.0) -> None:
    """Refuse the first number that is not above a floor."""
    for each in value.tolist() if isinstance(value, np.ndarray) else (value,):
        if not each > floor:
            raise PhysicsError(field, each, f"must be above {floor:g}")


@dataclass(frozen=True)
class Engine:
    """One engine's metal.

    Parameters
    ----------
    chamber : Chamber
        Bore, stroke, compression ratio and chamber shape.
    cylinders : int
        Number of cylinders.
    rod_m : float
        Connecting rod, centre to centre [m].
    events : ValveEvents
        Valve events at a stated lift [crank deg].
    intake_seat_m, exhaust_seat_m : float
        Inner seat diameters [m].
    rocker_ratio : float
        Valve lift over lifter lift [-].
    head : str
        "iron" or "aluminium".
    swirl : float
        Factor on the turbulence of an ordinary engine [-], 1 for none.
    wall_heat : float
        Factor on the heat to the walls of an ordinary engine [-], 1 for none.

    Raises
    ------
    PhysicsError
        If a dimension is not above 0, the rod is shorter than the throw, or the head is unknown.

    Examples
    --------
    >>> engine = Engine(Chamber("wedge", 0.0996, 0.0919, 9.5), 8, 0.154,
    ...                 cam.events_from_durations(207.0, 213.0, 108.0, 111.5, 1.27), 0.0432, 0.0351)
    >>> round(engine.displacement_m3 * 1e6)  # cm3
    5728
    """

    chamber: Chamber
    cylinders: int
    rod_m: float
    events: ValveEvents
    intake_seat_m: float
    exhaust_seat_m: float
    rocker_ratio: float = 1.5
    head: str = "iron"
    swirl: float = 1.0
    wall_heat: float = 1.0

    def __post_init__(self) -> None:
        above_zero = ("cylinders", "intake_seat_m", "exhaust_seat_m", "rocker_ratio", "swirl", "wall_heat")
        _require_above("engine", self, above_zero)
        _require_above("engine", self, ("rod_m",), 0.5 * self.chamber.stroke_m)
        if self.head not in HEAD_WALL_K:
            raise PhysicsError("engine.head", self.head, "must be iron or aluminium")

    @cached_property
    def displaced_m3(self) -> float:
        """Displaced volume of one cylinder [m3]."""
        return float(kinematics.swept_volume_m3(self.chamber.bore_m, self.chamber.stroke_m))

    @cached_property
    def displacement_m3(self) -> float:
        """Displaced volume of the engine [m3]."""
        return self.cylinders * self.displaced_m3

    @cached_property
    def intake_closes_deg(self) -> float:
        """Where the charge counts as shut in [crank deg after the firing top dead centre]."""
        return cam.effective_intake_closing_deg(self.events)

    @cached_property
    def exhaust_opens_deg(self) -> float:
        """Where the exhaust valve leaves its seat in earnest [crank deg after the firing top dead centre]."""
        return 180.0 - self.events.at_lift(cam.EFFECTIVE_CLOSING_LIFT_MM).exhaust_opens_deg

    @cached_property
    def effective_events(self) -> ValveEvents:
        """Valve events where the valves pass charge worth counting."""
        return self.events.at_lift(cam.EFFECTIVE_CLOSING_LIFT_MM)

    @cached_property
    def overlap_window_m2_deg(self) -> float:
        """Area through both valves, summed over the overlap [m2 deg]."""
        return residual.overlap_window_m2_deg(
            self.events.at_lift(OVERLAP_LIFT_MM).overlap_deg,
            self.intake_seat_m,
            self.exhaust_seat_m,
            self.rocker_ratio,
        )

    def closing_pressure_ratio(self, speed_rpm: Numeric, constants: Constants) -> Numeric:
        """Pressure in the cylinder at intake closing over that in the manifold [-], at a speed or several."""
        shut = self.effective_events
        index = filling.mach_index(
            self.chamber.bore_m,
            self.intake_seat_m,
            kinematics.mean_piston_speed_m_s(self.chamber.stroke_m, speed_rpm),
            shut.intake_duration_deg,
        )
        return filling.closing_pressure_ratio(
            index, shut.intake_closes_deg, constants.closing_loss, constants.ram, constants.choking_index
        )

    def volume_m3(self, angle_deg: float) -> float:
        """Cylinder volume at a crank angle after top dead centre [m3]."""
        throw = 0.5 * self.chamber.stroke_m
        drop = kinematics.piston_drop_m(angle_deg, throw, self.rod_m)
        return self.chamber.clearance_m3 + pi / 4 * self.chamber.bore_m**2 * float(drop)


@dataclass(frozen=True)
class Air:
    """What the engine breathes.

    Parameters
    ----------
    ambient_kpa : float
        Outside pressure, absolute [kPa].
    intake_k : float or array
        Temperature of the air in the manifold before it meets the hot port [K]; an array where it differs
        from place to place.
    humidity_ratio : float
        Water over dry air [kg/kg].

    Raises
    ------
    PhysicsError
        If pressure or temperature is not above 0, or humidity is negative.

    Examples
    --------
    >>> Air(101.3, 298.15).humidity_ratio
    0.0
    """

    ambient_kpa: float
    intake_k: Numeric
    humidity_ratio: float = 0.0

    def __post_init__(self) -> None:
        _require_above("air", self, ("ambient_kpa", "intake_k"))
        if not self.humidity_ratio >= 0:
            raise PhysicsError("air.humidity_ratio", self.humidity_ratio, "must be 0 or above")


@dataclass(frozen=True)
class Fuel:
    """What the engine burns.

    Parameters
    ----------
    octane : float
        Research octane number [-]; of a primary reference fuel its octane number.
    ethanol_share_volume : float
        Ethanol in the liquid fuel [0 to 1].
    sensitivity : float
        Research less motor octane number [-]; 0 for a primary reference fuel.

    Raises
    ------
    PhysicsError
        If an octane number is not above 0, the sensitivity is below 0 or the share lies outside 0 to 1.

    Examples
    --------
    >>> Fuel(95.0, sensitivity=10.0).ethanol_share_volume
    0.0
    """

    octane: float
    ethanol_share_volume: float = 0.0
    sensitivity: float = 0.0

    def __post_init__(self) -> None:
        _require_above("fuel", self, ("octane",))
        if not 0 <= self.sensitivity < self.octane:
            raise PhysicsError(
                "fuel.sensitivity", self.sensitivity, "must be 0 or above, and below the octane"
            )
        if not 0 <= self.ethanol_share_volume <= 1:
            raise PhysicsError("fuel.ethanol_share_volume", self.ethanol_share_volume, "must be from 0 to 1")


@dataclass(frozen=True)
class Constants:
    """The program's calibrated constants, fitted together by ``scripts/calibrate.py`` from its targets.

    ``flame_gain`` and ``flame_growth`` belong to ``turbulence.growing_entrainment_m_s``, ``burn_up`` is a
    factor on the burn-up time of a Taylor microscale; ``closing_loss``, ``ram`` and ``choking_index`` belong
    to ``filling.closing_pressure_ratio``, ``overlap_discharge`` to ``residual.backflow_share``;
    ``knock_factor``, ``knock_pressure_exponent`` and ``knock_activation_k`` to
    ``knock.pivoted_induction_ms``; ``weighing_speed_k`` to ``octane.charge_heat_k``. ``research_heat_k`` and
    ``motor_heat_k`` are what that gives in the program's own two octane tests, and follow from the others.
    How firmly each is known stands in ``sparkwright.cycle.belief``.
    """

    flame_gain: float
    flame_growth: float
    burn_up: float
    closing_loss: float
    ram: float
    choking_index: float
    overlap_discharge: float
    knock_factor: float
    knock_pressure_exponent: float
    knock_activation_k: float
    weighing_speed_k: float
    research_heat_k: float
    motor_heat_k: float

    def __post_init__(self) -> None:
        _require_above("constants", self, tuple(field.name for field in fields(self)))


def exhaust_kpa(ambient_kpa: float, map_kpa: Numeric, mean_piston_speed_m_s: Numeric) -> Numeric:
    """Pressure in the exhaust port, mean over the stroke [kPa].

    Ambient plus a back pressure that grows with the square of the gas flow: 15 kPa at 100 kPa and
    16 m/s (recalled; an ordinary silenced system).

    Examples
    --------
    >>> exhaust_kpa(100.0, 100.0, 16.0)
    115.0
    """
    return ambient_kpa + 15.0 * (map_kpa / 100.0 * mean_piston_speed_m_s / 16.0) ** 2


def residual_k(mean_piston_speed_m_s: Numeric) -> Numeric:
    """Temperature of the residual gas as it meets the fresh charge [K].

    From about 830 K at idle to 1140 K at high speed (recalled; Heywood 1988, ch. 4 gives 900 to
    1400 K at full load).

    Examples
    --------
    >>> round(residual_k(8.8))
    1031
    """
    result: Numeric = 1200.0 - 450.0 * np.exp(-mean_piston_speed_m_s / 9.0)
    return result


def fresh_charge_k(intake_k: Numeric, mean_piston_speed_m_s: Numeric, cooling_k: Numeric) -> Numeric:
    """Temperature of the fresh charge after the warm port, less what the evaporating fuel takes [K].

    The air takes up part of the difference to the port wall, less of it the faster it passes
    (recalled; gives the 10 to 25 K at full load that are usual).

    Examples
    --------
    >>> round(fresh_charge_k(298.0, 8.8, 10.0), 1)
    299.2
    """
    taken_up = 0.35 / (1.0 + mean_piston_speed_m_s / 8.0)
    return intake_k + taken_up * (PORT_WALL_K - intake_k) - cooling_k


class _MixtureFits(NamedTuple):
    """One mixture's gas, fitted once: every property per kilogram is linear in the residual share.

    Of several mixtures each field is an array with the mixtures along its last axis.
    """

    fresh: FloatArray
    """Coefficients of the fresh charge's heat capacity, see ``gas_fits.unburned_coefficients``."""
    per_residual: FloatArray
    """What residual gas adds to them, for a share of 1."""
    gas_constant_j_kgk: Numeric
    gas_constant_per_residual: Numeric
    undiluted_j_kgk: Numeric
    """What fuel and dry air make of the fresh charge's gas constant; water vapour makes the rest."""
    water_share: Numeric
    """Mass of water vapour over that of the fresh charge."""
    latent_heat_j_kg_charge: Numeric
    unreleased_j_kg_charge: Numeric
    """Heat that an uneven mixture keeps, over the mass of the fresh charge."""
    pv_surface: FloatArray
    temperature_surface: FloatArray
    """Both with the powers of pressure along the first axis."""
    h_middle_j_kg: Numeric
    h_half_j_kg: Numeric
    lnp_middle: Numeric
    lnp_half: Numeric


_FITTING = Lock()  # so that two threads don't fit the same mixture side by side


def _mixture_fits(mixture_lambda: float, ethanol: float, humidity: float) -> _MixtureFits:
    """Give the fits of one mixture, made at its first use."""
    with _FITTING:
        return _fitted(mixture_lambda, ethanol, humidity)


@lru_cache(maxsize=256)
def _fitted(mixture_lambda: float, ethanol: float, humidity: float) -> _MixtureFits:
    phi = 1.0 / mixture_lambda
    fresh = gas.Mixture(phi, ethanol, 0.0, humidity)
    half = gas.Mixture(phi, ethanol, 0.5, humidity)
    fresh_coefficients = gas_fits.unburned_coefficients(fresh)
    constant = fresh.gas_constant_j_kgk
    fuel_to_air = phi / fuel_air.stoichiometric_air_fuel_ratio(ethanol)
    fuel_share = fuel_to_air / (1.0 + humidity + fuel_to_air)
    burned = gas_fits.burned_surface(phi, ethanol, humidity)
    return _MixtureFits(
        fresh=fresh_coefficients,
        per_residual=2.0 * (gas_fits.unburned_coefficients(half) - fresh_coefficients),
        gas_constant_j_kgk=constant,
        gas_constant_per_residual=2.0 * (half.gas_constant_j_kgk - constant),
        undiluted_j_kgk=(1.0 - fresh.diluent_mole_fraction) * constant,
        water_share=fresh.diluent_mass_fraction,
        latent_heat_j_kg_charge=fuel_share * fuel_air.latent_heat_j_kg(ethanol),
        unreleased_j_kg_charge=(1.0 - mixing.release_completeness(mixture_lambda))
        * heat_release_j_kg(ethanol, mixture_lambda),
        pv_surface=burned.pv_coefficients.T,
        temperature_surface=burned.temperature_coefficients.T,
        h_middle_j_kg=burned.enthalpy_middle_j_kg,
        h_half_j_kg=burned.enthalpy_half_j_kg,
        lnp_middle=burned.ln_pressure_middle,
        lnp_half=burned.ln_pressure_half,
    )


@lru_cache(maxsize=256)
def _stacked_fits(mixtures: tuple[float, ...], ethanol: float, humidity: float) -> _MixtureFits:
    """Give the fits of several mixtures in one record."""
    fits = [_mixture_fits(each, ethanol, humidity) for each in mixtures]
    return _MixtureFits(*(np.stack(column, axis=-1) for column in zip(*fits, strict=True)))


def _fits_at(mixture_lambda: FloatArray, ethanol: float, humidity: float) -> _MixtureFits:
    """Give the fits of each place's mixture; a map has few mixtures and many places."""
    mixtures = tuple(sorted(set(mixture_lambda.tolist())))
    fits = _stacked_fits(mixtures, ethanol, humidity)
    if len(mixtures) == 1:
        return fits
    place = np.searchsorted(mixtures, mixture_lambda)
    return _MixtureFits(*(np.asarray(column)[..., place] for column in fits))


def _blended_fits_at(mixture_lambda: FloatArray, ethanol: float, humidity: float) -> _MixtureFits:
    """Give the fits of mixtures between hundredths as straight lines between those of the hundredths.

    A hundredth has its own fit. So best and knock change without steps as a mixture does.
    """
    low = np.floor(100.0 * mixture_lambda + 1e-9) / 100.0
    part = np.clip(100.0 * (mixture_lambda - low), 0.0, 1.0)
    low, high = np.round(low, 2), np.round(low + 0.01, 2)
    below = _fits_at(low, ethanol, humidity)
    above = _fits_at(np.where(part > 0.0, high, low), ethanol, humidity)
    return _MixtureFits(
        *(
            (1.0 - part) * np.asarray(one) + part * np.asarray(other)
            for one, other in zip(below, above, strict=True)
        )
    )


def mixed_k(
    fits: _MixtureFits, residual_share: Numeric, fresh_k: Numeric, residual_gas_k: Numeric
) -> Numeric:
    """Temperature after fresh charge and residual have mixed at constant enthalpy [K]."""
    h = gas_fits.unburned_enthalpy_j_kg
    residual_coefficients = fits.fresh + fits.per_residual
    mixed = fits.fresh + residual_share * fits.per_residual
    wanted = (1.0 - residual_share) * h(fits.fresh, fresh_k) + residual_share * h(
        residual_coefficients, residual_gas_k
    )
    temperature = (1.0 - residual_share) * fresh_k + residual_share * residual_gas_k
    for _ in range(4):  # Newton's method; the enthalpy is nearly straight, two rounds would do
        temperature = temperature - (h(mixed, temperature) - wanted) / gas_fits.unburned_cp_j_kgk(
            mixed, temperature
        )
    return temperature


def octane_index(
    fuel: Fuel,
    constants: Constants,
    unburned: FloatArray,
    gas_constant_j_kgk: Numeric,
    closing_k: Numeric,
    closing_pa: Numeric,
    speed_rpm: Numeric,
) -> Numeric:
    """Octane number that counts in this charge: between research and motor, by how hot and fast it runs [-].

    Kalghatgi's index; the temperature at 15 bar is that of a compression without heat.
    """
    hot_k = gas_fits.unburned_isentropic_k(
        unburned, gas_constant_j_kgk, closing_k, octane.WEIGHING_PRESSURE_PA / closing_pa
    )
    weight = octane.motor_weight(
        octane.charge_heat_k(hot_k, speed_rpm, constants.weighing_speed_k),
        constants.research_heat_k,
        constants.motor_heat_k,
    )
    return octane.kalghatgi_octane_index(fuel.octane, fuel.octane - fuel.sensitivity, weight)


def heat_release_j_kg(ethanol_share_volume: float, mixture_lambda: float) -> float:
    """Heat that a kilogram of fresh charge can release, short of air if rich [J/kg].

    Examples
    --------
    >>> 2.7e6 < heat_release_j_kg(0.0, 1.0) < 2.8e6
    True
    """
    air_fuel = mixture_lambda * fuel_air.stoichiometric_air_fuel_ratio(ethanol_share_volume)
    return (
        fuel_air.lower_heating_value_j_kg(ethanol_share_volume) * min(1.0, mixture_lambda) / (1.0 + air_fuel)
    )


def _charge(
    engine: Engine,
    air: Air,
    fuel: Fuel,
    constants: Constants,
    fits: _MixtureFits,
    speed_rpm: Numeric,
    map_kpa: Numeric,
    mixture_lambda: Numeric,
) -> tuple[dict[str, Any], Numeric]:
    """Give the fields of `Charge` and the residual share, at a place or at several.

    Fresh charge and residual mix at constant enthalpy and are pressed together to what ``filling`` gives for
    the pressure at intake closing; ``residual`` has the burned gas, ``mixing`` the heat that an uneven
    mixture keeps.
    """
    chamber = engine.chamber
    piston_m2 = pi / 4 * chamber.bore_m**2
    piston_speed = kinematics.mean_piston_speed_m_s(chamber.stroke_m, speed_rpm)
    port_kpa = exhaust_kpa(air.ambient_kpa, map_kpa, piston_speed)
    cooling_k = (
        EVAPORATED_SHARE * fits.latent_heat_j_kg_charge / gas_fits.unburned_cp_j_kgk(fits.fresh, air.intake_k)
    )
    fresh_k = fresh_charge_k(air.intake_k, piston_speed, cooling_k)
    hot_k = residual_k(piston_speed)
    share = residual.bounded_share(
        residual.trapped_share(map_kpa, port_kpa, chamber.compression_ratio)
        + residual.backflow_share(
            engine.overlap_window_m2_deg,
            speed_rpm,
            map_kpa,
            port_kpa,
            hot_k,
            fresh_k,
            engine.displaced_m3,
            constants.overlap_discharge,
        )
    )
    pressing = engine.closing_pressure_ratio(speed_rpm, constants)
    closing_pa = 1e3 * pressing * map_kpa
    closing_k = filling.compressed_k(mixed_k(fits, share, fresh_k, hot_k), pressing)
    wall_k, crevice_m3 = HEAD_WALL_K[engine.head], CREVICE_SHARE * chamber.clearance_m3
    closing_m3 = engine.volume_m3(engine.intake_closes_deg) - crevice_m3
    constant = fits.gas_constant_j_kgk + share * fits.gas_constant_per_residual
    unburned = fits.fresh + share * fits.per_residual
    counted_octane = octane_index(fuel, constants, unburned, constant, closing_k, closing_pa, speed_rpm)
    mass_kg = closing_pa / constant * (closing_m3 / closing_k + crevice_m3 / wall_k)
    flame = laminar.diluted_flame(
        1.0 / mixture_lambda,
        fuel.ethanol_share_volume,
        1.0 - (1.0 - share) * fits.undiluted_j_kgk / constant,
        share + (1.0 - share) * fits.water_share,
    )
    # What stirs the flame carries heat as well; Woschni has a term of his own for swirl, to the same effect.
    stirring_m_s = heat.WOSCHNI_CLOSED_FACTOR * engine.swirl * piston_speed
    top_m_s = heat.huber_gas_velocity(engine.swirl * piston_speed, 1.0, INDICATED_BAR_PER_KPA * map_kpa)
    induction_ms = knock.pivoted_induction_ms(
        counted_octane,
        1.0,
        inf,
        constants.knock_factor,
        constants.knock_pressure_exponent,
        constants.knock_activation_k,
    ) * knock.mixture_factor(mixture_lambda)
    fields = {
        "crank_radius_m": 0.5 * chamber.stroke_m,
        "rod_m": engine.rod_m,
        "piston_m2": piston_m2,
        "clearance_m3": chamber.clearance_m3 - crevice_m3,
        "displaced_m3": engine.displaced_m3,
        "bore_m": chamber.bore_m,
        "fixed_wall_m2": piston_m2 * (1.0 + chamber.kind.head_area),
        "wall_k": wall_k,
        "crevice_m3": crevice_m3,
        "crevice_kg_pa": crevice_m3 / (constant * wall_k),
        "crevice_j_kg": gas_fits.unburned_enthalpy_j_kg(unburned, wall_k),
        "intake_closes_rad": engine.intake_closes_deg * pi / 180.0,
        "exhaust_opens_rad": engine.exhaust_opens_deg * pi / 180.0,
        "speed_rad_s": speed_rpm * pi / 30.0,
        "mean_piston_speed_m_s": piston_speed,
        "mass_kg": mass_kg,
        "gas_constant_j_kgk": constant,
        "closing_pa": closing_pa,
        "closing_k": closing_k,
        "closing_m3": closing_m3,
        "unburned": unburned.T,
        "pv_surface": fits.pv_surface.T,
        "temperature_surface": fits.temperature_surface.T,
        "h_middle_j_kg": fits.h_middle_j_kg,
        "h_half_j_kg": fits.h_half_j_kg,
        "lnp_middle": fits.lnp_middle,
        "lnp_half": fits.lnp_half,
        "flame_table": flame_table(chamber),
        "flame_alpha": flame.temperature_exponent,
        "flame_beta": flame.pressure_exponent,
        "length_m_root": turbulence.between_walls_length_m(chamber.bore_m, 1.0 / piston_m2),
        "burn_up": constants.burn_up,
        "intensity_m_s": turbulence.intake_intensity_m_s(piston_speed, engine.swirl),
        "flame_gain": constants.flame_gain,
        "flame_growth": constants.flame_growth,
        "unreleased_j_kg": (1.0 - share) * fits.unreleased_j_kg_charge,
        "gas_velocity_m_s": stirring_m_s,
        "top_velocity_m_s": top_m_s - stirring_m_s,
        "velocity_per_rise": heat.WOSCHNI_COMBUSTION_FACTOR
        * engine.displaced_m3
        * closing_k
        / (closing_pa * closing_m3),
        "ln_mass_r": np.log(mass_kg * constant),
        "ln_flame_speed": np.log(flame.speed_m_s(1.0, 1.0)),
        "ln_woschni": log(
            HEAT_FACTOR
            * engine.wall_heat
            * heat.woschni_original_heat_transfer_w_m2_k(chamber.bore_m, 1e-3, 1.0, 1.0)
        ),
        "ln_induction": np.log(1e-3 * induction_ms),
        "induction_exponent": constants.knock_pressure_exponent,
        "induction_k": constants.knock_activation_k,
    }
    return fields, share


def charges_at(
    engine: Engine,
    air: Air,
    fuel: Fuel,
    constants: Constants,
    *,
    speed_rpm: FloatArray,
    map_kpa: FloatArray,
    mixture_lambda: FloatArray,
    blended: bool = False,
) -> tuple[Charges, FloatArray]:
    """Charges of one cylinder at several places, and their residual mass shares.

    Parameters
    ----------
    engine, air, fuel, constants : records
        The facts.
    speed_rpm : array, shape (n,)
        Engine speed [rpm], above 0.
    map_kpa : array, shape (n,)
        Manifold pressure, absolute [kPa], above 0.
    mixture_lambda : array, shape (n,)
        Air over stoichiometric air [-], above 0.
    blended : bool
        Whether a mixture between hundredths takes its gas from those about it, and has no fit of its own.

    Returns
    -------
    Charges, shape (n,)
        What the kernel needs; each by itself, whatever stands beside it.
    array, shape (n,)
        Residual share of the charge by mass [-].

    Raises
    ------
    PhysicsError
        If a speed, pressure or mixture is not above 0.
    """
    _require_a_place(speed_rpm, map_kpa, mixture_lambda)
    fits_at = _blended_fits_at if blended else _fits_at
    fits = fits_at(mixture_lambda, fuel.ethanol_share_volume, air.humidity_ratio)
    fields, share = _charge(engine, air, fuel, constants, fits, speed_rpm, map_kpa, mixture_lambda)
    return packed(speed_rpm.size, **fields), np.asarray(share)


def charge_at(
    engine: Engine,
    air: Air,
    fuel: Fuel,
    constants: Constants,
    *,
    speed_rpm: float,
    map_kpa: float,
    mixture_lambda: float,
) -> tuple[Charge, float]:
    """Charge at one place, and its residual mass share.

    Facts and refusals as for `charges_at`; speed [rpm], manifold pressure [kPa] and mixture [-] are numbers.
    """
    _require_a_place(speed_rpm, map_kpa, mixture_lambda)
    fits = _mixture_fits(mixture_lambda, fuel.ethanol_share_volume, air.humidity_ratio)
    fields, share = _charge(engine, air, fuel, constants, fits, speed_rpm, map_kpa, mixture_lambda)
    plain: dict[str, Any] = {
        name: value if np.ndim(value) else float(value) for name, value in fields.items()
    }
    return Charge(**plain), float(share)


def _require_a_place(speed_rpm: Numeric, map_kpa: Numeric, mixture_lambda: Numeric) -> None:
    for name, value in (("speed_rpm", speed_rpm), ("map_kpa", map_kpa), ("mixture_lambda", mixture_lambda)):
        _require_all_above(name, value)
