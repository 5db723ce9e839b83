"""What the fixed-advance check says of constructed engines whose truth is known.

Which cause goes with which picture is common practice, no source; the numbers in the sentences are checked
against the truth that the readings were made from.
"""

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparkwright.errors import Refusal
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.light.bench import Bench, bench_of
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import CAUTIONS, LightResult, check_light
from sparkwright.plan.point import point
from sparkwright.words.light_findings import DONE
from telling import action_of, first_act, sentence_of, topic_of
from test_light_fit import SPEEDS, moved, readings, varied

JOB = Job.from_toml((Path(__file__).parents[1] / "data" / "bench.toml").read_text(encoding="utf-8"))
BENCH = replace(bench_of(JOB, hold_deg=30.0), most_deg=30.0)
TRUE = readings(lambda rpm: 30.0)


def judged(taken: Sequence[Reading], bench: Bench = BENCH) -> LightResult:
    return check_light(JOB, taken, bench)


def finding(result: LightResult, topic: str) -> Finding:
    (found,) = [each for each in result.findings if topic_of(each) == topic]
    return found


def exact(seen: Callable[[float], float], speeds: Sequence[float] = SPEEDS) -> list[Reading]:
    return [Reading(30, rpm, seen(rpm), 0.5) for rpm in speeds]


# Proof


def test_proof_of_agreement() -> None:
    result = judged(TRUE)
    assert result.state == "good"
    assert re.fullmatch(
        r"Commanded and seen agree within 0\.\d deg over 1,000 to 4,000 rpm with 95 % confidence\.",
        sentence_of(result.headline),
    )
    assert first_act(result) == DONE
    assert result.proof.proven
    assert result.proof.within_deg is not None
    assert result.proof.within_deg < 1.0
    assert (result.problems, result.next_readings) == ((), ())
    assert result.cautions == CAUTIONS


def test_nothing_read_yet() -> None:
    result = judged([])
    assert (result.state, sentence_of(result.headline)) == ("open", "Nothing has been read yet.")
    assert first_act(result) == "Take reading 1 of 6."
    assert sentence_of(result.proof.finding) == "Not proved: no reading was taken."
    assert result.fit is None


def test_six_readings_are_asked_for_evenly_over_the_speeds() -> None:
    """Both ends first; each that follows as far from those before as can be."""
    asked = judged([]).next_readings
    assert [each.speed_rpm for each in asked] == [2000.0, 4000.0, 2800.0, 2400.0, 3200.0, 3600.0]
    assert {each.commanded_deg for each in asked} == {30.0}
    taken = [Reading(30, rpm, 30, 2.0) for rpm in (4000.0, 1500.0, 2800.0)]
    left = judged(taken)
    assert [each.speed_rpm for each in left.next_readings] == [2000.0, 2400.0, 3200.0]
    assert first_act(left) == "Take reading 4 of 6."
    assert left.state == "open"


def test_a_slow_engine_is_read_at_speeds_of_its_own() -> None:
    slow = replace(BENCH, low_rpm=900.0, high_rpm=1900.0).speeds_rpm
    assert slow == (900.0, 1900.0, 1100.0, 1300.0, 1500.0, 1700.0)


def test_one_reading_only() -> None:
    result = judged([Reading(30, 2000, 29)])
    assert sentence_of(result.headline) == (
        "At 2,000 rpm the light shows 29 deg where 30 is commanded. One reading can't say why; offset and "
        "delay "
        "are not determined."
    )
    assert sentence_of(result.proof.finding).endswith("and it was read at no other speed.")
    assert result.next_readings[0].speed_rpm == 4000.0
    assert sentence_of(result.next_readings[0].why) == "the other end: parts a delay from an offset"


def test_two_good_readings_are_not_yet_a_proof() -> None:
    result = judged([Reading(30, 2000, 30), Reading(30, 4000, 30)])
    assert result.state == "open"
    assert sentence_of(result.proof.finding) == (
        "Not proved: 2 readings can't check one another. If both are good, commanded and seen agree within "
        "0.9 deg over 2,000 to 4,000 rpm with 95 % confidence."
    )
    assert result.next_readings[0].speed_rpm == 2800.0
    assert sentence_of(result.next_readings[0].why) == "lets the readings check one another"
    assert finding(result, "scatter").state == "open"


