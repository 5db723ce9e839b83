"""Reading what the desk knows: the files that ship, and what a shop adds to them.

An entry that can't be used is left out and told, and all else counts: a call doesn't wait for a mended file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Generic, TypeAlias, TypeVar

from pydantic import ValidationError

from sparkwright.desk.knowledge import (
    SOMETHING_ELSE,
    Asked,
    BenchTest,
    Cause,
    Contradiction,
    FindingAsked,
    Given,
    Knowledge,
    Question,
)
from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.job.names import FIELDS

SHIPPED = Path(__file__).parent / "known"
MOST_BYTES = 1_000_000
MOST_FILES = 100
_LIKELIHOOD = "it is the share of engines with this cause that answer so"
_SUM_SLACK = 1e-9

_Known: TypeAlias = Question | Cause | Contradiction
_Kind = TypeVar("_Kind", bound=_Known)

_MODELS: dict[str, type[_Known]] = {
    "question": Asked,
    "test": BenchTest,
    "finding": FindingAsked,
    "cause": Cause,
    "contradiction": Contradiction,
}
"""What a file may hold, as `[[question]]` and so on."""


@dataclass(frozen=True)
class _Entry(Generic[_Kind]):
    """One entry of a file, and where a person finds it."""

    file: str
    where: str
    known: _Kind


_Read: TypeAlias = Sequence[_Entry[Any] | Problem]


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

    Returns
    -------
    Knowledge
        With all that can be used, and a problem for each entry that can't.

    Raises
    ------
    Refusal
        For a file that can't be read or is too large, and a folder without any.
    """
    read = [each for path in _paths((SHIPPED, *own)) for each in _read_file(path)]
    first = _first_with_each_id(read)
    questions, wrong_questions = _kept(_of(Asked, read), lambda each: _wrong_by_itself(each, first))
    tests, wrong_tests = _kept(_of(BenchTest, read), lambda each: _wrong_by_itself(each, first))
    findings, wrong_findings = _kept(_of(FindingAsked, read), lambda each: _wrong_by_itself(each, first))
    askable: tuple[Question, ...] = (*questions, *tests, *findings)
    asked = {each.id: each for each in askable}
    causes, wrong_causes = _kept(_of(Cause, read), lambda each: _wrong_cause(each, first, asked))
    pairs, wrong_pairs = _kept(_of(Contradiction, read), lambda each: _wrong_pair(each, asked))
    unread = [each for each in read if isinstance(each, Problem)]
    wrong = (*unread, *wrong_questions, *wrong_tests, *wrong_findings, *wrong_causes, *wrong_pairs)
    return Knowledge(questions, tests, findings, causes, pairs, left_out=wrong)


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


def _read_file(path: Path) -> Iterator[_Entry[Any] | Problem]:
    """Give each entry of a file, or what is wrong with it by its form alone."""
    try:
        content = path.read_bytes()
    except OSError as problem:
        why = (problem.strerror or "no file").lower()
        raise Refusal.at(str(path), WHOLE, f"can't be read ({why})") from problem
    if len(content) > MOST_BYTES:
        raise Refusal.at(str(path), f"{len(content):,} bytes", f"must be at most {MOST_BYTES:,}")
    try:
        given = tomllib.loads(content.decode())
    except ValueError as problem:
        yield Problem(path.name, WHOLE, f"is not TOML: {problem}", "all of it is left out")
        return
    for kind, entries in given.items():
        if kind not in _MODELS:
            yield Problem(f"{path.name}, {kind}", WHOLE, f"must be one of {', '.join(_MODELS)}")
        elif not isinstance(entries, list):
            yield Problem(f"{path.name}, {kind}", WHOLE, f"must be written [[{kind}]], in two brackets")
        else:
            for number, entry in enumerate(entries, start=1):
                yield from _read_entry(path.name, kind, number, entry)


def _read_entry(file: str, kind: str, number: int, given: object) -> Iterator[_Entry[Any] | Problem]:
    name = given.get("id") if isinstance(given, dict) else None
    where = f"{file}, {kind} {name or number}"
    try:
        yield _Entry(file, where, _MODELS[kind].model_validate(given))
    except ValidationError as refusal:
        yield from (_problem(where, detail) for detail in refusal.errors())


def _problem(entry: str, detail: Mapping[str, Any]) -> Problem:
    """Say what is wrong with one value of an entry."""
    place, value, kind = tuple(detail["loc"]), detail["input"], detail["type"]
    where = ", ".join(filter(None, (entry, _place_words(place))))
    if kind == "missing":
        do = "nobody mends what can't be proved" if place[-1] in ("prove", "proof") else ""
        return Problem(where, None, "must be given", do)
    if kind == "extra_forbidden":
        return Problem(where, _shown(value), "is not known here", "look how the files that ship write it")
    if kind in ("greater_than", "less_than") and "predicts" in place:
        return Problem(where, value, "must be above 0 and below 1", _LIKELIHOOD)
    if kind == "literal_error":
        return Problem(where, value, f"must be {detail['ctx']['expected']}")
    return Problem(where, _shown(value), f"can't be used ({detail['msg'].lower()})")


