"""Filling: how far the pressure at intake closing lies from the manifold's.

At low speed a valve that closes past bottom dead centre lets charge back out; in the middle the column of air
runs on into the cylinder; at high speed the valve is too small. Taylor's inlet Mach index measures the last.
"""

import numpy as np

from sparkwright.numeric import Numeric

USUAL_DURATION_DEG = 194.0
"""Intake duration at 1.27 mm of tappet lift to which `MEAN_FLOW_COEFFICIENT` belongs [crank deg]."""

USUAL_CLOSING_DEG = 24.0
"""Intake closing at that lift at which the ram of `closing_pressure_ratio` is as fitted [deg past bottom]."""

MEAN_FLOW_COEFFICIENT = 0.32
"""Flow of the intake valve, mean over its usual opening, over that of an open hole of its size [-]; recalled,
Taylor (1985) gives 0.3 to 0.35 for ordinary valves."""

SOUND_M_S = 350.0
"""Speed of sound in the port [m/s], at about 305 K."""

COMPRESSING_EXPONENT = 0.27
"""Of temperature with pressure while the charge is pressed together [-]: ``(g - 1)/g`` with g = 1.37 of a
mixture with fuel vapour."""

PORT_WALL_K = 365.0
"""Wall of a warm intake port and manifold [K]; recalled, about coolant temperature."""


def mach_index(
    bore_m: Numeric, intake_seat_m: Numeric, mean_piston_speed_m_s: Numeric, duration_deg: Numeric
) -> Numeric:
    """Give the inlet Mach index: ``Z = (B/D)^2 S / (a C)``, C in proportion to the duration.

    Parameters
    ----------
    bore_m : float or array
        B [m].
    intake_seat_m : float or array
        D, inner seat diameter [m].
    mean_piston_speed_m_s : float or array
        S [m/s].
    duration_deg : float or array
        Intake duration at 1.27 mm of tappet lift [crank deg], above 0.

    Returns
    -------
    float or array
        Z [-], in the broadcast shape of the arguments.

    Notes
    -----
    Livengood and Stanitz, NACA TN 915 (1943); Taylor, *The Internal-Combustion Engine in Theory and
    Practice* 1 (1985), ch. 6: the filling falls off beyond about 0.5 to 0.6 (recalled).

    Examples
    --------
    >>> round(float(mach_index(0.1, 0.045, 12.0, 194.0)), 3)
    0.529
    """
    coefficient = MEAN_FLOW_COEFFICIENT * duration_deg / USUAL_DURATION_DEG
    result: Numeric = (bore_m / intake_seat_m) ** 2 * mean_piston_speed_m_s / (SOUND_M_S * coefficient)
    return result


def closing_pressure_ratio(
    index: Numeric, closes_deg: Numeric, loss: float, ram: float, choking_index: float
) -> Numeric:
    """Give the pressure at intake closing over the manifold's.

    ``psi = (1 - l + m sqrt(c/24) Z^2) / (1 + (Z/k)^4)``

    Parameters
    ----------
    index : float or array
        Z, of `mach_index` [-].
    closes_deg : float or array
        c, intake closing at 1.27 mm of tappet lift [deg after bottom]; before bottom there is no ram.
    loss : float
        l, lost at the lowest speed [-].
    ram : float
        m, gained by the running column [-].
    choking_index : float
        k, index at which the filling has fallen by half [-].

    Returns
    -------
    float or array
        psi [-], in the broadcast shape of the arguments.

    Notes
    -----
    The ram is the dynamic pressure of the column, in proportion to Z^2; later closing catches more of it. The
    fall with the fourth power has the shape of Livengood and Stanitz (NACA TN 915, 1943). The form and its
    three constants are ours, fitted. Tuned lengths of pipe are not described.

    Examples
    --------
    >>> round(float(closing_pressure_ratio(0.4, 24.0, 0.08, 1.4, 0.87)), 3)
    1.095
    """
    caught = ram * np.sqrt(np.maximum(closes_deg, 0.0) / USUAL_CLOSING_DEG)
    result: Numeric = (1.0 - loss + caught * index**2) / (1.0 + (index / choking_index) ** 4)
    return result


def compressed_k(temperature_k: Numeric, pressure_ratio: Numeric) -> Numeric:
    """Temperature of the charge after it was pressed together, or let expand, on its way in [K].

    Parameters
    ----------
    temperature_k : float or array
        Temperature before [K].
    pressure_ratio : float or array
        Pressure after over before [-].

    Notes
    -----
    First principles: no heat passes; the ratio of heat capacities is a choice.

    Examples
    --------
    >>> round(float(compressed_k(330.0, 1.1)), 1)
    338.6
    """
    result: Numeric = temperature_k * pressure_ratio**COMPRESSING_EXPONENT
    return result


def fresh_charge_k(
    intake_k: Numeric, mean_piston_speed_m_s: Numeric, cooling_k: Numeric, port_k: float = PORT_WALL_K
) -> Numeric:
    """Temperature of the fresh charge after the port, less what the evaporating fuel takes [K].

    The air takes up part of the difference to the port wall, less of it the faster it passes
    (recalled; gives the 10 to 25 K at full load that are usual).

    Parameters
    ----------
    intake_k : float or array
        Air in the manifold [K].
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].
    cooling_k : float or array
        What evaporating fuel takes [K].
    port_k : float, optional
        Wall of the intake port [K]; by default that of a warm engine.

    Examples
    --------
    >>> round(fresh_charge_k(298.0, 8.8, 10.0), 1)
    299.2
    """
    taken_up = 0.35 / (1.0 + mean_piston_speed_m_s / 8.0)
    return intake_k + taken_up * (port_k - intake_k) - cooling_k
