"""What a person is told: findings as data, and the type of the sentences that are made of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

State = Literal["good", "look", "problem", "open"]
"""How a finding stands: good, look here, put right ("problem"), or open: the numbers don't determine it."""

WORST_FIRST: tuple[State, ...] = ("problem", "look", "open", "good")

Value: TypeAlias = float | str | bool | tuple["Value", ...] | None


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
    """Give the first of the findings that stand worst.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    """
    return min(findings, key=lambda each: WORST_FIRST.index(each.state))


def each_once(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Give findings in their order, each once.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    """
    return tuple(dict.fromkeys(findings))


@dataclass(frozen=True, slots=True)
class Length:
    """A length as a part of a sentence: its value in mm, or in m above the sea, and how that is written."""

    value: float
    form: str = ".1f"
    unit: Literal["mm", "m"] = "mm"

    def __str__(self) -> str:
        return f"{self.value:{self.form}} {self.unit}"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence for a person: it can be shown and held against another, but not read.

    It has none of the methods of text, so that the type checker refuses code that looks for a word in it; who
    wants to know what it tells of asks the data that it was made from.

    Lengths stand in it as what they are, at the places ``{0}``, ``{1}``, so that each person reads their own
    units.

    Examples
    --------
    >>> sentence = Sentence("Move the tip {0} ahead.", (Length(3.06),))
    >>> print(sentence)
    Move the tip 3.1 mm ahead.
    >>> sentence == Sentence("Move the tip {0} ahead.", (Length(3.06),))
    True
    """

    _text: str
    _lengths: tuple[Length, ...] = ()

    def written(self, write: Callable[[Length], str]) -> str:
        """Write it out, with its lengths as ``write`` writes them.

        Parameters
        ----------
        write : callable
            Makes text of a length.
        """
        return self._text.format(*map(write, self._lengths)) if self._lengths else self._text

    def __str__(self) -> str:
        return self.written(str)