def test_coarse_marks_prove_less_and_the_next_reading_says_what_it_brings() -> None:
    taken = [Reading(30, rpm, 30, 3.0) for rpm in (2000, 2400, 2800, 3200, 3600, 4000)]
    result = judged(taken)
    assert result.state == "look"
    assert sentence_of(result.proof.finding) == (
        "Not proved: commanded and seen may differ by 1.5 deg over 2,000 to 4,000 rpm with 95 % "
        "confidence; 1 is "
        "wanted."
    )
    assert first_act(result) == "Take the next reading."
    following = result.next_readings[0]
    promised = re.fullmatch(
        r"if it shows what these readings expect, the agreement is known to (\d\.\d) deg",
        sentence_of(following.why),
    )
    assert promised is not None
    with_it = judged([*taken, Reading(30, following.speed_rpm, 30, 3.0, note="again")])
    before, after = result.proof.within_deg, with_it.proof.within_deg
    assert after == pytest.approx(float(promised[1]), abs=0.05)
    assert before is not None
    assert after is not None
    assert after < before


def test_a_wider_agreement_may_be_asked_for() -> None:
    taken = [Reading(30, rpm, 30, 2.0) for rpm in (2000, 3000, 4000)]
    assert judged(taken, replace(BENCH, agreement_deg=1.5)).proof.proven


# What to turn and what to set


@pytest.mark.parametrize(
    ("rotation", "offset_deg", "way"),
    [
        ("clockwise", -4.0, "anticlockwise seen from above, against the rotor"),
        ("clockwise", 4.0, "clockwise seen from above, the way the rotor turns"),
        ("anticlockwise", -4.0, "clockwise seen from above, against the rotor"),
        ("anticlockwise", 4.0, "anticlockwise seen from above, the way the rotor turns"),
    ],
)
def test_the_body_is_turned_half_as_far_and_against_rotation_for_earlier(
    rotation: str, offset_deg: float, way: str
) -> None:
    """The reluctor turns with the shaft: a pickup moved to meet it fires earlier; 4 crank deg are 2 of it.

    By hand: pi * 72 mm * 2 / 360 = 1.26 mm.
    """
    bench = replace(BENCH, rotation=rotation, housing_diameter_mm=72.0)
    result = judged(exact(lambda rpm: 30.0 + offset_deg), bench)
    assert first_act(result) == (
        "Prove top dead centre at the piston. If the mark is right: stop the engine, loosen the clamp, and "
        "turn the distributor's body 4.0 crank deg, 2.0 deg of its "
        "own, "
        f"{way}, 1.3 mm at its rim of 72 mm; tighten, and read again."
    )
    late = "early" if offset_deg > 0 else "late"
    assert sentence_of(result.headline).startswith(f"The spark comes 4.0 deg {late} at every speed")
    assert "prove top dead centre first" in sentence_of(result.headline)
    assert result.problems == (result.headline,)


def test_an_offset_is_told_where_it_was_read_and_not_at_no_speed_at_all() -> None:
    """4 to 5 deg late at every speed read: by hand 4.5 in the middle, which is what the body has to turn."""
    rows = [(1000, 26.0), (2000, 25.5), (3000, 25.5), (4000, 25.0)]
    result = judged([Reading(30, speed, seen) for speed, seen in rows])
    assert result.fit is not None
    assert result.fit.offset_deg is not None
    assert abs(result.fit.offset_deg.value) < 4.0
    assert sentence_of(result.headline).startswith("The spark comes 4.5 deg late at every speed, -4.5 deg")


def test_a_proved_mark_leaves_the_body() -> None:
    result = judged(exact(lambda rpm: 27.0), replace(BENCH, top_dead_centre_proved=True))
    assert first_act(result).startswith("Stop the engine, loosen the clamp")
    assert "The mark was proved, so it is the distributor's body." in sentence_of(result.headline)


def test_a_housing_not_measured_is_assumed_and_said() -> None:
    result = judged(exact(lambda rpm: 27.0))
    assert "0.9 mm at its rim if that is 70 mm across" in first_act(result)
    assert [each.field for each in result.assumed] == ["light.hand", "distributor.housing_diameter"]
    assert result.assumed[1].value == "70 mm"


