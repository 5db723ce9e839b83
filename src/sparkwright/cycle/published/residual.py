"""Residual gas as published, held against the share that the cycle finds."""

from __future__ import annotations

import numpy as np

from sparkwright.numeric import Numeric


def fox_residual_fraction(
    overlap_factor_deg_per_m: Numeric,
    speed_rev_per_s: Numeric,
    intake_pressure_bar: Numeric,
    exhaust_pressure_bar: Numeric,
    equivalence_ratio: Numeric,
    compression_ratio: Numeric,
) -> Numeric:
    """Give the residual mass fraction exactly as published.

    ``x_r = 1.266 (OF/N) (p_i/p_e)^-0.87 sqrt|p_e - p_i| + 0.632 phi (p_i/p_e)^-0.74 / r_c``

    Parameters
    ----------
    overlap_factor_deg_per_m : float or array
        Overlap factor [deg/m], from `overlap_factor_deg_per_m`.
    speed_rev_per_s : float or array
        Engine speed [rev/s], above 0.
    intake_pressure_bar, exhaust_pressure_bar : float or array
        Mean pressures in the intake and exhaust manifolds [bar absolute].
    equivalence_ratio : float or array
        Fuel-air equivalence ratio [-].
    compression_ratio : float or array
        Compression ratio [-].

    Returns
    -------
    float or array
        Residual mass over total charge mass [-], in the broadcast shape of the arguments.

    Notes
    -----
    Fox, Cheng and Heywood, SAE 931025 (1993). `residual_outside_range` says where it is stretched.

    Examples
    --------
    >>> round(float(fox_residual_fraction(1.0, 25.0, 0.5, 1.0, 1.0, 9.0)), 4)
    0.1827
    """
    pressure_ratio = intake_pressure_bar / exhaust_pressure_bar
    backflow = (
        1.266
        * overlap_factor_deg_per_m
        / speed_rev_per_s
        * pressure_ratio**-0.87
        * np.sqrt(np.abs(exhaust_pressure_bar - intake_pressure_bar))
    )
    result: Numeric = backflow + 0.632 * equivalence_ratio * pressure_ratio**-0.74 / compression_ratio
    return result


def ramp_overlap_areas_m_deg(
    overlap_deg: Numeric, intake_ramp_m_per_deg: Numeric, exhaust_ramp_m_per_deg: Numeric
) -> tuple[Numeric, Numeric]:
    """Give the two areas of the overlap factor for lifts that rise and fall in straight lines.

    The lifts meet where ``k_i x = k_e (overlap - x)``; each area is a triangle. With equal ramps,
    diameters and areas the factor is ``D k overlap^2/(4 V_d)``.

    Parameters
    ----------
    overlap_deg : float or array
        Angle with both valves open [deg crank]; 0 or below gives no area.
    intake_ramp_m_per_deg, exhaust_ramp_m_per_deg : float or array
        Valve lift per crank degree beside the seat [m/deg], above 0.

    Returns
    -------
    tuple of float or array
        Intake and exhaust area [m deg], each in the broadcast shape of the arguments.

    Notes
    -----
    Geometry, for the definition of Fox, Cheng and Heywood (1993).

    Examples
    --------
    >>> intake, exhaust = ramp_overlap_areas_m_deg(40.0, 2e-5, 2e-5)
    >>> round(float(intake), 6), round(float(exhaust), 6)
    (0.004, 0.004)
    """
    open_deg = np.maximum(overlap_deg, 0.0)
    meeting_deg = exhaust_ramp_m_per_deg * open_deg / (intake_ramp_m_per_deg + exhaust_ramp_m_per_deg)
    return (
        0.5 * intake_ramp_m_per_deg * meeting_deg**2,
        0.5 * exhaust_ramp_m_per_deg * (open_deg - meeting_deg) ** 2,
    )
