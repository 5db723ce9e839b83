"""MDF 4 files that break off: told to the library as what the standard calls unfinished.

A logger that loses its power leaves a block of data that says it is longer than the file. The standard has
flags for a file whose logger didn't finish it, and the library counts the records of such a file anew; all
that is put right here is the length of the block, in a copy. It helps where what describes the channels
stands before the data, as loggers write it; where it stood at the end, nobody can say what the bytes are.
"""

from __future__ import annotations

import shutil
import struct
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

HEADER_AT, HEADER = 64, b"##HD"
GROUP, DATA = b"##DG", b"##DT"
"""Names of the blocks: header of the file, a group of data, its records."""
LENGTH_AT, LINKS_AT = 8, 24
"""Where a block has its length, and its first link to another."""
UNFINISHED, FLAGS_AT, RECORDS_NOT_COUNTED = b"UnFinMF ", 60, 1
MOST_GROUPS = 10_000


def mended_copy(path: Path) -> IO[bytes] | None:
    """Give a copy of a file that breaks off in its records, with what is left of them; None for any other.

    Parameters
    ----------
    path : Path
        The file, which stays as it is.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        torn = [at for at in _data_of_groups(file, size) if _length(file, at, size) > size - at]
    if not torn:
        return None
    copy = TemporaryFile(prefix="sparkwright-drive-")  # noqa: SIM115 - goes to whoever asked
    with path.open("rb") as file:
        shutil.copyfileobj(file, copy, 1 << 20)
    for at in torn:
        _write(copy, at + LENGTH_AT, struct.pack("<Q", size - at))
    (flags,) = struct.unpack("<H", _read(copy, FLAGS_AT, 2))
    _write(copy, 0, UNFINISHED)
    _write(copy, FLAGS_AT, struct.pack("<H", flags | RECORDS_NOT_COUNTED))
    copy.seek(0)
    return copy


def _data_of_groups(file: IO[bytes], size: int) -> list[int]:
    """Give where the records of each group stand that stand in one block; none where a link leads nowhere."""
    if _read(file, HEADER_AT, 4) != HEADER:
        return []
    found, (group,) = [], _links(file, HEADER_AT, 1)
    for _ in range(MOST_GROUPS):
        if not 0 < group <= size - LINKS_AT or _read(file, group, 4) != GROUP:
            break
        group, _, records = _links(file, group, 3)
        if 0 < records <= size - LINKS_AT and _read(file, records, 4) == DATA:
            found.append(records)
    return found


def _links(file: IO[bytes], block: int, count: int) -> tuple[int, ...]:
    content = _read(file, block + LINKS_AT, 8 * count)
    return struct.unpack(f"<{count}Q", content.ljust(8 * count, b"\0"))


def _length(file: IO[bytes], block: int, size: int) -> int:
    content = _read(file, block + LENGTH_AT, 8)
    return int.from_bytes(content, "little") if len(content) == 8 else size


def _read(file: IO[bytes], at: int, count: int) -> bytes:
    file.seek(at)
    return file.read(count)


def _write(file: IO[bytes], at: int, content: bytes) -> None:
    file.seek(at)
    file.write(content)
