"""Why a cell has its value: its ceilings, what holds it, what it costs, and who changed it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite, isnan

from sparkwright.findings import Finding, State, Value
from sparkwright.job import HandCell, Job, Peg
from sparkwright.plan.between_findings import lowered_here
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hand import SAME_CELL
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.on_rows import made_here
from sparkwright.plan.result import OverCeiling, PlanResult

CEILINGS = ("best", "knock", "reach", "limit")


@dataclass(frozen=True)
class CeilingHere:
    """One ceiling of one cell.

    ``ceiling_deg`` is nan where there is none within the tested span, -inf where the charge knocks at any
    advance; ``margin_deg`` is what is left below it, negative where the value stands over it; ``sigma_deg``
    nan where it isn't determined.
    """

    name: str
    ceiling_deg: float
    sigma_deg: float
    margin_deg: float
    holds: bool


@dataclass(frozen=True)
class CellReasons:
    """Why one cell has its value."""

    rpm: float
    kpa: float
    advance_deg: float
    held_by: str
    by_hand: bool
    ceilings: tuple[CeilingHere, ...]
    findings: tuple[Finding, ...]
    """What holds it, what it costs, how firm it is, and what stands in the way."""
    peg: Peg | None
    hand: HandCell | None


def why(plan: PlanResult, job: Job, row: int, column: int) -> CellReasons:
    """Say why one cell of a plan has its value.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    job : Job
        Its job, for who set what.
    row, column : int
        The cell, counted from the least load and the least speed.
    """
    rpm, kpa = float(plan.cells.spark_map.rpm[column]), float(plan.cells.spark_map.kpa[row])
    loads = loads_of(job).over_pressure
    held = plan.cells.held_by[row][column]
    by_hand = bool(plan.cells.by_hand[row, column])
    sloped = isfinite(plan.cells.slope_from_kpa[row, column])
    sigma = {
        "best": float(plan.cells.best_sigma_deg[row, column]),
        "knock": float(plan.cells.knock_sigma_deg[row, column]),
        **({} if sloped else {held: float(plan.cells.sigma_deg[row, column])}),
    }
    ceilings = tuple(
        CeilingHere(
            name=name,
            ceiling_deg=float(getattr(plan.cells.ceilings, f"{name}_deg")[row, column]),
            sigma_deg=sigma.get(name, float("nan")),
            margin_deg=float(getattr(plan.margins, f"{name}_deg")[row, column]),
            holds=held == name and not by_hand and not sloped,
        )
        for name in CEILINGS
    )
    return CellReasons(
        rpm=rpm,
        kpa=kpa,
        advance_deg=float(plan.cells.spark_map.advance_deg[row, column]),
        held_by=held,
        by_hand=by_hand,
        ceilings=ceilings,
        findings=(
            *(_over(each) for each in plan.over if (each.rpm, each.kpa) == (rpm, kpa)),
            _holds(plan, job, row, column, loads),
            *_lowered(plan, job, row, column),
            *_short_of_best(plan, row, column),
            *_best_firmness(plan, row, column),
            _said("cell.chance", percent=float(plan.cells.knock_chance_percent[row, column])),
            *_burns(plan, row, column),
        ),
        peg=next((peg for peg in job.pegs if (peg.rpm, peg.kpa) == (rpm, kpa)), None),
        hand=next(
            (
                cell
                for cell in job.hand
                if abs(cell.rpm - rpm) <= SAME_CELL and abs(cell.kpa - kpa) <= SAME_CELL
            ),
            None,
        ),
    )


def _said(kind: str, state: State = "good", **numbers: Value) -> Finding:
    return Finding(kind, state, numbers)


def _holds(plan: PlanResult, job: Job, row: int, column: int, loads: Loads) -> Finding:
    if plan.cells.by_hand[row, column]:
        return _said("cell.by-hand")
    if isfinite(plan.cells.slope_from_kpa[row, column]):
        from_rpm, from_kpa = (
            float(plan.cells.slope_from_rpm[row, column]),
            float(plan.cells.slope_from_kpa[row, column]),
        )
        numbers: dict[str, Value] = {
            "from_rpm": None if from_rpm == plan.cells.spark_map.rpm[column] else from_rpm,
            "from_kpa": None if from_kpa == plan.cells.spark_map.kpa[row] else from_kpa,
            "held_there_by": plan.cells.held_by[row][column],
        }
        return Finding("cell.slope-holds", "good", numbers | loads.numbers(from_kpa))
    if plan.cells.held_by[row][column] == "between" and not plan.cells.between.ceiling[row][column]:
        lowered_deg = 0.0 if plan.cells.rows is None else float(plan.cells.rows.lowered_deg[row, column])
        return _said("cell.rows-hold", lowered_deg=lowered_deg)
    if plan.cells.held_by[row][column] == "between":
        lowered = lowered_here(plan.cells.between, row, column)
        in_own_terms = loads.numbers(float(plan.cells.between.kpa[row, column]))
        return Finding("cell.between-holds", "good", lowered | in_own_terms)
    match plan.cells.held_by[row][column]:
        case "reach":
            return _said("cell.reach-holds", reach_deg=float(plan.cells.ceilings.reach_deg[row, column]))
        case "knock":
            return _said(
                "cell.knock-holds",
                allowed_percent=float(plan.cells.knock_allowed_percent[row, column]),
                margin_deg=job.limits.knock_margin_deg,
            )
        case "rows":
            return Finding("cell.made-of-row", "good", made_here(plan.cells, row, column))
        case "limit":
            return _said("cell.limit-holds")
        case "reserve":
            return _said("cell.reserve-holds", reserve_deg=job.limits.idle_reserve_deg)
        case _:
            return _said("cell.best-holds")


def _over(each: OverCeiling) -> Finding:
    return _said(
        "cell.over",
        "problem",
        ceiling=each.ceiling,
        ceiling_deg=each.ceiling_deg,
        over_deg=each.over_deg,
    )


def _lowered(plan: PlanResult, job: Job, row: int, column: int) -> Iterator[Finding]:
    """Give what smoothing took, where it is more than the controller's step alone would."""
    if plan.cells.held_by[row][column] == "rows":
        return
    lowered_deg = float(plan.cells.smoothed_deg[row, column] - plan.cells.between.lowered_deg[row, column])
    if plan.cells.rows is not None:
        lowered_deg -= float(plan.cells.rows.lowered_deg[row, column])
    if isnan(lowered_deg) or lowered_deg <= job.controller.step_deg:
        return
    limits = job.limits
    yield _said(
        "cell.lowered",
        lowered_deg=lowered_deg,
        slope_deg_per_500rpm=limits.slope_deg_per_500rpm,
        slope_deg_per_10kpa=limits.slope_deg_per_10kpa,
    )


