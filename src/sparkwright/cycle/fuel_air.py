"""What goes into the cylinder: dry air, and fuel as iso-octane vapour with ethanol.

Gasoline is stood for by iso-octane vapour, ethanol by itself. Air is the dry air of the standard atmosphere
unless another `DryAir` is given.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from sparkwright.cycle.species import (
    ARGON,
    ATOMS,
    CO2,
    ETHANOL,
    GAS_CONSTANT_J_MOL_K,
    H2O,
    ISO_OCTANE,
    MOLAR_MASSES_KG_MOL,
    N2,
    O2,
    SPECIES,
    FloatArray,
    species_h_over_rt,
)
from sparkwright.errors import PhysicsError

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


def ethanol_mass_share(ethanol_share_volume: float) -> float:
    """Mass share of ethanol in a liquid blend given by its volume share.

    Parameters
    ----------
    ethanol_share_volume : float
        Volume of ethanol over volume of the parts before mixing [-], 0 to 1.

    Returns
    -------
    float
        Mass of ethanol over mass of blend [-].

    Notes
    -----
    By definition of the shares, with the densities of this module; volumes before mixing are added.

    Examples
    --------
    >>> round(ethanol_mass_share(0.10), 4)
    0.1059
    """
    ethanol_kg = ethanol_share_volume * ETHANOL_DENSITY_KG_M3
    gasoline_kg = (1.0 - ethanol_share_volume) * GASOLINE_DENSITY_KG_M3
    return ethanol_kg / (ethanol_kg + gasoline_kg)


def fuel_moles_mol_kg(ethanol_share_volume: float) -> FloatArray:
    """Species in one kilogram of fuel [mol/kg].

    Parameters
    ----------
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.

    Notes
    -----
    The mixture that stands for gasoline is our choice.
    """
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
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1; the rest is iso-octane.
    air : DryAir
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
    return float(_oxygen_needed_mol(fuel_moles_mol_kg(ethanol_share_volume)) / air.moles_mol_kg[O2])


def _oxygen_needed_mol(fuel_moles: FloatArray) -> float:
    """Oxygen that burns this much fuel completely [mol]."""
    carbon, hydrogen, oxygen, *_ = fuel_moles @ ATOMS
    return float(carbon + hydrogen / 4.0 - oxygen / 2.0)


def latent_heat_j_kg(ethanol_share_volume: float = 0.0) -> float:
    """Heat that evaporates one kilogram of fuel at 298 K [J/kg], linear in mass.

    Parameters
    ----------
    ethanol_share_volume : float
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
    ethanol_share_volume : float
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
    fuel = fuel_moles_mol_kg(ethanol_share_volume)
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
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.

    Returns
    -------
    float
        Share of the energy [-].

    Notes
    -----
    By definition, from the heating values of this module.

    Examples
    --------
    >>> round(ethanol_energy_share(0.85), 2)
    0.79
    """
    ethanol_j_kg = ethanol_mass_share(ethanol_share_volume) * lower_heating_value_j_kg(1.0)
    return ethanol_j_kg / lower_heating_value_j_kg(ethanol_share_volume)


def require_within(field: str, value: float, lowest: float, highest: float, why: str) -> None:
    """Refuse a number outside a span.

    Parameters
    ----------
    field : str
        What the refusal calls it.
    value : float
        The number.
    lowest, highest : float
        The span; both ends are allowed.
    why : str
        Why the span is there.
    """
    if not lowest <= value <= highest:
        raise PhysicsError(field, value, f"must be from {lowest:g} to {highest:g}", why)


def heat_release_j_kg(ethanol_share_volume: float, mixture_lambda: float) -> float:
    """Heat that a kilogram of fresh charge can release, short of air if rich [J/kg].

    Parameters
    ----------
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.
    mixture_lambda : float
        Air over stoichiometric air [-], above 0.

    Notes
    -----
    First principles: of a rich charge only so much burns as there is air for.

    Examples
    --------
    >>> 2.7e6 < heat_release_j_kg(0.0, 1.0) < 2.8e6
    True
    """
    air_fuel = mixture_lambda * stoichiometric_air_fuel_ratio(ethanol_share_volume)
    return lower_heating_value_j_kg(ethanol_share_volume) * min(1.0, mixture_lambda) / (1.0 + air_fuel)
