"""The tables that the measurements print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    what: str
    value: str
    target: str = ""
    met: bool | None = None


def show(title: str, rows: Sequence[Row]) -> None:
    print(f"\n{title}")
    for row in rows:
        verdict = "" if row.met is None else "met" if row.met else "missed"
        print(f"  {row.what:<58} {row.value:>22}  {row.target:<16} {verdict}".rstrip(), flush=True)
