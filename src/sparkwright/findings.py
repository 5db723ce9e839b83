"""What a person is told: the type of its sentences."""

from __future__ import annotations

from dataclasses import dataclass


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