def test_a_delay_is_set_in_the_controller() -> None:
    result = judged(exact(lambda rpm: 30.0 - 6e-6 * rpm * 100.0))
    assert sentence_of(result.headline).startswith(
        "The spark falls back 1.8 deg from 1,000 to 4,000 rpm: a delay of 100 us"
    )
    assert first_act(result) == "Set the delay in the controller to 100 us."
    assert result.state == "look"
    more = judged(exact(lambda rpm: 30.0 - 6e-6 * rpm * 100.0), replace(BENCH, delay_set_us=40.0))
    assert first_act(more) == "Set the delay in the controller to 140 us (100 more than the 40 it has)."


def test_one_thing_is_done_before_all_is_read_again() -> None:
    """2 deg late beside a delay of 100 us: 3.5 deg late at 2,500 rpm, by hand 2 + 6e-6 * 2500 * 100."""
    result = judged(exact(lambda rpm: 28.0 - 6e-6 * rpm * 100.0))
    assert first_act(result) == "Set the delay in the controller to 100 us."
    assert sentence_of(result.headline).startswith("The spark falls back 1.8 deg from 1,000 to 4,000 rpm")
    told = finding(result, "offset")
    assert (told.state, action_of(told)) == ("problem", "")
    assert sentence_of(told).startswith(
        "In the middle of the speeds read the spark is -3.5 deg off. Reckoned back to 0 rpm, far from any "
        "reading, an offset of -2.0 deg ("
    )
    assert sentence_of(told).endswith(
        "is left: it is judged once what changes with speed is put right and all is read again."
    )
    assert [topic_of(each) for each in result.findings if action_of(each)] == ["delay"]
    assert sentence_of(result.next_readings[0].why) == "after the change: starts a new list"


def test_a_spark_right_in_the_middle_of_the_speeds_has_no_offset_to_turn_out() -> None:
    """30.9 deg at 1,000 rpm and 29.1 at 4,000, by construction right at 2,500."""
    told = finding(judged(exact(lambda rpm: 30.0 - 6e-6 * (rpm - 2500.0) * 100.0)), "offset")
    assert (told.state, action_of(told)) == ("open", "")
    assert sentence_of(told).startswith("In the middle of the speeds read the spark is 0.0 deg off.")


def test_pickup_wires_are_swapped_before_the_body_is_turned() -> None:
    bench = replace(BENCH, pickup="two-wire", polarity_checked=None, top_dead_centre_proved=True)
    result = judged(readings(lambda rpm: 26.0 - 6e-6 * rpm * 700.0), bench)
    assert first_act(result).startswith("Stop the engine and swap the two wires of the pickup")
    assert not any("turn the distributor's body" in action_of(each) for each in result.findings)


@pytest.mark.parametrize(
    ("wanted_deg", "said"),
    [(1.0, "1.02 deg"), (1.02, "1.021 deg"), (0.9, "1.0 deg")],
)
def test_a_bound_just_above_what_is_wanted_shows_that_it_is(wanted_deg: float, said: str) -> None:
    """Six clean readings, marks of 2 deg: by hand 2.2414 * hypot(2 / sqrt(12), 0.25) * sqrt(0.524)."""
    taken = [Reading(30, rpm, 30, 2.0) for rpm in (2000, 2400, 2800, 3200, 3600, 4000)]
    result = judged(taken, replace(BENCH, agreement_deg=wanted_deg))
    assert result.proof.within_deg == pytest.approx(
        2.241403 * math.hypot(2.0 / math.sqrt(12.0), 0.25) * math.sqrt(1.0 / 6.0 + 25.0 / 70.0), rel=1e-5
    )
    assert f"may differ by {said} over" in sentence_of(result.proof.finding)
    assert sentence_of(result.proof.finding).endswith(f"{wanted_deg:g} is wanted.")


def test_a_delay_made_up_for_too_much() -> None:
    result = judged(exact(lambda rpm: 30.0 + 6e-6 * rpm * 80.0), replace(BENCH, delay_set_us=120.0))
    assert "the delay set in the controller, 120 us, makes up for too much" in sentence_of(result.headline)
    assert first_act(result) == "Set the delay in the controller to 40 us, and read again."


