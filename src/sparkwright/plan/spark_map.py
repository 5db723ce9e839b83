"""The spark map: advance over speed and load, with nothing but its numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr


@dataclass(frozen=True)
class SparkMap:
    """Advance over speed and load.

    Parameters
    ----------
    rpm : array, shape (n,)
        Speeds, strictly rising [rpm].
    kpa : array, shape (m,)
        Manifold pressures, absolute, strictly rising [kPa].
    advance_deg : array, shape (m, n)
        Advance at each load and speed [crank degrees before top dead centre].

    Raises
    ------
    Refusal
        If an axis does not rise or the shapes do not fit.

    Examples
    --------
    >>> SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]]).at(1500.0, 65.0)
    20.0
    """

    rpm: FloatArray
    kpa: FloatArray
    advance_deg: FloatArray

    def __post_init__(self) -> None:
        for name in ("rpm", "kpa", "advance_deg"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=float))
        for name in ("rpm", "kpa"):
            axis = getattr(self, name)
            if axis.ndim != 1 or axis.size < 2 or not np.all(np.isfinite(axis)) or np.any(np.diff(axis) <= 0):
                raise Refusal.at(f"map.{name}", axis.tolist(), "must be at least two finite values that rise")
        if self.advance_deg.shape != (self.kpa.size, self.rpm.size):
            raise Refusal.at(
                "map.advance_deg",
                "x".join(map(str, self.advance_deg.shape)) + " cells",
                f"must be {self.kpa.size} loads by {self.rpm.size} speeds",
            )

    def at(self, rpm: float, kpa: float) -> float:
        """Advance at one speed and load, linear between cells and held at the edges [deg].

        Parameters
        ----------
        rpm : float
            Speed [rpm].
        kpa : float
            Load [kPa absolute].
        """
        along_rpm = [float(np.interp(rpm, self.rpm, row)) for row in self.advance_deg]
        return float(np.interp(kpa, self.kpa, along_rpm))

    def carried_to(self, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        """Carry the map to other axes, linear between cells; nan outside its own [deg].

        Parameters
        ----------
        rpm : array
            Speeds of the other axes [rpm].
        kpa : array
            Loads of the other axes [kPa absolute].

        Examples
        --------
        >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
        >>> spark_map.carried_to(np.array([1500.0, 2500.0]), np.array([65.0])).tolist()
        [[20.0, nan]]
        """
        rows = np.array(
            [np.interp(rpm, self.rpm, row, left=np.nan, right=np.nan) for row in self.advance_deg]
        )
        columns = [np.interp(kpa, self.kpa, column, left=np.nan, right=np.nan) for column in rows.T]
        return np.array(columns).T

    def to_pandas(self) -> pd.DataFrame:
        """Give the map as a table: loads down [kPa], speeds across [rpm]; needs the ``frames`` extra.

        Examples
        --------
        >>> SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]]).to_pandas().loc[90.0, 2000.0]
        np.float64(20.0)
        """
        import pandas as pd

        return pd.DataFrame(
            self.advance_deg,
            index=pd.Index(self.kpa, name="kpa"),
            columns=pd.Index(self.rpm, name="rpm"),
        )

    def to_xarray(self) -> xr.DataArray:
        """Give the map as a labelled array over kpa and rpm; needs the ``frames`` extra.

        Examples
        --------
        >>> SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]]).to_xarray().sel(kpa=40).item(0)
        20.0
        """
        import xarray as xr

        return xr.DataArray(
            self.advance_deg,
            coords={"kpa": self.kpa, "rpm": self.rpm},
            dims=("kpa", "rpm"),
            name="advance_deg",
            attrs={"units": "crank degrees before top dead centre"},
        )
