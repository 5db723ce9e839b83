"""Cells set by hand: exact values in the plan, what follows from them, and where they are told."""

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planned import planned_once
from planning_jobs import BOOSTED_V8, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.cli.terminal import OVER_MARK, map_blocks
from sparkwright.cycle.belief import PRIOR
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.pictures.map_grid import map_grid_picture
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.plan.compare import compare_map
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.lines import line_at
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import plan, planned_without_hand
from sparkwright.plan.point import point
from sparkwright.plan.result import PlanResult
from sparkwright.sheets.card import card_html, card_pdf
from telling import action_of, sentence_of, sentences_of

JOB = on_axes(ORDINARY_V8, [700, 1500, 3000, 5000], [38, 45, 70, 95])


def planned() -> PlanResult:
    return planned_once(JOB)


def cell(rpm: float, kpa: float, advance_deg: float, **more: str) -> dict[str, Any]:
    return {"rpm": rpm, "kpa": kpa, "advance_deg": advance_deg, **more}


def with_cells(*cells: dict[str, Any], job: Job = JOB) -> PlanResult:
    return set_by_hand(planned_once(job), job.with_hand(cells))


def over_knock() -> PlanResult:
    return with_cells(cell(1500, 95, 25, reason="<b>heard nothing</b>", by="A. Example", on="2030-05-01"))


def test_the_plan_of_a_job_is_the_plan_without_them_and_then_they() -> None:
    job = JOB.with_hand([cell(3000, 70, 20)])
    whole, two_steps = plan(job), set_by_hand(planned(), job)
    assert whole.cells.spark_map.advance_deg.tobytes() == two_steps.cells.spark_map.advance_deg.tobytes()
    assert whole.fingerprint == job.fingerprint != planned().fingerprint
    assert planned_without_hand(job).fingerprint == planned().fingerprint == JOB.fingerprint
    assert set_by_hand(planned(), JOB) is planned()


def test_a_value_is_exact_and_its_cell_says_so() -> None:
    result = with_cells(cell(3000, 70, 20))
    place = 2, 2
    assert result.cells.spark_map.advance_deg[place] == 20.0
    assert result.cells.held_by[2][2] == "by hand"
    assert result.cells.by_hand.sum() == 1
    assert result.cells.by_hand[place]
    assert np.isnan(result.cells.sigma_deg[place]), "not determined, never zero"
    assert np.isnan(result.cells.smoothed_deg[place])
    assert result.margins.best_deg[place] == planned().cells.ceilings.best_deg[place] - 20.0
    assert result.over == ()
    assert not result.cells.over_ceiling.any()
    assert result.problems == planned().problems


def test_torque_there_is_that_of_the_hook_of_the_point() -> None:
    """The same figure from a finer hook, computed on its own."""
    result = with_cells(cell(3000, 70, 20))
    hook = point(JOB, 3000.0, 70.0)
    torque = float(np.interp(20.0, hook.advance_deg, hook.torque_nm))
    assert result.cells.torque_nm[2, 2] == pytest.approx(torque, rel=2e-3)
    lost = 100.0 * (1.0 - torque / hook.best_torque_nm)
    assert result.cells.torque_lost_percent[2, 2] == pytest.approx(lost, abs=0.15)
    assert lost > 2.0


def test_over_knock_it_is_used_told_and_marked() -> None:
    ceiling = planned().cells.ceilings.knock_deg[3, 1]
    assert ceiling < 25.0
    assert over_knock().cells.spark_map.advance_deg[3, 1] == 25.0
    (over,) = over_knock().over
    assert (over.rpm, over.kpa, over.set_deg, over.ceiling) == (1500.0, 95.0, 25.0, "knock")
    assert over.over_deg == pytest.approx(25.0 - ceiling)
    assert over.ceiling_deg == ceiling
    assert over_knock().margins.knock_deg[3, 1] < 0.0
    assert sentences_of(over_knock().problems) == (
        f"1 cell set by hand stands over knock, by {25.0 - ceiling:.1f} deg at 1,500 rpm and "
        "95 kPa: <b>heard nothing</b>.",
    )
    assert over_knock().headline == over_knock().problems[0]


