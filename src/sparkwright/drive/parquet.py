"""Drives in Parquet, an open format of columns."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sparkwright.drive.clock import seconds_of_texts
from sparkwright.drive.mapped import Column
from sparkwright.drive.sources import Raw, Source, as_floats, needed
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray

if TYPE_CHECKING:
    import polars

PIECE_ROWS = 250_000
FIRST_ROWS = 2000


class ParquetSource(Source):
    """A Parquet file, some rows at a time."""

    kind = "Parquet"

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.name = path.name
        pl = needed("polars", "drives", path.name)
        try:
            self._frame: polars.LazyFrame = pl.scan_parquet(path, glob=False)
            schema = self._frame.collect_schema()
            self._rows = int(self._frame.select(pl.len()).collect().item())
            first = self._frame.head(FIRST_ROWS).collect()
        except (pl.exceptions.PolarsError, OSError) as problem:
            raise Refusal.at(
                "drive",
                path.name,
                "can't be read as Parquet",
                "one that is cut off has lost its index, which stands last; have it written again",
            ) from problem
        if not self._rows:
            raise Refusal.at("drive", path.name, "must have rows")
        self._clocks = {name for name, kind in schema.items() if kind.is_temporal()}
        if not self._clocks:
            self._clocks = {
                name for name, kind in schema.items() if kind == pl.String and _times_in(first[name])
            }
        kept = [name for name, kind in schema.items() if kind.is_numeric() or kind == pl.Boolean]
        self._wanted = [name for name in schema if name in self._clocks or name in kept]
        self.columns = tuple(Column(name, "", self._values(first[name])) for name in self._wanted)
        self.notes.texts = tuple(name for name in schema if name not in self._wanted)
        self.timed_in_s = bool(self._clocks)

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day."""
        return frozenset(self._clocks)

    def pieces(self) -> Iterator[Raw]:
        """Give all rows, a piece at a time, in their order."""
        for at in range(0, self._rows, PIECE_ROWS):
            frame = self._frame.select(self._wanted).slice(at, PIECE_ROWS).collect()
            columns = {name: self._values(frame[name]) for name in self._wanted}
            yield Raw(columns, min((at + PIECE_ROWS) / self._rows, 1.0))

    def _values(self, series: polars.Series) -> FloatArray:
        if series.name not in self._clocks:
            return as_floats(series.cast(float).to_numpy())
        if series.dtype.is_temporal():
            return _seconds(series)
        return seconds_of_texts(series.to_list())


def _seconds(series: polars.Series) -> FloatArray:
    kind = str(series.dtype)
    per_second = 1e9 if kind == "Time" or "ns" in kind else 1e3 if "ms" in kind else 1e6
    if kind == "Date":
        per_second = 1.0 / 86400.0
    return as_floats(series.to_physical().cast(float).to_numpy()) / per_second


def _times_in(series: polars.Series) -> bool:
    values = seconds_of_texts(series.head(50).to_list())
    return bool(values.size) and bool((values == values).mean() > 0.5)
