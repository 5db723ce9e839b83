"""The results of a fleet in a folder: parts as Parquet, and a manifest that says which of them are whole.

A part is written beside its place, brought to the disk, and only then put there and named in the manifest. So
work that is stopped or killed anywhere goes on where it was, and no torn file looks whole.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

from sparkwright.errors import WHOLE, Refusal, SparkwrightError
from sparkwright.fleet.build import build_of

MANIFEST = "manifest.json"
SCHEMA = "urn:sparkwright:fleet:1"

Columns = Mapping[str, list[Any]]
"""A table, column by column; None where something is not determined."""


@dataclass(frozen=True)
class Part:
    """A part that is whole: its tables by name, each with its file and the file's SHA-256."""

    number: int
    files: Mapping[str, tuple[str, str]]


class Parts:
    """The parts of one result in one folder.

    Parameters
    ----------
    folder : Path
        Where they stand; made where it isn't there.
    kind : str
        What is computed.
    asked : str
        What it was asked for, as a hash: other questions don't go into the same folder.
    items : int
        Pieces of work in all.
    each : int
        Pieces in a part.

    Raises
    ------
    Refusal
        If the folder holds anything else.
    """

    def __init__(self, folder: Path, kind: str, asked: str, items: int, each: int) -> None:
        require_polars()
        self.folder, self.items, self.each = folder, items, each
        self._head = {
            "schema": SCHEMA,
            "kind": kind,
            "build": build_of(),
            "asked": asked,
            "items": items,
            "each": each,
        }
        self._whole: dict[int, Part] = {}
        self._begin()

    def _begin(self) -> None:
        if self.folder.exists() and not self.folder.is_dir():
            raise Refusal.at("--to", str(self.folder), "must be a folder, and a file is in the way")
        self.folder.mkdir(parents=True, exist_ok=True)
        manifest = self.folder / MANIFEST
        if not manifest.exists():
            others = [each.name for each in self.folder.iterdir() if not each.name.endswith(".part")]
            if others:
                raise Refusal.at(
                    "--to",
                    str(self.folder),
                    f"must be empty or hold this fleet, and has {others[0]}",
                    "name another",
                )
            self._write_manifest()
            return
        for number, files in self._kept(manifest).items():
            part = Part(number, files)
            if all(self._stands(name, digest) for name, digest in files.values()):
                self._whole[number] = part

    def _kept(self, manifest: Path) -> dict[int, dict[str, tuple[str, str]]]:
        try:
            read = json.loads(manifest.read_text(encoding="utf-8"))
            other = next((name for name, value in self._head.items() if read[name] != value), "")
            parts = {
                int(number): {table: (str(name), str(digest)) for table, (name, digest) in files.items()}
                for number, files in read["parts"].items()
            }
        except (ValueError, KeyError, TypeError, AttributeError):
            raise Refusal.at(
                str(manifest), WHOLE, "can't be read any more", "name another folder; the parts in it stay"
            ) from None
        if other:
            what = "by another build of Sparkwright" if other == "build" else "for other jobs or draws"
            raise Refusal.at("--to", str(self.folder), f"holds results made {what}", "name another folder")
        return parts

    def _stands(self, name: str, digest: str) -> bool:
        try:
            return hashlib.sha256((self.folder / name).read_bytes()).hexdigest() == digest
        except OSError:
            return False

    @property
    def count(self) -> int:
        """How many parts there will be."""
        return -(-self.items // self.each)

    @property
    def done(self) -> int:
        """Pieces of work that stand in whole parts."""
        return sum(len(self.span(number)) for number in self._whole)

    def span(self, number: int) -> range:
        """Give the pieces of work in a part.

        Parameters
        ----------
        number : int
            Which part, from 0.
        """
        return range(number * self.each, min((number + 1) * self.each, self.items))

    def missing(self) -> Iterator[int]:
        """Give the pieces of work that stand in no whole part."""
        for number in range(self.count):
            if number not in self._whole:
                yield from self.span(number)

    def put(self, number: int, tables: Mapping[str, Columns]) -> None:
        """Write a part and name it in the manifest.

        Parameters
        ----------
        number : int
            Which part, from 0.
        tables : mapping
            Columns of each table by its name.

        Raises
        ------
        SparkwrightError
            If the disk is full or can't be written; what was begun is taken away.
        """
        files = {}
        for table, columns in tables.items():
            name = f"{table}-{number:06}.parquet"
            content = parquet(columns)
            self._write(name, content)
            files[table] = (name, hashlib.sha256(content).hexdigest())
        self._whole[number] = Part(number, files)
        self._write_manifest()

    def finish(self) -> None:
        """Say in the manifest that every part stands."""
        self._write_manifest()

    def _write_manifest(self) -> None:
        parts = {str(number): dict(self._whole[number].files) for number in sorted(self._whole)}
        whole = len(self._whole) == self.count
        text = json.dumps({**self._head, "whole": whole, "parts": parts}, indent=1) + "\n"
        self._write(MANIFEST, text.encode())

    def _write(self, name: str, content: bytes) -> None:
        place = self.folder / name
        beside = self.folder / f".{name}.part"
        try:
            with beside.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            beside.replace(place)
        except OSError as problem:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
            raise SparkwrightError(
                f"{place}: can't be written ({(problem.strerror or str(problem)).lower()}); make room, run "
                f"the same again: {self.done} of {self.items} stand and are kept"
            ) from problem

    def read(self, table: str) -> Any:
        """Give a table of all whole parts as a polars frame, in order.

        Parameters
        ----------
        table : str
            Name of the table, such as "engines".
        """
        import polars

        names = [self._whole[number].files[table][0] for number in sorted(self._whole)]
        return polars.concat([polars.read_parquet(self.folder / name) for name in names])


def require_polars() -> None:
    """Refuse to begin where no Parquet can be written.

    Raises
    ------
    Refusal
        With what to install.
    """
    try:
        import polars  # noqa: F401
    except ImportError:
        raise Refusal.at(
            "fleet", WHOLE, "needs the extra `drives` for Parquet", "run: pip install 'sparkwright[drives]'"
        ) from None


def parquet(columns: Columns) -> bytes:
    """Write a table as the bytes of a Parquet file.

    Parameters
    ----------
    columns : Columns
        Values of each column by its name, all of one length.
    """
    import polars

    held = BytesIO()
    polars.DataFrame(dict(columns), nan_to_null=True, infer_schema_length=None).write_parquet(held)
    return held.getvalue()
