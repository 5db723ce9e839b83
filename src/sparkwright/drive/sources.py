"""Files of a drive, read a piece at a time: whatever they are, what comes out is columns of numbers."""

from __future__ import annotations

import importlib
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

import numpy as np

from sparkwright.drive.mapped import Column
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

PACKED = {b"\x1f\x8b": "gzip", b"PK\x03\x04": "zip", b"7z\xbc\xaf": "7z", b"BZh": "bzip2", b"\xfd7zX": "xz"}


@dataclass
class ReadNotes:
    """What became of a file's lines and cells while it was read."""

    lines_before: int = 0
    heads_again: int = 0
    no_rows: int = 0
    short_rows: int = 0
    unreadable: Counter[str] = field(default_factory=Counter)
    examples: dict[str, str] = field(default_factory=dict)
    cut_off: str = ""
    cut_at_line: int = 0
    texts: tuple[str, ...] = ()
    encoding_guessed: str = ""
    decimal_comma: bool = False


@dataclass(frozen=True)
class Raw:
    """Some rows: columns of numbers, nan where there is none, and how much of the file is read by now."""

    columns: dict[str, FloatArray]
    share_done: float


class Source(ABC):
    """One file: its columns with their first numbers, and all its rows in pieces."""

    name: str
    kind: str
    columns: tuple[Column, ...]

    def __init__(self) -> None:
        self.notes = ReadNotes()

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day, already in seconds."""
        return frozenset()

    @abstractmethod
    def pieces(self) -> Iterator[Raw]:
        """Give all rows, a piece at a time, in their order."""


def needed(module: str, extra: str, what: str) -> ModuleType:
    """Load a package that only drives need.

    Parameters
    ----------
    module : str
        Name of the package as Python imports it.
    extra : str
        Name of the extra of Sparkwright that installs it.
    what : str
        What it is needed for, in a person's words, for the refusal.

    Raises
    ------
    Refusal
        If it isn't installed, with how to.
    """
    try:
        return importlib.import_module(module)
    except ImportError as missing:
        raise Refusal.at(
            "drive", what, f"is read with {module}", f"install it with: pip install 'sparkwright[{extra}]'"
        ) from missing


def source_of(path: Path) -> Source:
    """Open a file by what it holds, whatever its name ends in.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    Refusal
        If it isn't there, can't be read, or is nothing that a drive can be read from.
    """
    head = _head(path)
    if head.startswith(b"PAR1"):
        from sparkwright.drive.parquet import ParquetSource

        return ParquetSource(path)
    if head.startswith((b"MDF ", b"UnFinMF")):
        from sparkwright.drive.mdf import MdfSource

        return MdfSource(path)
    for magic, packed in PACKED.items():
        if head.startswith(magic):
            raise Refusal.at("drive", path.name, f"must be unpacked first: it is packed with {packed}")
    from sparkwright.drive.text import text_source

    return text_source(path)


def _head(path: Path) -> bytes:
    if path.is_dir():
        raise Refusal.at("drive", path.name, "must be a file", "give the file in the folder")
    try:
        with path.open("rb") as file:
            return file.read(8)
    except FileNotFoundError as missing:
        raise Refusal.at("drive", path.name, "is not there", "check the name") from missing
    except OSError as problem:
        raise Refusal.at("drive", path.name, f"can't be read ({problem.strerror})") from problem


def as_floats(values: object) -> FloatArray:
    """Give numbers as an array of floats of its own, which may be written to.

    Parameters
    ----------
    values : object
        Column of numbers as another package gives it, with or without a mask.
    """
    return np.array(values, dtype=float, order="C")
