"""A folder of files named after what they hold: put in whole or not at all, never changed.

A file's name is the SHA-256 of its bytes, so that the same file is kept once and a damaged one is found.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO
from uuid import uuid4

from sparkwright.shop.said import NotThereError, ShopError

CHUNK = 1 << 20
ARRIVING = "arriving"
LEFT_BEHIND_S = 24 * 3600
"""Age at which a file that never arrived whole is taken away."""


@dataclass(frozen=True)
class Content:
    """What a file holds: the SHA-256 of its bytes, in hexadecimal, and their number."""

    sha256: str
    size: int


def chunks_of(stream: BinaryIO) -> Iterator[bytes]:
    """Give the bytes of a stream, a piece at a time."""
    while chunk := stream.read(CHUNK):
        yield chunk


def content_of(path: Path) -> Content:
    """Read a file through and say what it holds."""
    digest, size = sha256(), 0
    with path.open("rb") as file:
        for chunk in chunks_of(file):
            digest.update(chunk)
            size += len(chunk)
    return Content(digest.hexdigest(), size)


def sync_folder(folder: Path) -> None:
    """Put the names in a folder on the disk; Windows does that by itself and can't be asked."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Files:
    """The files of one store; ``folder`` is None where nobody said where they go."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder

    @property
    def folder(self) -> Path:
        """The folder.

        Raises
        ------
        ShopError
            If nobody said which.
        """
        if self._folder is None:
            raise ShopError(
                "nobody said where attached files go; with PostgreSQL name a folder that everybody reaches"
            )
        return self._folder

    def path(self, name: str) -> Path:
        """Give the path of a file by its SHA-256."""
        return self.folder / name[:2] / name

    def put(self, chunks: Iterable[bytes], *, most_bytes: int, called: str) -> Content:
        """Keep a stream of bytes; it is on the disk when this returns.

        Raises
        ------
        ShopError
            If there are more than ``most_bytes``, or the disk takes no more. Nothing is kept then.
        """
        digest, size = sha256(), 0
        with self.arriving() as path:
            with path.open("xb") as file:
                for chunk in chunks:
                    size += len(chunk)
                    if size > most_bytes:
                        raise ShopError(
                            f"{called}: is longer than {most_bytes:,} bytes, the most that is kept"
                        )
                    digest.update(chunk)
                    file.write(chunk)
            return self.adopt(path, Content(digest.hexdigest(), size))

    @contextmanager
    def arriving(self) -> Iterator[Path]:
        """Give the path for a file that isn't whole yet; what is left there at the end is taken away."""
        try:
            arriving = self.folder / ARRIVING
            arriving.mkdir(parents=True, exist_ok=True)
            _take_away_left_behind(arriving)
            path = arriving / uuid4().hex
            try:
                yield path
            finally:
                path.unlink(missing_ok=True)
        except OSError as problem:
            said = (problem.strerror or "").lower()
            raise ShopError(
                f"{self.folder}: can't be written ({said}); nothing of this file was kept"
            ) from problem

    def adopt(self, path: Path, content: Content) -> Content:
        """Give a whole file its place, for good."""
        with path.open("rb+") as file:
            os.fsync(file.fileno())
        target = self.path(content.sha256)
        target.parent.mkdir(exist_ok=True)
        # A file of that name holds the same bytes unless it was damaged; this one may stand there either way.
        path.replace(target)
        for folder in (target.parent, self.folder, self.folder.parent):
            sync_folder(folder)
        return content

    def open(self, name: str, called: str) -> BinaryIO:
        """Open a file to be read."""
        try:
            return self.path(name).open("rb")
        except OSError as problem:
            raise NotThereError(f"{called}: its file is not beside the store; {ASK_CHECK}") from problem

    def problem(self, content: Content) -> str | None:
        """Say what is wrong with a file that should hold something; None when nothing is."""
        path = self.path(content.sha256)
        try:
            if content_of(path) == content:
                return None
        except FileNotFoundError:
            return f"its file {path} is not there"
        except OSError as problem:
            return f"its file {path} can't be read ({(problem.strerror or '').lower()})"
        return f"its file {path} no longer holds what was given"


ASK_CHECK = "`sparkwright shop check` looks through all of them"


def _take_away_left_behind(arriving: Path) -> None:
    oldest = time.time() - LEFT_BEHIND_S
    for path in arriving.iterdir():
        try:
            if path.stat().st_mtime < oldest:
                path.unlink()
        except FileNotFoundError:
            continue
