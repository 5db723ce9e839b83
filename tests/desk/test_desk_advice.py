"""What the desk advises: sentences from data, findings by their kind, own words kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from sparkwright.check.hardware import check_hardware
from sparkwright.desk.advice import Advice, advise
from sparkwright.desk.case import Case, spoken
from sparkwright.desk.inference import LEAST_BITS
from sparkwright.desk.knowledge import NOTICED, QUIET, Given
from sparkwright.desk.knowledge_files import shipped_knowledge
from sparkwright.desk.noticed import answers_of, found_on
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import check_light
from telling import action_of, sentence_of

EXAMPLES = Path(__file__).parents[2] / "examples"
KNOWN = shipped_knowledge()


def said(**answers: str) -> Case:
    return spoken(Given(question=name.replace("_", "-"), answer=each) for name, each in answers.items())


def chance(advice: Advice, cause: str) -> float:
    return next(each.probability for each in advice.causes if each.id == cause)


def test_an_empty_case_asks_what_the_engine_does() -> None:
    told = advise(KNOWN, spoken())
    assert sentence_of(told.headline) == "Nothing was said yet."
    assert told.question is not None
    assert told.question.ask == "What does the engine do?"


def test_questions_come_one_at_a_time_and_one_that_cannot_be_answered_is_not_asked_again() -> None:
    first = said(complaint="hunts")
    told = advise(KNOWN, first)
    assert told.question is not None
    assert told.question.id == "when"
    skipped = advise(KNOWN, spoken(first.given, ["when"]))
    assert skipped.question is not None
    assert skipped.question.id == "changed"
    assert skipped.causes == told.causes


def test_a_sure_cause_is_to_be_proved_before_anything_is_changed() -> None:
    told = advise(
        KNOWN, said(complaint="misfire-advance", when="speed", changed="distributor", rotor_meets_post="off")
    )
    assert told.leading.id == "rotor-phase"
    assert told.test is None
    assert action_of(told.headline).startswith("Prove it before anything is changed: Through the drilled cap")


def test_the_reach_that_the_check_found_counts_by_its_kind() -> None:
    asked = said(complaint="misfire-speed")
    short = {"check": [Finding("rotor.runs-out", "problem")]}
    covers = {"check": [Finding("rotor.covers", "good")]}
    with_reach, without = advise(KNOWN, asked, short), advise(KNOWN, asked, covers)  # type: ignore[arg-type]
    assert chance(with_reach, "rotor-phase") > chance(advise(KNOWN, asked), "rotor-phase")
    assert chance(without, "rotor-phase") < chance(advise(KNOWN, asked), "rotor-phase")
    assert [each.finding.kind for each in with_reach.noticed] == ["rotor.runs-out"]


@pytest.mark.parametrize(
    ("kind", "source", "cause"),
    [
        ("coil.full-up-to", "check", "dwell-short"),
        ("coil.too-hot", "check", "dwell-long"),
        ("coil.starts-weakly", "check", "feed-dips"),
        ("rotor.advance-free", "check", "weights-live"),
        ("rotor.vacuum-connected", "check", "vacuum-live"),
        ("voltage.misfires", "check", "plug-gap-wide"),
        ("delay.to-set", "light", "delay-untold"),
        ("offset.to-turn", "light", "base-off"),
        ("scatter.wide", "light", "shaft-worn"),
        ("light.fooled", "light", "light-false"),
        ("over.stands", "plan", "map-early-low"),
        ("knock.heard", "drive", "fuel-poor"),
        ("knock.logged", "drive", "map-early-low"),
        ("misfire.heaped", "drive", "lead-open"),
        ("misfire.everywhere", "drive", "plug-gap-wide"),
        ("arcing.suspected", "drive", "rotor-phase"),
        ("pickup.drops-out", "drive", "pickup-gap"),
        ("dwell.runs-out", "drive", "dwell-short"),
        ("timing.off", "drive", "map-early-low"),
        ("timing.not-as-commanded", "drive", "delay-untold"),
        ("idle.hunts", "drive", "idle-slope"),
        ("idle.wanders", "drive", "plugs-fouled"),
    ],
)
def test_what_the_program_found_raises_the_cause_that_it_speaks_for(
    kind: str, source: str, cause: str
) -> None:
    found = {source: [Finding(kind, "problem")]}
    assert chance(advise(KNOWN, spoken(), found), cause) > chance(advise(KNOWN, spoken()), cause)  # type: ignore[arg-type]


def test_a_coil_that_runs_out_by_the_jobs_own_numbers_speaks_before_a_ballast_nobody_stated() -> None:
    """The check reckons from what the job states: a ballast that it doesn't state can't be what it found."""
    found = {"check": [Finding("coil.full-up-to", "problem"), Finding("voltage.misfires", "problem")]}
    told = advise(KNOWN, said(complaint="misfire-speed"), found)  # type: ignore[arg-type]
    assert chance(told, "dwell-short") > chance(told, "ballast-left")


def test_a_finding_counts_without_any_of_its_numbers_or_words() -> None:
    bare = {"check": [Finding("rotor.runs-out", "problem")]}
    full = {"check": [Finding("rotor.runs-out", "problem", {"reach_deg": 34.0})]}
    assert answers_of(KNOWN, bare) == answers_of(KNOWN, full)  # type: ignore[arg-type]


def test_what_is_open_or_merely_assumed_is_no_answer() -> None:
    for state in ("look", "open"):
        found = {"check": [Finding("rotor.hardly-covers", state)]}
        assert "rotor-reach" not in {each.question for each in answers_of(KNOWN, found)}  # type: ignore[arg-type]
    good = {"check": [Finding("rotor.covers", "good")]}
    answers = {each.question: each.answer for each in answers_of(KNOWN, good)}  # type: ignore[arg-type]
    assert answers["rotor-reach"] == QUIET
    assert "light-delay" not in answers, "no light was read"


def test_a_drive_without_a_fault_says_that_timing_and_idle_are_good_and_nothing_of_knock() -> None:
    found = {"drive": [Finding("timing.as-asked", "good"), Finding("idle.steady", "good")]}
    answers = {each.question: each.answer for each in answers_of(KNOWN, found)}  # type: ignore[arg-type]
    quiet = {"drive-timing-off", "drive-late", "drive-idle-hunts", "drive-idle-wanders"}
    assert answers == dict.fromkeys(quiet, QUIET)


def test_every_finding_of_a_whole_check_is_taken_or_passed_over() -> None:
    for path in sorted(EXAMPLES.glob("*.toml")):
        job = Job.load(path)
        answers = {each.question: each.answer for each in answers_of(KNOWN, found_on(job))}
        kinds = {each.kind for each in check_hardware(job).verdicts if each.state == "problem"}
        assert (answers.get("rotor-reach") == NOTICED) == bool(
            kinds & {"rotor.runs-out", "rotor.leaves-late", "neighbours.crossed"}
        )


def test_words_that_nobody_foresaw_are_kept_and_move_no_number() -> None:
    asked = said(complaint="hunts")
    with_words = spoken(asked.given, own_words=["It sings like a kettle"])
    assert advise(KNOWN, with_words).own_words == ("It sings like a kettle",)
    assert advise(KNOWN, with_words).causes == advise(KNOWN, asked).causes


def test_two_answers_to_one_question_are_told_in_a_sentence() -> None:
    both = spoken([Given(question="when", answer="hot"), Given(question="when", answer="cold")])
    (told,) = advise(KNOWN, both).contradictions
    assert sentence_of(told) == "When is it worst has two answers, “Cold” and “Hot”; neither counts."


def test_answers_that_cannot_both_be_right_are_told_in_a_sentence() -> None:
    (told,) = advise(KNOWN, said(controller_rpm="zero", light_fixed="agrees")).contradictions
    assert sentence_of(told).endswith(
        "can't both be right: a controller that sees no speed commands no spark. "
        "Both count as they were given."
    )


def test_an_answer_to_a_test_that_was_taken_out_is_kept_told_and_counts_nowhere() -> None:
    asked = said(complaint="hunts")
    with_more = advise(KNOWN, said(complaint="hunts", sniff="ozone", when="never"))
    assert with_more.causes == advise(KNOWN, asked).causes
    assert [(each.question, each.answer, each.entry) for each in with_more.not_known] == [
        ("sniff", "ozone", 2),
        ("when", "never", 3),
    ]
    assert with_more.question is not None
    assert with_more.question.id == "when", "what counts nowhere is asked"


def test_the_tests_after_the_next_are_named_and_each_tells_something() -> None:
    told = advise(KNOWN, said(complaint="knock-low", when="load", changed="nothing"))
    assert told.test is not None
    assert {each.name for each in told.further} <= {each.name for each in KNOWN.tests} - {told.test.name}
    assert told.further
    assert min(each.bits for each in told.further) >= LEAST_BITS


def test_the_shops_own_closed_cases_move_the_ranking() -> None:
    asked = said(complaint="misfire-boost")
    often = advise(KNOWN, asked, closed={"lead-open": 40})
    assert chance(often, "lead-open") > chance(advise(KNOWN, asked), "lead-open")
    assert advise(KNOWN, asked, closed={}).causes == advise(KNOWN, asked).causes


def test_a_delay_that_the_light_check_finds_leads_the_ranking() -> None:
    """By hand: 6 deg a second and rpm times 150 us are 0.0009 deg an rpm, 3.6 deg at 4,000 rpm."""
    job = Job.load(EXAMPLES / "old-four.toml")
    readings = [
        Reading(25.0, speed_rpm, 25.0 - 6.0 * speed_rpm * 150e-6, resolution_deg=0.5)
        for speed_rpm in (1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 3500.0, 4000.0)
    ]
    light = check_light(job, readings)
    answers = {each.question: each.answer for each in answers_of(KNOWN, found_on(job, light))}
    assert answers["light-delay"] == NOTICED
    told = advise(KNOWN, said(complaint="timing-walks"), {"light": light.findings})
    assert told.leading.id == "delay-untold"
