"""The planner: where ordinary engines land, and what it says and does at every edge.

"Common practice, no source" marks figures of the trade. Bands are wide enough for what practice leaves open;
where the model misses practice the docstring says by how much.
"""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Any

import numpy as np
import pytest

from planned import plan_of
from planning_jobs import BOOSTED_SIX, BOOSTED_V8, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, RADICAL_V8, on_axes
from sparkwright.check.rotor import rotor_cap
from sparkwright.errors import Refusal
from sparkwright.ignition.rotor import Reach
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan import planner
from sparkwright.plan.axes import default_axes
from sparkwright.plan.cell import Cells, cells_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import cells_met, plan
from sparkwright.plan.point import point
from sparkwright.plan.result import HELD_BY, PlanResult
from sparkwright.words.plan import best_words, idle_sentence
from telling import action_of, sentence_of, sentences_of

SMALL_PUMP = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])


def pump_plan() -> PlanResult:
    return plan_of(PUMP_HOUSE)


def six_plan() -> PlanResult:
    return plan_of(BOOSTED_SIX)


@cache
def ordinary() -> PlanResult:
    return plan(on_axes(ORDINARY_V8, [700, 1100, 3000, 6000], [38, 45, 70, 95]))


def lowest_of(result: PlanResult) -> FloatArray:
    """The lowest of the ceilings of every cell; a cell without knock limit has none from knock."""
    ceilings = result.cells.ceilings
    knock = np.where(np.isnan(ceilings.knock_deg), np.inf, ceilings.knock_deg)
    lowest: FloatArray = np.stack([ceilings.best_deg, knock, ceilings.reach_deg, ceilings.limit_deg]).min(
        axis=0
    )
    return lowest


# Where ordinary engines land


@pytest.mark.parametrize(
    ("rpm", "kpa", "low_deg", "high_deg"),
    [
        pytest.param(1100, 95, 16.0, 20.0, id="1100 full load: mid to high teens"),
        pytest.param(2000, 95, 24.0, 28.0, id="2000 full load: about 26"),
        pytest.param(3000, 95, 30.0, 34.0, id="3000 full load: 30 to 34"),
        pytest.param(6000, 95, 36.0, 41.0, id="6000 full load: more, 36 to 40; 40.8 at writing"),
        pytest.param(3000, 45, 40.0, 46.0, id="3000 at 45 kPa: 43 +-3"),
    ],
)
def test_best_of_an_ordinary_v8(rpm: float, kpa: float, low_deg: float, high_deg: float) -> None:
    """Common practice, no source; warm 9.5:1 wedge V8 on pump premium."""
    assert low_deg < point(ORDINARY_V8, rpm, kpa).best_deg < high_deg


def test_full_load_plan_of_an_ordinary_v8() -> None:
    """Common practice, no source: such engines are borderline at best on this fuel.

    With a chance of knock of 10 % the plan lies some 5 deg below the limit, and above it no more than
    practice.
    """
    low, middle, high = ordinary().cells.spark_map.advance_deg[3, 1:]
    assert 11.0 <= low <= 18.0
    assert 24.0 <= middle <= 34.0
    assert 35.0 <= high <= 41.0
    # On axes as coarse as these, straight lines between two cells cross the knock ceiling.
    assert ordinary().cells.held_by[3][1:] == ("between", "knock", "between")


def test_weak_mixture_wants_more() -> None:
    """Common practice, no source: up to 50 deg; the model gives about 3 deg more at lambda 1.15, to 42."""
    weak = point(ORDINARY_V8.changed("fuel", lambda_cruise=1.15), 3000.0, 45.0).best_deg
    assert 2.0 < weak - point(ORDINARY_V8, 3000.0, 45.0).best_deg < 8.0


@pytest.mark.parametrize(("rpm", "kpa"), [(1100, 95), (3000, 95), (3000, 45)])
def test_best_is_flat(rpm: float, kpa: float) -> None:
    """Common practice, no source: a few degrees off best cost less than a percent of torque."""
    hook = point(ORDINARY_V8, rpm, kpa)
    assert 3.0 < hook.best_deg - hook.late99_deg < 12.0
    assert 3.0 < hook.early99_deg - hook.best_deg < 12.0


