"""The ceilings that a plan carries between its support points, against the cycle read at the places."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning_jobs import BOOSTED_V8, ORDINARY_V8, on_axes
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import axes_of
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.firmness import firmness_of
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.support import Support, support_axes

EXAMPLES = Path(__file__).parents[2] / "examples"
LEAST_RPM = {"old-four": 650.0, "boosted-six": 0.0, "pump-house-v8": 0.0}
"""Below it best itself jumps, see the last test."""

FEW = settings(deadline=None, max_examples=3)
MORE = settings(deadline=None, max_examples=40)


def example(name: str) -> Job:
    return Job.from_toml((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def planned(name: str) -> tuple[Job, PlanResult]:
    job = example(name)
    return job, plan(job)


def read_at(job: Job, result: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """The lowest ceiling that the cycle gives at places in a row [deg]."""
    physics, ceilings = physics_of(job), result.cells.ceilings
    axes = result.cells.spark_map.rpm, result.cells.spark_map.kpa
    firmness = firmness_of(job, physics, *axes)
    best, knock = Support(job, physics, firmness, *axes, ceilings.best_deg, ceilings.knock_deg).read(rpm, kpa)
    best = np.nan_to_num(best, nan=LAST_DEG)
    knock = np.maximum(np.nan_to_num(knock, nan=np.inf), FIRST_DEG - job.limits.knock_margin_deg)
    most_deg = float(np.minimum(ceilings.reach_deg, ceilings.limit_deg)[0, 0])
    return np.asarray(np.minimum(np.minimum(best, knock), most_deg))


def carried_over_read(job: Job, result: PlanResult, count: int, seed: int, least_rpm: float) -> FloatArray:
    """How far what the plan carries stands over the cycle at drawn places of its fine grid [deg]."""
    grid = result.cells.between.grid
    assert grid is not None
    drawn = np.random.default_rng(seed)
    rows = drawn.integers(0, grid.kpa.size, count)
    columns = drawn.choice(np.flatnonzero(grid.rpm > least_rpm), count)
    read = read_at(job, result, grid.rpm[columns], grid.kpa[rows])
    return np.asarray(grid.lowest_deg[rows, columns] - read)


@pytest.mark.parametrize("name", LEAST_RPM)
def test_ceilings_of_the_examples_between_cells_are_the_cycles_to_a_tenth_of_a_degree(name: str) -> None:
    over = carried_over_read(*planned(name), 150, 1, LEAST_RPM[name])
    assert np.quantile(over, 0.98) <= TELLABLE_DEG
    assert over.max() <= 1.5 * TELLABLE_DEG


@pytest.mark.proof
@pytest.mark.parametrize("name", LEAST_RPM)
def test_ceilings_of_the_examples_are_the_cycles_all_over(name: str) -> None:
    over = carried_over_read(*planned(name), 6000, 2, LEAST_RPM[name])
    assert np.quantile(over, 0.99) <= TELLABLE_DEG
    assert over.max() <= 1.5 * TELLABLE_DEG


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Engines with and without boost on drawn axes, coarse ones among them, and on drawn fuel."""
    job = draw(st.sampled_from([ORDINARY_V8, BOOSTED_V8]))
    job = job.changed("fuel", ron=draw(st.sampled_from([85.0, 91.0, 98.0])), mon=None)
    speeds = draw(st.lists(st.integers(11, 50), min_size=1, max_size=4, unique=True))
    loads = draw(st.lists(st.integers(5, 15), min_size=1, max_size=4, unique=True))
    rpm, kpa = [1000, *(100 * each for each in speeds)], [40, *(10 * each for each in loads)]
    return on_axes(job, sorted(rpm), sorted(kpa))


@FEW
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_ceilings_of_drawn_jobs_are_the_cycles(job: Job, seed: int) -> None:
    over = carried_over_read(job, plan(job), 80, seed, 0.0)
    assert np.quantile(over, 0.95) <= TELLABLE_DEG
    assert over.max() <= 3.0 * TELLABLE_DEG


@pytest.mark.proof
@MORE
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_ceilings_of_many_drawn_jobs_are_the_cycles(job: Job, seed: int) -> None:
    over = carried_over_read(job, plan(job), 400, seed, 0.0)
    assert np.quantile(over, 0.99) <= TELLABLE_DEG
    assert over.max() <= 3.0 * TELLABLE_DEG


@pytest.mark.parametrize(
    ("name", "rpm", "kpa"),
    [
        # Knock ends short of 1,200 rpm, and rises steeply toward there.
        ("old-four", (1075.0, 1175.0), (90.0, 92.0)),
        # Between the first load and where the mixture turns lies no cell.
        ("boosted-six", (600.0, 900.0), (25.0, 30.0)),
        # So for a span of loads from the full-load mixture to the air of the site.
        ("boosted-six", (2000.0, 4000.0), (90.0, 99.0)),
    ],
)
def test_ceilings_are_the_cycles_where_one_ends_or_the_mixture_turns(
    name: str, rpm: tuple[float, float], kpa: tuple[float, float]
) -> None:
    job, result = planned(name)
    grid = result.cells.between.grid
    assert grid is not None
    rows = np.flatnonzero((grid.kpa >= kpa[0]) & (grid.kpa <= kpa[1]))
    columns = np.flatnonzero((grid.rpm >= rpm[0]) & (grid.rpm <= rpm[1]))
    assert rows.size * columns.size > 4
    at = np.ix_(rows, columns)
    read = read_at(
        job, result, np.tile(grid.rpm[columns], rows.size), np.repeat(grid.kpa[rows], columns.size)
    )
    assert (grid.lowest_deg[at].ravel() - read).max() <= TELLABLE_DEG


def test_cells_whose_mixture_has_no_step_are_the_support_as_they_are() -> None:
    job, result = planned("old-four")
    physics, ceilings = physics_of(job), result.cells.ceilings
    rpm, kpa = axes_of(job, physics)
    firmness = firmness_of(job, physics, rpm, kpa)
    support = Support(job, physics, firmness, rpm, kpa, ceilings.best_deg, ceilings.knock_deg)
    row = int(np.flatnonzero(kpa < physics.mixture_kpa[0])[-1])
    columns = np.flatnonzero(rpm > 1.6 * physics.idle_rpm)
    best, knock = support.read(rpm[columns], np.full(columns.size, kpa[row]))
    assert best == pytest.approx(ceilings.best_deg[row, columns], abs=1e-9, nan_ok=True)
    assert knock == pytest.approx(ceilings.knock_deg[row, columns], abs=1e-9, nan_ok=True)


def test_supports_stand_closer_where_ceilings_turn_faster() -> None:
    physics = physics_of(example("boosted-six"))
    speeds, loads = support_axes(physics, np.array([600.0, 6000.0]), np.array([25.0, 168.0]))
    for axis, least, share in ((speeds.at, 400.0, 0.12), (loads.at, 6.0, 0.1)):
        apart = np.diff(axis)
        assert np.all(apart <= np.maximum(least, share * axis[:-1]) * 1.2)
    assert np.isin([30.0, 60.0, 90.0, 110.0], loads.at).all()


def test_at_and_below_idle_best_itself_jumps_where_the_lattice_passes_its_top() -> None:
    """Why ceilings about idle are the cycle's to no tenth: a limit of the cycle, told as it is."""
    kpa = np.array([60.0, 60.5])
    best, _ = sparse_at(physics_of(example("old-four")), np.full(2, 600.0), kpa, smooth=True).best(20.0)
    assert 0.2 < best[0] - best[1] < 0.6
