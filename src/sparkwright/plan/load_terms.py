"""Load in a controller's own terms: vacuum, boost, share of full load, throttle; and back to kPa absolute.

Inside, a map always stands over absolute pressure. What a controller has instead is laid on where a map goes
out and taken off where it comes in, with the air pressure of the job's own site.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import ceil, floor
from typing import cast, get_args

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.findings import Value
from sparkwright.job import LOAD_SPAN_KPA, Between, Job, LoadTerm
from sparkwright.numeric import FloatArray
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.on_rows import filled, own_cells
from sparkwright.plan.on_throttle import Throttle, under_the_ceilings
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.spark_map import SparkMap
from sparkwright.units import convert

CORNER = "kPa by rpm"
CELLS = 16
"""Speeds and loads of a map whose axes nobody states."""

DECIMALS = 6
"""To which a load that was read is rounded [kPa], so that one that was written comes back to the digit."""

THROTTLE_PERCENT = (0.0, 100.0)

USUAL_STEP: dict[LoadTerm, float] = {
    "kPa absolute": 1.0,
    "inHg vacuum": 0.5,
    "kPa boost": 1.0,
    "psi boost": 0.25,
    "percent of full load": 1.0,
}
"""The step on which loads are chosen where nobody says another; a choice."""


def unit_of(term: LoadTerm | str) -> str:
    """Give what stands after a load in a controller's terms.

    Parameters
    ----------
    term : str
        The terms.

    Examples
    --------
    >>> unit_of("kPa absolute"), unit_of("psi boost"), unit_of("percent of full load")
    ('kPa', 'psi boost', '% of full load')
    """
    return "kPa" if term == "kPa absolute" else term.replace("percent", "%")


@dataclass(frozen=True)
class Loads:
    """In what a map has its loads, and how that is turned into absolute pressure and back.

    ``map_kpa`` are the rows on which a map by throttle is read, since one throttle is another pressure at
    each speed.
    """

    term: LoadTerm = "kPa absolute"
    site_kpa: float = np.nan
    top_kpa: float = np.nan
    step_deg: float = 0.0
    map_kpa: tuple[float, ...] = ()
    throttle: Throttle | None = None
    takes_between: Between = "straight lines"
    rows: tuple[tuple[float, ...], ...] | None = None
    """The controller's rows where they have speeds of their own: kPa absolute, then speeds."""

    @property
    def corner(self) -> str:
        """What stands in the corner of a map on paper."""
        return CORNER if self.term == "kPa absolute" else f"{self.term} by rpm"

    @property
    def span(self) -> tuple[float, float]:
        """Least and most that a load may be, in its own terms."""
        if self.term == "percent of throttle":
            return THROTTLE_PERCENT
        least, most = LOAD_SPAN_KPA
        slack = 0.0 if self.term == "kPa absolute" else 0.5 * 10.0**-DECIMALS
        low, high = sorted(self.of_kpa(np.array([least - slack, most + slack])).tolist())
        return low, high

    def table(self, spark_map: SparkMap, ceilings: Grid | None = None) -> tuple[FloatArray, FloatArray]:
        """Give the heads of the rows in these terms, and the cells, from the least pressure up.

        Cells at speeds that a row of the controller doesn't have are nan.

        A map by throttle stands on the rows of the throttle table. Its cells are what the map is at the
        pressure there, rounded down to the controller's step; where the ceilings of its plan are given, they
        are lowered until nothing between them stands over one.

        Parameters
        ----------
        spark_map : SparkMap
            The map, over absolute pressure.
        ceilings : Grid, optional
            The lowest ceilings between the cells of the plan; None where nobody knows them.
        """
        if self.term != "percent of throttle":
            return self.as_typed(spark_map.kpa), own_cells(spark_map, self.rows).advance_deg
        throttle = self._throttle
        cells = np.empty((throttle.percent.size, spark_map.rpm.size))
        for column, rpm in enumerate(spark_map.rpm.tolist()):
            for row, kpa in enumerate(throttle.kpa_at(rpm).tolist()):
                cells[row, column] = self._rounded_down(spark_map.at(rpm, kpa))
        if ceilings is not None:
            how, step_deg = self.takes_between, self.step_deg
            cells = under_the_ceilings(cells, throttle, spark_map.rpm, ceilings, how, step_deg)
        return throttle.percent, cells

    def read(self, rpm: FloatArray, load: FloatArray, cells: FloatArray) -> SparkMap:
        """Turn a table in these terms into a map over absolute pressure; rows may rise or fall.

        Beyond the rows of a map by throttle its first and last hold, as they do in the controller. Where the
        controller's rows have speeds of their own, the other cells are filled with what it makes of those.

        Parameters
        ----------
        rpm : array, shape (n,)
            Speeds [rpm].
        load : array, shape (m,)
            Heads of the rows, in these terms.
        cells : array, shape (m, n)
            Advance [crank deg].
        """
        self._require_one_way(load.tolist())
        if self.term != "percent of throttle":
            kpa = self.to_kpa(load)
            if kpa[0] > kpa[-1]:
                kpa, cells = kpa[::-1], cells[::-1]
            return SparkMap(rpm, kpa, cells if self.rows is None else filled(self.rows, rpm, kpa, cells))
        if load[0] > load[-1]:
            load, cells = load[::-1], cells[::-1]
        kpa = np.array(self.map_kpa)
        columns = [
            np.interp(np.interp(kpa, self._throttle.kpa_at(speed), self._throttle.percent), load, column)
            for speed, column in zip(rpm.tolist(), cells.T, strict=True)
        ]
        return SparkMap(rpm, kpa, np.array(columns).T)

    def _require_one_way(self, load: list[float]) -> None:
        """Refuse heads that stand still or turn back from row to row, as they were typed."""
        rises = load[-1] > load[0]
        for before, after in pairwise(load):
            if after == before:
                said = "stands twice"
            elif (after > before) != rises:
                said = f"turns back after {before:g}"
            else:
                continue
            raise Refusal.at(
                "map, loads", f"{after:g} {self.unit} {said}", "must rise, or fall, from row to row"
            )

    @cached_property
    def _throttle(self) -> Throttle:
        if self.throttle is None:
            raise Refusal.at(
                "controller.throttle_kpa",
                None,
                "must be given for a map by throttle",
                "state what pressure each throttle gives, with throttle_rpm",
            )
        return self.throttle

    @property
    def unit(self) -> str:
        """What stands after a load in these terms."""
        return unit_of(self.term)

    @property
    def usual_step(self) -> float:
        """The step on which loads are chosen where nobody says another; of terms that are no throttle's."""
        return USUAL_STEP[self.term]

    def usual_rows(self, physics: Physics) -> FloatArray:
        """Give the loads of a map whose rows nobody states, as even as steps let them [kPa absolute].

        Parameters
        ----------
        physics : Physics
            The job as the cycle sees it: rows end at what the air at its site, and any boost, can give.
        """
        low_kpa, top_kpa = min(25.0, 0.6 * physics.idle_kpa), physics.top_kpa
        if self.term in ("kPa absolute", "percent of throttle"):
            return np.round(np.linspace(low_kpa, floor(top_kpa), CELLS))
        even = self.of_kpa(np.linspace(low_kpa, top_kpa, CELLS))
        return np.minimum(self.to_kpa(np.round(even / self.usual_step) * self.usual_step), top_kpa)

    @property
    def over_pressure(self) -> Loads:
        """These terms, or kPa absolute for those of a throttle, which is another pressure at each speed."""
        return self if self.term != "percent of throttle" else ABSOLUTE

    def of_kpa(self, kpa: FloatArray | float) -> FloatArray:
        """Give pressures in these terms, which must not be those of a throttle.

        Parameters
        ----------
        kpa : array
            Pressures [kPa absolute].
        """
        from_kpa, unit_kpa = self._scale
        return (np.asarray(kpa) - from_kpa) / unit_kpa

    def to_kpa(self, load: FloatArray | float) -> FloatArray:
        """Give loads in these terms as pressures [kPa absolute]; the terms must not be those of a throttle.

        Parameters
        ----------
        load : array
            Loads in these terms.
        """
        if self.term == "kPa absolute":
            return np.asarray(load)
        from_kpa, unit_kpa = self._scale
        return np.round(from_kpa + unit_kpa * np.asarray(load), DECIMALS)

    def to_kpa_on(self, spark_map: SparkMap, load: float) -> float:
        """Give a load in these terms as pressure, one within a map [kPa absolute].

        Parameters
        ----------
        spark_map : SparkMap
            The map.
        load : float
            A load in these terms.

        Raises
        ------
        Refusal
            If the map ends before it.
        """
        low, high = sorted(self.as_typed(spark_map.kpa[[0, -1]]).tolist())
        if not low <= load <= high:
            allowed = f"must be {ceil(100 * low) / 100:g} to {floor(100 * high) / 100:g} {self.unit}"
            raise Refusal.at("load", f"{load:g}", allowed, "the map ends there, and its edge holds beyond")
        return float(np.clip(self.to_kpa(load), spark_map.kpa[0], spark_map.kpa[-1]))

    def numbers(self, kpa: float, rpm: float = np.nan) -> dict[str, Value]:
        """Give what a finding tells of a load beside kPa: nothing where the terms are kPa absolute.

        Parameters
        ----------
        kpa : float
            The load [kPa absolute].
        rpm : float, optional
            The speed [rpm], without which a pressure is no throttle.
        """
        if self.term == "kPa absolute":
            return {}
        if self.term != "percent of throttle":
            return {"load": float(self.of_kpa(kpa)), "load_term": self.term}
        at_kpa = self._throttle.kpa_at(rpm)
        if not at_kpa[0] <= kpa <= at_kpa[-1]:
            return {}
        return {"load": float(np.interp(kpa, at_kpa, self._throttle.percent)), "load_term": self.term}

    def as_typed(self, kpa: FloatArray) -> FloatArray:
        """Give pressures in these terms with the fewest decimals that are read as the same pressure again.

        Parameters
        ----------
        kpa : array
            Pressures [kPa absolute].

        Examples
        --------
        >>> loads = Loads("inHg vacuum", site_kpa=100.0)
        >>> loads.as_typed(loads.to_kpa(np.array([20.0, 0.5, 0.0]))).tolist()
        [20.0, 0.5, 0.0]
        """
        if self.term == "kPa absolute":
            return kpa
        return np.array([self._shortest(load) for load in self.of_kpa(kpa).tolist()])

    def _shortest(self, load: float) -> float:
        whole = self.to_kpa(load)
        tried = (round(load, decimals) for decimals in range(2 * DECIMALS))
        return next((each for each in tried if self.to_kpa(each) == whole), load) + 0.0

    @property
    def _scale(self) -> tuple[float, float]:
        """Where these terms count from, and what one of them is [kPa]."""
        match self.term:
            case "inHg vacuum":
                return self.site_kpa, -convert(1.0, "pressure", "inHg", "kPa")
            case "kPa boost":
                return self.site_kpa, 1.0
            case "psi boost":
                return self.site_kpa, convert(1.0, "pressure", "psi", "kPa")
            case "percent of full load":
                return 0.0, 0.01 * self.top_kpa
            case _:
                return 0.0, 1.0

    def _rounded_down(self, value_deg: float) -> float:
        if not self.step_deg:
            return value_deg
        return round(floor(value_deg / self.step_deg + 1e-9) * self.step_deg, 9)


