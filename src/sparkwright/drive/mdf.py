"""Drives in ASAM MDF 4, the open standard of measured data."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from traceback import clear_frames
from typing import Any

import numpy as np

from sparkwright.drive.mapped import Column
from sparkwright.drive.sources import Raw, Source, as_floats, needed
from sparkwright.errors import Refusal

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


class MdfSource(Source):
    """An MDF file: the channels of all its groups, on the times of the fastest one.

    What was measured more seldom stands at its own times only, and is nothing between them.
    """

    kind = "MDF"
    timed_in_s = True

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.name = path.name
        asammdf = needed("asammdf", "mdf", path.name)
        torn = ""
        with _half_made_files_let_go():
            try:
                self._file: Any = asammdf.MDF(path)
                version = str(self._file.version)
                groups = [self._channels(group) for group in range(len(self._file.groups))]
            except Exception as problem:
                # The library raises whatever the torn bytes make of it.
                torn = type(problem).__name__
                clear_frames(problem.__traceback__)
        if torn:
            raise Refusal.at(
                "drive",
                path.name,
                "can't be read as MDF",
                "it may be cut off; have the logger write it again",
            )
        if not version.startswith("4"):
            raise Refusal.at(
                "drive", path.name, f"must be MDF 4, and is {version}", "convert it, or write it as CSV"
            )
        self._groups = [each for each in groups if each[1]]
        if not self._groups:
            raise Refusal.at("drive", path.name, "must hold channels of numbers")
        self._times = self._all_times()
        self.columns = (
            Column(TIME, "s", self._times[:FIRST_ROWS]),
            *(
                Column(name, unit, as_floats(values[:FIRST_ROWS]))
                for _, channels in self._groups
                for name, unit, values in channels
            ),
        )
        self._file.close()

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day."""
        return frozenset((TIME,))

    def _channels(self, group: int) -> tuple[Any, list[tuple[str, str, Any]]]:
        """Give the times of a group, and name, unit and values of its channels of numbers."""
        master = np.asarray(self._file.get_master(group), dtype=float)
        found = []
        for place, channel in enumerate(self._file.groups[group].channels):
            if place == self._file.masters_db.get(group):
                continue
            signal = self._file.get(group=group, index=place)
            values = np.asarray(signal.samples)
            if values.ndim == 1 and values.dtype.kind in "iufb" and values.size == master.size:
                found.append((str(channel.name), str(signal.unit or ""), values))
        return master, found

    def _all_times(self) -> Any:
        times = [master for master, _ in self._groups]
        return times[0] if len(times) == 1 else np.unique(np.concatenate(times))

    def pieces(self) -> Iterator[Raw]:
        """Give all rows, a piece at a time, in their order."""
        for at in range(0, self._times.size, PIECE_ROWS):
            times = self._times[at : at + PIECE_ROWS]
            columns = {TIME: times}
            for master, channels in self._groups:
                low, high = np.searchsorted(master, (times[0], times[-1]), side="left")
                high = min(int(high) + 1, master.size)
                places = np.searchsorted(times, master[low:high])
                inside = places < times.size
                for name, _, values in channels:
                    full = np.full(times.size, np.nan)
                    full[places[inside]] = as_floats(values[low:high][inside])
                    columns[name] = full
            yield Raw(columns, min((at + PIECE_ROWS) / self._times.size, 1.0))
