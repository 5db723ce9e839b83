"""TOML in and out: a file becomes plain tables, and plain tables become a file."""

import json
import re
import tomllib
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any

from sparkwright.errors import WHOLE, Problem, Refusal

MOST_BYTES = 1_000_000
# Reading a dotted key takes time with the square of its parts. Nothing here is tried twice (`++`).
_TOO_DEEP = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){50}""")
_DIGITS = re.compile(r"[0-9_]++")
_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")


def read_text(path: Path) -> str:
    """Give the text of a job file.

    Parameters
    ----------
    path : Path
        The file, in UTF-8.

    Raises
    ------
    Refusal
        If there is no such file, or it is a folder, unreadable, empty, too long, or no text.
    """
    name = path.name or str(path)
    if path.is_dir():
        raise Refusal.at(name, WHOLE, "is a folder", "give the job file in it")
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError as missing:
        raise Refusal.at(
            name, WHOLE, "is not there", f"check the name, or start one with `sparkwright new {name}`"
        ) from missing
    except OSError as problem:
        raise Refusal.at(name, WHOLE, f"can't be read ({problem.strerror})") from problem
    if len(content) > MOST_BYTES:
        raise Refusal.at(
            name, WHOLE, f"is longer than {MOST_BYTES:,} bytes", "a job file is a few pages of text"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise Refusal.at(
            name, WHOLE, "is not UTF-8 text", "a job file is plain text, saved by an editor as UTF-8"
        ) from problem


def tables(text: str, name: str) -> dict[str, Any]:
    """Turn TOML text into plain tables.

    Parameters
    ----------
    text : str
        The text.
    name : str
        What a refusal calls it.

    Raises
    ------
    Refusal
        If it is empty or is not TOML; the sentence says the line.
    """
    if "\0" in text:
        raise Refusal.at(name, WHOLE, "is not a text file", "a job file is plain text, saved as UTF-8")
    if _TOO_DEEP.search(text):
        raise Refusal.at(
            name, WHOLE, "has a key of more than 50 parts", "a section and a key is all a job needs"
        )
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise Refusal([_not_toml(name, problem)]) from problem
    except RecursionError as problem:
        raise Refusal.at(name, WHOLE, "has brackets within brackets too deep to read") from problem
    except ValueError as problem:
        shorter = _with_shorter_numbers(text)
        if shorter == text:
            raise Refusal.at(name, WHOLE, "holds a number that can't be read") from problem
        return tables(shorter, name)  # so that the field says what is allowed there
    if not found:
        raise Refusal.at(name, WHOLE, "is empty", "`sparkwright new` writes a starter file to fill in")
    return found


def _with_shorter_numbers(text: str) -> str:
    """Cut numbers to 19 digits, more than any value of a job takes and fewer than Python refuses to read."""
    return _DIGITS.sub(lambda digits: digits[0] if len(digits[0]) < 20 else "9" * 19, text)


def _not_toml(name: str, problem: tomllib.TOMLDecodeError) -> Problem:
    told = str(problem)  # Python says what and where in a message alone, before its version 3.14
    place = _PLACE.search(told)
    if place is None:
        return Problem(name, WHOLE, "ends in the middle of a line or list", "it may have been cut short")
    where = f"{name}, line {place[1]}, column {place[2]}"
    if "overwrite" in told or "twice" in told or "Duplicate" in told:
        again = "a key or section stands here for the second time"
        return Problem(where, WHOLE, again, "keep one of the two")
    do = "look for a missing quote, bracket or equals sign, or text without quotes"
    return Problem(where, WHOLE, "can't be read", do)


def dump(facts: dict[str, Any], one_a_line: Collection[str] = ()) -> str:
    """Write plain tables as TOML: values first, then one section for each table.

    Lists of tables under a key of ``one_a_line`` are written with one table a line.

    Parameters
    ----------
    facts : dict
        Values by key, tables and lists of tables.
    one_a_line : collection of str, optional
        Keys whose lists of tables are written with one table a line.

    Examples
    --------
    >>> print(dump({"name": "x", "engine": {"cylinders": 8}, "pegs": [{"rpm": 800}]}))
    name = "x"
    <BLANKLINE>
    [engine]
    cylinders = 8
    <BLANKLINE>
    [[pegs]]
    rpm = 800
    <BLANKLINE>
    >>> print(dump({"hand": [{"rpm": 800, "kpa": 40}, {"rpm": 900, "kpa": 40}]}, ["hand"]), end="")
    hand = [
      { rpm = 800, kpa = 40 },
      { rpm = 900, kpa = 40 },
    ]
    """
    lines = [assigned(key, value) for key, value in facts.items() if not _is_section(value)]
    lines += [f"{key} = {list_value(facts[key])}" for key in one_a_line if facts.get(key)]
    for key, value in facts.items():
        if key in one_a_line:
            continue
        if isinstance(value, dict):
            lines += ["", *section(f"[{key}]", value)]
        elif _is_section(value):
            for table in value:
                lines += ["", *section(f"[[{key}]]", table)]
    return "\n".join(lines) + "\n"


def section(header: str, table: Mapping[str, Any]) -> list[str]:
    """Write a table under a header, line by line.

    Parameters
    ----------
    header : str
        Header with its brackets, such as "[engine]".
    table : mapping
        Values by key.
    """
    return [header, *(assigned(name, value) for name, value in table.items())]


def assigned(key: str, value: Any) -> str:
    """Write a key with its value.

    Parameters
    ----------
    key : str
        The key.
    value : object
        Anything that TOML can hold.
    """
    return f"{key} = {value_text(value)}"


def list_value(tables: Iterable[Mapping[str, Any]]) -> str:
    """Write a list of tables with one table a line.

    Parameters
    ----------
    tables : iterable of mapping
        Tables of plain values.
    """
    lines = [f"  {value_text(table)}," for table in tables]
    return "\n".join(["[", *lines, "]"]) if lines else "[]"


def _is_section(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def value_text(value: Any) -> str:
    r"""Write one value; text of several lines stands on as many.

    Parameters
    ----------
    value : object
        Anything that TOML can hold.

    Examples
    --------
    >>> value_text([["5 inHg", 0], ["12 inHg", 14]]), value_text({"rpm": 800, "kpa": 40})
    ('[["5 inHg", 0], ["12 inHg", 14]]', '{ rpm = 800, kpa = 40 }')
    """
    if isinstance(value, list):
        return "[" + ", ".join(value_text(one) for one in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(assigned(name, one) for name, one in value.items()) + " }"
    if isinstance(value, str) and "\n" in value:
        return '"""\n' + "\n".join(_quoted(line)[1:-1] for line in value.split("\n")) + '"""'
    return _quoted(value)


def _quoted(value: Any) -> str:
    # JSON writes text, numbers and true or false as TOML reads them, but for this one character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
