"""What a person is told: findings as data, and the type of the sentences that are made of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, TypeVar

State = Literal["good", "look", "problem", "open"]
"""How a finding stands: good, look here, put right ("problem"), or open: the numbers don't determine it."""

WORST_FIRST: tuple[State, ...] = ("problem", "look", "open", "good")

Value: TypeAlias = float | str | bool | tuple["Value", ...] | None

Noted = TypeVar("Noted")


@dataclass(frozen=True)
class Finding:
    """One thing that a check noticed.

    ``kind`` names it: what it is about, a point, and what was noticed. ``numbers`` are all that its sentence
    and what to do are made of, each with its unit in the name; ``sparkwright.words`` makes them.

    Examples
    --------
    >>> found = Finding("coil.discharge", "good", {"energy_mj": 110.0, "rise_us": 30.0, "most_w": 40.0})
    >>> found.subject
    'coil'
    """

    kind: str
    state: State
    numbers: Mapping[str, Value] = field(default_factory=dict, hash=False)

    @property
    def subject(self) -> str:
        """What it is about: the part of the kind before the point."""
        return self.kind.partition(".")[0]


def worst(findings: Iterable[Finding]) -> Finding:
    """Give the first of the findings that stand worst."""
    return min(findings, key=lambda each: WORST_FIRST.index(each.state))


def each_once(findings: Iterable[Noted]) -> tuple[Noted, ...]:
    """Give findings in their order, each once."""
    return tuple(dict.fromkeys(findings))


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence for a person: it can be shown and held against another, but not read.

    It has none of the methods of text, so that the type checker refuses code that looks for a word in it; who
    wants to know what it tells of asks the data that it was made from.

    Examples
    --------
    >>> sentence = Sentence("The spark reaches every post.")
    >>> print(sentence)
    The spark reaches every post.
    >>> sentence == Sentence("The spark reaches every post.")
    True
    """

    _text: str

    def __str__(self) -> str:
        return self._text
