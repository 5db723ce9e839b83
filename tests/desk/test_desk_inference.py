"""Bayes' rule at the desk, held against plain enumeration of everything that could be."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from sparkwright.desk.inference import (
    PRIOR_CASES,
    contradictions,
    entropy_bits,
    expected_bits,
    minutes_of,
    next_test,
    priors,
    probabilities,
    ranking,
    weighed,
)
from sparkwright.desk.knowledge import (
    SOMETHING_ELSE,
    Answer,
    Asked,
    BenchTest,
    Cause,
    Given,
    Knowledge,
)
from sparkwright.desk.knowledge_files import shipped_knowledge


def an_answer(name: str, usual: float) -> Answer:
    return Answer(id=name, words=f"it is {name}", usual=usual)


def a_test(name: str, minutes: float = 5.0, **usual: float) -> BenchTest:
    answers = tuple(an_answer(each, share) for each, share in usual.items())
    return BenchTest(
        id=name,
        name=f"test {name}",
        right=answers[0].id,
        minutes=minutes,
        at=(),
        tools=(),
        how=("look",),
        expected="as it should",
        cautions=(),
        answers=answers,
    )


def a_cause(name: str, prior: float, **predicts: dict[str, float]) -> Cause:
    return Cause(
        id=name,
        name=f"cause {name}",
        prior=prior,
        origin="invented for a test",
        prove="look",
        proof=Given(question="lamp", answer="dark"),
        mend="mend",
        cautions=(),
        predicts=predicts,
    )


SMALL = Knowledge(
    questions=(
        Asked(
            id="noise",
            ask="What noise?",
            answers=(an_answer("none", 0.7), an_answer("hum", 0.2), an_answer("bang", 0.1)),
        ),
    ),
    tests=(a_test("lamp", lit=0.9, dark=0.1), a_test("meter", minutes=20.0, high=0.5, low=0.3, none=0.2)),
    findings=(),
    causes=(
        a_cause("fuse", 2.0, lamp={"dark": 0.95}, noise={"none": 0.9}),
        a_cause("relay", 1.0, lamp={"dark": 0.4}, meter={"low": 0.6, "none": 0.3}, noise={"hum": 0.8}),
    ),
    contradictions=(),
)


def written_out(cause: str, question: str, answer: str) -> float:
    """The share of the small net's engines that answer so, from its text and by hand, not by the program."""
    table = {
        ("fuse", "lamp"): {"lit": 0.05, "dark": 0.95},
        ("relay", "lamp"): {"lit": 0.6, "dark": 0.4},
        ("relay", "meter"): {"high": 0.1, "low": 0.6, "none": 0.3},
        ("fuse", "noise"): {"none": 0.9, "hum": 0.1 * 0.2 / 0.3, "bang": 0.1 * 0.1 / 0.3},
        ("relay", "noise"): {"none": 0.2 * 0.7 / 0.8, "hum": 0.8, "bang": 0.2 * 0.1 / 0.8},
    }
    usual = {
        "lamp": {"lit": 0.9, "dark": 0.1},
        "meter": {"high": 0.5, "low": 0.3, "none": 0.2},
        "noise": {"none": 0.7, "hum": 0.2, "bang": 0.1},
    }
    return table.get((cause, question), usual[question])[answer]


CAUSES = {"fuse": 2.0 / 8.0, "relay": 1.0 / 8.0, SOMETHING_ELSE: 5.0 / 8.0}
ANSWERS = {
    "noise": ("none", "hum", "bang"),
    "lamp": ("lit", "dark"),
    "meter": ("high", "low", "none"),
}


def worlds() -> list[tuple[str, dict[str, str], float]]:
    """Every world of the small net: a cause and an answer to every question, with its probability."""
    found = []
    for cause, prior in CAUSES.items():
        for answers in itertools.product(*ANSWERS.values()):
            world = dict(zip(ANSWERS, answers, strict=True))
            chance = prior * math.prod(written_out(cause, *each) for each in world.items())
            found.append((cause, world, chance))
    return found


def enumerated(given: dict[str, str]) -> dict[str, float]:
    """Count the worlds in which all this was answered."""
    fitting = [each for each in worlds() if given.items() <= each[1].items()]
    whole = sum(chance for _, _, chance in fitting)
    return {name: sum(chance for cause, _, chance in fitting if cause == name) / whole for name in CAUSES}


def some_given(answers: dict[str, str]) -> list[Given]:
    return [Given(question=question, answer=answer) for question, answer in answers.items()]


@pytest.mark.parametrize("many", [0, 1, 2, 3])
def test_probabilities_are_those_of_counting_every_world(many: int) -> None:
    for names in itertools.combinations(ANSWERS, many):
        for answers in itertools.product(*(ANSWERS[name] for name in names)):
            given = dict(zip(names, answers, strict=True))
            found = probabilities(SMALL, priors(SMALL), some_given(given))
            assert dict(zip(SMALL.cause_ids, found, strict=True)) == pytest.approx(enumerated(given))


