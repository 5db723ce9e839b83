"""The map between its cells: ceilings carried there, and the least lowering that keeps under them."""

from dataclasses import replace
from itertools import product
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array

from planning_jobs import BOOSTED_SIX, BOOSTED_V8, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.check.rotor import rotor_cap
from sparkwright.job import HandCell, Job, Peg
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import (
    LEFT_DEG,
    Pairs,
    least_lowering,
    lower_between,
    nearest_weights,
    stands_over,
)
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.compare import compare_map, planned_on_its_axes
from sparkwright.plan.firmness import firmness_of
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import most_allowed_deg, plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.support import Axis, Support
from sparkwright.plan.why import why
from telling import sentence_of, sentences_of

FEW = settings(deadline=None, max_examples=5)
MORE = settings(deadline=None, max_examples=40)

COARSE = on_axes(BOOSTED_SIX, [600, 2000, 4000, 6200], [25, 60, 95, 130, 168])
"""A boosted engine on axes so coarse that straight lines cross its knock ceiling."""


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Engines of three kinds on drawn axes, coarse ones among them."""
    job = draw(st.sampled_from([ORDINARY_V8, BOOSTED_V8, PUMP_HOUSE]))
    speeds = draw(st.lists(st.integers(11, 50), min_size=1, max_size=4, unique=True))
    loads = draw(st.lists(st.integers(5, 15), min_size=1, max_size=4, unique=True))
    job = job.changed("controller", step_deg=draw(st.sampled_from([0.1, 0.5, 1.0])))
    job = job.changed("fuel", ron=draw(st.sampled_from([85.0, 91.0, 98.0])), mon=None)
    return on_axes(
        job, sorted([1000, *(100 * each for each in speeds)]), sorted([40, *(10 * each for each in loads)])
    )


def support_of(job: Job, result: PlanResult) -> Support:
    physics = physics_of(job)
    rpm, kpa = result.cells.spark_map.rpm, result.cells.spark_map.kpa
    firmness = firmness_of(job, physics, rpm, kpa)
    return Support(
        job, physics, firmness, rpm, kpa, result.cells.ceilings.best_deg, result.cells.ceilings.knock_deg
    )


def made_at(result: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    return np.array(
        [result.cells.spark_map.at(*place) for place in zip(rpm.tolist(), kpa.tolist(), strict=True)]
    )


def halfway(axis: FloatArray) -> FloatArray:
    return 0.5 * (axis[:-1] + axis[1:])


@FEW
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_between_cells_no_point_of_a_grid_twice_as_fine_stands_over_a_ceiling(job: Job, seed: int) -> None:
    """Read midway between the points that the plan itself looked at, 60 of them drawn."""
    result = plan(job)
    grid = result.cells.between.grid
    assert grid is not None
    drawn = np.random.default_rng(seed)
    rpm = drawn.choice(np.concatenate([grid.rpm, halfway(grid.rpm)]), 60)
    kpa = drawn.choice(np.concatenate([grid.kpa, halfway(grid.kpa)]), 60)
    best, knock = support_of(job, result).read(rpm, kpa)
    knock = np.maximum(knock, FIRST_DEG - job.limits.knock_margin_deg)
    lowest = np.fmin(np.fmin(best, knock), min(rotor_cap(job).reach().most_deg, most_allowed_deg(job)))
    over = made_at(result, rpm, kpa) - np.nan_to_num(lowest, nan=LAST_DEG)
    assert over.max() <= TELLABLE_DEG, (rpm[over.argmax()], kpa[over.argmax()], over.max())


@FEW
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_between_cells_the_cycle_itself_puts_no_drawn_point_half_a_degree_over(job: Job, seed: int) -> None:
    """By the cycle as `point` runs it."""
    result, physics = plan(job), physics_of(job)
    drawn = np.random.default_rng(seed)
    rpm = drawn.uniform(result.cells.spark_map.rpm[0], result.cells.spark_map.rpm[-1], 25)
    kpa = drawn.uniform(result.cells.spark_map.kpa[0], result.cells.spark_map.kpa[-1], 25)
    ln_sigma, guess = support_of(job, result).firmness.at(rpm, kpa)
    made = made_at(result, rpm, kpa)
    hooks = sparse_at(physics, rpm, kpa)
    best, _ = hooks.best(guess)
    assert np.all(made <= best + 0.5)
    _, ln_integral, _ = hooks.at(np.clip(made - 0.5, FIRST_DEG, LAST_DEG))
    limits = job.limits
    allowed = np.where(
        kpa > physics.ambient_kpa, limits.boost_knock_chance_percent, limits.knock_chance_percent
    )
    chance = np.array([_chance(*each) for each in zip(ln_integral.tolist(), ln_sigma.tolist(), strict=True)])
    hopeless = made <= FIRST_DEG + 0.5
    assert np.all((chance <= allowed + 0.05) | hopeless)


def _chance(ln_integral: float, ln_sigma: float) -> float:
    return 100.0 * NormalDist().cdf(ln_integral / ln_sigma)


def test_coarse_axes_lower_cells_and_say_for_what_and_at_what_cost() -> None:
    result = plan(COARSE)
    lowered = result.cells.between.lowered_deg
    assert lowered.max() >= 1.0
    row, column = np.unravel_index(int(lowered.argmax()), lowered.shape)
    assert result.cells.held_by[row][column] == "between"
    said = sentences_of(why(result, COARSE, int(row), int(column)).findings)
    assert any(
        str(each).startswith("What lies between cells holds: the controller runs in straight")
        for each in said
    )
    told = [each for each in result.warnings if each.kind == "between.costs"]
    assert len(told) == 1
    assert "% of torque" in str(sentence_of(told[0]))
    assert np.all(result.cells.between.lost_percent[lowered > 0.5] != 0.0)


def test_without_the_check_between_the_same_map_would_knock_between_its_cells() -> None:
    result = plan(COARSE)
    grid = result.cells.between.grid
    assert grid is not None
    rpm, kpa = result.cells.spark_map.rpm, result.cells.spark_map.kpa
    before = result.cells.spark_map.advance_deg + result.cells.between.lowered_deg
    _, over = stands_over(before, rpm, kpa, grid, "straight lines")
    assert over.max() > 1.0
    _, over = stands_over(result.cells.spark_map.advance_deg, rpm, kpa, grid, "straight lines")
    assert over.max() <= LEFT_DEG + 1e-9


def test_a_map_that_is_safe_at_its_cells_only_is_told_to_knock_between_them() -> None:
    planned = plan(COARSE)
    before = planned.cells.spark_map.advance_deg + planned.cells.between.lowered_deg
    given_map = SparkMap(planned.cells.spark_map.rpm, planned.cells.spark_map.kpa, before)
    result = compare_map(planned_on_its_axes(BOOSTED_SIX, given_map), given_map)
    # A charge that knocks at any advance stands over whatever its value.
    assert all(np.isinf(cell.over_deg) for cell in result.over if cell.ceiling != "best")
    between = [each for each in result.problems if each.kind == "held-against.between"]
    assert between
    assert str(sentence_of(between[0])).startswith("Between cells that are under their ceilings")
    own = compare_map(planned, planned.cells.spark_map)
    assert not [each for each in own.problems if each.kind == "held-against.between"]


def test_a_cell_set_by_hand_is_left_alone_and_told_where_the_map_knocks_beside_it() -> None:
    planned = plan(COARSE)
    i, j = np.unravel_index(
        int(planned.cells.between.lowered_deg.argmax()), planned.cells.between.lowered_deg.shape
    )
    value = float((planned.cells.spark_map.advance_deg + planned.cells.between.lowered_deg)[i, j])
    cell: dict[str, Any] = {
        "rpm": float(planned.cells.spark_map.rpm[j]),
        "kpa": float(planned.cells.spark_map.kpa[i]),
        "advance_deg": value,
        "reason": "A test",
    }
    result = plan(COARSE.model_copy(update={"hand": (HandCell(**cell),)}))
    assert result.cells.spark_map.advance_deg[i, j] == value
    assert result.cells.between.lowered_deg[i, j] == 0.0
    told = [each for each in result.problems if each.kind == "between.set-by-hand"]
    assert told
    assert str(sentence_of(told[0])).startswith("Between cells set by hand the map stands up to")


def test_a_controller_that_takes_the_nearest_cell_keeps_each_cell_under_all_that_is_near() -> None:
    job = COARSE.changed("controller", between="nearest cell")
    result = plan(job)
    grid = result.cells.between.grid
    assert grid is not None
    rpm, kpa = result.cells.spark_map.rpm, result.cells.spark_map.kpa
    for i, load in enumerate(kpa):
        for j, speed in enumerate(rpm):
            near_rpm = np.abs(grid.rpm - speed) <= np.abs(grid.rpm[:, None] - rpm).min(axis=1) + 1e-9
            near_kpa = np.abs(grid.kpa - load) <= np.abs(grid.kpa[:, None] - kpa).min(axis=1) + 1e-9
            lowest = grid.lowest_deg[np.ix_(near_kpa, near_rpm)].min()
            assert result.cells.spark_map.advance_deg[i, j] <= lowest + LEFT_DEG + 1e-9


def test_a_peg_between_cells_holds_where_it_stands() -> None:
    peg = Peg(rpm=2300, kpa=63, advance_deg=20, reason="surged")
    job = PUMP_HOUSE.model_copy(update={"pegs": (peg,)})
    result = plan(on_axes(job, [600, 1500, 3000, 5000], [25, 50, 70, 85]))
    assert result.cells.spark_map.at(2300.0, 63.0) <= 20.0 + LEFT_DEG + 1e-9


def test_the_same_job_gives_the_same_map_to_the_last_digit_also_with_the_rows_in_another_order() -> None:
    def backwards(function: object, *over: object) -> list[object]:
        given_back = [function(*each) for each in reversed(list(zip(*over, strict=True)))]  # type: ignore[operator]
        return given_back[::-1]

    one, other = plan(COARSE), plan(COARSE, run=backwards)
    assert one.cells.spark_map.advance_deg.tobytes() == other.cells.spark_map.advance_deg.tobytes()
    assert one.cells.held_by == other.cells.held_by
    assert one.cells.between.grid is not None
    assert other.cells.between.grid is not None
    assert one.cells.between.grid.lowest_deg.tobytes() == other.cells.between.grid.lowest_deg.tobytes()


@st.composite
def small_programmes(draw: st.DrawFn) -> tuple[FloatArray, csr_array, FloatArray, Pairs, FloatArray]:
    """Up to four cells, points made of them, and what each may have; no slope binds."""
    cells = draw(st.integers(1, 4))
    shares = draw(
        st.lists(st.lists(st.integers(0, 3), min_size=cells, max_size=cells), min_size=1, max_size=4)
    )
    shares = [each for each in shares if sum(each)] or [[1] * cells]
    weights = np.array([np.array(each) / sum(each) for each in shares])
    value = np.array(draw(st.lists(st.integers(0, 5), min_size=cells, max_size=cells)), dtype=float)
    over = np.array(
        draw(st.lists(st.integers(0, 2), min_size=len(shares), max_size=len(shares))), dtype=float
    )
    use = np.array(draw(st.lists(st.integers(1, 4), min_size=cells, max_size=cells)), dtype=float)
    nothing = np.zeros(0, dtype=np.intp)
    return value, csr_array(weights), weights @ value - over, Pairs(nothing, nothing, np.zeros(0)), use


@MORE
@given(given_one=small_programmes())
def test_the_linear_programme_finds_what_trying_all_finds(
    given_one: tuple[FloatArray, csr_array, FloatArray, Pairs, FloatArray],
) -> None:
    """Against every lowering in steps of two thirds of a degree: none of them is better."""
    value, weights, allowed, pairs, use = given_one
    found = least_lowering(value, weights, allowed, pairs, use)
    assert np.all(weights @ (value - found) <= allowed + 1e-6)
    dense, over = weights.toarray(), weights @ value - allowed
    tries = [2.0 * each / 3.0 for each in range(13)]
    costs = [
        float(use @ np.array(each))
        for each in product(tries, repeat=value.size)
        if np.all(dense @ np.array(each) >= over - 1e-9)
    ]
    assert costs, "8 deg off every cell is enough for each point"
    assert use @ found <= min(costs) + 1e-4
    # Rounded up to the steps tried, the answer is one of those tried, where it lies among them.
    rounded = np.ceil(found * 1.5 - 1e-6) / 1.5
    if rounded.max() <= 8.0:
        assert min(costs) <= use @ rounded + 1e-6


def test_of_equal_ways_the_later_value_is_lowered() -> None:
    nothing = Pairs(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0))
    half = csr_array(np.array([[0.5, 0.5]]))
    found = least_lowering(np.array([30.0, 20.0]), half, np.array([24.0]), nothing, np.ones(2))
    assert found == pytest.approx([0.0, 2.0])
    found = least_lowering(np.array([20.0, 30.0]), half, np.array([24.0]), nothing, np.ones(2))
    assert found == pytest.approx([2.0, 0.0])


def test_the_less_used_cell_gives_way() -> None:
    nothing = Pairs(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0))
    half = csr_array(np.array([[0.5, 0.5]]))
    found = least_lowering(np.array([30.0, 20.0]), half, np.array([24.0]), nothing, np.array([0.2, 1.0]))
    assert found == pytest.approx([2.0, 0.0])


def test_cells_are_lowered_in_whole_steps_within_the_slopes_and_no_further_than_needed() -> None:
    rpm, kpa = np.array([1000.0, 2000.0, 3000.0]), np.array([40.0, 60.0])
    fine_rpm, fine_kpa = np.linspace(1000.0, 3000.0, 9), np.linspace(40.0, 60.0, 5)
    lowest = np.full((5, 9), 30.0)
    lowest[2, 2] = 27.2
    grid = Grid(fine_rpm, fine_kpa, lowest, np.full((5, 9), "knock"))
    found = lower_between(
        np.full((2, 3), 30.0),
        rpm,
        kpa,
        grid,
        np.ones((2, 3)),
        how="straight lines",
        step_deg=0.5,
        min_deg=0.0,
        per_rpm=0.004,
        per_kpa=0.2,
    )
    assert np.all(found.advance_deg % 0.5 == 0.0)
    assert np.all(np.abs(np.diff(found.advance_deg, axis=0)) <= 0.2 * 20.0 + 0.5)
    mean = found.advance_deg[:, :2].mean()
    assert 27.2 + LEFT_DEG - 0.125 < mean <= 27.2 + LEFT_DEG
    told = found.lowered_deg > 0.0
    assert np.all(found.rpm[told] == 1500.0)
    assert np.all(found.kpa[told] == 50.0)
    assert {name for row in found.ceiling for name in row} == {"", "knock"}


def test_a_cubic_carries_a_cubic_and_reaches_over_no_corner() -> None:
    points = np.array([0.0, 1.0, 2.5, 4.0, 5.0, 6.0, 8.0])
    wanted = np.linspace(0.0, 8.0, 33)
    smooth = Axis(points, np.zeros(0))
    assert smooth.cubic(wanted) @ (points**3 - 2.0 * points) == pytest.approx(wanted**3 - 2.0 * wanted)
    bent = Axis(points, np.array([4.0]))
    assert bent.cubic(wanted) @ np.abs(points - 4.0) == pytest.approx(np.abs(wanted - 4.0))


def test_midway_either_cell_may_be_the_nearest() -> None:
    points, middle = np.array([1.0, 2.0, 4.0]), np.array([3.0])
    assert nearest_weights(points, middle, later=False).tolist() == [[0.0, 1.0, 0.0]]
    assert nearest_weights(points, middle, later=True).tolist() == [[0.0, 0.0, 1.0]]


def test_ceilings_between_meet_those_of_the_cells() -> None:
    result = plan(on_axes(PUMP_HOUSE, [600, 1500, 3000, 5000], [35, 50, 70, 85]))
    grid = result.cells.between.grid
    assert grid is not None
    at = np.ix_(np.isin(grid.kpa, result.cells.spark_map.kpa), np.isin(grid.rpm, result.cells.spark_map.rpm))
    own = result.cells.ceilings
    lowest = np.fmin(np.fmin(own.best_deg, own.knock_deg), np.minimum(own.reach_deg, own.limit_deg))
    assert grid.lowest_deg[at] == pytest.approx(lowest, abs=1e-9)
    assert replace(result.cells.between, grid=None).how == "straight lines"
