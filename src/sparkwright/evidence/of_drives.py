"""What a drive says of knock as evidence: places where it knocked, and places that stayed quiet.

A quiet place is a bound and no more: at the most advance that was held there for a while, nothing was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

from sparkwright.drive.result import DriveResult
from sparkwright.evidence.kinds import KnockMark
from sparkwright.findings import Finding

MOST_QUIET = 12
"""Quiet places kept of one drive: each costs learning its own run of the cycle; a choice."""
MOST_NOTE = 160
"""Letters of the note, so that what follows it finds room."""


def knock_mark_of(finding: Finding, note: str) -> KnockMark | None:
    """Give a finding of knock as a mark; None for any other, and where its advance isn't known.

    Parameters
    ----------
    finding : Finding
        Anything a drive told.
    note : str
        What to keep beside the mark, such as the drive's name.
    """
    numbers = finding.numbers
    rpm, kpa, advance_deg = numbers.get("rpm"), numbers.get("kpa"), numbers.get("advance_deg")
    if finding.subject != "knock" or not isinstance(rpm, float) or not isinstance(kpa, float):
        return None
    if not isinstance(advance_deg, float) or isnan(advance_deg):
        return None
    return KnockMark(rpm, kpa, advance_deg, "trace", note=note)


def quiet_marks_of(result: DriveResult, note: str) -> Sequence[KnockMark]:
    """Give the quiet places that say most as marks: silence at the fullest load bounds knock closest.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    note : str
        What to keep beside each mark, such as the drive's name.
    """
    return [
        KnockMark(
            each.rpm, each.kpa, each.advance_deg, "none", note=f"{note}, quiet for {each.seconds:.0f} s"
        )
        for each in result.quiet[:MOST_QUIET]
    ]


def marks_of(result: DriveResult, note: str = "from a drive") -> Sequence[KnockMark]:
    """Give all that a drive says of knock: marks where it knocked, and none of it where it stayed quiet.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    note : str, optional
        What to keep beside each mark, such as the drive's name.
    """
    heard = [mark for each in result.findings if (mark := knock_mark_of(each, note)) is not None]
    return [*heard, *quiet_marks_of(result, note)]


def drive_note(name: str) -> str:
    """Give the note of marks out of a file, short enough that all of it is kept.

    Parameters
    ----------
    name : str
        Of the file.

    Examples
    --------
    >>> drive_note("monday.csv")
    'from monday.csv'
    """
    return f"from {name}"[:MOST_NOTE]


def drive_word(sha256: str) -> str:
    """Give the word under which a drive's marks are kept: kept again, they count once.

    Parameters
    ----------
    sha256 : str
        Of the file's bytes, in hexadecimal.
    """
    return f"drive-{sha256[:32]}"
