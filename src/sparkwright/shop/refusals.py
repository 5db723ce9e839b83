"""What the store refuses, and the checks of the few words that people give it."""

from __future__ import annotations

import errno
import json
import sqlite3
from typing import TYPE_CHECKING, Any

from sqlalchemy.exc import DataError, DBAPIError, IntegrityError
from sqlalchemy.exc import TimeoutError as NoConnectionFreeError

from sparkwright.errors import WHOLE, Refusal, SparkwrightError, printable
from sparkwright.job.toml import MOST_BYTES

if TYPE_CHECKING:
    from pathlib import Path

    from sparkwright.shop.facts import KeptText, Revision

FULL = "the disk is full"
"""What a person hears of a disk that takes no more, and how that is known again."""
MOST_NAME = 80
MOST_SENT_AS = 40
MOST_FILE_NAME = 200
MOST_WHY = 500
MOST_SENTENCE = 1000
MOST_READING = 10_000


class ShopError(SparkwrightError):
    """Anything that the store can't do, said in a sentence or a few, one a line."""

    def __init__(self, sentences: str) -> None:
        super().__init__("\n".join(printable(line) for line in sentences.splitlines()))

    @property
    def of_database(self) -> bool:
        """Whether the database could not do its work, whatever was asked: it is down, locked or full."""
        refused_this = isinstance(self.__cause__, DataError | IntegrityError)
        failed = isinstance(self.__cause__, DBAPIError | sqlite3.Error | NoConnectionFreeError)
        return failed and not refused_this

    @property
    def of_full_disk(self) -> bool:
        """Whether there was no room for it, in the database or among the files."""
        cause = self.__cause__
        if isinstance(cause, OSError):
            return cause.errno in (errno.ENOSPC, errno.EDQUOT)
        return self.of_database and FULL in str(self)


class AtPlaceError(ShopError):
    """Something wrong at a place of this machine; where that is is said to nobody who comes by the network.

    Parameters
    ----------
    place : str or Path
        Where it is, without any password.
    what : str
        What is wrong there.
    called : str
        What stands there, for everybody.

    Examples
    --------
    >>> problem = AtPlaceError("/srv/shop.db", "the disk is full")
    >>> str(problem), problem.on_this_machine
    ('the store: the disk is full', '/srv/shop.db: the disk is full')
    """

    def __init__(self, place: str | Path, what: str, called: str = "the store") -> None:
        super().__init__(f"{called}: {what}")
        self._given = (str(place), what, called)

    @property
    def on_this_machine(self) -> str:
        """The same with the place."""
        place, what, _ = self._given
        return printable(f"{place}: {what}")

    def __reduce__(self) -> tuple[type[AtPlaceError], tuple[str, str, str]]:
        """Let the exception cross to another process whole."""
        return type(self), self._given


class NotThereError(ShopError, LookupError):
    """A job, revision, reading or attachment that isn't in the store."""


class SavedElsewhereError(ShopError):
    """Somebody else saved this job in the meantime; both texts are in the store.

    Parameters
    ----------
    theirs : Revision
        The latest revision, which the refused text did not know.
    kept : KeptText
        The refused text, kept beside the job until somebody drops it.
    """

    def __init__(self, theirs: Revision, kept: KeptText) -> None:
        self.theirs = theirs
        self.kept = kept
        super().__init__(
            f"{theirs.who} saved revision {theirs.number} of this job while you worked on revision "
            f"{kept.based_on}; yours is kept beside it, nothing is lost; compare the two and save again"
        )

    def __reduce__(self) -> tuple[type[SavedElsewhereError], tuple[Any, ...]]:
        """Let the exception cross to another process whole."""
        return type(self), (self.theirs, self.kept)


def name_given(field: str, text: str, most: int = MOST_NAME) -> str:
    """Give a name without blanks around it, or refuse it.

    Parameters
    ----------
    field : str
        What a refusal calls the name.
    text : str
        The name as it was typed.
    most : int, optional
        How many characters it may have.

    Examples
    --------
    >>> name_given("who", " A. Example ")
    'A. Example'
    """
    name = text.strip()
    if not name:
        raise Refusal.at(field, '""', f"must be 1 to {most} characters", "write a name")
    return _printing(field, name, most)


def sent_as_given(text: str | None) -> str | None:
    """Give the word under which something was sent, so that it is kept once when it is sent again.

    Parameters
    ----------
    text : str or None
        The word that came with what was sent; None where none did.
    """
    return None if text is None else name_given("sent_as", text, MOST_SENT_AS)


def why_given(text: str) -> str:
    """Give a reason without blanks around it; it may be empty.

    Parameters
    ----------
    text : str
        The reason as it was typed.
    """
    return _printing("why", text.strip(), MOST_WHY)


def _printing(field: str, text: str, most: int) -> str:
    if len(text) > most:
        raise Refusal.at(
            field, f'"{text[:40]}..."', f"must be at most {most} characters", f"it has {len(text)}"
        )
    if not text.isprintable() and text:
        raise Refusal.at(field, f'"{text}"', "must hold only characters that print")
    return text


def sentence_given(field: str, text: str) -> str:
    """Give one sentence that a person acknowledged.

    Parameters
    ----------
    field : str
        What a refusal calls the sentence.
    text : str
        The sentence.
    """
    if not text.strip():
        raise Refusal.at(field, '""', "must be a sentence")
    return _printing(field, text.strip(), MOST_SENTENCE)


def job_text_given(text: str) -> bytes:
    """Give a job's text as the bytes that are kept; refuses what no file could hold.

    Parameters
    ----------
    text : str
        Text of a job file.
    """
    try:
        content = text.encode("utf-8")
    except UnicodeEncodeError as problem:
        raise Refusal.at("the job", WHOLE, "holds half a character", "paste the text again") from problem
    if len(content) > MOST_BYTES:
        raise Refusal.at(
            "the job", WHOLE, f"is longer than {MOST_BYTES:,} bytes", "a job is a few pages of text"
        )
    return content


def fields_given(fields: object) -> str:
    """Give what was seen as the JSON that is kept; refuses what JSON can't hold.

    Parameters
    ----------
    fields : object
        Names and values of a record.

    Examples
    --------
    >>> fields_given({"rpm": 2000, "seen_deg": None})
    '{"rpm": 2000, "seen_deg": null}'
    """
    try:
        text = json.dumps(fields, ensure_ascii=False, allow_nan=False)
        text.encode("utf-8")
    except (TypeError, ValueError, RecursionError) as problem:
        raise Refusal.at(
            "reading", "what was given", "must hold numbers, words, true or false; null for what is not known"
        ) from problem
    if len(text) > MOST_READING:
        raise Refusal.at(
            "reading", f"{len(text):,} characters", f"must be at most {MOST_READING:,} characters"
        )
    return text
