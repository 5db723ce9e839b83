"""Readings of a timing light: what is typed or lies in a file, checked where it comes in.

A table has one reading a line under a line of names. `commanded_deg`, `speed_rpm` and `seen_deg` must be
there; `resolution_deg`, `cylinder`, `battery_v`, `sweep` and `note` may be. Columns are parted by comma,
semicolon or tab. A comma for decimals is understood where it doesn't part the columns. Lines that start with
`#` are comments. JSON is a list of rows with the same names.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, get_args

from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.findings import Finding, Value
from sparkwright.reading import number
from sparkwright.reading.tables import load_text, rows_of
from sparkwright.table_text import as_text, from_text

Sweep = Literal["rising", "falling"]

MOST_READINGS = 500
MOST_COLUMNS = 20
MOST_NOTE = 200
MOST_TOLD = 20
"""Problems told of one by one."""
MOST_NAME = 40
"""Letters of a column's name in which a slip of the pen is looked for."""
NEEDED = ("commanded_deg", "speed_rpm", "seen_deg")


@dataclass(frozen=True)
class _Span:
    low: float
    high: float
    why: str
    unit: str = ""


SPANS = {
    "commanded_deg": _Span(-20.0, 80.0, "it is the advance that the controller was told to hold", "deg BTDC"),
    "speed_rpm": _Span(50.0, 12000.0, "the light is read on a running engine", "rpm"),
    "seen_deg": _Span(
        -40.0, 100.0, "it counts in crank degrees before top dead centre; read it again", "deg BTDC"
    ),
    "resolution_deg": _Span(0.05, 10.0, "it is the step of the light's dial or of the marks", "deg"),
    "cylinder": _Span(1.0, 8.0, "it is the cylinder whose lead the light is clamped on"),
    "battery_v": _Span(3.0, 30.0, "outside this lies no vehicle's electrical system", "V"),
}

_EXAMPLE = "start with a line `commanded_deg,speed_rpm,seen_deg`"


@dataclass(frozen=True)
class Reading:
    """One timing seen with a light.

    Parameters
    ----------
    commanded_deg : float
        Advance that the controller was told to give, base included [crank deg before top dead centre].
    speed_rpm : float
        Engine speed [rpm].
    seen_deg : float
        What light and mark showed [crank deg before top dead centre].
    resolution_deg : float, optional
        Step of the light's dial or of the marks [crank deg].
    cylinder : int, optional
        The cylinder whose lead the light was clamped on.
    battery_v : float, optional
        Voltage at the ignition [V].
    sweep : {"rising", "falling"}, optional
        Which way speed was changing, or had last changed, when it was read.
    note : str
        Anything else.
    line : int, optional
        Where it stands in its file; not part of what was read.
    mark_error_deg : float
        What the mark that it was read by shows at true top dead centre, before positive [crank deg];
        taken off what was seen, and not part of what was read.
    """

    commanded_deg: float
    speed_rpm: float
    seen_deg: float
    resolution_deg: float | None = None
    cylinder: int | None = None
    battery_v: float | None = None
    sweep: Sweep | None = None
    note: str = ""
    line: int | None = None
    mark_error_deg: float = 0.0

    @property
    def true_deg(self) -> float:
        """Advance that was seen, with the mark's known error taken off [crank deg].

        Examples
        --------
        >>> Reading(30, 2000, 28, mark_error_deg=-2).true_deg
        30
        """
        return self.seen_deg - self.mark_error_deg

    @property
    def difference_deg(self) -> float:
        """Seen less commanded, the mark's error taken off: positive when it comes early [crank deg]."""
        return self.true_deg - self.commanded_deg


COLUMNS = tuple(field.name for field in fields(Reading) if field.name not in ("line", "mark_error_deg"))


@dataclass(frozen=True)
class ReadingSheet:
    """Readings in the order in which they were taken, and sentences about what was not taken as it stood."""

    readings: tuple[Reading, ...]
    warnings: tuple[Finding, ...] = ()


def checked_reading(values: Mapping[str, object], where: str = "", line: int | None = None) -> Reading:
    """Check one reading, as typed or as it stands in a row.

    Parameters
    ----------
    values : mapping
        By name, as numbers or as text, with or without unit; None and empty text are not given.
    where : str
        Put before each name in a sentence: `readings, line 4, `.
    line : int, optional
        Kept with the reading.

    Raises
    ------
    Refusal
        With one problem for each value that can't be used.

    Examples
    --------
    >>> checked_reading({"commanded_deg": "30", "speed_rpm": "2000", "seen_deg": "29,5"}).difference_deg
    -0.5
    """
    if len(values) > MOST_COLUMNS:
        raise Refusal([_too_wide(where.removesuffix(", ") or "reading", len(values))])
    given = {str(name): each for name, each in values.items() if each is not None and each != ""}
    problems = [_unknown(where, name) for name in given if name not in COLUMNS]
    taken: dict[str, Any] = {}
    for name in COLUMNS:
        if name not in given:
            if name in NEEDED:
                problems.append(Problem(where + name, None, "must be given", SPANS[name].why))
            continue
        try:
            taken[name] = _value(where, name, given[name])
        except Refusal as refusal:
            problems += refusal.problems
    if problems:
        raise Refusal(first_of(problems))
    return Reading(**taken, line=line)


