"""The map for the first start: late enough, never past best, and led to the plan step by step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from planned import plan_of
from planning_jobs import BOOSTED_SIX, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.job import Job
from sparkwright.plan.first_map import MOST_CHANCE_PERCENT, REGIONS, STEP_DEG, first_map
from sparkwright.plan.hooks import FIRST_DEG, sparse_at
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planned_demand import check
from sparkwright.plan.settings import settings_of
from telling import action_of, sentence_of
from test_properties import FEW, jobs

EXAMPLES = (PUMP_HOUSE, BOOSTED_SIX, OLD_FOUR, ORDINARY_V8)
NAMES = ("pump house", "boosted six", "old four", "ordinary V8")
ALL = pytest.mark.parametrize("job", EXAMPLES, ids=NAMES)


@ALL
def test_knock_is_most_unlikely_on_the_first_start(job: Job) -> None:
    """Held against each cell asked by itself, and the normal law's 1 % at -2.326 standard deviations."""
    planned, physics = plan_of(job), physics_of(job)
    first = first_map(job, planned)
    for i, j in [(0, 3), (5, 5), (-1, 2), (-1, 8), (-2, -1), (9, 0)]:
        if not planned.cells.met[i, j]:
            continue
        rpm, kpa = float(planned.cells.spark_map.rpm[j]), float(planned.cells.spark_map.kpa[i])
        ln_integral = float(sparse_at(physics, rpm, kpa).at(first.spark_map.advance_deg[i, j])[1])
        assert ln_integral <= -2.326 * planned.cells.ln_knock_sigma[i, j] + 1e-3 or np.isneginf(ln_integral)
    assert np.nanmax(first.knock_chance_percent[planned.cells.met]) <= MOST_CHANCE_PERCENT + 1e-6
    assert first.problems == ()


@ALL
def test_no_cell_of_the_first_map_stands_past_best_or_above_the_map_to_type_in(job: Job) -> None:
    planned = plan_of(job)
    first_deg = first_map(job, planned).spark_map.advance_deg
    assert np.all(first_deg <= idle_block(job, planned).spark_map.advance_deg)
    assert np.all(first_deg <= np.nan_to_num(planned.cells.ceilings.best_deg, nan=np.inf))


@ALL
def test_the_steps_lead_from_the_first_map_to_the_one_to_type_in_and_never_back(job: Job) -> None:
    planned = plan_of(job)
    first, goal_deg = first_map(job, planned), idle_block(job, planned).spark_map.advance_deg
    before = first.spark_map.advance_deg
    for number, step in enumerate(first.steps, start=1):
        now = step.spark_map.advance_deg
        assert step.number == number
        assert np.all(now >= before)
        assert np.all(now <= goal_deg)
        assert float((now - before).max()) == step.raised_deg > 0.0
        assert step.raised_deg <= STEP_DEG[step.region] + job.controller.step_deg
        before = now
    assert np.array_equal(before, goal_deg)
    order = [REGIONS.index(step.region) for step in first.steps]
    assert order == sorted(order), "what can harm most comes last"


@ALL
def test_no_step_has_more_chance_of_knock_than_the_plan_allows(job: Job) -> None:
    for step in first_map(job, plan_of(job)).steps:
        boosted = step.region == "boost"
        allowed = job.limits.boost_knock_chance_percent if boosted else job.limits.knock_chance_percent
        assert np.isnan(step.chance_percent) or step.chance_percent <= allowed + 1e-6


@ALL
def test_the_first_map_and_each_step_idle_on_a_flat_block(job: Job) -> None:
    planned = plan_of(job)
    first, block = first_map(job, planned), idle_block(job, planned)
    for spark_map in (first.spark_map, *(step.spark_map for step in first.steps)):
        assert len(set(spark_map.advance_deg[block.cells].tolist())) == 1


def test_on_a_controller_without_trims_the_steps_end_at_the_map_for_the_worst_day() -> None:
    job = on_axes(ORDINARY_V8, [600, 2000, 4000], [30, 70, 98]).changed(
        "conditions", hottest_air="45 degC", air_trim=False
    )
    planned = plan_of(job)
    typed = settings_of(job, planned, check(job, planned)).spark_map
    assert np.any(typed.advance_deg < idle_block(job, planned).spark_map.advance_deg)
    first = first_map(job, planned, to_type=typed)
    assert first.goal == typed
    assert np.all(first.spark_map.advance_deg <= typed.advance_deg)
    assert np.array_equal(first.steps[-1].spark_map.advance_deg, typed.advance_deg)


@FEW
@given(job=jobs())
def test_any_engine_starts_late_enough_or_says_that_it_cant(job: Job) -> None:
    planned = plan_of(job)
    first = first_map(job, planned)
    knocks = planned.cells.met & (first.knock_chance_percent > MOST_CHANCE_PERCENT + 1e-6)
    assert bool(first.problems) == bool(knocks.any())
    earliest_tested = FIRST_DEG - job.limits.knock_margin_deg
    assert np.all(first.spark_map.advance_deg[knocks] <= earliest_tested + 1e-9)
    assert np.all(first.later_deg >= 0.0)


def test_a_cell_set_over_knock_by_hand_waits_for_the_last_step() -> None:
    job = on_axes(ORDINARY_V8, [700, 2000, 4000], [40, 70, 98]).with_hand(
        [{"rpm": 2000, "kpa": 98, "advance_deg": 34, "reason": "a try"}]
    )
    first = first_map(job)
    assert first.spark_map.advance_deg[2, 1] < 24.0
    assert [each.kind for each in first.warnings] == ["first-map.hand-left-out"]
    assert first.steps[-1].spark_map.advance_deg[2, 1] == 34.0


def test_an_engine_that_knocks_at_any_advance_is_not_called_safe() -> None:
    job = on_axes(BOOSTED_SIX.changed("fuel", ron=60), [1500, 2500, 4000], [40, 98, 165])
    first = first_map(job)
    assert [each.kind for each in first.problems] == ["first-map.still-knocks"]
    assert first.headline == first.problems[0]
    assert "better fuel, less boost" in action_of(first.headline)


def test_each_part_says_what_to_listen_and_look_for_and_the_light_before_it() -> None:
    for job in EXAMPLES:
        for step in first_map(job, plan_of(job)).steps:
            to_do = action_of(step.finding)
            assert to_do.startswith("Before: ")
            assert any(word in to_do for word in ("Listen", "Speed rises", "It pulls", "Under boost"))
            assert f"{step.raised_deg:g} deg" in sentence_of(step.finding)


def test_a_fuel_that_never_knocks_needs_few_steps() -> None:
    job = on_axes(ORDINARY_V8.changed("fuel", ron=120, mon=110), [700, 2000, 4000], [40, 70, 98])
    first = first_map(job)
    assert first.steps == ()
    assert "late enough to start on" in sentence_of(first.headline)


def test_the_same_job_has_the_same_first_map() -> None:
    job = on_axes(PUMP_HOUSE, [700, 2000, 4000], [40, 60, 84])
    one, other = first_map(job), first_map(job)
    assert one.spark_map.advance_deg.tobytes() == other.spark_map.advance_deg.tobytes()
    assert [each.finding for each in one.steps] == [each.finding for each in other.steps]