@pytest.mark.parametrize("test", ["lamp", "meter"])
@pytest.mark.parametrize("noise", ANSWERS["noise"])
def test_what_a_test_is_expected_to_tell_is_that_of_counting_every_world(test: str, noise: str) -> None:
    now = enumerated({"noise": noise})
    chance = {
        answer: sum(each for _, world, each in worlds() if world["noise"] == noise and world[test] == answer)
        for answer in ANSWERS[test]
    }
    whole = sum(chance.values())
    left = sum(
        chance[answer] / whole * entropy_bits(enumerated({"noise": noise, test: answer}).values())
        for answer in ANSWERS[test]
    )
    told = expected_bits(SMALL.likelihoods[test], [now[name] for name in SMALL.cause_ids])
    assert told == pytest.approx(entropy_bits(now.values()) - left)


def test_a_test_that_tells_as_much_in_less_time_comes_first() -> None:
    quick, slow = a_test("quick", 2.0, yes=0.5, no=0.5), a_test("slow", 40.0, yes=0.5, no=0.5)
    cause = a_cause("fuse", 2.0, quick={"yes": 0.9}, slow={"yes": 0.9})
    known = Knowledge((), (slow, quick), (), (cause,), ())
    now = probabilities(known, priors(known), [])
    order = weighed(known, now, [])
    assert [each.test for each in order] == ["quick", "slow"]
    assert order[0].bits == pytest.approx(order[1].bits)
    assert minutes_of(slow) - minutes_of(quick) == pytest.approx(38.0)
    assert [each.test for each in weighed(known, now, ["quick"])] == ["slow"]


def test_no_test_is_asked_for_when_a_cause_is_sure_or_nothing_is_left_to_tell() -> None:
    known = shipped_knowledge()
    now = probabilities(known, priors(known), [])
    assert next_test(weighed(known, now, []), now) is not None
    assert next_test(weighed(known, now, [each.id for each in known.tests]), now) is None
    sure = [0.9] + [0.1 / (len(now) - 1)] * (len(now) - 1)
    assert next_test(weighed(known, sure, []), sure) is None


def test_a_withdrawn_answer_leaves_the_ranking_as_if_never_given_to_the_digit() -> None:
    known = shipped_knowledge()
    draw = random.Random(7)
    for _ in range(40):
        asked = draw.sample(list(known.askable.values()), 6)
        given = [Given(question=each.id, answer=draw.choice(each.answers).id) for each in asked]
        before = probabilities(known, priors(known), given[:5])
        probabilities(known, priors(known), given)
        shuffled = [each for each in draw.sample(given, 6) if each != given[5]]
        assert probabilities(known, priors(known), shuffled) == before


def test_two_answers_to_one_question_are_told_and_neither_counts() -> None:
    known = shipped_knowledge()
    both = [Given(question="when", answer="hot"), Given(question="when", answer="cold")]
    assert probabilities(known, priors(known), both) == probabilities(known, priors(known), [])
    (told,) = contradictions(known, both)
    assert {told.one.answer, told.other.answer} == {"hot", "cold"}
    assert told.why == ""


def test_answers_that_cannot_both_be_right_are_told_with_the_reason() -> None:
    known = shipped_knowledge()
    given = some_given({"spark-at-coil": "none", "light-fixed": "agrees"})
    (told,) = contradictions(known, given)
    assert told.why == "without a spark at the coil no light flashes"
    assert contradictions(known, given[:1]) == ()


def test_several_complaints_are_no_contradiction() -> None:
    known = shipped_knowledge()
    said = [Given(question="complaint", answer=each) for each in ("hunts", "flat")]
    assert contradictions(known, said) == ()
    assert probabilities(known, priors(known), said) != probabilities(known, priors(known), said[:1])


def test_closed_cases_move_the_priors_and_taking_them_back_undoes_it_to_the_digit() -> None:
    known = shipped_knowledge()
    files = dict(zip(known.cause_ids, priors(known), strict=True))
    moved = dict(zip(known.cause_ids, priors(known, {"cap-track": 6}), strict=True))
    assert moved["cap-track"] == pytest.approx((PRIOR_CASES * files["cap-track"] + 6) / (PRIOR_CASES + 6))
    assert moved["coil-hot"] < files["coil-hot"]
    assert math.fsum(moved.values()) == pytest.approx(1.0)
    assert priors(known, {"cap-track": 0}) == priors(known)


def test_the_one_for_all_others_leads_where_everything_reads_right() -> None:
    known = shipped_knowledge()
    right = [Given(question=each.id, answer=each.right) for each in known.tests]
    flat = [Given(question="complaint", answer="flat"), *right]
    assert ranking(known, probabilities(known, priors(known), flat))[0].cause == SOMETHING_ELSE


def test_one_bit_parts_two_that_are_alike() -> None:
    assert entropy_bits([0.5, 0.5]) == 1.0
    assert entropy_bits([1.0, 0.0]) == 0.0