def test_idle_of_a_mild_cam_is_set_below_20() -> None:
    """Common practice, no source: some 6 deg short of best, below 20."""
    idle = ordinary().idle
    assert idle.set_deg < 20.0
    assert idle.reserve_deg == pytest.approx(6.0, abs=0.5 + 1e-9)  # rounding takes up to a step
    assert 0.5 < idle.authority_percent < 4.0


def test_idle_of_a_radical_cam_is_set_later_than_best_and_above_a_mild_one() -> None:
    """Common practice, no source: best 28 to 40 at 45 to 50 kPa, and roughly."""
    idle = plan(on_axes(RADICAL_V8, [900, 2000], [48, 95])).idle
    assert 28.0 <= idle.best_deg <= 40.0
    assert idle.reserve_deg == pytest.approx(6.0, abs=0.5 + 1e-9)
    assert idle.set_deg > ordinary().idle.set_deg + 5.0


def test_boost_stands_well_below_the_unboosted_total() -> None:
    """Common practice, no source: at 180 kPa, 3000 rpm, ten degrees and more below the unboosted total."""
    cells = plan(on_axes(BOOSTED_V8, [3000, 5000], [95, 180])).cells.spark_map.advance_deg
    assert np.all(cells[1] <= cells[0] - 8.0)
    assert cells[1, 0] <= cells[0, 0] - 15.0


def test_knock_comes_first_at_low_speed_and_high_load() -> None:
    """Common practice, no source."""
    held = np.array(pump_plan().cells.held_by) == "knock"
    rpm, kpa = pump_plan().cells.spark_map.rpm, pump_plan().cells.spark_map.kpa
    assert held.any()
    rows, columns = np.nonzero(held)
    assert rpm[columns].max() < 2500.0
    assert kpa[rows].min() > 50.0
    knock = pump_plan().cells.ceilings.knock_deg
    assert np.all(np.diff(knock, axis=1)[np.isfinite(np.diff(knock, axis=1))] > 0.0), "rises with speed"
    from_load = np.diff(knock[kpa > 50.0], axis=0)
    assert np.all(from_load[np.isfinite(from_load)] < 0.0), "falls with load"


def test_full_load_and_cruise_of_the_demo_engine() -> None:
    """Common practice, no source: full load in the low thirties at 3000 rpm, cruise near 40."""
    assert 30.0 <= point(PUMP_HOUSE, 3000.0, 83.0).best_deg <= 35.0
    assert 40.0 <= point(PUMP_HOUSE, 3000.0, 45.0).best_deg <= 46.0
    assert pump_plan().idle.set_deg < 20.0


# Ceilings and what holds


@pytest.mark.parametrize("job", [PUMP_HOUSE, BOOSTED_SIX], ids=["pump house", "boosted six"])
def test_no_cell_stands_over_a_ceiling_and_each_says_what_holds_it(job: Job) -> None:
    result = plan_of(job)
    lowest, value = lowest_of(result), result.cells.spark_map.advance_deg
    bounded = np.isfinite(lowest)
    assert np.all(value[bounded] <= lowest[bounded])
    assert np.all(result.cells.smoothed_deg >= -1e-12)
    step = 0.5 + 1e-9
    for i, row in enumerate(result.cells.held_by):
        for j, name in enumerate(row):
            assert name in HELD_BY
            before = value[i, j] + result.cells.smoothed_deg[i, j]
            if name == "reserve":
                # Lowered for its slope, it may have no best of its own.
                assert not before > result.cells.ceilings.best_deg[i, j]
            elif bounded[i, j] and result.cells.smoothed_deg[i, j] < step:
                assert before >= lowest[i, j] - step


def test_a_cell_lowered_for_its_slope_is_held_by_what_it_slopes_from() -> None:
    """Under a peg of 5 deg and 1 deg for each 500 rpm, the whole row is held by that limit."""
    steep = plan(pegged(SMALL_PUMP, 2000.0, 60.0, 5.0).changed("limits", slope_deg_per_500rpm=1))
    assert steep.cells.held_by[1] == ("limit", "limit", "limit")
    assert steep.cells.spark_map.advance_deg[1].tolist() == [7.5, 5.0, 9.0]  # 1300 rpm give 2.6, 2000 give 4


