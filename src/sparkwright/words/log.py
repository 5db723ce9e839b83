"""What became of a log's lines, cells and times while it was read, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer


def _count(count: float, one: str, many: str) -> str:
    return f"{count:,.0f} {one if count == 1 else many}"


def time_words(seconds: float | None) -> str:
    """Say a time in hours, minutes or seconds.

    Parameters
    ----------
    seconds : float or None
        The time [s]; None where it isn't known.

    Examples
    --------
    >>> time_words(7384.0), time_words(92.0), time_words(4.25), time_words(None)
    ('2 h 3 min', '1 min 32 s', '4.25 s', 'not determined')
    """
    if seconds is None or seconds != seconds:
        return "not determined"
    if seconds < 60:
        return f"{seconds:.3g} s" if seconds < 10 else f"{seconds:.0f} s"
    minutes, rest = divmod(int(seconds), 60)
    if minutes < 60:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def clock_words(seconds: float) -> str:
    """Say how long after a drive's start something was, as a clock shows it.

    Parameters
    ----------
    seconds : float
        The time from the first row [s].

    Examples
    --------
    >>> clock_words(751.9), clock_words(7384.0)
    ('12:31', '2:03:04')
    """
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _cut_off(
    _: System, *, file: str, rows: int, line: int | None, last_s: float, zeros: bool, record: bool
) -> Said:
    part = "in zeros" if zeros else "in a record" if record else "in a line"
    where = part if line is None else f"in line {line:,}"
    at = "" if last_s != last_s else f", {time_words(last_s)} after its start"
    return f"{file} breaks off {where}{at}; all {_count(rows, 'row', 'rows')} before it are used.", ""


def _lines_before(_: System, *, file: str, count: int) -> Said:
    return f"{file}: {_count(count, 'line', 'lines')} before the names of the columns left out.", ""


def _heads_again(_: System, *, file: str, count: int) -> Said:
    return (
        f"{file}: the line of names comes again {_count(count, 'time', 'times')}, and was left out there.",
        "",
    )


def _no_rows(_: System, *, file: str, count: int) -> Said:
    return f"{file}: {_count(count, 'line that holds', 'lines that hold')} no number left out.", ""


def _encoding_guessed(_: System, *, file: str, encoding: str) -> Said:
    return f"{file}: its letters were read as {encoding}, which is a guess.", ""


def _decimal_comma(_: System, *, file: str) -> Said:
    return f"{file}: a comma stands before its decimals.", ""


def _texts_left_out(_: System, *, file: str, columns: tuple[str, ...]) -> Said:
    return f"{file}: {_count(len(columns), 'column', 'columns')} of words left out: {', '.join(columns)}.", ""


def _unreadable(_: System, *, file: str, column: str, count: int, example: str) -> Said:
    cells = _count(count, "cell is no number", "cells are no numbers")
    return f"{file}, {column}: {cells} and left out, the first {example}.", ""


def _no_time(_: System, *, file: str, rows_a_second: float | None) -> Said:
    if rows_a_second is not None:
        return f"{file} has no column of time; {rows_a_second:g} rows a second were said.", ""
    return (
        f"{file} has no column of time, so that nothing that hangs on time can be told.",
        'Name it with --channel "time_s=COLUMN", or say how many rows a second there are with --rate.',
    )


def _time_unit_guessed(_: System, *, file: str, column: str, scale_s: float) -> Said:
    unit = {1.0: "seconds", 1e-3: "milliseconds", 1e-6: "microseconds"}.get(scale_s, f"{scale_s:g} s")
    return f"{file}, {column}: counts in {unit}, by how it grows.", ""


def _turned_over(_: System, *, file: str, count: int) -> Said:
    return f"{file}: its clock turns over {_count(count, 'time', 'times')}; time runs on there.", ""


def _jumped_back(_: System, *, file: str, count: int) -> Said:
    return (
        f"{file}: its time goes back {_count(count, 'time', 'times')}; it goes on by one step there.",
        "Look whether several drives stand in one file.",
    )


def _gaps(_: System, *, file: str, count: int, seconds: float) -> Said:
    return f"{file}: {_count(count, 'pause', 'pauses')} without rows, {time_words(seconds)} in all.", ""


def _blank(_: System, *, file: str, column: str) -> Said:
    return f"{file}, {column}: holds nothing, and was left out.", ""


def _guessed(
    _: System, *, file: str, column: str, quantity: str, called: str, confidence: float, unit: str
) -> Said:
    how = f"{called} in {unit}" if unit else called
    return (
        f"{file}, {column}: taken for {how}, {100 * confidence:.0f} % sure.",
        f'Name another with --channel "{quantity}=COLUMN", or its unit with --unit "{column}=UNIT".',
    )


def _converted(_: System, *, file: str, column: str, from_unit: str, into_unit: str, count: int) -> Said:
    return (
        f"{file}, {column}: {_count(count, 'value', 'values')} turned from {from_unit} into {into_unit}.",
        "",
    )


def _beyond_sense(
    _: System, *, file: str, column: str, count: int, low: float, high: float, unit: str
) -> Said:
    span = f"{low:g} to {high:g} {unit}".strip()
    values = _count(count, "value", "values")
    return f"{file}, {column}: {values} outside {span} left out; look at sensor and wire.", ""


def _frozen(_: System, *, file: str, column: str, count: int, value: float) -> Said:
    return f"{file}, {column}: reads {value:g} in all {_count(count, 'row', 'rows')}; it may be frozen.", ""


def _carried(_: System, *, file: str, column: str, count: int) -> Said:
    rows = _count(count, "row", "rows")
    return (
        f"{file}, {column}: asked for in turn with others; {rows} without it stand where it was last, 3 s at "
        "the most.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "log.cut-off": _cut_off,
    "log.lines-before": _lines_before,
    "log.heads-again": _heads_again,
    "log.no-rows": _no_rows,
    "log.encoding-guessed": _encoding_guessed,
    "log.decimal-comma": _decimal_comma,
    "log.texts-left-out": _texts_left_out,
    "log.unreadable": _unreadable,
    "log.no-time": _no_time,
    "log.time-unit-guessed": _time_unit_guessed,
    "log.clock-turned-over": _turned_over,
    "log.clock-jumped-back": _jumped_back,
    "log.gaps": _gaps,
    "log.blank": _blank,
    "log.guessed": _guessed,
    "log.converted": _converted,
    "log.beyond-sense": _beyond_sense,
    "log.frozen": _frozen,
    "log.carried": _carried,
}
