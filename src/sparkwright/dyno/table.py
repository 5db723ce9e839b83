"""Sweeps as a file holds them: a table with a line of names, one measured point a line.

`speed_rpm`, `map_kpa`, `advance_deg` and `torque_nm` must be there; `knock` (none, trace or heavy), `lambda`,
`intake_c`, `coolant_c`, `time_s` and `sweep` may be. A name may carry another unit: `torque_lb-ft`,
`torque (lb-ft)`, `map inHg`, `intake_f`. Points of one name in `sweep` are one sweep; where no names are
given, points that follow each other at one speed and load are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args

from sparkwright import units
from sparkwright.dyno.sweep import Heard, Sweep, SweepPoint
from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.reading import number
from sparkwright.reading.numbers import shown
from sparkwright.reading.tables import Row, load_text, rows_of

MOST_POINTS = 5000
MOST_SENTENCES = 20
MOST_NAME = 40

SAME_SPEED, SAME_KPA = 0.03, 3.0
"""How far speed may differ within a sweep that has no name [-], and load [kPa]; choices."""


@dataclass(frozen=True)
class _Column:
    """One column: its field, the dimension of its unit, the unit itself, and what it takes."""

    field: str
    dimension: str
    unit: str
    low: float
    high: float
    why: str
    also: tuple[str, ...] = ()
    needed: bool = False
    must_say: bool = False


COLUMNS = {
    "speed": _Column(
        "speed_rpm", "", "rpm", 200, 12000, "a sweep is measured on a running engine", ("rpm",), True
    ),
    "map": _Column(
        "map_kpa", "pressure", "kPa", 10, 400, "it is the absolute manifold pressure", ("load",), True
    ),
    "advance": _Column(
        "advance_deg",
        "",
        "deg",
        -90,
        90,
        "it counts in crank degrees before top dead centre",
        ("timing", "spark"),
        True,
    ),
    "torque": _Column(
        "torque_nm", "torque", "N m", -2000, 5000, "it is brake torque", (), True, must_say=True
    ),
    "lambda": _Column("mixture_lambda", "", "", 0.5, 2.0, "it is air over stoichiometric air"),
    "intake": _Column(
        "intake_c", "temperature", "degC", -40, 200, "it is air on its way into the engine", ("intake_air",)
    ),
    "coolant": _Column("coolant_c", "temperature", "degC", -40, 200, "it is the engine's coolant"),
    "time": _Column("time_s", "", "s", 0, 1e7, "it counts in seconds from any moment"),
}
WORDS = ("knock", "sweep")
USUAL_NAMES = "speed_rpm, map_kpa, advance_deg, torque_nm, knock, lambda, intake_c, coolant_c, time_s, sweep"
_EXAMPLE = "start with a line `speed_rpm,map_kpa,advance_deg,torque_nm`"
_PLAIN_UNITS = {
    "rpm": "rpm",
    "deg": "deg",
    "deg btdc": "deg",
    "btdc": "deg",
    "s": "s",
    "c": "degC",
    "f": "degF",
    "k": "K",
    "kpa": "kPa",
    "psi": "psi",
    "inhg": "inHg",
    "mmhg": "mmHg",
    "bar": "bar",
    "mbar": "mbar",
    "hpa": "hPa",
    "nm": "N m",
    "n m": "N m",
    "lbft": "lb-ft",
    "lb ft": "lb-ft",
    "lb-ft": "lb-ft",
    "ftlb": "lb-ft",
    "ft lb": "lb-ft",
    "ft-lb": "lb-ft",
    "degc": "degC",
    "degf": "degF",
}
_NAME = re.compile(r"^(?P<name>[a-z]+(?:_air)?)(?:[ _]*[(\[]?(?P<unit>[^()\[\]]*)[)\]]?)$")


@dataclass(frozen=True)
class _Head:
    """What stands in one column, and the unit that it is written in."""

    name: str
    unit: str


def load_sweeps(path: str | Path) -> tuple[Sweep, ...]:
    """Read a file of sweeps.

    Parameters
    ----------
    path : str or Path
        The file, a table with a row for each point.

    Raises
    ------
    Refusal
        If there is no such file, or it is no text.
    """
    path = Path(path)
    return read_sweeps(load_text(path, "sweeps"), path.name)


def read_sweeps(text: str, file: str = "") -> tuple[Sweep, ...]:
    r"""Read sweeps from a table.

    Parameters
    ----------
    text : str
        The table.
    file : str
        Its name, put before the name of each sweep.

    Raises
    ------
    Refusal
        With one sentence for each line, or column, that can't be used.

    Examples
    --------
    >>> (sweep,) = read_sweeps("speed_rpm,map_kpa,advance_deg,torque_lb-ft\n2000,90,20,100\n2000,90,28,104\n")
    >>> sweep.rpm, sweep.torque_nm.round(1).tolist()
    (2000.0, [135.6, 141.0])
    """
    rows = rows_of(text, "sweeps")
    if not rows:
        raise Refusal.at("sweeps", "nothing", "must hold a table of measured points", _EXAMPLE)
    heads = _heads(rows[0])
    if len(rows) < 2:
        raise Refusal.at("sweeps", "a line of names", "must hold measured points under it")
    if len(rows) - 1 > MOST_POINTS:
        raise Refusal.at("sweeps", f"{len(rows) - 1} lines", f"must be at most {MOST_POINTS}")
    points: list[tuple[SweepPoint, str]] = []
    problems: list[Problem] = []
    for row in rows[1:]:
        try:
            points.append(_point(row, heads))
        except Refusal as refusal:
            problems += refusal.problems
    if len(problems) > MOST_SENTENCES:
        more = Problem("sweeps", WHOLE, f"{len(problems) - MOST_SENTENCES} more lines can't be used either")
        problems = [*problems[:MOST_SENTENCES], more]
    if problems:
        raise Refusal(problems)
    return _parted(points, file)


def _heads(row: Row) -> list[_Head | None]:
    where = f"sweeps, line {row.line}"
    found: list[_Head | None] = []
    problems: list[Problem] = []
    for cell in row.cells:
        try:
            found.append(_head(cell.strip(), where) if cell.strip() else None)
        except Refusal as refusal:
            problems += refusal.problems
    names = [each.name for each in found if each is not None]
    twice = sorted({name for name in names if names.count(name) > 1})
    problems += [Problem(where, WHOLE, f"must name {name} once") for name in twice]
    missing = [column.field for name, column in COLUMNS.items() if column.needed and name not in names]
    if missing and not problems:
        problems.append(Problem(where, WHOLE, f"must name {', '.join(missing)} too", _EXAMPLE))
    if problems:
        raise Refusal(problems)
    return found


def _head(cell: str, where: str) -> _Head:
    match = _NAME.match(cell.lower()) if len(cell) <= MOST_NAME else None
    name = "" if match is None else match["name"]
    known = {also: key for key, each in COLUMNS.items() for also in (key, *each.also)}
    if name in WORDS:
        return _Head(name, "")
    if name not in known:
        near = get_close_matches(name, [*known, *WORDS], n=1, cutoff=0.6) if name else []
        hint = f"perhaps {near[0]}; " if near else ""
        raise Refusal.at(f"{where}, column", shown(cell), f"is not known; {hint}known are {USUAL_NAMES}")
    key = known[name]
    column, written = COLUMNS[key], (match["unit"] if match else "").replace("_", " ").strip(" -")
    if not written:
        if column.must_say:
            raise Refusal.at(
                f"{where}, column", shown(cell), "must say its unit", "write torque_nm or torque_lb-ft"
            )
        return _Head(key, column.unit if name != "rpm" else "rpm")
    unit = _PLAIN_UNITS.get(written, written)
    plain = not column.dimension
    if (plain and unit != column.unit) or (
        not plain and units.DIMENSIONS[column.dimension].find(unit) is None
    ):
        allowed = [column.unit] if plain else units.DIMENSIONS[column.dimension].names()
        raise Refusal.at(
            f"{where}, column", shown(cell), f"has no known unit of {key}", f"known are {', '.join(allowed)}"
        )
    return _Head(key, unit)


def _point(row: Row, heads: Sequence[_Head | None]) -> tuple[SweepPoint, str]:
    where = f"sweeps, line {row.line}, "
    cells = list(row.cells)
    while len(cells) > len(heads) and not cells[-1].strip():
        cells.pop()
    if len(cells) > len(heads):
        raise Refusal.at(f"sweeps, line {row.line}", f"{len(cells)} columns", f"must be at most {len(heads)}")
    taken: dict[str, Any] = {}
    name = ""
    problems: list[Problem] = []
    for head, cell in zip(heads, cells, strict=False):
        text = cell.strip()
        if head is None or not text:
            continue
        try:
            if head.name == "sweep":
                name = " ".join(text.split())[:MOST_NAME]
            elif head.name == "knock":
                taken["knock"] = _heard(where, text)
            else:
                column = COLUMNS[head.name]
                taken[column.field] = _value(where + head.name, text, head, column)
        except Refusal as refusal:
            problems += refusal.problems
    refused = {each.place for each in problems}
    problems += [
        Problem(where + key, None, "must be given", column.why)
        for key, column in COLUMNS.items()
        if column.needed and column.field not in taken and where + key not in refused
    ]
    if problems:
        raise Refusal(problems)
    return SweepPoint(**taken), name


def _heard(where: str, text: str) -> Heard:
    word = text.lower()
    found: Heard | None = next((each for each in get_args(Heard) if each == word), None)
    if found is None:
        raise Refusal.at(f"{where}knock", shown(text), "must be none, trace or heavy", "or left empty")
    return found


def _value(field: str, text: str, head: _Head, column: _Column) -> float:
    # What the field takes, in the unit of its column, decides how a comma is read.
    value = number(text, field=field, low=-1e9, high=1e9)
    if column.dimension:
        value = units.convert(value, column.dimension, head.unit, column.unit)
    if not column.low <= value <= column.high:
        unit = f" {column.unit}" if column.unit else ""
        raise Refusal.at(field, shown(text), f"must be {column.low:g} to {column.high:g}{unit}", column.why)
    return value


def _parted(points: Sequence[tuple[SweepPoint, str]], file: str) -> tuple[Sweep, ...]:
    """Put points into sweeps: by name, or by standing next to each other at one speed and load."""
    groups: list[tuple[str, list[SweepPoint]]] = []
    named: dict[str, list[SweepPoint]] = {}
    for point, name in points:
        if name:
            if name not in named:
                named[name] = []
                groups.append((name, named[name]))
            named[name].append(point)
        elif groups and not groups[-1][0] and alike(groups[-1][1][-1], point):
            # Against the point before: a speed that creeps stays one sweep, and is named as unsteady.
            groups[-1][1].append(point)
        else:
            groups.append(("", [point]))
    found = []
    for place, (name, members) in enumerate(groups, start=1):
        told = name or str(place)
        found.append(Sweep(f"{file} {told}" if file else told, tuple(members)))
    return tuple(found)


def alike(first: SweepPoint, point: SweepPoint) -> bool:
    """Whether a point has the speed and load of the first one of a sweep.

    Parameters
    ----------
    first : SweepPoint
        First point of the sweep.
    point : SweepPoint
        Another point of the file.
    """
    return (
        abs(point.speed_rpm - first.speed_rpm) <= SAME_SPEED * first.speed_rpm
        and abs(point.map_kpa - first.map_kpa) <= SAME_KPA
    )
