"""The old system against the plan as a picture."""

from dataclasses import replace

import numpy as np

from invented_results import invented_plan, with_other_cells
from sparkwright.findings import Finding
from sparkwright.pictures.gallery import pictures
from sparkwright.pictures.map_old import COLUMNS, old_map_picture
from sparkwright.plan.result import OldCurve, PlanResult

PLAN = invented_plan()
LATE = Finding("old-curve.late", "look", {"late_deg": 5.0, "mean_deg": 2.0, "rpm": 600.0, "kpa": 20.0})


def against(plan: PlanResult, old_deg: np.ndarray, over_knock_deg: np.ndarray) -> OldCurve:
    short = np.maximum(plan.cells.spark_map.advance_deg - old_deg, 0.0)
    return OldCurve(old_deg, short, over_knock_deg, (LATE,))


def test_every_cell_says_its_difference_and_marks_what_risked_knock() -> None:
    old_deg, over = PLAN.cells.spark_map.advance_deg - 5.0, np.zeros_like(PLAN.cells.spark_map.advance_deg)
    old_deg[15, 0] += 12.0
    over[15, 0], over[14, 0] = 4.0, np.inf
    picture = old_map_picture(PLAN, against(PLAN, old_deg, over))
    assert picture.body.count('class="over"') == 2
    assert picture.body.count(">\N{MINUS SIGN}5<") == 255
    assert picture.body.count(">+7<") == 1
    assert picture.body.count("strong") == 2
    rows = {(row[0], row[1]): row for row in picture.rows}
    assert len(rows) == 256
    assert len(picture.columns) == len(COLUMNS) == len(picture.rows[0])
    assert rows[600.0, 85.0][4:] == (7.0, 4.0, "yes")
    assert rows[600.0, 82.5][5] == "at any advance"
    assert picture.sentence.startswith(
        "The old curves were late where the engine works: by 5 deg at 600 rpm and 20 kPa, where"
    )


def test_cells_that_no_running_engine_meets_have_no_ground() -> None:
    met = PLAN.cells.met.copy()
    met[:, 0] = False
    over = np.full_like(PLAN.cells.spark_map.advance_deg, 1.0)
    some = with_other_cells(PLAN, met=met)
    picture = old_map_picture(some, against(some, PLAN.cells.spark_map.advance_deg + 1.0, over))
    assert picture.body.count("<rect") == 240
    assert picture.body.count('class="over"') == 240
    assert [row[6] for row in picture.rows].count("no") == 16


def test_it_is_drawn_where_the_job_states_the_old_curves() -> None:
    assert "old-map" in [picture.name for picture in pictures(PLAN)]
    assert "old-map" not in [picture.name for picture in pictures(replace(PLAN, old_curve=None))]
