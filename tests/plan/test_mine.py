"""A person's own map: read the right way round, told part by part, and merged where it is worth it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import plan_of
from planning_jobs import BOOSTED_SIX, ORDINARY_V8, on_axes
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.plan.between import stands_over
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.exchange import write_map
from sparkwright.plan.mine import WORTH_PERCENT, Mine, mine
from sparkwright.plan.read_as import looks_otherwise, read_as, readings_of
from sparkwright.plan.spark_map import SparkMap
from telling import sentence_of, sentences_of

JOB = on_axes(ORDINARY_V8, [700, 1500, 2500, 3500, 5000], [25, 45, 65, 85, 98])
SITE_KPA = 100.0
"""Of that job."""


def moved(job: Job, by_deg: float | np.ndarray) -> Mine:
    planned = plan_of(job)
    own = planned.cells.spark_map
    return mine(job, planned, SparkMap(own.rpm, own.kpa, own.advance_deg + by_deg))


def shifted(job: Job, by_deg: float = 1.0) -> SparkMap:
    own = plan_of(job).cells.spark_map
    return SparkMap(own.rpm, own.kpa, own.advance_deg - by_deg)


def rows(spark_map: SparkMap, loads: np.ndarray, *, corner: str = "load by rpm") -> str:
    head = [corner, *(f"{rpm:g}" for rpm in spark_map.rpm)]
    body = [
        [f"{load:.4f}", *(f"{cell:g}" for cell in row)]
        for load, row in zip(loads, spark_map.advance_deg, strict=True)
    ]
    return "\n".join(",".join(row) for row in [head, *body])


def test_a_map_as_it_stands_is_read_so() -> None:
    reading = read_as(write_map(shifted(JOB), "csv"), JOB, plan_of(JOB))
    assert reading.name == "as it stands"
    assert reading.off_deg == pytest.approx(1.0)
    falling = write_map(shifted(JOB), "csv", highest_load_first=True)
    assert read_as(falling, JOB, plan_of(JOB)).name == "as it stands"


def _upside_down() -> str:
    own = shifted(JOB)
    return write_map(SparkMap(own.rpm, own.kpa, own.advance_deg[::-1]), "csv")


def _turned() -> str:
    lines = [line.split(",") for line in write_map(shifted(JOB), "csv").splitlines()]
    return "\n".join(",".join(line) for line in zip(*lines, strict=True))


def _in_vacuum() -> str:
    """By definition an inch of mercury is 3.386389 kPa."""
    return rows(shifted(JOB), (SITE_KPA - shifted(JOB).kpa) / 3.386389)


def _without_axes() -> str:
    return write_map(shifted(JOB), "csv", bare=True)


@pytest.mark.parametrize(
    ("looks", "text"),
    [
        ("upside down", _upside_down),
        ("turned", _turned),
        ("in inHg of vacuum", _in_vacuum),
        ("axes lost", _without_axes),
    ],
)
def test_a_map_that_looks_otherwise_is_asked_about_before_it_is_used(
    looks: str, text: Callable[[], str]
) -> None:
    planned = plan_of(JOB)
    with pytest.raises(Refusal, match=f"map = looks {looks}: must be read as somebody says.*give read-as"):
        read_as(text(), JOB, planned)
    taken = read_as(text(), JOB, planned, looks)
    assert taken.off_deg == pytest.approx(1.0, abs=1e-4)
    assert np.allclose(taken.spark_map.kpa, planned.cells.spark_map.kpa, atol=0.01)
    assert np.allclose(taken.spark_map.advance_deg, shifted(JOB).advance_deg)


def test_a_map_that_shares_too_little_with_the_plan_to_be_judged_is_read_as_it_stands() -> None:
    reading = read_as("kPa by rpm,6000,8000\n140,10,20\n190,10,20", JOB, plan_of(JOB))
    assert reading.name == "as it stands"
    assert np.isnan(reading.off_deg)


def test_rows_beyond_the_plan_count_too_where_a_map_is_judged() -> None:
    """Upside down its full load would be at the plan's lightest row, which lies nearer to the plan there."""
    own = plan_of(JOB).cells.spark_map
    late, early = own.at(3500.0, 45.0) + 3.0, own.at(3500.0, 45.0) + 9.0
    text = f"kPa by rpm,2500,3500\n45,{early:g},{early:g}\n130,{late:g},{late:g}"
    assert looks_otherwise(readings_of(text, JOB, plan_of(JOB))) is None


