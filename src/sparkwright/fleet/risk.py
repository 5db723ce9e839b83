"""The risk of one engine's unknowns: a map run on many engines as this one may be."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.fleet.draws import drawn, outcome
from sparkwright.fleet.filling import Progress, fill
from sparkwright.fleet.parts import Columns, Parts
from sparkwright.fleet.workers import Workers
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.ceilings import limit_slopes, round_down
from sparkwright.plan.firmness import Mapper, chance_allowed_percent
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan

DRAWS = 400
"""Engines drawn when nobody says how many; a choice: a chance of 10 % is then known to 1.5."""

DRAWS_A_PART = 50
"""Draws in one part; a choice: a second's work lost where a run is killed."""

NORMAL_95 = 1.96
LOST = "lost with its worker"
Outcomes = tuple[FloatArray, FloatArray, FloatArray]
OUTCOMES = ("knocks", "limit_deg", "lost_percent")


@dataclass(frozen=True)
class RiskCell:
    """One cell of the map over all draws; chances in percent, with the interval that holds 95 %.

    ``plan_chance_percent`` is what the plan itself says of the same cell; ``kept_deg`` is the most advance,
    up to the plan's, at which the chance stays within what is allowed: -inf where none does.
    """

    rpm: float
    kpa: float
    advance_deg: float
    chance_percent: float
    chance_low_percent: float
    chance_high_percent: float
    plan_chance_percent: float
    allowed_percent: float
    lost_percent: float
    kept_deg: float


@dataclass(frozen=True)
class Risk:
    """What a map risks, given everything that isn't known exactly.

    ``draws`` engines were run; ``left_out`` more were drawn that the cycle refuses. ``cells`` go along the
    rows of the map, only those that a running engine meets; ``over_allowed`` of them have more than their
    chance, sure to 97.5 %.
    """

    draws: int
    left_out: int
    cells: tuple[RiskCell, ...]
    over_allowed: int
    assumed: tuple[Assumed, ...]


@dataclass(frozen=True)
class _Asked:
    """What every draw needs."""

    text: str
    seed: int
    rpm: FloatArray
    kpa: FloatArray
    advance_deg: FloatArray


def _draw(asked: _Asked, number: int) -> Outcomes | str:
    """Run one draw; the same number gives the same engine, wherever and whenever it is drawn."""
    job = Job.from_toml(asked.text, kept=True)
    try:
        engine = drawn(job, physics_of(job), np.random.default_rng([asked.seed, number]))
        found = outcome(engine, asked.rpm, asked.kpa, asked.advance_deg)
    except SparkwrightError as refusal:
        return str(refusal)
    return found.knocks, found.limit_deg, found.lost_percent


def risk_of(
    job: Job,
    folder: Path,
    workers: Workers,
    *,
    draws: int = DRAWS,
    seed: int = 1,
    chance_percent: float | None = None,
    run: Mapper = map,
    progress: Progress | None = None,
) -> Risk:
    """Draw an engine's unknowns, run its plan on each, and count where it knocks.

    Parameters
    ----------
    job : Job
        The job.
    folder : Path
        Gets every draw's outcome in parts; an earlier run that was stopped goes on from there.
    workers : Workers
        Who does the work; it moves no result.
    draws : int, optional
        How many engines to draw.
    seed : int, optional
        Where chance begins; the same seed draws the same engines.
    chance_percent : float, optional
        The chance of knock that a cell may have [%]; by default what the job allows at its load.
    run : callable, optional
        Runs the plan's own rows, like ``map``.
    progress : callable, optional
        Called with (draws done, draws in all); raise from it to stop.

    Returns
    -------
    Risk
        Chance, torque given away and the advance that keeps the chance, cell by cell.
    """
    result, physics = plan(job, run=run), physics_of(job)
    spark_map, met = result.cells.spark_map, result.cells.met
    kpa, rpm = (each[met] for each in np.meshgrid(spark_map.kpa, spark_map.rpm, indexing="ij"))
    asked = _Asked(job.to_toml(), seed, rpm, kpa, spark_map.advance_deg[met])
    question = hashlib.sha256(f"{asked.text}\0{seed}\0{result.fingerprint}".encode()).hexdigest()
    parts = Parts(folder, "risk", question, draws, DRAWS_A_PART)
    _run(parts, asked, workers, progress)
    knocks, limits, lost, used = _read(parts, rpm.size)
    if not used:
        raise Refusal.at(
            "draws", draws, "came to nothing: none of the engines can be computed", "check the job"
        )
    low, high = _wilson(np.nansum(knocks, axis=0), np.count_nonzero(~np.isnan(knocks), axis=0))
    allowed = np.array(
        [
            chance_percent if chance_percent is not None else chance_allowed_percent(job, physics, load)
            for load in kpa.tolist()
        ]
    )
    grid = np.full(met.shape, np.inf)
    grid[met] = np.minimum(asked.advance_deg, _quantiles(limits, allowed))
    kept = _kept_map(job, grid, spark_map.rpm, spark_map.kpa)[met]
    chance = 100.0 * _mean(knocks)
    rows = (rpm, kpa, asked.advance_deg, chance, low, high, result.cells.knock_chance_percent[met], allowed)
    # Where the engine hardly pulls, a share of its torque says nothing.
    pulls = ~np.isnan(result.cells.torque_lost_percent[met])
    columns = (*rows, np.where(pulls, _mean(lost), np.nan), kept)
    cells = tuple(RiskCell(*each) for each in zip(*(column.tolist() for column in columns), strict=True))
    return Risk(
        draws=int(used),
        left_out=draws - int(used),
        cells=cells,
        over_allowed=int(np.count_nonzero(low > allowed)),
        assumed=result.assumed,
    )


