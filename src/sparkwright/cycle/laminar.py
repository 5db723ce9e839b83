"""Laminar burning velocity of gasoline and its blends with ethanol.

Every correlation here has the form ``S_L = S_0(phi) (T/298 K)^alpha (p/1 atm)^beta D``: a speed at 298 K and
1 atm, a power of temperature, a power of pressure and a factor for the burned gas mixed in. The plain
formulas come first; `laminar_flame` puts those of Rhodes and Keck (1985) together for a charge, with the
dilution factor half way between theirs and that of Metghalchi and Keck (1982), which is what the cycle uses;
`laminar_flame_outside_range` says where they are stretched.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sparkwright.cycle.flame_speeds import (
    power_law_speed_m_s,
    rhodes_keck_pressure_exponent,
    rhodes_keck_speed_m_s,
    rhodes_keck_temperature_exponent,
)
from sparkwright.cycle.fuel_air import ethanol_energy_share
from sparkwright.cycle.gas import Mixture
from sparkwright.findings import Finding
from sparkwright.numeric import Numeric

REFERENCE_PRESSURE_PA: Final = 101325.0

#: What stays of the speed, as a share, however much burned gas is mixed in. The published factors reach zero
#: at 39 and 48 % and turn negative beyond; an idle with a long overlap comes near it. At the floor the flame
#: is so slow that the cycle reports a slow burn or a misfire; it must not fall to zero, so that every result
#: stays smooth. A choice, not a measurement.
DILUTION_FLOOR: Final = 0.05

#: Slowest speed at 298 K and 1 atm that a mixture far from correct may have [m/s], for the same reason.
REFERENCE_SPEED_FLOOR_M_S: Final = 0.02

#: Width over which a floor takes over, as a share of what is floored. Far above the floor the value is raised
#: by width squared over the distance: 0.1 % of an ordinary dilution factor.
FLOOR_WIDTH: Final = 0.02

#: How much faster pure ethanol burns than gasoline. Measurements put ethanol 10 to 25 % above iso-octane (van
#: Lipzig et al. 2011, Fuel 90; Broustail et al. 2011, Fuel 90; both recalled): 20 %, give or take 10.
ETHANOL_SPEED_GAIN: Final = 0.20

#: Where Rhodes and Keck (1985) and Metghalchi and Keck (1982) measured.
MEASURED_TEMPERATURE_K: Final = (298.0, 700.0)
MEASURED_PRESSURE_ATM: Final = (0.4, 50.0)
MEASURED_PHI: Final = (0.8, 1.5)
MEASURED_DILUTION: Final = 0.3


def middle_dilution_factor(burned_mole_fraction: Numeric, diluent_mass_fraction: Numeric) -> Numeric:
    """Share of the speed that is left, half way between the two published factors.

    ``1 - (2.06 x^0.77 + 2.1 Y)/2``

    Parameters
    ----------
    burned_mole_fraction : float or array
        Mole fraction of burned gas in the charge [-], for `rhodes_keck_dilution_factor`.
    diluent_mass_fraction : float or array
        Mass fraction of the same gas [-], for `metghalchi_keck_dilution_factor`.

    Returns
    -------
    float or array
        Factor [-], in the broadcast shape of the arguments; below 0 from about 43 % on. The cycle uses it
        with a floor, see `with_floor`.

    Notes
    -----
    The mean is our choice. Its two ends are measurements of one laboratory with two stand-ins for burned gas,
    0.40 and 0.58 at a fifth of it. Free flames of propane with its own products, computed with GRI-Mech
    3.0 at 300 to 750 K and 1 to 20 atm, lie within 0.06 of the mean up to 30 %.

    Examples
    --------
    >>> round(middle_dilution_factor(0.2, 0.19), 3)
    0.502
    """
    return 0.5 * (1.0 - 2.06 * burned_mole_fraction**0.77 + 1.0 - 2.1 * diluent_mass_fraction)


def burned_mole_fraction(
    burned_mass_fraction: Numeric, burned_molar_mass_kg_mol: Numeric, fresh_molar_mass_kg_mol: Numeric
) -> Numeric:
    """Turn a mass fraction of burned gas into a mole fraction: ``(y/M_b) / (y/M_b + (1 - y)/M_u)``.

    Parameters
    ----------
    burned_mass_fraction : float or array
        Mass of burned gas over mass of charge [-].
    burned_molar_mass_kg_mol, fresh_molar_mass_kg_mol : float or array
        Molar masses of the burned gas and of the fresh charge [kg/mol].

    Returns
    -------
    float or array
        Mole fraction [-], in the broadcast shape of the arguments.

    Notes
    -----
    Definition.

    Examples
    --------
    >>> round(burned_mole_fraction(0.1, 28.606e-3, 30.262e-3), 5)
    0.10518
    """
    burned_mol = burned_mass_fraction / burned_molar_mass_kg_mol
    return burned_mol / (burned_mol + (1.0 - burned_mass_fraction) / fresh_molar_mass_kg_mol)


def with_floor(value: Numeric, floor: float, width: float) -> Numeric:
    """Keep a value above a floor without a corner: ``(v + f + sqrt((v - f)^2 + 4 w^2))/2``.

    Parameters
    ----------
    value : float or array
        What is to be kept up [-].
    floor : float
        What it may not fall below, in the same unit.
    width : float
        How far the floor is felt, in the same unit, above 0.

    Returns
    -------
    float or array
        The value far above the floor, the floor far below it; above both everywhere and smooth.

    Notes
    -----
    One branch of a hyperbola with the value and the floor as its asymptotes. A choice.

    Examples
    --------
    >>> round(float(with_floor(0.65, 0.05, 0.02)), 4), round(float(with_floor(-5.0, 0.05, 0.02)), 4)
    (0.6507, 0.0501)
    """
    middle = value + floor
    return 0.5 * (middle + np.sqrt((value - floor) ** 2 + 4.0 * width**2))


def ethanol_speed_factor(energy_share: Numeric) -> Numeric:
    """How much faster a blend with ethanol burns than gasoline: ``1 + 0.20 e``.

    Parameters
    ----------
    energy_share : float or array
        Share of the fuel's heating value that the ethanol brings [-], 0 to 1.

    Returns
    -------
    float or array
        Factor [-], in the shape of the argument.

    Notes
    -----
    Linear in the share of energy, the mixing rule that Sileghem et al. (2014, Energy and Fuels 28; recalled)
    found to hold for gasoline and alcohols. The gain of pure ethanol is `ETHANOL_SPEED_GAIN`, recalled.
    Powers of temperature and pressure are left as they are for gasoline.

    Examples
    --------
    >>> round(ethanol_speed_factor(0.8), 2)
    1.16
    """
    return 1.0 + ETHANOL_SPEED_GAIN * energy_share


@dataclass(frozen=True)
class LaminarFlame:
    """The laminar flame of one charge.

    Attributes
    ----------
    reference_speed_m_s
        Speed at 298 K and 1 atm, dilution and fuel included [m/s].
    temperature_exponent, pressure_exponent
        Powers of T/298 K and p/1 atm [-].
    diluent_mole_fraction
        Mole fraction of burned gas and water vapour that was counted as dilution [-].
    """

    reference_speed_m_s: Numeric
    temperature_exponent: Numeric
    pressure_exponent: Numeric
    diluent_mole_fraction: Numeric

    def speed_m_s(self, temperature_k: Numeric, pressure_pa: Numeric) -> Numeric:
        """Laminar speed [m/s] at an unburned temperature [K] and a pressure [Pa]; shapes broadcast.

        Parameters
        ----------
        temperature_k : float or array
            Unburned temperature [K].
        pressure_pa : float or array
            Pressure [Pa].
        """
        return power_law_speed_m_s(
            self.reference_speed_m_s,
            self.temperature_exponent,
            self.pressure_exponent,
            temperature_k,
            pressure_pa / REFERENCE_PRESSURE_PA,
        )


def laminar_flame(mixture: Mixture) -> LaminarFlame:
    """Laminar flame of a charge, after Rhodes and Keck (1985), with a milder dilution, floors and ethanol.

    Parameters
    ----------
    mixture : Mixture
        The charge before the flame.

    Returns
    -------
    LaminarFlame
        Speed at 298 K and 1 atm and the two powers.

    Notes
    -----
    The dilution factor takes residual gas and the air's water vapour together. The measurements were made
    with stand-ins for burned gas; counting water vapour as burned gas is our choice. At 8 % of residual gas
    it takes about 3 % of the speed for each per cent of water.

    Examples
    --------
    >>> flame = laminar_flame(Mixture(phi=1.0, residual_mass_fraction=0.1))
    >>> round(flame.diluent_mole_fraction, 5), round(float(flame.speed_m_s(700.0, 10 * 101325.0)), 2)
    (0.10516, 0.75)
    """
    return diluted_flame(
        mixture.phi,
        mixture.ethanol_share_volume,
        mixture.diluent_mole_fraction,
        mixture.diluent_mass_fraction,
    )


def diluted_flame(
    phi: Numeric,
    ethanol_share_volume: float,
    diluent_mole_fraction: Numeric,
    diluent_mass_fraction: Numeric,
) -> LaminarFlame:
    """Laminar flame of `laminar_flame`, from what it needs of a charge.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.
    diluent_mole_fraction, diluent_mass_fraction : float or array
        Shares of residual gas and water vapour in the charge, by moles and by mass [-].

    Returns
    -------
    LaminarFlame
        Speed and powers, in the broadcast shape of the arguments.

    Notes
    -----
    Sources as for `laminar_flame`; how they are joined is our choice.

    Examples
    --------
    >>> round(float(diluted_flame(1.0, 0.0, 0.0, 0.0).reference_speed_m_s), 3)
    0.281
    """
    dilution = with_floor(
        middle_dilution_factor(diluent_mole_fraction, diluent_mass_fraction), DILUTION_FLOOR, FLOOR_WIDTH
    )
    undiluted_m_s = with_floor(
        rhodes_keck_speed_m_s(phi), REFERENCE_SPEED_FLOOR_M_S, FLOOR_WIDTH * REFERENCE_SPEED_FLOOR_M_S
    )
    fuel = ethanol_speed_factor(ethanol_energy_share(ethanol_share_volume))
    return LaminarFlame(
        reference_speed_m_s=undiluted_m_s * dilution * fuel,
        temperature_exponent=rhodes_keck_temperature_exponent(phi),
        pressure_exponent=rhodes_keck_pressure_exponent(phi),
        diluent_mole_fraction=diluent_mole_fraction,
    )


def laminar_flame_outside_range(
    phi: float, temperature_k: float, pressure_pa: float, diluent_mole_fraction: float
) -> tuple[Finding, ...]:
    """Give where the burning velocity is an extrapolation.

    Parameters
    ----------
    phi : float
        Fuel-air equivalence ratio [-].
    temperature_k : float
        Unburned temperature [K].
    pressure_pa : float
        Pressure [Pa].
    diluent_mole_fraction : float
        Mole fraction of burned gas in the charge [-].

    Returns
    -------
    tuple of Finding
        One for each stretch; empty inside 298-700 K, 0.4-50 atm, phi 0.8-1.5 and dilution up to 0.3.

    Notes
    -----
    Ranges of the measurements: Metghalchi and Keck (1982), Rhodes and Keck (1985). A plain end-gas
    temperature near top dead centre is above 700 K: the power of temperature has to be stretched by every
    engine model.

    Examples
    --------
    >>> laminar_flame_outside_range(1.0, 650.0, 15e5, 0.1)
    ()
    >>> laminar_flame_outside_range(1.0, 650.0, 15e5, 0.35)[0].kind
    'flame.diluted'
    """
    measured = (
        ("phi", phi, MEASURED_PHI),
        ("unburned_k", temperature_k, MEASURED_TEMPERATURE_K),
        ("pressure_atm", pressure_pa / REFERENCE_PRESSURE_PA, MEASURED_PRESSURE_ATM),
    )
    found = [
        Finding("flame.outside-range", "look", {"quantity": name, "value": value, "least": low, "most": high})
        for name, value, (low, high) in measured
        if not low <= value <= high
    ]
    if diluent_mole_fraction > MEASURED_DILUTION:
        shares = {"diluent_share": diluent_mole_fraction, "measured_share": MEASURED_DILUTION}
        found.append(Finding("flame.diluted", "look", shares))
    return tuple(found)
