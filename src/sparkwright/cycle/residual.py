"""Burned gas left in the cylinder: what the clearance volume traps and what flows back through the overlap.

The trapped part is that of the correlation of Fox, Cheng and Heywood. Their other part, for the gas drawn
back while both valves stand open, grows without bound for long cams at low speed; the cycle takes the flow
through the two valves as through one orifice instead, which chokes.
"""

from math import pi

import numpy as np

from sparkwright.cycle import cam
from sparkwright.findings import Finding
from sparkwright.numeric import Numeric

MOST_RESIDUAL = 0.60
"""Residual fraction that is approached, never passed [-]; our choice. No spark-ignition engine fires with
more than about half of its charge burned already (common practice, no source), so the value only has to
keep the sum sensible far outside what was measured."""

MOST_RESIDUAL_SHARPNESS = 12.0
"""How late the approach to `MOST_RESIDUAL` begins; at 12 the value at 0.40 is lowered by 0.1 % of itself."""

BACKFLOW_GAMMA = 1.3
"""Ratio of heat capacities of burned gas about 1000 K [-]; recalled."""

GAS_CONSTANT_J_KGK = 287.0
"""Of exhaust gas and fresh charge alike [J/(kg K)]; both lie within two per cent of air's."""

EQUAL_PRESSURE_WIDTH = 0.01
"""Share of the exhaust pressure over which the corner at equal pressures is rounded [-]; our choice."""


def trapped_share(intake_pressure_kpa: Numeric, exhaust_pressure_kpa: Numeric, ratio: Numeric) -> Numeric:
    """Give the share of the charge that the clearance volume keeps: ``0.632 (p_i/p_e)^-0.74 / r_c``.

    Parameters
    ----------
    intake_pressure_kpa, exhaust_pressure_kpa : float or array
        Mean pressures in intake and exhaust port, absolute [kPa].
    ratio : float or array
        Compression ratio r_c [-].

    Returns
    -------
    float or array
        Mass of trapped gas over mass of charge [-], in the broadcast shape of the arguments.

    Notes
    -----
    Second term of Fox, Cheng and Heywood, SAE 931025 (1993), without its factor phi: the gas that stays in a
    volume depends on its temperature, and rich mixtures do not burn hotter in that proportion.

    Examples
    --------
    >>> round(float(trapped_share(100.0, 100.0, 9.5)), 4)
    0.0665
    """
    result: Numeric = 0.632 * (intake_pressure_kpa / exhaust_pressure_kpa) ** -0.74 / ratio
    return result


def overlap_window_m2_deg(
    overlap_deg: float,
    intake_seat_m: float,
    exhaust_seat_m: float,
    rocker_ratio: float,
    acceleration_mm_per_deg2: float = cam.USUAL_FLANK_ACCELERATION_MM_PER_DEG2,
) -> float:
    """Give the area through both valves in series, summed over the overlap.

    ``G = integral of 1/sqrt(1/A_i^2 + 1/A_e^2)`` with the curtain areas ``A = pi D lift``, one flank rising
    and the other falling with constant acceleration.

    Parameters
    ----------
    overlap_deg : float
        Crank angle over which both valves pass gas [deg]; 0 or below gives no area.
    intake_seat_m, exhaust_seat_m : float
        Inner seat diameters [m].
    rocker_ratio : float
        Valve lift over tappet lift [-].
    acceleration_mm_per_deg2 : float
        Of the tappet on its flank [mm per crank degree squared].

    Returns
    -------
    float
        The window [m2 deg].

    Notes
    -----
    Geometry, summed by midpoints.

    Examples
    --------
    >>> round(1e4 * overlap_window_m2_deg(40.0, 0.044, 0.036, 1.5), 2)  # cm2 deg
    7.82
    """
    if overlap_deg <= 0.0:
        return 0.0
    steps = 200
    x = (np.arange(steps) + 0.5) * overlap_deg / steps
    flank_m = 0.5e-3 * rocker_ratio * acceleration_mm_per_deg2
    intake_m2 = pi * intake_seat_m * flank_m * x**2
    exhaust_m2 = pi * exhaust_seat_m * flank_m * (overlap_deg - x) ** 2
    return float(np.sum(intake_m2 * exhaust_m2 / np.hypot(intake_m2, exhaust_m2)) * overlap_deg / steps)


def orifice_flow(pressure_ratio: Numeric, gamma: float = BACKFLOW_GAMMA) -> Numeric:
    """Give the flow through an orifice, as a share of ``area x p_0 / sqrt(R T_0)``.

    ``r^(1/g) sqrt(2 g/(g-1) (1 - r^((g-1)/g)))``, held at its greatest where the flow chokes, and 0 where the
    pressure behind is not below the one before.

    Parameters
    ----------
    pressure_ratio : float or array
        r, pressure behind over pressure before the orifice [-], above 0.
    gamma : float
        g, ratio of heat capacities [-].

    Returns
    -------
    float or array
        Flow [-], in the shape of the pressure ratio.

    Notes
    -----
    Heywood (1988), app. C, eqs. C.8 and C.9.

    Examples
    --------
    >>> round(float(orifice_flow(0.3)), 4), float(orifice_flow(1.0))
    (0.6673, 0.0)
    """
    choked: float = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    ratio = np.minimum(np.maximum(pressure_ratio, choked), 1.0)
    head = 2.0 * gamma / (gamma - 1.0) * (1.0 - ratio ** ((gamma - 1.0) / gamma))
    flow: Numeric = ratio ** (1.0 / gamma) * np.sqrt(head)
    return flow


