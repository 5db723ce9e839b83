"""Octane of blends as published; the job states that of the blend in the tank."""

from typing import Final

from sparkwright.cycle.fuel_air import ETHANOL_DENSITY_KG_M3, GASOLINE_DENSITY_KG_M3
from sparkwright.cycle.species import ETHANOL, MOLAR_MASSES_KG_MOL
from sparkwright.numeric import Numeric

#: Molar mass of gasoline [kg/mol]: with its density it gives the mole fractions of Anderson et al. (2010).
GASOLINE_MOLAR_MASS_KG_MOL: Final = 105e-3


#: Research octane number of neat ethanol, after Anderson et al. (2010).
ETHANOL_RON: Final = 109.0


def ethanol_mole_fraction(ethanol_share_volume: Numeric) -> Numeric:
    """Mole fraction of ethanol in a blend with gasoline.

    Parameters
    ----------
    ethanol_share_volume : float or array
        Volume share of ethanol before mixing [-], 0 to 1.

    Returns
    -------
    float or array
        Mole fraction [-], in the shape of the argument.

    Notes
    -----
    Ethanol 789 kg/m3 and 46.07 g/mol, gasoline 740 kg/m3 and 105 g/mol, as in Anderson et al., Energy and
    Fuels 24 (2010) 6576.

    Examples
    --------
    >>> round(ethanol_mole_fraction(0.10), 4)
    0.2126
    """
    ethanol_mol = ethanol_share_volume * _ETHANOL_MOL_M3
    return ethanol_mol / (ethanol_mol + (1.0 - ethanol_share_volume) * _GASOLINE_MOL_M3)


_ETHANOL_MOL_M3: Final = ETHANOL_DENSITY_KG_M3 / float(MOLAR_MASSES_KG_MOL[ETHANOL])


_GASOLINE_MOL_M3: Final = GASOLINE_DENSITY_KG_M3 / GASOLINE_MOLAR_MASS_KG_MOL


def anderson_blend_octane(base_octane: Numeric, ethanol_octane: Numeric, mole_fraction: Numeric) -> Numeric:
    """Octane number of a blend, linear in the moles: ``(1 - x) ON_base + x ON_ethanol``.

    Parameters
    ----------
    base_octane : float or array
        Octane number of the gasoline without ethanol, research or motor [-].
    ethanol_octane : float or array
        That of ethanol by the same method [-]: `ETHANOL_RON` for the research one.
    mole_fraction : float or array
        Mole fraction of ethanol [-], see `ethanol_mole_fraction`.

    Returns
    -------
    float or array
        Octane number [-], in the broadcast shape of the arguments.

    Notes
    -----
    Anderson et al., Energy and Fuels 24 (2010) 6576; SAE 2012-01-1274. Measured blends come out 0 to 3
    higher.

    Examples
    --------
    >>> round(anderson_blend_octane(88.0, 109.0, ethanol_mole_fraction(0.10)), 2)
    92.46
    """
    return (1.0 - mole_fraction) * base_octane + mole_fraction * ethanol_octane
