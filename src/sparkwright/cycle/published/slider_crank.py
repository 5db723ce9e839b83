"""The slider crank of a whole cylinder, as one record."""

from dataclasses import dataclass
from math import isfinite

import numpy as np

from sparkwright.cycle.kinematics import piston_drop_m, piston_drop_slope_m_per_rad, top_dead_centre_deg
from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric


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
