"""The one reader of tables as spreadsheets and loggers write them: bytes to text, text to numbered rows.

Text is UTF-8, with or without the mark at its start, or UTF-16 with it. A table's first line says by what its
columns are parted: tabs, else semicolons, else commas. Blank lines, and lines that start with `#`, are no
rows, but count in the numbers of the lines, as an editor counts them.
"""

import csv
import re
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from dataclasses import dataclass
from pathlib import Path

from sparkwright.errors import Refusal
from sparkwright.reading.numbers import shown

MOST_BYTES = 1_000_000
"""Longest file of a table that is read."""


@dataclass(frozen=True)
class Dialect:
    """What parts the columns of a table, and what a person calls it."""

    mark: str
    called: str


COMMAS = Dialect(",", "commas")
DIALECTS = (Dialect("\t", "tabs"), Dialect(";", "semicolons"), COMMAS)
"""In the order in which they are looked for in a table's first line; without any it is one column."""


_BLANK = " " + "".join(each.mark for each in DIALECTS)


@dataclass(frozen=True)
class Row:
    """One line of a table: its number in the file, its cells as written, and what parted them."""

    line: int
    cells: tuple[str, ...]
    dialect: Dialect


def load_text(path: Path, field: str, too_long: str = "") -> str:
    """Give the text of a file.

    Parameters
    ----------
    path : Path
        The file.
    field : str
        What to call it when it has to be refused.
    too_long : str
        What to do about a file that is too long.

    Raises
    ------
    Refusal
        If there is no such file, or it is a folder, unreadable, too long, or no text.
    """
    if path.is_dir():
        raise Refusal.at(field, path.name, "must be a file", "give the file in the folder")
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except FileNotFoundError as missing:
        raise Refusal.at(field, path.name, "is not there", "check the name") from missing
    except OSError as problem:
        raise Refusal.at(field, path.name, f"can't be read ({problem.strerror})") from problem
    return text_of(content, field, path.name, too_long)


def text_of(content: bytes, field: str, name: str, too_long: str = "") -> str:
    r"""Give bytes as text.

    Parameters
    ----------
    content : bytes
        The file, in UTF-8 or UTF-16.
    field : str
        What a refusal calls it.
    name : str
        What the file is called.
    too_long : str
        What to do where it is too long.

    Examples
    --------
    >>> text_of("30;29,5".encode("utf-16"), "readings", "light.csv")
    '30;29,5'
    """
    if len(content) > MOST_BYTES:
        raise Refusal.at(field, name, f"must be at most {MOST_BYTES:,} bytes", too_long)
    wide = content.startswith((BOM_UTF16_LE, BOM_UTF16_BE))
    try:
        return content.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as problem:
        raise Refusal.at(field, name, "must be UTF-8 text", "save it as plain text") from problem


def rows_of(text: str, field: str) -> tuple[Row, ...]:
    r"""Part a table into rows; none where nothing stands in it.

    Parameters
    ----------
    text : str
        The table.
    field : str
        What a refusal calls it.

    Raises
    ------
    Refusal
        If a quotation mark stays open; it names the line.

    Examples
    --------
    >>> [(row.line, row.cells) for row in rows_of("# from the bench\nrpm;deg\n\n2000;29,5\n", "readings")]
    [(2, ('rpm', 'deg')), (4, ('2000', '29,5'))]
    """
    lines = [
        (number, line)
        for number, line in enumerate(
            re.split(r"\r\n|\r|\n", text.removeprefix("\N{BYTE ORDER MARK}")), start=1
        )
        if line.strip(_BLANK) and not line.lstrip().startswith("#")
    ]
    if not lines:
        return ()
    dialect = next((each for each in DIALECTS if each.mark in lines[0][1]), COMMAS)
    return tuple(Row(number, _cells(line, dialect, number, field), dialect) for number, line in lines)


def _cells(line: str, dialect: Dialect, number: int, field: str) -> tuple[str, ...]:
    try:
        return tuple(next(csv.reader([line], delimiter=dialect.mark, strict=True)))
    except (csv.Error, StopIteration) as problem:
        must = f"must be plain text parted by {dialect.called}"
        raise Refusal.at(
            f"{field}, line {number}",
            shown(line),
            must,
            "a quotation mark may be open, or a cell is too long",
        ) from problem