@pytest.mark.parametrize(
    ("pickup", "checked", "said"),
    [
        ("two-wire", None, "Stop the engine and swap the two wires of the pickup"),
        ("two-wire", True, "Prove the pickup's polarity once more"),
        ("hall", None, "Look at which edge of the signal the controller fires on"),
    ],
)
def test_far_too_long_a_delay_is_the_pickup(pickup: str, checked: bool | None, said: str) -> None:
    bench = replace(BENCH, pickup=pickup, polarity_checked=checked)
    result = judged(readings(lambda rpm: 30.0 - 6e-6 * rpm * 700.0), bench)
    assert result.state == "problem"
    assert "Pickup, driver and light together take far less." in sentence_of(result.headline)
    assert first_act(result).startswith(said)


@pytest.mark.parametrize("advance", ["locked", "free"])
def test_a_spark_that_comes_earlier_with_speed_is_a_mechanical_advance(advance: str) -> None:
    bench = replace(BENCH, mechanical_advance=advance)
    result = judged(exact(lambda rpm: 30.0 + 0.004 * (rpm - 1000.0)), bench)
    assert (
        sentence_of(result.headline)
        == "The spark comes 12.0 deg earlier from 1,000 to 4,000 rpm; no delay does that."
    )
    assert f"the job says it is {advance}" in first_act(result)
    grown = judged(readings(lambda rpm: 30.0 + min(20.0, max(0.0, 0.01 * (rpm - 1000.0)))), bench)
    assert "twist the rotor against the shaft" in first_act(grown)


def test_offset_or_delay_when_readings_can_not_tell() -> None:
    result = judged([Reading(30, 2000, 29), Reading(30, 4000, 28)])
    told = finding(result, "offset or delay")
    assert sentence_of(told).startswith("At 4,000 rpm the spark comes 2.0 deg late")
    assert sentence_of(told).endswith("whether by an offset or by a delay, these readings can't tell.")
    assert {finding(result, topic).state for topic in ("offset", "delay")} == {"open"}


# Few readings, one of them wrong


HANDS = re.compile(r"stop the engine|loosen|turn the|swap|twist|set the delay", re.IGNORECASE)


def handed(result: LightResult) -> bool:
    """Whether anything that is said to be done puts a hand on the engine or its controller."""
    return any(
        HANDS.search(text) for text in (first_act(result), *(action_of(each) for each in result.findings))
    )


@pytest.mark.parametrize("count", [4, 5])
@pytest.mark.parametrize("size_deg", [-6.0, -3.0, -2.0, 2.0, 3.0, 6.0])
def test_one_wrong_reading_among_four_or_five_never_takes_the_distributor_apart(
    count: int, size_deg: float
) -> None:
    """A good engine, read without any other error; whichever reading is wrong."""
    speeds = [2000.0 + 2000.0 * place / (count - 1) for place in range(count)]
    for wrong in range(count):
        taken = [Reading(30, rpm, 30.0 + size_deg * (place == wrong)) for place, rpm in enumerate(speeds)]
        result = judged(taken)
        assert not result.proof.proven or (result.fit is not None and result.fit.left_out == wrong)
        assert not handed(result), first_act(result)
        assert "drift" not in {topic_of(each) for each in result.findings}


def test_a_speed_read_again_lets_a_bend_be_told_among_five() -> None:
    """One deg at 2,000 rpm, 4 at 3,000 and 9 at 4,000, read twice there: a parabola by construction."""
    rows = ((1000, 30, ""), (2000, 31, ""), (3000, 34, ""), (4000, 39, ""), (4000, 39, "again"))
    taken = [Reading(30, rpm, seen, 0.5, note=note) for rpm, seen, note in rows]
    assert "bends with speed" in sentence_of(finding(judged(taken), "drift"))
    assert "drift" not in {topic_of(each) for each in judged(taken[:4]).findings}


def test_one_wrong_reading_is_no_bend_though_another_was_read_again() -> None:
    rows = ((1000, 33, ""), (2000, 30, ""), (3000, 30, ""), (4000, 30, ""), (4000, 30, "again"))
    result = judged([Reading(30, rpm, seen, 0.5, note=note) for rpm, seen, note in rows])
    assert "drift" not in {topic_of(each) for each in result.findings}
    assert not handed(result)


def test_a_large_offset_is_acted_on_from_three_readings() -> None:
    result = judged([Reading(30, rpm, 26) for rpm in (2000, 3000, 4000)])
    assert "turn the distributor's body 4.0 crank deg" in first_act(result)


