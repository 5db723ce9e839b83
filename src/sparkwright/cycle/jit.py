"""Compiling the kernel, with a cache that can't go stale.

Numba's cache watches only the file a function stands in, while the kernel calls formulas from its
neighbours. So the cache folder carries a hash of every source of this package and of the versions
that compiled it: change any of them and the kernel is compiled anew.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba
from numba.core import config

Function = TypeVar("Function", bound=Callable[..., Any])


def cache_folder() -> Path:
    """Folder of the compiled kernel for exactly these sources and versions."""
    digest = hashlib.sha256(f"{sys.version}|{numba.__version__}".encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "sparkwright" / f"kernel-{digest.hexdigest()[:16]}"


_FOLDER = str(cache_folder())


def compiled(function: Function) -> Function:
    """Compile a plain function of numbers with Numba, releasing the interpreter lock while it runs.

    Parameters
    ----------
    function : callable
        Pure arithmetic on floats, arrays and named tuples of them.

    Returns
    -------
    callable
        The same function, compiled at its first call and cached on disk; the plain one stays
        reachable as ``.py_func``.

    Examples
    --------
    >>> from sparkwright.cycle.wiebe import wiebe_burned_fraction
    >>> bool(compiled(wiebe_burned_fraction)(0.5) == wiebe_burned_fraction(0.5))
    True
    """
    before = config.CACHE_DIR
    config.CACHE_DIR = _FOLDER
    try:
        # Inlined, a charge's many fields need not be copied at every call; contracted, a multiplication
        # and an addition round once. Together with loops of constant length that is two thirds faster.
        dispatcher: Function = numba.njit(
            cache=True, nogil=True, error_model="numpy", forceinline=True, fastmath={"contract"}
        )(function)
    finally:
        config.CACHE_DIR = before
    return dispatcher


def compiled_formula(function: Callable[..., Any]) -> Callable[..., float]:
    """Compile a published formula, which takes numbers or arrays, for use with single numbers.

    Parameters
    ----------
    function : callable
        A plain formula of this package.

    Returns
    -------
    callable
        As ``compiled`` gives it.

    Examples
    --------
    >>> from sparkwright.cycle.kinematics import mean_piston_speed_m_s
    >>> compiled_formula(mean_piston_speed_m_s)(0.09, 3000.0)
    9.0
    """
    return compiled(function)
