"""Logs as text: rows without end in any dialect, read by a fast parser a piece at a time.

The parser takes what is no number for nothing; who is told how many cells that were counts them apart, in the
pieces that have any.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sparkwright.drive import obd
from sparkwright.drive.clock import DAY_S, seconds_of_texts
from sparkwright.drive.mapped import Column
from sparkwright.drive.sources import Raw, Source, as_floats, needed
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray
from sparkwright.reading.logs import HEAD_BYTES, UNIT_WORDS, LogForm, cells_of, clock, form_of, numeric
from sparkwright.reading.numbers import shown

if TYPE_CHECKING:
    import polars

PIECE_BYTES = 24 << 20
MOST_ANSWERS_BYTES = 256 << 20
"""Longest log of a J1979 logger that is read: a year of driving at a row a second."""
_QUOTED_COMMA = re.compile(rb'"([+-]?\d*),(\d+)"')
_NOTHING = ("", "nan", "null", "none", "n/a", "na", "-", "--")
_SWITCH = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0, "yes": 1.0, "no": 0.0}


def text_source(path: Path) -> Source:
    """Open a log that is text: one of numbers, or of a J1979 logger's bytes.

    Parameters
    ----------
    path : Path
        The log.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    form = form_of(head, path.name)
    if _holds_answers(form):
        return AnswersSource(path, form)
    return TextSource(path, form)


