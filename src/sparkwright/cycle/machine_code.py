"""Machine code of compiled functions, kept on disk and loaded without the compiler that made it.

Importing Numba takes a command longer than a whole plan. Its result is an ordinary object file, which the
LLVM library that Numba stands on can load alone. The file's name carries the argument kinds, the
processor and that library's version, its folder the sources (``sparkwright.cycle.kept``). Where anything is
missing, differs or isn't understood, there is ``None``, and the caller takes Numba.

Proven on Linux with x86-64 processors; elsewhere nothing is loaded or made.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import struct
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import llvmlite
import llvmlite.binding as llvm
import numpy as np

from sparkwright.cycle import kept

Call = Callable[[Sequence[Any]], Any]


@dataclass(frozen=True)
class MachineCode:
    """A compiled function: its name in the object file, Numba's word for what it gives, and the file."""

    symbol: str
    gives: str
    object_file: bytes


PROVEN = sys.platform == "linux" and os.uname().machine == "x86_64"
"""Whether object files and calls have the form that was tried."""

_C_TYPES: dict[str, Any] = {"f": ctypes.c_double, "i": ctypes.c_int64, "p": ctypes.c_void_p}


def kinds_of(value: object) -> str | None:
    """Describe an argument as far as its machine code depends on it; ``None`` where that isn't known here.

    A letter for a number, an array with its axes, brackets for a tuple.

    Examples
    --------
    >>> kinds_of((1, (0.5, np.zeros((2, 3)))))
    '(i(fa2))'
    >>> kinds_of(np.zeros(4, dtype=np.float32)) is None
    True
    """
    if isinstance(value, float):
        return "f"
    if type(value) is int:
        return "i"
    if isinstance(value, tuple):
        parts = [kinds_of(part) for part in value]
        return None if None in parts else f"({''.join(part or '' for part in parts)})"
    if type(value) is np.ndarray and value.dtype == np.float64 and value.flags.carray:
        return f"a{value.ndim}"
    return None


def layout(kinds: str) -> str:
    """Say what arguments of these kinds are passed as, a letter for each: a float, an integer, or a place.

    Examples
    --------
    >>> layout("(f(ia1))")
    'fippiipii'
    """
    flat = ""
    for kind in kinds.replace("(", "").replace(")", ""):
        # An array is its owner (twice), size, size of a number, place, and its lengths and strides.
        flat += "ii" * int(kind) if kind.isdigit() else "ppiip" if kind == "a" else kind
    return flat


def calls_so(kinds: str, types: Sequence[str]) -> bool:
    """Whether a compiled function is called as ``load`` will, by its LLVM types, that of its status first.

    Examples
    --------
    >>> calls_so("(f)", ["i32", "double*", "{ i8* }**", "double"]), calls_so("(f)", ["double", "double"])
    (True, False)
    """
    letters = {"double": "f", "i64": "i"}
    status, *passed = types
    found = "".join("p" if each.endswith(("*", "ptr")) else letters.get(each, "?") for each in passed)
    return status == "i32" and found == "pp" + layout(kinds)


def _flat(value: Any, into: list[Any]) -> None:
    """Lay an argument out as Numba passes it: field by field."""
    if isinstance(value, tuple):
        for part in value:
            _flat(part, into)
    elif isinstance(value, np.ndarray):
        place = value.__array_interface__["data"][0]
        into += (None, None, value.size, value.itemsize, place, *value.shape, *value.strides)
    else:
        into.append(value)


def _file_name(name: str, kinds: str) -> str:
    key = (kinds, llvmlite.__version__, llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten())
    return f"{name.strip('_')}-{hashlib.sha256(repr(key).encode()).hexdigest()[:16]}.machine"


def write(name: str, kinds: str, made: MachineCode) -> None:
    """Keep a function's machine code, where that is possible."""
    kept.write(_file_name(name, kinds), f"{made.symbol} {made.gives}\n".encode() + made.object_file)


def read(name: str, kinds: str) -> MachineCode | None:
    """Give a function's machine code, if it is kept and whole."""
    content = kept.read(_file_name(name, kinds))
    if content is None:
        return None
    head, _, object_file = content.partition(b"\n")
    symbol, gives = head.decode().split()
    return MachineCode(symbol, gives, object_file)


def _missing_symbols(code: bytes) -> set[str]:
    """Names that an object file expects elsewhere: functions of the C library, if it can stand alone."""
    sections = {part.name(): part.data() for part in llvm.ObjectFileRef.from_data(code).sections()}
    names = sections[b".strtab"]
    # An entry is name, kind, visibility, section, place, size; section 0 means elsewhere.
    entries = struct.iter_unpack("<IBBHQQ", sections[b".symtab"])
    starts = [entry[0] for entry in entries if entry[3] == 0 and entry[0]]
    return {names[start : names.index(b"\0", start)].decode() for start in starts}


def load(made: MachineCode, kinds: str) -> Call | None:
    """Make machine code callable; it runs without the interpreter's lock.

    Parameters
    ----------
    made : MachineCode
        The function.
    kinds : str
        Kinds of its arguments, as ``kinds_of`` tells of the tuple of them.

    Returns
    -------
    callable or None
        Takes the tuple of arguments. ``None`` where the code needs more than the C library has, or gives
        anything but a float or nothing.
    """
    library = ctypes.CDLL(None)
    missing = _missing_symbols(made.object_file)
    if made.gives not in ("float64", "none") or not all(hasattr(library, name) for name in missing):
        return None
    for name in missing:
        llvm.add_symbol(name, ctypes.cast(getattr(library, name), ctypes.c_void_p).value)
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = llvm.Target.from_default_triple().create_target_machine()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    engine.add_object_file(llvm.ObjectFileRef.from_data(made.object_file))
    engine.finalize_object()
    # A status comes back; the result and what went wrong are written where the first two arguments point.
    address = engine.get_function_address(made.symbol)
    types = [_C_TYPES[each] for each in "pp" + layout(kinds)]
    function = ctypes.CFUNCTYPE(ctypes.c_int32, *types)(address)

    def call(arguments: Sequence[Any], _alive: object = engine) -> Any:
        result, problem = ctypes.c_double(), ctypes.c_void_p()
        flat: list[Any] = []
        _flat(tuple(arguments), flat)
        if function(ctypes.addressof(result), ctypes.addressof(problem), *flat):
            raise RuntimeError(f"{made.symbol} stopped")
        return result.value if made.gives == "float64" else None

    return call
