"""The source itself: short modules, docstrings that name every parameter, and formulas that name their source."""

from __future__ import annotations

from pathlib import Path

import sparkwright

SOURCE = Path(sparkwright.__file__).parent
MOST_LINES = 500
STILL_LONG = {
    "check/hardware.py",
    "cycle/engine.py",
    "cycle/gas.py",
    "cycle/kernel.py",
    "cycle/laminar.py",
    "light/findings.py",
    "web/api.py",
    "web/forms.py",
}
"""Modules to be taken apart yet; this list only gets shorter."""


def modules() -> dict[str, str]:
    """Give the text of every module under its place in the package."""
    return {
        path.relative_to(SOURCE).as_posix(): path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py")
    }


def test_no_module_is_longer_than_can_be_read_at_a_sitting() -> None:
    long = {place for place, text in modules().items() if len(text.splitlines()) > MOST_LINES}
    assert long == STILL_LONG
