"""Setting the distributor with the engine standing. Source: geometry, half crank speed."""

import math
import re

import pytest

from sparkwright.errors import Refusal
from sparkwright.ignition.rotor import Rotation
from sparkwright.job.sections.pickup import PickupKind
from sparkwright.mounting.static_setting import static_setting
from sparkwright.words.static_setting import side_words, steps
from telling import action_of, sentence_of, sentences_of


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("seen_deg", [4.0, 16.0])
def test_turning_as_told_brings_the_spark_to_base(rotation: Rotation, seen_deg: float) -> None:
    """Model of the thing itself: shaft angle = crank/2, it fires where the shaft meets the body's mark."""
    way = 1.0 if rotation == "clockwise" else -1.0  # bearings count clockwise
    body_at = way * -seen_deg / 2.0  # where the shaft stands when it fires now, from its place at the top
    found = static_setting(10.0, rotation, "hall", seen_deg=seen_deg, housing_diameter_mm=80.0)
    assert found.turn_distributor_deg is not None
    assert found.turn_mm is not None
    turned_way = found.earlier_way if found.turn_distributor_deg > 0.0 else found.later_way
    turned = abs(found.turn_distributor_deg) * (1.0 if turned_way == "clockwise" else -1.0)
    fires_at_crank_deg = 2.0 * way * (body_at + turned)  # after the top
    assert -fires_at_crank_deg == pytest.approx(10.0)
    assert abs(found.turn_mm) == pytest.approx(math.pi * 80.0 * abs(found.turn_distributor_deg) / 360.0)


def test_half_a_degree_of_body_for_one_of_crank() -> None:
    """By head: 80 mm across are 0.349 mm a crank degree, pi 80/720."""
    found = static_setting(10.0, "clockwise", "hall", housing_diameter_mm=80.0)
    assert found.mm_per_crank_deg == pytest.approx(math.pi * 80.0 / 720.0)


def test_a_wrong_mark_is_counted() -> None:
    """The mark shows 2 deg after at the true top: base 10 shows as 8, and a light that sees 8 sees base."""
    found = static_setting(10.0, "clockwise", "points", mark_error_deg=-2.0, seen_deg=8.0)
    assert (found.shown_deg, found.turn_crank_deg) == (8.0, 0.0)
    assert sentence_of(found.headline) == (
        "The pickup must fire cylinder 1 with the balancer showing 8 deg before top dead centre."
    )
    assert action_of(found.headline) == "It stands right: leave the body where it is."


def test_what_to_do_in_a_sentence() -> None:
    early = static_setting(10.0, "clockwise", "points", seen_deg=4.0, housing_diameter_mm=80.0)
    assert action_of(early.headline) == (
        "Turn the body anticlockwise seen from above, against the rotor, by 3.0 deg, 2.1 mm at its rim: the "
        "spark comes 6.0 crank deg earlier."
    )
    late = static_setting(10.0, "anticlockwise", "points", seen_deg=13.0)
    assert action_of(late.headline) == (
        "Turn the body anticlockwise seen from above, the way the rotor turns, by 1.5 deg: the spark "
        "comes 3.0 crank deg later."
    )


def test_what_is_not_known_is_not_zero() -> None:
    found = static_setting(10.0, "clockwise", "points")
    assert (found.mm_per_crank_deg, found.turn_crank_deg, found.turn_mm) == (None, None, None)
    assert sentences_of(found.warnings) == (
        "The balancer's mark is taken as right, and nobody proved it: find true top dead centre first.",
        "mm at the housing's rim: not determined, since its diameter is not stated.",
    )


@pytest.mark.parametrize(
    ("pickup", "said"),
    [("points", "test lamp"), ("hall", "voltmeter"), ("two-wire", "gives nothing at rest")],
)
def test_each_pickup_has_its_own_step(pickup: PickupKind, said: str) -> None:
    assert said in " ".join(steps(static_setting(10.0, "clockwise", pickup)))


def test_a_phased_rotor_stands_beside_its_post() -> None:
    ahead = static_setting(10.0, "clockwise", "hall", tip_ahead_distributor_deg=6.0)
    assert "the tip must stand 6.0 distributor deg past the middle of post 1" in steps(ahead)[2]
    assert "the tip must stand at the middle of post 1" in steps(static_setting(10.0, "clockwise", "hall"))[2]


def test_sides_in_words() -> None:
    assert side_words(-0.04) == "top dead centre"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"housing_diameter_mm": 5.0},
            "housing diameter = 5 mm (0.197 in): must be 20 mm to 300 mm (0.788 in to 11.811 in)",
        ),
        ({"mark_error_deg": 60.0}, "mark error = 60 deg: must be -40 to 40 deg"),
        ({"seen_deg": 120.0}, "seen = 120 deg: must be -90 to 90 deg"),
        ({"seen_deg": math.nan}, "seen = nan deg"),
    ],
)
def test_values_that_cannot_be(change: dict[str, float], said: str) -> None:
    with pytest.raises(Refusal, match=re.escape(said)):
        static_setting(10.0, "clockwise", "hall", **change)