@pytest.mark.parametrize("job", [PUMP_HOUSE, BOOSTED_SIX], ids=["pump house", "boosted six"])
def test_uncertainty_is_that_of_what_holds(job: Job) -> None:
    result = plan_of(job)
    held = np.array(result.cells.held_by)
    # What a hand holds has no spread: not determined, never zero.
    assert np.all(np.isnan(result.cells.sigma_deg[held == "limit"]))
    assert np.all(result.cells.sigma_deg[held == "reach"] == result.cells.reach_sigma_deg)
    assert result.cells.reach_sigma_deg > 0.5
    # A cell lowered for its slope has the spread of what it slopes from.
    # What knocks at any advance has no ceiling whose spread could be told.
    known = np.isfinite(result.cells.sigma_deg)
    assert np.all(known | np.isin(held, ["limit", "knock", "between"]))
    assert np.isin(result.cells.sigma_deg[known & (held == "knock")], result.cells.knock_sigma_deg).all()
    by_best = np.isin(held, ["best", "reserve"])
    assert np.isin(result.cells.sigma_deg[by_best], result.cells.best_sigma_deg).all()
    assert np.all(result.cells.sigma_deg[by_best | (known & (held == "knock"))] > 0.5)


def test_slopes_hold_to_a_step_of_rounding() -> None:
    value, step = pump_plan().cells.spark_map.advance_deg, PUMP_HOUSE.controller.step_deg
    limits = PUMP_HOUSE.limits
    along = limits.slope_deg_per_500rpm / 500.0 * np.diff(pump_plan().cells.spark_map.rpm)
    across = limits.slope_deg_per_10kpa / 10.0 * np.diff(pump_plan().cells.spark_map.kpa)
    assert np.all(np.abs(np.diff(value, axis=1)) <= along + step + 1e-9)
    assert np.all(np.abs(np.diff(value, axis=0)) <= across[:, None] + step + 1e-9)


def test_torque_lost_is_a_loss() -> None:
    known = pump_plan().cells.torque_lost_percent[np.isfinite(pump_plan().cells.torque_lost_percent)]
    assert known.min() > -0.1
    assert known.max() > 5.0, "an unphased rotor costs torque at speed"


def test_what_idle_and_reach_cost_agrees_with_the_hook_of_the_point() -> None:
    """The same figures taken from finer hooks, computed one at a time."""
    idle = ordinary().idle
    hook = point(ORDINARY_V8, idle.rpm, idle.kpa)
    at_best, at_set = np.interp([hook.best_deg, idle.set_deg], hook.advance_deg, hook.imep_bar)
    assert idle.best_deg == pytest.approx(hook.best_deg, abs=0.3)
    assert idle.authority_percent == pytest.approx(100.0 * (at_best / at_set - 1.0), abs=0.15)
    cost = pump_plan().reach_cost
    assert cost is not None
    hook = point(PUMP_HOUSE, cost.lost_at_rpm, cost.lost_at_kpa)
    torque = np.interp(25.5, hook.advance_deg, hook.torque_nm)
    lost = 100.0 * (1.0 - torque / hook.best_torque_nm)
    assert cost.most_torque_lost_percent == pytest.approx(float(lost), abs=0.5)


def test_a_hand_limit_and_the_controller_hold() -> None:
    for job in (
        SMALL_PUMP.changed("limits", max_advance_deg=15),
        SMALL_PUMP.changed("controller", max_deg=15),
    ):
        result = plan(job)
        assert np.all(result.cells.spark_map.advance_deg <= 15.0)
        assert np.all(result.cells.ceilings.limit_deg == 15.0)
        assert result.cells.held_by[0][2] == "limit"


def pegged(job: Job, rpm: float, kpa: float, advance_deg: float) -> Job:
    """The job with one peg more."""
    peg = f'\n[[pegs]]\nrpm = {rpm}\nkpa = {kpa}\nadvance_deg = {advance_deg}\nreason = "surged above this"\n'
    return Job.from_toml(job.to_toml() + peg)


