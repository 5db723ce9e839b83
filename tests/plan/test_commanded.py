"""What a controller commands at any point of the map, between its cells as well."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import plan_of
from planning_jobs import BOOSTED_SIX, ORDINARY_V8, on_axes
from sparkwright.errors import Refusal
from sparkwright.plan.commanded import commanded
from sparkwright.plan.point import point
from telling import action_of, sentence_of

SPEEDS, LOADS = [700.0, 1500.0, 2500.0, 3500.0, 5000.0], [25.0, 45.0, 65.0, 85.0, 98.0]
JOB = on_axes(ORDINARY_V8, SPEEDS, LOADS)


@given(st.sampled_from(range(5)), st.sampled_from(range(5)))
@settings(max_examples=20, deadline=None)
def test_at_a_cell_it_is_the_cell(row: int, column: int) -> None:
    planned = plan_of(JOB)
    here = commanded(JOB, planned, SPEEDS[column], LOADS[row])
    assert here.advance_deg == planned.cells.spark_map.advance_deg[row, column]
    assert [cell.held_by for cell in here.cells] == [planned.cells.held_by[row][column]]
    assert here.knock_chance_percent == pytest.approx(
        planned.cells.knock_chance_percent[row, column], rel=1e-6
    )
    at = {each.name: each.at_deg for each in here.ceilings}
    for name in ("knock", "best", "reach", "limit"):
        cell = getattr(planned.cells.ceilings, f"{name}_deg")[row, column]
        assert at[name] == pytest.approx(cell, abs=1e-6, nan_ok=True), name
    assert here.met == planned.cells.met[row, column]


@given(st.floats(700.0, 5000.0), st.floats(25.0, 98.0))
@settings(max_examples=30, deadline=None)
def test_between_cells_it_is_the_straight_lines_of_the_four_about_it(rpm: float, kpa: float) -> None:
    """Bilinear interpolation as textbooks have it: along speed on both rows, then along load."""
    planned = plan_of(JOB)
    here = commanded(JOB, planned, rpm, kpa)
    along = [np.interp(rpm, SPEEDS, row) for row in planned.cells.spark_map.advance_deg]
    assert here.advance_deg == pytest.approx(float(np.interp(kpa, LOADS, along)))
    assert sum(cell.share for cell in here.cells) == pytest.approx(1.0)
    assert 1 <= len(here.cells) <= 4


def test_a_controller_that_takes_the_nearest_cell_commands_just_that_and_midway_the_earlier() -> None:
    job = JOB.changed("controller", between="nearest cell")
    planned = plan_of(job)
    here = commanded(job, planned, 1600.0, 46.0)
    assert [(cell.rpm, cell.kpa, cell.share) for cell in here.cells] == [(1500.0, 45.0, 1.0)]
    midway = commanded(job, planned, 2000.0, 45.0)
    assert midway.advance_deg == max(planned.cells.spark_map.advance_deg[1, 1:3])


@pytest.mark.parametrize(("rpm", "kpa"), [(2100.0, 92.0), (4200.0, 96.0), (1100.0, 88.0)])
def test_its_knock_ceiling_is_that_of_the_hook_there(rpm: float, kpa: float) -> None:
    """`sparkwright point` reads it with spreads of its own; carried ones cost up to a fifth of a degree."""
    here = commanded(JOB, plan_of(JOB), rpm, kpa)
    hook = point(JOB, rpm, kpa)
    at = {each.name: each.at_deg for each in here.ceilings}
    assert at["knock"] == pytest.approx(hook.knock_ceiling_deg, abs=0.2, nan_ok=True)
    assert at["best"] == pytest.approx(hook.best_deg, abs=0.2)


def test_the_plan_stands_over_nothing_that_harms_wherever_the_point_is_moved() -> None:
    drawn = np.random.default_rng(4)
    for job in (JOB, BOOSTED_SIX):
        planned = plan_of(job)
        own = planned.cells.spark_map
        for _ in range(60):
            rpm, kpa = drawn.uniform(own.rpm[0], own.rpm[-1]), drawn.uniform(own.kpa[0], own.kpa[-1])
            assert commanded(job, planned, rpm, kpa).headline.state != "problem", (rpm, kpa)


def test_a_cell_set_by_hand_over_knock_is_told_beside_it_too() -> None:
    job = JOB.with_hand([{"rpm": 2500.0, "kpa": 98.0, "advance_deg": 45.0, "reason": "tried"}])
    here = commanded(job, plan_of(job), 2600.0, 97.0)
    assert here.headline.state == "problem"
    assert "deg over knock; there it can knock and break the engine" in sentence_of(here.headline)
    assert action_of(here.headline) == "Give the cells about it back to the plan, or lower them."


def test_a_point_off_the_map_is_refused_with_where_it_ends() -> None:
    with pytest.raises(Refusal, match="rpm = 9000: must be 700 to 5000 rpm; the map ends there"):
        commanded(JOB, plan_of(JOB), 9000.0, 60.0)
    with pytest.raises(Refusal, match="kpa = nan: must be 25 to 98 kPa"):
        commanded(JOB, plan_of(JOB), 2000.0, float("nan"))


def test_where_the_engine_doesnt_come_that_is_said() -> None:
    planned = plan_of(BOOSTED_SIX)
    own = planned.cells.spark_map
    here = commanded(BOOSTED_SIX, planned, float(own.rpm[0]), float(own.kpa[-1]))
    assert not here.met
    assert sentence_of(here.headline).startswith("A running engine doesn't come to ")
