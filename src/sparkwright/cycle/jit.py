"""Compiling the kernel, with a cache that can't go stale.

Numba's cache watches only the file a function stands in, while the kernel calls formulas from its
neighbours. So the cache folder carries a hash of all of them (``sparkwright.cycle.kept``): change any
and the kernel is compiled anew. Numba itself is loaded when something has to be compiled; no command has to
after set-up.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import cached_property, update_wrapper
from threading import Lock
from typing import Any, TypeVar, cast

from sparkwright.cycle import kept, machine_code

Function = TypeVar("Function", bound=Callable[..., Any])
_LOG = logging.getLogger(__name__)

# Inlined, a charge's many fields need not be copied at every call; contracted, a multiplication
# and an addition round once. Together with loops of constant length that is two thirds faster.
_OPTIONS = {"nogil": True, "error_model": "numpy", "forceinline": True, "fastmath": {"contract"}}


class _Compiled:
    """A function that Numba compiles at its first call."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.py_func = function
        update_wrapper(self, function)

    @cached_property
    def _dispatcher(self) -> Any:
        import numba
        from numba.core import config

        before = config.CACHE_DIR
        config.CACHE_DIR = str(kept.cache_folder())
        try:
            # Where that folder can't be written, Numba would take one that may hold stale code.
            return numba.njit(cache=kept.can_be_written(), **_OPTIONS)(self.py_func)
        finally:
            config.CACHE_DIR = before

    @property
    def _numba_type_(self) -> Any:
        """What Numba takes this for where another compiled function calls it."""
        return self._dispatcher._numba_type_

    def __call__(self, *arguments: Any) -> Any:
        return self._dispatcher(*arguments)


class _KeptCompiled(_Compiled):
    """The same with its machine code kept on disk, so that it runs without Numba."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._calls: dict[str, machine_code.Call | None] = {}
        self._loading = Lock()

    def __call__(self, *arguments: Any) -> Any:
        kinds = machine_code.kinds_of(arguments)
        if kinds is None or not machine_code.PROVEN:
            return self._dispatcher(*arguments)
        if kinds not in self._calls:
            with self._loading:
                if kinds not in self._calls:
                    self._calls[kinds] = self._load(kinds, arguments)
        call = self._calls[kinds]
        return self._dispatcher(*arguments) if call is None else call(arguments)

    def _load(self, kinds: str, arguments: tuple[Any, ...]) -> machine_code.Call | None:
        """Load the machine code, made first where it isn't kept; ``None`` where Numba's own way must do."""
        try:
            return self._loaded(kinds, arguments)
        except Exception:
            # Another version of Numba or LLVM may stumble over anything here; results don't depend on it.
            _LOG.info("%s runs by way of Numba", self.py_func.__name__, exc_info=True)
            return None

    def _loaded(self, kinds: str, arguments: tuple[Any, ...]) -> machine_code.Call | None:
        name = self.py_func.__name__
        made = machine_code.read(name, kinds)
        if made is None:
            made = self._make(kinds, arguments)
            machine_code.write(name, kinds, made)
        return machine_code.load(made, kinds)

    def _make(self, kinds: str, arguments: tuple[Any, ...]) -> machine_code.MachineCode:
        """Compile for arguments of these types, without what would let Python call it or hold memory."""
        import numba

        alone = numba.njit(no_cpython_wrapper=True, no_cfunc_wrapper=True, _nrt=False, **_OPTIONS)(
            self.py_func
        )
        types = tuple(numba.typeof(argument) for argument in arguments)
        alone.compile(types)
        made = alone.overloads[types]._asdict()
        described = made["fndesc"]
        convention = alone.targetctx.call_conv.get_function_type(described.restype, described.argtypes)
        if not machine_code.calls_so(
            kinds, [str(each) for each in (convention.return_type, *convention.args)]
        ):
            raise TypeError(f"{self.py_func.__name__} is to be called in a way not known here: {convention}")
        return machine_code.MachineCode(
            described.llvm_func_name,
            str(made["signature"].return_type),
            made["library"]._get_compiled_object(),
        )


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
    return cast(Function, _Compiled(function))


def compiled_and_kept(function: Function) -> Function:
    """Compile a function that commands call, and keep its machine code, so that they start without Numba.

    Parameters
    ----------
    function : callable
        As for ``compiled``; it gives a float, or nothing and writes into arrays that it is given.

    Returns
    -------
    callable
        As ``compiled`` gives it, with the same results to the last bit.

    Examples
    --------
    >>> def twice(x: float) -> float: return 2.0 * x
    >>> compiled_and_kept(twice)(0.5)
    1.0
    """
    return cast(Function, _KeptCompiled(function))


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
