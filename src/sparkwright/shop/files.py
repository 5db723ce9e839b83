"""A folder of files named after what they hold: put in whole or not at all, never changed.

A file's name is the SHA-256 of its bytes, so that the same file is kept once and a damaged one is found.
"""

from __future__ import annotations

import os
import stat
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO
from uuid import uuid4

from sparkwright.shop.refusals import AtPlaceError, NotThereError, ShopError

CHUNK = 1 << 20
ARRIVING = "arriving"
FOR_ONE_USER = 0o700
FILE_FOR_ONE_USER = 0o600
"""What others on the machine may do with what is made here: nothing, for customers are named in it."""
FOR_A_GROUP = 0o770
FILE_FOR_A_GROUP = 0o660
O_BINARY = getattr(os, "O_BINARY", 0)
"""Windows would otherwise take what is written for text."""
LEFT_BEHIND_S = 24 * 3600
"""Age at which a file that never arrived whole is taken away."""


@dataclass(frozen=True)
class Content:
    """What a file holds: the SHA-256 of its bytes, in hexadecimal, and their number."""

    sha256: str
    size: int


def chunks_of(stream: BinaryIO) -> Iterator[bytes]:
    """Give the bytes of a stream, a piece at a time.

    Parameters
    ----------
    stream : binary stream
        Open to be read, at the place from which it counts.
    """
    while chunk := stream.read(CHUNK):
        yield chunk


def write_chunks(path: Path, chunks: Iterable[bytes], *, most_bytes: int, called: str) -> Content:
    """Write a new file that nobody else may read, and say what it holds.

    Parameters
    ----------
    path : Path
        Where the file goes; nothing may be there yet.
    chunks : iterable of bytes
        Its bytes, a piece at a time.
    most_bytes : int
        How long it may be.
    called : str
        What a refusal calls it.

    Raises
    ------
    ShopError
        If there are more than ``most_bytes``.
    """
    digest, size = sha256(), 0
    with open_for_one_user(path) as file:
        for chunk in chunks:
            size += len(chunk)
            if size > most_bytes:
                raise ShopError(f"{called}: is longer than {most_bytes:,} bytes, the most that is kept")
            digest.update(chunk)
            file.write(chunk)
    return Content(digest.hexdigest(), size)


def open_for_one_user(path: Path) -> BinaryIO:
    """Make a new file that nobody else may read; refuses one that is there.

    Parameters
    ----------
    path : Path
        Where the file goes; nothing may be there yet.
    """
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | O_BINARY, FILE_FOR_ONE_USER), "wb")


def content_of(path: Path) -> Content:
    """Read a file through and say what it holds.

    Parameters
    ----------
    path : Path
        The file.
    """
    digest, size = sha256(), 0
    with path.open("rb") as file:
        for chunk in chunks_of(file):
            digest.update(chunk)
            size += len(chunk)
    return Content(digest.hexdigest(), size)


def sync_folder(folder: Path) -> None:
    """Put the names in a folder on the disk; Windows does that by itself and can't be asked.

    Parameters
    ----------
    folder : Path
        The folder in which files were made, moved or deleted.
    """
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
        """Give the path of a file by its SHA-256.

        Parameters
        ----------
        name : str
            SHA-256 of the file's bytes, in hexadecimal.
        """
        return self.folder / name[:2] / name

    def put(self, chunks: Iterable[bytes], *, most_bytes: int, called: str) -> Content:
        """Keep a stream of bytes; it is on the disk when this returns.

        Parameters
        ----------
        chunks : iterable of bytes
            Its bytes, a piece at a time.
        most_bytes : int
            How long it may be.
        called : str
            What a refusal calls it.

        Raises
        ------
        ShopError
            If there are more than ``most_bytes``, or the disk takes no more. Nothing is kept then.
        """
        with self.arriving() as path:
            return self.adopt(path, write_chunks(path, chunks, most_bytes=most_bytes, called=called))

    @contextmanager
    def arriving(self) -> Iterator[Path]:
        """Give the path for a file that isn't whole yet; what is left there at the end is taken away."""
        try:
            arriving = self.folder / ARRIVING
            self.folder.mkdir(mode=FOR_ONE_USER, parents=True, exist_ok=True)
            self._make_folder(arriving)
            _take_away_left_behind(arriving)
            path = arriving / uuid4().hex
            try:
                yield path
            finally:
                path.unlink(missing_ok=True)
        except OSError as problem:
            said = (problem.strerror or "").lower()
            raise AtPlaceError(
                self.folder,
                f"can't be written ({said}); nothing of this file was kept",
                "the store's folder of files",
            ) from problem

    def adopt(self, path: Path, content: Content) -> Content:
        """Give a whole file its place, for good.

        Parameters
        ----------
        path : Path
            Where the whole file lies now, on the same disk.
        content : Content
            What it holds: the hash of its bytes, and how many.
        """
        with path.open("rb+") as file:
            os.fsync(file.fileno())
        target = self.path(content.sha256)
        path.chmod(FILE_FOR_A_GROUP if self._shared() else FILE_FOR_ONE_USER)
        self._make_folder(target.parent)
        # A file of that name holds the same bytes unless it was damaged; this one may stand there either way.
        path.replace(target)
        for folder in (target.parent, self.folder, self.folder.parent):
            sync_folder(folder)
        return content

    def _shared(self) -> bool:
        """Whether the folder was given to a group, as several people with one PostgreSQL do."""
        return bool(self.folder.stat().st_mode & stat.S_IWGRP)

    def _make_folder(self, path: Path) -> None:
        try:
            path.mkdir(mode=FOR_ONE_USER)
        except FileExistsError:
            return
        if self._shared():
            path.chmod(path.stat().st_mode & stat.S_ISGID | FOR_A_GROUP)

    def take_away(self, name: str) -> None:
        """Delete a file for good; only in the turn of a writer who has seen that nothing names it.

        Parameters
        ----------
        name : str
            SHA-256 of the file's bytes, in hexadecimal.
        """
        path = self.path(name)
        try:
            path.unlink(missing_ok=True)
            if path.parent.exists():
                sync_folder(path.parent)
        except OSError as problem:
            raise AtPlaceError(
                path, f"can't be deleted ({(problem.strerror or '').lower()})", "a file"
            ) from problem

    def open(self, name: str, called: str) -> BinaryIO:
        """Open a file to be read.

        Parameters
        ----------
        name : str
            SHA-256 of the file's bytes, in hexadecimal.
        called : str
            What a person calls it, for the refusal where it is gone.
        """
        try:
            return self.path(name).open("rb")
        except OSError as problem:
            raise NotThereError(f"{called}: its file is not beside the store; {ASK_CHECK}") from problem

    def problem(self, content: Content) -> str | None:
        """Say what is wrong with a file that should hold something; None when nothing is.

        Parameters
        ----------
        content : Content
            What the file should hold: the hash of its bytes, and how many.
        """
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
