"""Drives in ASAM MDF 4, the open standard of measured data."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from traceback import clear_frames
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.mapped import Column
from sparkwright.drive.mdf_torn import mended_copy
from sparkwright.drive.sources import Raw, Source, as_floats, needed
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

FIRST_ROWS = 2000
PIECE_ROWS = 250_000
TIME = "time"


@contextmanager
def _half_made_files_let_go() -> Iterator[None]:
    """Keep quiet while the library lets go of files that it couldn't open, which it does with an error."""
    before = sys.unraisablehook
    sys.unraisablehook = lambda about: None
    try:
        yield
        gc.collect()
    finally:
        sys.unraisablehook = before


@dataclass(frozen=True, eq=False)
class _Group:
    """Channels of numbers that were taken at the same times: their places in the file, and the times [s]."""

    number: int
    places: tuple[int, ...]
    columns: tuple[Column, ...]
    times: FloatArray


class MdfSource(Source):
    """An MDF file: the channels of all its groups, on the times of the fastest one.

    What was measured more seldom stands at its own times only, and is nothing between them. The times are
    held in memory; values are read a piece at a time.
    """

    kind = "MDF"
    timed_in_s = True

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.name, self._path = path.name, path
        needed("asammdf", "mdf", path.name)
        with self._opened() as file:
            version = str(file.version)
            if not version.startswith("4"):
                raise Refusal.at(
                    "drive", path.name, f"must be MDF 4, and is {version}", "convert it, or write it as CSV"
                )
            groups = [_group(file, number) for number in range(len(file.groups))]
        self._groups = [each for each in groups if each.places]
        if not self._groups:
            raise Refusal.at("drive", path.name, "must hold channels of numbers")
        times = [each.times for each in self._groups]
        self._times = times[0] if len(times) == 1 else np.unique(np.concatenate(times))
        self.columns = (
            Column(TIME, "s", self._times[:FIRST_ROWS]),
            *(column for each in self._groups for column in each.columns),
        )

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day."""
        return frozenset((TIME,))

    @contextmanager
    def _opened(self) -> Iterator[Any]:
        """Open the file, or what is left of one that breaks off; refuse what the library can't read."""
        asammdf = needed("asammdf", "mdf", self.name)
        copy = mended_copy(self._path)
        if copy is not None:
            self.notes.cut_off = "record"
        file: Any = None
        torn = False
        try:
            with _half_made_files_let_go():
                try:
                    file = asammdf.MDF(self._path if copy is None else copy)
                except Exception as problem:
                    # The library raises whatever the torn bytes make of it.
                    torn = True
                    clear_frames(problem.__traceback__)
            if torn:
                raise self._refusal()
            try:
                yield file
            except Refusal:
                raise
            except Exception as problem:
                clear_frames(problem.__traceback__)
                raise self._refusal() from None
        finally:
            if file is not None:
                file.close()
            if copy is not None:
                copy.close()

    def _refusal(self) -> Refusal:
        return Refusal.at(
            "drive",
            self.name,
            "can't be read as MDF",
            "it may be cut off before what describes its channels; have the logger write it again",
        )

    def pieces(self) -> Iterator[Raw]:
        """Give all rows, a piece at a time, in their order."""
        with self._opened() as file:
            for at in range(0, self._times.size, PIECE_ROWS):
                times = self._times[at : at + PIECE_ROWS]
                columns = {TIME: times.copy()}
                for group in self._groups:
                    alone = len(self._groups) == 1
                    low = at if alone else int(np.searchsorted(group.times, times[0]))
                    high = at + times.size if alone else int(np.searchsorted(group.times, times[-1], "right"))
                    rows = np.arange(times.size) if alone else np.searchsorted(times, group.times[low:high])
                    columns |= _values(file, group, slice(low, high), times.size, rows)
                yield Raw(columns, min((at + PIECE_ROWS) / self._times.size, 1.0))


def _group(file: Any, number: int) -> _Group:
    """Find a group's times and its channels of numbers, by their first rows."""
    times = np.asarray(file.get_master(number), dtype=float)
    places, columns = [], []
    first = min(FIRST_ROWS, times.size)
    for place, channel in enumerate(file.groups[number].channels):
        if place == file.masters_db.get(number):
            continue
        signal = file.get(group=number, index=place, record_offset=0, record_count=max(first, 1))
        values = np.asarray(signal.samples)
        if values.ndim == 1 and values.dtype.kind in "iufb" and values.size == first:
            places.append(place)
            columns.append(Column(str(channel.name), str(signal.unit or ""), as_floats(values)))
    return _Group(number, tuple(places), tuple(columns), times)


def _values(
    file: Any, group: _Group, records: slice, count: int, rows: NDArray[np.int64]
) -> dict[str, FloatArray]:
    """Read some records of a group into so many rows, each record into its row; nan where there is none."""
    found = {column.name: np.full(count, np.nan) for column in group.columns}
    if records.stop > records.start:
        wanted = [(None, group.number, place) for place in group.places]
        signals = file.select(
            wanted, record_offset=records.start, record_count=records.stop - records.start, copy_master=False
        )
        for column, signal in zip(group.columns, signals, strict=True):
            found[column.name][rows] = as_floats(signal.samples)
    return found
