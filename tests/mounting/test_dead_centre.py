"""Top dead centre from readings on either side of it.

Sources: slider-crank geometry, solved here independently with SciPy; rows KI-11, KI-13, KI-15 (midpoint error
for a pin offset) and KI-16 (flat top) of the project's check values, which come from the same geometry.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from sparkwright.errors import Refusal
from sparkwright.mounting.dead_centre import HAND_DEG, DeadCentre, dead_centre
from sparkwright.mounting.mark_readings import ReadPair, mark_reading_deg, read_pairs
from sparkwright.mounting.throw import CrankThrow, pin_error_deg
from sparkwright.words.dead_centre import interval_words
from telling import action_of, sentence_of, sentences_of

THROW = CrankThrow(stroke_mm=91.9, rod_mm=154.0)


def pin_height_mm(crank_deg: float, offset_mm: float) -> float:
    """Height of the pin over the crank's centre, written out anew: the oracle of this file."""
    a, rod, angle = 45.95, 154.0, math.radians(crank_deg)
    return a * math.cos(angle) + math.sqrt(rod**2 - (a * math.sin(angle) - offset_mm) ** 2)


def true_top_deg(offset_mm: float) -> float:
    found = minimize_scalar(
        lambda x: -pin_height_mm(x, offset_mm), bounds=(-5, 5), method="bounded", options={"xatol": 1e-9}
    )
    return float(found.x)


def readings(mark_error_deg: float, drop_mm: float, offset_mm: float) -> ReadPair:
    """What a balancer shows with its mark so wrong, at a drop from the true top, by root finding."""
    top_deg = true_top_deg(offset_mm)
    wanted_mm = pin_height_mm(top_deg, offset_mm) - drop_mm
    early, late = (
        brentq(lambda x: pin_height_mm(x, offset_mm) - wanted_mm, *span, xtol=1e-12)
        for span in ((top_deg - 120, top_deg), (top_deg, top_deg + 120))
    )
    return ReadPair(mark_error_deg - (early - top_deg), mark_error_deg - (late - top_deg))


@pytest.mark.parametrize("offset_mm", [-1.5, 0.0, 0.8, 1.5])
@pytest.mark.parametrize("drop_mm", [0.5, 3.0, 6.35, 12.7])
@pytest.mark.parametrize("mark_error_deg", [-7.0, 0.0, 1.3])
def test_the_mark_error_is_found_back(offset_mm: float, drop_mm: float, mark_error_deg: float) -> None:
    throw = CrankThrow(91.9, 154.0, offset_mm)
    found = dead_centre([readings(mark_error_deg, drop_mm, offset_mm)], throw=throw)
    assert found.mark_error_deg == pytest.approx(mark_error_deg, abs=2e-4)  # the oracle's own minimum


@pytest.mark.parametrize(
    ("half_deg", "offset_mm", "error_deg"),
    [
        pytest.param(26.8313, 0.0, 0.0, id="KI-11"),
        pytest.param((27.2748 + 26.3869) / 2, 1.5, 0.0141, id="KI-13"),
        pytest.param((38.0905 + 39.0085) / 2, -1.5, -0.0292, id="KI-15"),
    ],
)
def test_pin_offset_moves_the_midpoint(half_deg: float, offset_mm: float, error_deg: float) -> None:
    assert pin_error_deg(half_deg, THROW, offset_mm) == pytest.approx(error_deg, abs=0.002)


def test_how_low_the_stop_held_the_piston() -> None:
    """KI-11: 6.35 mm below the top at 26.8313 deg to either side."""
    (pair,) = dead_centre([ReadPair(26.8313, -26.8313)], throw=THROW).pairs
    assert pair.drop_mm == pytest.approx(6.35, abs=0.001)


def test_the_flat_top_of_the_dial() -> None:
    """KI-16: 1.049 deg for 0.01 mm, within 1 %."""
    found = dead_centre([ReadPair(20.0, -20.0)], method="dial", throw=THROW, dial_step_mm=0.01)
    assert found.flat_top_deg == pytest.approx(1.049, rel=0.01)
    assert "the dial stands still over 1.0 deg to either side" in " ".join(sentences_of(found.findings))