def test_a_way_to_read_that_there_isnt_is_refused_with_those_there_are() -> None:
    with pytest.raises(Refusal, match='read as = "sideways": must be one of "as it stands", "upside down"'):
        read_as(write_map(shifted(JOB), "csv"), JOB, plan_of(JOB), "sideways")


def test_a_person_may_insist_on_what_stands_there() -> None:
    text = _upside_down()
    assert read_as(text, JOB, plan_of(JOB), "as it stands").spark_map.advance_deg[0, 0] != pytest.approx(
        shifted(JOB).advance_deg[0, 0]
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "must hold a table of advance"),
        ("kPa by rpm,1000,2000\n40,10,x\n90,10,20", "line 2, column 3"),
        ("kPa by rpm,1000,1000\n40,10,20\n90,10,20", "rise"),
    ],
)
def test_what_is_no_map_is_refused_as_ever(text: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        read_as(text, JOB, plan_of(JOB))


def test_every_reading_is_tried() -> None:
    """A square bare table has four ways to lie on the plan's axes."""
    names = {each.name for each in readings_of(_without_axes(), JOB, plan_of(JOB))}
    assert names == {
        "axes lost",
        "axes lost, upside down",
        "axes lost, turned",
        "axes lost, turned, upside down",
    }


def test_the_plan_itself_is_worth_no_change() -> None:
    result = moved(JOB, 0.0)
    assert not result.changed.any()
    assert result.problems == ()
    assert np.array_equal(result.merged.advance_deg, plan_of(JOB).cells.spark_map.advance_deg)
    assert "Your map may stay" in sentence_of(result.headline)
    assert [each.name for each in result.regions] == ["idle", "light load", "heavy load", "full load"]


def test_an_early_map_is_told_with_its_chance_and_lowered_where_it_harms() -> None:
    result, planned = moved(JOB, 4.0), plan_of(JOB)
    full = next(each for each in result.regions if each.name == "full load")
    assert full.ceiling == "knock"
    assert full.chance_percent > 10.0
    assert 0.0 < full.over_deg <= 4.0
    for name in ("knock", "reach", "limit"):
        ceiling = np.nan_to_num(getattr(planned.cells.ceilings, f"{name}_deg"), nan=np.inf)
        over = (result.merged.advance_deg - ceiling)[planned.cells.met]
        assert over.max() <= TELLABLE_DEG
    assert result.headline.state == "problem"
    assert any("over knock" in each for each in sentences_of(result.problems))


def test_a_late_map_says_what_torque_it_gives_away() -> None:
    """Held against the plan's own torque, and the reverse: what is given back by the merged map."""
    planned, result = plan_of(JOB), moved(JOB, -8.0)
    assert result.problems == ()
    cruise = next(each for each in result.regions if each.name == "light load")
    assert cruise.late_deg == pytest.approx(8.0)
    assert cruise.lost_percent > WORTH_PERCENT
    worth = planned.cells.met & (np.nan_to_num(result.lost_percent) > WORTH_PERCENT)
    assert np.array_equal(result.changed, worth)
    back = mine(JOB, planned, result.merged)
    assert np.nanmax(back.lost_percent[planned.cells.met]) <= WORTH_PERCENT
    assert not back.changed.any(), "merging twice changes nothing more"


def test_only_cells_worth_changing_are_changed() -> None:
    planned = plan_of(JOB)
    one = np.zeros(planned.cells.spark_map.advance_deg.shape)
    one[4, 2] = 6.0
    result = moved(JOB, one)
    assert np.argwhere(result.changed).tolist() == [[4, 2]]
    assert np.array_equal(result.merged.advance_deg, planned.cells.spark_map.advance_deg)


def test_a_step_that_an_engine_feels_is_told() -> None:
    one = np.zeros(plan_of(JOB).cells.spark_map.advance_deg.shape)
    one[1, 2] = -25.0
    cruise = next(each for each in moved(JOB, one).regions if each.name == "light load")
    assert cruise.steps > 0
    assert any("a step apart that the engine would feel" in each for each in sentences_of(cruise.findings))


def test_boost_is_a_part_of_its_own() -> None:
    job = on_axes(BOOSTED_SIX, [850, 2400, 4000, 6000], [35, 70, 95, 130, 165])
    assert [each.name for each in moved(job, 2.0).regions][-1] == "boost"


def test_a_step_that_merging_makes_is_told() -> None:
    """Rows that are late all over stay or go back by themselves; the neighbours are counted anew here."""
    planned = plan_of(JOB)
    late = np.zeros(planned.cells.spark_map.advance_deg.shape)
    late[2:4] = -9.0
    late[4, 2] = 6.0
    own = planned.cells.spark_map
    result = mine(JOB, planned, SparkMap(own.rpm, own.kpa, own.advance_deg + late))
    steep = [each for each in result.warnings if each.kind == "mine.merged-steps"]
    by_kpa = JOB.limits.slope_deg_per_10kpa / 10.0 * np.diff(own.kpa) + JOB.controller.step_deg
    by_rpm = JOB.limits.slope_deg_per_500rpm / 500.0 * np.diff(own.rpm) + JOB.controller.step_deg

    def made(spark_map: SparkMap) -> set[tuple[int, int]]:
        value = spark_map.advance_deg
        over = np.abs(np.diff(value, axis=0)) > by_kpa[:, None] + 1e-9
        along = np.abs(np.diff(value, axis=1)) > by_rpm + 1e-9
        found = {(int(i) + 1, int(j)) for i, j in np.argwhere(over)}
        return found | {(int(i), int(j) + 1) for i, j in np.argwhere(along)}

    new = made(result.merged) - made(result.spark_map)
    assert bool(steep) == bool(new)
    assert not steep or steep[0].numbers["steps"] == len(new)


@pytest.mark.parametrize("job", [JOB, on_axes(BOOSTED_SIX, [850, 2400, 4000, 6000], [35, 70, 95, 130, 165])])
@settings(deadline=None, max_examples=10)
@given(seed=st.integers(0, 10_000))
def test_the_merged_map_crosses_nothing_between_its_cells(job: Job, seed: int) -> None:
    """Held against the ceilings between cells that the plan itself keeps; past best only costs torque."""
    planned = plan_of(job)
    off_deg = np.random.default_rng(seed).uniform(-4.0, 6.0, planned.cells.spark_map.advance_deg.shape)
    merged, grid = moved(job, off_deg).merged, planned.cells.between.grid
    assert grid is not None
    _, over_deg = stands_over(merged.advance_deg, merged.rpm, merged.kpa, grid, planned.cells.between.how)
    unmet, _ = stands_over(
        (~planned.cells.met).astype(np.float64), merged.rpm, merged.kpa, grid, planned.cells.between.how
    )
    harmful = (grid.names != "best") & (unmet == 0.0)
    assert harmful.any()
    assert over_deg[harmful].max() <= TELLABLE_DEG + 1e-9


def test_a_part_whose_cells_are_worth_changing_isnt_said_to_lie_close() -> None:
    """A degree off a plan that reach holds far below best costs more than a brake shows."""
    narrow = JOB.changed("distributor", rotor_phase_deg=0, tip_width="6 mm")
    found = moved(narrow, -1.0)
    worth = [region for region in found.regions if region.lost_percent > WORTH_PERCENT]
    assert worth
    for region in worth:
        assert [each.kind for each in region.findings] == ["mine.late"]
