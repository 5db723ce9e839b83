"""What the desk knows, read from files: questions, tests, findings that count, and causes."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, TypeAlias, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.findings import State

SHIPPED = Path(__file__).parent / "known"
SOMETHING_ELSE = "something-else"
"""The cause that stands for all that nobody wrote down; it answers as is usual."""
SOMETHING_ELSE_PRIOR = 5.0
"""Its weight, as the files give those of the others; common practice, no source."""
NOTICED, QUIET = "noticed", "quiet"
"""How a finding of the program answers: it stands there, or it was looked for and doesn't."""
MOST_BYTES = 1_000_000
MOST_FILES = 100
_LIKELIHOOD = "it is the share of engines with this cause that answer so"
_SUM_SLACK = 1e-9

Caution = Literal["high-voltage", "moving-parts", "fuel", "hot", "exhaust"]
Source = Literal["check", "plan", "light", "drive"]
Share = Annotated[float, Field(gt=0, lt=1)]
Slug = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
Line = Annotated[str, Field(min_length=3, max_length=400)]
Minutes = Annotated[float, Field(ge=0, le=1000)]


class _Known(BaseModel):
    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Answer(_Known):
    """One answer to a question, and how often it comes from an engine whose cause doesn't touch it."""

    id: Slug
    words: Line
    usual: Share


class Asked(_Known):
    """A question to the caller; ``several`` answers may hold at once."""

    id: Slug
    ask: Line
    answers: Annotated[tuple[Answer, ...], Field(min_length=2, max_length=30)]
    several: bool = False


class BenchTest(_Known):
    """A test that the caller can do, and all that its sheet tells."""

    id: Slug
    name: Line
    right: Slug
    minutes: Annotated[float, Field(gt=0, le=1000)]
    cost_minutes: Minutes = 0.0
    at: tuple[Slug, ...]
    tools: tuple[Line, ...]
    how: Annotated[tuple[Line, ...], Field(min_length=1)]
    expected: Line
    cautions: tuple[Caution, ...]
    answers: Annotated[tuple[Answer, ...], Field(min_length=2, max_length=30)]
    several: ClassVar[bool] = False

    @property
    def ask(self) -> str:
        """What is asked: its name."""
        return self.name


class FindingAsked(_Known):
    """Findings of the program that count like an answer, by their kind and how they stand."""

    id: Slug
    ask: Line
    kinds: Annotated[tuple[str, ...], Field(min_length=1)]
    states: Annotated[tuple[State, ...], Field(min_length=1)]
    source: Source = Field(alias="from")
    usual: Share
    several: ClassVar[bool] = False

    @property
    def answers(self) -> tuple[Answer, ...]:
        """Noticed, or quiet."""
        return (
            Answer(id=NOTICED, words="Noticed", usual=self.usual),
            Answer(id=QUIET, words="Not noticed", usual=1.0 - self.usual),
        )


Question: TypeAlias = Asked | BenchTest | FindingAsked


class Given(_Known):
    """An answer that was given to a question."""

    question: Slug
    answer: Slug


class Contradiction(_Known):
    """Two answers that can't both be right, and why."""

    one: Given
    other: Given
    why: Line


class Cause(_Known):
    """A cause: how common it is, what it predicts, how it is proved and mended, and with what care."""

    id: Slug
    name: Line
    prior: Annotated[float, Field(gt=0, le=1000)]
    origin: Line
    origins: dict[Slug, Line] = {}
    prove: Line
    proof: Given
    mend: Line
    cautions: tuple[Caution, ...]
    predicts: Annotated[dict[Slug, dict[Slug, Share]], Field(min_length=1)]

    def origin_of(self, question: str) -> str:
        """Say where what it predicts of a question comes from.

        Parameters
        ----------
        question : str
            The question's id.
        """
        return self.origins.get(question, self.origin)


class KnowledgeFile(_Known):
    """What one file may hold; every list may be left out."""

    question: tuple[Asked, ...] = ()
    test: tuple[BenchTest, ...] = ()
    finding: tuple[FindingAsked, ...] = ()
    cause: tuple[Cause, ...] = ()
    contradiction: tuple[Contradiction, ...] = ()


