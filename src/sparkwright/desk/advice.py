"""What the desk says of a case: ranked causes, what to ask or test next, and what can't both be right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sparkwright.desk.case import Case
from sparkwright.desk.inference import (
    LEAST_BITS,
    Differing,
    Weighed,
    contradictions,
    next_test,
    priors,
    probabilities,
    ranking,
    weighed,
)
from sparkwright.desk.knowledge import (
    SOMETHING_ELSE,
    Asked,
    BenchTest,
    Caution,
    Given,
    Knowledge,
)
from sparkwright.desk.noticed import Found, Noticed, answers_of, noticed_in
from sparkwright.findings import Finding, Value

LIKELY = 0.5
"""From here on a cause is called likely; a choice."""
SHOWN_TESTS = 3
"""How many further tests are shown beside the next one; a choice."""


@dataclass(frozen=True)
class CauseNow:
    """A cause, how probable it is now, how it is proved and mended; empty for all others."""

    id: str
    name: str
    probability: float
    prior: float
    origin: str
    prove: str = ""
    mend: str = ""
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True)
class Choice:
    """An answer that may be given."""

    id: str
    words: str


@dataclass(frozen=True)
class AnswerNow:
    """An answer that counts, in words; ``entry`` is its number in the case, None if the program gave it."""

    question: str
    asked: str
    answer: str
    words: str
    entry: int | None


@dataclass(frozen=True)
class TestNow:
    """The test to do, what it is expected to tell, and all that its sheet shows."""

    __test__ = False

    id: str
    name: str
    bits: float
    bits_per_minute: float
    minutes: float
    at: tuple[str, ...]
    tools: tuple[str, ...]
    how: tuple[str, ...]
    expected: str
    states: tuple[str, ...]
    cautions: tuple[Caution, ...]
    answers: tuple[Choice, ...]


@dataclass(frozen=True)
class Further:
    """A test that comes after the next one, what it is expected to tell, and what it costs in all."""

    test: str
    name: str
    bits: float
    minutes: float


@dataclass(frozen=True)
class QuestionNow:
    """The question to ask the caller."""

    id: str
    ask: str
    several: bool
    answers: tuple[Choice, ...]


@dataclass(frozen=True)
class Advice:
    """Everything the faces show of a case, from one computation.

    Attributes
    ----------
    headline : Finding
        How things stand.
    causes : tuple of CauseNow
        Every cause, the most probable first.
    question : QuestionNow or None
        What to ask the caller first; None when all that is asked of everybody was asked.
    test : TestNow or None
        The test that tells most for its time and cost; None where a cause is sure, or none tells enough.
    further : tuple of Further
        The tests that come after it, or where it can't be done.
    answers : tuple of AnswerNow
        What counts: the caller's answers, then what the program noticed.
    noticed : tuple of Noticed
        Findings of the program that count.
    contradictions : tuple of Finding
        Answers that can't both be right.
    own_words : tuple of str
        What the caller said in words of their own; kept, and counted nowhere.
    not_known : tuple of AnswerNow
        Answers of a kept case to what the desk doesn't ask now, as after a test of the shop's own was taken
        out; kept, and counted nowhere.
    left_out : tuple of str
        What the shop's own files hold and can't be used, a sentence each.
    closed_as : str or None
        The cause that was found, once the case is closed.
    case : int or None
        Its number in the store; None where nobody keeps it.
    """

    headline: Finding
    causes: tuple[CauseNow, ...]
    question: QuestionNow | None
    test: TestNow | None
    further: tuple[Further, ...]
    answers: tuple[AnswerNow, ...]
    noticed: tuple[Noticed, ...]
    contradictions: tuple[Finding, ...]
    own_words: tuple[str, ...]
    not_known: tuple[AnswerNow, ...]
    left_out: tuple[str, ...]
    closed_as: str | None
    case: int | None

    @property
    def leading(self) -> CauseNow:
        """The most probable cause."""
        return self.causes[0]


def advise(
    knowledge: Knowledge,
    case: Case,
    found: Found | None = None,
    closed: Mapping[str, int] | None = None,
) -> Advice:
    """Rank the causes of a case and choose what to ask or test next.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    case : Case
        What was said.
    found : mapping, optional
        What the program found on the engine, as `noticed.found_on` gives it.
    closed : mapping, optional
        How many cases of the shop were closed with each cause.

    Examples
    --------
    >>> from sparkwright.desk.case import spoken
    >>> from sparkwright.desk.knowledge_files import shipped_knowledge
    >>> told = advise(shipped_knowledge(), spoken([Given(question="complaint", answer="hunts")]))
    >>> told.leading.id, told.question.id
    ('idle-slope', 'when')
    """
    found = found or {}
    known = tuple(each for each in case.given if knowledge.knows(each))
    given = (*known, *answers_of(knowledge, found))
    prior = priors(knowledge, closed)
    now = probabilities(knowledge, prior, given)
    causes = _causes(knowledge, prior, now)
    done = {*(each.question for each in given), *case.cannot}
    tests = weighed(knowledge, now, done)
    chosen = next_test(tests, now)
    return Advice(
        headline=_headline(causes, given, chosen),
        causes=causes,
        question=_question(knowledge, done),
        test=None if chosen is None else _test(knowledge, chosen),
        further=() if chosen is None else _further(knowledge, tests, chosen),
        answers=_answers(knowledge, case, given),
        noticed=noticed_in(knowledge, found),
        contradictions=tuple(_contradiction(knowledge, each) for each in contradictions(knowledge, known)),
        own_words=case.own_words,
        not_known=tuple(
            AnswerNow(each.question, each.question, each.answer, each.answer, each.id)
            for each in case.standing
            if each.kind == "answer" and each.given not in known
        ),
        left_out=tuple(str(each) for each in knowledge.left_out),
        closed_as=_closed_name(knowledge, case.closed_as),
        case=case.id or None,
    )


def _causes(knowledge: Knowledge, prior: tuple[float, ...], now: tuple[float, ...]) -> tuple[CauseNow, ...]:
    before = dict(zip(knowledge.cause_ids, prior, strict=True))
    return tuple(
        _cause(knowledge, each.cause, each.probability, before[each.cause])
        for each in ranking(knowledge, now)
    )


def _cause(knowledge: Knowledge, cause: str, probability: float, prior: float) -> CauseNow:
    if cause == SOMETHING_ELSE:
        name = "Something that the desk doesn't know"
        return CauseNow(cause, name, probability, prior, "common practice, no source")
    known = knowledge.by_id[cause]
    return CauseNow(
        cause,
        known.name,
        probability,
        prior,
        known.origin,
        prove=known.prove,
        mend=known.mend,
        cautions=known.cautions,
    )


def _headline(causes: tuple[CauseNow, ...], given: tuple[Given, ...], chosen: Weighed | None) -> Finding:
    if not given:
        return Finding("desk.nothing-said", "open")
    lead = causes[0]
    numbers: dict[str, Value] = {"cause": lead.name, "percent": 100.0 * lead.probability}
    if lead.id == SOMETHING_ELSE:
        return Finding("desk.something-else", "open", {"percent": 100.0 * lead.probability})
    if chosen is None:
        return Finding("desk.to-prove", "look", {**numbers, "prove": lead.prove})
    if lead.probability >= LIKELY:
        return Finding("desk.likely", "open", numbers)
    return Finding("desk.between", "open", {**numbers, "other": causes[1].name})


def _question(knowledge: Knowledge, done: set[str]) -> QuestionNow | None:
    asked: Asked | None = next((each for each in knowledge.questions if each.id not in done), None)
    return None if asked is None else QuestionNow(asked.id, asked.ask, asked.several, _choices(asked))


def _choices(asked: Asked | BenchTest) -> tuple[Choice, ...]:
    return tuple(Choice(each.id, each.words) for each in asked.answers)


def _test(knowledge: Knowledge, chosen: Weighed) -> TestNow:
    test: BenchTest = next(each for each in knowledge.tests if each.id == chosen.test)
    return TestNow(
        id=test.id,
        name=test.name,
        bits=chosen.bits,
        bits_per_minute=chosen.bits_per_minute,
        minutes=test.minutes,
        at=test.at,
        tools=test.tools,
        how=test.how,
        expected=test.expected,
        states=test.states,
        cautions=test.cautions,
        answers=_choices(test),
    )


def _further(knowledge: Knowledge, tests: tuple[Weighed, ...], chosen: Weighed) -> tuple[Further, ...]:
    telling = [each for each in tests if each != chosen and each.bits >= LEAST_BITS]
    return tuple(
        Further(each.test, _asked_words(knowledge, each.test), each.bits, each.minutes)
        for each in telling[:SHOWN_TESTS]
    )


def _answers(knowledge: Knowledge, case: Case, given: tuple[Given, ...]) -> tuple[AnswerNow, ...]:
    entries = {(each.question, each.answer): each.id for each in case.standing if each.kind == "answer"}
    return tuple(
        AnswerNow(
            each.question,
            _asked_words(knowledge, each.question),
            each.answer,
            _answer_words(knowledge, each),
            entries.get((each.question, each.answer)),
        )
        for each in dict.fromkeys(given)
    )


def _asked_words(knowledge: Knowledge, question: str) -> str:
    return knowledge.askable[question].ask


def _answer_words(knowledge: Knowledge, given: Given) -> str:
    answers = knowledge.askable[given.question].answers
    return next(each.words for each in answers if each.id == given.answer)


def _contradiction(knowledge: Knowledge, told: Differing) -> Finding:
    numbers: dict[str, Value] = {
        "asked": _asked_words(knowledge, told.one.question),
        "one": _answer_words(knowledge, told.one),
        "other_asked": _asked_words(knowledge, told.other.question),
        "other": _answer_words(knowledge, told.other),
    }
    if not told.why:
        del numbers["other_asked"]
        return Finding("desk.two-answers", "look", numbers)
    return Finding("desk.not-both", "look", {**numbers, "why": told.why})


def _closed_name(knowledge: Knowledge, cause: str | None) -> str | None:
    if cause is None or cause == SOMETHING_ELSE:
        return None if cause is None else "Something that the desk doesn't know"
    known = knowledge.by_id.get(cause)
    return known.name if known else cause