def _shown(value: object) -> object:
    return value if isinstance(value, str | int | float) and len(str(value)) <= 60 else WHOLE


def _place_words(place: Iterable[str | int]) -> str:
    """Write a place within an entry as the person finds it, counted from 1.

    Examples
    --------
    >>> _place_words(("predicts", "when", "hot")), _place_words(("cautions", 0))
    ('predicts.when.hot', 'cautions.1')
    """
    return ".".join(str(each + 1 if isinstance(each, int) else each) for each in place)


def _of(kind: type[_Kind], read: _Read) -> list[_Entry[_Kind]]:
    return [each for each in read if isinstance(each, _Entry) and isinstance(each.known, kind)]


def _kept(
    entries: Iterable[_Entry[_Kind]], problems_of: Callable[[_Entry[_Kind]], Iterable[Problem]]
) -> tuple[tuple[_Kind, ...], list[Problem]]:
    """Part what can be used from what is wrong with the rest."""
    known, wrong = [], []
    for entry in entries:
        found = list(problems_of(entry))
        if found:
            wrong += found
        else:
            known.append(entry.known)
    return tuple(known), wrong


def _first_with_each_id(read: _Read) -> dict[tuple[bool, str], _Entry[Any]]:
    """Give the entry that has an id first; causes have ids apart from all that is asked."""
    first: dict[tuple[bool, str], _Entry[Any]] = {}
    for each in read:
        if isinstance(each, _Entry) and not isinstance(each.known, Contradiction):
            first.setdefault((isinstance(each.known, Cause), each.known.id), each)
    return first


_First: TypeAlias = Mapping[tuple[bool, str], _Entry[Any]]


def _taken(entry: _Entry[Any], first: _First) -> Iterator[Problem]:
    is_cause, do = isinstance(entry.known, Cause), "give it an id of its own"
    earlier = first[is_cause, entry.known.id]
    if is_cause and entry.known.id == SOMETHING_ELSE:
        yield Problem(entry.where, WHOLE, "has the id of all that the desk doesn't know", do)
    elif earlier is not entry:
        yield Problem(entry.where, WHOLE, f"has the id of one in {earlier.file}", do)


def _wrong_by_itself(entry: _Entry[Any], first: _First) -> Iterator[Problem]:
    where, question = entry.where, entry.known
    yield from _taken(entry, first)
    total = sum(each.usual for each in question.answers)
    if abs(total - 1.0) > 1e-6:
        yield Problem(f"{where}, usual", f"{total:g} in all", "must make 1 over its answers")
    ids = [each.id for each in question.answers]
    if len(set(ids)) < len(ids):
        yield Problem(f"{where}, answers", ", ".join(ids), "must have an id of their own each")
    if isinstance(question, BenchTest) and question.right not in ids:
        yield Problem(f"{where}, right", question.right, f"must be one of {', '.join(ids)}")
    for key in question.states if isinstance(question, BenchTest) else ():
        if key not in FIELDS:
            yield Problem(f"{where}, states", key, "must be a key of the job, such as plugs.gap")


def _wrong_cause(entry: _Entry[Cause], first: _First, asked: Mapping[str, Question]) -> Iterator[Problem]:
    where, cause = entry.where, entry.known
    yield from _taken(entry, first)
    yield from _unknown(f"{where}, proof", cause.proof, asked)
    for question, predicted in cause.predicts.items():
        if question not in asked:
            yield _unknown_question(f"{where}, predicts.{question}")
            continue
        ids = [each.id for each in asked[question].answers]
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


def _wrong_pair(entry: _Entry[Contradiction], asked: Mapping[str, Question]) -> Iterator[Problem]:
    for side, given in (("one", entry.known.one), ("other", entry.known.other)):
        yield from _unknown(f"{entry.where}, {side}", given, asked)


def _unknown_question(where: str) -> Problem:
    do = "correct the name, or add the test"
    return Problem(where, WHOLE, "is no question, test or finding that the desk knows", do)


def _unknown(where: str, given: Given, asked: Mapping[str, Question]) -> Iterator[Problem]:
    known = asked.get(given.question)
    if known is None:
        yield _unknown_question(f"{where}, {given.question}")
    elif given.answer not in {each.id for each in known.answers}:
        ids = ", ".join(each.id for each in known.answers)
        yield Problem(f"{where}, {given.question}", given.answer, f"must be one of {ids}")
