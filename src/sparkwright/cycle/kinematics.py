"""Where the piston stands: slider-crank geometry, finding top dead centre, and degrees on a rim.

Crank angles count in degrees from the crank standing in line with the cylinder axis, positive after it. With
the piston pin offset, true top dead centre lies a little beside that line; `top_dead_centre_deg` says where.
All of it is exact geometry and holds for any rod longer than the crank throw and the offset together.
"""

import numpy as np

from sparkwright.numeric import Numeric


def swept_volume_m3(bore_m: Numeric, stroke_m: Numeric, cylinders: int = 1) -> Numeric:
    """Give the volume that the pistons sweep in one stroke each, ``pi/4 b^2 s`` a cylinder.

    Parameters
    ----------
    bore_m, stroke_m : float or array
        Bore and stroke [m].
    cylinders : int
        How many of them.

    Returns
    -------
    float or array
        Swept volume [m3], in the broadcast shape of the arguments.

    Notes
    -----
    Geometry: a cylinder's volume.

    Examples
    --------
    >>> round(1e6 * swept_volume_m3(0.0996, 0.0919, 8))  # cm3
    5728
    """
    return cylinders * (np.pi / 4 * bore_m**2 * stroke_m)


def top_dead_centre_deg(throw_m: Numeric, rod_m: Numeric, pin_offset_m: Numeric = 0.0) -> Numeric:
    """Give the crank angle of true top dead centre.

    ``sin(theta) = e/(a + l)``: crank and rod stretched in one line.

    Parameters
    ----------
    throw_m : float or array
        Crank throw, half the stroke [m].
    rod_m : float or array
        Rod length between centres [m].
    pin_offset_m : float or array
        Distance of the pin's path from the crank's centre, positive towards the side to which the crank
        moves after top dead centre [m].

    Returns
    -------
    float or array
        Crank angle [deg], in the broadcast shape of the arguments.

    Notes
    -----
    Slider-crank geometry.

    Examples
    --------
    >>> round(float(top_dead_centre_deg(0.044, 0.145, 0.0015)), 4)
    0.4547
    """
    result: Numeric = np.rad2deg(np.arcsin(pin_offset_m / (throw_m + rod_m)))
    return result


def piston_drop_m(
    crank_deg: Numeric, throw_m: Numeric, rod_m: Numeric, pin_offset_m: Numeric = 0.0
) -> Numeric:
    """Give the distance of the piston below its highest place.

    ``x = sqrt((a + l)^2 - e^2) - a cos(theta) - sqrt(l^2 - (a sin(theta) - e)^2)``

    Parameters
    ----------
    crank_deg : float or array
        Crank angle [deg].
    throw_m, rod_m, pin_offset_m : float or array
        As for `top_dead_centre_deg` [m].

    Returns
    -------
    float or array
        Piston drop [m], in the broadcast shape of the arguments.

    Notes
    -----
    Slider-crank geometry.

    Examples
    --------
    >>> round(float(piston_drop_m(90.0, 0.04, 0.16)), 6)
    0.045081
    """
    angle_rad = np.deg2rad(crank_deg)
    sideways_m = throw_m * np.sin(angle_rad) - pin_offset_m
    result: Numeric = (
        np.sqrt((throw_m + rod_m) ** 2 - pin_offset_m**2)
        - throw_m * np.cos(angle_rad)
        - np.sqrt(rod_m**2 - sideways_m**2)
    )
    return result


def piston_drop_slope_m_per_rad(
    crank_deg: Numeric, throw_m: Numeric, rod_m: Numeric, pin_offset_m: Numeric = 0.0
) -> Numeric:
    """Give how fast the piston drops with crank angle.

    ``dx/dtheta = a sin(theta) + (a sin(theta) - e) a cos(theta)/sqrt(l^2 - (a sin(theta) - e)^2)``

    Parameters
    ----------
    crank_deg : float or array
        Crank angle [deg].
    throw_m, rod_m, pin_offset_m : float or array
        As for `top_dead_centre_deg` [m].

    Returns
    -------
    float or array
        Slope [m per radian of crank], in the broadcast shape of the arguments. Times the piston's area it is
        the slope of the cylinder volume.

    Notes
    -----
    Slider-crank geometry: the exact derivative of `piston_drop_m`.

    Examples
    --------
    >>> round(float(piston_drop_slope_m_per_rad(90.0, 0.04, 0.16)), 6)
    0.04
    """
    angle_rad = np.deg2rad(crank_deg)
    sideways_m = throw_m * np.sin(angle_rad) - pin_offset_m
    result: Numeric = throw_m * np.sin(angle_rad) + sideways_m * throw_m * np.cos(angle_rad) / np.sqrt(
        rod_m**2 - sideways_m**2
    )
    return result


def mean_piston_speed_m_s(stroke_m: Numeric, speed_rpm: Numeric) -> Numeric:
    """Give the mean piston speed, two strokes a turn: ``S_p = 2 S N/60``.

    Parameters
    ----------
    stroke_m : float or array
        Stroke [m].
    speed_rpm : float or array
        Engine speed [rpm].

    Returns
    -------
    float or array
        Mean piston speed [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Definition.

    Examples
    --------
    >>> round(mean_piston_speed_m_s(0.09, 3000.0), 6)
    9.0
    """
    return 2.0 * stroke_m * speed_rpm / 60.0


def piston_speed_m_s(
    crank_deg: Numeric,
    speed_rpm: Numeric,
    throw_m: Numeric,
    rod_m: Numeric,
    pin_offset_m: Numeric = 0.0,
) -> Numeric:
    """Give the piston's speed at a crank angle, positive downwards.

    ``dx/dt = (dx/dtheta) (2 pi N/60)``

    Parameters
    ----------
    crank_deg : float or array
        Crank angle [deg].
    speed_rpm : float or array
        Engine speed [rpm].
    throw_m, rod_m, pin_offset_m : float or array
        As for `top_dead_centre_deg` [m].

    Returns
    -------
    float or array
        Piston speed [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Slider-crank geometry; see `piston_drop_slope_m_per_rad`, whose arithmetic is repeated here so that the
    function compiles by itself.

    Examples
    --------
    >>> round(float(piston_speed_m_s(90.0, 3000.0, 0.04, 0.16)), 3)
    12.566
    """
    angle_rad = np.deg2rad(crank_deg)
    sideways_m = throw_m * np.sin(angle_rad) - pin_offset_m
    slope_m_per_rad = throw_m * np.sin(angle_rad) + sideways_m * throw_m * np.cos(angle_rad) / np.sqrt(
        rod_m**2 - sideways_m**2
    )
    result: Numeric = slope_m_per_rad * speed_rpm * np.pi / 30.0
    return result


def delay_deg(delay_s: Numeric, speed_rpm: Numeric) -> Numeric:
    """Give the crank degrees that pass during a delay: ``6 N t``.

    Parameters
    ----------
    delay_s : float or array
        Delay [s].
    speed_rpm : float or array
        Engine speed [rpm].

    Returns
    -------
    float or array
        Crank degrees [deg], in the broadcast shape of the arguments.

    Notes
    -----
    Definition: one turn is 360 deg and 60/N seconds.

    Examples
    --------
    >>> round(delay_deg(0.0001, 3000.0), 6)
    1.8
    """
    return 6.0 * speed_rpm * delay_s
