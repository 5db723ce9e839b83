"""The charge before the flame and the gas behind it.

Three things are computed here, all for ideal-gas mixtures of `sparkwright.cycle.species`:

* `Mixture`: what is in the cylinder before the spark (fuel vapour, air, its moisture, residual gas);
* the adiabatic flame: that charge burned to equilibrium (`sparkwright.cycle.equilibrium`), losing no heat;
* `unburned_coefficients` and `burned_surface`: both gases as plain polynomials, for the cycle kernel.

Gasoline is stood for by iso-octane vapour, ethanol by itself. Air is the dry air of the standard atmosphere
unless another `DryAir` is given.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import log
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparkwright.cycle.equilibrium import Elements, burned_gas, burned_temperature_k, cooled_products
from sparkwright.cycle.kept import kept_table
from sparkwright.cycle.species import (
    ARGON,
    ATOMS,
    CO2,
    ETHANOL,
    GAS_CONSTANT_J_MOL_K,
    H2O,
    HIGHEST_TEMPERATURE_K,
    ISO_OCTANE,
    LOWEST_TEMPERATURE_K,
    MOLAR_MASSES_KG_MOL,
    N2,
    O2,
    SPECIES,
    FloatArray,
    mole_sum,
    species_cp_over_r,
    species_h_over_rt,
    species_s_over_r,
)
from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

#: Density of gasoline, kg/m3. EN 228 allows 720-775 at 15 C; 740 with a molar mass of 105 g/mol gives the
#: ethanol mole fractions of Anderson et al. (2010).
GASOLINE_DENSITY_KG_M3: Final = 740.0

#: Density of ethanol at 20 C, kg/m3 (handbook value, recalled).
ETHANOL_DENSITY_KG_M3: Final = 789.0

#: Heat of vaporisation at 298 K, J/kg: iso-octane 35.1 kJ/mol, ethanol 42.3 kJ/mol (Majer and Svoboda 1985,
#: recalled). Pump gasolines lie between about 300 and 380 kJ/kg.
ISO_OCTANE_LATENT_HEAT_J_KG: Final = 35.1e3 / 114.232e-3
ETHANOL_LATENT_HEAT_J_KG: Final = 42.3e3 / 46.069e-3

REFERENCE_TEMPERATURE_K: Final = 298.15

#: Temperatures over which `unburned_coefficients` fits the heat capacity, K.
UNBURNED_FIT_K: Final = (250.0, 1300.0)

#: What `burned_surface` covers: from the coldest gas to the highest enthalpy, and the pressures.
COLDEST_BURNED_K: Final = 600.0
HIGHEST_BURNED_ENTHALPY_J_KG: Final = 1.6e6
BURNED_SURFACE_PRESSURE_PA: Final = (0.3e5, 200.0e5)

_HIGHEST_PHI: Final = 2.5
_HIGHEST_HUMIDITY_RATIO: Final = 0.2
_MOST_ITERATIONS: Final = 80
UNBURNED_DEGREE: Final = 5
ENTHALPY_DEGREE: Final = 10
PRESSURE_DEGREE: Final = 4


# --------------------------------------------------------------------------------------------- dry air


@dataclass(frozen=True)
class DryAir:
    """What air is made of when its moisture is left out.

    Attributes
    ----------
    oxygen, nitrogen, argon, carbon_dioxide
        Parts by mole, or by volume; only their ratios count [-].

    Examples
    --------
    >>> round(1000 * STANDARD_AIR.molar_mass_kg_mol, 3)
    28.965
    """

    oxygen: float
    nitrogen: float
    argon: float = 0.0
    carbon_dioxide: float = 0.0

    @cached_property
    def moles_mol_kg(self) -> FloatArray:
        """Species in one kilogram [mol/kg], shape (13,), in the order of `SPECIES`."""
        parts = np.zeros(len(SPECIES))
        parts[[O2, N2, ARGON, CO2]] = self.oxygen, self.nitrogen, self.argon, self.carbon_dioxide
        return parts / float(parts @ MOLAR_MASSES_KG_MOL)

    @property
    def molar_mass_kg_mol(self) -> float:
        """Molar mass [kg/mol]."""
        return 1.0 / float(self.moles_mol_kg.sum())


#: Clean dry air: U.S. Standard Atmosphere 1976, table 3 (recalled). The table's other gases, neon before all,
#: make up 0.003 % and are left out; its 314 ppm of carbon dioxide have since grown past 400.
STANDARD_AIR: Final = DryAir(oxygen=0.209476, nitrogen=0.78084, argon=0.00934, carbon_dioxide=0.000314)

#: Air as textbooks and tables of flames simplify it.
OXYGEN_AND_3_76_NITROGEN: Final = DryAir(oxygen=1.0, nitrogen=3.76)


# --------------------------------------------------------------------------------------------- the fuel


def ethanol_mass_share(ethanol_share_volume: float) -> float:
    """Mass share of ethanol in a liquid blend given by its volume share.

    Parameters
    ----------
    ethanol_share_volume
        Volume of ethanol over volume of the parts before mixing [-], 0 to 1.

    Returns
    -------
    float
        Mass of ethanol over mass of blend [-].

    Examples
    --------
    >>> round(ethanol_mass_share(0.10), 4)
    0.1059
    """
    ethanol_kg = ethanol_share_volume * ETHANOL_DENSITY_KG_M3
    gasoline_kg = (1.0 - ethanol_share_volume) * GASOLINE_DENSITY_KG_M3
    return ethanol_kg / (ethanol_kg + gasoline_kg)


def _fuel_moles_mol_kg(ethanol_share_volume: float) -> FloatArray:
    """Species in one kilogram of fuel [mol/kg]."""
    share = ethanol_mass_share(ethanol_share_volume)
    moles = np.zeros(len(SPECIES))
    moles[ISO_OCTANE] = (1.0 - share) / MOLAR_MASSES_KG_MOL[ISO_OCTANE]
    moles[ETHANOL] = share / MOLAR_MASSES_KG_MOL[ETHANOL]
    return moles


@lru_cache(maxsize=64)
def stoichiometric_air_fuel_ratio(ethanol_share_volume: float = 0.0, air: DryAir = STANDARD_AIR) -> float:
    """Mass of dry air that burns one kilogram of fuel completely.

    Parameters
    ----------
    ethanol_share_volume
        Volume share of ethanol in the liquid fuel [-], 0 to 1; the rest is iso-octane.
    air
        What the dry air is made of.

    Returns
    -------
    float
        Air-fuel ratio [kg/kg].

    Notes
    -----
    Stoichiometry: C8H18 + 12.5 O2 and C2H5OH + 3 O2.

    Examples
    --------
    Heywood (1988), table D.4, gives 15.13 for iso-octane and 9.00 for ethanol:

    >>> round(stoichiometric_air_fuel_ratio(), 2), round(stoichiometric_air_fuel_ratio(1.0), 2)
    (15.13, 9.0)
    """
    return float(_oxygen_needed_mol(_fuel_moles_mol_kg(ethanol_share_volume)) / air.moles_mol_kg[O2])


def _oxygen_needed_mol(fuel_moles: FloatArray) -> float:
    """Oxygen that burns this much fuel completely [mol]."""
    carbon, hydrogen, oxygen, *_ = fuel_moles @ ATOMS
    return float(carbon + hydrogen / 4.0 - oxygen / 2.0)


def latent_heat_j_kg(ethanol_share_volume: float = 0.0) -> float:
    """Heat that evaporates one kilogram of fuel at 298 K [J/kg], linear in mass.

    Parameters
    ----------
    ethanol_share_volume
        Volume share of ethanol in the liquid fuel [-], 0 to 1.

    Returns
    -------
    float
        Heat of vaporisation [J/kg]; iso-octane and ethanol after Majer and Svoboda (1985), recalled.

    Examples
    --------
    >>> round(latent_heat_j_kg() / 1000), round(latent_heat_j_kg(1.0) / 1000)
    (307, 918)
    """
    share = ethanol_mass_share(ethanol_share_volume)
    return share * ETHANOL_LATENT_HEAT_J_KG + (1.0 - share) * ISO_OCTANE_LATENT_HEAT_J_KG


@lru_cache(maxsize=64)
def lower_heating_value_j_kg(ethanol_share_volume: float = 0.0) -> float:
    """Heat that one kilogram of liquid fuel gives at 298.15 K, its water leaving as vapour.

    Parameters
    ----------
    ethanol_share_volume
        Volume share of ethanol in the liquid fuel [-], 0 to 1.

    Returns
    -------
    float
        Lower heating value of the liquid [J/kg]: of the vapour, from the heats of formation of
        NASA TM-4513, less the heat of vaporisation.

    Examples
    --------
    Heywood (1988), table D.4, gives 44.3 MJ/kg for iso-octane and 26.9 MJ/kg for ethanol:

    >>> round(lower_heating_value_j_kg() / 1e6, 1), round(lower_heating_value_j_kg(1.0) / 1e6, 1)
    (44.3, 26.8)
    """
    fuel = _fuel_moles_mol_kg(ethanol_share_volume)
    carbon, hydrogen, *_ = fuel @ ATOMS
    change = fuel.copy()
    change[O2] = _oxygen_needed_mol(fuel)
    change[CO2] -= carbon
    change[H2O] -= hydrogen / 2.0
    enthalpies_j_mol = (
        GAS_CONSTANT_J_MOL_K * REFERENCE_TEMPERATURE_K * species_h_over_rt(REFERENCE_TEMPERATURE_K)
    )
    return float(change @ enthalpies_j_mol) - latent_heat_j_kg(ethanol_share_volume)


def ethanol_energy_share(ethanol_share_volume: float) -> float:
    """Share of a blend's lower heating value that its ethanol brings.

    Parameters
    ----------
    ethanol_share_volume
        Volume share of ethanol in the liquid fuel [-], 0 to 1.

    Returns
    -------
    float
        Share of the energy [-].

    Examples
    --------
    >>> round(ethanol_energy_share(0.85), 2)
    0.79
    """
    ethanol_j_kg = ethanol_mass_share(ethanol_share_volume) * lower_heating_value_j_kg(1.0)
    return ethanol_j_kg / lower_heating_value_j_kg(ethanol_share_volume)


# ---------------------------------------------------------------------------------- the unburned charge


@dataclass(frozen=True)
class Mixture:
    """The charge before the flame: fuel vapour, moist air and residual gas of the same mixture.

    Attributes
    ----------
    phi
        Fuel-air equivalence ratio of the fresh charge [-], 0 (air alone) to 2.5; above 1 is rich.
    ethanol_share_volume
        Volume share of ethanol in the liquid fuel [-], 0 to 1; the rest is iso-octane.
    residual_mass_fraction
        Mass of residual gas over mass of charge [-], 0 to below 1.
    humidity_ratio
        Water vapour over dry air in the intake air [kg/kg], 0 to 0.2.
    air
        What the dry air is made of.

    Raises
    ------
    PhysicsError
        When a value lies outside these bounds or is not a number.

    Examples
    --------
    >>> charge = Mixture(phi=1.0, residual_mass_fraction=0.1)
    >>> round(1000 * charge.molar_mass_kg_mol, 3)
    30.196
    >>> round(float(charge.cp_j_kgk(600.0)), 1)
    1165.9
    """

    phi: float
    ethanol_share_volume: float = 0.0
    residual_mass_fraction: float = 0.0
    humidity_ratio: float = 0.0
    air: DryAir = STANDARD_AIR

    def __post_init__(self) -> None:
        _require(
            "phi", self.phi, 0.0, _HIGHEST_PHI, "richer than this, burning leaves soot, which is not modelled"
        )
        _require("ethanol_share_volume", self.ethanol_share_volume, 0.0, 1.0, "give a share, not per cent")
        _require(
            "residual_mass_fraction",
            self.residual_mass_fraction,
            0.0,
            0.999,
            "some fresh charge must be left",
        )
        _require(
            "humidity_ratio",
            self.humidity_ratio,
            0.0,
            _HIGHEST_HUMIDITY_RATIO,
            "give kg of water per kg of dry air; saturated air at 40 C holds about 0.05",
        )

    @cached_property
    def fresh_moles_mol_kg(self) -> FloatArray:
        """Species in one kilogram of fresh charge [mol/kg], shape (13,)."""
        fuel_kg = self.phi / stoichiometric_air_fuel_ratio(self.ethanol_share_volume, self.air)
        moles = self.air.moles_mol_kg + fuel_kg * _fuel_moles_mol_kg(self.ethanol_share_volume)
        moles[H2O] += self.humidity_ratio / MOLAR_MASSES_KG_MOL[H2O]
        moles /= 1.0 + self.humidity_ratio + fuel_kg
        return moles

    @cached_property
    def elements(self) -> Elements:
        """Atoms in one kilogram [mol/kg]: the same in fresh charge, residual gas and burned gas."""
        return Elements(*map(np.asarray, self.fresh_moles_mol_kg @ ATOMS))

    @cached_property
    def moles_mol_kg(self) -> FloatArray:
        """Species in one kilogram of charge [mol/kg], shape (13,), in the order of `SPECIES`."""
        residual = self.residual_mass_fraction
        return (1.0 - residual) * self.fresh_moles_mol_kg + residual * cooled_products(self.elements)

    @cached_property
    def molar_mass_kg_mol(self) -> float:
        """Molar mass [kg/mol]."""
        return 1.0 / float(self.moles_mol_kg.sum())

    @property
    def gas_constant_j_kgk(self) -> float:
        """Specific gas constant [J/(kg K)]."""
        return GAS_CONSTANT_J_MOL_K / self.molar_mass_kg_mol

    @property
    def diluent_mole_fraction(self) -> float:
        """Mole fraction of residual gas and of the water vapour in the fresh charge [-]."""
        fresh = (1.0 - self.residual_mass_fraction) * self.fresh_moles_mol_kg
        fuel_and_dry_air = float(fresh.sum() - fresh[H2O])
        return 1.0 - fuel_and_dry_air * self.molar_mass_kg_mol

    @property
    def diluent_mass_fraction(self) -> float:
        """Mass fraction of residual gas and of the water vapour in the fresh charge [-]."""
        water = float(self.fresh_moles_mol_kg[H2O] * MOLAR_MASSES_KG_MOL[H2O])
        return self.residual_mass_fraction + (1.0 - self.residual_mass_fraction) * water

    def cp_j_kgk(self, temperature_k: ArrayLike) -> FloatArray:
        """Heat capacity at constant pressure [J/(kg K)], in the shape of ``temperature_k`` [K]."""
        return GAS_CONSTANT_J_MOL_K * mole_sum(self.moles_mol_kg, species_cp_over_r(temperature_k))

    def enthalpy_j_kg(self, temperature_k: ArrayLike) -> FloatArray:
        """Absolute enthalpy, heats of formation included [J/kg], in the shape of ``temperature_k`` [K]."""
        temperature = np.asarray(temperature_k, dtype=np.float64)
        return (
            GAS_CONSTANT_J_MOL_K * temperature * mole_sum(self.moles_mol_kg, species_h_over_rt(temperature))
        )

    def gamma(self, temperature_k: ArrayLike) -> FloatArray:
        """Ratio of heat capacities cp/cv [-], in the shape of ``temperature_k`` [K]."""
        cp = self.cp_j_kgk(temperature_k)
        return cp / (cp - self.gas_constant_j_kgk)

    def isentropic_temperature_k(self, start_temperature_k: float, volume_ratio: float) -> float:
        """Temperature after the charge is pressed together without loss or gain of heat.

        Parameters
        ----------
        start_temperature_k
            Temperature before [K].
        volume_ratio
            Volume before over volume after [-], above 0.

        Returns
        -------
        float
            Temperature after [K]; the pressure follows as start pressure x volume_ratio x T2/T1.

        Raises
        ------
        PhysicsError
            When no temperature of the data (200-6000 K) answers.

        Notes
        -----
        Solves s0(T2) - s0(T1) = R ln(T2/T1) + R ln(volume_ratio) by Newton's method; its slope is cv/T.

        Examples
        --------
        A correct mixture from 340 K, pressed to a 9.5th of its volume:

        >>> round(Mixture(phi=1.0).isentropic_temperature_k(340.0, 9.5))
        701
        """
        gas_constant = self.gas_constant_j_kgk
        entropy_start = self._standard_entropy_j_kgk(start_temperature_k)
        wanted = gas_constant * log(volume_ratio / start_temperature_k) + entropy_start
        temperature_k = start_temperature_k
        for _ in range(_MOST_ITERATIONS):
            miss = wanted + gas_constant * log(temperature_k) - self._standard_entropy_j_kgk(temperature_k)
            step = miss * temperature_k / (float(self.cp_j_kgk(temperature_k)) - gas_constant)
            temperature_k = _within_data(temperature_k + step)
            if abs(step) < 1e-8 * temperature_k:
                return temperature_k
        raise PhysicsError("volume_ratio", volume_ratio, "must lead to a temperature between 200 and 6000 K")

    def _standard_entropy_j_kgk(self, temperature_k: float) -> float:
        return float(GAS_CONSTANT_J_MOL_K * mole_sum(self.moles_mol_kg, species_s_over_r(temperature_k)))


# ------------------------------------------------------------------------------------ the adiabatic flame


def constant_pressure_flame_k(mixture: Mixture, temperature_k: float, pressure_pa: float) -> float:
    """Temperature behind a flame that keeps its pressure and loses no heat.

    Parameters
    ----------
    mixture
        The charge before the flame; its fuel is vapour.
    temperature_k, pressure_pa
        Its temperature [K] and pressure [Pa].

    Returns
    -------
    float
        Adiabatic flame temperature [K].

    Raises
    ------
    PhysicsError
        When the mixture lacks carbon or hydrogen, or the gas data (200-6000 K) don't reach.

    Notes
    -----
    Enthalpy stays: h_burned(T, p) = h_unburned(T0). For comparison, Turns (An Introduction to Combustion,
    appendix B) prints 2275 K for n-octane at 298 K and 1 atm.

    Examples
    --------
    >>> round(constant_pressure_flame_k(Mixture(phi=1.0), 298.15, 101325.0))
    2272
    """
    return float(burned_temperature_k(mixture.elements, mixture.enthalpy_j_kg(temperature_k), pressure_pa))


def constant_volume_flame(mixture: Mixture, temperature_k: float, pressure_pa: float) -> tuple[float, float]:
    """Temperature and pressure after a charge has burned in a closed vessel that loses no heat.

    Parameters
    ----------
    mixture
        The charge before the flame; its fuel is vapour.
    temperature_k, pressure_pa
        Its temperature [K] and pressure [Pa].

    Returns
    -------
    tuple of float
        Temperature [K] and pressure [Pa] after it.

    Raises
    ------
    PhysicsError
        When the mixture lacks carbon or hydrogen, or the gas data (200-6000 K) don't reach.

    Notes
    -----
    Internal energy and density stay. Pressure and temperature are improved in turn; the pressure hardly moves
    the temperature, so a dozen turns settle both.

    Examples
    --------
    >>> temperature, pressure = constant_volume_flame(Mixture(phi=1.0), 298.15, 101325.0)
    >>> round(temperature), round(pressure / 1e5, 2)
    (2637, 9.64)
    """
    start_rt = mixture.gas_constant_j_kgk * temperature_k
    density = pressure_pa / start_rt
    energy = float(mixture.enthalpy_j_kg(temperature_k)) - start_rt
    burned_k, burned_pa = 2500.0, pressure_pa * 2500.0 / temperature_k
    for _ in range(_MOST_ITERATIONS):
        gas = burned_gas(mixture.elements, burned_k, burned_pa)
        constant = float(gas.gas_constant_j_kgk)
        step = (energy - float(gas.enthalpy_j_kg) + constant * burned_k) / (
            float(gas.cp_equilibrium_j_kgk) - constant
        )
        burned_k = _within_data(burned_k + step)
        next_pa = density * constant * burned_k
        settled = abs(step) < 1e-6 and abs(next_pa / burned_pa - 1.0) < 1e-9
        burned_pa = next_pa
        if settled:
            return burned_k, burned_pa
    raise PhysicsError("temperature_k", temperature_k, "must lead to a flame between 200 and 6000 K")


# ------------------------------------------------------------------------------- polynomials for the kernel


def unburned_coefficients(mixture: Mixture) -> FloatArray:
    """Heat capacity and enthalpy of the unburned charge as one polynomial.

    Parameters
    ----------
    mixture
        The charge before the flame.

    Returns
    -------
    FloatArray
        Seven numbers ``c0 ... c5, h0``. With t = T/1000 K, ``cp = c0 + c1 t + ... + c5 t^5`` [J/(kg K)] and
        ``h = h0 + T (c0 + c1 t/2 + ... + c5 t^5/6)`` [J/kg], absolute: the exact integral of cp.

    Notes
    -----
    Least squares on the Chebyshev points of 250-1300 K. The worst misfit there is about 0.1 % of cp and
    70 J/kg of h, for rich ethanol.

    Examples
    --------
    >>> fit = unburned_coefficients(Mixture(phi=1.0))
    >>> round(unburned_cp_j_kgk(fit, 600.0)), round(unburned_enthalpy_j_kg(fit, 600.0) / 1e3)
    (1168, 208)
    """
    low, high = UNBURNED_FIT_K
    temperature = 0.5 * (low + high) + 0.5 * (high - low) * _chebyshev_points(48)
    powers = np.vander(1e-3 * temperature, UNBURNED_DEGREE + 1, increasing=True)
    coefficients = np.linalg.lstsq(powers, mixture.cp_j_kgk(temperature), rcond=None)[0]
    integral = temperature * (powers @ (coefficients / np.arange(1.0, UNBURNED_DEGREE + 2)))
    constant = np.mean(mixture.enthalpy_j_kg(temperature) - integral)
    return np.append(coefficients, constant)


def unburned_cp_j_kgk(coefficients: FloatArray, temperature_k: Numeric) -> Numeric:
    """Heat capacity [J/(kg K)] from `unburned_coefficients`, at a temperature [K], a number or an array.

    Pure arithmetic; compiles with Numba. Holds over 250-1300 K. Example: see `unburned_coefficients`.
    """
    c, t = coefficients, 1e-3 * temperature_k
    cp: Numeric = c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))))
    return cp


def unburned_enthalpy_j_kg(coefficients: FloatArray, temperature_k: Numeric) -> Numeric:
    """Absolute enthalpy [J/kg] from `unburned_coefficients`, at a temperature [K], a number or an array.

    Pure arithmetic; compiles with Numba. Holds over 250-1300 K. Example: see `unburned_coefficients`.
    """
    c, t = coefficients, 1e-3 * temperature_k
    mean_cp = c[0] + t * (c[1] / 2 + t * (c[2] / 3 + t * (c[3] / 4 + t * (c[4] / 5 + t * c[5] / 6))))
    enthalpy: Numeric = c[6] + temperature_k * mean_cp
    return enthalpy


def unburned_isentropic_k(
    coefficients: FloatArray, gas_constant_j_kgk: Numeric, start_k: Numeric, pressure_ratio: Numeric
) -> Numeric:
    """Temperature of a charge pressed together without loss or gain of heat, from `unburned_coefficients`.

    Parameters
    ----------
    coefficients
        Of `unburned_coefficients`; of several charges along the second axis.
    gas_constant_j_kgk
        Of the charge [J/(kg K)].
    start_k
        Temperature before [K].
    pressure_ratio
        Pressure after over pressure before [-], above 0.

    Returns
    -------
    float or array
        Temperature after [K], in the broadcast shape of the arguments; holds while it stays within
        250-1300 K.

    Notes
    -----
    Solves ``integral of cp dT/T = R ln(pressure_ratio)``.

    Examples
    --------
    >>> mixture = Mixture(phi=1.0)
    >>> coefficients = unburned_coefficients(mixture)
    >>> round(float(unburned_isentropic_k(coefficients, mixture.gas_constant_j_kgk, 340.0, 19.593)))
    701
    """
    c = coefficients

    def entropy(temperature_k: Numeric) -> Numeric:
        t = 1e-3 * temperature_k
        value: Numeric = c[0] * np.log(temperature_k) + t * (
            c[1] + t * (c[2] / 2 + t * (c[3] / 3 + t * (c[4] / 4 + t * c[5] / 5)))
        )
        return value

    wanted = entropy(start_k) + gas_constant_j_kgk * np.log(pressure_ratio)
    temperature_k = start_k * pressure_ratio**0.25
    for _ in range(4):  # Newton's method from a near start; two rounds would do
        miss = wanted - entropy(temperature_k)
        temperature_k = temperature_k + miss * temperature_k / unburned_cp_j_kgk(c, temperature_k)
    return temperature_k


@dataclass(frozen=True)
class BurnedSurface:
    """Burned gas of one mixture as two polynomials in enthalpy and the logarithm of pressure.

    With x = (h - enthalpy_middle)/enthalpy_half and y = (ln p - ln_pressure_middle)/ln_pressure_half, both in
    [-1, 1], each quantity is the sum over i and j of ``coefficients[i, j] x^i y^j``.

    Attributes
    ----------
    pv_coefficients
        For R T = p v [J/kg], shape (11, 5).
    temperature_coefficients
        For the temperature [K], shape (11, 5).
    enthalpy_middle_j_kg, enthalpy_half_j_kg
        Scale of the absolute enthalpy [J/kg].
    ln_pressure_middle, ln_pressure_half
        Scale of ln(pressure in Pa) [-].
    elements
        Atoms of the mixture, from which the misfit can be reckoned.
    """

    pv_coefficients: FloatArray
    temperature_coefficients: FloatArray
    enthalpy_middle_j_kg: float
    enthalpy_half_j_kg: float
    ln_pressure_middle: float
    ln_pressure_half: float
    elements: Elements

    def pv_j_kg(self, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        """Pressure times specific volume [J/kg] at an enthalpy [J/kg] and a pressure [Pa]."""
        return self._at(self.pv_coefficients, enthalpy_j_kg, pressure_pa)

    def temperature_k(self, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        """Temperature [K] at an enthalpy [J/kg] and a pressure [Pa]."""
        return self._at(self.temperature_coefficients, enthalpy_j_kg, pressure_pa)

    def worst_misfit(self) -> tuple[float, float]:
        """Largest misfit met between the fitted points.

        Returns
        -------
        tuple of float
            Of the temperature [K], and of p v as a share of it [-].
        """
        lowest_pa, highest_pa = BURNED_SURFACE_PRESSURE_PA
        enthalpy = self.enthalpy_middle_j_kg + self.enthalpy_half_j_kg * np.linspace(-1.0, 1.0, 60)
        pressure = np.geomspace(lowest_pa, highest_pa, 13)
        temperature, pv = _burned_states(self.elements, enthalpy, pressure)
        misfit_k = self.temperature_k(enthalpy[:, None], pressure) - temperature
        misfit_share = self.pv_j_kg(enthalpy[:, None], pressure) / pv - 1.0
        return float(np.abs(misfit_k).max()), float(np.abs(misfit_share).max())

    def _at(self, coefficients: FloatArray, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        enthalpy, pressure = np.broadcast_arrays(np.asarray(enthalpy_j_kg), np.asarray(pressure_pa))
        x = (enthalpy - self.enthalpy_middle_j_kg) / self.enthalpy_half_j_kg
        y = (np.log(pressure) - self.ln_pressure_middle) / self.ln_pressure_half
        return np.asarray(np.polynomial.polynomial.polyval2d(x, y, coefficients))


@lru_cache(maxsize=256)
def burned_surface(
    phi: float,
    ethanol_share_volume: float = 0.0,
    humidity_ratio: float = 0.0,
    air: DryAir = STANDARD_AIR,
) -> BurnedSurface:
    """Fit burned gas of one mixture with polynomials in enthalpy and ln(pressure).

    Parameters
    ----------
    phi, ethanol_share_volume, humidity_ratio, air
        The fresh mixture, as for `Mixture`; residual gas of the same mixture changes nothing here.

    Returns
    -------
    BurnedSurface
        The fit.

    Raises
    ------
    PhysicsError
        When the mixture is impossible, or lacks carbon or hydrogen as dry air alone does.

    Notes
    -----
    Least squares on the Chebyshev points of enthalpy (600 K to 1.6 MJ/kg) and ln(pressure) (0.3 to 200 bar).
    The temperatures there reach up to 2600 K at the lowest and 3300 K at the highest pressure, more than the
    burned gas of an engine does. With degrees 10 and 4 the hardest mixtures, a few per cent rich, come out
    within 3 K.

    Examples
    --------
    >>> worst_k, worst_share = burned_surface(1.0).worst_misfit()
    >>> worst_k < 1.0, worst_share < 0.001
    (True, True)
    """
    elements = Mixture(phi, ethanol_share_volume, 0.0, humidity_ratio, air).elements
    pv, temperature = _surface_coefficients(
        float(phi), float(ethanol_share_volume), float(humidity_ratio), air
    )
    return BurnedSurface(pv, temperature, *_surface_scale(elements), elements)


def _surface_scale(elements: Elements) -> tuple[float, float, float, float]:
    """Middle and half of the enthalpies [J/kg] and of the logarithms of pressure that a surface spans."""
    lowest_pa, highest_pa = BURNED_SURFACE_PRESSURE_PA
    coldest = float(burned_gas(elements, COLDEST_BURNED_K, highest_pa).enthalpy_j_kg)
    return (
        *_middle_and_half(coldest, HIGHEST_BURNED_ENTHALPY_J_KG),
        *_middle_and_half(float(np.log(lowest_pa)), float(np.log(highest_pa))),
    )


@kept_table
def _surface_coefficients(
    phi: float, ethanol_share_volume: float, humidity_ratio: float, air: DryAir
) -> FloatArray:
    """Coefficients for p v and for the temperature, shape (2, 11, 5)."""
    elements = Mixture(phi, ethanol_share_volume, 0.0, humidity_ratio, air).elements
    middle_h, half_h, middle_p, half_p = _surface_scale(elements)
    x, y = _chebyshev_points(36), _chebyshev_points(10)
    temperature, pv = _burned_states(elements, middle_h + half_h * x, np.exp(middle_p + half_p * y))
    # A product grid: the least-squares fit is one of x for each y, then one of y for each power of x.
    fit_x = np.linalg.pinv(np.vander(x, ENTHALPY_DEGREE + 1, increasing=True))
    fit_y = np.linalg.pinv(np.vander(y, PRESSURE_DEGREE + 1, increasing=True))
    return np.stack([fit_x @ pv @ fit_y.T, fit_x @ temperature @ fit_y.T])


def _burned_states(
    elements: Elements, enthalpy_j_kg: FloatArray, pressure_pa: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature [K] and p v [J/kg] on a grid of enthalpies (rows) and pressures (columns)."""
    temperature = burned_temperature_k(elements, enthalpy_j_kg[:, None], pressure_pa[None, :])
    return temperature, burned_gas(elements, temperature, pressure_pa).gas_constant_j_kgk * temperature


def _chebyshev_points(count: int) -> FloatArray:
    """Zeros of the Chebyshev polynomial of a degree: points between -1 and 1 that crowd towards the ends."""
    return -np.cos(np.pi * (np.arange(count) + 0.5) / count)


def _middle_and_half(lowest: float, highest: float) -> tuple[float, float]:
    return 0.5 * (lowest + highest), 0.5 * (highest - lowest)


def _within_data(temperature_k: float) -> float:
    return min(max(temperature_k, LOWEST_TEMPERATURE_K), HIGHEST_TEMPERATURE_K)


def _require(field: str, value: float, lowest: float, highest: float, why: str) -> None:
    if not lowest <= value <= highest:
        raise PhysicsError(field, value, f"must be from {lowest:g} to {highest:g}", why)
