"""Invented plan and hook results for drawing tests: shapes like an engine's, numbers made up."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import numpy as np

from sparkwright.check.assumed import Assumed, SpreadTaken
from sparkwright.findings import Finding
from sparkwright.plan.between_cells import BetweenCells
from sparkwright.plan.result import (
    Ceilings,
    Hook,
    IdleReserve,
    Line,
    MapCells,
    OldCurve,
    OverCeiling,
    PlanResult,
    ReachCost,
)
from sparkwright.plan.spark_map import SparkMap

RPM = np.array(
    [600, 800, 1000, 1200, 1500, 1800, 2100, 2400, 2800, 3200, 3600, 4000, 4300, 4600, 4900, 5200.0]
)
KPA = np.array([20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 74, 77, 80, 82.5, 85.0])
REACH_DEG = 34.0


def with_other_cells(plan: PlanResult, **changed: Any) -> PlanResult:
    """Give a plan with other cells, as ``dataclasses.replace`` does; nothing else in it follows."""
    return replace(plan, cells=replace(plan.cells, **changed))


def invented_plan(
    reach_deg: float = REACH_DEG, step_deg: float = 1.0, set_deg: float | None = None
) -> PlanResult:
    """A V8's map held by reach above, by knock at low speed and high load, by the reserve at idle."""
    rpm, kpa = np.meshgrid(RPM, KPA)
    best = 46.0 * (1.0 - np.exp(-(rpm + 250.0) / 1500.0)) + (85.0 - kpa) * 0.18
    knock = 14.0 + (rpm - 600.0) * 0.0125 + (85.0 - kpa) * 1.6
    knock_or_none = np.where(knock > 52.0, np.nan, knock)
    reach = np.full_like(best, reach_deg)
    hand = np.full_like(best, np.nan)
    hand[5, 9] = 30.0
    stack = np.array([best, np.where(np.isnan(knock_or_none), 99.0, knock_or_none), reach])
    names = ["best", "knock", "reach"]
    lowest = stack.min(axis=0)
    held = [[names[k] for k in row] for row in stack.argmin(axis=0)]
    for i in range(2, 6):
        for j in range(2):
            held[i][j], lowest[i, j] = "reserve", best[i, j] - 6.0
    held[5][9], lowest[5, 9] = "limit", 30.0
    advance = np.floor(lowest / step_deg) * step_deg
    by_hand = np.zeros(advance.shape, dtype=bool)
    over: tuple[OverCeiling, ...] = ()
    if set_deg is not None:
        held[11][8], advance[11, 8], by_hand[11, 8] = "by hand", set_deg, True
        over = (
            OverCeiling(
                2800.0, 74.0, set_deg, "reach", reach_deg, set_deg - reach_deg, "A test", "A. Example", None
            ),
        )
    full, cruise = -1, 5
    cost = ReachCost(14, 47.0, reach_deg, 2.1, 5200.0, 20.0, 4.0, 2.1, 0.34, 47.0, 9.0, 0)
    late = Finding("old-curve.late", "look", {"late_deg": 5.0, "mean_deg": 2.0, "rpm": 600.0, "kpa": 20.0})
    cells = MapCells(
        spark_map=SparkMap(RPM, KPA, advance),
        met=np.ones_like(advance, dtype=bool),
        held_by=tuple(tuple(row) for row in held),
        slope_from_rpm=np.full_like(best, np.nan),
        slope_from_kpa=np.full_like(best, np.nan),
        by_hand=by_hand,
        over_ceiling=by_hand,
        ceilings=Ceilings(best, knock_or_none, reach, hand, np.full_like(best, 4.0)),
        best_sigma_deg=np.full_like(best, 2.5),
        best_sigma_cost_percent=np.full_like(best, 0.4),
        knock_sigma_deg=np.full_like(best, 3.0),
        reach_sigma_deg=1.5,
        sigma_deg=np.full_like(best, 2.5),
        smoothed_deg=lowest - advance,
        torque_nm=200.0 + 2.0 * kpa,
        torque_lost_percent=0.02 * np.maximum(0.0, best - advance) ** 2,
        burned_share=np.ones_like(best),
        knock_chance_percent=np.where(best - advance < 1.0, 8.0, 2.0),
        knock_allowed_percent=np.full_like(best, 10.0),
        ln_knock_sigma=np.full_like(best, 0.19),
        mixture_lambda=np.where(kpa > 75.0, 0.88, 1.0),
        burn_state=(("burns",) * RPM.size,) * KPA.size,
        outside_range=np.zeros_like(by_hand),
        between=nothing_between(best.shape),
    )
    return PlanResult(
        cells=cells,
        job_name="Pump-house V8 (invented)",
        fingerprint="ab12" * 16,
        belief_fingerprint="cd34" * 16,
        margins=Ceilings(
            best - advance, knock_or_none - advance, reach - advance, hand - advance, advance - 4.0
        ),
        over=over,
        spreads=(SpreadTaken("octane number", "1", True, "recalled"),),
        base_deg=10.0,
        top_kpa=85.0,
        idle=IdleReserve(800.0, 35.0, 26.0, 6.0, 20.0, 4.1),
        full_load=_line("Full load, 85 kPa", full, advance, best, knock_or_none, reach, old=True),
        cruise=_line("Cruise, 45 kPa", cruise, advance, best, knock_or_none, reach, old=False),
        reach_cost=cost,
        old_curve=OldCurve(advance - 5.0, np.full_like(best, 5.0), np.zeros_like(best), (late,)),
        headline=Finding("reach.runs-out", "problem", asdict(cost)),
        problems=(Finding("reach.holds", "problem", asdict(cost)),),
        warnings=(Finding("formula.outside-range", "look", {"cells": 2}),),
        assumed=(
            Assumed("engine.rod", "1.6 x stroke", "not stated; common practice"),
            Assumed("fuel.lambda_full", "0.88", "not stated; a safe rich mixture at full load"),
        ),
    )


