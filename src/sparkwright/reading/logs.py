"""How the text of a logger is written, found out from its first lines: no two programs write it alike.

A log may begin with lines about itself, has a line of names, perhaps one of units, and then rows of numbers
without end. `form_of` looks at the beginning only; who reads the rows goes by what it found.
"""

from __future__ import annotations

import csv
import re
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from sparkwright.errors import Refusal
from sparkwright.reading.numbers import shown
from sparkwright.reading.tables import COMMAS, DIALECTS, Dialect

HEAD_BYTES = 1 << 18
"""How much of a log is looked at."""

FEWEST_ALIKE = 3
"""Rows that must be wider than usual before their columns count; a choice."""
MOST_COLUMNS = 1000
_MOST_LINES = 400
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_COMMA_NUMBER = re.compile(r"[+-]?\d*,\d+(?:[eE][+-]?\d+)?")
_CLOCK = re.compile(
    r"(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}[ T]+)?\d{1,3}:\d{2}(?::\d{2})?(?:[.,]\d+)?(?:Z|[+-]\d{2}:?\d{2})?"
)
_HEX = re.compile(r"(?:[0-9A-Fa-f]{2}[ ]?){1,16}")
_NOTHING = frozenset(("", "nan", "null", "none", "n/a", "na", "-", "--", "inf", "-inf"))
_CONTROLS = bytes(each for each in range(32) if each < 9 or each > 13)
_BRACKETS = "()[]{}<>\"' "


@dataclass(frozen=True)
class LogForm:
    """How a log is written.

    Parameters
    ----------
    encoding : str
        Of its text; `encoding_guessed` where nothing in it says so.
    dialect : Dialect
        What parts its columns.
    decimal_comma : bool
        Whether its decimals stand behind a comma.
    names, units : tuple of str
        What stands over each column, as written; "" where nothing does.
    head : bytes
        The line of names as it stands, to know it where it comes again; b"" where there is none.
    before : int
        Lines before the names.
    first_line : int
        Number of the first line of numbers.
    data_at : int
        Where that line begins [bytes].
    samples : tuple of tuple of str
        The cells of the first rows.
    """

    encoding: str
    encoding_guessed: bool
    dialect: Dialect
    decimal_comma: bool
    names: tuple[str, ...]
    units: tuple[str, ...]
    head: bytes
    before: int
    first_line: int
    data_at: int
    samples: tuple[tuple[str, ...], ...]


def form_of(head: bytes, name: str) -> LogForm:
    r"""Find out how a log is written, from its first bytes.

    Parameters
    ----------
    head : bytes
        Its beginning, `HEAD_BYTES` at most.
    name : str
        Of the file, to say where it has to be refused.

    Raises
    ------
    Refusal
        If it is empty, no text, or has no rows of numbers.

    Examples
    --------
    >>> form = form_of(b"drive 7\nTime;RPM;MAP\ns;1/min;kPa\n0,0;800;35,5\n0,1;810;35,0\n", "log.csv")
    >>> form.names, form.units, form.decimal_comma, form.first_line
    (('Time', 'RPM', 'MAP'), ('s', '1/min', 'kPa'), True, 4)
    """
    if not head.strip(b"\0 \t\r\n"):
        raise Refusal.at("drive", name, "must not be empty", "the logger wrote nothing; read it out again")
    encoding, guessed, mark = _encoding(head, name)
    text = head[mark:].decode(encoding, errors="replace")
    cut = text.rfind("\n")
    newline = "\n" if cut >= 0 else "\r"
    lines = [line.removesuffix("\r") for line in (text[: cut + 1] if cut > 0 else text).split(newline)]
    lines = lines[:_MOST_LINES]
    dialect, decimal_comma = _dialect(lines)
    rows = [cells_of(line, dialect) for line in lines]
    first, width = _first_row(rows, dialect, decimal_comma, name)
    names, units, head_at = _names(rows, first, width)
    if width > MOST_COLUMNS:
        raise Refusal.at(
            "drive", name, f"must have at most {MOST_COLUMNS} columns", "take out what isn't needed"
        )
    data_at = mark + _line_at(head[mark:], newline.encode(encoding), first)
    samples = tuple(tuple(row[:width]) for row in rows[first:] if any(row))[:200]
    return LogForm(
        encoding=encoding,
        encoding_guessed=guessed,
        dialect=dialect,
        decimal_comma=decimal_comma,
        names=names,
        units=units,
        head=b"" if head_at is None else lines[head_at].encode("utf-8"),
        before=first if head_at is None else head_at,
        first_line=first + 1,
        data_at=data_at,
        samples=samples,
    )


