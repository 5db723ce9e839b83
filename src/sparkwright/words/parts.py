"""What sentences are made of: lengths in the person's units, orders of cylinders, counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

from sparkwright.findings import Length, Sentence
from sparkwright.units import System, show

Said: TypeAlias = tuple[str, str]
"""A sentence and what to do, "" where there is nothing to do."""

Writer: TypeAlias = Callable[..., Said]
"""Makes sentence and action of one kind of finding: takes the person's units and the finding's numbers."""


_DIMENSIONS = {"mm": "length", "m": "altitude"}


def length(value_mm: float, system: System, form: str = ".1f") -> str:
    """Say a length in the person's units; ``form`` is how millimetres are written.

    Examples
    --------
    >>> length(3.81, "metric"), length(3.81, "inch"), length(0.9, "metric", "g")
    ('3.8 mm', '0.150 in', '0.9 mm')
    """
    return _own_units(Length(value_mm, form), system)


def in_units(sentence: Sentence, system: System) -> str:
    """Write a sentence out with its lengths in the person's units.

    Examples
    --------
    >>> in_units(Sentence("Move the tip {0} ahead.", (Length(3.81),)), "inch")
    'Move the tip 0.150 in ahead.'
    """
    return sentence.written(lambda part: _own_units(part, system))


def _own_units(part: Length, system: System) -> str:
    return str(part) if system == "metric" else show(part.value, _DIMENSIONS[part.unit], system)


def order_words(cylinders: Iterable[object]) -> str:
    """Write an order of cylinders.

    Examples
    --------
    >>> order_words((1, 3, 4, 2))
    '1-3-4-2'
    """
    return "-".join(map(str, cylinders))


def mark_words(error_deg: float) -> str:
    """Say what a mark shows at true top dead centre.

    Examples
    --------
    >>> mark_words(-2.0), mark_words(0.31), mark_words(0.0)
    ('2.0 deg after', '0.3 deg before', '0')
    """
    if abs(error_deg) < 0.05:
        return "0"
    return f"{abs(error_deg):.1f} deg {'before' if error_deg > 0.0 else 'after'}"


def number_of_cells(count: int, one: str, many: str) -> str:
    """Count cells with their verb: "1 cell lies", "3 cells lie"."""
    return f"{count} cell {one}" if count == 1 else f"{count} cells {many}"


def sentence_case(words: str) -> str:
    """Begin words with a capital, as a sentence does.

    Examples
    --------
    >>> sentence_case("stop the engine.")
    'Stop the engine.'
    """
    return words[:1].upper() + words[1:]