def backflow_share(
    window_m2_deg: Numeric,
    speed_rpm: Numeric,
    intake_pressure_kpa: Numeric,
    exhaust_pressure_kpa: Numeric,
    exhaust_k: Numeric,
    fresh_k: Numeric,
    displaced_m3: Numeric,
    discharge: float,
) -> Numeric:
    """Give the burned gas that flows back through the overlap, over the fresh charge.

    ``x = C G/(6 N) p_e/sqrt(R T_e) F(p_i/p_e) / (p_i V/(R T_i))``

    Parameters
    ----------
    window_m2_deg : float or array
        G, of `overlap_window_m2_deg` [m2 deg].
    speed_rpm : float or array
        N [rpm], above 0.
    intake_pressure_kpa, exhaust_pressure_kpa : float or array
        p_i and p_e, absolute [kPa].
    exhaust_k, fresh_k : float or array
        T_e of the burned gas and T_i of the fresh charge [K].
    displaced_m3 : float or array
        V, displacement of one cylinder [m3].
    discharge : float
        C, flow over that of an ideal orifice [-].

    Returns
    -------
    float or array
        Mass drawn back over mass of a filling of fresh charge [-], in the broadcast shape of the arguments.

    Notes
    -----
    F is `orifice_flow`; its infinite slope at equal pressures is rounded over `EQUAL_PRESSURE_WIDTH`. The
    pressures stand for their means over the overlap. Fresh charge that blows through under boost is not
    described. First principles, flow through an orifice under a steady pressure; the rounding and the
    window's mean are our choice.

    Examples
    --------
    >>> round(float(backflow_share(1e-3, 900.0, 45.0, 101.0, 900.0, 330.0, 7e-4, 0.5)), 3)
    0.037
    """
    short = 1.0 - intake_pressure_kpa / exhaust_pressure_kpa
    driving = 0.5 * (short + np.hypot(short, EQUAL_PRESSURE_WIDTH))
    back_kg = (
        discharge
        * window_m2_deg
        / (6.0 * speed_rpm)
        * 1e3
        * exhaust_pressure_kpa
        / np.sqrt(GAS_CONSTANT_J_KGK * exhaust_k)
        * orifice_flow(1.0 - driving)
    )
    fresh_kg = 1e3 * intake_pressure_kpa * displaced_m3 / (GAS_CONSTANT_J_KGK * fresh_k)
    result: Numeric = back_kg / fresh_kg
    return result


def bounded_share(share: Numeric) -> Numeric:
    """Keep a residual share below `MOST_RESIDUAL`, smoothly: ``x/(1 + (x/m)^12)^(1/12)``.

    Parameters
    ----------
    share : float or array
        Residual share before [-].

    Notes
    -----
    A choice.

    Examples
    --------
    >>> round(float(bounded_share(0.2)), 4), round(float(bounded_share(3.0)), 4)
    (0.2, 0.6)
    """
    result: Numeric = share / (1.0 + (share / MOST_RESIDUAL) ** MOST_RESIDUAL_SHARPNESS) ** (
        1.0 / MOST_RESIDUAL_SHARPNESS
    )
    return result


SLOWEST_MEASURED_RPM = 500.0
MOST_MEASURED = 0.35
"""Slowest speed and most residual gas of the engines behind the correlation; recalled."""


def residual_outside_range(
    speed_rpm: float, intake_pressure_bar: float, exhaust_pressure_bar: float, fraction: float
) -> tuple[Finding, ...]:
    """Give where a residual fraction is an extrapolation.

    The correlation rests on small engines between idle and 0.9 bar of intake pressure, with the exhaust
    near the outside pressure and residuals up to about a third (recalled; to be confirmed in Fox, Cheng and
    Heywood 1993).

    Parameters
    ----------
    speed_rpm : float
        Engine speed [rpm].
    intake_pressure_bar, exhaust_pressure_bar : float
        Manifold pressures [bar absolute].
    fraction : float
        The residual fraction found [-].

    Returns
    -------
    tuple of Finding
        One for each stretch; empty inside the range.

    Examples
    --------
    >>> residual_outside_range(1500.0, 0.5, 1.02, 0.2)
    ()
    >>> residual_outside_range(1500.0, 1.5, 1.02, 0.05)[0].kind
    'residual.intake-above-exhaust'
    """
    found = []
    if intake_pressure_bar > exhaust_pressure_bar:
        found.append(Finding("residual.intake-above-exhaust", "look"))
    if speed_rpm < SLOWEST_MEASURED_RPM:
        found.append(Finding("residual.slower-than-measured", "look", {"rpm": speed_rpm}))
    if fraction > MOST_MEASURED:
        found.append(Finding("residual.more-than-measured", "look", {"share": fraction}))
    return tuple(found)


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
    intake_seat_m, exhaust_seat_m : float or array
        Inner seat diameter, summed over the valves of one kind in a cylinder [m].
    intake_area_m_deg : float or array
        Area under the intake lift from its opening to the angle of equal lift [m deg crank].
    exhaust_area_m_deg : float or array
        Area under the exhaust lift from the angle of equal lift to its closing [m deg crank].
    displaced_volume_m3 : float or array
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