def test_scatter_of_few_readings_asks_for_more_and_not_for_a_wrench() -> None:
    seen = (30.0, 33.0, 27.0, 33.0, 28.0)
    taken = [Reading(30, rpm, each, 0.5) for rpm, each in zip(range(2000, 4500, 500), seen, strict=True)]
    result = judged(taken)
    told = finding(result, "scatter")
    assert sentence_of(told).endswith("Among so few readings one that is wrong may do this.")
    assert (action_of(told), first_act(result)) == ("", "Take reading 6 of 6.")


# Drift, scatter, blunders


def test_a_step_is_told_with_its_speed() -> None:
    result = judged(exact(lambda rpm: 30.0 - 3.0 * (rpm > 2200)))
    assert sentence_of(result.headline).startswith(
        "Above about 2,250 rpm the light reads 3.0 deg less than below"
    )
    assert "A delay in time makes a straight line, so this is something else." in sentence_of(result.headline)
    assert not result.proof.proven


def test_slack_makes_scatter() -> None:
    taken = readings(lambda rpm: 30.0, speeds=SPEEDS * 3, noise_deg=1.5, seed=4)
    result = judged([replace(each, note=str(place)) for place, each in enumerate(taken)])
    told = finding(result, "scatter")
    assert told.state == "look"
    assert "intervals were widened to it" in sentence_of(told)
    assert "slack in timing chain, distributor gear and shaft" in action_of(told)


def test_a_blunder_is_named_and_asked_for_again() -> None:
    taken = list(TRUE)
    taken[3] = replace(taken[3], seen_deg=35.0)
    result = judged(taken)
    told = finding(result, "one reading")
    assert sentence_of(told).startswith("In line 4 (2,500 rpm, 35 deg seen) the reading is +")
    assert sentence_of(told).endswith("It was left out.")
    assert result.proof.proven
    assert result.state == "look"
    assert sentence_of(result.next_readings[0].why) == "again, in place of line 4 (2,500 rpm, 35 deg seen)"


def test_a_blunder_among_three_is_not_laid_on_one() -> None:
    result = judged([Reading(30, 1000, 30), Reading(30, 2000, 35), Reading(30, 3000, 30)])
    assert sentence_of(result.headline) == (
        "One of these readings is off, and the others can't tell which: line 1 (1,000 rpm, 30 deg seen), "
        "line 2 "
        "(2,000 rpm, 35 deg seen), line 3 (3,000 rpm, 30 deg seen). The intervals cover every choice."
    )
    assert [each.speed_rpm for each in result.next_readings] == [1000.0, 2000.0, 3000.0]
    assert not result.proof.proven


def test_two_settings_are_not_fitted_together() -> None:
    result = judged(readings(lambda rpm: 30.0) + readings(lambda rpm: 34.0, seed=1))
    assert sentence_of(result.headline).startswith(
        "These look like readings of two settings: from line 8 (1,000 rpm, 34"
    )
    assert result.fit is None
    assert sentence_of(result.proof.finding) == "Not proved: these readings must not be fitted together."
    assert "say so in the column sweep" in first_act(result)


# What else was varied


def test_rising_and_falling_speed() -> None:
    good = judged(varied(sweep=["rising", "falling"]))
    assert sentence_of(finding(good, "rising and falling")).startswith(
        "Rising and falling speed agree within 0."
    )
    off = moved(varied(sweep=["rising", "falling"]), lambda each: 1.0 if each.sweep == "rising" else -1.0)
    told = finding(judged(off), "rising and falling")
    assert sentence_of(told).startswith("With speed rising the spark reads 2.")
    assert not judged(off).proof.proven


def test_a_cylinder_that_is_off() -> None:
    good = judged(varied(cylinder=[1, 3, 5]))
    assert sentence_of(finding(good, "cylinders")).startswith("The 3 cylinders read agree within 0.")
    result = judged(moved(varied(cylinder=[1, 3, 5]), lambda each: 3.0 * (each.cylinder == 5)))
    assert sentence_of(result.headline).startswith("Cylinder 5 fires ")
    assert "earlier than the others" in sentence_of(result.headline)
    assert "Prove that cylinder's mark first" in first_act(result)


