"""One plain ZIP file with a list of what it holds, written whole or not at all and read with suspicion."""

from __future__ import annotations

import json
import os
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path, PureWindowsPath
from types import TracebackType
from typing import Self, TypeVar
from uuid import uuid4

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sparkwright import __version__
from sparkwright.shop.files import CHUNK, Content, open_for_one_user, sync_folder
from sparkwright.shop.refusals import AtPlaceError, ShopError

MANIFEST = "manifest.json"
MOST_MEMBERS = 100_000
MOST_LIST_BYTES = 30_000_000
"""The most that a list inside a package may take: manifest, history."""
ALWAYS_UNPACKED_BYTES, MOST_TIMES_PACKED = 20_000_000, 200
MOST_UNPACKED_BYTES = 20_000_000_000
"""A package may unpack to the first of these, beyond that to so many times its own size, never to more than
the last."""
LONG_AGO = (1980, 1, 1, 0, 0, 0)
"""The time that every member carries, so that the same content makes the same file."""
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    UnicodeError,
    ValueError,
    KeyError,
    IndexError,
    OverflowError,
)
"""What reading a ZIP file that was cut or changed can end in."""


ListModel = TypeVar("ListModel", bound=BaseModel)


class Listed(BaseModel):
    """One member in the manifest."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    size: int = Field(ge=0, lt=2**50)


class Manifest(BaseModel):
    """What a package says of itself: its schema, the program's version, and every member with its hash."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    schema_: str = Field(alias="schema", max_length=100)
    version: str = Field(max_length=40)
    members: dict[str, Listed] = Field(max_length=MOST_MEMBERS)


class Packing:
    """A package being written."""

    def __init__(self, file: zipfile.ZipFile) -> None:
        self._file = file
        self._members: dict[str, Content] = {}

    def add(self, name: str, chunks: Iterable[bytes]) -> Content:
        """Add a member and say what it holds; one that is there already is left.

        Parameters
        ----------
        name : str
            Name of the member, with its folder.
        chunks : iterable of bytes
            Its bytes, a piece at a time.
        """
        if name in self._members:
            return self._members[name]
        digest, size = sha256(), 0
        with self._file.open(_member(name), "w", force_zip64=True) as target:
            for chunk in chunks:
                digest.update(chunk)
                size += len(chunk)
                target.write(chunk)
        self._members[name] = Content(digest.hexdigest(), size)
        return self._members[name]

    def finish(self, schema: str) -> None:
        """Add the manifest, last.

        Parameters
        ----------
        schema : str
            Name and number of what the package holds.
        """
        members = {name: asdict(content) for name, content in self._members.items()}
        manifest = {"schema": schema, "version": __version__, "members": members}
        self._file.writestr(_member(MANIFEST), json_bytes(manifest))


def read_list(called: str, content: bytes, model: type[ListModel]) -> ListModel:
    """Read a list that is JSON.

    Parameters
    ----------
    called : str
        What a refusal calls the list.
    content : bytes
        The list as JSON.
    model : type
        Model that it is read by.

    Raises
    ------
    ShopError
        With the first place that can't be read.
    """
    try:
        return model.model_validate_json(content, strict=True)
    except ValidationError as problem:
        first = problem.errors(include_url=False, include_context=False)[0]
        place = ".".join(str(step) for step in first["loc"]) or "the text"
        raise ShopError(f"{called}: {place} can't be read; {first['msg'].lower()}") from problem


def _member(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, LONG_AGO)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o644 << 16
    return info


def _leads_out(name: str) -> bool:
    """Whether a name, unpacked by any tool on any system, could lie outside of its folder."""
    path = PureWindowsPath(name)  # which takes both kinds of slash
    return bool(path.drive or path.root) or ".." in path.parts


