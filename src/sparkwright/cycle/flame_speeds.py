"""Published laws of laminar flame speed, each as its authors give it."""

from __future__ import annotations

from typing import Final

from sparkwright.numeric import Numeric

#: Temperature and pressure at which the reference speeds hold.
REFERENCE_TEMPERATURE_K: Final = 298.0


def metghalchi_keck_iso_octane_speed_m_s(phi: Numeric) -> Numeric:
    """Laminar speed of iso-octane in air at 298 K and 1 atm.

    ``S_0 = 0.2632 - 0.8472 (phi - 1.13)^2``

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-]; measured over 0.8 to 1.5.

    Returns
    -------
    float or array
        Speed [m/s], in the shape of ``phi``.

    Notes
    -----
    Metghalchi and Keck, Combustion and Flame 48 (1982) 191-210; Heywood (1988), ch. 9.

    Examples
    --------
    >>> round(metghalchi_keck_iso_octane_speed_m_s(1.0), 5)
    0.24888
    """
    return 0.2632 - 0.8472 * (phi - 1.13) ** 2


def metghalchi_keck_indolene_speed_m_s(phi: Numeric) -> Numeric:
    """Laminar speed of the reference gasoline RMFD-303 (indolene) in air at 298 K and 1 atm.

    ``S_0 = 0.2758 - 0.7834 (phi - 1.13)^2``

    Argument, result and source as for `metghalchi_keck_iso_octane_speed_m_s`.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].

    Notes
    -----
    Metghalchi and Keck, Combustion and Flame 48 (1982) 191-210.

    Examples
    --------
    >>> round(metghalchi_keck_indolene_speed_m_s(1.0), 5)
    0.26256
    """
    return 0.2758 - 0.7834 * (phi - 1.13) ** 2


def metghalchi_keck_temperature_exponent(phi: Numeric) -> Numeric:
    """Power of temperature after Metghalchi and Keck (1982): ``2.18 - 0.8 (phi - 1)`` [-].

    Shape and source as for `metghalchi_keck_iso_octane_speed_m_s`.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].

    Examples
    --------
    >>> round(metghalchi_keck_temperature_exponent(1.1), 2)
    2.1
    """
    return 2.18 - 0.8 * (phi - 1.0)


def metghalchi_keck_pressure_exponent(phi: Numeric) -> Numeric:
    """Power of pressure after Metghalchi and Keck (1982): ``-0.16 + 0.22 (phi - 1)`` [-].

    Argument, shape and source as for `metghalchi_keck_iso_octane_speed_m_s`.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].

    Examples
    --------
    >>> round(metghalchi_keck_pressure_exponent(1.1), 3)
    -0.138
    """
    return -0.16 + 0.22 * (phi - 1.0)


def metghalchi_keck_dilution_factor(diluent_mass_fraction: Numeric) -> Numeric:
    """Share of the speed that is left when a diluent is mixed in: ``1 - 2.1 Y``.

    Parameters
    ----------
    diluent_mass_fraction : float or array
        Mass fraction of the diluent [-]; measured up to about 0.2.

    Returns
    -------
    float or array
        Factor [-], in the shape of the argument; below 0 from 48 % on, which has no meaning.

    Notes
    -----
    Metghalchi and Keck, Combustion and Flame 48 (1982) 191-210.

    Examples
    --------
    >>> round(metghalchi_keck_dilution_factor(0.1), 2)
    0.79
    """
    return 1.0 - 2.1 * diluent_mass_fraction


def rhodes_keck_speed_m_s(phi: Numeric) -> Numeric:
    """Laminar speed of gasoline in air at 298 K and 1 atm.

    ``S_0 = 0.305 - 0.549 (phi - 1.21)^2``

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-]; measured over about 0.8 to 1.5. Zero at 0.46 and 1.96.

    Returns
    -------
    float or array
        Speed [m/s], in the shape of ``phi``.

    Notes
    -----
    Rhodes and Keck, SAE 850047 (1985); Heywood (1988), ch. 9.

    Examples
    --------
    >>> round(rhodes_keck_speed_m_s(1.0), 5)
    0.28079
    """
    return 0.305 - 0.549 * (phi - 1.21) ** 2


def rhodes_keck_temperature_exponent(phi: Numeric) -> Numeric:
    """Power of temperature after Rhodes and Keck (1985): ``2.4 - 0.271 phi^3.51`` [-].

    Argument, shape and source as for `rhodes_keck_speed_m_s`.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].

    Examples
    --------
    >>> round(rhodes_keck_temperature_exponent(1.0), 3)
    2.129
    """
    return 2.4 - 0.271 * phi**3.51


def rhodes_keck_pressure_exponent(phi: Numeric) -> Numeric:
    """Power of pressure after Rhodes and Keck (1985): ``-0.357 + 0.14 phi^2.77`` [-].

    Argument, shape and source as for `rhodes_keck_speed_m_s`.

    Parameters
    ----------
    phi : float or array
        Fuel-air equivalence ratio [-].

    Examples
    --------
    >>> round(rhodes_keck_pressure_exponent(1.0), 3)
    -0.217
    """
    return -0.357 + 0.14 * phi**2.77


def rhodes_keck_dilution_factor(burned_mole_fraction: Numeric) -> Numeric:
    """Share of the speed that is left when burned gas is mixed in: ``1 - 2.06 x^0.77``.

    Parameters
    ----------
    burned_mole_fraction : float or array
        Mole (not mass) fraction of burned gas in the charge [-], 0 or more; measured up to about 0.3.

    Returns
    -------
    float or array
        Factor [-], in the shape of the argument; zero at 0.391 and below 0 beyond, which has no meaning.

    Notes
    -----
    Rhodes and Keck, SAE 850047 (1985); Heywood (1988), ch. 9.

    Examples
    --------
    >>> round(rhodes_keck_dilution_factor(0.1), 5)
    0.65016
    """
    return 1.0 - 2.06 * burned_mole_fraction**0.77


def power_law_speed_m_s(
    reference_speed_m_s: Numeric,
    temperature_exponent: Numeric,
    pressure_exponent: Numeric,
    temperature_k: Numeric,
    pressure_atm: Numeric,
) -> Numeric:
    """Laminar speed away from 298 K and 1 atm: ``S_0 (T/298)^alpha p^beta``.

    Parameters
    ----------
    reference_speed_m_s : float or array
        Speed at 298 K and 1 atm [m/s], dilution included.
    temperature_exponent, pressure_exponent : float or array
        Powers [-].
    temperature_k : float or array
        Unburned temperature [K].
    pressure_atm : float or array
        Pressure [atm].

    Returns
    -------
    float or array
        Speed [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    The common form of Metghalchi and Keck (1982) and Rhodes and Keck (1985).

    Examples
    --------
    Gasoline, phi = 1, 700 K and 10 atm after Rhodes and Keck:

    >>> round(power_law_speed_m_s(0.28079, 2.129, -0.217, 700.0, 10.0), 4)
    1.0495
    """
    return (
        reference_speed_m_s
        * (temperature_k / REFERENCE_TEMPERATURE_K) ** temperature_exponent
        * pressure_atm**pressure_exponent
    )