ABSOLUTE = Loads()
"""Loads in kPa absolute, which need no site."""


def loads_of(job: Job, term: LoadTerm | None = None) -> Loads:
    """Give the terms in which the controller of a job has its loads.

    Parameters
    ----------
    job : Job
        The job, for its site, boost and throttle table.
    term : str, optional
        Other terms than the controller's own.

    Examples
    --------
    >>> from sparkwright.job import Job, starter_text
    >>> job = Job.from_toml(starter_text()).changed("controller", load="inHg vacuum")
    >>> loads_of(job).corner
    'inHg vacuum by rpm'
    """
    physics, controller = physics_of(job), job.controller
    throttle = None
    if controller.throttle_rpm is not None and controller.throttle_kpa is not None:
        table = np.array(controller.throttle_kpa, dtype=float)
        throttle = Throttle(np.array(controller.throttle_rpm, dtype=float), table[:, 0], table[:, 1:])
    return Loads(
        term or controller.load or "kPa absolute",
        physics.ambient_kpa,
        physics.top_kpa,
        controller.step_deg,
        tuple(controller.loads or ABSOLUTE.usual_rows(physics).tolist()),
        throttle,
        controller.takes_between,
        controller.rows,
    )


def loads_named(corner: str, own: Loads | None, place: str) -> Loads:
    """Give the terms that the corner of a map names, or those of its job's controller where it names none.

    Parameters
    ----------
    corner : str
        What stands in the corner of the map.
    own : Loads or None
        Those of the job's controller; None where there is no job.
    place : str
        What the map is called in a refusal.

    Raises
    ------
    Refusal
        If they need a site or a throttle table, and no job is there to tell.
    """
    said = " ".join(corner.casefold().split()).removesuffix(" by rpm")
    named = next((each for each in get_args(LoadTerm) if each.casefold() == said), None)
    if named is None and corner.casefold() == CORNER.casefold():
        named = "kPa absolute"
    if named is None:
        return own or ABSOLUTE
    if named == "kPa absolute":
        return ABSOLUTE if own is None else replace(own, term="kPa absolute")
    if own is None:
        raise Refusal.at(
            place,
            f'"{corner}"',
            "must be in kPa absolute where no job tells the air at its site",
            f'write the loads in kPa, and "{CORNER}"',
        )
    term = cast(LoadTerm, named)
    return replace(own, term=term)