def test_a_peg_holds_its_cell_and_its_neighbours_follow_the_slopes() -> None:
    beside = plan(pegged(SMALL_PUMP, 2100.0, 62.0, 12.0))
    # A peg beside its cell holds where it stands: the straight line to the next cell passes under it.
    assert beside.cells.spark_map.advance_deg[1, 1] == 10.0
    assert beside.cells.held_by[1][1] == "between"
    assert beside.cells.spark_map.at(2100.0, 62.0) <= 12.05
    result = plan(pegged(SMALL_PUMP, 2000.0, 60.0, 12.0))
    assert result.cells.spark_map.advance_deg[1, 1] == 12.0
    assert result.cells.held_by[1][1] == "limit"
    assert np.count_nonzero(result.cells.ceilings.limit_deg == 12.0) == 1
    # 8 deg per 10 kPa over 22 and 25 kPa, 12 deg per 500 rpm over 1300 and 2000 rpm: out of reach here.
    bare = plan(SMALL_PUMP).cells.spark_map.advance_deg
    away = np.ones((3, 3), dtype=bool)
    away[1, 1] = False
    assert np.array_equal(result.cells.spark_map.advance_deg[away], bare[away])
    steep = plan(pegged(SMALL_PUMP, 2000.0, 60.0, 12.0).changed("limits", slope_deg_per_500rpm=1))
    assert steep.cells.spark_map.advance_deg[1, 2] == 16.0, "12 and 1 deg for each of four 500 rpm"


def test_a_peg_above_another_ceiling_does_not_lift_it() -> None:
    result = plan(pegged(SMALL_PUMP, 4000.0, 60.0, 40.0))
    assert result.cells.spark_map.advance_deg[1, 2] == 25.5
    assert (
        "The peg of 40 deg at 4,000 rpm and 60 kPa (surged above this) stands above another ceiling, "
        "25.8 deg; the plan keeps to the ceiling."
    ) in sentences_of(result.warnings)


# Where best is not determined

LEAN_V8 = on_axes(
    RADICAL_V8.changed("fuel", lambda_cruise=1.5, lambda_idle=1.4).changed("distributor", tip_width="9 mm"),
    [900, 1500, 3000, 5000],
    [15, 20, 30, 60],
)


def test_a_best_that_is_not_determined_holds_no_cell() -> None:
    """Torque that still rises at 60 deg, or a charge that misfires, gives no best: never 60 deg."""
    result = plan(LEAN_V8)
    unknown = np.isnan(result.cells.ceilings.best_deg)
    misfire = np.array(result.cells.burn_state) == "misfire"
    beyond = unknown & ~misfire
    assert misfire.sum() >= 3
    assert beyond.sum() >= 3
    held = np.array(result.cells.held_by)
    assert np.all(np.isin(held[unknown], ["reach", "limit", "knock"]))
    assert np.all(result.cells.spark_map.advance_deg[unknown] <= result.cells.ceilings.reach_deg[unknown])
    assert np.all(np.isnan(result.cells.torque_lost_percent[unknown]))
    assert np.all(np.isnan(result.cells.best_sigma_deg[unknown]))
    assert np.isfinite(result.cells.smoothed_deg).all()
    assert (
        f"{misfire.sum()} cells burn too little of the charge to run (misfire); best is not determined "
        "there, and only knock, reach, limits and slopes hold the value: come to it from the late side."
    ) in sentences_of(result.warnings)
    assert (
        f"{beyond.sum()} cells have best beyond 60 deg, the last advance tested; it is not determined there, "
        "and only knock, reach, limits and slopes hold the value: come to it from the late side."
    ) in sentences_of(result.warnings)


def test_the_last_resort_is_the_controllers_most() -> None:
    wide = LEAN_V8.changed("distributor", tip_width="18 mm").changed("controller", max_deg=50)
    result = plan(wide)
    unknown = np.isnan(result.cells.ceilings.best_deg)
    assert np.all(result.cells.spark_map.advance_deg[unknown] == 50.0)
    assert np.all(np.array(result.cells.held_by)[unknown] == "limit")


def test_a_hook_says_why_best_is_not_determined() -> None:
    assert best_words(point(LEAN_V8, 900.0, 15.0)) == (
        "best is not determined: too little of the charge burns to run (misfire)"
    )
    rising = point(LEAN_V8, 5000.0, 30.0)
    assert np.isnan([rising.best_deg, rising.best_torque_nm, rising.late99_deg, rising.early99_deg]).all()
    assert best_words(rising) == (
        "best is not determined: torque still rises at 60 deg, the last advance tested"
    )
    assert best_words(point(PUMP_HOUSE, 3000.0, 85.0)).startswith("best is 3")


def test_an_idle_whose_best_is_not_determined_has_no_reserve_either() -> None:
    idle = plan(LEAN_V8.changed("engine", idle_rpm=900, idle_kpa=20)).idle
    assert np.isnan([idle.best_deg, idle.reserve_deg, idle.authority_percent]).all()
    assert idle_sentence(idle) == (
        f"Idle at 900 rpm and 20 kPa: best and reserve are not determined, set {idle.set_deg:.1f} deg."
    )