def _short_of_best(plan: PlanResult, row: int, column: int) -> Iterator[Finding]:
    if plan.cells.over_ceiling[row, column]:  # what it costs in torque is not what matters there
        return
    short_deg = float(plan.margins.best_deg[row, column])
    lost_percent = float(plan.cells.torque_lost_percent[row, column])
    if not isfinite(short_deg):
        yield _said("cell.best-not-determined", "open")
    elif abs(short_deg) <= TELLABLE_DEG:
        yield _said("cell.at-best")
    else:
        yield _said("cell.off-best", short_deg=short_deg, lost_percent=lost_percent)


def _best_firmness(plan: PlanResult, row: int, column: int) -> Iterator[Finding]:
    """Give how firm best is in what counts: degrees, and the torque that being so far off costs."""
    sigma_deg = float(plan.cells.best_sigma_deg[row, column])
    cost_percent = float(plan.cells.best_sigma_cost_percent[row, column])
    if not isnan(sigma_deg) and not isnan(cost_percent):
        yield _said("cell.best-known-to", sigma_deg=sigma_deg, cost_percent=cost_percent)


def _burns(plan: PlanResult, row: int, column: int) -> Iterator[Finding]:
    if plan.cells.burn_state[row][column] == "misfire":
        yield _said("cell.misfires", "look")
    if plan.cells.burn_state[row][column] == "slow burn":
        yield _said("cell.burns-slowly", "look")
    if plan.cells.outside_range[row, column]:
        yield _said("cell.formula-outside-range", "look")
    if not plan.cells.met[row, column]:
        yield _said("cell.not-met")
