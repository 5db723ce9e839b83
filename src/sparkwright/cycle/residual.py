"""Burned gas left in the cylinder: the correlation of Fox, Cheng and Heywood, and its overlap factor.

Two parts add up: gas drawn back through the valves while both stand open, and gas trapped in the clearance
volume. The published formula takes the root of the difference between exhaust and intake pressure, whose
slope is infinite where the two are equal; `residual_fraction` rounds that corner off and is what the cycle
uses.
"""

import numpy as np

from sparkwright.numeric import Numeric

PRESSURE_ROUNDING_BAR = 0.01
"""Pressure difference over which the corner at equal pressures is rounded [bar]; our choice: it moves the
published value by less than 0.001 wherever the pressures differ by 0.05 bar or more."""

MOST_RESIDUAL = 0.60
"""Residual fraction that is approached, never passed [-]; our choice. No spark-ignition engine fires with
more than about half of its charge burned already (common practice, no source), so the value only has to
keep the sum sensible where the correlation is far outside its data."""

MOST_RESIDUAL_SHARPNESS = 12.0
"""How late the approach to `MOST_RESIDUAL` begins; at 12 the value at 0.40 is lowered by 0.1 % of itself."""


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
    overlap_factor_deg_per_m
        Overlap factor [deg/m], from `overlap_factor_deg_per_m`.
    speed_rev_per_s
        Engine speed [rev/s], above 0.
    intake_pressure_bar, exhaust_pressure_bar
        Mean pressures in the intake and exhaust manifolds [bar absolute].
    equivalence_ratio
        Fuel-air equivalence ratio [-].
    compression_ratio
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


def residual_fraction(
    overlap_factor_deg_per_m: Numeric,
    speed_rev_per_s: Numeric,
    intake_pressure_bar: Numeric,
    exhaust_pressure_bar: Numeric,
    equivalence_ratio: Numeric,
    compression_ratio: Numeric,
) -> Numeric:
    """Give the residual mass fraction that the cycle uses: the published one, smooth and bounded.

    The pressure difference d = p_e - p_i becomes ``(d + sqrt(d^2 + w^2))/2`` with w the
    `PRESSURE_ROUNDING_BAR`: hardly changed where the exhaust presses harder, and fading to nothing where the
    intake does, since nothing flows back into a boosted intake. The sum x becomes
    ``x/(1 + (x/m)^12)^(1/12)`` with m the `MOST_RESIDUAL`.

    Parameters
    ----------
    overlap_factor_deg_per_m, speed_rev_per_s, intake_pressure_bar, exhaust_pressure_bar
        As for `fox_residual_fraction`.
    equivalence_ratio, compression_ratio
        As for `fox_residual_fraction`.

    Returns
    -------
    float or array
        Residual mass over total charge mass [-], in the broadcast shape of the arguments.

    Notes
    -----
    Fox, Cheng and Heywood, SAE 931025 (1993); the rounding and the bound are ours. Fresh charge that
    blows through to the exhaust under boost is not described.

    Examples
    --------
    >>> round(float(residual_fraction(1.0, 25.0, 0.5, 1.0, 1.0, 9.0)), 4)
    0.1827
    """
    pressure_ratio = intake_pressure_bar / exhaust_pressure_bar
    difference_bar = exhaust_pressure_bar - intake_pressure_bar
    driving_bar = 0.5 * (difference_bar + np.sqrt(difference_bar**2 + PRESSURE_ROUNDING_BAR**2))
    backflow = (
        1.266 * overlap_factor_deg_per_m / speed_rev_per_s * pressure_ratio**-0.87 * np.sqrt(driving_bar)
    )
    published = backflow + 0.632 * equivalence_ratio * pressure_ratio**-0.74 / compression_ratio
    result: Numeric = published / (1.0 + (published / MOST_RESIDUAL) ** MOST_RESIDUAL_SHARPNESS) ** (
        1.0 / MOST_RESIDUAL_SHARPNESS
    )
    return result


def residual_outside_range(
    speed_rpm: float, intake_pressure_bar: float, exhaust_pressure_bar: float, fraction: float
) -> list[str]:
    """Say in plain sentences where a residual fraction is an extrapolation.

    The correlation rests on small engines between idle and 0.9 bar of intake pressure, with the exhaust
    near the outside pressure and residuals up to about a third (recalled; to be confirmed in Fox, Cheng and
    Heywood 1993).

    Parameters
    ----------
    speed_rpm
        Engine speed [rpm].
    intake_pressure_bar, exhaust_pressure_bar
        Manifold pressures [bar absolute].
    fraction
        The residual fraction found [-].

    Returns
    -------
    list of str
        One sentence for each stretch; empty inside the range.

    Examples
    --------
    >>> residual_outside_range(1500.0, 0.5, 1.02, 0.2)
    []
    >>> residual_outside_range(1500.0, 1.5, 1.02, 0.05)
    ['The intake presses harder than the exhaust: the burned gas left behind is a guess there.']
    """
    sentences = []
    if intake_pressure_bar > exhaust_pressure_bar:
        sentences.append(
            "The intake presses harder than the exhaust: the burned gas left behind is a guess there."
        )
    if speed_rpm < 500.0:
        sentences.append(
            f"At {speed_rpm:.0f} rpm the engine turns slower than the engines whose burned gas was measured."
        )
    if fraction > 0.35:
        sentences.append(
            f"Burned gas of {100.0 * fraction:.0f} percent is more than was measured: "
            "expect a rough idle, and a best timing that is a guess."
        )
    return sentences


def overlap_factor_deg_per_m(
    intake_seat_m: Numeric,
    intake_area_m_deg: Numeric,
    exhaust_seat_m: Numeric,
    exhaust_area_m_deg: Numeric,
    displaced_volume_m3: Numeric,
) -> Numeric:
    """Give the overlap factor: ``OF = (D_i A_i + D_e A_e)/V_d``.

    Parameters
    ----------
    intake_seat_m, exhaust_seat_m
        Inner seat diameter, summed over the valves of one kind in a cylinder [m].
    intake_area_m_deg
        Area under the intake lift from its opening to the angle of equal lift [m deg crank].
    exhaust_area_m_deg
        Area under the exhaust lift from the angle of equal lift to its closing [m deg crank].
    displaced_volume_m3
        Displacement of one cylinder [m3].

    Returns
    -------
    float or array
        Overlap factor [deg/m], in the broadcast shape of the arguments.

    Notes
    -----
    Definition of Fox, Cheng and Heywood, SAE 931025 (1993).

    Examples
    --------
    >>> round(overlap_factor_deg_per_m(0.04, 0.004, 0.035, 0.004, 5e-4), 3)
    0.6
    """
    return (intake_seat_m * intake_area_m_deg + exhaust_seat_m * exhaust_area_m_deg) / displaced_volume_m3


def ramp_overlap_areas_m_deg(
    overlap_deg: Numeric, intake_ramp_m_per_deg: Numeric, exhaust_ramp_m_per_deg: Numeric
) -> tuple[Numeric, Numeric]:
    """Give the two areas of the overlap factor for lifts that rise and fall in straight lines.

    The lifts meet where ``k_i x = k_e (overlap - x)``; each area is a triangle. With equal ramps,
    diameters and areas the factor is ``D k overlap^2/(4 V_d)``.

    Parameters
    ----------
    overlap_deg
        Angle with both valves open [deg crank]; 0 or below gives no area.
    intake_ramp_m_per_deg, exhaust_ramp_m_per_deg
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
