"""What the desk knows: questions, tests, findings that count, and causes, each checked by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, ClassVar, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field

from sparkwright.errors import Problem, Refusal
from sparkwright.findings import State

SOMETHING_ELSE = "something-else"
"""The cause that stands for all that nobody wrote down; it answers as is usual."""
SOMETHING_ELSE_PRIOR = 5.0
"""Its weight, as the files give those of the others; common practice, no source."""
NOTICED, QUIET = "noticed", "quiet"
"""How a finding of the program answers: it stands there, or it was looked for and doesn't."""

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
    """A test that the caller can do, and all that its sheet tells.

    ``states`` are keys of the job whose values the expected reading speaks of.
    """

    id: Slug
    name: Line
    right: Slug
    minutes: Annotated[float, Field(gt=0, le=1000)]
    cost_minutes: Minutes = 0.0
    at: tuple[Slug, ...]
    tools: tuple[Line, ...]
    how: Annotated[tuple[Line, ...], Field(min_length=1)]
    expected: Line
    states: tuple[str, ...] = ()
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
    left_out : tuple of Problem
        What a file holds and can't be used; all else counts.
    """

    questions: tuple[Asked, ...]
    tests: tuple[BenchTest, ...]
    findings: tuple[FindingAsked, ...]
    causes: tuple[Cause, ...]
    contradictions: tuple[Contradiction, ...]
    left_out: tuple[Problem, ...] = ()

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

    def knows(self, given: Given) -> bool:
        """Say whether an answer is one that the desk has to offer.

        Parameters
        ----------
        given : Given
            The answer.
        """
        known = self.askable.get(given.question)
        return known is not None and given.answer in {each.id for each in known.answers}

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