def test_several_name_the_worst_and_a_missing_reason() -> None:
    result = with_cells(cell(1500, 95, 25, reason="heard nothing"), cell(700, 95, 30), cell(700, 70, 5))
    worst = 30.0 - planned().cells.ceilings.knock_deg[3, 0]
    assert sentence_of(result.problems[0]) == (
        f"2 cells set by hand stand over knock, the most by {worst:.1f} deg at 700 rpm and 95 kPa: "
        "no reason given."
    )
    assert [each.rpm for each in result.over] == [700.0, 1500.0], "the most first"


def test_reach_limits_and_pegs_count_as_ceilings() -> None:
    limited = with_cells(cell(3000, 45, 32), job=JOB.changed("limits", max_advance_deg=30))
    assert [(each.ceiling, each.over_deg) for each in limited.over] == [("limit", 2.0)]
    assert sentence_of(limited.problems[0]).startswith(
        "1 cell set by hand stands over a limit or peg, by 2.0 deg at 3,000 rpm and 45 kPa: "
    )
    small = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])
    reached = with_cells(cell(4000, 60, 30), job=small)
    (over,) = reached.over
    assert over.ceiling == "reach"
    assert over.over_deg == pytest.approx(30.0 - 25.78, abs=0.01)  # by hand, tests/check/test_hardware.py


def test_where_the_fuel_knocks_at_any_advance() -> None:
    job = on_axes(BOOSTED_V8.changed("fuel", ron=65, mon=62), [2000, 4000], [60, 175])
    result = with_cells(cell(2000, 175, 5), job=job)
    assert np.isposinf(result.over[0].over_deg)
    assert sentence_of(result.problems[0]) == (
        "1 cell set by hand stands over knock, where this fuel knocks at any advance, at 2,000 rpm and "
        "175 kPa: no reason given."
    )


def test_a_fuel_that_knocks_at_any_advance_comes_before_a_limit() -> None:
    job = on_axes(BOOSTED_V8.changed("fuel", ron=65, mon=62), [2000, 4000], [60, 175])
    result = with_cells(cell(4000, 60, 31), job=job.changed("limits", max_advance_deg=5))
    limit = next(
        place for place, each in enumerate(sentences_of(result.problems)) if "over a limit or peg" in each
    )
    knock = next(
        place for place, each in enumerate(sentences_of(result.problems)) if "knocks at any advance" in each
    )
    assert knock < limit


def test_past_best_only_costs_torque() -> None:
    past = 55.0 - planned().cells.ceilings.best_deg[1, 3]
    assert past > 2.0
    result = with_cells(cell(5000, 45, 55))
    assert sentences_of(result.problems) == ()
    assert sentence_of(result.warnings[0]) == (
        f"1 cell set by hand stands past best, by up to {past:.1f} deg at 5,000 rpm and 45 kPa; more advance "
        "there only costs torque."
    )


def test_a_cell_over_knock_is_never_called_past_best() -> None:
    """It stands over both; what breaks engines is said, and no sentence makes it a matter of torque."""
    place, value = (3, 1), 55.0
    assert value > planned().cells.ceilings.best_deg[place] + 1.0
    assert value > planned().cells.ceilings.knock_deg[place] + 1.0
    result = with_cells(cell(1500, 95, value))
    told = " ".join(
        (
            sentence_of(result.headline),
            action_of(result.headline),
            *sentences_of(result.problems),
            *sentences_of(result.warnings),
        )
    )
    assert "past best" not in told
    assert "costs torque" not in told
    assert sentence_of(result.headline).startswith("1 cell set by hand stands over knock, by ")