@pytest.mark.parametrize("tries", [1, 2, 4])
def test_the_interval_covers_as_often_as_it_says(tries: int) -> None:
    """Readings with known truth, rounded to half a degree, with the stated share of the hand: 95 %."""
    random = np.random.default_rng(20300501)
    draws = 4000
    truth = random.uniform(-3.0, 3.0, draws)
    sides = np.array([1.0, -1.0]) * random.uniform(20.0, 35.0, (draws, tries, 1))
    seen = truth[:, None, None] + sides + random.normal(0.0, HAND_DEG, (draws, tries, 2))
    seen = np.round(seen * 2.0) / 2.0
    covered = 0
    for true_deg, pairs in zip(truth, seen, strict=True):
        found = dead_centre([ReadPair(*pair) for pair in pairs])
        covered += abs(found.mark_error_deg - true_deg) <= found.half_interval_deg
    assert 0.93 <= covered / draws <= 0.97


def test_more_scatter_than_reading_allows_widens_the_interval() -> None:
    steady = dead_centre([ReadPair(30.0, -30.0)] * 3)
    shaky = dead_centre([ReadPair(30.0, -30.0), ReadPair(31.0, -30.0), ReadPair(30.0, -31.4)])
    assert interval_words(steady) == "how finely pointer and dial are read"
    assert interval_words(shaky) == "the scatter of 3 tries"
    assert shaky.half_interval_deg > 3 * steady.half_interval_deg


def test_a_dial_reads_worse_near_the_top() -> None:
    high, low = (
        dead_centre([ReadPair(deg, -deg)], method="dial", throw=THROW, dial_step_mm=0.05, read_to_deg=0.1)
        for deg in (3.0, 40.0)
    )
    assert high.half_interval_deg > low.half_interval_deg


# What is said


def found_for(before: float, after: float, diameter_mm: float | None = None) -> DeadCentre:
    return dead_centre([ReadPair(before, after)], diameter_mm=diameter_mm)


def test_a_right_mark_is_left_alone() -> None:
    found = found_for(29.0, -28.5)
    assert (found.state, action_of(found.headline)) == ("good", "Use it as it is.")
    assert sentence_of(found.headline) == (
        "The mark is right: at true top dead centre it shows 0.2 deg before, within 0.4."
    )


def test_a_mark_that_is_off_and_where_to_put_the_true_one() -> None:
    """6 in of rim: 1.32994 mm a degree (KI-D6), so 1.5 deg are 2.0 mm."""
    found = found_for(30.0, -27.0, 152.4)
    assert found.state == "look"
    assert found.move_mark_mm == pytest.approx(1.5 * 1.32994, rel=1e-4)
    assert sentence_of(found.headline) == "At true top dead centre the mark shows 1.5 deg before, within 0.4."
    assert action_of(found.headline) == (
        "A light shows 1.5 deg more advance than there is. Put the true zero on the balancer 1.5 deg, 2.0 mm "
        "along the rim, from the old mark, in the direction of rotation."
    )
    assert "against the direction of rotation" in action_of(found_for(27.0, -30.0).headline)


def test_who_reads_inches_is_told_the_way_along_the_rim_in_inches() -> None:
    """By hand: 2.0 mm, 1.5 deg of a rim of 6 in, are 0.079 in."""
    found = found_for(30.0, -27.0, 152.4)
    assert "1.5 deg, 0.079 in along the rim, from the old mark" in action_of(found.headline, "inch")


def test_a_slipped_ring_is_named() -> None:
    found = found_for(20.0, -32.0)
    assert found.state == "problem"
    assert found.mark_error_deg == pytest.approx(-6.0)
    assert "how a slipped damper ring looks" in sentence_of(found.findings[0])


def test_a_ring_that_wanders_is_named() -> None:
    found = dead_centre([ReadPair(30.0, -30.0), ReadPair(33.0, -27.0)])
    assert (found.state, found.spread_deg) == ("problem", 3.0)
    assert (
        sentence_of(found.headline)
        == "The mark is somewhere else at each try, by 3.0 deg: it can't be trusted."
    )
    assert "replace the damper" in action_of(found.headline)


def test_what_is_not_known_is_told() -> None:
    assert "is not determined" in sentence_of(found_for(30.0, -30.0).warnings[0])
    stated = dead_centre([ReadPair(30.0, -30.0)], throw=THROW)
    assert sentence_of(stated.warnings[0]).startswith(
        "The pin offset is not stated and not counted; 1.5 mm would change"
    )
    assert stated.pin_doubt_deg == pytest.approx(0.019, abs=0.002)
    assert "One try only" in sentence_of(stated.warnings[-1])


def test_a_stop_too_high_or_too_low_is_told() -> None:
    assert "Lower it until" in " ".join(sentences_of(found_for(5.0, -5.0).findings))
    assert "The stop stands very low" in " ".join(sentences_of(found_for(75.0, -75.0).findings))