# Axes


def test_at_altitude_no_row_stands_above_the_air_of_the_site() -> None:
    """ISO 2533 (1975), troposphere: 101.325 kPa (1 - 0.0065 H / 288.15)^5.2559 is 85.08 kPa at 1450 m."""
    assert pump_plan().cells.spark_map.kpa[-1] == 85.0
    assert highest_row(PUMP_HOUSE.changed("site", altitude="0 m")) == 101.0
    assert highest_row(PUMP_HOUSE.changed("site", altitude="3000 m")) == 70.0  # 70.12 kPa


def highest_row(job: Job) -> float:
    return float(default_axes(job, physics_of(job))[1][-1])


def test_boost_gets_rows_up_to_what_it_gives() -> None:
    """By hand: 99.89 kPa at 120 m after ISO 2533, and 10 psi are 68.95 kPa."""
    kpa = six_plan().cells.spark_map.kpa
    assert kpa[-1] == 168.0
    assert np.count_nonzero(kpa > 100.0) >= 6


@pytest.mark.parametrize("job", [PUMP_HOUSE, BOOSTED_SIX, OLD_FOUR], ids=lambda job: job.name)
def test_axes_of_a_job_that_states_none(job: Job) -> None:
    rpm, kpa = default_axes(job, physics_of(job))
    assert rpm.size == kpa.size == 16
    assert np.all(np.diff(rpm) > 0)
    assert np.all(np.diff(kpa) > 0)
    physics = physics_of(job)
    assert rpm[0] < physics.idle_rpm < rpm[-1]
    assert kpa[0] < physics.idle_kpa < kpa[-1] <= physics.top_kpa
    assert np.diff(rpm)[0] < np.diff(rpm)[-1], "closer together at the bottom"


def test_stated_axes_are_kept() -> None:
    result = plan(on_axes(PUMP_HOUSE, [650, 1234.5], [33.3, 80]))
    assert result.cells.spark_map.rpm.tolist() == [650.0, 1234.5]
    assert result.cells.spark_map.kpa.tolist() == [33.3, 80.0]
    assert "rows.above-the-site" not in {each.kind for each in result.warnings}


def test_a_stated_row_above_the_site_is_told() -> None:
    result = plan(on_axes(PUMP_HOUSE, [700, 2000], [40, 101]))
    assert (
        sentence_of(result.warnings[0])
        == "Rows from 101 kPa lie above the 85 kPa that this site and boost can give."
    )
    assert result.full_load.kpa == 40.0


def test_axes_that_end_below_idle_are_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        plan(on_axes(PUMP_HOUSE, [400, 600], [40, 85]))
    assert str(refusal.value) == "controller.rpm = up to 600: must reach beyond the idle, 700 rpm"


def test_a_column_for_cranking_and_a_row_for_the_overrun_are_no_hindrance() -> None:
    """Controllers have cells below what a person would ask of `point`; plan and check take them."""
    job = on_axes(PUMP_HOUSE, [200, 700, 3000], [12, 40, 85])
    result = plan(job)
    assert np.isfinite(result.cells.spark_map.advance_deg).all()
    assert check(job, result).state == "problem", "the rotor is unphased"


def test_margins_are_what_is_left_up_to_each_ceiling_and_down_to_the_floor() -> None:
    value = pump_plan().cells.spark_map.advance_deg
    for name in ("best_deg", "knock_deg", "reach_deg", "limit_deg"):
        left = getattr(pump_plan().cells.ceilings, name) - value
        np.testing.assert_array_equal(getattr(pump_plan().margins, name), left)
    np.testing.assert_array_equal(pump_plan().margins.floor_deg, value - pump_plan().cells.ceilings.floor_deg)


def test_a_peg_that_lies_off_the_map_or_is_not_reached_is_told() -> None:
    off = {"rpm": 3000, "kpa": 250, "advance_deg": 20, "reason": "off the map"}
    high = {"rpm": 3000, "kpa": 70, "advance_deg": 45, "reason": "past best"}
    facts = PUMP_HOUSE.changed("distributor", rotor_phase_deg=8).facts() | {"pegs": [off, high]}
    job = on_axes(Job._from_tables(facts), [1000, 2000, 3000, 4000], [40, 55, 70, 85])
    told = "\n".join(sentences_of(plan(job).warnings))
    assert "(off the map) lies outside the map; it was set at its nearest cell, 3,000 rpm and 85 kPa." in told
    assert "The peg of 45 deg at 3,000 rpm and 70 kPa (past best)" in told


