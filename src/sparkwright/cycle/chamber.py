"""The combustion chamber: its roof, its plug, and the flame that grows from it.

A chamber is a footprint, a roof over it at the height ``z`` above the deck, and a floor: the piston
where the footprint lies over the bore, the deck beside it. The flame is a sphere about the plug,
cut off by roof, floor and walls (Blizard and Keck, SAE 740191, 1974; Heywood, *Internal Combustion
Engine Fundamentals*, 1988, sec. 14.4.2). The kernel needs only the flame's free area for a given
flame volume and piston position, so that is what is tabulated.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.jit import compiled
from sparkwright.cycle.kept import kept_table
from sparkwright.cycle.shapes import SHAPES, ChamberShape, Roof, Shape
from sparkwright.errors import PhysicsError

FloatArray = NDArray[np.float64]

DECK_GAP_M = 0.001
"""Piston-to-head clearance over the quench areas [m]; common practice, no source."""

PLUG_REACH_M = 0.003
"""How far the gap stands below the roof [m]; recalled, no source."""

SHARE_NODES = 41
PISTON_NODES = 13


@dataclass(frozen=True)
class Chamber:
    """Shape of the clearance space.

    Parameters
    ----------
    shape : str
        One of the names in `sparkwright.cycle.shapes`.
    bore_m : float
        Bore [m].
    stroke_m : float
        Stroke [m].
    compression_ratio : float
        Geometric compression ratio [-].
    plug_offset_m : float, optional
        Distance of the plug from the bore axis [m]; by default what is usual for the shape.

    Raises
    ------
    PhysicsError
        If a dimension is not above 0 or the plug stands outside the chamber.

    Examples
    --------
    >>> round(Chamber("flat-disc", 0.0996, 0.0919, 9.5).clearance_m3 * 1e6, 1)  # cm3
    84.2
    """

    shape: Shape
    bore_m: float
    stroke_m: float
    compression_ratio: float
    plug_offset_m: float | None = None

    def __post_init__(self) -> None:
        for name in ("bore_m", "stroke_m"):
            if not getattr(self, name) > 0:
                raise PhysicsError(f"chamber.{name}", getattr(self, name), "must be above 0")
        if not self.compression_ratio > 1:
            raise PhysicsError("chamber.compression_ratio", self.compression_ratio, "must be above 1")
        if not 0 <= self.plug_m < self.footprint_reach_m:
            raise PhysicsError(
                "chamber.plug_offset_m",
                self.plug_m,
                f"must be from 0 to {self.footprint_reach_m:.4g}, inside the chamber",
            )

    @property
    def kind(self) -> ChamberShape:
        """Everything that goes with its shape."""
        return SHAPES[self.shape]

    @property
    def clearance_m3(self) -> float:
        """Volume above the piston at top dead centre [m3]."""
        return pi / 4 * self.bore_m**2 * self.stroke_m / (self.compression_ratio - 1)

    @property
    def plug_m(self) -> float:
        """Distance of the plug from the bore axis [m]."""
        if self.plug_offset_m is None:
            return self.kind.plug_offset_bores * self.bore_m
        return self.plug_offset_m

    @property
    def footprint_reach_m(self) -> float:
        """How far the chamber extends from the bore axis on the plug's side [m]."""
        return self.bore_m * self.kind.reach_bores


def _roof(roof: Roof, height: float, bore_radius: float, x: float, y: float) -> float:
    """Height of the roof above the deck at (x, y), 0 outside the footprint; all in metres.

    ``height`` is the free parameter that sets the volume. The plug lies on the positive x axis.
    """
    gap = DECK_GAP_M
    if roof.pocket_half_length > 0.0:
        across = x - roof.pocket_at * bore_radius
        along = y / roof.pocket_half_width
        length = roof.pocket_half_length * bore_radius
        if across * across / length**2 + along * along / bore_radius**2 <= 1.0:
            return gap + height
    if x * x + y * y > bore_radius * bore_radius:
        return 0.0
    share = (x * x + y * y) / (bore_radius * bore_radius)
    if roof.is_cap:
        sphere = (bore_radius * bore_radius + height * height) / (2.0 * height)
        return gap + max(0.0, sqrt(max(sphere * sphere - share * bore_radius**2, 0.0)) - (sphere - height))
    u = x / bore_radius
    risen = roof.level + roof.slope * u + roof.ridge * abs(u) + roof.dome * share
    return gap + height * max(0.0, risen / roof.highest)


