"""Old mechanical and vacuum curves, by hand."""

import numpy as np
import pytest

from planning_jobs import BOOSTED_SIX, PUMP_HOUSE
from sparkwright.plan.old_curve import compare_old, old_map
from telling import sentences_of

RPM, KPA = np.array([1000.0, 2000.0]), np.array([40.0, 80.0])
NONE = np.full((2, 2), np.nan)
INHG_KPA = 3.386389
"""Conventional inch of mercury, NIST SP 811 (2008), appendix B.8."""


def test_no_curve_no_map() -> None:
    assert old_map(BOOSTED_SIX, RPM, KPA, 100.0) is None


def test_mechanical_curve_by_hand() -> None:
    """6 initial; 0 at 700, 10 at 1500, 20 at 2500, 26 at 3800 rpm; at the site's pressure no vacuum."""
    rpm = np.array([400.0, 700.0, 1100.0, 1500.0, 2000.0, 3150.0, 3800.0, 5000.0])
    found = old_map(PUMP_HOUSE, rpm, np.array([85.0]), 85.0)
    assert found is not None
    np.testing.assert_allclose(found[0], [6, 6, 11, 16, 21, 29, 32, 32], atol=1e-12)


def test_vacuum_curve_by_hand() -> None:
    """0 deg at 5 inHg, 14 deg at 12 inHg, held beyond; nothing is added above the site's pressure."""
    vacuum_inhg = np.array([-5.0, 0.0, 3.0, 5.0, 8.5, 12.0, 20.0])
    kpa = (85.0 - INHG_KPA * vacuum_inhg)[::-1]
    found = old_map(PUMP_HOUSE, np.array([700.0]), kpa, 85.0)
    assert found is not None
    np.testing.assert_allclose(found[::-1, 0] - 6.0, [0.0, 0.0, 0.0, 0.0, 7.0, 14.0, 14.0], atol=2e-5)


def test_mechanical_alone() -> None:
    plain = PUMP_HOUSE.changed("old_curve", vacuum=None)
    found = old_map(plain, np.array([1500.0]), np.array([30.0, 85.0]), 85.0)
    assert found is not None
    assert found.tolist() == [[16.0], [16.0]]


def test_late_and_over_knock_are_told_with_their_places() -> None:
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    plan = np.array([[16.0, 22.0], [9.0, 25.0]])
    knock = np.array([[np.nan, 40.0], [9.2, 26.0]])
    found = compare_old(old, plan, knock, RPM, KPA)
    assert found.short_deg.tolist() == [[6.0, 2.0], [0.0, 0.0]]
    np.testing.assert_allclose(found.over_knock_deg, np.array([[0.0, 0.0], [2.8, 0.0]]))
    assert sentences_of(found.findings) == (
        "The old curves were late where the engine works: by 6 deg at 1,000 rpm and 40 kPa, where it counts "
        "most, and by 2.0 deg on average.",
        "They stood up to 3 deg over the knock ceiling, margin included, most at 1,000 rpm and 80 kPa.",
    )


def test_close_curves_are_told_to_be_close() -> None:
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    found = compare_old(old, old + 0.5, NONE, RPM, KPA)
    assert sentences_of(found.findings) == ("The old curves lay close to the plan.",)


def test_where_a_fuel_knocks_at_any_advance_no_number_is_made_up() -> None:
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    knock = np.array([[np.nan, np.nan], [-np.inf, 24.0]])
    found = compare_old(old, old, knock, RPM, KPA)
    assert np.isposinf(found.over_knock_deg[1, 0])
    assert sentences_of(found.findings) == (
        "They stood up to 1 deg over the knock ceiling, margin included, most at 2,000 rpm and 80 kPa.",
        "This fuel knocks at any advance in 1 of 4 cells, the first at 1,000 rpm and 80 kPa.",
    )


@pytest.mark.parametrize("short_by", [0.99, 1.0])
def test_a_degree_is_where_late_begins(short_by: float) -> None:
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    found = compare_old(old, old + short_by, NONE, RPM, KPA)
    assert ("late" in sentences_of(found.findings)[0]) == (short_by >= 1.0)


def test_the_old_curves_are_judged_only_where_a_running_engine_comes() -> None:
    """Of four cells one is not met: it counts neither as knocking nor among the cells."""
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    knock = np.array([[-np.inf, np.nan], [-np.inf, np.nan]])
    met = np.array([[False, True], [True, True]])
    later = old + np.array([[9.0, 0.0], [0.0, 0.0]])
    found = compare_old(old, later, knock, RPM, KPA, met)
    assert sentences_of(found.findings) == (
        "This fuel knocks at any advance in 1 of 3 cells, the first at 1,000 rpm and 80 kPa.",
    )


def test_degrees_late_weigh_as_much_as_the_engine_works_there() -> None:
    """By hand: 22 deg late where it is dragged, 8 where it pulls 300 N m, 12 where it pulls 100."""
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    later = old + np.array([[22.0, 12.0], [0.0, 8.0]])
    pull_nm = np.array([[0.0, 100.0], [200.0, 300.0]])
    (late,) = compare_old(old, later, NONE, RPM, KPA, np.full((2, 2), True), pull_nm).findings
    assert late.numbers == {"late_deg": 8.0, "mean_deg": pytest.approx(6.0), "rpm": 2000.0, "kpa": 80.0}


def test_late_only_where_the_engine_is_dragged_is_close() -> None:
    old = np.array([[10.0, 20.0], [12.0, 25.0]])
    later = old + np.array([[22.0, 0.0], [0.0, 0.0]])
    pull_nm = np.array([[0.0, 100.0], [200.0, 300.0]])
    found = compare_old(old, later, NONE, RPM, KPA, None, pull_nm)
    assert sentences_of(found.findings) == ("The old curves lay close to the plan.",)
