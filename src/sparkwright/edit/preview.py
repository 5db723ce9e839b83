"""Cells tried by hand, as quickly as a screen wants it: what they stand over, without running the cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sparkwright.edit.set_cells import Wanted
from sparkwright.job import HandCell
from sparkwright.plan.hand import Place, with_values
from sparkwright.plan.lines import row_of
from sparkwright.plan.result import PlanResult


def preview(planned: PlanResult, wanted: Mapping[Place, Wanted]) -> PlanResult:
    """Put values into a plan made without cells set by hand, without asking what they give.

    Parameters
    ----------
    planned : PlanResult
        ``plan.planner.planned_without_hand`` of the job.
    wanted : mapping
        What is wanted in each cell, by row and column.

    Returns
    -------
    PlanResult
        Map, holders, margins, and what stands over a ceiling are those of ``plan.hand.set_by_hand``. Torque,
        burned share and chance of knock of these cells are nan, "not determined"; sentences, idle and costs
        are still those of the plan.
    """
    own = planned.cells.spark_map
    # Not checked here: what is saved is checked by the job itself.
    placed = {
        (i, j): HandCell.model_construct(
            rpm=float(own.rpm[j]),
            kpa=float(own.kpa[i]),
            advance_deg=want.advance_deg,
            reason=want.reason or None,
        )
        for (i, j), want in wanted.items()
    }
    cells, over = with_values(planned.cells, placed)
    margins = cells.ceilings.margins(cells.spark_map.advance_deg)
    return _with_lines(replace(planned, cells=cells, margins=margins, over=over))


def _with_lines(plan: PlanResult) -> PlanResult:
    """Draw the two lines that a plan carries through these values."""
    old_deg = None if plan.old_curve is None else plan.old_curve.advance_deg
    rows = {
        name: int(np.argmin(np.abs(plan.cells.spark_map.kpa - getattr(plan, name).kpa)))
        for name in ("full_load", "cruise")
    }
    lines = {name: row_of(plan.cells, row, old_deg, getattr(plan, name).title) for name, row in rows.items()}
    return replace(plan, full_load=lines["full_load"], cruise=lines["cruise"])