def read_readings(text: str) -> ReadingSheet:
    r"""Read readings from a table or from JSON.

    Parameters
    ----------
    text : str
        The table.

    Raises
    ------
    Refusal
        With one problem for each line, or value, that can't be used.

    Examples
    --------
    >>> sheet = read_readings("commanded_deg;speed_rpm;seen_deg\n30;2000;29,5\n30;4000;29\n")
    >>> [reading.seen_deg for reading in sheet.readings]
    [29.5, 29.0]
    """
    rows = _json_rows(text) if text.lstrip()[:1] in ("{", "[") else _table_rows(text)
    found: list[Reading] = []
    problems: list[Problem] = []
    for where, line, values in rows:
        try:
            found.append(checked_reading(values, where, line))
        except Refusal as refusal:
            problems += refusal.problems
    if problems:
        raise Refusal(first_of(problems))
    return each_once(found)


def load_readings(path: str | Path) -> ReadingSheet:
    """Read a file of readings; which form it has is told from its content.

    Parameters
    ----------
    path : path
        The file.

    Raises
    ------
    Refusal
        If there is no such file, it is no text, or lines of it can't be used.
    """
    return read_readings(load_text(Path(path), "readings"))


def each_once(readings: Sequence[Reading]) -> ReadingSheet:
    """Keep of readings that are alike to the last value only the first, and say so.

    A line written twice would make a fit firmer than it is. A reading really taken again is told apart by
    its note.

    Parameters
    ----------
    readings : sequence of Reading
        What was read with the light.

    Examples
    --------
    >>> first = Reading(30, 2000, 29, line=2)
    >>> each_once([first, Reading(30, 2000, 29, line=5)]).warnings[0].numbers
    {'first_line': 2, 'line': 5}
    """
    first: dict[Reading, Reading] = {}
    warnings = []
    for place, reading in enumerate(readings, start=1):
        reading = replace(reading, line=reading.line or place)
        bare = replace(reading, line=None)
        if bare in first:
            lines: dict[str, Value] = {"first_line": first[bare].line, "line": reading.line}
            warnings.append(Finding("readings.alike", "look", lines))
        else:
            first[bare] = reading
    return ReadingSheet(tuple(first.values()), tuple(warnings))


def write_readings(readings: Sequence[Reading]) -> str:
    r"""Write readings as a comma-separated table that `read_readings` reads back the same.

    Parameters
    ----------
    readings : sequence of Reading
        What was read with the light.

    Examples
    --------
    >>> write_readings([Reading(30, 2000, 29.5)])
    'commanded_deg,speed_rpm,seen_deg\n30,2000,29.5\n'
    """
    used = [
        name
        for name in COLUMNS
        if name in NEEDED or any(getattr(each, name) not in (None, "") for each in readings)
    ]
    lines = [",".join(used)]
    lines += [",".join(_cell(getattr(reading, name)) for name in used) for reading in readings]
    return "\n".join(lines) + "\n"


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float | int):
        return f"{value:.12g}"
    text = as_text(str(value))
    return '"' + text.replace('"', '""') + '"' if any(each in text for each in ',"') else text


def _value(where: str, name: str, given: object) -> object:
    if name == "sweep":
        word = str(given).strip().lower()
        found = next((each for each in get_args(Sweep) if each == word), None)
        if found is None:
            raise Refusal.at(where + name, f'"{given}"', 'must be "rising" or "falling"', "or left empty")
        return found
    if name == "note":
        text = " ".join(str(given).split())
        if len(text) > MOST_NOTE or not text.isprintable():
            raise Refusal.at(where + name, f'"{text[:20]}..."', f"must be one line of {MOST_NOTE} letters")
        return text
    value = _number(where, name, given)
    span = SPANS[name]
    if not span.low <= value <= span.high:
        must = f"must be {span.low:g} to {span.high:g}"
        raise Refusal.at(where + name, f"{value:g}", must, span.why)
    if name == "cylinder":
        if value != int(value):
            raise Refusal.at(where + name, f"{value:g}", "must be a whole number", span.why)
        return int(value)
    return value


