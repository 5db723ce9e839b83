"""Cells tried by hand, as quickly as a screen wants it: what they stand over, without running the cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sparkwright.edit.cells import Place
from sparkwright.edit.set_cells import Wanted
from sparkwright.job import HandCell
from sparkwright.plan.hand import over_ceilings
from sparkwright.plan.lines import row_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap


def tried(planned: PlanResult, wanted: Mapping[Place, Wanted]) -> PlanResult:
    """Put values into a plan made without cells set by hand, without asking what they give.

    Parameters
    ----------
    planned : PlanResult
        ``plan.planner.planned_without_hand`` of the job.
    wanted : mapping
        What is tried in each cell, by row and column.

    Returns
    -------
    PlanResult
        Map, holders, margins, and what stands over a ceiling are those of ``plan.hand.set_by_hand``. Torque
        and burned share of the cells tried are nan, "not determined"; sentences, idle and costs are still
        those of the plan.
    """
    own = planned.spark_map
    advance = own.advance_deg.copy()
    held = [list(row) for row in planned.held_by]
    by_hand = np.zeros_like(planned.by_hand)
    for (i, j), want in wanted.items():
        advance[i, j], held[i][j], by_hand[i, j] = want.advance_deg, "hand", True
    # Not checked here: what is saved passes the door of the job.
    placed = {
        (i, j): HandCell.model_construct(
            rpm=float(own.rpm[j]),
            kpa=float(own.kpa[i]),
            advance_deg=want.advance_deg,
            reason=want.reason or None,
        )
        for (i, j), want in wanted.items()
    }
    over = over_ceilings(planned, placed)
    stands_over = {(each.rpm, each.kpa) for each in over}
    over_ceiling = np.zeros_like(by_hand)
    for place, cell in placed.items():
        over_ceiling[place] = (cell.rpm, cell.kpa) in stands_over
    ceilings, unknown = planned.ceilings, np.where(by_hand, np.nan, 0.0)
    cells = replace(
        planned,
        spark_map=SparkMap(own.rpm, own.kpa, advance),
        held_by=tuple(tuple(row) for row in held),
        by_hand=by_hand,
        over_ceiling=over_ceiling,
        over=over,
        sigma_deg=planned.sigma_deg + unknown,
        smoothed_deg=planned.smoothed_deg + unknown,
        torque_nm=planned.torque_nm + unknown,
        torque_lost_percent=planned.torque_lost_percent + unknown,
        burned_share=planned.burned_share + unknown,
        margins=replace(
            planned.margins,
            best_deg=ceilings.best_deg - advance,
            knock_deg=ceilings.knock_deg - advance,
            reach_deg=ceilings.reach_deg - advance,
            hand_deg=ceilings.hand_deg - advance,
            floor_deg=advance - ceilings.floor_deg,
        ),
    )
    return _with_lines(cells)


def _with_lines(cells: PlanResult) -> PlanResult:
    """Draw the two lines that a plan carries through the values tried."""
    old_deg = None if cells.old_curve is None else cells.old_curve.advance_deg
    rows = {
        name: int(np.argmin(np.abs(cells.spark_map.kpa - getattr(cells, name).kpa)))
        for name in ("full_load", "cruise")
    }
    lines = {name: row_of(cells, row, old_deg, getattr(cells, name).title) for name, row in rows.items()}
    return replace(cells, full_load=lines["full_load"], cruise=lines["cruise"])
