"""What planning hands to the faces: plain frozen values, the same for screen, JSON and paper.

Arrays over the map have the shape (loads, speeds): row i is ``spark_map.kpa[i]``, column j is
``spark_map.rpm[j]``. Advance is in crank degrees before top dead centre. ``nan`` means "not
determined" or, for a ceiling, "no such ceiling within the tested span".
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.assumed import Assumed, SpreadTaken
from sparkwright.findings import Finding
from sparkwright.numeric import FloatArray
from sparkwright.plan.between_cells import BetweenCells, OnRows
from sparkwright.plan.spark_map import SparkMap

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr


HELD_BY = ("best", "knock", "reach", "limit", "reserve", "between", "rows", "by hand")
"""What can hold a cell, in the words of the design."""

WORST_FIRST = ("knock", "reach", "limit", "best")
"""Ceilings by what standing over them does: it breaks the engine, fires the wrong cylinder, goes against the
person or the controller, costs torque."""

CEILING_WORDS = {"knock": "knock", "reach": "reach", "limit": "a limit or peg"}
"""What the ceilings are called that a cell may be set over by hand."""

LEAST_MOVE_MM = 0.5
"""Smallest move of a rotor tip worth asking for [mm]: nobody sets one closer; a choice."""

LEAST_LOST_PERCENT = 0.5
"""Smallest loss of torque worth telling [%]: no brake of a shop shows less; a choice."""


@dataclass(frozen=True)
class Hook:
    """Torque and its companions against advance at one speed and load.

    One-dimensional arrays of one length run along ``advance_deg``; the scalars describe the point.

    ``knock_integral`` reaches 1 where knock starts; ``knock_limit_deg`` is nan when it does not
    within the tested span. ``early99_deg`` and ``late99_deg`` bound the advances that give 99 % of
    the best torque. All that concerns best is nan where torque still rises at the last tested advance and
    where the charge misfires; a best at the first tested advance may lie before it. ``burned_share`` is the
    share of the charge burned when the exhaust valve opens.
    """

    rpm: float
    kpa: float
    mixture_lambda: float
    advance_deg: FloatArray
    torque_nm: FloatArray
    imep_bar: FloatArray
    knock_integral: FloatArray
    ca10_deg: FloatArray
    ca50_deg: FloatArray
    ca90_deg: FloatArray
    peak_bar: FloatArray
    peak_at_deg: FloatArray
    exhaust_c: FloatArray
    """Gas as it leaves the exhaust valve, fallen to the port's pressure; a probe in the pipe reads some
    hundreds of degrees less (common practice, no source)."""
    burned_share: FloatArray
    spark_bar: FloatArray
    spark_k: FloatArray
    spark_density_kg_m3: FloatArray
    best_deg: float
    best_torque_nm: float
    late99_deg: float
    early99_deg: float
    knock_limit_deg: float
    residual_share: float
    charge_mg: float
    intake_closing_k: float
    burn_state: str
    """"burns", "slow burn" or "misfire" at the best advance."""
    outside: tuple[Finding, ...]
    """What lies outside the proven range of a formula at this point."""
    knock_chance_percent: FloatArray | None = None
    """Chance of knock along the hook, given all that isn't known exactly; None where nobody asked for it."""
    knock_ceiling_deg: float = float("nan")
    """Most advance that the plan would allow here for knock; nan where knock sets none near best."""
    knock_chance_allowed_percent: float = float("nan")
    """Chance of knock at that ceiling."""
    plan_deg: float = float("nan")
    """The plan's own value here; nan off its map, and where nobody asked for it."""

    def along(self, advance_deg: FloatArray) -> Hook:
        """Give the hook at other advances within its own, in straight lines between them.

        Parameters
        ----------
        advance_deg : array
            Advances [deg before top dead centre], none beyond the hook's own.
        """
        own = self.advance_deg
        carried = {
            field.name: np.interp(advance_deg, own, getattr(self, field.name))
            for field in fields(self)
            if isinstance(getattr(self, field.name), np.ndarray)
        }
        return replace(self, **carried)

    def to_pandas(self) -> pd.DataFrame:
        """Give everything along the hook as a table, one row an advance; needs the ``frames`` extra."""
        import pandas as pd

        along = {
            field.name: getattr(self, field.name)
            for field in fields(self)
            if isinstance(getattr(self, field.name), np.ndarray)
        }
        return pd.DataFrame(along).set_index("advance_deg")