def _run(parts: Parts, asked: _Asked, workers: Workers, progress: Progress | None) -> None:
    fill(parts, workers, partial(_draw, asked), lambda number: number, lambda _: LOST, _tables, progress)


def _tables(found: list[tuple[int, Outcomes | str]]) -> dict[str, Columns]:
    """Lay out draws as a table, one row a cell of each; what was refused has no rows."""
    columns: dict[str, list[float | int]] = {name: [] for name in ("draw", "cell", *OUTCOMES)}
    for number, each in found:
        if isinstance(each, str):
            continue
        cells = each[0].size
        columns["draw"] += [number] * cells
        columns["cell"] += range(cells)
        for name, values in zip(OUTCOMES, each, strict=True):
            columns[name] += values.tolist()
    return {"draws": columns}


def _read(parts: Parts, cells: int) -> tuple[FloatArray, FloatArray, FloatArray, int]:
    """Give the three outcomes as arrays (draws, cells), and how many draws there are."""
    frame = parts.read("draws")
    knocks, limits, lost = (frame[name].fill_null(np.nan).to_numpy().reshape(-1, cells) for name in OUTCOMES)
    return knocks, limits, lost, len(knocks)


def _mean(values: FloatArray) -> FloatArray:
    """Give the mean over the draws that have one; nan where none has."""
    known = ~np.isnan(values)
    count = known.sum(axis=0)
    return np.where(count > 0, np.nansum(values, axis=0) / np.maximum(count, 1), np.nan)


def _wilson(hits: FloatArray, tries: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Interval that holds a chance with 95 % [%] (Wilson, J. Am. Stat. Assoc. 22, 1927)."""
    z2 = NORMAL_95**2
    middle = (hits + 0.5 * z2) / (tries + z2)
    half = NORMAL_95 / (tries + z2) * np.sqrt(hits * (tries - hits) / np.maximum(tries, 1) + 0.25 * z2)
    return 100.0 * np.maximum(middle - half, 0.0), 100.0 * np.minimum(middle + half, 1.0)


def _quantiles(limits: FloatArray, chance_percent: FloatArray) -> FloatArray:
    """Give the advance below which at most a chance of all limits lies, cell by cell."""
    rank = np.floor(0.01 * chance_percent * len(limits)).astype(int)
    ordered = np.sort(limits, axis=0)
    return np.asarray(np.take_along_axis(ordered, rank[None, :], axis=0)[0])


def _kept_map(job: Job, most_deg: FloatArray, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Bring a map under its new ceiling within the job's slopes and the controller's step."""
    slopes = job.limits.slope_deg_per_500rpm / 500.0, job.limits.slope_deg_per_10kpa / 10.0
    return round_down(limit_slopes(most_deg, rpm, kpa, *slopes)[0], job.controller.step_deg)