def test_cells_that_a_running_engine_meets() -> None:
    boosted = physics_of(Job.load("examples/boosted-six.toml"))
    idle, top = boosted.idle_rpm, boosted.top_kpa
    met = cells_met(np.array([500.0, idle - 50.0, 2000.0]), np.array([90.0, top, top + 20.0]), boosted)
    # Controllers interpolate, so the last column below idle counts; boost only where it builds.
    assert met.tolist() == [[False, True, True], [False, False, True], [False, False, False]]


def test_the_speed_from_which_boost_builds_is_assumed_or_stated() -> None:
    """2,000 rpm: common practice, no source. A blower that the crank drives boosts from idle."""
    assert physics_of(BOOSTED_SIX).boost_from_rpm == 2000.0
    assert "induction.boost_from_rpm" in {each.field for each in six_plan().assumed}
    assert not any(
        "boost" in each.field
        for each in pump_plan().assumed
        if each.field != "limits.boost_knock_chance_percent"
    )
    blower = on_axes(
        BOOSTED_SIX.changed("induction", boost_from_rpm=0), [800, 1000, 1500, 3000], [60, 90, 160]
    )
    result = plan(blower)
    assert "induction.boost_from_rpm" not in {each.field for each in result.assumed}
    assert result.cells.met[2].tolist() == [True] * 4
    late = plan(blower.changed("induction", boost_from_rpm=2500))
    assert late.cells.met[2].tolist() == [False, False, False, True]
    assert np.array_equal(late.cells.spark_map.advance_deg, result.cells.spark_map.advance_deg)


# What is said


def test_the_demo_says_how_much_the_rotor_lacks_and_what_helps() -> None:
    """By hand, tests/check/test_hardware.py: the unphased rotor reaches 25.78 deg."""
    cost = pump_plan().reach_cost
    assert cost is not None
    assert cost.reach_deg == pytest.approx(25.78, abs=0.01)
    more = cost.most_wanted_deg - cost.reach_deg
    assert (
        sentence_of(pump_plan().headline)
        == f"The rotor runs out at 26 deg; this engine would still take {more:.0f} more."
    )
    assert 5.0 < more < 35.0
    assert sentence_of(pump_plan().problems[0]).startswith("The rotor runs out at 26 deg. ")
    # Common practice, no source: a phased rotor by half to three quarters of the tip's width, 28 to 30 deg.
    assert 0.5 <= cost.phase_move_tip_fraction <= 0.8
    assert 28.0 <= cost.reach_when_phased_deg - PUMP_HOUSE.distributor.base_deg <= 33.0


def test_what_a_limit_just_above_reach_takes_is_no_cost_of_the_reach() -> None:
    """A limit of 27 deg leaves 1.2 deg above the unphased rotor's 25.8: by the point's hook."""
    limited = PUMP_HOUSE.changed("limits", max_advance_deg=27)
    cost, unlimited = plan_of(limited).reach_cost, pump_plan().reach_cost
    assert cost is not None
    assert unlimited is not None
    assert cost.most_wanted_deg == pytest.approx(27.0)
    hook = point(limited, cost.lost_at_rpm, cost.lost_at_kpa)
    now_nm, freed_nm = np.interp([25.5, 27.0], hook.advance_deg, hook.torque_nm)
    assert cost.most_torque_lost_percent == pytest.approx(100.0 * (1.0 - now_nm / freed_nm), abs=0.5)
    assert cost.most_torque_lost_percent < 0.3 * unlimited.most_torque_lost_percent


def test_a_tip_moved_off_its_post_at_base_leads_a_plan_that_fits() -> None:
    """By hand: each distributor degree ahead moves the reach by two; -22.5 deg unphased are 13.5 at 18."""
    ahead = on_axes(ORDINARY_V8, [1000, 2000, 3000], [40, 55, 70]).changed("distributor", rotor_phase_deg=18)
    result = plan_of(ahead)
    assert rotor_cap(ahead).reach().least_deg == pytest.approx(13.5, abs=0.1)
    assert result.problems == ()
    assert sentence_of(result.headline) == (
        "The plan fits, but the engine cranks at base, 10 deg, where the rotor has left its post: it "
        "covers 13 to 79 deg."
    )


