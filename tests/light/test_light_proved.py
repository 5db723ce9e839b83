"""What a proved light check leaves in the job: the spread of timing, and the delay that was set."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt
from statistics import NormalDist

import numpy as np

from sparkwright.light.proved import ProvedFact
from sparkwright.light.readings import Reading
from test_light_fit import SPEEDS
from test_light_verdict import BENCH, TRUE, exact, judged

PROVED_MARK = replace(BENCH, top_dead_centre_proved=True)


def kept(readings: list[Reading], bench: object = PROVED_MARK) -> dict[str, float]:
    assert isinstance(bench, type(BENCH))
    return {each.key: each.value for each in judged(readings, bench).facts}


def test_a_proved_check_knows_the_timing_better_than_a_proved_mark_alone() -> None:
    """The parts as JCGM 100:2008 adds them, written out anew; 1 deg is what is taken with the mark proved."""
    result = judged(TRUE, PROVED_MARK)
    assert result.proof.within_deg is not None
    step_deg = TRUE[0].resolution_deg or 1.0
    one_reading_deg = hypot(step_deg / sqrt(12.0), 0.25)
    agreement_deg = result.proof.within_deg / NormalDist().inv_cdf(0.975)
    expected_deg = sqrt(agreement_deg**2 + one_reading_deg**2 + 0.2**2)
    (fact,) = result.facts
    assert fact.key == "light.timing_spread_deg"
    assert expected_deg <= fact.value <= expected_deg + 0.01
    assert fact.value < 1.0


def test_nothing_is_offered_that_is_not_proved() -> None:
    assert judged([], PROVED_MARK).facts == ()
    assert judged(TRUE[:2], PROVED_MARK).facts == ()
    assert judged(exact(lambda rpm: 26.0), PROVED_MARK).facts == (), "4 deg late"


def test_a_light_read_by_a_mark_that_nobody_proved_says_nothing_of_the_spread() -> None:
    assert judged(TRUE).proof.proven
    assert judged(TRUE).facts == ()


def test_readings_that_scatter_more_give_a_wider_spread() -> None:
    steady, unsteady = ([0.0] * 6, [0.3, -0.3, 0.3, -0.3, 0.3, -0.3])
    speeds = np.linspace(1000.0, 4000.0, 6).tolist()
    spreads = [
        kept([Reading(30, rpm, 30 + off, 0.1) for rpm, off in zip(speeds, offs, strict=True)])
        for offs in (steady, unsteady)
    ]
    assert spreads[0]["light.timing_spread_deg"] < spreads[1]["light.timing_spread_deg"]


def test_the_spread_holds_the_sparks_of_engines_whose_truth_is_known() -> None:
    """Engines a little off and a little unsteady, read by marks of 1 deg; of those that are proved, the real
    sparks lie within the spread at least as often as one standard deviation of a normal error says, 68 %."""
    draw = np.random.default_rng(7)
    within, sparks = 0, 0
    for _ in range(60):
        off_deg, unsteady_deg = draw.normal(0.0, 0.3), 0.25
        seen = (
            30.0 + off_deg + draw.normal(0.0, unsteady_deg, len(SPEEDS)) + draw.normal(0.0, 0.25, len(SPEEDS))
        )
        readings = [
            Reading(30, rpm, float(np.round(each)), 1.0) for rpm, each in zip(SPEEDS, seen, strict=True)
        ]
        spread_deg = kept(readings).get("light.timing_spread_deg")
        if spread_deg is not None:
            real = off_deg + draw.normal(0.0, 0.2) + draw.normal(0.0, unsteady_deg, 50)
            within += int(np.count_nonzero(np.abs(real) <= spread_deg))
            sparks += real.size
    assert sparks >= 1000
    assert within / sparks >= 0.68


def test_a_delay_found_says_the_whole_delay_to_set() -> None:
    """100 us more than the 40 that the controller makes up for already."""
    late = exact(lambda rpm: 30.0 - 6e-6 * rpm * 100.0)
    assert judged(late, replace(BENCH, delay_set_us=40.0)).set_delay_us == 140.0
    assert judged(late).set_delay_us == 100.0
    assert judged(TRUE).set_delay_us is None


def test_no_delay_is_to_be_set_where_something_else_is_wrong() -> None:
    swapped = exact(lambda rpm: 30.0 - 6e-6 * rpm * 600.0)
    assert judged(swapped).set_delay_us is None, "the pickup fires on the wrong flank"
    early = exact(lambda rpm: 30.0 + 6e-6 * rpm * 80.0)
    assert judged(early).set_delay_us is None, "no delay makes a spark early"
    assert judged(early, replace(BENCH, delay_set_us=120.0)).set_delay_us == 40.0


def test_the_delay_that_was_set_is_kept_once_the_timing_is_proved() -> None:
    bench = replace(PROVED_MARK, delay_set_us=85.0)
    assert ProvedFact("light.delay_set_us", 85.0) in judged(TRUE, bench).facts
    assert [each.key for each in judged(TRUE, replace(BENCH, delay_set_us=85.0)).facts] == [
        "light.delay_set_us"
    ]
