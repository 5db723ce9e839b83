"""A case at the desk: everything that was said about it, in order, of which nothing is ever taken away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sparkwright.desk.knowledge import Given

EntryKind = Literal["answer", "cannot", "words", "closed", "withdrawn"]
"""An answer, a question that can't be answered, words of the caller's own, the outcome, and a withdrawal."""


@dataclass(frozen=True)
class Entry:
    """One thing that was said in a case.

    Parameters
    ----------
    id : int
        Its number.
    kind : str
        What it is.
    question, answer : str
        Of an answer, both; ``question`` alone of what can't be answered; ``answer`` is an outcome's cause.
    text : str
        The caller's own words, or a remark.
    withdraws : int or None
        The entry that a withdrawal takes back: an answer, or the outcome.
    when, who : datetime, str
        When it was said, and who noted it; None and "" where nobody keeps it.
    """

    id: int
    kind: EntryKind
    question: str = ""
    answer: str = ""
    text: str = ""
    withdraws: int | None = None
    when: datetime | None = None
    who: str = ""

    @property
    def given(self) -> Given:
        """What an answer answers, and how, as it was kept; the desk may not ask it any more."""
        return Given.model_construct(question=self.question, answer=self.answer)


@dataclass(frozen=True)
class Case:
    """One call: its entries as they came, and the job that it is about, if there is one.

    Parameters
    ----------
    id : int
        Its number in the store; 0 where nobody keeps it.
    name : str
        What it is called.
    job : str or None
        Key of the job.
    entries : tuple of Entry
        Everything that was said.
    when, who : datetime, str
        When it was opened, and by whom; None and "" where nobody keeps it.
    """

    id: int
    name: str
    job: str | None
    entries: tuple[Entry, ...]
    when: datetime | None = None
    who: str = ""

    @property
    def standing(self) -> tuple[Entry, ...]:
        """What was said and not withdrawn."""
        gone = {each.withdraws for each in self.entries if each.kind == "withdrawn"}
        return tuple(each for each in self.entries if each.kind != "withdrawn" and each.id not in gone)

    @property
    def given(self) -> tuple[Given, ...]:
        """The answers that stand."""
        return tuple(each.given for each in self.standing if each.kind == "answer")

    @property
    def cannot(self) -> tuple[str, ...]:
        """The questions that can't be answered."""
        return tuple(each.question for each in self.standing if each.kind == "cannot")

    @property
    def own_words(self) -> tuple[str, ...]:
        """What the caller said in words of their own."""
        return tuple(each.text for each in self.standing if each.kind == "words")

    def new_in(self, entries: Iterable[Entry]) -> tuple[Entry, ...]:
        """Leave out what stands already, as a key that is pressed twice sends.

        Parameters
        ----------
        entries : iterable of Entry
            What is said now.
        """
        standing = {_said(each) for each in self.standing}
        kept: dict[tuple[str, ...], Entry] = {}
        for each in entries:
            if each.kind in ("withdrawn", "closed") or _said(each) not in standing:
                kept.setdefault((*_said(each), str(each.withdraws)), each)
        return tuple(kept.values())

    @property
    def closed_as(self) -> str | None:
        """The cause that was found, of the last outcome that stands; None while the case is open."""
        found = [each.answer for each in self.standing if each.kind == "closed"]
        return found[-1] if found else None


def _said(entry: Entry) -> tuple[str, ...]:
    return (entry.kind, entry.question, entry.answer, entry.text)


def closed_counts(cases: Iterable[Case]) -> dict[str, int]:
    """Count how many cases were closed with each cause; an outcome that was taken back counts no more.

    Parameters
    ----------
    cases : iterable of Case
        The shop's cases.
    """
    return dict(Counter(each.closed_as for each in cases if each.closed_as is not None))


def spoken(
    given: Iterable[Given] = (), cannot: Iterable[str] = (), own_words: Iterable[str] = (), name: str = ""
) -> Case:
    """Make a case that nobody keeps, of what was said in one breath.

    Parameters
    ----------
    given : iterable of Given
        Answers.
    cannot : iterable of str
        Questions that can't be answered.
    own_words : iterable of str
        What was said in words of the caller's own.
    name : str
        What it is called.
    """
    said: list[dict[str, str]] = [
        *({"kind": "answer", "question": each.question, "answer": each.answer} for each in given),
        *({"kind": "cannot", "question": each} for each in cannot),
        *({"kind": "words", "text": each} for each in own_words),
    ]
    entries = tuple(Entry(id=number, **each) for number, each in enumerate(said, start=1))  # type: ignore[arg-type]
    return Case(0, name, None, entries)