@dataclass(frozen=True)
class Knowledge:
    """All that the desk knows, in the order of its files.

    Attributes
    ----------
    questions, tests, findings : tuple
        What can be answered: by the caller, at the engine, by the program.
    causes : tuple of Cause
        Without the one that stands for all others.
    contradictions : tuple of Contradiction
        Answers that can't both be right.
    """

    questions: tuple[Asked, ...]
    tests: tuple[BenchTest, ...]
    findings: tuple[FindingAsked, ...]
    causes: tuple[Cause, ...]
    contradictions: tuple[Contradiction, ...]

    @cached_property
    def askable(self) -> dict[str, Question]:
        """Everything that can be answered, by its id."""
        every: tuple[Question, ...] = (*self.questions, *self.tests, *self.findings)
        return {each.id: each for each in every}

    @cached_property
    def cause_ids(self) -> tuple[str, ...]:
        """Every cause, the one for all others last."""
        return (*(each.id for each in self.causes), SOMETHING_ELSE)

    @cached_property
    def by_id(self) -> dict[str, Cause]:
        """The causes by their id, without the one for all others."""
        return {each.id: each for each in self.causes}

    @cached_property
    def prior_weights(self) -> dict[str, float]:
        """How common each cause is, as the files say; only their ratios count."""
        return {each.id: each.prior for each in self.causes} | {SOMETHING_ELSE: SOMETHING_ELSE_PRIOR}

    @cached_property
    def likelihoods(self) -> dict[str, dict[str, tuple[float, ...]]]:
        """For each question and answer the share of each cause's engines that answer so, by ``cause_ids``.

        What a cause doesn't predict comes as is usual; where it predicts some answers of a question, the
        others share what is left in their usual ratio.
        """
        return {
            question.id: {answer.id: self._column(question, answer) for answer in question.answers}
            for question in self.askable.values()
        }

    def _column(self, question: Question, answer: Answer) -> tuple[float, ...]:
        of_causes = (_share(question, answer, each.predicts.get(question.id, {})) for each in self.causes)
        return (*of_causes, answer.usual)

    def require_cause(self, cause: str) -> None:
        """Refuse a cause that the desk doesn't know.

        Parameters
        ----------
        cause : str
            Its id.
        """
        if cause not in self.cause_ids:
            raise Refusal.at("cause", f'"{cause}"', f"must be one of {', '.join(self.cause_ids)}")

    def require_question(self, question: str) -> Question:
        """Give a question by its id, or refuse one that the desk doesn't ask.

        Parameters
        ----------
        question : str
            Its id.
        """
        known = self.askable.get(question)
        if known is None:
            do = f"known are: {', '.join(self.askable)}"
            raise Refusal.at("question", f'"{question}"', "must be one that the desk asks", do)
        return known

    def require_known(self, question: str, answer: str) -> None:
        """Refuse an answer that nobody could have given.

        Parameters
        ----------
        question, answer : str
            Their ids.
        """
        answers = [each.id for each in self.require_question(question).answers]
        if answer not in answers:
            raise Refusal.at(question, f'"{answer}"', f"must be one of {', '.join(answers)}")


def _share(question: Question, answer: Answer, predicted: Mapping[str, float]) -> float:
    if answer.id in predicted:
        return predicted[answer.id]
    others = sum(each.usual for each in question.answers if each.id not in predicted)
    return (1.0 - sum(predicted.values())) * answer.usual / others


@cache
def shipped_knowledge() -> Knowledge:
    """Give what ships with the program."""
    return read_knowledge()


def read_knowledge(*own: Path) -> Knowledge:
    """Read what ships with the program, and what a shop adds to it.

    Parameters
    ----------
    *own : Path
        Files of the shop, or folders of them; they add, and never take the place of what is there.

    Raises
    ------
    Refusal
        With a problem for everything in the files that can't be used.
    """
    files = [(path.name, _read_file(path)) for path in _paths((SHIPPED, *own))]
    known = Knowledge(
        questions=tuple(each for _, file in files for each in file.question),
        tests=tuple(each for _, file in files for each in file.test),
        findings=tuple(each for _, file in files for each in file.finding),
        causes=tuple(each for _, file in files for each in file.cause),
        contradictions=tuple(each for _, file in files for each in file.contradiction),
    )
    problems = list(_problems_between(files, known))
    if problems:
        raise Refusal(problems)
    return known


def _paths(places: Iterable[Path]) -> Iterator[Path]:
    for place in places:
        if not place.is_dir():
            yield place
            continue
        found = sorted(place.glob("*.toml"))
        if not found:
            raise Refusal.at(
                str(place), WHOLE, "has no file ending in .toml", "put the shop's causes into one"
            )
        if len(found) > MOST_FILES:
            raise Refusal.at(str(place), f"{len(found)} files", f"must be at most {MOST_FILES}")
        yield from found


def _read_file(path: Path) -> KnowledgeFile:
    try:
        content = path.read_bytes()
    except OSError as problem:
        raise Refusal.at(
            str(path), WHOLE, f"can't be read ({(problem.strerror or 'no file').lower()})"
        ) from problem
    if len(content) > MOST_BYTES:
        raise Refusal.at(str(path), f"{len(content):,} bytes", f"must be at most {MOST_BYTES:,}")
    try:
        given = tomllib.loads(content.decode())
    except ValueError as problem:
        raise Refusal.at(str(path), WHOLE, f"is not TOML: {problem}") from problem
    try:
        return KnowledgeFile.model_validate(given)
    except ValidationError as refusal:
        raise Refusal([_problem(path.name, given, detail) for detail in refusal.errors()]) from refusal