_roof_compiled = compiled(_roof)


def _roof_volume(roof: Roof, height: float, bore_radius: float) -> float:
    """Volume under the roof [m3], by midpoints over a square that holds every footprint."""
    cells = 160
    step = 3.4 * bore_radius / cells
    total = 0.0
    for i in range(cells):
        x = -1.1 * bore_radius + (i + 0.5) * step
        for j in range(cells):
            total += _roof_compiled(roof, height, bore_radius, x, -1.7 * bore_radius + (j + 0.5) * step)
    return total * step * step


_roof_volume_compiled = compiled(_roof_volume)


def roof_height_m(chamber: Chamber) -> float:
    """Give the height parameter that makes the chamber's clearance volume [m].

    Parameters
    ----------
    chamber : Chamber
        The chamber.

    Returns
    -------
    float
        Height of the deepest part of the roof above the quench gap [m]. A chamber too small for a
        quench gap gets a height near 0 and its gap keeps the volume; see ``flame_table``, which
        works with shares of the volume.

    Notes
    -----
    Geometry of the chamber's shape, solved by halving.

    Examples
    --------
    >>> round(1000 * roof_height_m(Chamber("flat-disc", 0.0996, 0.0919, 9.5)), 1)
    9.8
    """
    roof, radius = chamber.kind.roof, chamber.bore_m / 2
    low, high = 1e-6, 0.3
    for _ in range(40):
        middle = 0.5 * (low + high)
        if _roof_volume_compiled(roof, middle, radius) < chamber.clearance_m3:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _wall_distance(roof: Roof, bore_radius: float, plug_x: float, angle: float) -> float:
    """Distance from the plug's axis to the wall along one direction [m], by bisection."""
    low, high = 0.0, 4.4 * bore_radius
    for _ in range(40):
        middle = 0.5 * (low + high)
        x, y = plug_x + middle * np.cos(angle), middle * np.sin(angle)
        if _roof_compiled(roof, 0.001, bore_radius, x, y) > 0.0:
            low = middle
        else:
            high = middle
    return low


_wall_distance_compiled = compiled(_wall_distance)


def _add_flame_volumes(
    roof: Roof,
    height: float,
    bore_radius: float,
    plug_x: float,
    plug_z: float,
    drops: FloatArray,
    radii: FloatArray,
    spokes: int,
    rings: int,
    volumes: FloatArray,
) -> None:
    """Add up the volumes of the parts of spheres about the plug that lie inside the chamber [m3].

    ``volumes`` are zeros for each of the drops and radii. Columns about the plug: a midpoint rule in the
    angle, and in the distance a substitution ``distance = radius sin t``, from the plug's axis to the wall,
    that makes the columns smooth.
    """
    for j in range(spokes):
        angle = (j + 0.5) * pi / spokes  # every shape is symmetric about the x axis
        wall = _wall_distance_compiled(roof, bore_radius, plug_x, angle)
        for k in range(radii.size):
            radius = radii[k]
            end = np.arcsin(min(1.0, wall / radius))
            width = end / rings
            for i in range(rings):
                tilt = (i + 0.5) * width
                distance = radius * np.sin(tilt)
                chord = radius * np.cos(tilt)
                x, y = plug_x + distance * np.cos(angle), distance * np.sin(angle)
                top = min(_roof_compiled(roof, height, bore_radius, x, y), plug_z + chord)
                over_piston = x * x + y * y <= bore_radius * bore_radius
                weight = distance * chord * width * (2.0 * pi / spokes)
                for d in range(drops.size):
                    floor = -drops[d] if over_piston else 0.0
                    volumes[d, k] += weight * max(0.0, top - max(floor, plug_z - chord))


_add_flame_volumes_compiled = compiled(_add_flame_volumes)


