"""Written cases with the known answer, and generated ones for calibration."""

from __future__ import annotations

from pathlib import Path

import pytest

from desk_calibration import brier, played_by_chance, reliability
from sparkwright.desk.knowledge_files import shipped_knowledge
from written_cases import WRITTEN_BESIDE, WRITTEN_FIRST, Played, cases, play

ROOT = Path(__file__).parents[2]
HALVES = (WRITTEN_FIRST, WRITTEN_BESIDE)


def played(name: str) -> list[Played]:
    return [play(shipped_knowledge(), each) for each in cases(name)]


def test_there_are_sixty_cases_and_half_of_them_were_written_first() -> None:
    first, beside = (cases(name) for name in HALVES)
    assert len(first) >= 30
    assert len(beside) >= 30
    known = shipped_knowledge()
    for case in (*first, *beside):
        assert case.cause in known.cause_ids
        for given in case.told():
            known.require_known(given.question, given.answer)
        for test, answer in case.found.items():
            known.require_known(test, answer)


@pytest.mark.parametrize("half", HALVES)
def test_the_known_cause_leads_and_is_found_in_few_tests(half: str) -> None:
    """The bounds are the desk's own aims, set before its knowledge: 70 %, 95 %, four tests."""
    outcomes = played(half)
    assert sum(each.place == 1 for each in outcomes) >= 0.70 * len(outcomes)
    assert sum(each.place <= 3 for each in outcomes) >= 0.95 * len(outcomes)
    assert sum(len(each.tests) for each in outcomes) <= 4.0 * len(outcomes)


def test_the_documentation_says_how_the_written_cases_come_out() -> None:
    """A change alarm: what docs/desk.md says is what comes out now."""
    told = (ROOT / "docs" / "desk.md").read_text(encoding="utf-8")
    for half, name in zip(HALVES, ("first", "beside the knowledge"), strict=True):
        outcomes = played(half)
        many = len(outcomes)
        first, third = (100.0 * sum(each.place <= place for each in outcomes) / many for place in (1, 3))
        tests = sum(len(each.tests) for each in outcomes) / many
        assert f"| {many} written {name} | {first:.0f} % | {third:.0f} % | {tests:.1f} |" in told
    assert f"{sum(len(cases(half)) for half in HALVES)} written cases" in told


def test_generated_cases_come_out_as_often_as_is_said() -> None:
    """Cases drawn from the knowledge itself: of those said to be p sure, a share p is right (Brier 1950)."""
    outcomes = played_by_chance(shipped_knowledge(), many=250, seed=3)
    said = sum(each.said for each in outcomes) / len(outcomes)
    right = sum(each.right for each in outcomes) / len(outcomes)
    spread = (right * (1.0 - right) / len(outcomes)) ** 0.5
    assert abs(said - right) < 3.0 * spread
    for row in reliability(outcomes):
        if row.cases >= 30:
            assert abs(row.said - row.right) < 3.5 * max(row.spread, 0.03)
    assert brier(outcomes) < 0.25


def test_the_score_of_guesses_known_by_hand() -> None:
    """Two cases by hand: (0.8, 0.2) with the first right is 0.08; (0.5, 0.5) is 0.5."""
    from desk_calibration import Outcome

    first = Outcome(said=0.8, right=True, squared=0.2**2 + 0.2**2, tests=1)
    second = Outcome(said=0.5, right=False, squared=0.5**2 + 0.5**2, tests=2)
    assert brier([first, second]) == pytest.approx((0.08 + 0.5) / 2)
    assert [row.cases for row in reliability([first, second])] == [1, 1]
