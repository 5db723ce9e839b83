"""A given map held against the plan: which cells stand over which ceiling, and by how much."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap

FloatArray = NDArray[np.float64]

TOLERANCE_DEG = 0.05
"""A cell counts as over a ceiling from here on [crank deg]; below, it is rounding."""

CEILINGS = {
    "knock": "over the knock ceiling",
    "reach": "beyond the rotor's reach",
    "hand": "over what the person at the engine allows",
    "floor": "below the least that the rotor allows",
    "best": "past best",
}
"""Every bound of a cell, the dangerous ones first; being past best costs torque and no more."""

HARMLESS = "best"


@dataclass(frozen=True)
class OverCell:
    """One cell of the given map on the wrong side of one bound."""

    rpm: float
    kpa: float
    advance_deg: float
    ceiling: str
    ceiling_deg: float
    over_deg: float


@dataclass(frozen=True)
class MapComparison:
    """A given map against the plan, at the plan's speeds and loads.

    ``given_deg`` and ``less_plan_deg`` (given less plan) have the plan's shape; nan where the given
    map has no cell to compare. ``over`` is ordered by bound, then by the amount, most first.
    """

    job_name: str
    fingerprint: str
    rpm: FloatArray
    kpa: FloatArray
    plan_deg: FloatArray
    given_deg: FloatArray
    less_plan_deg: FloatArray
    over: tuple[OverCell, ...]
    sentences: tuple[str, ...]
    problems: tuple[str, ...]
    warnings: tuple[str, ...]


def compare_map(plan: PlanResult, given: SparkMap) -> MapComparison:
    """Hold a given map against the plan.

    Where the axes of both agree, cells are compared one by one; elsewhere the given map is read
    between its cells. Plan the job on the given map's axes to compare it cell by cell.

    Parameters
    ----------
    plan : PlanResult
        The plan and its ceilings.
    given : SparkMap
        The map to judge.

    Returns
    -------
    MapComparison
        Sentences, problems and every cell beyond a bound. The example of a plan is in
        `tests/test_compare.py`.
    """
    rpm, kpa = plan.spark_map.rpm, plan.spark_map.kpa
    given_deg = np.array([[_at(given, float(speed), float(load)) for speed in rpm] for load in kpa])
    over = tuple(cell for name in CEILINGS for cell in _over(plan, given_deg, name))
    found = {name: [cell for cell in over if cell.ceiling == name] for name in CEILINGS}
    sentences = {name: _sentence(cells) for name, cells in found.items() if cells}
    problems = tuple(sentence for name, sentence in sentences.items() if name != HARMLESS)
    good = () if problems else ("No cell stands beyond knock ceiling, reach or hand limit.",)
    unread = int(np.isnan(given_deg).sum())
    warnings = (
        (f"{unread} of {given_deg.size} cells of the plan lie outside the given map and were not compared.",)
        if unread
        else ()
    )
    return MapComparison(
        job_name=plan.job_name,
        fingerprint=plan.fingerprint,
        rpm=rpm,
        kpa=kpa,
        plan_deg=plan.spark_map.advance_deg,
        given_deg=given_deg,
        less_plan_deg=given_deg - plan.spark_map.advance_deg,
        over=over,
        sentences=(*good, *sentences.values()),
        problems=problems,
        warnings=warnings,
    )


def _at(given: SparkMap, rpm: float, kpa: float) -> float:
    """Read the given map within its axes; nan outside."""
    inside = given.rpm[0] <= rpm <= given.rpm[-1] and given.kpa[0] <= kpa <= given.kpa[-1]
    return given.at(rpm, kpa) if inside else float("nan")


def _over(plan: PlanResult, given_deg: FloatArray, name: str) -> list[OverCell]:
    bound_deg = getattr(plan.ceilings, f"{name}_deg")
    # A comparison with nan is false: no such ceiling, or nothing to compare, is never "over".
    beyond_deg = bound_deg - given_deg if name == "floor" else given_deg - bound_deg
    cells = [
        OverCell(
            rpm=float(plan.spark_map.rpm[column]),
            kpa=float(plan.spark_map.kpa[row]),
            advance_deg=float(given_deg[row, column]),
            ceiling=name,
            ceiling_deg=float(bound_deg[row, column]),
            over_deg=float(beyond_deg[row, column]),
        )
        for row, column in np.argwhere(beyond_deg > TOLERANCE_DEG)
    ]
    return sorted(cells, key=lambda cell: -cell.over_deg)


def _sentence(cells: list[OverCell]) -> str:
    worst = cells[0]
    count = "1 cell stands" if len(cells) == 1 else f"{len(cells)} cells stand"
    return (
        f"{count} {CEILINGS[worst.ceiling]}, most by {worst.over_deg:.1f} deg "
        f"at {worst.rpm:,.0f} rpm and {worst.kpa:g} kPa "
        f"({worst.advance_deg:.1f} against {worst.ceiling_deg:.1f} deg)."
    )
