"""What moved between two plans, held against cells that were moved by hand beforehand."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from invented_results import KPA, RPM, invented_plan, with_other_cells
from planning_jobs import ORDINARY_V8, on_axes
from sparkwright.drawing.look import contrast_ratio, difference_colour, relative_luminance, text_colour_on
from sparkwright.edit.difference import moved
from sparkwright.pictures.difference import moved_picture
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from telling import sentence_of, sentences_of


def with_more(plan: PlanResult, changes: dict[tuple[int, int], float]) -> PlanResult:
    """Give a plan whose map differs in these places by so many degrees."""
    advance = plan.cells.spark_map.advance_deg.copy()
    for place, more in changes.items():
        advance[place] += more
    return with_other_cells(plan, spark_map=SparkMap(RPM, KPA, advance))


def test_no_cell_moves_between_a_plan_and_itself() -> None:
    said = moved(invented_plan(), invented_plan())
    assert sentence_of(said.headline) == "No cell of the map moved."
    assert said.cells == ()
    assert sentences_of(said.findings) == ()


def test_moved_cells_are_listed_highest_load_first_with_old_new_and_holder() -> None:
    before = invented_plan()
    after = with_more(before, {(0, 3): 2.0, (15, 8): -3.5})
    said = moved(before, after)
    assert sentence_of(said.headline) == (
        "Of 256 cells 2 moved: 1 cell has more advance, by up to 2.0 deg at 1,200 rpm and 20 kPa; "
        "1 cell has less advance, by up to 3.5 deg at 2,800 rpm and 85 kPa."
    )
    first, second = said.cells
    assert (first.rpm, first.kpa, first.moved_deg) == (2800.0, 85.0, -3.5)
    assert first.old_deg == before.cells.spark_map.advance_deg[15, 8]
    assert (second.rpm, second.kpa, second.new_deg) == (1200.0, 20.0, after.cells.spark_map.advance_deg[0, 3])
    assert second.old_held_by == second.new_held_by == before.cells.held_by[0][3]


def test_a_cell_held_by_something_else_is_told_though_its_value_stayed() -> None:
    before = invented_plan()
    held = [list(row) for row in before.cells.held_by]
    assert held[0][15] == "reach"
    held[0][15] = "limit"
    after = with_other_cells(before, held_by=tuple(tuple(row) for row in held))
    said = moved(before, after)
    assert sentence_of(said.headline) == "No cell of the map moved."
    assert [(cell.moved_deg, cell.old_held_by, cell.new_held_by) for cell in said.cells] == [
        (0.0, "reach", "limit")
    ]
    reach = sum(row.count("reach") for row in before.cells.held_by)
    assert sentences_of(said.findings) == (f"Cells held by reach {reach}, now {reach - 1}; limit 1, now 2.",)


def test_other_axes_carry_the_old_map_over_exactly_where_it_is_a_plane() -> None:
    """A map that is linear in speed and load is carried over exactly by linear interpolation."""

    def plane(rpm: np.ndarray, kpa: np.ndarray) -> SparkMap:
        return SparkMap(rpm, kpa, 10.0 + rpm[None, :] / 200.0 - kpa[:, None] / 10.0)

    before = with_other_cells(invented_plan(), spark_map=plane(RPM, KPA))
    rpm = np.append(np.linspace(700.0, 5000.0, 15), 6000.0)
    kpa = np.linspace(22.0, 84.0, 16)
    said = moved(before, with_other_cells(invented_plan(), spark_map=plane(rpm, kpa)))
    assert said.difference_deg[:, :-1] == pytest.approx(np.zeros((16, 15)), abs=1e-9)
    assert np.isnan(said.difference_deg[:, -1]).all()
    assert sentences_of(said.findings)[0] == (
        "Speeds or loads of the map have changed; the old values were carried over, linear between cells. "
        "16 cells lie outside the old map."
    )
    outside = [cell for cell in said.cells if cell.rpm == 6000.0]
    assert [cell.old_held_by for cell in outside] == [""] * 16


def test_torque_at_full_load_is_told_where_it_changes_most() -> None:
    before = invented_plan()
    torque = before.cells.torque_nm.copy()
    torque[15, 4] *= 1.05
    said = moved(before, with_other_cells(before, torque_nm=torque))
    assert sentences_of(said.findings) == ("At full load torque changes most at 1,500 rpm, by +5.0 %.",)


@pytest.fixture(scope="module")
def up_a_mountain() -> tuple[PlanResult, PlanResult]:
    """The same job at sea level and at 2,000 m, on axes of its own that hold both."""
    job = on_axes(ORDINARY_V8, [700, 2000, 3500, 5000], [30, 50, 70, 85, 101])
    job = job.changed("site", pressure=None)
    return plan(job.changed("site", altitude="0 m")), plan(job.changed("site", altitude="2000 m"))


def test_up_a_mountain_full_load_is_each_site_s_own_and_torque_falls(
    up_a_mountain: tuple[PlanResult, PlanResult],
) -> None:
    """ISO 2533: 101.3 and 79.5 kPa. A charge a fifth smaller gives a fifth less or more, never more."""
    (said,) = (
        each for each in sentences_of(moved(*up_a_mountain).findings) if each.startswith("At full load")
    )
    found = re.fullmatch(
        r"At full load \(101 kPa before, 80 now\) torque changes most at [\d,]+ rpm, by ([-+\d.]+) %\.", said
    )
    assert found
    assert -45.0 < float(found[1]) < -15.0
    (back,) = (
        each for each in sentences_of(moved(*up_a_mountain[::-1]).findings) if each.startswith("At full load")
    )
    assert "(80 kPa before, 101 now)" in back
    assert "by +" in back


def test_cells_that_only_one_of_two_sites_gives_are_not_compared(
    up_a_mountain: tuple[PlanResult, PlanResult],
) -> None:
    """By head: of the loads 30 to 101 kPa a mountain of 79 kPa gives three, at four speeds."""
    low, high = up_a_mountain
    said = moved(low, high)
    assert sentence_of(said.headline).startswith("Of 12 cells met before and after ")
    assert "85 kPa" not in sentence_of(said.headline)
    assert "101 kPa" not in sentence_of(said.headline)
    holders = next((each for each in sentences_of(said.findings) if each.startswith("Cells held by")), "")
    assert sum(int(number) for number in re.findall(r"now (\d+)", holders)) <= 12


def test_only_cells_that_no_engine_meets_moved() -> None:
    before = invented_plan()
    met = np.ones_like(before.cells.met)
    met[0, 3] = False
    after = with_other_cells(with_more(before, {(0, 3): 2.0}), met=met)
    assert (
        sentence_of(moved(before, after).headline) == "No cell moved that the engine meets before and after."
    )


def test_torque_is_held_against_torque_at_full_load_between_rows_too() -> None:
    """By hand: rows of 82.5 and 85 kPa give 365 and 370 N m, 84 kPa 368; 370 to 368 is -0.5 %."""
    before = invented_plan()
    (said,) = sentences_of(moved(before, replace(before, top_kpa=84.0)).findings)
    assert said == "At full load (85 kPa before, 84 now) torque changes most at 600 rpm, by -0.5 %."


def test_the_difference_colours_are_symmetric_in_grey_with_a_neutral_middle() -> None:
    """In grey both ends are equally dark, the middle is nearly paper; text reads on all (WCAG 2.1, 4.5)."""
    less, middle, more = (relative_luminance(difference_colour(deg)) for deg in (-10.0, 0.0, 10.0))
    assert less == pytest.approx(more, abs=0.02)
    assert middle > 0.85
    for deg in np.linspace(-12.0, 12.0, 49):
        colour = difference_colour(float(deg))
        assert contrast_ratio(text_colour_on(colour), colour) >= 4.5
    grey = [relative_luminance(difference_colour(float(deg))) for deg in np.linspace(0.0, 10.0, 21)]
    assert all(darker < lighter for lighter, darker in pairwise(grey))


def test_the_picture_writes_signed_numbers_and_on_a_phone_the_signs_alone() -> None:
    before = invented_plan()
    said = moved(before, with_more(before, {(0, 3): 4.5, (15, 8): -3.5}))
    wide, narrow = moved_picture(said), moved_picture(said, width_px=360.0)
    assert ">+4.5<" in wide.body
    assert ">\N{MINUS SIGN}3.5<" in wide.body
    assert ">+<" in narrow.body
    assert ">\N{MINUS SIGN}<" in narrow.body
    assert "4.5<" not in narrow.body
    first = said.cells[0]
    assert wide.rows[0][:5] == (2800.0, 85.0, first.old_deg, first.new_deg, -3.5)