def test_low_battery() -> None:
    good = judged(varied(battery_v=[14.0, 10.0]))
    assert finding(good, "low battery").state == "good"
    off = moved(
        varied(battery_v=[14.0, 10.0]),
        lambda each: -6e-6 * each.speed_rpm * 40.0 * (14.0 - (each.battery_v or 0.0)),
    )
    told = finding(judged(off), "low battery")
    assert re.match(
        r"The delay grows (3[5-9]|4[0-5]) us for each volt that the battery falls", sentence_of(told)
    )
    assert "Look at the dwell for low voltage" in action_of(told)
    assert not judged(off).proof.proven
    other = finding(judged(off, replace(BENCH, driver="capacitive")), "low battery")
    assert "its capacitor may not be charged in time" in action_of(other)


def swept(seen: Callable[[float], float]) -> list[Reading]:
    return [Reading(command, rpm, seen(command), 0.5) for command in (10, 20, 30) for rpm in (1500.0, 3000.0)]


def test_commands_that_move() -> None:
    told = finding(judged(swept(lambda command: command)), "command")
    assert re.fullmatch(
        r"The spark follows the command: 1\.00 deg for each degree commanded \(0\.9\d to 1\.0\d\)\.",
        sentence_of(told),
    )
    half = judged(swept(lambda command: command / 2.0))
    assert "So near to half it is the light" in sentence_of(half.headline)
    assert [topic_of(each) for each in half.findings] == ["command"], "nothing to turn while in doubt"
    dead = judged(swept(lambda command: 12.0))
    assert sentence_of(dead.headline).startswith(
        "The spark hardly follows the command: 0.00 deg for each degree commanded"
    )
    trimmed = judged(swept(lambda command: 0.8 * command))
    assert "Look for a trim or a limit in the controller" in first_act(trimmed)


@pytest.mark.parametrize(("shown", "times", "moves"), [(15.0, "half", 5), (60.0, "twice", 20)])
def test_one_command_read_as_half_or_twice_stays_open(shown: float, times: str, moves: int) -> None:
    result = judged(exact(lambda rpm: shown))
    assert sentence_of(result.headline).startswith(f"All readings show {times} of what was commanded.")
    assert f"a fooled light then moves by {moves} deg, a spark that is off by 10" in first_act(result)
    assert result.next_readings[0].commanded_deg == 20.0
    assert [topic_of(each) for each in result.findings] == ["light or offset"]


def test_a_light_fooled_at_some_speeds() -> None:
    low = judged([replace(each, seen_deg=60.0) if each.speed_rpm < 2000 else each for each in TRUE])
    assert sentence_of(low.headline).startswith(
        "Near twice of what was commanded was seen in line 1 (1,000 rpm, 60 deg seen), line 2 (1,500 rpm, "
        "60 deg "
        "seen), while the others agree."
    )
    assert "sees each spark twice" in sentence_of(low.headline)
    assert len(low.readings) == 7
    assert low.fit is not None
    assert len(low.fit.readings) == 5
    assert not low.proof.proven
    high = judged([replace(each, seen_deg=15.0) if each.speed_rpm > 3000 else each for each in TRUE])
    assert "sees every second spark only" in sentence_of(high.headline)


def test_a_capacitive_driver_warns_of_the_dial() -> None:
    bench = replace(BENCH, driver="capacitive")
    assert "dial-back light counts each" in sentence_of(judged(TRUE, bench).warnings[0])
    assert judged(TRUE, replace(bench, light="plain")).warnings == ()


# The bench


def test_the_advance_to_hold_keeps_within_rotor_and_controller() -> None:
    wide = JOB.changed("distributor", tip_width="14 mm", rotor_phase_deg=9)
    assert bench_of(wide).hold_deg == 30.0
    assert bench_of(wide.changed("controller", max_deg=27)).hold_deg == 27.0
    narrow = bench_of(JOB.changed("distributor", rotor_phase_deg=0, tip_width="5 mm", base_deg=10))
    assert 10.0 <= narrow.hold_deg < 30.0
    over = check_light(JOB, [Reading(narrow.hold_deg + 5.0, 2000, 30)], narrow)
    assert sentence_of(over.warnings[0]).startswith(
        f"{narrow.hold_deg + 5.0:g} deg is more than the {narrow.hold_deg:g} that rotor, knock, "
        "controller and practice"
    )
    assert sentence_of(check_light(JOB, [], bench_of(JOB, hold_deg=50)).warnings[0]).startswith(
        "50 deg is more than"
    )


