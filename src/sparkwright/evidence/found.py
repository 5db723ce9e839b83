"""A finding that a person accepted, as it is kept: its kind, how it stood, its numbers, and the file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast, get_args

from sparkwright.errors import Refusal
from sparkwright.findings import Finding, State, Value
from sparkwright.job.field_kind import written

MOST_NAME = 200
NOT_FINITE = ("nan", "inf", "-inf")
"""Words for what JSON has no number for; null stays what doesn't apply."""
KEYS = ("kind", "state", "numbers", "file")


@dataclass(frozen=True)
class Found:
    """A finding, and the name of the file that shows it."""

    finding: Finding
    file: str


def read_found(given: Mapping[str, object]) -> Found:
    """Read a finding that was kept.

    Parameters
    ----------
    given : mapping
        The fields in which it is kept.

    Raises
    ------
    Refusal
        If it has other fields than these, or one of them can't be.

    Examples
    --------
    >>> kept = {"kind": "misfire.heaped", "state": "problem", "numbers": {"rpm": 4000.0}, "file": "a.csv"}
    >>> read_found(kept).finding.numbers["rpm"]
    4000.0
    """
    for name in given:
        if name not in KEYS:
            raise Refusal.at(str(name), written(given[name]), "is not known here")
    kind, file, state = (_text(given, name) for name in ("kind", "file", "state"))
    if state not in get_args(State):
        raise Refusal.at("state", f'"{state}"', f"must be one of {', '.join(get_args(State))}")
    numbers = given.get("numbers")
    if not isinstance(numbers, dict):
        raise Refusal.at("numbers", written(numbers), "must be a table of numbers by name")
    read = {str(name): _value(str(name), each) for name, each in numbers.items()}
    return Found(Finding(kind, cast("State", state), read), file)


def write_found(seen: Found) -> dict[str, object]:
    """Give the fields in which it is kept; what JSON has no number for is a word.

    Parameters
    ----------
    seen : Found
        The finding, with its file.
    """
    numbers = {name: _plain(each) for name, each in seen.finding.numbers.items()}
    return {"kind": seen.finding.kind, "state": seen.finding.state, "numbers": numbers, "file": seen.file}


def _text(given: Mapping[str, object], name: str) -> str:
    value = given.get(name)
    if not isinstance(value, str) or not 0 < len(value) <= MOST_NAME or not value.isprintable():
        raise Refusal.at(name, written(value), f"must be text of up to {MOST_NAME} characters that print")
    return value


def _value(name: str, value: object) -> Value:
    if isinstance(value, str) and value in NOT_FINITE:
        return float(value)
    if isinstance(value, list):
        return tuple(_value(name, each) for each in value)
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise Refusal.at(f"numbers.{name}", written(value), "must be a number, a word, or a list of them")


def _plain(value: Value) -> object:
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value
