"""Results as pandas and xarray: the same numbers, under their names."""

import numpy as np

from planned import plan_of
from planning_jobs import EXAMPLES
from sparkwright.job import Job
from sparkwright.plan.point import point

JOB = Job.load(EXAMPLES / "old-four.toml").changed(
    "controller", rpm=(800.0, 1500.0, 3000.0), kpa=(40.0, 70.0, 95.0)
)


def test_a_plan_as_labelled_arrays_has_every_cell_under_its_speed_and_load() -> None:
    result = plan_of(JOB)
    dataset = result.to_xarray()
    cell = dataset.sel(rpm=1500.0, kpa=70.0)
    assert cell["advance_deg"].item() == result.cells.spark_map.at(1500.0, 70.0)
    assert cell["held_by"].item() == result.cells.held_by[1][1]
    assert dataset.attrs["fingerprint"] == JOB.fingerprint
    np.testing.assert_array_equal(dataset["best_deg"].values, result.cells.ceilings.best_deg)


def test_a_plan_as_a_table_has_one_row_a_cell() -> None:
    table = plan_of(JOB).to_pandas()
    assert len(table) == 9
    assert {"kpa", "rpm", "advance_deg", "held_by", "knock_deg", "sigma_deg"} <= set(table.columns)


def test_a_map_as_table_and_array() -> None:
    spark_map = plan_of(JOB).cells.spark_map
    assert spark_map.to_pandas().to_numpy()[2, 2] == spark_map.advance_deg[2, 2]
    assert spark_map.to_xarray().sel(kpa=95.0, rpm=3000.0).item() == spark_map.advance_deg[2, 2]


def test_a_hook_as_a_table_runs_along_its_advances() -> None:
    hook = point(JOB, 1500.0, 90.0)
    table = hook.to_pandas()
    assert list(table.index) == list(hook.advance_deg)
    assert table["torque_nm"].max() == hook.torque_nm.max()
