"""The charge before the flame and the gas behind it.

Two things are computed here, both for ideal-gas mixtures of `sparkwright.cycle.species`:

* `Mixture`: what is in the cylinder before the spark (fuel vapour, air, its moisture, residual gas);
* the adiabatic flame: that charge burned to equilibrium (`sparkwright.cycle.equilibrium`), losing no heat.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import log
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparkwright.cycle.equilibrium import Elements, burned_gas, burned_temperature_k, cooled_products
from sparkwright.cycle.fuel_air import (
    STANDARD_AIR,
    DryAir,
    fuel_moles_mol_kg,
    require_within,
    stoichiometric_air_fuel_ratio,
)
from sparkwright.cycle.species import (
    ATOMS,
    GAS_CONSTANT_J_MOL_K,
    H2O,
    HIGHEST_TEMPERATURE_K,
    LOWEST_TEMPERATURE_K,
    MOLAR_MASSES_KG_MOL,
    FloatArray,
    mole_sum,
    species_cp_over_r,
    species_h_over_rt,
    species_s_over_r,
)
from sparkwright.errors import PhysicsError

_HIGHEST_PHI: Final = 2.5
_HIGHEST_HUMIDITY_RATIO: Final = 0.2
_MOST_ITERATIONS: Final = 80


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
        require_within(
            "phi", self.phi, 0.0, _HIGHEST_PHI, "richer than this, burning leaves soot, which is not modelled"
        )
        require_within(
            "ethanol_share_volume", self.ethanol_share_volume, 0.0, 1.0, "give a share, not per cent"
        )
        require_within(
            "residual_mass_fraction",
            self.residual_mass_fraction,
            0.0,
            0.999,
            "some fresh charge must be left",
        )
        require_within(
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
        moles = self.air.moles_mol_kg + fuel_kg * fuel_moles_mol_kg(self.ethanol_share_volume)
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
        """Heat capacity at constant pressure [J/(kg K)], in the shape of ``temperature_k`` [K].

        Parameters
        ----------
        temperature_k : array_like
            Temperature [K], 200 to 6000.
        """
        return GAS_CONSTANT_J_MOL_K * mole_sum(self.moles_mol_kg, species_cp_over_r(temperature_k))

    def enthalpy_j_kg(self, temperature_k: ArrayLike) -> FloatArray:
        """Absolute enthalpy, heats of formation included [J/kg], in the shape of ``temperature_k`` [K].

        Parameters
        ----------
        temperature_k : array_like
            Temperature [K], 200 to 6000.
        """
        temperature = np.asarray(temperature_k, dtype=np.float64)
        return (
            GAS_CONSTANT_J_MOL_K * temperature * mole_sum(self.moles_mol_kg, species_h_over_rt(temperature))
        )

    def gamma(self, temperature_k: ArrayLike) -> FloatArray:
        """Ratio of heat capacities cp/cv [-], in the shape of ``temperature_k`` [K].

        Parameters
        ----------
        temperature_k : array_like
            Temperature [K], 200 to 6000.
        """
        cp = self.cp_j_kgk(temperature_k)
        return cp / (cp - self.gas_constant_j_kgk)

    def isentropic_temperature_k(self, start_temperature_k: float, volume_ratio: float) -> float:
        """Temperature after the charge is pressed together without loss or gain of heat.

        Parameters
        ----------
        start_temperature_k : float
            Temperature before [K].
        volume_ratio : float
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


def constant_pressure_flame_k(mixture: Mixture, temperature_k: float, pressure_pa: float) -> float:
    """Temperature behind a flame that keeps its pressure and loses no heat.

    Parameters
    ----------
    mixture : Mixture
        The charge before the flame; its fuel is vapour.
    temperature_k, pressure_pa : float
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
    appendix B) prints 2275 K for n-octane at 298 K and 1 atm. First principles.

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
    mixture : Mixture
        The charge before the flame; its fuel is vapour.
    temperature_k, pressure_pa : float
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
    the temperature, so a dozen turns settle both. First principles.

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


def _within_data(temperature_k: float) -> float:
    return min(max(temperature_k, LOWEST_TEMPERATURE_K), HIGHEST_TEMPERATURE_K)
