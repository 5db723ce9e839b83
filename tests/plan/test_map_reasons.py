"""Cells tried and set, and why a cell has its value; the quick way held against the whole one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from invented_results import KPA, RPM, invented_plan, with_other_cells
from planned import plan_of, planned_once
from planning_jobs import ORDINARY_V8, on_axes
from sparkwright.drawing.look import advance_colour, contrast_ratio
from sparkwright.edit.map_changes import changed_job
from sparkwright.edit.preview import preview
from sparkwright.edit.set_cells import (
    Wanted,
    cells_set,
    changed_places,
    changed_stand,
    changes_of,
    wanted_of,
    with_cells,
)
from sparkwright.edit.what_if import rotor_phase_that_frees
from sparkwright.errors import Refusal
from sparkwright.job import HandCell, Job, starter_text
from sparkwright.pictures.map_cells import colours_css, map_cell
from sparkwright.pictures.why_bars import why_picture
from sparkwright.plan.axes import default_axes
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.why import why
from sparkwright.words.map import held_sentence, letter_form_sentence
from sparkwright.words.map_changes import changes_in_words
from sparkwright.words.plan import over_count
from telling import sentences_of

_STARTER = Job.from_toml(starter_text())
_RPM, _KPA = (axis.tolist() for axis in default_axes(_STARTER, physics_of(_STARTER)))
JOB = _STARTER.changed("controller", rpm=_RPM, kpa=_KPA)
"""With axes stated, as a job has them from its first cell set by hand on."""


@pytest.fixture(scope="module")
def planned() -> PlanResult:
    return planned_once(JOB)


def test_a_cell_tried_is_the_cell_that_a_save_gives(planned: PlanResult) -> None:
    """Two ways to the same: values, holders, margins and ceilings stood over are equal to the last digit."""
    wanted = {(3, 4): Wanted(20.0, "a test"), (15, 15): Wanted(40.0), (7, 9): Wanted(12.5)}
    job = with_cells(JOB, planned.cells.spark_map, wanted, who="A. Example", on="2030-05-01T14:30")
    quick, whole = preview(planned, wanted), set_by_hand(planned, job)
    for name in ("by_hand", "over_ceiling", "smoothed_deg", "sigma_deg"):
        np.testing.assert_array_equal(getattr(quick.cells, name), getattr(whole.cells, name))
    np.testing.assert_array_equal(quick.cells.spark_map.advance_deg, whole.cells.spark_map.advance_deg)
    np.testing.assert_array_equal(quick.margins.reach_deg, whole.margins.reach_deg)
    np.testing.assert_array_equal(quick.full_load.plan_deg, whole.full_load.plan_deg)
    assert quick.cells.held_by == whole.cells.held_by
    assert [(each.rpm, each.ceiling, each.over_deg) for each in quick.over] == [
        (each.rpm, each.ceiling, each.over_deg) for each in whole.over
    ]
    for name in ("torque_nm", "torque_lost_percent", "burned_share", "knock_chance_percent"):
        assert np.isnan(getattr(quick.cells, name)[7, 9]), (
            f"{name} is not determined before the cycle was run"
        )
        assert np.isfinite(getattr(quick.cells, name)[7, 8])


def test_a_change_over_a_ceiling_waits_for_a_reason_and_one_reason_serves_all(planned: PlanResult) -> None:
    wanted = {(15, 15): Wanted(58.0), (15, 14): Wanted(58.0, "its own"), (3, 4): Wanted(10.0)}
    with pytest.raises(Refusal) as refused:
        changed_job(JOB, planned, wanted, who="A. Example", on="2030-05-01")
    (problem,) = refused.value.problems
    assert (problem.place, problem.value) == ("reason", None)
    job, _ = changed_job(JOB, planned, wanted, who="A. Example", on="2030-05-01", reason=" heard it ")
    kept = cells_set(job, planned.cells.spark_map)
    assert {place: (cell.reason, cell.by, cell.on) for place, cell in kept.items()} == {
        (15, 15): ("heard it", "A. Example", "2030-05-01"),
        (15, 14): ("its own", "A. Example", "2030-05-01"),
        (3, 4): (None, "A. Example", "2030-05-01"),
    }


def test_a_save_that_changes_nothing_is_refused(planned: PlanResult) -> None:
    with pytest.raises(Refusal, match="map = no cell: must be changed before it is saved; set a cell first"):
        changed_job(JOB, planned, {}, who="A. Example", on="2030-05-01")


def test_a_save_keeps_who_set_a_cell_that_did_not_change(planned: PlanResult) -> None:
    spark_map = planned.cells.spark_map
    first = with_cells(JOB, spark_map, {(3, 4): Wanted(20.0), (3, 5): Wanted(21.0)}, who="A", on="2030-05-01")
    wanted = wanted_of(cells_set(first, spark_map)) | {(3, 5): Wanted(22.0, "better")}
    second = cells_set(with_cells(first, spark_map, wanted, who="B", on="2030-05-02"), spark_map)
    assert (second[3, 4].by, second[3, 4].on) == ("A", "2030-05-01")
    assert (second[3, 5].by, second[3, 5].on, second[3, 5].reason) == ("B", "2030-05-02", "better")


def test_a_save_keeps_cells_that_are_not_on_this_map(planned: PlanResult) -> None:
    off = JOB.with_hand([{"rpm": 1234, "kpa": 56, "advance_deg": 20, "by": "A"}])
    saved = with_cells(off, planned.cells.spark_map, {(0, 0): Wanted(5.0)}, who="B", on="2030-05-02")
    assert [(cell.rpm, cell.by) for cell in saved.hand] == [
        (1234.0, "A"),
        (planned.cells.spark_map.rpm[0], "B"),
    ]
    assert with_cells(off, planned.cells.spark_map, {}, who="B", on="2030-05-02").hand == off.hand


def test_changes_are_said_in_a_few_words(planned: PlanResult) -> None:
    spark_map = invented_plan().cells.spark_map
    before = {(3, 4): HandCell(rpm=1500, kpa=35, advance_deg=20.0)}
    assert (
        changes_in_words(changes_of(before, {(3, 4): Wanted(21.0)}, spark_map))
        == "Set 1,500 rpm, 35 kPa to 21 deg by hand"
    )
    assert changes_in_words(changes_of(before, {}, spark_map)) == "Gave 1 cell back to the plan"
    both = changes_in_words(changes_of(before, {(1, 1): Wanted(9.0), (1, 2): Wanted(9.0)}, spark_map))
    assert both == "Set 2 cells by hand and gave 1 cell back to the plan"
    assert (
        changes_in_words(changes_of(before, {(3, 4): Wanted(20.0, "why")}, spark_map))
        == "Gave reasons for cells set by hand"
    )
    assert changed_places(before, {(3, 4): Wanted(20.0)}) == set()


def test_past_best_is_a_note(planned: PlanResult) -> None:
    best = float(planned.cells.ceilings.best_deg[8, 2])
    value = float(np.ceil(best) + 1.0)
    plan = preview(planned, {(8, 2): Wanted(value), (8, 3): Wanted(5.0)})
    rpm, kpa = plan.cells.spark_map.rpm[2], plan.cells.spark_map.kpa[8]
    said_of_it = (
        f"1 cell set by hand stands past best, by up to {value - best:.1f} deg at {rpm:,.0f} rpm and "
        f"{kpa:g} kPa; more advance there only costs torque."
    )
    assert not plan.cells.over_ceiling[8, 2]
    assert sentences_of(changed_stand(plan, [(8, 2), (8, 3), (8, 4)])) == (said_of_it,)
    assert changed_stand(plan, [(8, 3), (8, 4)]) == ()


def test_what_was_just_set_over_knock_or_reach_is_said_so_and_not_as_a_matter_of_torque(
    planned: PlanResult,
) -> None:
    """Far over every ceiling: knock first, then reach, each with how much and where; nothing of torque."""
    over_knock = planned.cells.ceilings.knock_deg + 5.0 < 58.0
    i, j = (int(each) for each in np.argwhere(over_knock)[-1])
    plan = preview(planned, {(i, j): Wanted(58.0)})
    knock, reach = sentences_of(changed_stand(plan, [(i, j)]))[:2]
    where = f"at {plan.cells.spark_map.rpm[j]:,.0f} rpm and {plan.cells.spark_map.kpa[i]:g} kPa"
    assert knock == (
        "1 cell set by hand stands over knock, by "
        f"{58.0 - planned.cells.ceilings.knock_deg[i, j]:.1f} deg {where}; "
        "there it can knock and break the engine."
    )
    assert reach == (
        "1 cell set by hand stands over reach, by "
        f"{58.0 - planned.cells.ceilings.reach_deg[i, j]:.1f} deg {where}; "
        "there the rotor tip has left its post and the spark can go to the wrong cylinder."
    )
    assert "torque" not in " ".join(sentences_of(changed_stand(plan, [(i, j)])))
    reasons = sentences_of(why(plan, JOB, i, j).findings)
    assert reasons[0].startswith("It stands ")
    assert " over knock (" in reasons[0]
    assert "best" not in " ".join(reasons)
    assert over_count(plan.over) == "1 cell over knock"


# ---- Why


def said(plan: PlanResult, row: int, column: int) -> str:
    return " ".join(sentences_of(why(plan, JOB, row, column).findings))


def test_each_holder_is_said_with_its_number() -> None:
    plan = invented_plan()
    held = {
        kind: next((i, j) for i in range(16) for j in range(16) if plan.cells.held_by[i][j] == kind)
        for kind in ("best", "knock", "reach", "reserve", "limit")
    }
    assert "Best holds: more advance would give no more torque." in said(plan, *held["best"])
    assert "Knock holds: its ceiling is where knock has a chance of about 1 in 10." in said(
        plan, *held["knock"]
    )
    assert "Reach holds: beyond 34.0 deg the rotor tip leaves its post." in said(plan, *held["reach"])
    assert "so that timing can steady the idle." in said(plan, *held["reserve"])
    assert "A limit or peg holds: the job allows no more here." in said(plan, *held["limit"])


def test_what_it_costs_is_said_and_unknown_is_not_nothing() -> None:
    plan = invented_plan()
    short = float(plan.margins.best_deg[0, 15])
    lost = float(plan.cells.torque_lost_percent[0, 15])
    assert f"{short:.1f} deg short of best costs about {lost:.1f} % of torque here." in said(plan, 0, 15)
    unknown = with_other_cells(plan, torque_lost_percent=np.full((16, 16), np.nan))
    assert f"{short:.1f} deg short of best; what that costs is not determined here." in said(unknown, 0, 15)


def test_a_cell_over_its_ceiling_says_by_how_much() -> None:
    plan = invented_plan(set_deg=38.0)
    assert "It stands 4.0 deg over reach (34.0); there the rotor tip has left its post" in said(plan, 11, 8)
    reasons = why(plan, JOB, 11, 8)
    assert reasons.by_hand
    assert not any(each.holds for each in reasons.ceilings)


def test_the_bars_end_where_the_ceilings_stand() -> None:
    """On a scale of 60 deg, reach at 34 fills 34/60 of its track; no knock found fills all of it."""
    plan = invented_plan()
    picture = why_picture(why(plan, JOB, 0, 15))
    tracks = [
        float(part.split('"')[0]) for part in picture.body.split('class="band"')[0].split('width="')[1:2]
    ]
    reach = next(row for row in picture.rows if row[0] == "reach")
    assert reach[1] == 34.0
    assert reach[4] == "yes"
    filled = float(picture.body.split('class="dot"')[0].rsplit('width="', 1)[1].split('"')[0])
    assert filled / tracks[0] == pytest.approx(34.0 / 60.0, abs=0.001)
    assert "none found" in picture.body


# ---- Cells of the page


def test_a_cell_held_by_a_limit_is_told_apart_from_one_set_by_hand() -> None:
    plan = invented_plan(set_deg=38.0)
    assert (plan.cells.held_by[5][9], plan.cells.held_by[11][8]) == ("limit", "by hand")
    assert map_cell(plan, 5, 9).classes == "a30 limit"
    forms = letter_form_sentence(plan)
    assert "with a bar above, limit; italic, idle reserve; with a dot, set by hand" in forms
    assert "1 by limit, 8 by idle reserve, 1 by hand." in held_sentence(plan)


def test_cells_held_through_a_slope_are_counted_and_named_as_such() -> None:
    """One cell of an invented plan taken as lowered by a slope from the row above it."""
    plan = invented_plan()
    from_rpm, from_kpa = (np.full(plan.cells.spark_map.advance_deg.shape, np.nan) for _ in range(2))
    from_rpm[5, 9], from_kpa[5, 9] = plan.cells.spark_map.rpm[9], plan.cells.spark_map.kpa[6]
    sloped = with_other_cells(plan, slope_from_rpm=from_rpm, slope_from_kpa=from_kpa)
    holder = plan.cells.held_by[5][9]
    count = sum(row.count(holder) for row in plan.cells.held_by)
    assert f"{count} by {holder}" in held_sentence(plan)
    assert f"{count - 1} by {holder}" in held_sentence(sloped) or count == 1
    assert held_sentence(sloped).endswith("1 by a slope from such a cell.")
    label = map_cell(sloped, 5, 9).label
    assert f"held by a slope from {plan.cells.spark_map.kpa[6]:g} kPa, there " in label
    assert "slope" not in held_sentence(plan) + map_cell(plan, 5, 9).label
    assert "or the cell that its slope comes from" in letter_form_sentence(sloped)


def test_a_cell_is_said_aloud_with_what_holds_it() -> None:
    plan = invented_plan(set_deg=38.0)
    assert map_cell(plan, 0, 15).label == "5,200 rpm, 20 kPa: 34 deg, held by reach"
    assert map_cell(plan, 11, 8).label == "2,800 rpm, 74 kPa: 38 deg, set by hand, 4.0 over reach (34.0)"
    assert map_cell(plan, 5, 9).label == "3,200 rpm, 45 kPa: 30 deg, held by a limit or peg"
    assert map_cell(plan, 11, 8).classes == "a38 by-hand over"
    assert (RPM[15], KPA[0]) == (5200.0, 20.0)


def test_every_colour_of_the_style_sheet_reads_and_is_that_of_the_pictures() -> None:
    """WCAG 2.1 asks for a contrast of 4.5 between text and ground."""
    rules = colours_css().splitlines()
    assert len(rules) == 51
    for advance_deg, rule in enumerate(rules):
        ground, ink = (part.split(";")[0].strip(" }") for part in rule.split(": ")[1:])
        assert ground == advance_colour(float(advance_deg))
        assert contrast_ratio(ground, ink) >= 4.5


def test_the_rotor_phase_asked_for_is_that_of_the_plan_s_own_advice(planned: PlanResult) -> None:
    assert planned.reach_cost is not None
    phase = rotor_phase_that_frees(planned, JOB)
    assert phase == pytest.approx(
        JOB.distributor.rotor_phase_deg + planned.reach_cost.phase_move_distributor_deg, abs=0.051
    )
    assert rotor_phase_that_frees(replace(planned, reach_cost=None), JOB) is None


def test_a_cell_without_knock_that_a_slope_holds_is_not_told_to_be_held_by_knock() -> None:
    """The slope is steep enough for one row only: who asks why reads from which row it comes."""
    job = on_axes(ORDINARY_V8, [1000, 2000, 3000], [40, 60, 80, 100]).changed("limits", slope_deg_per_10kpa=1)
    plan = plan_of(job)
    sloped = np.argwhere(np.isfinite(plan.cells.slope_from_kpa) & np.isnan(plan.cells.ceilings.knock_deg))
    assert sloped.size, "else this test asks nothing"
    for row, column in sloped:
        reasons = why(plan, job, int(row), int(column))
        said = " ".join(sentences_of(reasons.findings))
        assert "Knock holds" not in said
        assert "slope from " in said
        assert not any(each.holds for each in reasons.ceilings)
