"""What a key is, said apart from what is taken where nobody states it."""

from __future__ import annotations

PRACTICE = "common practice, no source"


class Described(str):
    """A description of a key that knows its parts, so that no face has to read it.

    As text it is the whole of it: the job's schema and the documents take it as it is.
    """

    what: str
    """What the key is."""
    practice: bool
    """Whether what is taken in its place is common practice without a source."""


def described(what: str, taken: str, *, practice: bool = False) -> Described:
    """Describe a key for which something is taken where nobody states it.

    Parameters
    ----------
    what : str
        What the key is, in whole sentences.
    taken : str
        What is taken in its place, in whole sentences; the last without its point where ``practice`` ends it.
    practice : bool, optional
        Whether that is common practice without a source, which is then said.

    Examples
    --------
    >>> told = described("Gap of the plugs.", "0.9 mm is assumed", practice=True)
    >>> print(told)
    Gap of the plugs. 0.9 mm is assumed: common practice, no source.
    >>> told.what
    'Gap of the plugs.'
    """
    found = Described(f"{what} {taken}{f': {PRACTICE}.' if practice else ''}")
    found.what, found.practice = what, practice
    return found


def what_of(description: str) -> str:
    """Give a description without what is taken where nobody states it.

    Parameters
    ----------
    description : str
        Description of a key.
    """
    return description.what if isinstance(description, Described) else description