def test_the_advance_to_hold_keeps_within_limit_and_knock() -> None:
    """Nothing knocks without load on pump fuel; a fuel of 40 octane in a tight chamber does."""
    wide = JOB.changed("distributor", tip_width="14 mm", rotor_phase_deg=9)
    assert bench_of(wide.changed("limits", max_advance_deg=24)).hold_deg == 24.0
    tight = wide.changed("engine", compression_ratio=13, idle_kpa=80).changed(
        "fuel", ron=40, mon=40, aki=None
    )
    bench = bench_of(tight)
    limits_deg = [point(tight, rpm, 80.0).knock_limit_deg for rpm in (bench.low_rpm, bench.high_rpm)]
    assert np.nanmin(limits_deg) < 30.0
    base_deg, margin_deg = tight.distributor.base_deg, tight.limits.knock_margin_deg
    assert base_deg <= bench.hold_deg <= max(base_deg, np.nanmin(limits_deg) - margin_deg + 0.5)
    assert bench.hold_deg < bench_of(wide).hold_deg


def test_a_slow_engine_is_read_lower() -> None:
    slow = bench_of(JOB.changed("engine", redline_rpm=3000))
    assert (slow.low_rpm, slow.high_rpm) == (1200.0, 2400.0)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"hold_deg": 90.0}, "hold = 90: must be 0 to 60 deg"),
        (
            {"housing_diameter_mm": 5.0},
            "housing = 5 mm (0.197 in): must be 20 mm to 300 mm (0.788 in to 11.811 in)",
        ),
        ({"delay_set_us": 9000.0}, "delay = 9000: must be -2000 to 2000 us"),
        ({"mark_error_deg": 50.0}, "mark error = 50: must be -40 to 40 deg"),
        ({"resolution_deg": float("nan")}, "resolution = nan: must be 0.05 to 10 deg"),
        ({"light": "strobe"}, 'light = "strobe": must be "plain" or "dial-back"'),
    ],
)
def test_what_the_bench_can_not_be(given: dict[str, float], said: str) -> None:
    with pytest.raises(Refusal) as refused:
        bench_of(JOB, **given)  # type: ignore[arg-type]
    assert str(refused.value) == said


def test_a_cylinder_the_engine_does_not_have() -> None:
    four = replace(BENCH, cylinders=4)
    with pytest.raises(Refusal) as refused:
        judged([Reading(30, 2000, 30, cylinder=5, line=3)], four)
    assert str(refused.value) == (
        "readings, line 3, cylinder = 5: must be 1 to 4; the engine of this job has no other"
    )


def test_more_readings_than_are_taken() -> None:
    with pytest.raises(Refusal, match="readings = 501: must be at most 500"):
        judged([Reading(30, 1000 + place, 30) for place in range(501)])


# Whatever is read


ANY = st.builds(
    Reading,
    st.sampled_from([10.0, 20.0, 30.0]),
    st.sampled_from([800.0, 2000.0, 2050.0, 4000.0]) | st.floats(50, 12000),
    st.floats(-40, 100).map(lambda value: round(value, 1)),
    st.sampled_from([None, 0.05, 1.0, 10.0]),
    st.sampled_from([None, 1, 3, 8]),
    st.sampled_from([None, 9.0, 14.0]),
    st.sampled_from([None, "rising", "falling"]),
)


@settings(max_examples=200, deadline=None)
@given(taken=st.lists(ANY, max_size=10))
def test_any_readings_end_in_sentences(taken: list[Reading]) -> None:
    result = judged(taken)
    said = [
        sentence_of(result.headline),
        first_act(result),
        sentence_of(result.proof.finding),
        *(sentence_of(each) for each in result.findings),
    ]
    assert all(text and text[0].isupper() and text.endswith(".") for text in said)
    assert not any(word in text for text in said for word in ("nan", "inf ", "None"))
    assert result.proof.proven <= (result.proof.within_deg is not None)
    if result.state == "good":
        assert result.proof.proven
        assert result.problems == ()


def test_what_is_real_but_small_enough_needs_no_hand() -> None:
    """A delay of 30 us, 0.7 deg at 4,000 rpm, seen by many readings: real, and within the degree wanted."""
    taken = [
        Reading(30, rpm, round(30.0 - 6e-6 * rpm * 30.0, 2), 0.5, note=str(place))
        for place in range(4)
        for rpm in SPEEDS
    ]
    result = judged(taken)
    assert result.fit is not None
    assert result.fit.delay_us is not None
    assert result.fit.delay_us.real
    assert (result.state, first_act(result)) == ("good", DONE)
    told = finding(result, "delay")
    assert sentence_of(told).startswith(
        "The spark falls back 0.5 deg from 1,000 to 4,000 rpm: a delay of 30 us"
    )
    assert sentence_of(told).endswith("It is within what is wanted.")


