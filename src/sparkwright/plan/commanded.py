"""What a controller commands at any point of its map, between its cells too, and the ceilings over that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import made_of
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.cell import ceilings_at
from sparkwright.plan.firmness import chance_allowed_percent, knock_chances_percent
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import cells_met, most_allowed_deg
from sparkwright.plan.result import WORST_FIRST, PlanResult
from sparkwright.plan.spark_map import SparkMap

CARRIED_DEG = 0.5
"""How far over a ceiling is told as over it [deg]. Here the cycle itself is run, while a map is lowered under
ceilings carried from a few points, which are held to so much of it."""


@dataclass(frozen=True)
class CellShare:
    """One cell that a commanded advance is made of, what holds it, and its share [-]."""

    rpm: float
    kpa: float
    advance_deg: float
    share: float
    held_by: str


@dataclass(frozen=True)
class CeilingThere:
    """One ceiling at a point and what the commanded advance leaves to it [deg].

    ``at_deg`` and ``margin_deg`` are nan where there is none within the tested advances, -inf where the
    charge knocks at any of them.
    """

    name: str
    at_deg: float
    margin_deg: float


@dataclass(frozen=True)
class Commanded:
    """What a controller makes of a map at one speed and load, and how that stands.

    ``cells`` are those that it is made of, the most first; ``nearest`` is the ceiling with the least margin,
    of those that can break something before best.
    """

    job_name: str
    fingerprint: str
    rpm: float
    kpa: float
    advance_deg: float
    met: bool
    cells: tuple[CellShare, ...]
    ceilings: tuple[CeilingThere, ...]
    nearest: CeilingThere
    knock_chance_percent: float
    knock_allowed_percent: float
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]


def commanded(job: Job, planned: PlanResult, rpm: float, kpa: float, belief: Belief = PRIOR) -> Commanded:
    """Say what the controller commands at a point of the plan's map, and how that stands under its ceilings.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan.
    rpm : float
        Engine speed [rpm], within the map.
    kpa : float
        Manifold pressure, absolute [kPa], within the map.
    belief : Belief, optional
        The belief that the plan was made under.

    Raises
    ------
    Refusal
        If the point lies off the map.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[800, 2400], kpa=[40, 90])
    >>> here = commanded(job, plan(job), 1600.0, 65.0)
    >>> [cell.share for cell in here.cells], here.met
    ([0.25, 0.25, 0.25, 0.25], True)
    """
    own, physics = planned.cells.spark_map, physics_of(job, belief)
    for name, unit, value, axis in (("rpm", "rpm", rpm, own.rpm), ("kpa", "kPa", kpa, own.kpa)):
        if not axis[0] <= value <= axis[-1]:
            allowed = f"must be {axis[0]:g} to {axis[-1]:g} {unit}"
            raise Refusal.at(name, f"{value:g}", allowed, "the map ends there, and its edge holds beyond")
    at_rpm, at_kpa = np.array([rpm]), np.array([kpa])
    cells = _cells(planned, at_rpm, at_kpa)
    advance_deg = float(sum(cell.share * cell.advance_deg for cell in cells))
    ln_sigma = np.array([SparkMap(own.rpm, own.kpa, planned.cells.ln_knock_sigma).at(rpm, kpa)])
    read = ceilings_at(job, physics, at_rpm, kpa, ln_sigma, np.array([advance_deg]))
    tested_deg = np.clip(np.array([advance_deg]), FIRST_DEG, LAST_DEG)
    chance = float(knock_chances_percent(read.hooks.at(tested_deg)[1], ln_sigma)[0])
    ceilings = tuple(
        CeilingThere(name, at, at - advance_deg)
        for name, at in (
            ("knock", float(read.knock_deg[0])),
            ("reach", float(planned.cells.ceilings.reach_deg.min())),
            ("limit", _limit_deg(job, rpm, kpa)),
            ("best", float(read.best_deg[0])),
        )
    )
    nearest = min(ceilings, key=lambda each: np.inf if np.isnan(each.margin_deg) else each.margin_deg)
    met = _met(physics, own, rpm, kpa)
    in_own_terms = loads_of(job).numbers(kpa, rpm)
    finding = _finding(ceilings, nearest, cells, met, chance, rpm, kpa, advance_deg, in_own_terms)
    return Commanded(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        rpm=rpm,
        kpa=kpa,
        advance_deg=advance_deg,
        met=met,
        cells=cells,
        ceilings=ceilings,
        nearest=nearest,
        knock_chance_percent=chance,
        knock_allowed_percent=chance_allowed_percent(job, physics, kpa),
        headline=finding,
        problems=(finding,) if finding.state == "problem" else (),
        warnings=(finding,) if finding.state == "look" else (),
    )


def _cells(planned: PlanResult, rpm: FloatArray, kpa: FloatArray) -> tuple[CellShare, ...]:
    """Give the cells that a point is made of, the most first; midway between two the earlier counts."""
    own = planned.cells.spark_map
    nothing = Grid(rpm, kpa, np.zeros((1, 1)), np.array([[""]]))
    ways = made_of(planned.cells.between.how, own.rpm, own.kpa, nothing).toarray()
    shares = ways[int(np.argmax(ways @ own.advance_deg.ravel()))].reshape(own.advance_deg.shape)
    found = [
        CellShare(
            rpm=float(own.rpm[j]),
            kpa=float(own.kpa[i]),
            advance_deg=float(own.advance_deg[i, j]),
            share=float(shares[i, j]),
            held_by=planned.cells.held_by[i][j],
        )
        for i, j in np.argwhere(shares > 0.0)
    ]
    return tuple(sorted(found, key=lambda cell: -cell.share))


def _limit_deg(job: Job, rpm: float, kpa: float) -> float:
    pegs = [peg.advance_deg for peg in job.pegs if (peg.rpm, peg.kpa) == (rpm, kpa)]
    return min([most_allowed_deg(job), *pegs])


def _met(physics: Physics, own: SparkMap, rpm: float, kpa: float) -> bool:
    """Whether a running engine comes to a point: as to a cell, with the map's own first speed beside it."""
    speeds = np.union1d(own.rpm, [rpm])
    met = cells_met(speeds, np.array([kpa]), physics)
    return bool(met[0, int(np.searchsorted(speeds, rpm))])


def _finding(
    ceilings: tuple[CeilingThere, ...],
    nearest: CeilingThere,
    cells: tuple[CellShare, ...],
    met: bool,
    chance_percent: float,
    rpm: float,
    kpa: float,
    advance_deg: float,
    in_own_terms: dict[str, Value],
) -> Finding:
    over = [each for each in ceilings if each.margin_deg < -CARRIED_DEG]
    worst = min(over, key=lambda each: WORST_FIRST.index(each.name), default=nearest)
    numbers: dict[str, Value] = {
        "rpm": rpm,
        "kpa": kpa,
        **in_own_terms,
        "advance_deg": advance_deg,
        "held_by": tuple(dict.fromkeys(cell.held_by for cell in cells)),
        "ceiling": worst.name,
        "margin_deg": worst.margin_deg,
        "chance_percent": chance_percent,
    }
    if not met:
        return Finding("commanded.not-met", "open", numbers)
    if not over:
        return Finding("commanded.under", "good", numbers)
    return Finding("commanded.over", "look" if worst.name == "best" else "problem", numbers)
