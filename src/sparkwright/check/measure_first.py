"""Which assumed facts to measure first: what moves the result most where it is wrong."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sparkwright.check.assumed import Assumed
from sparkwright.job.usual import USUAL


@dataclass(frozen=True)
class MeasureFirst:
    """An assumed value that is worth measuring, with the reason."""

    field: str
    value: str
    why: str


def measure_first(assumed: Iterable[Assumed], most: int = 3) -> tuple[MeasureFirst, ...]:
    """Give the assumed values that matter most, the most telling first.

    Examples
    --------
    >>> taken = [Assumed("fuel.lambda_full", "0.87", "usual"), Assumed("engine.swirl", "1", "usual")]
    >>> [each.field for each in measure_first(taken, most=1)]
    ['engine.swirl']
    """
    by_field = {each.field: each.value for each in assumed}
    found = [
        MeasureFirst(key, by_field[key], usual.matters)
        for key, usual in USUAL.items()
        if usual.matters and key in by_field
    ]
    return tuple(found[:most])
