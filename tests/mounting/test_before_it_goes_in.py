"""The sheet for the bench: what it asks of each kind of body, and what play costs."""

import math

import pytest

from sparkwright.drawing.true_scale import Paper, sheet_pdf
from sparkwright.errors import PhysicsError
from sparkwright.ignition.body import end_play_crank_deg, side_play_crank_deg
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn, before_it_goes_in
from sparkwright.sheets.before_it_goes_in import before_sheet
from sparkwright.words.bench import tasks
from telling import action_of, sentence_of


def boxes(sheet: BeforeItGoesIn) -> str:
    return " ".join(str(box) for task in tasks(sheet) for box in task.boxes)


def test_play_round_a_whole_circle_is_two_turns_of_the_crank() -> None:
    """By the definition of the circle: its rim is 2 pi times its radius."""
    assert side_play_crank_deg(2.0 * math.pi * 12.0, 12.0) == pytest.approx(720.0, rel=1e-12)


def test_a_gear_slid_by_its_lead_turns_once() -> None:
    """The lead of a helix is its rim over the tangent of its angle (ISO 1122-1, 1998)."""
    lead_mm = 2.0 * math.pi * 15.0 / math.tan(math.radians(40.0))
    assert end_play_crank_deg(lead_mm, 15.0, 40.0) == pytest.approx(720.0, rel=1e-12)


def test_a_straight_gear_may_slide_and_moves_no_spark() -> None:
    assert end_play_crank_deg(0.6, 15.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("play_mm", "radius_mm", "helix_deg", "says"),
    [
        (-0.1, 15.0, 45.0, "play_mm = -0.1: must be 0 or more"),
        (0.1, 0.0, 45.0, "radius_mm = 0.0: must be above 0"),
        (0.1, 15.0, 90.0, "helix_deg = 90.0: must be from 0 to 80"),
        (float("nan"), 15.0, 45.0, "play_mm = nan: must be 0 or more"),
    ],
)
def test_what_is_no_play_is_refused(play_mm: float, radius_mm: float, helix_deg: float, says: str) -> None:
    with pytest.raises(PhysicsError) as refused:
        end_play_crank_deg(play_mm, radius_mm, helix_deg)
    assert str(refused.value) == says


def test_weights_above_the_plate_are_not_looked_for_below_it() -> None:
    above = boxes(before_it_goes_in("hall", "clockwise", weights="above the plate"))
    assert "Above the plate: rotor off" in above
    assert "Below the plate" not in above


def test_a_body_whose_weights_nobody_named_shows_both_ways() -> None:
    either = boxes(before_it_goes_in("two-wire", "clockwise"))
    assert "Find the weights" in either
    assert "Above the plate" in either
    assert "Below the plate" in either


def test_a_body_without_weights_has_nothing_to_take_out_or_fix() -> None:
    none = boxes(before_it_goes_in("two-wire", "clockwise", weights="none"))
    assert "There are no weights" in none
    assert "Fix it there with metal" not in none


def test_the_shaft_is_turned_back_against_the_rotation_of_this_body() -> None:
    assert "back, clockwise seen from above, against the rotor, until" in boxes(
        before_it_goes_in("hall", "anticlockwise")
    )


def test_a_body_that_cannot_be_locked_stops_the_work_before_it_begins() -> None:
    sheet = before_it_goes_in("two-wire", "clockwise", lockable=False)
    assert sentence_of(sheet.headline) == "Don't fit this body as it is."
    assert action_of(sheet.headline).startswith("Its advance can't be locked")


def test_a_module_with_its_own_dwell_takes_no_timing_and_says_so() -> None:
    sheet = before_it_goes_in("two-wire", "clockwise", module="own dwell")
    assert "a controller can't time it" in action_of(sheet.headline)
    assert "Module out" in boxes(sheet)


def test_a_module_with_an_input_may_stay_and_keeps_its_dwell() -> None:
    sheet = before_it_goes_in("two-wire", "clockwise", module="timing input")
    assert sentence_of(sheet.headline) == "One spark for one signal, and nothing that moves."
    assert "the controller's dwell table does nothing here" in boxes(sheet)


def test_both_troubles_of_a_body_are_told() -> None:
    sheet = before_it_goes_in("two-wire", "clockwise", module="own dwell", lockable=False)
    assert len(sheet.troubles) == 2
    assert "by itself" in sentence_of(sheet.troubles[1])


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_sheet_prints_on_either_paper(paper: Paper) -> None:
    sheet = before_sheet(before_it_goes_in("points", "clockwise"), "Any engine", True, "")
    assert sheet_pdf(sheet, paper=paper).startswith(b"%PDF-1.")
