"""Results that draw themselves in a notebook.

Results know no picture (imports point one way only), so the notebook is told here how to show them::

    from sparkwright import notebook
    notebook.enable()

From then on a plan, a hook, a row of the map or a hardware check that ends a cell is drawn, in the
light or the dark look of the reader's screen.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from sparkwright.check.result import HardwareResult
from sparkwright.errors import SparkwrightError
from sparkwright.pictures.cap import cap_picture
from sparkwright.pictures.hook import hook_picture
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.plan.result import Hook, Line, LoadLine, PlanResult


class _Formatter(Protocol):
    """What is used of a notebook's formatter of one kind of output."""

    def for_type(self, typ: type[Any], func: Callable[[Any], str]) -> object: ...


DRAWINGS: dict[type[Any], Callable[[Any], str]] = {
    PlanResult: lambda plan: map_picture(plan).svg("auto"),
    Line: lambda line: ribbon_picture(line).svg("auto"),
    LoadLine: lambda line: ribbon_picture(line).svg("auto"),
    Hook: lambda hook: hook_picture(hook).svg("auto"),
    HardwareResult: lambda hardware: cap_picture(hardware).svg("auto"),
}
"""How each kind of result is drawn."""


def enable(formatter: _Formatter | None = None) -> None:
    """Tell the running notebook how to draw results.

    Parameters
    ----------
    formatter : optional
        The formatter for SVG; the running notebook's own where not given.

    Raises
    ------
    SparkwrightError
        If no notebook is running.

    Examples
    --------
    >>> enable()
    Traceback (most recent call last):
    sparkwright.errors.SparkwrightError: no notebook is running here: call this inside one
    """
    chosen = formatter if formatter is not None else _running_formatter()
    for kind, draw in DRAWINGS.items():
        chosen.for_type(kind, draw)


def _running_formatter() -> _Formatter:
    # IPython puts this function among the builtins while a notebook runs; importing it is not needed.
    import builtins

    shell_of = getattr(builtins, "get_ipython", None)
    if shell_of is None:
        raise SparkwrightError("no notebook is running here: call this inside one")
    formatter: _Formatter = shell_of().display_formatter.formatters["image/svg+xml"]
    return formatter
