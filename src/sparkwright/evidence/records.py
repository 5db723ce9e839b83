"""A record of what was seen: when, by whom, on which engine, and whether it was withdrawn since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from sparkwright.errors import Problem, Refusal
from sparkwright.evidence.kinds import Seen, read


@dataclass(frozen=True)
class Withdrawal:
    """When a record was withdrawn, by whom (None where that was not said) and why ("" likewise)."""

    when: datetime
    who: str | None
    why: str = ""


@dataclass(frozen=True)
class Unreadable:
    """What this version of the program can't read, and why: shown, never counted."""

    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class Record:
    """One record of evidence, as it is kept.

    Parameters
    ----------
    id : int
        Its number in the store.
    job : str
        Key of the job to which it belongs.
    kind, version : str, int
        What it is, and the version of that kind's fields.
    when : datetime
        When it was taken, in UTC.
    who : str
        Who took it.
    fields : mapping
        What was seen, as it is kept.
    withdrawn : Withdrawal, optional
        A record that is withdrawn counts in no result, and is shown, struck through.
    """

    id: int
    job: str
    kind: str
    version: int
    when: datetime
    who: str
    fields: Mapping[str, object]
    withdrawn: Withdrawal | None = None

    @property
    def schema(self) -> str:
        """The name of its fields' form.

        Examples
        --------
        >>> from datetime import UTC
        >>> Record(1, "old-four", "sweep", 1, datetime.now(UTC), "A. Example", {}).schema
        'urn:sparkwright:evidence:sweep:1'
        """
        return f"urn:sparkwright:evidence:{self.kind}:{self.version}"

    @cached_property
    def data(self) -> Seen | Unreadable:
        """What was seen; read when it is first asked for."""
        try:
            return read(self.kind, self.version, self.fields)
        except Refusal as refusal:
            return Unreadable(refusal.problems)
