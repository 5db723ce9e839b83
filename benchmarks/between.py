"""What the check between the cells adds to a plan, and what choosing axes and finding trims take."""

from __future__ import annotations

import time
from collections.abc import Callable

from rows import Row
from sparkwright.job import Job
from sparkwright.plan.axes import axes_of
from sparkwright.plan.choose_axes import choose_axes
from sparkwright.plan.firmness import Mapper, firmness_of
from sparkwright.plan.nodes import Nodes
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import lowered_for_between, most_allowed_deg, plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.support import Support
from sparkwright.plan.trims import trims

AXES_ASKED_S = 3.0
TRIMS_ASKED_S = 8.0
STATED = {
    "coldest_air": "-10 degC",
    "hottest_air": "42 degC",
    "hottest_coolant": "108 degC",
    "highest_altitude": "2200 m",
    "other_ron": 91,
    "other_mon": 82,
}
"""Conditions of every kind: with their corners 23 places, each of which is planned."""
PLANS_ASKED = 2.0


def between(job: Job, turns: int, run: Mapper) -> list[Row]:
    """Time a plan, the part of it that looks between the cells, a choice of 16 x 16 axes, and all trims."""
    planned = plan(job, run=run)
    physics = physics_of(job)
    axes = axes_of(job, physics)
    firmness = firmness_of(job, physics, *axes, run)

    def look() -> None:
        ceilings = planned.cells.ceilings
        most_deg = min(float(ceilings.reach_deg[0, 0]), most_allowed_deg(job))
        support = Support(job, physics, firmness, *axes, ceilings.best_deg, ceilings.knock_deg, most_deg, run)
        support.fine()
        _lower(job, planned)

    whole_s, look_s, axes_s = (
        min(_taken(each) for _ in range(turns))
        for each in (
            lambda: plan(job, run=run),
            look,
            lambda: choose_axes(job, Nodes(16, 50.0), Nodes(16, 1.0), run=run),
        )
    )
    elsewhere = job.changed("conditions", **STATED)
    trims_s = _taken(lambda: trims(elsewhere, planned, run=run))
    ratio = whole_s / (whole_s - look_s)
    return [
        Row(
            "16 x 16 plan with its check between, over one without", f"{ratio:.2f}", "2", ratio <= PLANS_ASKED
        ),
        Row("16 x 16 axes chosen", f"{axes_s:.2f} s", "3 s", axes_s <= AXES_ASKED_S),
        Row("16 x 16 trims and corners, 23 places", f"{trims_s:.2f} s", "8 s", trims_s <= TRIMS_ASKED_S),
    ]


def _lower(job: Job, planned: PlanResult) -> None:
    spark_map, grid = planned.cells.spark_map, planned.cells.between.grid
    if grid is not None:
        before = spark_map.advance_deg + planned.cells.between.lowered_deg
        lowered_for_between(job, before, spark_map.rpm, spark_map.kpa, grid)


def _taken(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start