def test_the_worst_ceiling_is_named_first_however_little_it_is_stood_over() -> None:
    """2 deg over knock come before 14 over reach: the first breaks the engine."""
    job = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])
    planned = planned_without_hand(job)
    knock_deg, reach_deg = planned.cells.ceilings.knock_deg[2, 0], planned.cells.ceilings.reach_deg[1, 2]
    assert knock_deg + 3.0 < reach_deg
    cells = cell(700, 85, float(np.ceil(knock_deg)) + 2.0), cell(4000, 60, 40)
    result = set_by_hand(planned, job.with_hand(cells))
    assert [each.ceiling for each in result.over][:2] == ["knock", "reach"]
    assert sentence_of(result.problems[0]).startswith("1 cell set by hand stands over knock, by ")
    assert sentence_of(result.problems[1]).startswith("1 cell set by hand stands over reach, by ")
    assert result.headline == result.problems[0], "and not where the rotor runs out"
    assert action_of(result.headline).startswith("Set them lower before the engine is loaded.")
    assert ("Move the rotor tip" in action_of(result.headline)) == (result.reach_cost is not None)


def test_a_value_whose_cell_is_gone_is_told_and_not_used() -> None:
    result = with_cells(cell(1500, 96, 25), cell(3000, 70, 20))
    assert result.cells.by_hand.sum() == 1
    assert sentence_of(result.warnings[0]) == (
        "The value set by hand at 1,500 rpm and 96 kPa (25 deg) is no cell of this map; the job keeps it, "
        "the map does not use it."
    )


def test_idle_lines_and_the_old_curve_follow() -> None:
    result = with_cells(cell(700, 38, 10))
    assert result.idle.set_deg == 10.0
    assert result.idle.reserve_deg == pytest.approx(result.idle.best_deg - 10.0)
    assert line_at(result, kpa=38.0).plan_deg[0] == 10.0
    assert np.array_equal(line_at(result, kpa=38.0).by_hand, [True, False, False, False])
    column = line_at(result, rpm=700.0)
    assert column.rpm == 700.0
    assert np.array_equal(column.plan_deg, result.cells.spark_map.advance_deg[:, 0])
    old = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])
    late = with_cells(cell(2000, 60, 0), job=old).old_curve
    assert late is not None
    assert late.short_deg[1, 1] == 0.0


def test_an_idle_without_reserve_is_told() -> None:
    best = planned().idle.best_deg
    result = with_cells(cell(700, 38, float(np.ceil(best)) + 2))
    assert result.idle.reserve_deg < 0.0
    from sparkwright.words.plan import idle_sentence

    assert idle_sentence(result.idle).endswith("deg; no reserve is left to steady it with.")


def test_a_plan_of_other_facts_is_refused() -> None:
    other = JOB.changed("fuel", ron=98).with_hand([cell(3000, 70, 20)])
    with pytest.raises(Refusal) as refusal:
        set_by_hand(planned(), other)
    assert str(refusal.value) == (
        f"plan = {JOB.fingerprint[:12]}: must be made from this job without its cells set by hand; "
        "plan the job again"
    )


def test_a_line_outside_the_map_is_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        line_at(planned(), kpa=120.0)
    assert str(refusal.value) == "kpa = 120: must be 38 to 95, the span of the map"


def test_a_job_file_holds_one_cell_a_line_and_reads_back() -> None:
    job = JOB.with_hand([cell(1500, 95, 25, reason='"quoted"', by="A. Example"), cell(3000, 70, 20)])
    assert (
        '\n  { rpm = 1500, kpa = 95, advance_deg = 25, reason = "\\"quoted\\"", by = "A. Example" },\n'
        in (job.to_toml())
    )
    assert Job.from_toml(job.to_toml()) == job
    assert job.fingerprint != JOB.fingerprint
    assert job.without_hand() == JOB
    assert job.with_hand([]) == JOB
    sections = JOB.to_toml() + "\n[[hand]]\nrpm = 3000\nkpa = 70\nadvance_deg = 20\non = 2030-05-01\n"
    assert Job.from_toml(sections).hand[0].on == "2030-05-01"