def _number(where: str, name: str, given: object) -> float:
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise Refusal.at(where + name, _short(given), "must be a number")
    if isinstance(given, str):
        span = SPANS[name]
        return number(given, unit=span.unit, low=span.low, high=span.high, field=where + name)
    try:
        value = float(given)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise Refusal.at(where + name, _short(given), "must be a number of ordinary size")
    return value


def _short(given: object) -> str:
    text = str(given) if not isinstance(given, int) or abs(given) < 10**20 else "a very long number"
    return text if len(text) <= 30 else text[:27] + "..."


def first_of(problems: Sequence[Problem]) -> list[Problem]:
    """Give no more problems than a person reads through, and how many there are beside.

    Parameters
    ----------
    problems : sequence of Problem
        What can't be used.
    """
    told = list(problems[:MOST_TOLD])
    if len(problems) > MOST_TOLD:
        told.append(Problem("", WHOLE, f"{len(problems) - MOST_TOLD} more lines can't be used either"))
    return told


def _too_wide(where: str, columns: int) -> Problem:
    return Problem(
        where, f"{columns} columns", f"must be at most {MOST_COLUMNS}", f"known are {', '.join(COLUMNS)}"
    )


def _require_few(rows: int) -> None:
    if rows > MOST_READINGS:
        raise Refusal.at(
            "readings", f"{rows} lines", f"must be at most {MOST_READINGS}", "keep those of one setting"
        )


@lru_cache(maxsize=1000)
def _near(name: str) -> str | None:
    """Give the column that was perhaps meant; finding it takes time with the square of the letters."""
    if len(name) > MOST_NAME:
        return None
    begins = [each for each in COLUMNS if len(name) > 2 and each.startswith(name)]
    return next(iter(begins or get_close_matches(name, COLUMNS, n=1, cutoff=0.6)), None)


def _unknown(where: str, name: str) -> Problem:
    near = _near(name.strip().lower())
    hint = f"perhaps {near}; " if near else ""
    known = f"{hint}known are {', '.join(COLUMNS)}"
    return Problem(f"{where}column", f'"{_short(name)}"', "is not known", known)


_Row = tuple[str, int, Mapping[str, object]]


def _table_rows(text: str) -> list[_Row]:
    lines = rows_of(text, "readings")
    if not lines:
        raise Refusal.at("readings", "nothing", "must hold a table of readings", _EXAMPLE)
    head, head_line, mark = lines[0].cells, lines[0].line, lines[0].dialect.mark
    names = [name.strip().lower() for name in head]
    if len(names) > MOST_COLUMNS:
        raise Refusal([_too_wide(f"readings, line {head_line}", len(names))])
    problems = [_unknown(f"readings, line {head_line}, ", name) for name in names if name not in COLUMNS]
    missing = [name for name in NEEDED if name not in names]
    if missing and len(missing) == len(NEEDED):
        found = f'"{_short(mark.join(head))}"'
        problems = [Problem(f"readings, line {head_line}", found, "must name the columns", _EXAMPLE)]
    elif missing:
        must = f"must name {', '.join(missing)} too"
        problems.append(Problem(f"readings, line {head_line}", WHOLE, must, _EXAMPLE))
    problems += [
        Problem(f"readings, line {head_line}", WHOLE, f"must name {name} once")
        for name in sorted({name for name in names if names.count(name) > 1})
        if name in COLUMNS
    ]
    if problems:
        raise Refusal(first_of(problems))
    _require_few(len(lines) - 1)
    rows: list[_Row] = []
    for row in lines[1:]:
        line, cells = row.line, list(row.cells)
        while len(cells) > len(names) and not cells[-1].strip():
            cells.pop()
        if len(cells) > len(names):
            must = f"must be at most {len(names)}, as in line {head_line}"
            do = "where a comma stands for decimals, part the columns by ;" if mark == "," else ""
            problems.append(Problem(f"readings, line {line}", f"{len(cells)} columns", must, do))
            continue
        values = {name: cell.strip() for name, cell in zip(names, cells, strict=False)}
        if "note" in values:
            values["note"] = from_text(values["note"])
        rows.append((f"readings, line {line}, ", line, values))
    if problems:
        raise Refusal(first_of(problems))
    return rows


def _json_rows(text: str) -> list[_Row]:
    try:
        whole = json.loads(text, parse_int=float)
    except (ValueError, RecursionError) as problem:
        raise Refusal.at(
            "readings", "text", "can't be read as JSON", "it may have been cut short"
        ) from problem
    rows = whole.get("readings") if isinstance(whole, dict) else whole
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise Refusal.at("readings", "JSON", 'must be a list of rows, [{"commanded_deg": 30, ...}]')
    _require_few(len(rows))
    return [(f"readings, row {place}, ", place, row) for place, row in enumerate(rows, start=1)]
