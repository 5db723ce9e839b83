"""Cells set by hand: written to the job so that they stay where they were put."""

from __future__ import annotations

from sparkwright.edit.set_cells import Wanted, cells_set, with_cells
from sparkwright.job import Job, starter_text
from sparkwright.plan.planner import plan, planned_without_hand


def test_axes_stay_put_once_a_cell_was_set_by_hand() -> None:
    """A cell set by hand would be lost if the planner chose other axes after a fact changed."""
    job = Job.from_toml(starter_text())
    assert job.controller.rpm is None
    planned = planned_without_hand(job)
    changed = with_cells(
        job, planned.cells.spark_map, {(3, 4): Wanted(20.0)}, who="A. Example", on="2030-05-01"
    )
    assert changed.controller.rpm == tuple(planned.cells.spark_map.rpm)
    assert changed.controller.kpa == tuple(planned.cells.spark_map.kpa)
    moved = changed.changed("site", altitude="2000 m")
    assert cells_set(moved, plan(moved).cells.spark_map)[3, 4].advance_deg == 20.0