def json_bytes(value: object) -> bytes:
    """Write JSON that a person can read too.

    Parameters
    ----------
    value : object
        Anything that JSON can hold.
    """
    return (json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


@contextmanager
def packing(target: Path, schema: str) -> Iterator[Packing]:
    """Write a package beside its place and move it there when it is whole.

    Parameters
    ----------
    target : Path
        Where the package goes; nothing may be there yet.
    schema : str
        Name and number of what it holds, for the manifest.

    Raises
    ------
    ShopError
        If there is something in the place already, or it can't be written.
    """
    partial = target.with_name(f".{target.name}.{uuid4().hex[:8]}.part")
    _require_free(target)
    try:
        try:
            with open_for_one_user(partial) as file:
                with zipfile.ZipFile(file, "w", allowZip64=True) as whole:
                    package = Packing(whole)
                    yield package
                    package.finish(schema)
                file.flush()
                os.fsync(file.fileno())
            _require_free(target)
            partial.rename(target)
            sync_folder(target.absolute().parent)
        finally:
            partial.unlink(missing_ok=True)
    except OSError as problem:
        said = (problem.strerror or "").lower()
        raise AtPlaceError(target, f"can't be written ({said})", target.name) from problem


def _require_free(target: Path) -> None:
    if not target.absolute().parent.is_dir():
        raise ShopError(f"{target}: its folder is not there; make it first")
    if os.path.lexists(target):
        raise ShopError(f"{target}: is there already and was left as it is; choose another name")


class Package:
    """A package being read, which may have been cut, changed or made to harm.

    Parameters
    ----------
    path : Path
        The file.
    schemas : str
        One of these its manifest must call itself.
    all_bytes : bool
        Whether it may unpack to any size; only for what a person names by hand.

    Raises
    ------
    ShopError
        If it is no such package. Members are checked against their hash while they are read.
    """

    def __init__(self, path: Path, *schemas: str, all_bytes: bool = False) -> None:
        self.name = path.name
        try:
            self._size = path.stat().st_size
            self._file = zipfile.ZipFile(path)
        except FileNotFoundError as problem:
            raise ShopError(f"{self.name}: is not there; check the name") from problem
        except OSError as problem:
            raise ShopError(f"{self.name}: can't be read ({(problem.strerror or '').lower()})") from problem
        except DAMAGED as problem:
            raise ShopError(f"{self.name}: is not a ZIP file, or was cut short") from problem
        try:
            self._packed = self._checked_members(all_bytes)
            self.manifest = self._read_manifest(schemas)
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        """Read in a block."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the file."""
        self._file.close()

    def _checked_members(self, all_bytes: bool) -> dict[str, zipfile.ZipInfo]:
        members = self._file.infolist()
        if len(members) > MOST_MEMBERS:
            raise ShopError(f"{self.name}: holds more than {MOST_MEMBERS:,} files")
        packed = {member.filename: member for member in members}
        if len(packed) < len(members):
            raise ShopError(f"{self.name}: holds two files of one name")
        for member in members:
            if _leads_out(member.orig_filename):
                raise ShopError(f"{self.name}: holds {member.orig_filename}, a name that leads out of it")
            if member.flag_bits & 1:
                raise ShopError(f"{self.name}: is locked with a password; give it without")
            if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise ShopError(f"{self.name}: is packed in a way that is not read; pack it as plain ZIP")
        unpacked = sum(member.file_size for member in members)
        most = min(max(ALWAYS_UNPACKED_BYTES, MOST_TIMES_PACKED * self._size), MOST_UNPACKED_BYTES)
        if unpacked > most and not all_bytes:
            raise ShopError(
                f"{self.name}: would unpack to {unpacked:,} bytes; {most:,} is the most that a file of this "
                "size may"
            )
        return packed

    def _read_manifest(self, schemas: Sequence[str]) -> Manifest:
        if MANIFEST not in self._packed:
            raise ShopError(f"{self.name}: holds no {MANIFEST}; it was not written by Sparkwright")
        content = b"".join(self._chunks(MANIFEST, MOST_LIST_BYTES))
        manifest = read_list(f"{self.name}, {MANIFEST}", content, Manifest)
        if manifest.schema_ not in schemas:
            raise ShopError(
                f"{self.name}: is {manifest.schema_}; what is read here is {' or '.join(schemas)}"
            )
        if set(manifest.members) | {MANIFEST} != set(self._packed):
            raise ShopError(f"{self.name}: does not hold the files that its {MANIFEST} lists")
        return manifest

    def content(self, name: str) -> Content:
        """Give what a member must hold, as the manifest says.

        Parameters
        ----------
        name : str
            Name of the member, with its folder.

        Raises
        ------
        ShopError
            If there is no such member.
        """
        listed = self.manifest.members.get(name)
        if listed is None:
            raise ShopError(f"{self.name}: {name} is not in it")
        return Content(listed.sha256, listed.size)

    def chunks(self, name: str) -> Iterator[bytes]:
        """Give the bytes of a member, a piece at a time; refuses at the end what doesn't have its hash.

        Parameters
        ----------
        name : str
            Name of the member, with its folder.
        """
        must, digest, size = self.content(name), sha256(), 0
        for chunk in self._chunks(name, must.size):
            digest.update(chunk)
            size += len(chunk)
            yield chunk
        if Content(digest.hexdigest(), size) != must:
            raise ShopError(f"{self.name}: {name} is not what was packed; it was changed or damaged")

    def read(self, name: str, most_bytes: int = MOST_LIST_BYTES) -> bytes:
        """Give a whole member that is known to be short.

        Parameters
        ----------
        name : str
            Name of the member, with its folder.
        most_bytes : int, optional
            How long it may be.
        """
        if self.content(name).size > most_bytes:
            raise ShopError(f"{self.name}: {name} is longer than {most_bytes:,} bytes")
        return b"".join(self.chunks(name))

    def _chunks(self, name: str, most_bytes: int) -> Iterator[bytes]:
        read = 0
        try:
            with self._file.open(self._packed[name]) as member:
                while chunk := member.read(CHUNK):
                    read += len(chunk)
                    if read > most_bytes:
                        raise ShopError(f"{self.name}: {name} is longer than it says")
                    yield chunk
        except DAMAGED as problem:
            raise ShopError(f"{self.name}: {name} can't be unpacked; the file is damaged") from problem
        except OSError as problem:
            raise ShopError(f"{self.name}: can't be read ({(problem.strerror or '').lower()})") from problem
