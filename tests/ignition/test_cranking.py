"""Several sparks while cranking: times become crank degrees by definition, places by geometry."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import PhysicsError
from sparkwright.ignition.cranking import crank_deg_turned, cranking_sparks
from sparkwright.ignition.rotor import RotorCap

CAP = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)


@pytest.mark.parametrize(("speed_rpm", "degrees"), [(3000.0, 0.9), (6000.0, 1.8)])
def test_ki_r2_a_time_in_degrees(speed_rpm: float, degrees: float) -> None:
    """KI-R2, definition 6 N t, 0.1 %: 50 us."""
    assert crank_deg_turned(speed_rpm, 0.05) == pytest.approx(degrees, rel=1e-3)


def test_sparks_by_head() -> None:
    """At 200 rpm the crank turns 1.2 deg a millisecond."""
    sparks = cranking_sparks(CAP, first_advance_deg=10.0, sparks=4, spacing_ms=5.0, speed_rpm=200.0)
    assert [spark.number for spark in sparks] == [1, 2, 3, 4]
    assert [spark.time_ms for spark in sparks] == pytest.approx([0.0, 5.0, 10.0, 15.0])
    assert [spark.advance_deg for spark in sparks] == pytest.approx([10.0, 4.0, -2.0, -8.0])


def test_where_the_post_and_the_cylinder_are_lost() -> None:
    """The unphased tip leaves its post 16.6 crank deg after base; half a pitch is 45 crank deg."""
    sparks = cranking_sparks(CAP, first_advance_deg=10.0, sparks=6, spacing_ms=10.0, speed_rpm=150.0)
    late_deg = [10.0 - spark.advance_deg for spark in sparks]
    assert late_deg == pytest.approx([0.0, 9.0, 18.0, 27.0, 36.0, 45.0])
    assert [spark.under_post for spark in sparks] == [True, True, False, False, False, False]
    assert [spark.right_cylinder for spark in sparks] == [True, True, True, True, True, False]


@given(st.floats(60.0, 400.0), st.floats(0.5, 15.0), st.integers(1, 8), st.floats(0.0, 10.0))
def test_a_phase_ahead_and_its_advance_cancel(
    speed_rpm: float, spacing_ms: float, sparks: int, phase_deg: float
) -> None:
    """A tip moved ahead and sparks made earlier by twice that fall alike on the post."""
    ahead = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0, phase_distributor_deg=phase_deg)
    today = cranking_sparks(
        CAP, first_advance_deg=10.0, sparks=sparks, spacing_ms=spacing_ms, speed_rpm=speed_rpm
    )
    moved = cranking_sparks(
        ahead,
        first_advance_deg=10.0 + 2 * phase_deg,
        sparks=sparks,
        spacing_ms=spacing_ms,
        speed_rpm=speed_rpm,
    )
    for one, other in zip(today, moved, strict=True):
        one_deg = CAP.offset_distributor_deg(one.advance_deg)
        assert ahead.offset_distributor_deg(other.advance_deg) == pytest.approx(one_deg, abs=1e-9)


def test_refusals() -> None:
    with pytest.raises(PhysicsError, match=r"^sparks = 0: must be at least 1$"):
        cranking_sparks(CAP, first_advance_deg=10.0, sparks=0, spacing_ms=5.0, speed_rpm=180.0)
    with pytest.raises(PhysicsError, match=r"^spacing_ms = 0.0: must be above 0$"):
        cranking_sparks(CAP, first_advance_deg=10.0, sparks=1, spacing_ms=0.0, speed_rpm=180.0)
    with pytest.raises(PhysicsError, match=r"^speed_rpm = -1.0: must be above 0$"):
        cranking_sparks(CAP, first_advance_deg=10.0, sparks=1, spacing_ms=5.0, speed_rpm=-1.0)
