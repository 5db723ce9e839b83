"""The probability of each cause from what was answered: Bayes' rule, answers independent given one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sparkwright.desk.knowledge import BenchTest, Given, Knowledge

PRIOR_CASES = 60.0
"""How many closed cases the priors of the files are worth against the shop's own; a choice."""
ENOUGH = 0.85
"""With so much probability a cause is to be proved rather than asked about; a choice."""
LEAST_BITS = 0.04
"""A test that is expected to tell less isn't asked for; a choice."""
STEP_MINUTES = 15.0
"""What every test costs besides its own time: fetching tools, and calling back; a choice."""


@dataclass(frozen=True)
class Ranked:
    """One cause and its probability now."""

    cause: str
    probability: float


@dataclass(frozen=True)
class Differing:
    """Two answers that can't both be right; ``why`` is empty where they answer the same question."""

    one: Given
    other: Given
    why: str = ""


@dataclass(frozen=True)
class Weighed:
    """A test, what it is expected to tell in bits, and that for each minute that it costs in all."""

    test: str
    bits: float
    minutes: float

    @property
    def bits_per_minute(self) -> float:
        """What it tells for its time and cost."""
        return self.bits / self.minutes


def priors(knowledge: Knowledge, closed: Mapping[str, int] | None = None) -> tuple[float, ...]:
    """Give how common each cause is: the files' priors, moved by the shop's own closed cases.

    The mean of a Dirichlet distribution whose prior is worth `PRIOR_CASES` cases.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    closed : mapping, optional
        How many cases of the shop were closed with each cause; one that isn't known any more counts nowhere.

    Examples
    --------
    >>> from sparkwright.desk.knowledge_files import shipped_knowledge
    >>> round(sum(priors(shipped_knowledge(), {"cap-track": 4})), 12)
    1.0
    """
    weights = knowledge.prior_weights
    whole = math.fsum(weights.values())
    counted = {cause: (closed or {}).get(cause, 0) for cause in knowledge.cause_ids}
    cases = PRIOR_CASES + sum(counted.values())
    return tuple(
        (PRIOR_CASES * weights[cause] / whole + counted[cause]) / cases for cause in knowledge.cause_ids
    )


def probabilities(knowledge: Knowledge, prior: Sequence[float], given: Iterable[Given]) -> tuple[float, ...]:
    """Give the probability of each cause.

    A pure function of the set of answers: their order, and what was given and withdrawn meanwhile, leave no
    trace in any digit. Of a question with one answer that has two, neither counts.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    prior : sequence of float
        How common each cause is.
    given : iterable of Given
        What was answered.
    """
    counting = _counting(knowledge, given)
    logs = [math.log(each) for each in prior]
    for likelihood in counting:
        logs = [log + math.log(share) for log, share in zip(logs, likelihood, strict=True)]
    return _normalised(logs)


def _counting(knowledge: Knowledge, given: Iterable[Given]) -> list[tuple[float, ...]]:
    """Give the likelihoods of the answers that count, in the order of the knowledge."""
    answered = answers_by_question(given)
    return [
        likelihood
        for question in knowledge.askable.values()
        if len(answered.get(question.id, ())) == 1 or question.several
        for answer, likelihood in knowledge.likelihoods[question.id].items()
        if answer in answered.get(question.id, ())
    ]


def answers_by_question(given: Iterable[Given]) -> dict[str, set[str]]:
    """Give the answers of each question.

    Parameters
    ----------
    given : iterable of Given
        What was answered.
    """
    found: dict[str, set[str]] = {}
    for each in given:
        found.setdefault(each.question, set()).add(each.answer)
    return found


def _normalised(logs: Sequence[float]) -> tuple[float, ...]:
    most = max(logs)
    weights = [math.exp(each - most) for each in logs]
    whole = math.fsum(weights)
    return tuple(each / whole for each in weights)


def ranking(knowledge: Knowledge, probability: Sequence[float]) -> tuple[Ranked, ...]:
    """Give the causes, the most probable first.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    probability : sequence of float
        As `probabilities` gives them.
    """
    found = [Ranked(*pair) for pair in zip(knowledge.cause_ids, probability, strict=True)]
    return tuple(sorted(found, key=lambda each: -each.probability))


def entropy_bits(probability: Iterable[float]) -> float:
    """Give what is still to be told, in bits (Shannon 1948).

    Parameters
    ----------
    probability : iterable of float
        They make 1.

    Examples
    --------
    >>> entropy_bits([0.25, 0.25, 0.25, 0.25])
    2.0
    """
    return -math.fsum(each * math.log2(each) for each in probability if each > 0.0)


def expected_bits(likelihoods: Mapping[str, Sequence[float]], probability: Sequence[float]) -> float:
    """Give how many bits the answer to a question is expected to tell of the cause (Lindley 1956).

    Parameters
    ----------
    likelihoods : mapping
        For each answer its share with each cause.
    probability : sequence of float
        Of each cause, now.

    Examples
    --------
    >>> expected_bits({"yes": (1.0, 0.0), "no": (0.0, 1.0)}, (0.5, 0.5))
    1.0
    """
    left = 0.0
    for likelihood in likelihoods.values():
        joint = [share * each for share, each in zip(likelihood, probability, strict=True)]
        chance = math.fsum(joint)
        if chance > 0.0:
            left += chance * entropy_bits(each / chance for each in joint)
    return entropy_bits(probability) - left


def weighed(knowledge: Knowledge, probability: Sequence[float], done: Iterable[str]) -> tuple[Weighed, ...]:
    """Weigh every test that wasn't done, the one that tells most for its time and cost first.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    probability : sequence of float
        Of each cause, now.
    done : iterable of str
        Tests that were answered, or that the caller can't do.
    """
    left_out = set(done)
    found = [
        Weighed(test.id, expected_bits(knowledge.likelihoods[test.id], probability), minutes_of(test))
        for test in knowledge.tests
        if test.id not in left_out
    ]
    return tuple(sorted(found, key=lambda each: -each.bits_per_minute))


def minutes_of(test: BenchTest) -> float:
    """Give what a test costs in all, in minutes.

    Parameters
    ----------
    test : BenchTest
        The test.
    """
    return STEP_MINUTES + test.minutes + test.cost_minutes


def next_test(tests: Sequence[Weighed], probability: Sequence[float]) -> Weighed | None:
    """Give the test to ask for next; None where a cause is sure enough, or no test tells enough.

    Parameters
    ----------
    tests : sequence of Weighed
        As `weighed` gives them.
    probability : sequence of float
        Of each cause, now.
    """
    if max(probability) >= ENOUGH:
        return None
    return next((each for each in tests if each.bits >= LEAST_BITS), None)


def contradictions(knowledge: Knowledge, given: Iterable[Given]) -> tuple[Differing, ...]:
    """Find answers that can't both be right: two to one question, and pairs that the knowledge names.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    given : iterable of Given
        What was answered.
    """
    answered = answers_by_question(given)
    twice = [
        Differing(Given(question=name, answer=first), Given(question=name, answer=second))
        for name, (first, second, *_) in (
            (each, sorted(answers)) for each, answers in answered.items() if len(answers) > 1
        )
        if not knowledge.askable[name].several
    ]
    named = [
        Differing(each.one, each.other, each.why)
        for each in knowledge.contradictions
        if each.one.answer in answered.get(each.one.question, ())
        and each.other.answer in answered.get(each.other.question, ())
    ]
    return (*twice, *named)