def test_the_advised_phase_gives_the_reach_it_promises() -> None:
    cost = pump_plan().reach_cost
    assert cost is not None
    moved = PUMP_HOUSE.changed("distributor", rotor_phase_deg=cost.phase_move_distributor_deg)
    reach: Reach = rotor_cap(moved).reach()
    assert reach.most_deg == pytest.approx(cost.reach_when_phased_deg)
    assert reach.least_deg == pytest.approx(cost.leaves_when_phased_deg)
    assert reach.least_deg < PUMP_HOUSE.distributor.base_deg


def test_plan_and_check_advise_one_move_where_the_plan_goes_below_base() -> None:
    job = PUMP_HOUSE.changed("distributor", tip_width="10 mm").changed("fuel", ron=87, mon=None)
    result = plan(job)
    rotor = check(job, result).rotor
    assert result.reach_cost is not None
    assert rotor.least_deg < job.distributor.base_deg
    assert result.reach_cost.phase_move_distributor_deg == pytest.approx(rotor.advice.move_distributor_deg)
    # By hand: 3.5 to 50 deg fit between the ends of the reach, so that their middle stands over the post.
    assert rotor.phased.least_deg + rotor.phased.most_deg == pytest.approx(rotor.least_deg + rotor.most_deg)


def test_a_move_that_gives_up_late_sparks_says_so_and_the_moved_plan_agrees() -> None:
    """What is foretold of the tip moved as advised is what the plan finds once it is moved."""
    poor = PUMP_HOUSE.changed("fuel", ron=87, mon=None)
    result = plan(poor)
    cost = result.reach_cost
    assert cost is not None
    assert cost.cells_left_when_phased > 1
    left = f"below {cost.leaves_when_phased_deg:.0f} deg, where {cost.cells_left_when_phased} cells stand"
    assert left in action_of(result.headline)
    moved = plan(poor.changed("distributor", rotor_phase_deg=cost.phase_move_distributor_deg))
    assert sentence_of(moved.problems[0]).startswith(f"{cost.cells_left_when_phased} cells lie below 9.0 deg")


def test_a_plan_that_fits_says_so() -> None:
    result = ordinary()
    assert result.reach_cost is None
    assert sentences_of(result.problems) == ()
    assert sentence_of(result.headline).startswith("The rotor reaches ")
    knocking = sum(row.count("knock") for row in result.cells.held_by)
    assert knocking > 1
    assert action_of(result.headline) == (
        f"{knocking} cells are held by knock; prove base and reach with the light before load."
    )


def test_a_fuel_that_knocks_at_any_advance() -> None:
    job = on_axes(BOOSTED_V8.changed("fuel", ron=65, mon=62), [2000, 4000], [60, 85, 115, 145, 175])
    result = plan(job)
    assert np.isneginf(result.cells.ceilings.knock_deg[-1, 0])
    assert (
        "At 115 kPa and 2,000 rpm this fuel knocks at any advance; "
        "use a better fuel, less boost or cooler air."
    ) in sentences_of(result.problems)
    assert np.isfinite(result.cells.spark_map.advance_deg).all()
    # The latest tested advance, on the step.
    assert result.cells.spark_map.advance_deg[-1, 0] == -4.0
    later = plan(job.changed("limits", knock_margin_deg=3))
    assert later.cells.spark_map.advance_deg[-1, 0] == -7.0


def test_beyond_the_tested_advances_nothing_is_said_of_torque() -> None:
    job = on_axes(BOOSTED_V8.changed("fuel", ron=65, mon=62), [2000, 4000], [60, 85, 115, 145, 175])
    result = plan(job.changed("limits", knock_margin_deg=3))
    assert result.cells.spark_map.advance_deg[-1, 0] == -7.0
    for grid in (result.cells.torque_nm, result.cells.torque_lost_percent, result.cells.burned_share):
        assert np.isnan(grid[-1, 0])
        assert np.isfinite(grid[0]).all()


