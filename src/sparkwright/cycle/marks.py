"""Marks on the balancer's rim: read at a piston stop or a dial, and told as millimetres."""

import numpy as np

from sparkwright.numeric import Numeric


def piston_stop_marks_deg(
    drop_m: Numeric, throw_m: Numeric, rod_m: Numeric, pin_offset_m: Numeric = 0.0
) -> tuple[Numeric, Numeric]:
    """Give the two crank angles at which the piston touches a stop.

    The pin stands at the distance ``D = sqrt(s^2 + e^2)`` from the crank's centre, with s the height of the
    pin; throw, rod and D form a triangle on either side of the line to the pin.

    Parameters
    ----------
    drop_m : float or array
        Distance of the stop below the piston's highest place [m], less than the stroke.
    throw_m, rod_m, pin_offset_m : float or array
        As for `top_dead_centre_deg` [m].

    Returns
    -------
    tuple of float or array
        Angle before and angle after top dead centre [deg], each in the broadcast shape of the arguments.

    Notes
    -----
    Slider-crank geometry: the exact inverse of `piston_drop_m`.

    Examples
    --------
    >>> before_deg, after_deg = piston_stop_marks_deg(0.005, 0.04, 0.16)
    >>> round(float(before_deg), 3), round(float(after_deg), 3)
    (-25.968, 25.968)
    """
    pin_height_m = np.sqrt((throw_m + rod_m) ** 2 - pin_offset_m**2) - drop_m
    distance_m = np.sqrt(pin_height_m**2 + pin_offset_m**2)
    lean_rad = np.arctan2(pin_offset_m, pin_height_m)
    opening_rad = np.arccos((throw_m**2 + distance_m**2 - rod_m**2) / (2.0 * throw_m * distance_m))
    return np.rad2deg(lean_rad - opening_rad), np.rad2deg(lean_rad + opening_rad)


def piston_stop_top_deg(first_mark_deg: Numeric, second_mark_deg: Numeric) -> Numeric:
    """Give top dead centre as found with a piston stop: midway between the two marks.

    Parameters
    ----------
    first_mark_deg, second_mark_deg : float or array
        The rim's readings with the piston against the stop, once from each side [deg].

    Returns
    -------
    float or array
        Reading at top dead centre [deg], in the broadcast shape of the arguments.

    Notes
    -----
    Exact without pin offset. With a pin offset the midpoint misses true top dead centre by a few
    hundredths of a degree.
    Geometry.

    Examples
    --------
    >>> piston_stop_top_deg(-31.0, 24.0)
    -3.5
    """
    return 0.5 * (first_mark_deg + second_mark_deg)


def dial_indicator_doubt_deg(height_error_m: Numeric, throw_m: Numeric, rod_m: Numeric) -> Numeric:
    """Give how far the crank may stand from top dead centre for a small error in piston height.

    ``theta = sqrt(2 dx/(a (1 + a/l)))``: the piston hardly moves on the flat top of its path.

    Parameters
    ----------
    height_error_m : float or array
        Smallest height that the dial indicator shows surely [m].
    throw_m, rod_m : float or array
        Crank throw and rod length [m].

    Returns
    -------
    float or array
        Crank angle to either side [deg], in the broadcast shape of the arguments.

    Notes
    -----
    Slider-crank geometry to second order; good to 1 % up to about 10 deg.

    Examples
    --------
    >>> round(float(dial_indicator_doubt_deg(0.00002, 0.04, 0.16)), 3)
    1.621
    """
    result: Numeric = np.rad2deg(np.sqrt(2.0 * height_error_m / (throw_m * (1.0 + throw_m / rod_m))))
    return result


def rim_distance_m(diameter_m: Numeric, crank_deg: Numeric) -> Numeric:
    """Give the distance along a balancer's rim for a crank angle: ``pi D theta/360``.

    Parameters
    ----------
    diameter_m : float or array
        Diameter of the rim where the marks are [m].
    crank_deg : float or array
        Crank angle [deg].

    Returns
    -------
    float or array
        Distance along the rim [m], in the broadcast shape of the arguments.

    Notes
    -----
    Geometry of the circle.

    Examples
    --------
    >>> round(rim_distance_m(0.18, 20.0) * 1000.0, 3)
    31.416
    """
    return np.pi * diameter_m * crank_deg / 360.0


def rim_angle_deg(diameter_m: Numeric, distance_m: Numeric) -> Numeric:
    """Give the crank angle for a distance along a balancer's rim: ``360 d/(pi D)``.

    Parameters
    ----------
    diameter_m : float or array
        Diameter of the rim where the marks are [m].
    distance_m : float or array
        Distance along the rim [m].

    Returns
    -------
    float or array
        Crank angle [deg], in the broadcast shape of the arguments.

    Notes
    -----
    Geometry of the circle.

    Examples
    --------
    >>> round(rim_angle_deg(0.18, 0.0005), 4)
    0.3183
    """
    return 360.0 * distance_m / (np.pi * diameter_m)
