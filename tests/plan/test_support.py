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
from sparkwright.plan.cell import ceilings_at
from sparkwright.plan.firmness import firmness_of
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.support import Support, support_axes

EXAMPLES = Path(__file__).parents[2] / "examples"
WORST_DEG = {"old-four": 2.0 * TELLABLE_DEG, "boosted-six": TELLABLE_DEG, "pump-house-v8": TELLABLE_DEG}
"""Most that any place may stand over: the old four's torque over advance bends too often for its lattice."""

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


def carried_over_read(job: Job, result: PlanResult, count: int, seed: int) -> FloatArray:
    """How far what the plan carries stands over the cycle at drawn places of its fine grid [deg]."""
    grid = result.cells.between.grid
    assert grid is not None
    drawn = np.random.default_rng(seed)
    rows = drawn.integers(0, grid.kpa.size, count)
    columns = drawn.integers(0, grid.rpm.size, count)
    read = read_at(job, result, grid.rpm[columns], grid.kpa[rows])
    return np.asarray(grid.lowest_deg[rows, columns] - read)


@pytest.mark.parametrize("name", WORST_DEG)
def test_ceilings_of_the_examples_between_cells_are_the_cycles_to_a_tenth_of_a_degree(name: str) -> None:
    over = carried_over_read(*planned(name), 150, 1)
    assert np.quantile(over, 0.98) <= TELLABLE_DEG
    assert over.max() <= WORST_DEG[name]


@pytest.mark.proof
@pytest.mark.parametrize("name", WORST_DEG)
def test_ceilings_of_the_examples_are_the_cycles_all_over(name: str) -> None:
    over = carried_over_read(*planned(name), 6000, 2)
    assert np.quantile(over, 0.99) <= TELLABLE_DEG
    assert over.max() <= WORST_DEG[name]


def enriched(job: Job, from_kpa: float, within_kpa: float) -> Job:
    """Make the mixture go from 1 to 0.86 at a load."""
    table = {"mixture_kpa": (from_kpa, from_kpa + within_kpa), "mixture_lambda": (1.0, 0.86)}
    return job.changed("fuel", lambda_idle=None, lambda_cruise=None, lambda_full=None, **table)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Engines with and without boost on drawn axes, coarse ones among them, and on drawn fuel."""
    job = draw(st.sampled_from([ORDINARY_V8, BOOSTED_V8]))
    job = job.changed("fuel", ron=draw(st.sampled_from([85.0, 91.0, 98.0])), mon=None)
    if draw(st.booleans()):
        job = enriched(job, draw(st.floats(45.0, 90.0)), draw(st.floats(0.1, 6.0)))
    speeds = draw(st.lists(st.integers(11, 50), min_size=1, max_size=4, unique=True))
    loads = draw(st.lists(st.integers(5, 15), min_size=1, max_size=4, unique=True))
    rpm, kpa = [1000, *(100 * each for each in speeds)], [40, *(10 * each for each in loads)]
    return on_axes(job, sorted(rpm), sorted(kpa))


@FEW
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_ceilings_of_drawn_jobs_are_the_cycles(job: Job, seed: int) -> None:
    over = carried_over_read(job, plan(job), 80, seed)
    assert np.quantile(over, 0.95) <= TELLABLE_DEG
    assert over.max() <= 3.0 * TELLABLE_DEG


@pytest.mark.proof
@MORE
@given(job=jobs(), seed=st.integers(0, 2**32 - 1))
def test_ceilings_of_many_drawn_jobs_are_the_cycles(job: Job, seed: int) -> None:
    over = carried_over_read(job, plan(job), 400, seed)
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


@pytest.mark.parametrize(
    ("job", "from_kpa", "within_kpa"),
    [(ORDINARY_V8, 75.0, 2.0), (ORDINARY_V8, 58.0, 4.0), (BOOSTED_V8, 85.0, 1.0)],
)
def test_ceilings_are_the_cycles_where_the_mixture_goes_rich_at_once(
    job: Job, from_kpa: float, within_kpa: float
) -> None:
    """By up to 2 deg they stood over where it does so between two loads of the map."""
    job = on_axes(
        enriched(job.changed("fuel", ron=91.0, mon=None), from_kpa, within_kpa),
        [1000, 2000, 3500],
        [40, 60, 80, 100],
    )
    result = plan(job)
    assert carried_over_read(job, result, 150, 3).max() <= TELLABLE_DEG
    drawn = np.random.default_rng(4)
    rpm, kpa = drawn.uniform(1000.0, 3500.0, 50), from_kpa + within_kpa * drawn.uniform(-1.0, 2.0, 50)
    made = np.array(
        [result.cells.spark_map.at(*each) for each in zip(rpm.tolist(), kpa.tolist(), strict=True)]
    )
    assert (made - read_at(job, result, rpm, kpa)).max() <= TELLABLE_DEG


def test_ceilings_between_cells_are_those_of_the_cells_where_they_meet() -> None:
    job, result = planned("old-four")
    physics, ceilings = physics_of(job), result.cells.ceilings
    rpm, kpa = axes_of(job, physics)
    firmness = firmness_of(job, physics, rpm, kpa)
    support = Support(job, physics, firmness, rpm, kpa, ceilings.best_deg, ceilings.knock_deg)
    best, knock = support.read(np.tile(rpm, kpa.size), np.repeat(kpa, rpm.size))
    assert best == pytest.approx(ceilings.best_deg.ravel(), abs=1e-9, nan_ok=True)
    assert knock == pytest.approx(ceilings.knock_deg.ravel(), abs=1e-9, nan_ok=True)


def test_supports_stand_closer_where_ceilings_turn_faster() -> None:
    physics = physics_of(example("boosted-six"))
    speeds, loads = support_axes(physics, np.array([600.0, 6000.0]), np.array([25.0, 168.0]))
    for axis, least, share in ((speeds.at, 400.0, 0.12), (loads.at, 6.0, 0.1)):
        apart = np.diff(axis)
        assert np.all(apart <= np.maximum(least, share * axis[:-1]) * 1.2)
    assert np.isin([30.0, 60.0, 90.0, 110.0], loads.at).all()


def test_best_moves_without_a_jump_where_it_passes_a_node_of_the_lattice() -> None:
    """At the idle of a slow engine, whose torque the lattice follows worst, best jumped by 0.44 deg."""
    kpa = np.arange(40.0, 95.0, 0.125)
    best, _ = sparse_at(physics_of(example("old-four")), np.full(kpa.size, 600.0), kpa).best(20.0)
    assert np.any(best > 20.0)
    assert np.any(best < 16.0), "it passes two nodes"
    assert np.abs(np.diff(best)).max() < TELLABLE_DEG


@pytest.mark.parametrize("name", ["boosted-six", "pump-house-v8"])
def test_best_and_knock_move_without_a_jump_as_the_mixture_turns_richer(name: str) -> None:
    """A mixture rounded to hundredths made steps of up to a third of a degree in both."""
    job = example(name)
    physics = physics_of(job)
    kpa = np.arange(physics.mixture_kpa[-2], physics.mixture_kpa[-1], 0.1)
    rpm = np.full(kpa.size, 3000.0)
    ln_sigma, guess = firmness_of(job, physics, *axes_of(job, physics)).at(rpm, kpa)
    read = ceilings_at(job, physics, rpm, kpa, ln_sigma, guess)
    for each in (read.best_deg, read.knock_deg):
        known = each[np.isfinite(each)]
        assert known.size > 20
        assert np.abs(np.diff(known, 2)).max() < 0.2 * TELLABLE_DEG