def test_cells_below_what_the_controller_takes_are_a_problem() -> None:
    job = on_axes(BOOSTED_V8.changed("fuel", ron=75, mon=70), [2000, 4000], [60, 85, 115, 145, 175])
    result = plan(job)
    value = result.cells.spark_map.advance_deg
    below = int((value < 0.0).sum())
    assert below > 0
    count = "1 cell lies" if below == 1 else f"{below} cells lie"
    assert (
        f"{count} below 0 deg, the least this controller takes; fired there they stand up to "
        f"{-value.min():.1f} deg over what the plan allows, at 2,000 rpm and 145 kPa."
    ) in sentences_of(result.problems)
    lower = job.changed("controller", min_deg=-15)
    assert not any("controller takes" in sentence for sentence in sentences_of(plan(lower).problems))


def test_lines_are_rows_of_the_map() -> None:
    result = pump_plan()
    assert result.full_load.kpa == 85.0
    assert result.full_load.title == "Full load, 85 kPa"
    assert np.array_equal(result.full_load.plan_deg, result.cells.spark_map.advance_deg[-1])
    row = int(np.flatnonzero(result.cells.spark_map.kpa == result.cruise.kpa)[0])
    assert abs(result.cruise.kpa - 50.0) <= 2.5
    assert np.array_equal(result.cruise.plan_deg, result.cells.spark_map.advance_deg[row])
    assert result.full_load.old_deg is not None
    assert result.old_curve is not None
    assert np.array_equal(result.full_load.old_deg, result.old_curve.advance_deg[-1])
    assert six_plan().old_curve is None
    assert six_plan().full_load.old_deg is None


def test_nothing_assumed_goes_unsaid() -> None:
    said = {each.field for each in plan(on_axes(OLD_FOUR, [600, 2000], [40, 90])).assumed}
    assert {"engine.rod", "engine.plug_offset", "fuel.lambda_full", "limits.knock_margin_deg"} <= said
    assert "engine.rod" not in {each.field for each in pump_plan().assumed}


# How it runs


def backwards(function: Callable[..., Any], *arguments: Iterable[Any]) -> list[Any]:
    """Like ``map``, but the last is done first."""
    return [function(*each) for each in reversed(list(zip(*arguments, strict=True)))][::-1]


@pytest.mark.parametrize("cores", [1, 3])
def test_the_plan_does_not_depend_on_the_number_of_cores(cores: int) -> None:
    wanted = plan(SMALL_PUMP)
    with ThreadPoolExecutor(max_workers=cores) as pool:
        assert same_digits(plan(SMALL_PUMP, run=pool.map), wanted)


def test_the_plan_does_not_depend_on_the_order_in_which_its_rows_are_run() -> None:
    assert same_digits(plan(SMALL_PUMP, run=backwards), plan(SMALL_PUMP))


def same_digits(found: PlanResult, wanted: PlanResult) -> bool:
    """Whether two plans are the same to the last digit."""
    names = ("sigma_deg", "torque_nm", "smoothed_deg", "burned_share", "knock_chance_percent")
    return (
        found.cells.spark_map.advance_deg.tobytes() == wanted.cells.spark_map.advance_deg.tobytes()
        and all(
            getattr(found.cells, name).tobytes() == getattr(wanted.cells, name).tobytes() for name in names
        )
        and (found.headline, found.problems, found.warnings)
        == (wanted.headline, wanted.problems, wanted.warnings)
    )


def test_whoever_plans_many_jobs_gets_no_pools_but_his_own(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a pool inside the plan")

    monkeypatch.setattr("concurrent.futures.ThreadPoolExecutor.submit", refuse)
    plan(SMALL_PUMP)
    point(SMALL_PUMP, 3000.0, 60.0)
    check(SMALL_PUMP)


def test_rows_that_nobody_wants_any_more_are_not_run(monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []

    def noted(*arguments: Any) -> Cells:
        begun.append(arguments)
        return cells_at(*arguments)

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(planner, "cells_at", noted)
    many = on_axes(PUMP_HOUSE, [700, 2000, 4000], np.linspace(30.0, 95.0, 40).tolist())
    with ThreadPoolExecutor(max_workers=1) as pool:
        with pytest.raises(KeyboardInterrupt):
            plan(many, run=pool.map, progress=stop)
        pool.submit(int).result(timeout=60.0)  # whatever stands before it in the queue is done by then
    assert 1 <= len(begun) < 20


def test_progress_counts_every_cell_and_can_stop_the_work() -> None:
    counts: list[tuple[int, int]] = []
    plan(SMALL_PUMP, progress=lambda done, total: counts.append((done, total)))
    assert counts == [(done, 9) for done in range(1, 10)]

    def stop(done: int, total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        plan(SMALL_PUMP, progress=stop)