@dataclass(frozen=True)
class Ceilings:
    """The most advance each cell may have, by what sets it; ``floor_deg`` is the least the rotor allows."""

    best_deg: FloatArray
    knock_deg: FloatArray
    reach_deg: FloatArray
    limit_deg: FloatArray
    floor_deg: FloatArray

    def margins(self, advance_deg: FloatArray) -> Ceilings:
        """Give what a map leaves to each ceiling, and what it stands above the floor.

        Parameters
        ----------
        advance_deg : array
            The map, in the shape of the ceilings [deg before top dead centre].
        """
        return Ceilings(
            best_deg=self.best_deg - advance_deg,
            knock_deg=self.knock_deg - advance_deg,
            reach_deg=self.reach_deg - advance_deg,
            limit_deg=self.limit_deg - advance_deg,
            floor_deg=advance_deg - self.floor_deg,
        )


@dataclass(frozen=True)
class IdleReserve:
    """How far short of best the idle is set, and the torque it keeps to steady the idle with.

    ``authority_percent`` is the torque gained, in percent of the torque at the set value, by going
    from the set value to best.
    """

    rpm: float
    kpa: float
    best_deg: float
    reserve_deg: float
    set_deg: float
    authority_percent: float


@dataclass(frozen=True)
class LineValues:
    """What runs along one line of the map: the plan and its ceilings, arrays of one length."""

    title: str
    plan_deg: FloatArray
    best_deg: FloatArray
    best_sigma_deg: FloatArray
    knock_deg: FloatArray
    reach_deg: FloatArray
    limit_deg: FloatArray
    old_deg: FloatArray | None
    by_hand: NDArray[np.bool_]
    over_ceiling: NDArray[np.bool_]
    not_asked: NDArray[np.bool_]
    """Beyond the ends of a row with speeds of its own, where no running engine comes: under no ceiling."""


@dataclass(frozen=True)
class Line(LineValues):
    """One load row of the map along speed, with its ceilings."""

    kpa: float
    rpm: FloatArray


@dataclass(frozen=True)
class LoadLine(LineValues):
    """One speed column of the map along load, with its ceilings."""

    rpm: float
    kpa: FloatArray


@dataclass(frozen=True)
class OldCurve:
    """The old mechanical and vacuum curves as a map, held against the plan."""

    advance_deg: FloatArray
    short_deg: FloatArray
    """Plan less old where the old system was late, else 0."""
    over_knock_deg: FloatArray
    """Old less the knock ceiling where the old system risked knock, else 0."""
    findings: tuple[Finding, ...]
    """Where the old system was late, and where it risked knock."""


@dataclass(frozen=True)
class ReachCost:
    """What it costs to accept the rotor's reach, and what would free the plan; at cells an engine meets.

    ``most_torque_lost_percent`` counts against the next ceiling: what no rotor could give back is no cost of
    the reach.
    """

    cells: int
    most_wanted_deg: float
    reach_deg: float
    most_torque_lost_percent: float
    lost_at_rpm: float
    lost_at_kpa: float
    phase_move_distributor_deg: float
    phase_move_mm: float
    phase_move_tip_fraction: float
    reach_when_phased_deg: float
    leaves_when_phased_deg: float
    """Below it the tip, moved so, has left its post on the late side [crank deg]."""
    cells_left_when_phased: int
    """Cells that a running engine meets and that stand below it today, by more than anybody can measure."""


@dataclass(frozen=True)
class OverCeiling:
    """One cell that a person has set over one of its ceilings.

    ``ceiling`` is "knock", "reach" or "limit" (of job or controller, or a peg); ``over_deg`` is inf where the
    charge knocks at any advance. ``reason``, ``by`` and ``on`` are as the job states them.
    """

    rpm: float
    kpa: float
    set_deg: float
    ceiling: str
    ceiling_deg: float
    over_deg: float
    reason: str | None
    by: str | None
    on: str | None


