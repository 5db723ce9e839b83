"""Which program this is, to the last source: results of two builds don't belong together."""

from __future__ import annotations

import platform
from functools import cache
from importlib.metadata import version
from pathlib import Path

import sparkwright
from sparkwright.cycle.kept import source_hash

SHOWN = 12
"""Letters of the hash that are shown; a choice."""


@cache
def build_of() -> str:
    """Name version and sources of this program, and what computes for it.

    Examples
    --------
    >>> build_of().split()[0] == f"sparkwright-{sparkwright.__version__}"
    True
    """
    sources = source_hash(Path(sparkwright.__file__).parent.rglob("*.py"))[:SHOWN]
    python = ".".join(platform.python_version_tuple()[:2])
    packages = ", ".join(f"{name} {version(name)}" for name in ("numpy", "numba", "scipy"))
    return f"sparkwright-{sparkwright.__version__} ({sources}, python {python}, {packages})"
