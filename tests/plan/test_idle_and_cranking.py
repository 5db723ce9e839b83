"""Idle block, cranking row, rules of running and the settings that they make."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from pypdf import PdfReader

from planned import plan_of
from planning_jobs import BOOSTED_SIX, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, RADICAL_V8, on_axes
from sparkwright.drawing.true_scale import sheet_pdf
from sparkwright.job import Job
from sparkwright.plan.between import stands_over
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.cranking_row import cranking_row
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import plan
from sparkwright.plan.point import point
from sparkwright.plan.rules_of_running import running_rules
from sparkwright.plan.settings import Settings, settings_of
from sparkwright.sheets.settings_sheet import settings_sheet
from telling import action_of, sentence_of
from test_properties import FEW, jobs

ALL = pytest.mark.parametrize(
    "job",
    [PUMP_HOUSE, BOOSTED_SIX, OLD_FOUR, ORDINARY_V8, RADICAL_V8],
    ids=["pump house", "boosted six", "old four", "ordinary V8", "radical V8"],
)


def settings(job: Job) -> Settings:
    planned = plan_of(job)
    return settings_of(job, planned, check(job, planned))


@ALL
def test_the_idle_block_is_flat_and_holds_the_idle_wherever_it_wanders(job: Job) -> None:
    block, physics = idle_block(job, plan_of(job)), physics_of(job)
    wander = block.wander_rpm
    least_rpm = max(physics.idle_rpm - wander, block.spark_map.rpm[0])
    for rpm in np.linspace(least_rpm, physics.idle_rpm + wander, 7):
        for kpa in np.linspace(physics.idle_kpa - 4.0, physics.idle_kpa + 4.0, 5):
            assert block.spark_map.at(float(rpm), float(kpa)) == pytest.approx(block.advance_deg)


def assert_block_holds(job: Job) -> None:
    planned = plan_of(job)
    block = idle_block(job, planned)
    value, ceilings = block.spark_map.advance_deg, planned.cells.ceilings
    for ceiling in (ceilings.best_deg, ceilings.reach_deg, ceilings.limit_deg):
        assert np.all(value[block.cells] <= np.nan_to_num(ceiling[block.cells], nan=np.inf) + TELLABLE_DEG)
    # Where the charge knocks even at the controller's least, no map can stand lower.
    knock = np.maximum(np.nan_to_num(ceilings.knock_deg, nan=np.inf), job.controller.min_deg)
    assert np.all(value[block.cells] <= knock[block.cells] + TELLABLE_DEG)
    assert np.all(value[~block.cells] <= planned.cells.spark_map.advance_deg[~block.cells])
    slack = job.controller.step_deg + 1e-9
    by_rpm = job.limits.slope_deg_per_500rpm / 500.0 * np.diff(planned.cells.spark_map.rpm)
    by_kpa = job.limits.slope_deg_per_10kpa / 10.0 * np.diff(planned.cells.spark_map.kpa)
    assert np.all(np.abs(np.diff(value, axis=1)) <= by_rpm + slack)
    assert np.all(np.abs(np.diff(value, axis=0)) <= by_kpa[:, None] + slack)


@ALL
def test_the_idle_block_stands_under_every_ceiling_and_within_the_slopes(job: Job) -> None:
    assert_block_holds(job)


@FEW
@given(job=jobs())
def test_any_idle_block_stands_under_every_ceiling_and_within_the_slopes(job: Job) -> None:
    assert_block_holds(job)


def assert_block_holds_between(job: Job) -> None:
    """At every point of the plan's fine grid, or what stands over was the plan's own."""
    planned = plan_of(job)
    block = idle_block(job, planned)
    grid, plans = planned.cells.between.grid, planned.cells.spark_map
    assert grid is not None
    how = planned.cells.between.how
    _, over = stands_over(block.spark_map.advance_deg, plans.rpm, plans.kpa, grid, how)
    _, own_over = stands_over(plans.advance_deg, plans.rpm, plans.kpa, grid, how)
    assert np.all(over <= np.maximum(own_over, TELLABLE_DEG) + 1e-9)


@ALL
def test_the_idle_block_stands_under_every_ceiling_between_its_cells_and_beside_it(job: Job) -> None:
    assert_block_holds_between(job)


def test_a_ceiling_that_dips_between_the_block_and_its_neighbour_brings_the_block_down() -> None:
    job = on_axes(PUMP_HOUSE, [600, 900, 1500, 3000], [25, 38, 50, 85])
    planned = plan(job)
    before, grid, rpm = idle_block(job, planned), planned.cells.between.grid, planned.cells.spark_map.rpm
    assert grid is not None
    # A dip that no example has, put in by hand: midway from the block to the next speed.
    edge, row = before.columns[1], np.searchsorted(grid.kpa, planned.cells.spark_map.kpa[before.rows[0]])
    column = np.abs(grid.rpm - 0.5 * (rpm[edge] + rpm[edge + 1])).argmin()
    at = float(before.spark_map.at(float(grid.rpm[column]), float(grid.kpa[row])))
    grid.lowest_deg[row, column] = at - 1.0
    after = idle_block(job, planned)
    assert after.advance_deg < before.advance_deg
    made = float(after.spark_map.at(float(grid.rpm[column]), float(grid.kpa[row])))
    assert made <= at - 1.0 + TELLABLE_DEG


@FEW
@given(job=jobs())
def test_any_idle_block_stands_under_every_ceiling_between_its_cells(job: Job) -> None:
    assert_block_holds_between(job)


def test_five_degrees_at_idle_buy_what_the_hook_says() -> None:
    """Held against the whole hook of the idle, computed by itself at every degree."""
    block = idle_block(ORDINARY_V8, plan_of(ORDINARY_V8))
    hook = point(ORDINARY_V8, block.rpm, block.kpa)
    later, here, earlier = np.interp(
        block.advance_deg + np.array([-5.0, 0.0, 5.0]), hook.advance_deg, hook.imep_bar
    )
    assert block.earlier_percent == pytest.approx(100 * (earlier / here - 1), abs=0.1)
    assert block.later_percent == pytest.approx(100 * (later / here - 1), abs=0.1)
    assert f"{block.advance_deg:g} deg from" in sentence_of(block.headline)


def test_an_idle_that_wanders_more_has_a_wider_block() -> None:
    wide = PUMP_HOUSE.changed("limits", idle_wander_rpm=300)
    assert idle_block(wide, plan_of(wide)).columns[1] > idle_block(PUMP_HOUSE, plan_of(PUMP_HOUSE)).columns[1]


def test_cells_set_by_hand_stay_in_the_idle_block_and_beside_it() -> None:
    rpm, kpa = [500, 800, 1100, 2000, 4000], [30, 40, 50, 70, 98]
    job = on_axes(ORDINARY_V8, rpm, kpa)
    before = idle_block(job, plan_of(job))
    inside, beside = (1, 1), (before.rows[1] + 1, 1)
    assert before.cells[inside]
    assert not before.cells[beside]
    cells = [
        {"rpm": rpm[j], "kpa": kpa[i], "advance_deg": 2.0, "reason": "a try"} for i, j in (inside, beside)
    ]
    by_hand = job.with_hand(cells)
    block = idle_block(by_hand, plan(by_hand))
    assert block.spark_map.advance_deg[inside] == block.spark_map.advance_deg[beside] == 2.0
    assert block.advance_deg == before.advance_deg, "a low cell drags nothing down with it, as in the plan"
    assert "1 cell stays as set by hand" in sentence_of(block.warnings[-1])


def test_a_map_that_begins_above_idle_is_told() -> None:
    job = on_axes(ORDINARY_V8, [700, 2000, 4000], [35, 60, 98])
    block = idle_block(job, plan(job))
    assert [each.kind for each in block.warnings] == ["idle-block.off-the-map"]
    assert action_of(block.warnings[0]) == "Give the map a speed and a load below idle."


@ALL
def test_the_cranking_spark_is_carried_and_covered(job: Job) -> None:
    """By hand: at 180 rpm 9 ms are 9.72 deg, at 120 rpm 6.48."""
    row = cranking_row(job, check(job, plan_of(job)))
    assert row.carried_deg == pytest.approx(min(12.0, 6.0 * job.engine.cranking_rpm * 0.009))
    assert row.advance_deg <= row.carried_deg
    assert row.sparks[0].advance_deg == row.advance_deg
    assert len(row.sparks) == job.driver.cranking_sparks
    assert row.cranking_rpm < row.until_rpm < physics_of(job).idle_rpm
    assert "kicks the starter back" in action_of(row.finding)


def test_a_base_that_kicks_is_told_where_it_is_set() -> None:
    early = PUMP_HOUSE.changed("distributor", base_deg=16)
    row = cranking_row(early, check(early, plan_of(early)))
    assert (row.finding.kind, row.finding.state) == ("cranking-row.base-kicks", "look")


def test_a_rotor_that_cant_fire_as_late_as_cranking_asks_is_a_problem() -> None:
    ahead = PUMP_HOUSE.changed("distributor", base_deg=20, rotor_phase_deg=8, tip_width="4 mm")
    row = cranking_row(ahead, check(ahead, plan_of(ahead)))
    assert row.finding.kind == "cranking-row.rotor-too-early"
    assert row.finding in settings(ahead).problems


def test_many_sparks_while_cranking_that_reach_another_post_are_a_problem() -> None:
    many = BOOSTED_SIX.changed("driver", cranking_sparks=20, spark_spacing="5 ms")
    row = cranking_row(many, check(many, plan_of(many)))
    assert row.finding.kind == "cranking-row.wrong-cylinder"


@ALL
def test_each_rule_of_running_has_its_place(job: Job) -> None:
    planned = plan_of(job)
    rules = {each.name: each for each in running_rules(job, planned)}
    assert rules.keys() == {"idle-loaded", "overrun", "soft-limit", "hard-limit"}
    assert rules["soft-limit"].from_rpm < rules["hard-limit"].from_rpm
    for each in rules.values():
        assert sentence_of(each.finding)
        assert action_of(each.finding)
    overrun = rules["overrun"]
    assert overrun.least_deg <= planned.cells.spark_map.at(overrun.to_rpm, overrun.to_kpa) <= overrun.most_deg


@ALL
def test_the_settings_sheet_stands_on_one_page(job: Job) -> None:
    found = settings(job)
    pages = PdfReader(io.BytesIO(sheet_pdf(settings_sheet(found, job)))).pages
    assert len(pages) == 1
    text = " ".join(pages[0].extract_text().split())
    order = ["Base: ", "Delay: ", "Dwell: ", "Cranking: ", "Advance: ", "Speed: ", "Idle block: ", "Map, the"]
    places = [text.index(each) for each in order]
    assert places == sorted(places)
    assert text.count("read back ____") == 10
    assert "Ignition off and coil unplugged while you type" in text


def test_each_load_stands_in_a_line_with_its_share_of_each_trim() -> None:
    """Sixteen loads: in one line along the page their shares ran into one another."""
    job = BOOSTED_SIX.changed("conditions", hottest_air="40 degC")
    found = settings(job)
    assert found.trims is not None
    (air,) = found.trims.trims
    assert air.weights is not None
    pages = PdfReader(io.BytesIO(sheet_pdf(settings_sheet(found, job), paper="letter"))).pages
    assert len(pages) == 1
    lines = [" ".join(line.split()) for line in pages[0].extract_text().splitlines()]
    for kpa, share in zip(air.kpa.tolist(), air.weights.tolist(), strict=True):
        assert f"{kpa:g} {share:.2f}" in lines


def test_what_has_to_be_put_right_leads_the_settings() -> None:
    assert settings(PUMP_HOUSE).headline.state == "problem"
    assert "to be put right before this is loaded" in sentence_of(settings(PUMP_HOUSE).headline)
    assert settings(PUMP_HOUSE).delay_us is None


def test_trims_are_added_to_the_map_with_the_idle_block() -> None:
    job = on_axes(ORDINARY_V8, [500, 700, 900, 3000, 5000], [30, 38, 50, 70, 98])
    found = settings(job.changed("conditions", hottest_air="42 degC"))
    assert found.trims is not None
    assert np.array_equal(found.spark_map.advance_deg, found.idle.spark_map.advance_deg)
    assert np.array_equal(found.trims.spark_map.advance_deg, found.idle.spark_map.advance_deg)
    assert max(each.over_deg for each in found.trims.checks) <= TELLABLE_DEG