@dataclass(frozen=True)
class MapCells:
    """The map and, for every cell, what holds it and what it gives; arrays have the map's shape."""

    spark_map: SparkMap
    met: NDArray[np.bool_]
    """Whether a running engine meets the cell: from idle up, and boost only at speeds that build it."""
    held_by: tuple[tuple[str, ...], ...]
    """What holds the cell; where a slope from another cell lowers it, what holds that cell."""
    slope_from_rpm: FloatArray
    slope_from_kpa: FloatArray
    """The cell from which a slope holds this one; nan where it stands under its own ceilings."""
    by_hand: NDArray[np.bool_]
    """Cells whose value a person has set; each is held "by hand", whatever its ceilings."""
    over_ceiling: NDArray[np.bool_]
    """Cells that a person has set over knock, reach, a limit or a peg."""
    ceilings: Ceilings
    best_sigma_deg: FloatArray
    best_sigma_cost_percent: FloatArray
    """Torque that standing one standard deviation off best costs; nan where the engine hardly pulls."""
    knock_sigma_deg: FloatArray
    reach_sigma_deg: float
    """One standard deviation of the rotor's reach, from how well tip, posts and phase are known."""
    sigma_deg: FloatArray
    """One standard deviation of the ceiling that holds the cell; nan where a person set the value."""
    smoothed_deg: FloatArray
    """Degrees taken from the lowest ceiling by smoothing and rounding; nan where a person set the value."""
    torque_nm: FloatArray
    torque_lost_percent: FloatArray
    """Against best, were there no ceiling."""
    burned_share: FloatArray
    knock_chance_percent: FloatArray
    """Chance that this value knocks, given all that isn't known exactly."""
    knock_allowed_percent: FloatArray
    """Chance of knock at the cell's knock ceiling, before any degrees that the job keeps on top."""
    ln_knock_sigma: FloatArray
    """One standard deviation of ln of the knock integral, which the chance is reckoned with [-]."""
    mixture_lambda: FloatArray
    burn_state: tuple[tuple[str, ...], ...]
    """"burns", "slow burn" or "misfire" at best."""
    outside_range: NDArray[np.bool_]
    """Whether a formula was used outside the range it was proven in; the hook of the point names it."""
    between: BetweenCells
    """What lies between the cells, and what it took from them."""
    rows: OnRows | None = None
    """Which cells the controller has, where its rows have speeds of their own; None where they share them."""


@dataclass(frozen=True)
class PlanResult:
    """The plan of a job: the map, the reasons for every cell, and what there is to say of it."""

    cells: MapCells
    """The map itself, and what holds each cell and what it gives."""
    job_name: str
    fingerprint: str
    belief_fingerprint: str
    """Of the belief about the engine's constants: the same job under another belief has another plan."""
    margins: Ceilings
    """Each ceiling less the value, and the value less the floor: what is left in each direction [deg].
    Below 0 only where a person set the cell over the ceiling, or where nothing is asked (``not_asked``)."""
    over: tuple[OverCeiling, ...]
    """Cells set by hand over a ceiling: the worst ceiling first, and the most over it."""
    base_deg: float
    top_kpa: float
    """Most pressure in the manifold that site and boost give [kPa absolute]: what full load means here."""
    idle: IdleReserve
    full_load: Line
    """The row of most load that site and boost give; ``plan.lines.line_at`` gives any other."""
    cruise: Line
    reach_cost: ReachCost | None
    old_curve: OldCurve | None
    headline: Finding
    """What leads: how things stand, and what to do."""
    spreads: tuple[SpreadTaken, ...]
    """What the standard deviations are made of."""
    problems: tuple[Finding, ...]
    """What the person must see; any makes the exit code 1."""
    warnings: tuple[Finding, ...]
    """What is worth a look."""
    assumed: tuple[Assumed, ...]

    def to_xarray(self) -> xr.Dataset:
        """Give map, ceilings, uncertainty and torque as labelled arrays over kpa and rpm.

        Needs the ``frames`` extra.
        """
        import xarray as xr

        over_the_map = {
            "advance_deg": self.cells.spark_map.advance_deg,
            "held_by": np.array(self.cells.held_by),
            "by_hand": self.cells.by_hand,
            "over_ceiling": self.cells.over_ceiling,
            **{field.name: getattr(self.cells.ceilings, field.name) for field in fields(self.cells.ceilings)},
            "best_sigma_deg": self.cells.best_sigma_deg,
            "knock_sigma_deg": self.cells.knock_sigma_deg,
            "sigma_deg": self.cells.sigma_deg,
            "smoothed_deg": self.cells.smoothed_deg,
            "torque_nm": self.cells.torque_nm,
            "torque_lost_percent": self.cells.torque_lost_percent,
            "burned_share": self.cells.burned_share,
            "knock_chance_percent": self.cells.knock_chance_percent,
            "mixture_lambda": self.cells.mixture_lambda,
        }
        return xr.Dataset(
            {name: (("kpa", "rpm"), values) for name, values in over_the_map.items()},
            coords={"kpa": self.cells.spark_map.kpa, "rpm": self.cells.spark_map.rpm},
            attrs={"job": self.job_name, "fingerprint": self.fingerprint},
        )

    def to_pandas(self) -> pd.DataFrame:
        """Give the same as a table, one row a cell; needs the ``frames`` extra."""
        return self.to_xarray().to_dataframe().reset_index()
