"""What was dropped, guessed and converted while a file was read, as findings with their counts."""

from __future__ import annotations

from collections.abc import Iterator

from sparkwright.drive.mapped import LIKELY, Mapped
from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.reader import FileReader
from sparkwright.findings import Finding, Value

MAY_STAND = (
    "knock_retard_deg",
    "knock_mark",
    "sync_losses",
    "idle_correction_deg",
    "trim_deg",
    "dwell_asked_ms",
    "barometer_kpa",
)
"""Quantities that read the same for a whole drive without being frozen."""


def read_notes(reader: FileReader) -> Iterator[Finding]:
    """Tell what became of a file's lines, cells and times, and what its columns were taken for.

    Parameters
    ----------
    reader : FileReader
        Reader of a file that was read to its end, with what it counted on the way.
    """
    yield from _lines(reader)
    yield from _times(reader)
    for each in reader.mapped:
        yield from _column(reader, each)


def _lines(reader: FileReader) -> Iterator[Finding]:
    notes = reader.source.notes
    file: dict[str, Value] = {"file": reader.source.name}
    if notes.cut_off:
        line = notes.cut_at_line or None
        last_s = reader.last_s
        ends: dict[str, Value] = {
            "rows": reader.rows,
            "line": line,
            "last_s": last_s,
            "zeros": notes.cut_off == "zeros",
            "record": notes.cut_off == "record",
        }
        yield Finding("log.cut-off", "look", file | ends)
    for kind, count in (
        ("log.lines-before", notes.lines_before),
        ("log.heads-again", notes.heads_again),
        ("log.no-rows", notes.no_rows),
    ):
        if count:
            yield Finding(kind, "good", file | {"count": count})
    if notes.encoding_guessed:
        yield Finding("log.encoding-guessed", "good", file | {"encoding": notes.encoding_guessed})
    if notes.decimal_comma:
        yield Finding("log.decimal-comma", "good", file)
    if notes.texts:
        yield Finding("log.texts-left-out", "good", file | {"columns": notes.texts})
    for column, count in notes.unreadable.items():
        example = notes.examples.get(column, "")
        yield Finding("log.unreadable", "look", file | {"column": column, "count": count, "example": example})


def _times(reader: FileReader) -> Iterator[Finding]:
    clock = reader.clock
    file: dict[str, Value] = {"file": reader.source.name}
    if not reader.time_column:
        yield Finding("log.no-time", "look", file | {"rows_a_second": reader.rows_a_second})
    elif reader.time_guessed:
        yield Finding(
            "log.time-unit-guessed",
            "good",
            file | {"column": reader.time_column, "scale_s": reader.time_scale},
        )
    if clock.wrapped:
        yield Finding("log.clock-turned-over", "good", file | {"count": clock.wrapped})
    if clock.jumped_back:
        yield Finding("log.clock-jumped-back", "look", file | {"count": clock.jumped_back})
    if clock.gaps:
        yield Finding("log.gaps", "good", file | {"count": clock.gaps, "seconds": clock.gap_s})


def _column(reader: FileReader, each: Mapped) -> Iterator[Finding]:
    file: dict[str, Value] = {"file": reader.source.name, "column": each.column}
    if each.column == reader.time_column:
        return
    seen = reader.seen.get(each.column)
    if seen is None or not seen.there + seen.dropped:
        yield Finding("log.blank", "good", file)
        return
    known = BY_NAME.get(each.quantity)
    if known is not None and (each.confidence <= LIKELY or "unit guessed" in each.why):
        guess: dict[str, Value] = {
            "quantity": each.quantity,
            "called": known.called,
            "confidence": each.confidence,
        }
        yield Finding("log.guessed", "look", file | guess | {"unit": each.unit or known.unit})
    if known is not None and (each.scale, each.offset) != (1.0, 0.0):
        into: dict[str, Value] = {"from_unit": each.unit, "into_unit": known.unit, "count": seen.there}
        yield Finding("log.converted", "good", file | into)
    if seen.dropped and known is not None:
        span: dict[str, Value] = {"low": known.low, "high": known.high, "unit": known.unit}
        yield Finding("log.beyond-sense", "look", file | {"count": seen.dropped} | span)
    if seen.there > 1 and seen.lowest == seen.highest and each.quantity not in MAY_STAND:
        yield Finding("log.frozen", "look", file | {"count": seen.there, "value": seen.lowest})
    if reader.carried.get(each.column):
        yield Finding("log.carried", "good", file | {"count": reader.carried[each.column]})
