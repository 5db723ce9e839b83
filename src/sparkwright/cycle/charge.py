"""The charge that an engine takes in at one speed and load, as the kernel takes it.

``charges_at`` makes it of engine, air, fuel and the program's constants, for any number of speeds and loads
at once; ``charge_at`` does so for one.
"""

from __future__ import annotations

from math import inf, log, pi
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import (
    filling,
    gas_fits,
    heat,
    kinematics,
    knock,
    laminar,
    octane,
    residual,
    turbulence,
)
from sparkwright.cycle.chamber import PISTON_NODES, SHARE_NODES, flame_table
from sparkwright.cycle.engine import HEAD_WALL_K, Air, Constants, Engine, Fuel, require_all_above
from sparkwright.cycle.mixture_fits import MixtureFits, fits_at, mixture_fits
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]

HEAT_FACTOR = 1.1
"""On Woschni's coefficient [-]; a choice within the tens of percent to which it is known."""

CREVICE_SHARE = 0.015
"""Gaps about rings, plug and gasket over the clearance volume [-]; Heywood (1988), sec. 8.6: 1 to 2 per cent
(recalled)."""

INDICATED_BAR_PER_KPA = 0.09
"""Mean indicated pressure that a manifold pressure makes [bar/kPa]; recalled, about 9 bar at full load. Only
its fifth root counts, for the heat about top dead centre."""

EVAPORATED_SHARE = 0.5
"""Share of the fuel that takes its latent heat from the air rather than from hot walls [-]; recalled."""


class Charge(NamedTuple):
    """Everything the cycle needs to know about one cylinder at one speed, load and mixture (SI)."""

    crank_radius_m: float
    rod_m: float
    piston_m2: float
    clearance_m3: float
    displaced_m3: float
    bore_m: float
    fixed_wall_m2: float
    """Head and piston crown."""
    wall_k: float
    crevice_m3: float
    """Gaps about rings and gasket, not counted in ``clearance_m3``."""
    crevice_kg_pa: float
    """Charge that the crevices hold for each pascal, at the temperature of the wall."""
    crevice_j_kg: float
    """Enthalpy of the unburned charge at the temperature of the wall."""
    intake_closes_rad: float
    exhaust_opens_rad: float
    speed_rad_s: float
    mean_piston_speed_m_s: float
    mass_kg: float
    gas_constant_j_kgk: float
    """Of the unburned charge."""
    closing_pa: float
    closing_k: float
    closing_m3: float
    unburned: FloatArray
    """``sparkwright.cycle.gas.unburned_coefficients`` of the charge."""
    pv_surface: FloatArray
    temperature_surface: FloatArray
    h_middle_j_kg: float
    h_half_j_kg: float
    lnp_middle: float
    lnp_half: float
    flame_table: FloatArray
    flame_alpha: float
    flame_beta: float
    length_m_root: float
    """Integral length over the root of the cylinder volume [m^-1/2]."""
    burn_up: float
    intensity_m_s: float
    """Turbulence intensity, the same all through the burn."""
    flame_gain: float
    flame_growth: float
    """Of the entrainment speed, ``sparkwright.cycle.turbulence.growing_entrainment_m_s``."""
    unreleased_j_kg: float
    """Heat that each kilogram burned keeps, since the mixture isn't the same everywhere."""
    gas_velocity_m_s: float
    """Of Woschni, before any burn."""
    top_velocity_m_s: float
    """More of it with the piston at top dead centre, after Huber, Woschni and Zeilinger (1990)."""
    velocity_per_rise: float
    """More of it for each pascal of pressure rise, where that is the greater [m/(s Pa)]."""
    ln_mass_r: float
    """Logarithm of mass times gas constant [J/K]."""
    ln_flame_speed: float
    """Logarithm of the laminar speed extrapolated to 1 K and 1 Pa [m/s]."""
    ln_woschni: float
    """Logarithm of Woschni's coefficient at 1 K, 1 Pa and 1 m/s [W/(m2 K)]."""
    ln_induction: float
    """Logarithm of the induction time at 1 Pa and infinite temperature [s]."""
    induction_exponent: float
    """Of the pressure in the induction time [-]."""
    induction_k: float
    """Activation temperature of the induction time [K]."""


_SURFACE = (gas_fits.ENTHALPY_DEGREE + 1, gas_fits.PRESSURE_DEGREE + 1)
_SHAPES = {
    "unburned": (gas_fits.UNBURNED_DEGREE + 2,),
    "pv_surface": _SURFACE,
    "temperature_surface": _SURFACE,
    "flame_table": (PISTON_NODES, SHARE_NODES),
}
CHARGE = np.dtype([(name, np.float64, _SHAPES.get(name, ())) for name in Charge._fields])
"""A `Charge` as a NumPy record, of which compiled code takes any number at once."""