# Bad input


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("27 before", 27.0),
        ("27.5 BTDC", 27.5),
        ("31 after", -31.0),
        ("31\N{DEGREE SIGN} ATDC", -31.0),
        ("31 deg after", -31.0),
        (" 0 ", 0.0),
    ],
)
def test_readings_as_people_write_them(text: str, degrees: float) -> None:
    assert mark_reading_deg(text) == degrees


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "must start with a number"),
        ("before", "must start with a number"),
        ("300", "must be within half a turn"),
        ("nan", "must start with a number"),
        ("inf after", "must start with a number"),
        ("-27 before", "must not have both a minus and a side"),
        ("27 left", "no known unit"),
        ("5 mm before", "must come with the diameter of the rim"),
        ("2,5", "must say on which side"),
        ("x deg", "must start with a number"),
    ],
)
def test_readings_that_cannot_be_used(text: str, said: str) -> None:
    with pytest.raises(Refusal, match=said):
        mark_reading_deg(text)


@pytest.mark.parametrize("text", ["28", "-31", "+28", "28 deg", "40 mm", "\N{MINUS SIGN}31"])
def test_a_reading_that_names_no_side_is_refused_until_it_does(text: str) -> None:
    """28 and 31 at a stop are one before and one after far oftener than both before; nobody may guess."""
    bare = text.lstrip("-+\N{MINUS SIGN}")
    with pytest.raises(Refusal) as refusal:
        mark_reading_deg(text, 168.0)
    assert str(refusal.value) == (
        f'--stop = "{text}": must say on which side of the mark it was read, as each reading must; '
        f'write "{bare} before" or "{bare} after"'
    )
    assert mark_reading_deg("0") == 0.0, "the mark itself lies on no side"
    assert mark_reading_deg("27before") == mark_reading_deg(" 27  BTDC ") == 27.0


@given(
    text=st.text(max_size=30) | st.from_regex(r"-?[0-9.]{1,6} ?(mm|in|deg)? (before|after)", fullmatch=True)
)
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        reading_deg = mark_reading_deg(text, 168.0)
    except Refusal as refusal:
        reading_deg = 0.0
        field = refusal.problems[0].place
    else:
        field = "--stop"
    assert field == "--stop"
    assert -180.0 <= reading_deg <= 180.0


@pytest.mark.parametrize(
    ("readings_deg", "said"),
    [
        ([], "must be given twice for each try"),
        ([27.0], "must be given twice for each try"),
        ([27.0, -31.0, 27.0], "must be given twice for each try"),
        ([27.0, 27.0], "must lie well apart"),
        ([27.0, 28.0], "must lie well apart"),
        ([170.0, -170.0], "must be less than 240 deg apart"),
        ([27.0, math.nan], "must be numbers of degrees"),
        ([27.0, -31.0] * 21, "must be at most 20 pairs"),
    ],
)
def test_pairs_that_cannot_be_used(readings_deg: list[float], said: str) -> None:
    with pytest.raises(Refusal, match=said):
        read_pairs(readings_deg)


def test_the_refusal_in_full() -> None:
    with pytest.raises(Refusal) as refusal:
        read_pairs([27.0, 27.0])
    assert str(refusal.value) == (
        "--stop = 27 and 27: must lie well apart, one on either side of the top; write the one after the "
        'mark as "31 after"'
    )


def test_lengths_that_cannot_be() -> None:
    with pytest.raises(Refusal, match=r"rod = 40 mm \(1.575 in\): must be longer than half the stroke"):
        CrankThrow(88.0, 40.0)
    with pytest.raises(Refusal, match=r"stroke = 0 mm \(0.000 in\): must be a length above 0"):
        CrankThrow(0.0, 140.0)
    with pytest.raises(Refusal, match="pin offset = 30 mm"):
        CrankThrow(88.0, 140.0, 30.0)
    for wrong in ({"diameter_mm": 5.0}, {"read_to_deg": 0.0}, {"dial_step_mm": 5.0}):
        with pytest.raises(Refusal):
            dead_centre([ReadPair(27.0, -31.0)], **wrong)  # type: ignore[arg-type]
    with pytest.raises(Refusal, match="must come with stroke, rod and the dial's step"):
        dead_centre([ReadPair(27.0, -31.0)], method="dial")
    with pytest.raises(Refusal, match="must be at least one pair"):
        dead_centre([])


def test_two_readings_on_one_side_are_asked_about() -> None:
    """Somebody who leaves out a side must not go looking for a slipped ring first."""
    asked = "Both readings of a try lie on one side of the mark"
    assert asked in sentence_of(found_for(27.0, 31.0).findings[0])
    assert asked not in " ".join(sentences_of(found_for(27.0, -31.0).findings))