def _line_at(content: bytes, newline: bytes, count: int) -> int:
    """Give where a line begins, after so many others [bytes]."""
    at = 0
    for _ in range(count):
        at = content.find(newline, at)
        while at % len(newline):
            at = content.find(newline, at + 1)
        at += len(newline)
    return at


def _encoding(head: bytes, name: str) -> tuple[str, bool, int]:
    """Give the encoding, whether it is a guess, and how many bytes mark it."""
    if head.startswith(BOM_UTF8):
        return "utf-8", False, len(BOM_UTF8)
    if head.startswith(BOM_UTF16_LE):
        return "utf-16-le", False, 2
    if head.startswith(BOM_UTF16_BE):
        return "utf-16-be", False, 2
    sample = head[:4096]
    if sample[1::2].count(0) > 0.4 * len(sample) / 2:
        return "utf-16-le", True, 0
    if sample[::2].count(0) > 0.4 * len(sample) / 2:
        return "utf-16-be", True, 0
    text_end = head.find(b"\0")
    sample = head if text_end < 0 else head[:text_end]
    odd = len(sample) - len(sample.translate(None, _CONTROLS))
    if not sample or odd > 0.01 * len(sample):
        raise Refusal.at(
            "drive", name, "must be a log as text, Parquet or MDF 4", "have the logger write CSV"
        )
    try:
        sample[: max(len(sample) - 4, 1)].decode("utf-8")
    except UnicodeDecodeError as problem:
        if problem.start < len(sample) - 8:
            return "cp1252", True, 0
    return "utf-8", False, 0


def cells_of(line: str, dialect: Dialect) -> list[str]:
    """Part one line into its cells, without the blanks around them.

    Parameters
    ----------
    line : str
        One line, without its end.
    dialect : Dialect
        What parts the cells and quotes them.
    """
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=dialect.mark), [])]
    except csv.Error:
        return [cell.strip() for cell in line.split(dialect.mark)]


def numeric(cell: str) -> bool:
    """Whether a cell is a number, with either mark before its decimals.

    Parameters
    ----------
    cell : str
        One cell, without blanks around it.
    """
    return _NUMBER.fullmatch(cell) is not None


def clock(cell: str) -> bool:
    """Whether a cell is a time of day, alone or behind a date.

    Parameters
    ----------
    cell : str
        One cell, without blanks around it.
    """
    return _CLOCK.fullmatch(cell) is not None


def _measured(cell: str) -> bool:
    return numeric(cell) or clock(cell) or cell.lower() in _NOTHING or bool(_HEX.fullmatch(cell))


def _row_of_numbers(cells: Sequence[str]) -> bool:
    filled = [cell for cell in cells if cell]
    if not filled:
        return False
    good = sum(_measured(cell) for cell in filled)
    return good >= max(1, 0.5 * len(filled)) and any(numeric(cell) or clock(cell) for cell in filled)


def _dialect(lines: Sequence[str]) -> tuple[Dialect, bool]:
    """Choose the mark by which most lines part into rows of numbers of one width."""
    best: tuple[float, Dialect, bool] = (0.0, COMMAS, False)
    for dialect in DIALECTS:
        rows = [cells_of(line, dialect) for line in lines]
        rows = [row for row in rows if len(row) > 1 and _row_of_numbers(row)]
        if not rows:
            continue
        ((width, count),) = Counter(map(len, rows)).most_common(1)
        cells = [cell for row in rows for cell in row]
        commas = sum(bool(_COMMA_NUMBER.fullmatch(cell)) for cell in cells)
        points = sum("." in cell and numeric(cell) for cell in cells)
        # A file of decimal commas also parts at them, into more and shorter numbers: rank goes first.
        score = count + 0.001 * min(width, 50)
        if score > best[0] * 1.2:
            best = (score, dialect, commas > points)
    return best[1], best[2]


