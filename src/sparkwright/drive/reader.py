"""Files of a drive as blocks of rows: times that run on, values in the units inside, what was mended told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from sparkwright.drive.asked import Derived, DriveAsked
from sparkwright.drive.clock import Clock, scale_by_behaviour
from sparkwright.drive.kernel import carry, clean
from sparkwright.drive.mapped import Mapped, mapped_columns
from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.sources import Raw, Source
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

Progress = Callable[[float], None]
"""Called with the share that is read; raise from it to stop."""

CARRIED_S = 3.0
"""How long speed and load of a logger that asks one channel after another hold for the next [s]; a choice."""
INTERLEAVED_SHARE = 0.2
NEEDED = ("rpm", "map_kpa")


@dataclass(frozen=True)
class Block:
    """Rows in the order in which they were taken.

    Parameters
    ----------
    file : int
        Which file, from 0.
    time_s : array
        From the file's first row; nan where the file has no time.
    rpm, kpa : array
        Speed and load of each row, held over the gaps of a logger that asks for one channel after another.
    columns : dict
        By heading, in the units inside; nan where there is no value.
    by_quantity : dict
        Heading of each quantity that is there.
    """

    file: int
    time_s: FloatArray
    rpm: FloatArray
    kpa: FloatArray
    columns: dict[str, FloatArray]
    by_quantity: dict[str, str]

    def of(self, quantity: str) -> FloatArray | None:
        """Give the values of a quantity; None where the file has none.

        Parameters
        ----------
        quantity : str
            Name of the quantity, such as "speed" or "advance".
        """
        name = self.by_quantity.get(quantity)
        return None if name is None else self.columns[name]


@dataclass
class Seen:
    """What one channel held over a whole file."""

    there: int = 0
    dropped: int = 0
    lowest: float = float("inf")
    highest: float = float("-inf")


@dataclass
class FileReader:
    """One file while it is read, and what there is to say of it after."""

    source: Source
    place: int
    mapped: tuple[Mapped, ...]
    derived: tuple[Derived, ...]
    clock: Clock
    time_column: str
    time_scale: float
    time_guessed: bool
    rows: int = 0
    carried: Counter[str] = field(default_factory=Counter)
    seen: dict[str, Seen] = field(default_factory=dict)
    interleaved: bool | None = None
    _held: dict[str, tuple[float, float]] = field(default_factory=dict)
    _last_s: float = float("nan")
    _before: dict[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def by_quantity(self) -> dict[str, str]:
        """Heading of each quantity that is there, but time."""
        return {each.quantity: each.column for each in self.mapped if each.quantity not in ("", "time_s")}

    @property
    def rows_a_second(self) -> float | None:
        """What the person said of a file without time; None where nothing."""
        return 1.0 / self.time_scale if not self.time_column and self.time_scale else None

    @property
    def last_s(self) -> float:
        """Time of the last row read, from the first [s]; nan where the file has no time."""
        return self._last_s

    @property
    def step_s(self) -> float:
        """The usual step from row to row [s]; nan where the file has no time."""
        return self.clock.step_s if self.time_column else self.time_scale or float("nan")

    def blocks(self, progress: Progress | None = None) -> Iterator[Block]:
        """Give all rows, a block at a time.

        Parameters
        ----------
        progress : callable, optional
            Called with the share of the file that is read, 0 to 1; raise from it to stop.
        """
        for raw in _ahead(self.source.pieces()):
            block = self._block(raw)
            self.rows += block.time_s.size
            if block.time_s.size:
                self._last_s = float(block.time_s[-1])
                yield block
            if progress is not None:
                progress(raw.share_done)

    def _block(self, raw: Raw) -> Block:
        columns: dict[str, FloatArray] = {}
        for each in self.mapped:
            if each.column == self.time_column:
                continue
            values = raw.columns[each.column]
            known = BY_NAME.get(each.quantity)
            low, high = (known.low, known.high) if known else (-np.inf, np.inf)
            dropped, there, lowest, highest = clean(values, each.scale, each.offset, low, high)
            seen = self.seen.setdefault(each.column, Seen())
            seen.dropped, seen.there = seen.dropped + dropped, seen.there + there
            seen.lowest, seen.highest = min(seen.lowest, lowest), max(seen.highest, highest)
            columns[each.column] = values
        rows = next(iter(raw.columns.values())).size
        time_s = self._times(raw, rows)
        rpm, kpa = self._places(columns, time_s)
        for made in self.derived:
            columns[made.name] = self._made(made, columns, time_s)
        return Block(self.place, time_s, rpm, kpa, columns, self.by_quantity)

    def _times(self, raw: Raw, rows: int) -> FloatArray:
        if self.time_column:
            return self.clock.run_on(self.time_scale * raw.columns[self.time_column])
        if self.time_scale > 0.0:
            return np.asarray((self.rows + np.arange(rows)) * self.time_scale, dtype=float)
        return np.full(rows, np.nan)

    def _places(self, columns: dict[str, FloatArray], time_s: FloatArray) -> list[FloatArray]:
        """Give speed and load of each row, held for a while where channels were asked one after another."""
        names = [self.by_quantity[each] for each in NEEDED]
        if self.interleaved is None:
            blank = [float(np.mean(~np.isfinite(columns[name]))) for name in names]
            self.interleaved = max(blank) > INTERLEAVED_SHARE
        if not self.interleaved:
            return [columns[name] for name in names]
        times = np.where(np.isfinite(time_s), time_s, 0.0)
        found = []
        for name in names:
            held, held_s = self._held.get(name, (float("nan"), 0.0))
            known = np.flatnonzero(np.isfinite(columns[name]))
            if known.size:
                self._held[name] = (float(columns[name][known[-1]]), float(times[known[-1]]))
            full = columns[name].copy()
            self.carried[name] += int(carry(full, times, held, held_s, CARRIED_S))
            found.append(full)
        return found

    def _made(self, made: Derived, columns: dict[str, FloatArray], time_s: FloatArray) -> FloatArray:
        of = [columns[self.by_quantity.get(name, name)] for name in made.of]
        with np.errstate(divide="ignore", invalid="ignore"):
            match made.kind:
                case "difference":
                    found = of[0] - of[1]
                case "ratio":
                    found = of[0] / of[1]
                case "slip":
                    found = 100.0 * (of[0] - of[1]) / of[0]
                case "rate":
                    value, at = self._before.get(made.name, (float("nan"), float("nan")))
                    self._before[made.name] = (
                        (float(of[0][-1]), float(time_s[-1])) if time_s.size else (value, at)
                    )
                    found = np.diff(of[0], prepend=value) / np.diff(time_s, prepend=at)
        return np.where(np.isfinite(found), found, np.nan)


def reader_of(source: Source, place: int, asked: DriveAsked) -> FileReader:
    """Find out what a file's columns are.

    Parameters
    ----------
    source : Source
        The file opened: its headings, units, first rows and rows.
    place : int
        Number of the file among those of the drive, from 0.
    asked : DriveAsked
        Channels, units and rate that the person stated, which go before any guess.

    Raises
    ------
    Refusal
        If nothing in it is engine speed or manifold pressure; it says how to name them.
    """
    names = {each.name for each in source.columns}
    elsewhere = place > 0
    said = {key: name for key, name in asked.channels.items() if not elsewhere or name in names}
    units_said = {name: unit for name, unit in asked.units.items() if not elsewhere or name in names}
    mapped = mapped_columns(source.columns, said, units_said, asked.remembered)
    by_quantity = {each.quantity: each for each in mapped if each.quantity}
    missing = [each for each in NEEDED if each not in by_quantity]
    if missing:
        called = " and ".join(BY_NAME[each].called for each in missing)
        options = " and ".join(f'--channel "{each}=COLUMN"' for each in missing)
        columns = ", ".join(each.name for each in source.columns[:30])
        raise Refusal.at(
            "drive",
            source.name,
            f"must have a column of {called}",
            f"name it with {options}; there are {columns}",
        )
    known = names | set(by_quantity)
    for made in asked.derived:
        for of in made.of:
            if of not in known:
                raise Refusal.at("--derive", f'"{of}"', f"must be a column: {', '.join(sorted(names)[:30])}")
    column, scale, guessed = _time_of(source, by_quantity.get("time_s"), asked)
    return FileReader(source, place, mapped, asked.derived, Clock(), column, scale, guessed)


def _time_of(source: Source, found: Mapped | None, asked: DriveAsked) -> tuple[str, float, bool]:
    """Give the column of time, seconds for one of it, and whether that is a guess."""
    clocks = source.clock_columns
    if found is None and clocks:
        return min(clocks), 1.0, False
    if found is None:
        return "", 1.0 / asked.rows_a_second if asked.rows_a_second else 0.0, False
    if found.column in clocks:
        return found.column, 1.0, False
    if found.unit:
        return found.column, found.scale, False
    first = next(each.first for each in source.columns if each.name == found.column)
    return found.column, scale_by_behaviour(first), True


def _ahead(pieces: Iterator[Raw]) -> Iterator[Raw]:
    """Read the next piece while the one before is worked on."""
    with ThreadPoolExecutor(max_workers=1, thread_name_prefix="drive") as pool:
        waiting = pool.submit(next, pieces, None)
        while (piece := waiting.result()) is not None:
            waiting = pool.submit(next, pieces, None)
            yield piece