class TextSource(Source):
    """A log of numbers as text."""

    kind = "text"

    def __init__(self, path: Path, form: LogForm) -> None:
        super().__init__()
        self.name, self._path, self._form = path.name, path, form
        self._polars = needed("polars", "drives", path.name)
        columns = list(zip(*(_padded(row, len(form.names)) for row in form.samples), strict=True))
        self._clocks = {place for place, cells in enumerate(columns) if _mostly(cells, clock)}
        self._switches = {
            place
            for place, cells in enumerate(columns)
            if _mostly(cells, lambda cell: cell.lower() in _SWITCH)
        }
        numbers = {place for place, cells in enumerate(columns) if _some_numbers(cells)}
        self._wanted = sorted(numbers | self._clocks | self._switches)
        self.columns = tuple(
            Column(form.names[place], form.units[place], self._numbers(columns[place], place))
            for place in self._wanted
        )
        self.notes.texts = tuple(
            name for place, name in enumerate(form.names) if place not in self._wanted and any(columns[place])
        )
        self.notes.lines_before = form.before
        self.notes.encoding_guessed = form.encoding if form.encoding_guessed else ""
        self.notes.decimal_comma = form.decimal_comma
        self.timed_in_s = bool(self._clocks)
        self._line = form.first_line

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day."""
        return frozenset(self._form.names[place] for place in self._clocks)

    def _numbers(self, cells: tuple[str, ...], place: int) -> FloatArray:
        if place in self._clocks:
            return seconds_of_texts(cells)
        if place in self._switches:
            return np.array([_SWITCH.get(cell.lower(), np.nan) for cell in cells])
        return np.array([_float(cell) for cell in cells])

    def pieces(self) -> Iterator[Raw]:
        """Give all rows, a piece at a time, in their order."""
        size = max(self._path.stat().st_size, 1)
        with self._path.open("rb") as file:
            file.seek(self._form.data_at)
            rest = b""
            while True:
                read = file.read(PIECE_BYTES)
                piece, rest, last = self._whole_lines(rest + read, not read)
                if piece:
                    raw = self._parsed(piece, min(file.tell() / size, 1.0))
                    if raw is not None:
                        yield raw
                if last:
                    return

    def _whole_lines(self, piece: bytes, at_end: bool) -> tuple[bytes, bytes, bool]:
        """Part what was read into whole lines, as UTF-8 with plain ends, and the rest."""
        wide = self._form.encoding.startswith("utf-16")
        end = "\n".encode(self._form.encoding)
        if not wide and (hole := piece.find(b"\0")) >= 0:
            self.notes.cut_off = "zeros"
            piece, at_end = piece[:hole], True
        cut = len(piece) if at_end else _last_end(piece, end, wide)
        lines, rest = piece[:cut], piece[cut:]
        if wide or self._form.encoding != "utf-8":
            lines = lines.decode(self._form.encoding, errors="replace").encode()
        if b"\n" not in lines and b"\r" in lines:
            lines = lines.replace(b"\r", b"\n")
        if at_end and lines and not lines.endswith(b"\n"):
            lines = self._without_torn(lines)
        return lines, rest, at_end

    def _without_torn(self, lines: bytes) -> bytes:
        """Take off a last line that ends before its last column."""
        at = lines.rfind(b"\n") + 1
        cells = cells_of(lines[at:].decode("utf-8", errors="replace"), self._form.dialect)
        width = len(self._form.names)
        if len(cells) > width or (len(cells) == width and (numeric(cells[-1]) or clock(cells[-1]))):
            return lines + b"\n"
        if not any(cells):
            return lines[:at]
        self.notes.cut_off = self.notes.cut_off or "line"
        self.notes.cut_at_line = self._line + lines.count(b"\n")
        return lines[:at]

    def _parsed(self, piece: bytes, share_done: float) -> Raw | None:
        form = self._form
        lines = piece.count(b"\n")
        if form.head and form.head in piece:
            kept = re.sub(rb"(?m)^" + re.escape(form.head) + rb"[ \t\r]*\n", b"", piece)
            again = lines - kept.count(b"\n")
            self.notes.heads_again += again
            piece = kept
        quoted = b'"' in piece
        if quoted and form.decimal_comma and form.dialect.mark == ",":
            piece = _QUOTED_COMMA.sub(rb"\1.\2", piece)
        if quoted and piece.count(b'"') % 2:
            piece, quoted = piece.replace(b'"', b""), False
        if not piece.strip():
            return None
        frame = self._frame(piece, quoted)
        self._line += lines
        numbers = [str(place) for place in self._wanted]
        nothing = frame.null_count().row(0)
        if any(nothing):
            frame = self._mended(frame, piece, quoted, nothing)
        columns = {
            form.names[place]: self._column(frame[name], place)
            for place, name in zip(self._wanted, numbers, strict=True)
        }
        return Raw(columns, share_done)

    def _frame(self, piece: bytes, quoted: bool, as_text: bool = False) -> polars.DataFrame:
        pl, form = self._polars, self._form
        texts = self._clocks | self._switches
        schema = {
            str(place): pl.String if as_text or place in texts or place not in self._wanted else pl.Float64
            for place in range(len(form.names))
        }
        mark = form.dialect.mark
        # With a line of names of its own, later lines may be shorter or longer than it.
        return pl.read_csv(  # type: ignore[no-any-return]
            mark.join(schema).encode() + b"\n" + piece,
            schema=schema,
            columns=self._wanted,
            separator=mark,
            quote_char='"' if quoted else None,
            ignore_errors=not as_text,
            truncate_ragged_lines=True,
            decimal_comma=form.decimal_comma and mark != ",",
            encoding="utf8-lossy" if as_text or texts else "utf8",
        )

    def _mended(
        self, frame: polars.DataFrame, piece: bytes, quoted: bool, nothing: tuple[int, ...]
    ) -> polars.DataFrame:
        """Read again what the parser left out, count what is no number, leave out lines that are no rows."""
        pl = self._polars
        texts = self._frame(piece, quoted, as_text=True)
        cells = texts.select(pl.all().fill_null("").str.strip_chars(' "\t\r'))
        plain = [
            str(place)
            for place, count in zip(self._wanted, nothing, strict=True)
            if count and place not in self._switches | self._clocks
        ]
        for name in plain:
            odd = frame[name].is_null() & ~cells[name].str.to_lowercase().is_in(_NOTHING)
            if odd.any():
                again = [_float(cell) if it else None for cell, it in zip(cells[name], odd, strict=True)]
                frame = frame.with_columns(
                    frame[name].fill_null(pl.Series(again, dtype=pl.Float64)).fill_nan(None)
                )
        empty = self._no_rows(frame)
        blank = cells.select(pl.all_horizontal(pl.all() == "")).to_series()
        self.notes.no_rows += int((empty & ~blank).sum())
        for name in plain:
            odd = frame[name].is_null() & ~cells[name].str.to_lowercase().is_in(_NOTHING) & ~empty
            if odd.any():
                heading = self._form.names[int(name)]
                self.notes.unreadable[heading] += int(odd.sum())
                self.notes.examples.setdefault(heading, shown(cells[name].filter(odd)[0]))
        return frame.filter(~empty)

    def _no_rows(self, frame: polars.DataFrame) -> polars.Series:
        """Say which lines hold no number at all."""
        pl = self._polars
        numbers = [str(place) for place in self._wanted if place not in self._switches | self._clocks]
        found: polars.Series = frame.select(pl.all_horizontal(pl.col(numbers).is_null())).to_series()
        return found

    def _column(self, series: polars.Series, place: int) -> FloatArray:
        if place in self._clocks:
            return _times(series)
        if place in self._switches:
            return as_floats([_SWITCH.get((each or "").strip().lower(), np.nan) for each in series.to_list()])
        return as_floats(series.to_numpy())


class AnswersSource(Source):
    """A log of J1979 answers as the bytes that came: one a row, or a column for each identifier."""

    kind = "J1979"

    def __init__(self, path: Path, form: LogForm) -> None:
        super().__init__()
        self.name = path.name
        size = path.stat().st_size
        if size > MOST_ANSWERS_BYTES:
            raise Refusal.at(
                "drive", path.name, f"must be at most {MOST_ANSWERS_BYTES:,} bytes of J1979 answers"
            )
        content = path.read_bytes()[form.data_at :]
        text = content.decode(form.encoding, errors="replace")
        if not text.endswith(("\n", "\r")) and "\n" in text:
            head, _, last = text.rpartition("\n")
            if len(cells_of(last, form.dialect)) < len(form.names):
                self.notes.cut_off, text = "line", head
                self.notes.cut_at_line = form.first_line + text.count("\n") + 1
        rows = [
            _padded(cells_of(line, form.dialect), len(form.names))
            for line in re.split(r"\r\n|\n|\r", text)
            if line.strip()
        ]
        self._values = self._decoded(form, rows)
        time_name = next(iter(self._values))
        units = {each.called: each.unit for each in obd.ANSWERS.values()}
        self.columns = tuple(
            Column(name, units.get(name, "s" if name == time_name and self.timed_in_s else ""), values[:2000])
            for name, values in self._values.items()
        )
        self.notes.lines_before = form.before

    @property
    def clock_columns(self) -> frozenset[str]:
        """Columns that hold times of day."""
        return frozenset(list(self._values)[:1]) if self.timed_in_s else frozenset()

    def _decoded(self, form: LogForm, rows: list[tuple[str, ...]]) -> dict[str, FloatArray]:
        by_heading = {
            place: answer for place in range(len(form.names)) if (answer := obd.of_heading(form.names[place]))
        }
        first = next(
            (
                place
                for place in range(len(form.names))
                if _mostly([row[place] for row in rows[:50]], _numeric_or_clock)
            ),
            0,
        )
        times = [row[first] for row in rows]
        self.timed_in_s = _mostly(times[:50], clock)
        found: dict[str, FloatArray] = {form.names[first]: seconds_of_texts(times)}
        for place, row in enumerate(rows):
            for column, cell in enumerate(row):
                if not cell or column == first:
                    continue
                read = obd.reply(cell)
                if read is None and column in by_heading:
                    value = obd.value_of(by_heading[column], cell)
                    read = None if value is None else (by_heading[column], value)
                if read is None:
                    self.notes.unreadable[form.names[column]] += 1
                    self.notes.examples.setdefault(form.names[column], shown(cell))
                    continue
                answer, value = read
                if answer.called not in found:
                    found[answer.called] = np.full(len(rows), np.nan)
                found[answer.called][place] = value
        return found

    def pieces(self) -> Iterator[Raw]:
        """Give all rows in one piece."""
        yield Raw(dict(self._values), 1.0)


def _holds_answers(form: LogForm) -> bool:
    """Whether a column holds J1979 answers, or most headings are identifiers over bytes."""
    for place in range(len(form.names)):
        cells = [row[place] for row in form.samples if place < len(row) and row[place]]
        if cells and sum(obd.reply(cell) is not None for cell in cells) >= 0.5 * len(cells):
            return True
    named = [name for name in form.names if obd.of_heading(name)]
    return len(named) >= max(2, 0.5 * (len(form.names) - 1))


def _numeric_or_clock(cell: str) -> bool:
    return numeric(cell) or clock(cell)


def _padded(row: Sequence[str], width: int) -> tuple[str, ...]:
    return (*row[:width], *("",) * (width - len(row)))


def _mostly(cells: Sequence[str], is_so: Callable[[str], bool]) -> bool:
    filled = [cell for cell in cells if cell and cell.lower() not in _NOTHING]
    return bool(filled) and sum(map(is_so, filled)) > 0.5 * len(filled)


def _some_numbers(cells: tuple[str, ...]) -> bool:
    filled = [cell for cell in cells if cell and cell.lower() not in _NOTHING]
    # What stays empty at first may begin to count later.
    return not filled or sum(_number_like(cell) for cell in filled) > 0.3 * len(filled)


_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(?P<unit>[A-Za-z%°/][A-Za-z%°/0-9]*)")


def _number_like(cell: str) -> bool:
    return numeric(cell) or _number_with_unit(cell) is not None


def _number_with_unit(cell: str) -> re.Match[str] | None:
    match = _WITH_UNIT.fullmatch(cell)
    return match if match and match["unit"].lower() in UNIT_WORDS else None


def _float(cell: str) -> float:
    match = _number_with_unit(cell)
    try:
        value = float((match[1] if match else cell).replace(",", "."))
    except ValueError:
        return float("nan")
    return value if np.isfinite(value) else float("nan")


def _times(series: polars.Series) -> FloatArray:
    """Read a column of times of day: those of the usual form in one go, others one by one."""
    parts = series.str.strip_chars(' "').str.extract_groups(
        r"^(?:(?<date>\d{4}-\d{2}-\d{2})[ T]+)?(?:(?<h>\d{1,3}):)?(?<m>\d{1,3}):(?<s>\d{1,2})"
        r"(?:[.,](?<f>\d+))?(?:Z|[+-]\d{2}:?\d{2})?$"
    )
    part = parts.struct.field
    if part("m").null_count() > 0.01 * len(series):
        return seconds_of_texts(series.to_list())
    seconds = 3600.0 * part("h").cast(float).fill_null(0.0) + 60.0 * part("m").cast(float)
    seconds += part("s").cast(float) + ("0." + part("f").fill_null("0")).cast(float)
    if part("date").null_count() < len(series):
        days = part("date").str.to_date("%Y-%m-%d", strict=False).to_physical().cast(float)
        seconds += DAY_S * (days + date(1970, 1, 1).toordinal())
    return as_floats(seconds.to_numpy())


def _last_end(piece: bytes, end: bytes, wide: bool) -> int:
    """Give where the last whole line ends."""
    at = piece.rfind(end)
    while wide and at >= 0 and at % 2:
        at = piece.rfind(end, 0, at)
    if at < 0 and not wide:
        at = piece.rfind(b"\r")
    return at + len(end) if at >= 0 else 0
