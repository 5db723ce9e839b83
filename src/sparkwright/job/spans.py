"""Where headers, keys and values stand in TOML text, so that one can be changed and the rest left alone.

The text must be TOML that `tomllib` has read: nothing is checked here again, and what is found follows the
grammar of TOML 1.0 (toml.io). Keys are read by `tomllib` too.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

# Strings first, so that no mark within one counts. Nothing is tried twice in another way (`++`).
_PIECE = re.compile(
    r'"""(?:[^\\]|\\.)*?"""+|'
    r"'''.*?'''+|"
    r'"(?:[^"\\]|\\.)*+"|'
    r"'[^']*+'|"
    r"#[^\n]*+|"
    r"\n|[ \t\r]++|[\[\]{}=,]|"
    r"""[^\s"'#\[\]{}=,]++""",
    re.DOTALL,
)
_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Entry:
    """A key with its value, or an element of a list, which has no key.

    ``start`` and ``end`` are of the whole line or lines; within brackets of the key and value alone.
    """

    path: tuple[str, ...]
    start: int
    end: int
    value_start: int
    value_end: int


@dataclass(frozen=True)
class Block:
    """A header and the entries under it; the first block of a text, named "", has no header."""

    name: str
    start: int
    header_end: int
    entries: list[Entry]

    @property
    def end(self) -> int:
        """Where its last entry ends; what stands between that and the next header belongs to neither."""
        return self.entries[-1].end if self.entries else self.header_end


def blocks(text: str) -> list[Block]:
    r"""Give the blocks of a text in the order in which they stand.

    Parameters
    ----------
    text : str
        Text of a job file that is TOML.

    Examples
    --------
    >>> first, second = blocks('name = "x"\n[engine]\nbore = "4 in" # measured\n')
    >>> first.entries[0].path, second.name, second.entries[0].path
    (('name',), 'engine', ('bore',))
    """
    found = [Block("", 0, 0, [])]
    for start, end, pieces in _lines(text):
        if pieces[0][0] == "[":
            header = tomllib.loads(text[pieces[0].start() : pieces[-1].end()])
            found.append(Block(next(iter(header)), start, end, []))
        else:
            path, value_start = _key(text, pieces)
            found[-1].entries.append(Entry(path, start, end, value_start, pieces[-1].end()))
    return found


def elements(text: str, value_start: int, value_end: int) -> list[Entry]:
    """Give what stands between the brackets of a list, or the braces of a table, from left to right.

    Parameters
    ----------
    text : str
        Text of a job file that is TOML.
    value_start : int
        Where the value begins in it, with its bracket or brace.
    value_end : int
        Where the value ends in it, behind its bracket or brace.

    Examples
    --------
    >>> text = 'a = [{ rpm = 800, "kpa" = 40 }, {}]'
    >>> first, second = elements(text, 4, len(text))
    >>> text[first.value_start : first.value_end], second.path
    ('{ rpm = 800, "kpa" = 40 }', ())
    >>> [each.path for each in elements(text, first.value_start, first.value_end)]
    [('rpm',), ('kpa',)]
    """
    is_table = text[value_start] == "{"
    found = []
    for pieces in _between_commas(text, value_start + 1, value_end - 1):
        start, end = pieces[0].start(), pieces[-1].end()
        path, start_of_value = _key(text, pieces) if is_table else ((), start)
        found.append(Entry(path, start, end, start_of_value, end))
    return found


def _lines(text: str) -> Iterator[tuple[int, int, list[re.Match[str]]]]:
    """Give each header, and each key with its value, with all that counts on its line or lines."""
    start, depth = 0, 0
    pieces: list[re.Match[str]] = []
    for piece in _PIECE.finditer(text):
        if piece[0] == "\n" and depth == 0:
            if pieces:
                yield start, piece.end(), pieces
            start, pieces = piece.end(), []
        elif _counts(piece):
            depth += _deeper(piece)
            pieces.append(piece)
    if pieces:
        yield start, len(text), pieces


def _between_commas(text: str, start: int, end: int) -> Iterator[list[re.Match[str]]]:
    depth = 0
    pieces: list[re.Match[str]] = []
    for piece in _PIECE.finditer(text, start, end):
        if piece[0] == "," and depth == 0:
            yield pieces
            pieces = []
        elif _counts(piece):
            depth += _deeper(piece)
            pieces.append(piece)
    if pieces:
        yield pieces


def _counts(piece: re.Match[str]) -> bool:
    """Whether a piece is more than a space, a line's end or a comment."""
    return piece[0][0] not in " \t\r\n#"


def _deeper(piece: re.Match[str]) -> int:
    return (piece[0] in ("[", "{")) - (piece[0] in ("]", "}"))


def _key(text: str, pieces: list[re.Match[str]]) -> tuple[tuple[str, ...], int]:
    """Give the parts of a key and where its value starts."""
    equals = next(place for place, piece in enumerate(pieces) if piece[0] == "=")
    key = text[pieces[0].start() : pieces[equals - 1].end()]
    return _path(key), pieces[equals + 1].start()


@lru_cache(maxsize=1024)
def _path(key: str) -> tuple[str, ...]:
    if _BARE.fullmatch(key):
        return (key,)
    parts = []
    table: Any = tomllib.loads(f"{key} = 0")
    while isinstance(table, dict):
        ((part, table),) = table.items()
        parts.append(part)
    return tuple(parts)
