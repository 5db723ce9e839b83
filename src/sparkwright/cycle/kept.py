"""The folder of what takes long to make and never changes: Numba's cache, and tables.

What lies there is run, so it must be ours alone: an absolute path, a true folder, owned by whoever runs this,
closed to all others. Any other folder is not used; things are then made anew each time, and the log says why.

Numba watches only the file that a function stands in, while kernels call formulas from their neighbours. So
the folder's name carries a hash of every source of this package and the versions that compile them: change
any and all is made anew. Each table carries a hash of its content, so that nothing torn is read.
"""

from __future__ import annotations

import hashlib
import io
import logging
import os
import shutil
import stat
import sys
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache, wraps
from importlib.metadata import version
from itertools import chain, count
from pathlib import Path
from threading import get_ident
from typing import Any, ParamSpec

import numpy as np
from numpy.typing import NDArray
from platformdirs import user_cache_path

FloatArray = NDArray[np.float64]
Arguments = ParamSpec("Arguments")

MOST_TABLES = 400
"""Tables kept, of some kilobytes each; older ones go. A job needs about a dozen."""

WRITTEN_BETWEEN = 16
"""Tables that a process writes between two looks for older ones: a look takes as long as one; a choice."""

_WRITTEN = count()
_LOG = logging.getLogger(__name__)


@cache
def cache_folder() -> Path | None:
    """Give the folder of what was made from exactly these sources and versions, made where it isn't there.

    Returns
    -------
    pathlib.Path or None
        ``None`` where it can't be made, or isn't ours alone.
    """
    try:
        folder = folder_in(cache_base(), source_hash(Path(__file__).parent.rglob("*.py")))
    except (OSError, RuntimeError, ValueError) as problem:
        _LOG.warning(
            "nothing is kept on disk, so every start computes anew what takes seconds: %s; XDG_CACHE_HOME "
            "names another folder",
            problem,
        )
        return None
    return folder


def cache_base() -> Path:
    """Give the folder in which programs of this person keep what they can make again."""
    return user_cache_path()


def source_hash(sources: Iterable[Path]) -> str:
    """Tell sources, and the versions that compile them, apart from all others.

    Parameters
    ----------
    sources : iterable of path
        The files.
    """
    digest = hashlib.sha256(f"{sys.version}|{np.__version__}|{version('numba')}".encode())
    for source in sorted(sources):
        digest.update(hashlib.sha256(source.read_bytes()).digest())
    return digest.hexdigest()[:16]


def folder_in(base: Path, name: str) -> Path:
    """Make the folder of that name, or take it where it is there and ours alone.

    Parameters
    ----------
    base : path
        Where it lies.
    name : str
        What it is called.

    Raises
    ------
    ValueError
        Where it isn't; the message says what is wrong and how to mend it.
    OSError
        Where it can't be made.
    """
    if not base.is_absolute():  # or another program could choose it for us
        raise ValueError(f"{base} is not an absolute path")
    (base / "sparkwright").mkdir(parents=True, exist_ok=True)
    parent = (base / "sparkwright").resolve()
    for above in (parent, *parent.parents):
        refuse_others_as_owners(above)
    folder = parent / f"kernel-{name}"
    with suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    refuse_all_but_ours(folder)
    return folder


def refuse_others_as_owners(above: Path) -> None:
    """Refuse a folder in which others could put one of theirs in the place of ours.

    Parameters
    ----------
    above : path
        The folder that holds ours.
    """
    if sys.platform == "win32":
        return  # where a person's profile folder is closed to others by itself
    found = above.stat()
    open_to_all = found.st_mode & stat.S_IWOTH and not found.st_mode & stat.S_ISVTX
    if found.st_uid not in (0, os.getuid()) or open_to_all:
        raise ValueError(f"{above} is owned by somebody else or may be written by everybody")


def refuse_all_but_ours(folder: Path) -> None:
    """Refuse what isn't a true folder, owned by us and closed to all others.

    Parameters
    ----------
    folder : path
        Ours.
    """
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode):
        raise ValueError(f"{folder} is a link or no folder; remove it")
    if sys.platform == "win32":
        return
    if found.st_uid != os.getuid():
        raise ValueError(f"{folder} is owned by somebody else; remove it")
    if stat.S_IMODE(found.st_mode) & 0o077:
        raise ValueError(f"{folder} is open to others, who may have written there; remove it")
    if not os.access(folder, os.W_OK):
        raise ValueError(f"{folder} can't be written")


def forget_code() -> bool:
    """Remove what Numba keeps, so that it is compiled anew; tell whether anything was there."""
    folder = cache_folder()
    found = [] if folder is None else [each for each in folder.iterdir() if each.is_dir()]
    for each in found:
        shutil.rmtree(each, ignore_errors=True)
    return bool(found)


def write(name: str, content: bytes) -> bool:
    """Keep a file, whole or not at all; tell whether it is kept.

    Parameters
    ----------
    name : str
        What the file is called.
    content : bytes
        All that is to stand in it.
    """
    folder = cache_folder()
    if folder is None:
        return False
    beside = folder / f"{name}.{os.getpid()}-{get_ident()}"
    try:
        beside.write_bytes(hashlib.sha256(content).digest() + content)
        beside.replace(folder / name)
    except OSError:
        return False
    return True


def read(name: str) -> bytes | None:
    """Give a kept file's content, if it is there and whole.

    Parameters
    ----------
    name : str
        What the file is called.
    """
    folder = cache_folder()
    if folder is None:
        return None
    try:
        kept = (folder / name).read_bytes()
    except OSError:
        return None
    digest, content = kept[:32], kept[32:]
    return content if hashlib.sha256(content).digest() == digest else None


def _told(value: Any) -> str:
    """Write an argument so that no other is written alike."""
    if isinstance(value, float):
        return float(value).hex()
    if value is None or isinstance(value, str | int):
        return repr(value)
    if not is_dataclass(value):
        raise TypeError(f"a kept table can't be told apart by {value!r}")
    return f"{type(value).__name__}({','.join(_told(getattr(value, each.name)) for each in fields(value))})"


def kept_table(function: Callable[Arguments, FloatArray]) -> Callable[Arguments, FloatArray]:
    """Keep the arrays that a slow pure function gives, by its name and arguments.

    Parameters
    ----------
    function : callable
        It takes numbers, words and records of them.

    Returns
    -------
    callable
        The same function, with the same results to the last bit.

    Examples
    --------
    >>> def counted(up_to: float) -> FloatArray: return np.arange(up_to)
    >>> kept_table(counted)(3.0)
    array([0., 1., 2.])
    """

    @wraps(function)
    def kept(*arguments: Arguments.args, **named: Arguments.kwargs) -> FloatArray:
        told = [_told(each) for each in (function.__name__, *arguments, *chain(*sorted(named.items())))]
        name = f"{hashlib.sha256(repr(told).encode()).hexdigest()[:24]}.table"
        content = read(name)
        if content is not None:
            table: FloatArray = np.load(io.BytesIO(content), allow_pickle=False)
            return table
        table = function(*arguments, **named)
        file = io.BytesIO()
        np.save(file, table, allow_pickle=False)
        if write(name, file.getvalue()) and next(_WRITTEN) % WRITTEN_BETWEEN == 0:
            _drop_oldest()
        return table

    return kept


def _drop_oldest() -> None:
    folder = cache_folder()
    if folder is None:
        return
    try:
        tables = sorted(folder.glob("*.table"), key=lambda path: path.stat().st_mtime)
        for path in tables[:-MOST_TABLES]:
            path.unlink(missing_ok=True)
    except OSError:
        return  # another process is at it
