"""Where the piston stands: slider-crank geometry, finding top dead centre, and degrees on a rim.

Crank angles count in degrees from the crank standing in line with the cylinder axis, positive after it. With
the piston pin offset, true top dead centre lies a little beside that line; `top_dead_centre_deg` says where.
All of it is exact geometry and holds for any rod longer than the crank throw and the offset together.
"""

from dataclasses import dataclass
from math import isfinite

import numpy as np

from sparkwright.errors import PhysicsError
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


@dataclass(frozen=True)
class SliderCrank:
    """One cylinder's geometry, checked once.

    Parameters
    ----------
    bore_m
        Bore [m].
    stroke_m
        Stroke, twice the crank throw [m].
    rod_m
        Rod length between centres [m].
    compression_ratio
        Greatest over least cylinder volume [-].
    pin_offset_m
        As for `top_dead_centre_deg` [m].

    Raises
    ------
    PhysicsError
        When a length is not above 0, the ratio not above 1, or the rod too short to turn over.

    Examples
    --------
    >>> cylinder = SliderCrank(bore_m=0.08, stroke_m=0.08, rod_m=0.14, compression_ratio=9.0)
    >>> round(cylinder.displaced_volume_m3 * 1e6, 2)
    402.12
    """

    bore_m: float
    stroke_m: float
    rod_m: float
    compression_ratio: float
    pin_offset_m: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a cylinder that cannot be built."""
        for field in ("bore_m", "stroke_m", "rod_m"):
            length_m = getattr(self, field)
            if not (isfinite(length_m) and length_m > 0.0):
                raise PhysicsError(field, length_m, "must be a length above 0")
        if not (isfinite(self.compression_ratio) and self.compression_ratio > 1.0):
            raise PhysicsError(
                "compression_ratio",
                self.compression_ratio,
                "must be above 1",
                "at 1 or below the piston would compress nothing",
            )
        if not self.rod_m > self.throw_m + abs(self.pin_offset_m):
            raise PhysicsError(
                "rod_m",
                self.rod_m,
                f"must be longer than half the stroke and the pin offset together "
                f"({self.throw_m + abs(self.pin_offset_m):g} m)",
                "a shorter rod cannot pass the crank's side",
            )

    @property
    def throw_m(self) -> float:
        """Crank throw, half the stroke [m]."""
        return 0.5 * self.stroke_m

    @property
    def piston_area_m2(self) -> float:
        """Area of the bore [m2]."""
        return np.pi * self.bore_m**2 / 4.0

    @property
    def displaced_volume_m3(self) -> float:
        """Displacement of one cylinder: piston area times stroke [m3]."""
        return self.piston_area_m2 * self.stroke_m

    @property
    def clearance_volume_m3(self) -> float:
        """Volume left at top dead centre, ``V_d/(r - 1)`` [m3]."""
        return self.displaced_volume_m3 / (self.compression_ratio - 1.0)

    @property
    def top_deg(self) -> float:
        """Crank angle of true top dead centre [deg]."""
        return float(top_dead_centre_deg(self.throw_m, self.rod_m, self.pin_offset_m))

    def drop_m(self, crank_deg: Numeric) -> Numeric:
        """Distance of the piston below its highest place [m], in the shape of `crank_deg` [deg].

        Parameters
        ----------
        crank_deg : float or array
            Crank angle after top dead centre [deg].
        """
        return piston_drop_m(crank_deg, self.throw_m, self.rod_m, self.pin_offset_m)

    def volume_m3(self, crank_deg: Numeric) -> Numeric:
        """Cylinder volume [m3], in the shape of `crank_deg` [deg].

        Parameters
        ----------
        crank_deg : float or array
            Crank angle after top dead centre [deg].
        """
        return self.clearance_volume_m3 + self.piston_area_m2 * self.drop_m(crank_deg)

    def volume_slope_m3_per_rad(self, crank_deg: Numeric) -> Numeric:
        """Slope of the cylinder volume [m3 per radian of crank], in the shape of `crank_deg` [deg].

        Parameters
        ----------
        crank_deg : float or array
            Crank angle after top dead centre [deg].
        """
        return self.piston_area_m2 * piston_drop_slope_m_per_rad(
            crank_deg, self.throw_m, self.rod_m, self.pin_offset_m
        )