Charges: TypeAlias = NDArray[np.void]
"""Records of `CHARGE`, each of which compiled code takes for a `Charge`."""


def packed(places: int, **fields: Numeric) -> Charges:
    """Pack charges into records, from the fields of `Charge`.

    Each is one value for all places, or has one for each place along its first axis.

    Parameters
    ----------
    places : int
        How many charges.
    **fields : float or array
        Each field of `Charge`, in its own unit; the first axis of an array of ``places`` counts them.
    """
    charges = np.empty(places, CHARGE)
    for name in Charge._fields:
        charges[name] = fields[name]
    return charges


def exhaust_kpa(ambient_kpa: float, map_kpa: Numeric, mean_piston_speed_m_s: Numeric) -> Numeric:
    """Pressure in the exhaust port, mean over the stroke [kPa].

    Ambient plus a back pressure that grows with the square of the gas flow: 15 kPa at 100 kPa and
    16 m/s (recalled; an ordinary silenced system).

    Parameters
    ----------
    ambient_kpa : float
        Air outside [kPa].
    map_kpa : float or array
        Manifold pressure, absolute [kPa].
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].

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

    Parameters
    ----------
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].

    Examples
    --------
    >>> round(residual_k(8.8))
    1031
    """
    result: Numeric = 1200.0 - 450.0 * np.exp(-mean_piston_speed_m_s / 9.0)
    return result


def mixed_k(fits: MixtureFits, residual_share: Numeric, fresh_k: Numeric, residual_gas_k: Numeric) -> Numeric:
    """Temperature after fresh charge and residual have mixed at constant enthalpy [K].

    Parameters
    ----------
    fits : MixtureFits
        Heat capacities of fresh charge and residual.
    residual_share : float or array
        Residual over the whole charge, by mass [-].
    fresh_k, residual_gas_k : float or array
        Temperatures before they mix [K].

    Notes
    -----
    First principles: enthalpy stays.
    """
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

    Parameters
    ----------
    fuel : Fuel
        Research octane number and sensitivity.
    constants : Constants
        Heat at which the research and the motor method count.
    unburned : array
        Coefficients of `unburned_coefficients`; of several charges along the second axis.
    gas_constant_j_kgk : float or array
        Of the charge [J/(kg K)].
    closing_k, closing_pa : float or array
        The charge at intake closing [K, Pa].
    speed_rpm : float or array
        Engine speed [rpm].

    Notes
    -----
    Kalghatgi (2001), as in `kalghatgi_octane_index`; how heat and speed weigh the two methods is our choice.
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


def _charge(
    engine: Engine,
    air: Air,
    fuel: Fuel,
    constants: Constants,
    fits: MixtureFits,
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
    fresh_k = filling.fresh_charge_k(
        air.intake_k, piston_speed, cooling_k, filling.PORT_WALL_K + engine.warmer_k
    )
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
    wall_k = HEAD_WALL_K[engine.head] + engine.warmer_k
    crevice_m3 = CREVICE_SHARE * chamber.clearance_m3
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

    Notes
    -----
    Puts together the formulas of filling, residual, mixing and octane, each with its own source; how they are
    put together is our choice.
    """
    _require_a_place(speed_rpm, map_kpa, mixture_lambda)
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

    Parameters
    ----------
    engine, air, fuel, constants : records
        The facts.
    speed_rpm : float
        Engine speed [rpm], above 0.
    map_kpa : float
        Manifold pressure, absolute [kPa], above 0.
    mixture_lambda : float
        Air over stoichiometric air [-], above 0.

    Notes
    -----
    As for `charges_at`; our choice.
    """
    _require_a_place(speed_rpm, map_kpa, mixture_lambda)
    fits = mixture_fits(mixture_lambda, fuel.ethanol_share_volume, air.humidity_ratio)
    fields, share = _charge(engine, air, fuel, constants, fits, speed_rpm, map_kpa, mixture_lambda)
    plain: dict[str, Any] = {
        name: value if np.ndim(value) else float(value) for name, value in fields.items()
    }
    return Charge(**plain), float(share)


def _require_a_place(speed_rpm: Numeric, map_kpa: Numeric, mixture_lambda: Numeric) -> None:
    for name, value in (("speed_rpm", speed_rpm), ("map_kpa", map_kpa), ("mixture_lambda", mixture_lambda)):
        require_all_above(name, value)
