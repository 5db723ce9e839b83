"""The missing parts of a result, filled by workers as their pieces come back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from sparkwright.fleet.parts import Columns, Parts
from sparkwright.fleet.workers import Lost, Workers, spread

Item = TypeVar("Item")
Result = TypeVar("Result")
Progress = Callable[[int, int], None]


def fill(
    parts: Parts,
    workers: Workers,
    work: Callable[[Item], Result],
    item_of: Callable[[int], Item],
    lost: Callable[[int], Result],
    tables_of: Callable[[list[tuple[int, Result]]], Mapping[str, Columns]],
    progress: Progress | None = None,
) -> None:
    """Do every piece of work that stands in no whole part, and put each part as soon as it is complete.

    Parameters
    ----------
    parts : Parts
        Where results stand.
    workers : Workers
        Who does the work.
    work : callable
        A piece of it, from an item to a result; raises nothing.
    item_of, lost : callable
        From the number of a piece: its item, and what stands for its result where a worker was lost over it.
    tables_of : callable
        Lays out the numbered results of a part, in order.
    progress : callable, optional
        Called with (pieces done, pieces in all); raise from it to stop.
    """
    tell = progress or (lambda done, total: None)
    done = parts.done
    tell(done, parts.items)
    begun: dict[int, dict[int, Result]] = {}
    items = ((number, item_of(number)) for number in parts.missing())
    for number, found in spread(workers, work, items):
        at = number // parts.each
        begun.setdefault(at, {})[number] = lost(number) if isinstance(found, Lost) else found
        if len(begun[at]) == len(parts.span(at)):
            parts.put(at, tables_of(sorted(begun.pop(at).items())))
        done += 1
        tell(done, parts.items)
    parts.finish()
