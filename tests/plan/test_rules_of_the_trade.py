"""Rules of the trade beside the plan: they tell, and change nothing. Their ranges have no source."""

from __future__ import annotations

import numpy as np
import pytest

from planned import plan_of
from planning_jobs import BOOSTED_SIX, BOOSTED_V8, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, RADICAL_V8
from sparkwright.job import Job
from sparkwright.pictures.rules import rules_picture
from sparkwright.plan.rules_of_the_trade import RULES, RuleRead, second_opinion
from sparkwright.words.rules_of_the_trade import REASONS, RULE_WORDS
from telling import action_of, sentence_of

JOBS = {
    "pump house": PUMP_HOUSE,
    "boosted six": BOOSTED_SIX,
    "old four": OLD_FOUR,
    "ordinary V8": ORDINARY_V8,
    "radical V8": RADICAL_V8,
    "boosted V8": BOOSTED_V8,
}


def rule(job: Job, name: str) -> RuleRead:
    return next(each for each in second_opinion(job, plan_of(job)).rules if each.name == name)


def test_there_are_a_dozen_rules_and_each_says_where_it_doesnt_hold() -> None:
    assert len(RULES) >= 12
    assert RULES.keys() == RULE_WORDS.keys()
    assert all(about and not_for for about, not_for in RULE_WORDS.values())


@pytest.mark.parametrize("name", RULES)
def test_each_rule_is_held_against_one_of_the_examples(name: str) -> None:
    held = [rule(job, name) for job in JOBS.values()]
    assert any(each.finding.state in ("good", "look") for each in held)
    for each in held:
        assert sentence_of(each.finding)
        if each.finding.state == "look":
            assert not each.low <= each.value <= each.high
            assert "common practice, no source" in sentence_of(each.finding)
            assert RULE_WORDS[name][1] in action_of(each.finding)
            assert each.reason in REASONS
        elif each.finding.state == "good":
            assert each.low <= each.value <= each.high


@pytest.mark.parametrize("job", JOBS.values(), ids=JOBS)
def test_a_second_opinion_never_changes_the_plan(job: Job) -> None:
    planned = plan_of(job)
    before = planned.cells.spark_map.advance_deg.tobytes(), planned.headline, planned.warnings
    opinion = second_opinion(job, planned)
    assert (planned.cells.spark_map.advance_deg.tobytes(), planned.headline, planned.warnings) == before
    assert opinion.problems == ()
    assert opinion.left == () or "the plan stays as it is" in action_of(opinion.headline)
    assert len(opinion.left) + len(opinion.others) == len(opinion.rules)
    assert all(each.state == "look" for each in opinion.warnings)


def test_a_short_rotor_is_the_reason_for_a_low_total() -> None:
    total = rule(PUMP_HOUSE, "full-load-total")
    assert (total.finding.state, total.reason) == ("look", "reach")
    assert total.value == float(plan_of(PUMP_HOUSE).cells.spark_map.at(total.rpm, total.kpa))
    assert "the rotor reaches no further there" in sentence_of(total.finding)


def test_a_rotor_that_reaches_agrees_with_the_trade() -> None:
    """The reverse of a short rotor, with a fuel that doesn't knock: a wedge's 32 to 38 deg."""
    freed = PUMP_HOUSE.changed("distributor", rotor_phase_deg=10, tip_width="16 mm").changed(
        "fuel", ron=100, mon=90
    )
    assert rule(freed, "full-load-total").finding.state == "good"


def test_knock_is_the_reason_where_the_fuel_is_short() -> None:
    short = ORDINARY_V8.changed("fuel", ron=86, mon=80)
    total = rule(short, "full-load-total")
    assert (total.finding.state, total.reason) == ("look", "knock")


def test_degrees_for_each_psi_are_those_of_the_map() -> None:
    """By hand: 1 psi is 6.894757 kPa."""
    found, planned = rule(BOOSTED_SIX, "per-psi"), plan_of(BOOSTED_SIX)
    top_kpa = planned.full_load.kpa
    off = planned.cells.spark_map.at(found.rpm, found.kpa) - planned.cells.spark_map.at(found.rpm, top_kpa)
    assert found.value == pytest.approx(off / ((top_kpa - found.kpa) / 6.894757))
    assert rule(PUMP_HOUSE, "per-psi").finding.state == "open"
    assert np.isnan(rule(PUMP_HOUSE, "per-psi").value)


def test_a_longer_cam_may_idle_earlier() -> None:
    assert rule(RADICAL_V8, "idle-by-cam").low > rule(ORDINARY_V8, "idle-by-cam").low


def test_a_base_that_kicks_back_is_told() -> None:
    early = PUMP_HOUSE.changed("distributor", base_deg=18)
    assert rule(early, "cranking").finding.state == "look"
    assert "18 deg at 180 rpm" in sentence_of(rule(early, "cranking").finding)


def test_the_rules_are_drawn_beside_the_plan() -> None:
    picture = rules_picture(second_opinion(PUMP_HOUSE, plan_of(PUMP_HOUSE)))
    total = next(row for row in picture.rows if row[0] == RULE_WORDS["full-load-total"][0])
    assert total[2:4] == (32.0, 38.0)
    assert total[4] == rule(PUMP_HOUSE, "full-load-total").value
    assert RULE_WORDS["per-psi"][0] not in {row[0] for row in picture.rows}, "it is for boosted engines"
