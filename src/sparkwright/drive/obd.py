"""The answers of SAE J1979, mode 01: bytes of an engine computer, and what they say.

The scalings are those published in SAE J1979 (2002), appendix B, for the identifiers that concern timing,
recalled. A logger of such answers asks for one after another, about once a second, so that one row holds one
value only.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Answer:
    """One identifier: how the standard names it, the unit it gives, its bytes, and how they scale."""

    pid: int
    called: str
    unit: str
    bytes: int
    scaled: Callable[[Sequence[int]], float]


ANSWERS: dict[int, Answer] = {
    each.pid: each
    for each in (
        Answer(0x04, "calculated load", "%", 1, lambda b: b[0] * 100.0 / 255.0),
        Answer(0x05, "engine coolant temperature", "degC", 1, lambda b: b[0] - 40.0),
        Answer(0x0B, "intake manifold absolute pressure", "kPa", 1, lambda b: float(b[0])),
        Answer(0x0C, "engine rpm", "rpm", 2, lambda b: (256.0 * b[0] + b[1]) / 4.0),
        Answer(0x0D, "vehicle speed", "km/h", 1, lambda b: float(b[0])),
        Answer(0x0E, "timing advance", "deg", 1, lambda b: b[0] / 2.0 - 64.0),
        Answer(0x0F, "intake air temperature", "degC", 1, lambda b: b[0] - 40.0),
        Answer(0x11, "throttle position", "%", 1, lambda b: b[0] * 100.0 / 255.0),
        Answer(0x33, "barometric pressure", "kPa", 1, lambda b: float(b[0])),
        Answer(0x42, "control module voltage", "V", 2, lambda b: (256.0 * b[0] + b[1]) / 1000.0),
        Answer(0x44, "lambda", "lambda", 2, lambda b: (256.0 * b[0] + b[1]) * 2.0 / 65536.0),
        Answer(0x46, "ambient air temperature", "degC", 1, lambda b: b[0] - 40.0),
    )
}

_REPLY = re.compile(
    r"(?:[0-9A-F]{3} ?|[0-9A-F]{6,8} )?(?:0[2-7] ?)?41 ?(?P<pid>[0-9A-F]{2}) ?(?P<data>(?:[0-9A-F]{2} ?)+)"
)
_HEADING = re.compile(r"(?:pid[ _]?)?(?:0x)?(?:01[ _]?)?(?:0x)?(?P<pid>[0-9a-f]{2})", re.IGNORECASE)


def reply(text: str) -> tuple[Answer, float] | None:
    """Read a whole answer, with or without the header of its frame; None where it is none that is known.

    Parameters
    ----------
    text : str
        One line or cell of the logger's, bytes in hexadecimal with or without blanks.

    Examples
    --------
    >>> found, value = reply("41 0C 1A F8")
    >>> found.called, value
    ('engine rpm', 1726.0)
    >>> reply("7E8 03 41 0E 94")[1], reply("NO DATA")
    (10.0, None)
    """
    match = _REPLY.fullmatch(text.strip().upper())
    if match is None:
        return None
    answer = ANSWERS.get(int(match["pid"], 16))
    found = None if answer is None else value_of(answer, match["data"])
    return None if answer is None or found is None else (answer, found)


def value_of(answer: Answer, data: str) -> float | None:
    """Scale the bytes of an answer, written in hexadecimal; None where there are too few.

    Parameters
    ----------
    answer : Answer
        Which answer it is, with its number of bytes and its scale.
    data : str
        The bytes behind the identifier, two hexadecimal digits each.

    Examples
    --------
    >>> value_of(ANSWERS[0x0B], "26"), value_of(ANSWERS[0x05], "7B"), value_of(ANSWERS[0x0C], "1A")
    (38.0, 83.0, None)
    """
    figures = re.sub(r"\s|0x", "", data)
    if not re.fullmatch(r"(?:[0-9A-Fa-f]{2})+", figures):
        return None
    numbers = bytes.fromhex(figures)
    return answer.scaled(numbers) if len(numbers) >= answer.bytes else None


def of_heading(heading: str) -> Answer | None:
    """Give the answer that a column's heading names by its identifier; None where it names none.

    Parameters
    ----------
    heading : str
        Heading of a column, such as "010C".

    Examples
    --------
    >>> of_heading("010C").called, of_heading("PID 0E").called, of_heading("rpm")
    ('engine rpm', 'timing advance', None)
    """
    match = _HEADING.fullmatch(heading.strip())
    return ANSWERS.get(int(match["pid"], 16)) if match else None
