"""What takes long to make and never changes, kept on disk: machine code and tables.

The folder carries a hash of every source of this package and of the versions that made it, so that nothing
stale is ever read; each file carries a hash of its content, so that nothing torn is. Where the folder can't
be written, things are made anew each time.
"""

from __future__ import annotations

import hashlib
import io
import os
import sys
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import cache, wraps
from importlib.metadata import version
from itertools import chain
from pathlib import Path
from threading import get_ident
from typing import Any, ParamSpec

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Arguments = ParamSpec("Arguments")

MOST_TABLES = 400
"""Tables kept, of some kilobytes each; older ones go. A job needs about a dozen."""


@cache
def cache_folder() -> Path:
    """Folder of what was made from exactly these sources and versions."""
    digest = hashlib.sha256(f"{sys.version}|{np.__version__}|{version('numba')}".encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "sparkwright" / f"kernel-{digest.hexdigest()[:16]}"


def can_be_written() -> bool:
    """Whether new things can be kept; makes the folder where it isn't there."""
    try:
        cache_folder().mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(cache_folder(), os.W_OK)


def write(name: str, content: bytes) -> bool:
    """Keep a file, whole or not at all; tell whether it is kept."""
    if not can_be_written():
        return False
    path = cache_folder() / name
    beside = path.with_name(f"{name}.{os.getpid()}-{get_ident()}")
    try:
        beside.write_bytes(hashlib.sha256(content).digest() + content)
        beside.replace(path)
    except OSError:
        return False
    return True


def read(name: str) -> bytes | None:
    """Give a kept file's content, if it is there and whole."""
    try:
        kept = (cache_folder() / name).read_bytes()
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
        if write(name, file.getvalue()):
            _drop_oldest()
        return table

    return kept


def _drop_oldest() -> None:
    try:
        tables = sorted(cache_folder().glob("*.table"), key=lambda path: path.stat().st_mtime)
        for path in tables[:-MOST_TABLES]:
            path.unlink(missing_ok=True)
    except OSError:
        return  # another process is at it