def _problem(file: str, given: Mapping[str, Any], detail: Any) -> Problem:
    """Say what is wrong with one value, and in which cause or test of which file it stands."""
    place, value, kind = tuple(detail["loc"]), detail["input"], detail["type"]
    where = f"{file}, {_place_words(given, place)}"
    if kind == "missing":
        do = "nobody mends what can't be proved" if place[-1] in ("prove", "proof") else ""
        return Problem(where, None, "must be given", do)
    if kind == "extra_forbidden":
        return Problem(where, value, "is not known here", "look how the files that ship write it")
    context = detail.get("ctx", {})
    if kind in ("greater_than", "less_than") and "predicts" in place:
        return Problem(where, value, "must be above 0 and below 1", _LIKELIHOOD)
    if kind == "literal_error":
        return Problem(where, value, f"must be {context['expected']}")
    return Problem(where, value if _short(value) else WHOLE, f"can't be used ({detail['msg'].lower()})")


def _short(value: object) -> bool:
    return isinstance(value, str | int | float) and len(str(value)) <= 60


def _place_words(given: Mapping[str, Any], place: tuple[str | int, ...]) -> str:
    """Write a place as the person finds it: by the id of its entry, where it has one.

    Examples
    --------
    >>> _place_words({"cause": [{"id": "worn"}]}, ("cause", 0, "predicts", "when", "hot"))
    'cause worn, predicts.when.hot'
    """
    if len(place) < 2 or not isinstance(place[1], int):
        return ".".join(str(each) for each in place)
    entry = given[str(place[0])][place[1]]
    name = entry.get("id") if isinstance(entry, dict) else None
    head = f"{place[0]} {name or place[1] + 1}"
    rest = ".".join(str(each + 1 if isinstance(each, int) else each) for each in place[2:])
    return f"{head}, {rest}" if rest else head


def _problems_between(files: Iterable[tuple[str, KnowledgeFile]], known: Knowledge) -> Iterator[Problem]:
    """Find what only shows when all files lie side by side."""
    causes, asked = {SOMETHING_ELSE: "the program"}, dict[str, str]()
    for name, file in files:
        for kind, entry in _entries(file):
            where = f"{name}, {kind} {entry.id}"
            seen = causes if isinstance(entry, Cause) else asked
            if entry.id in seen:
                yield Problem(
                    where, WHOLE, f"has the id of one in {seen[entry.id]}", "give it an id of its own"
                )
            seen.setdefault(entry.id, name)
            if not isinstance(entry, Cause):
                yield from _problems_of_answers(where, entry)
        for cause in file.cause:
            yield from _problems_of_cause(f"{name}, cause {cause.id}", cause, known)
        for number, each in enumerate(file.contradiction, start=1):
            for side, given in (("one", each.one), ("other", each.other)):
                yield from _unknown(f"{name}, contradiction {number}, {side}", given, known)


def _entries(file: KnowledgeFile) -> Iterator[tuple[str, Question | Cause]]:
    for kind in ("question", "test", "finding", "cause"):
        for entry in getattr(file, kind):
            yield kind, entry


def _problems_of_answers(where: str, question: Question) -> Iterator[Problem]:
    total = sum(each.usual for each in question.answers)
    if abs(total - 1.0) > 1e-6:
        yield Problem(f"{where}, usual", f"{total:g} in all", "must make 1 over its answers")
    ids = [each.id for each in question.answers]
    if len(set(ids)) < len(ids):
        yield Problem(f"{where}, answers", ", ".join(ids), "must have an id of their own each")
    if isinstance(question, BenchTest) and question.right not in ids:
        yield Problem(f"{where}, right", question.right, f"must be one of {', '.join(ids)}")


def _problems_of_cause(where: str, cause: Cause, known: Knowledge) -> Iterator[Problem]:
    yield from _unknown(f"{where}, proof", cause.proof, known)
    for question, predicted in cause.predicts.items():
        asked = known.askable.get(question)
        if asked is None:
            yield _unknown_question(f"{where}, predicts.{question}")
            continue
        ids = [each.id for each in asked.answers]
        for answer in predicted:
            if answer not in ids:
                yield Problem(f"{where}, predicts.{question}", answer, f"must be one of {', '.join(ids)}")
        total, all_told = sum(predicted.values()), len(predicted) == len(ids)
        if (all_told and abs(total - 1.0) > _SUM_SLACK) or (not all_told and total >= 1.0):
            must = "must make 1 over all answers" if all_told else "must leave something to the others"
            yield Problem(f"{where}, predicts.{question}", f"{total:g} in all", must)
    for question in cause.origins:
        if question not in cause.predicts:
            yield Problem(f"{where}, origins.{question}", WHOLE, "is the origin of nothing it predicts")


def _unknown_question(where: str) -> Problem:
    do = "correct the name, or add the test"
    return Problem(where, WHOLE, "is no question, test or finding that the desk knows", do)


def _unknown(where: str, given: Given, known: Knowledge) -> Iterator[Problem]:
    asked = known.askable.get(given.question)
    if asked is None:
        yield _unknown_question(f"{where}, {given.question}")
    elif given.answer not in {each.id for each in asked.answers}:
        ids = ", ".join(each.id for each in asked.answers)
        yield Problem(f"{where}, {given.question}", given.answer, f"must be one of {ids}")


CAUTION_KINDS: tuple[Caution, ...] = get_args(Caution)
