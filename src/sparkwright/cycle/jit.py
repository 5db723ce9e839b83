"""Compiling the kernel with Numba, once for each change of it.

What Numba compiled is cached in a folder of ours (``sparkwright.cycle.kept``). Numba itself is loaded when a
compiled function is first called, so that what needs no kernel doesn't wait for it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import cached_property, update_wrapper
from threading import Lock
from typing import Any, TypeVar, cast

from sparkwright.cycle import kept

Function = TypeVar("Function", bound=Callable[..., Any])
_LOG = logging.getLogger(__name__)

# Contracted, a multiplication and an addition round once. Together with inlining and loops of constant
# length that is two thirds faster.
_OPTIONS = {"nogil": True, "error_model": "numpy", "fastmath": {"contract"}}

# Numba takes its folder from a setting of the whole process.
_NUMBAS_SETTING = Lock()


class _Compiled:
    """A function that Numba compiles at its first call."""

    def __init__(self, function: Callable[..., Any], inline: bool) -> None:
        self.py_func = function
        self._options = {**_OPTIONS, "forceinline": inline}
        update_wrapper(self, function)

    @cached_property
    def _dispatcher(self) -> Any:
        import numba
        from numba.core import config

        folder = kept.cache_folder()
        if folder is None:
            # Numba left to itself would take a folder that may hold stale code, or somebody else's.
            return numba.njit(**self._options)(self.py_func)
        with _NUMBAS_SETTING:
            before = config.CACHE_DIR
            config.CACHE_DIR = str(folder)
            try:
                return numba.njit(cache=True, **self._options)(self.py_func)
            finally:
                config.CACHE_DIR = before

    @property
    def _numba_type_(self) -> Any:
        """What Numba takes this for where another compiled function calls it."""
        return self._dispatcher._numba_type_

    def __call__(self, *arguments: Any) -> Any:
        try:
            return self._dispatcher(*arguments)
        except Exception:
            # A torn file in the cache shows itself in many ways; compiled code raises nothing of its own.
            if not kept.forget_code():
                raise
            _LOG.info("%s is compiled anew", self.py_func.__name__, exc_info=True)
            return self._dispatcher(*arguments)


def compiled(function: Function, *, inline: bool = True) -> Function:
    """Compile a plain function of numbers with Numba, releasing the interpreter lock while it runs.

    Parameters
    ----------
    function : callable
        Pure arithmetic on floats, arrays and records of them.
    inline : bool, optional
        Whether its code is put wherever another compiled function calls it: right for a formula in the
        innermost loop. Whole cycles are better called, since code put in many places takes long to compile.

    Returns
    -------
    callable
        The same function, compiled at its first call and cached on disk; the plain one stays
        reachable as ``.py_func``.

    Examples
    --------
    >>> from sparkwright.cycle.residual import bounded_share
    >>> bool(compiled(bounded_share)(0.3) == bounded_share(0.3))
    True
    """
    return cast(Function, _Compiled(function, inline))


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