def _first_row(
    rows: Sequence[Sequence[str]], dialect: Dialect, decimal_comma: bool, name: str
) -> tuple[int, int]:
    """Give the place of the first row of numbers, and how many columns the rows have."""
    widths = Counter(_width(row) for row in rows if _row_of_numbers(row) and len(row) > 1)
    if not widths:
        if any(_row_of_numbers(row) for row in rows):
            raise Refusal.at(
                "drive", name, "must have two columns or more", "part them by comma, semicolon or tab"
            )
        seen = shown(" ".join(next((row for row in rows if any(row)), [""])))
        raise Refusal.at("drive", name, "must have rows of numbers", f"it begins with {seen}")
    usual = max(widths, key=lambda width: (widths[width], width))
    full = max(width for width, count in widths.items() if width == usual or count >= FEWEST_ALIKE)
    for place, row in enumerate(rows):
        if _names_like(row, rows[place + 1 : place + 2]):
            continue
        if _row_of_numbers(row) and len(row) > 1 and _width(row) >= 0.5 * usual:
            return place, full
    raise Refusal.at("drive", name, "must have rows of numbers")


def _names_like(row: Sequence[str], below: Sequence[Sequence[str]]) -> bool:
    """Whether a row begins with a word over a number: names that happen to look like numbers follow it."""
    under = below[0][0] if below and below[0] else ""
    return bool(row) and bool(row[0]) and not _measured(row[0]) and (numeric(under) or clock(under))


def _width(row: Sequence[str]) -> int:
    """Count the columns of a row up to the last that holds something."""
    return max((place + 1 for place, cell in enumerate(row) if cell), default=0)


def _names(
    rows: Sequence[Sequence[str]], first: int, width: int
) -> tuple[tuple[str, ...], tuple[str, ...], int | None]:
    """Find the line of names, and of units, above the first row of numbers."""
    above = [
        place
        for place in range(first)
        if sum(bool(cell) for cell in rows[place]) >= max(2, 0.5 * width)
        and (not _row_of_numbers(rows[place]) or place == first - 1)
    ]
    if not above:
        return tuple(f"column {place + 1}" for place in range(width)), ("",) * width, None
    head, units = above[-1], None
    if len(above) > 1 and _units(rows[above[-1]]):
        head, units = above[-2], above[-1]
    return (
        _filled(rows[head], width, "column {}"),
        _filled(rows[units] if units is not None else [], width, ""),
        head,
    )


def _units(cells: Sequence[str]) -> bool:
    """Whether a line is one of units: short, no names, mostly of what measures are written in."""
    filled = [cell.strip(_BRACKETS) for cell in cells if cell.strip(_BRACKETS)]
    known = sum(each.lower() in UNIT_WORDS for each in filled)
    return bool(filled) and known >= 0.5 * len(filled)


UNIT_WORDS = frozenset(
    (
        "s",
        "sec",
        "seconds",
        "ms",
        "us",
        "µs",
        "min",
        "h",
        "rpm",
        "1/min",
        "r/min",
        "rev/min",
        "u/min",
        "kpa",
        "pa",
        "hpa",
        "mbar",
        "bar",
        "psi",
        "inhg",
        "mmhg",
        "atm",
        "deg",
        "°",
        "degree",
        "degrees",
        "degc",
        "degf",
        "°c",
        "°f",
        "c",
        "f",
        "k",
        "%",
        "percent",
        "km/h",
        "kph",
        "mph",
        "m/s",
        "v",
        "volt",
        "volts",
        "mv",
        "a",
        "ma",
        "lambda",
        "afr",
        "g/s",
        "kg/h",
        "nm",
        "n·m",
        "hz",
        "on/off",
        "btdc",
        "°btdc",
        "deg_btdc",
        "count",
        "counts",
        "-",
        "g",
        "ratio",
        "λ",
        "°ca",
        "dbtdc",
    )
)
"""What a cell of a line of units may be, in small letters."""


def _filled(cells: Sequence[str], width: int, otherwise: str) -> tuple[str, ...]:
    """Give a cell for each column; what is missing or stands twice gets a number."""
    found: list[str] = []
    for place in range(width):
        cell = cells[place].strip() if place < len(cells) else ""
        if otherwise:
            cell = cell or otherwise.format(place + 1)
            count = sum(each == cell or each.startswith(f"{cell} #") for each in found)
            cell = f"{cell} #{count + 1}" if count else cell
        else:
            cell = cell.strip(_BRACKETS)
        found.append(cell)
    return tuple(found)