# A mark whose error is known


@pytest.mark.parametrize("error_deg", [-6.5, -2.0, 0.4, 3.0, 12.0])
def test_what_is_judged_is_the_spark_and_not_the_mark(error_deg: float) -> None:
    # Truth: the spark of `TRUE`, read by a mark that shows `error_deg` at true top dead centre, so by
    # definition that much more is seen than there is.
    plain = judged(TRUE)
    by_mark = [replace(each, seen_deg=each.seen_deg + error_deg) for each in TRUE]
    result = judged(by_mark, replace(BENCH, mark_error_deg=error_deg))
    assert (result.state, result.headline, result.to_do) == (plain.state, plain.headline, plain.to_do)
    assert result.fit is not None
    assert plain.fit is not None
    assert result.proof.within_deg == pytest.approx(plain.proof.within_deg, abs=1e-9)
    assert [each.seen_deg for each in result.readings] == [each.seen_deg for each in by_mark]


def test_an_offset_is_found_under_the_mark_s_error() -> None:
    # Truth: 3 deg late at every speed, seen by a mark that shows 2 deg before at the top.
    bench = replace(BENCH, mark_error_deg=2.0, top_dead_centre_proved=True)
    result = judged(exact(lambda rpm: 30.0 - 3.0 + 2.0), bench)
    assert result.fit is not None
    assert result.fit.offset_deg is not None
    assert result.fit.offset_deg.value == pytest.approx(-3.0, abs=1e-9)
    assert "The mark was proved, so it is the distributor's body." in sentence_of(finding(result, "offset"))
    assert sentence_of(result.warnings[0]) == (
        "At true top dead centre the mark shows 2 deg before: 2 deg were taken off everything seen before it "
        "was judged. How well the mark's error is known comes on top of the intervals here."
    )


def test_one_reading_tells_both_what_the_mark_shows_and_what_is() -> None:
    result = judged([Reading(30, 2000, 28)], replace(BENCH, mark_error_deg=-2.0))
    assert sentence_of(result.headline).startswith(
        "At 2,000 rpm the light shows 28 deg, 30 by the true zero, where 30 is commanded."
    )
    assert "the mark shows 2 deg after: 2 deg were added to everything seen" in sentence_of(
        result.warnings[0]
    )


def test_the_promise_of_a_next_reading_counts_the_mark() -> None:
    taken = [Reading(30, rpm, 30, 2.0) for rpm in (2000, 3000, 4000)]
    by_mark = [replace(each, seen_deg=each.seen_deg + 5.0) for each in taken]
    promised = judged(by_mark, replace(BENCH, mark_error_deg=5.0)).next_readings
    assert promised == judged(taken).next_readings


def test_the_job_states_the_mark_and_a_right_one_is_not_spoken_of() -> None:
    job = JOB.changed("light", mark_error_deg=-2.0)
    assert bench_of(job).mark_error_deg == -2.0
    assert bench_of(job).top_dead_centre_proved
    assert bench_of(job, mark_error_deg=1.0).mark_error_deg == 1.0
    right = JOB.changed("light", mark_error_deg=0.0)
    assert judged(TRUE, replace(bench_of(right, hold_deg=30.0), most_deg=30.0)).warnings == ()


def test_one_blunder_among_readings_that_agree_exactly() -> None:
    # Truth: 10 deg late at every speed, the first reading 5 deg off that.
    taken = [Reading(30, rpm, 20, 0.05) for rpm in (800, 2000, 2050, 4000, 3000)]
    taken[0] = replace(taken[0], seen_deg=25)
    result = judged(taken, replace(BENCH, mark_error_deg=0.0))
    assert result.fit is not None
    assert result.fit.offset_deg is not None
    assert result.fit.left_out == 0
    assert result.fit.offset_deg.value == pytest.approx(-10.0, abs=1e-9)
    assert result.fit.scatter_ratio == pytest.approx(0.0, abs=1e-6)
