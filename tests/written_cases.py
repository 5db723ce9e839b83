"""Written cases for the desk, and how one is played: answers only where the case gives them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sparkwright.desk.inference import next_test, priors, probabilities, ranking, weighed
from sparkwright.desk.knowledge import Given, Knowledge

FOLDER = Path(__file__).parent / "data" / "desk_cases"
WRITTEN_FIRST = "written_first.toml"
WRITTEN_BESIDE = "written_beside.toml"
MOST_TESTS = 12


@dataclass(frozen=True)
class WrittenCase:
    """One invented call and the cause that was found in the end."""

    story: str
    cause: str
    said: tuple[str, ...]
    when: str | None
    changed: str | None
    found: dict[str, str]
    cannot: tuple[str, ...]

    def told(self) -> list[Given]:
        """What the caller says before any test."""
        asked = {"when": self.when, "changed": self.changed}
        return [
            *(Given(question="complaint", answer=each) for each in self.said),
            *(Given(question=name, answer=answer) for name, answer in asked.items() if answer),
        ]


@dataclass(frozen=True)
class Played:
    """How one case came out: where its cause stood at the end, and after how many tests."""

    case: WrittenCase
    place: int
    tests: tuple[str, ...]


def cases(name: str) -> list[WrittenCase]:
    given = tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))["case"]
    return [
        WrittenCase(
            each["story"],
            each["cause"],
            tuple(each["said"]),
            each.get("when"),
            each.get("changed"),
            each["found"],
            tuple(each.get("cannot", ())),
        )
        for each in given
    ]


def play(knowledge: Knowledge, case: WrittenCase) -> Played:
    """Ask as the desk asks until it has enough; every test that the case doesn't name reads as it should."""
    answered, done = case.told(), set(case.cannot)
    tests = {each.id: each for each in knowledge.tests}
    asked: list[str] = []
    for test in _asked(knowledge, answered, done):
        asked.append(test)
        answered.append(Given(question=test, answer=case.found.get(test, tests[test].right)))
        done.add(test)
    ranked = ranking(knowledge, probabilities(knowledge, priors(knowledge), answered))
    place = [each.cause for each in ranked].index(case.cause) + 1
    return Played(case, place, tuple(asked))


def _asked(knowledge: Knowledge, answered: list[Given], done: set[str]) -> Iterator[str]:
    for _ in range(MOST_TESTS):
        now = probabilities(knowledge, priors(knowledge), answered)
        test = next_test(weighed(knowledge, now, done), now)
        if test is None:
            return
        yield test.test