def flame_volume_and_area(
    chamber: Chamber, drop_m: float, radius_m: float, *, plug_at_roof: bool = False
) -> tuple[float, float]:
    """Volume and free area of a flame of one radius.

    Parameters
    ----------
    chamber : Chamber
        The chamber.
    drop_m : float
        How far the piston stands below top dead centre [m].
    radius_m : float
        Flame radius [m], above 0.
    plug_at_roof : bool
        Put the spark at the roof itself instead of a plug's reach below it.

    Returns
    -------
    tuple of float
        Flame volume [m3] and free flame area [m2].

    Notes
    -----
    Geometry, summed over columns about the plug.

    Examples
    --------
    A small flame below the roof is a whole sphere:

    >>> volume, area = flame_volume_and_area(Chamber("flat-disc", 0.1, 0.08, 9.0), 0.0, 0.002)
    >>> round(volume / (4 / 3 * pi * 0.002**3), 2)
    1.0
    """
    radii = radius_m * np.array([0.995, 1.005])
    place = _plug_place(chamber, plug_at_roof)
    volumes = np.zeros((1, radii.size))
    _add_flame_volumes_compiled(*place, np.array([drop_m]), radii, 400, 400, volumes)
    inner, outer = volumes[0]
    # The free area is the growth of the volume with the radius (coarea formula).
    return float(0.5 * (inner + outer)), float((outer - inner) / (radii[1] - radii[0]))


def _plug_place(chamber: Chamber, plug_at_roof: bool) -> tuple[Roof, float, float, float, float]:
    roof, height, bore_radius = chamber.kind.roof, roof_height_m(chamber), chamber.bore_m / 2
    above_plug = _roof_compiled(roof, height, bore_radius, chamber.plug_m, 0.0)
    plug_z = above_plug if plug_at_roof else above_plug - min(PLUG_REACH_M, 0.4 * above_plug)
    return roof, height, bore_radius, chamber.plug_m, plug_z


@lru_cache(maxsize=64)
@kept_table
def flame_table(chamber: Chamber) -> FloatArray:
    """Free flame area as a shape factor, over flame share and piston position.

    Parameters
    ----------
    chamber : Chamber
        The chamber.

    Returns
    -------
    array, shape (PISTON_NODES, SHARE_NODES)
        ``area / flame_volume**(2/3)`` [-]. Along the last axis the cube root of the flame's share of
        the cylinder volume runs evenly from 0 to 1; along the first, clearance volume over cylinder
        volume runs evenly from ``1/compression_ratio`` to 1. The factor is that of a sphere, 4.836,
        at share 0, and 0 at share 1.

    Notes
    -----
    Geometry of `flame_volume_and_area`.

    Examples
    --------
    >>> flame_table(Chamber("wedge", 0.0996, 0.0919, 9.5)).shape
    (13, 41)
    """
    place = _plug_place(chamber, False)
    clearances = np.linspace(1 / chamber.compression_ratio, 1.0, PISTON_NODES)
    drops = chamber.clearance_m3 * (1 / clearances - 1) / (pi / 4 * chamber.bore_m**2)
    farthest = np.hypot(chamber.plug_m + chamber.footprint_reach_m, chamber.stroke_m + place[1])
    radii = farthest * np.linspace(0.15, 1.0, 80) ** 2
    volumes = np.zeros((drops.size, radii.size))
    _add_flame_volumes_compiled(*place, drops, radii, 32, 40, volumes)
    areas = np.diff(volumes, axis=1) / np.diff(radii)
    middles = 0.5 * (volumes[:, 1:] + volumes[:, :-1])
    shares = np.linspace(0.0, 1.0, SHARE_NODES)
    table = np.empty((PISTON_NODES, SHARE_NODES))
    sphere = (36 * pi) ** (1 / 3)
    for i in range(PISTON_NODES):
        share = np.concatenate(([0.0], np.cbrt(middles[i] / volumes[i, -1]), [1.0]))
        factor = np.concatenate(([sphere], areas[i] / middles[i] ** (2 / 3), [0.0]))
        keep = np.concatenate(([True], np.diff(share) > 1e-6))
        table[i] = np.interp(shares, share[keep], factor[keep])
    table[:, -1] = 0.0
    return table