def test_a_whole_map_of_40_by_40_can_be_set() -> None:
    cells = [cell(100.0 + 100 * i, 10.0 + 2 * j, 20) for i in range(40) for j in range(40)]
    assert len(Job.from_toml(JOB.with_hand(cells).to_toml()).hand) == 1600


# Where they are shown


def test_drawings_mark_a_cell_over_a_ceiling_by_shape() -> None:
    for drawn in (map_picture, map_grid_picture):
        marked, bare = drawn(over_knock()), drawn(planned())
        assert 'class="over"' in marked.body
        assert 'class="over"' not in bare.body
        assert [row[4] for row in marked.rows].count("yes") == 1
    assert "with a triangle, set over a ceiling" in map_grid_picture(over_knock()).sentence
    row = ribbon_picture(line_at(over_knock(), kpa=95.0))
    assert 'class="over"' in row.body
    assert row.sentence.endswith("A dot is a cell set by hand; a triangle marks one over a ceiling.")
    column = ribbon_picture(line_at(over_knock(), rpm=1500.0))
    assert 'class="over"' in column.body
    assert column.columns[0] == "load [kPa]"
    assert column.title == "1,500 rpm: degrees before top dead centre against kPa"


def test_a_limit_is_drawn_where_it_lies_within_the_plot() -> None:
    bare = line_at(planned(), kpa=45.0)
    assert ">limit" not in ribbon_picture(bare).body, "the controller's 60 lie above all that is drawn"
    limited = line_at(plan(JOB.changed("limits", max_advance_deg=30)), kpa=45.0)
    assert ">limit 30" in ribbon_picture(limited).body
    assert np.all(limited.limit_deg == 30.0)


def test_the_terminal_marks_it() -> None:
    text = "".join(block.plain for block in map_blocks(over_knock(), 80))
    assert re.findall(rf"\S+\{OVER_MARK}", text) == [f"25.0{OVER_MARK}"]


def test_the_card_lists_it_with_reason_and_name() -> None:
    job = JOB.with_hand([cell(1500, 95, 25, reason="<b>heard nothing</b>", by="A. Example")])
    result = plan(job)
    hardware = check(job, result)
    page = card_html(result, hardware, job)
    assert "Set by hand over a ceiling" in page
    assert "&lt;b&gt;heard nothing&lt;/b&gt;. Set by A. Example." in page
    assert page.count('aria-label="set over a ceiling"') == 1
    assert card_pdf(result, hardware, job).startswith(b"%PDF")
    assert "Set by hand over a ceiling" not in card_html(plan(JOB), check(JOB), JOB)


def test_a_map_held_against_the_plan_says_what_the_job_knows_of() -> None:
    found = compare_map(over_knock(), over_knock().cells.spark_map)
    assert [each.by_hand for each in found.over if each.ceiling == "knock"] == [True]
    assert sentence_of(found.problems[0]).startswith("Over the knock ceiling: 1 of 16 cells")
    assert (
        "Set by hand to just this value in the job: 1 of the cells over a ceiling; the plan gives "
        "their reasons."
    ) in sentences_of(found.warnings)
    other = replace(over_knock().cells.spark_map, advance_deg=over_knock().cells.spark_map.advance_deg + 0.5)
    assert not any(each.by_hand for each in compare_map(over_knock(), other).over)


def test_cells_are_not_put_into_a_plan_made_under_another_belief() -> None:
    firmer = replace(PRIOR, engine_best_deg=0.5)
    with pytest.raises(Refusal) as refused:
        set_by_hand(planned(), JOB.with_hand([cell(3000, 70, 20)]), firmer)
    assert str(refused.value) == (
        f"plan = {PRIOR.fingerprint[:12]}: must be made under the same belief of the engine's constants; "
        "plan the job again"
    )


def test_a_plan_with_cells_that_all_lie_off_its_map_is_the_plan_itself() -> None:
    result = with_cells(cell(3100, 71, 20))
    assert result.cells.spark_map.advance_deg.tobytes() == planned().cells.spark_map.advance_deg.tobytes()
    assert not result.cells.by_hand.any()
