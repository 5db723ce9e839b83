"""The cam: events from durations, events at another lift, overlap, effective closing.

The geometry is solved by head. The usual flank is common practice, no source, and tested as a band.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import cam
from sparkwright.cycle.cam import ValveEvents, effective_intake_closing_deg, events_from_durations
from sparkwright.errors import PhysicsError

FORMULAS: list[Case] = [
    (cam.flank_deg, (1.27, 0.00175)),
    (cam.flank_acceleration_mm_per_deg2, (0.15, 1.27, 50.0)),
    (cam.flank_overlap_area_m_deg, (60.0, 1.5, 0.00175)),
]

MILD = ValveEvents(-4.5, 31.5, 41.5, -8.5, at_lift_mm=1.27)


@pytest.mark.parametrize(
    ("durations", "centreline_deg", "separation_deg", "events"),
    [
        ((207.0, 213.0), 108.0, 111.5, (-4.5, 31.5, 41.5, -8.5)),
        ((240.0, 240.0), 110.0, 110.0, (10.0, 50.0, 50.0, 10.0)),
        ((280.0, 290.0), 102.0, 106.0, (38.0, 62.0, 75.0, 35.0)),
    ],
)
def test_events_by_head(
    durations: tuple[float, float],
    centreline_deg: float,
    separation_deg: float,
    events: tuple[float, float, float, float],
) -> None:
    """Each event is half a duration from the middle of its lobe."""
    found = events_from_durations(*durations, centreline_deg, separation_deg, at_lift_mm=1.27)
    assert (
        found.intake_opens_deg,
        found.intake_closes_deg,
        found.exhaust_opens_deg,
        found.exhaust_closes_deg,
    ) == events


@given(
    intake_deg=st.floats(180.0, 330.0),
    exhaust_deg=st.floats(180.0, 330.0),
    centreline_deg=st.floats(95.0, 120.0),
    separation_deg=st.floats(98.0, 120.0),
)
def test_both_ways_of_stating_a_cam_agree(
    intake_deg: float, exhaust_deg: float, centreline_deg: float, separation_deg: float
) -> None:
    events = events_from_durations(intake_deg, exhaust_deg, centreline_deg, separation_deg, at_lift_mm=0.15)
    assert events.intake_duration_deg == pytest.approx(intake_deg)
    assert events.exhaust_duration_deg == pytest.approx(exhaust_deg)
    assert events.intake_centreline_deg == pytest.approx(centreline_deg)
    assert events.lobe_separation_deg == pytest.approx(separation_deg)
    overlap_deg = 0.5 * (intake_deg + exhaust_deg) - 2.0 * separation_deg
    assert events.overlap_deg == pytest.approx(overlap_deg, abs=1e-9)


@given(from_mm=st.floats(0.0, 1.5), to_mm=st.floats(0.0, 1.5))
def test_carrying_events_there_and_back(from_mm: float, to_mm: float) -> None:
    stated = ValveEvents(20.0, 60.0, 60.0, 20.0, at_lift_mm=from_mm)
    carried = stated.at_lift(to_mm)
    assert carried.at_lift(from_mm).intake_opens_deg == pytest.approx(20.0, abs=1e-9)
    assert carried.intake_centreline_deg == pytest.approx(stated.intake_centreline_deg)
    assert carried.exhaust_centreline_deg == pytest.approx(stated.exhaust_centreline_deg)
    wider_deg = carried.intake_duration_deg - stated.intake_duration_deg
    assert wider_deg * (from_mm - to_mm) >= -1e-12


def test_usual_flank_gives_the_difference_on_cam_cards() -> None:
    """Common practice, no source: 0.006 in against 0.050 in differ by 45 to 60 deg on flat-tappet cards."""
    difference_deg = MILD.at_lift(0.15).intake_duration_deg - MILD.intake_duration_deg
    assert 45.0 < difference_deg < 60.0


def test_the_flank_of_a_measured_cam_gives_back_its_durations() -> None:
    acceleration = float(cam.flank_acceleration_mm_per_deg2(0.15, 1.27, 44.0))
    events = ValveEvents(-4.5, 31.5, 41.5, -8.5, at_lift_mm=1.27)
    assert events.at_lift(0.15, acceleration).intake_duration_deg == pytest.approx(207.0 + 44.0)


def test_overlap_area_against_quadrature() -> None:
    """Valve lift R c x^2/2 from the seat to the middle of the overlap, by SciPy's quadrature."""
    by_quadrature, _ = quad(lambda x: 1.5 * 0.5 * 0.00175e-3 * x**2, 0.0, 30.0)
    assert cam.flank_overlap_area_m_deg(60.0, 1.5, 0.00175) == pytest.approx(by_quadrature, rel=1e-9)
    assert cam.flank_overlap_area_m_deg(-5.0, 1.5, 0.00175) == 0.0


def test_effective_closing_by_head() -> None:
    """Stated at that very lift the event itself counts: 31.5 deg after bottom dead centre is -148.5."""
    assert effective_intake_closing_deg(MILD) == pytest.approx(-148.5)


def test_effective_closing_does_not_depend_on_where_the_events_were_stated() -> None:
    assert effective_intake_closing_deg(MILD.at_lift(0.15)) == pytest.approx(-148.5)


def test_a_longer_duration_shuts_the_charge_in_later() -> None:
    longer = events_from_durations(230.0, 236.0, 107.0, 112.0, at_lift_mm=1.27)
    assert effective_intake_closing_deg(longer) == pytest.approx(-138.0)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"at_lift_mm": -0.1}, "at_lift_mm = -0.1: must be 0 or above"),
        ({"intake_opens_deg": float("nan")}, "intake_opens_deg = nan: must be a number"),
        (
            {"intake_opens_deg": -240.0},
            "intake_duration_deg = -10.0: must be above 0 and below 720 deg; "
            "opening plus closing plus 180 gives it; check the signs of the events",
        ),
        (
            {"exhaust_closes_deg": 600.0},
            "exhaust_duration_deg = 830.0: must be above 0 and below 720 deg; "
            "opening plus closing plus 180 gives it; check the signs of the events",
        ),
    ],
)
def test_events_of_no_camshaft_are_refused(change: dict[str, float], message: str) -> None:
    facts = {
        "intake_opens_deg": 10.0,
        "intake_closes_deg": 50.0,
        "exhaust_opens_deg": 50.0,
        "exhaust_closes_deg": 10.0,
        "at_lift_mm": 0.15,
    } | change
    with pytest.raises(PhysicsError) as refused:
        ValveEvents(**facts)
    assert str(refused.value) == message


@pytest.mark.parametrize(
    ("lift_mm", "acceleration", "message"),
    [
        (-1.0, 0.00175, "lift_mm = -1.0: must be 0 or above"),
        (0.5, 0.0, "acceleration_mm_per_deg2 = 0.0: must be above 0, or no valve opens"),
    ],
)
def test_a_lift_that_cannot_be_is_refused(lift_mm: float, acceleration: float, message: str) -> None:
    with pytest.raises(PhysicsError) as refused:
        MILD.at_lift(lift_mm, acceleration)
    assert str(refused.value) == message


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