def nothing_between(shape: tuple[int, ...]) -> BetweenCells:
    """What lies between the cells of a map of which nothing was asked there."""
    nothing = np.full(shape, np.nan)
    blank = tuple(("",) * shape[1] for _ in range(shape[0]))
    return BetweenCells("straight lines", np.zeros(shape), np.zeros(shape), nothing, nothing, blank)


def _line(
    title: str,
    row: int,
    advance: np.ndarray,
    best: np.ndarray,
    knock: np.ndarray,
    reach: np.ndarray,
    old: bool,
) -> Line:
    return Line(
        title=title,
        kpa=float(KPA[row]),
        rpm=RPM,
        plan_deg=advance[row],
        best_deg=best[row],
        best_sigma_deg=np.full_like(RPM, 2.5),
        knock_deg=knock[row],
        reach_deg=reach[row],
        limit_deg=np.full_like(RPM, 60.0),
        by_hand=np.zeros(RPM.size, dtype=bool),
        over_ceiling=np.zeros(RPM.size, dtype=bool),
        not_asked=np.zeros(RPM.size, dtype=bool),
        old_deg=np.minimum(10.0 + (RPM - 600.0) * 0.01, 26.0) if old else None,
    )


def invented_hook(knock_limit_deg: float = 37.0) -> Hook:
    """Torque as a parabola about 31 deg."""
    advance = np.linspace(0.0, 60.0, 61)
    torque = 420.0 * (1.0 - ((advance - 31.0) / 60.0) ** 2)
    ones = np.ones_like(advance)
    return Hook(
        rpm=3000.0,
        kpa=95.0,
        mixture_lambda=0.88,
        advance_deg=advance,
        torque_nm=torque,
        imep_bar=torque / 40.0,
        knock_integral=advance / knock_limit_deg if np.isfinite(knock_limit_deg) else advance / 99.0,
        ca10_deg=2.0 * ones,
        ca50_deg=9.0 * ones,
        ca90_deg=30.0 * ones,
        peak_bar=55.0 * ones,
        peak_at_deg=14.0 * ones,
        exhaust_c=750.0 * ones,
        burned_share=ones,
        spark_bar=12.0 * ones,
        spark_k=650.0 * ones,
        spark_density_kg_m3=6.0 * ones,
        best_deg=31.0,
        best_torque_nm=420.0,
        late99_deg=25.0,
        early99_deg=37.0,
        knock_limit_deg=knock_limit_deg,
        residual_share=0.06,
        charge_mg=700.0,
        intake_closing_k=345.0,
        burn_state="burns",
        outside=(),
    )
