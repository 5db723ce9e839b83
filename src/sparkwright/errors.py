"""What Sparkwright refuses: problems as data, and their sentences for who has to put them right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final, TypeAlias


class SparkwrightError(Exception):
    """Anything that Sparkwright refuses to go on with; catch this one to catch them all."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is to be told, one sentence a problem."""
        return (str(self),)

    @property
    def on_this_machine(self) -> str:
        """The sentences for whoever runs the program, who may also read where on the machine it was."""
        return str(self)


def printable(text: str) -> str:
    r"""Show characters that don't print as escapes, so that nothing typed can act on a terminal.

    Parameters
    ----------
    text : str
        Any text.

    Examples
    --------
    >>> printable("Bench" + chr(7))
    'Bench\\x07'
    """
    return "".join(each if each.isprintable() else ascii(each)[1:-1] for each in text)


class _Whole(Enum):
    WHOLE = "all that stands there"


WHOLE: Final = _Whole.WHOLE
"""Stands for the value where the problem is with a whole file, line or section rather than with one value."""


@dataclass(frozen=True, slots=True)
class Key:
    """A key of the job as a part of a phrase: a terminal writes it as the file has it, a page its label.

    Parameters
    ----------
    path : str
        From the section of the problem on, `rod_ratio`, or with its own, `engine.rod_ratio`.
    """

    path: str

    def __str__(self) -> str:
        return self.path


@dataclass(frozen=True, slots=True)
class Stated:
    """A key with a text that it has, or may have, as a part of a phrase: `kind = "boosted"` in a file.

    Parameters
    ----------
    path : str
        The key, as that of a `Key`.
    value : str
        The text.
    """

    path: str
    value: str

    def __str__(self) -> str:
        return f'{self.path} = "{self.value}"'


Part: TypeAlias = str | Key | Stated


@dataclass(frozen=True, slots=True)
class Phrase:
    """Words with keys of the job among them, each of which stays what it is until somebody is told."""

    parts: tuple[Part, ...]

    def __str__(self) -> str:
        return "".join(map(str, self.parts))


def phrase(*parts: Part) -> Phrase:
    """Make a phrase of words and keys.

    Parameters
    ----------
    *parts : str, Key or Stated
        In their order, with the spaces between them.

    Examples
    --------
    >>> print(phrase("must stand only where ", Stated("kind", "boosted"), ", beside ", Key("max_boost")))
    must stand only where kind = "boosted", beside max_boost
    """
    return Phrase(parts)


@dataclass(frozen=True)
class Problem:
    """One thing that was given and can't be used.

    Parameters
    ----------
    place : str
        Where it stands, as the person wrote it: `engine.bore`, `pegs[2].rpm`; "" where that is plain.
    value : object
        What was given; None when nothing was, `WHOLE` when it is all that stands there.
    must : str or Phrase
        What is allowed, starting with "must" where it can.
    do : str or Phrase
        What to do about it, or why the limit is there.

    Examples
    --------
    >>> print(Problem("coil.primary_ohm", 0, "must be above 0", "a shorted primary has no charging curve"))
    coil.primary_ohm = 0: must be above 0; a shorted primary has no charging curve
    >>> print(Problem("bench.toml", WHOLE, "is a folder", "give the job file in it"))
    bench.toml: is a folder; give the job file in it
    """

    place: str
    value: object
    must: str | Phrase
    do: str | Phrase = ""

    def __str__(self) -> str:
        """Say it in one sentence."""
        must = f"{self.must}; {self.do}" if self.do else str(self.must)
        return printable(f"{self._what()}: {must}" if self.place else must)

    def _what(self) -> str:
        if self.value is WHOLE:
            return self.place
        return f"{self.place} (not given)" if self.value is None else f"{self.place} = {self.value}"


class Refusal(SparkwrightError, ValueError):  # noqa: N818 - the word of the design, not another error
    """Everything in what a person gave that can't be used.

    Parameters
    ----------
    problems : sequence of Problem
        In the order in which they were given.

    Examples
    --------
    >>> bore = Problem("engine.bore", None, "must be given")
    >>> print(Refusal([bore, Problem("fuel.ron", 5, "must be 50 to 130")]))
    engine.bore (not given): must be given
    fuel.ron = 5: must be 50 to 130
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(self.problems)

    @classmethod
    def at(cls, place: str, value: object, must: str, do: str = "") -> Refusal:
        """Refuse one thing.

        Parameters
        ----------
        place : str
            What the refusal calls it.
        value : object
            What was given; None when nothing was.
        must : str
            What is allowed.
        do : str
            What to do about it.

        Examples
        --------
        >>> print(Refusal.at("paper", "a0", "must be a4 or letter"))
        paper = a0: must be a4 or letter
        """
        return cls([Problem(place, value, must, do)])

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is to be told, one sentence a problem."""
        return tuple(str(problem) for problem in self.problems)

    def __str__(self) -> str:
        return "\n".join(self.sentences)


class PhysicsError(SparkwrightError, ValueError):
    """A number that a calculation can't take; what it is told with is that of a `Problem`.

    Examples
    --------
    >>> print(PhysicsError("gap_mm", 0, "must be above 0"))
    gap_mm = 0: must be above 0
    """

    def __init__(self, place: str, value: object, must: str, do: str = "") -> None:
        super().__init__(place, value, must, do)
        self.problem = Problem(place, value, must, do)

    def __str__(self) -> str:
        return str(self.problem)
