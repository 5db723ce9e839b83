"""Broken files: each gives what it has with a note, or a sentence that says what to do; none a traceback."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from invented_drives import EXAMPLES, PUMP_HOUSE, Written, short_drive
from sparkwright.cli import main
from sparkwright.drive.asked import asked_of
from sparkwright.drive.drives import drive_of
from sparkwright.errors import Refusal
from sparkwright.words.told import told

JOB = EXAMPLES / "pump-house-v8.toml"
GOOD = Written().bytes(short_drive(60))
LINES = GOOD.decode().splitlines(keepends=True)


def parquet(columns: dict[str, object]) -> bytes:
    file = io.BytesIO()
    pl.DataFrame(columns).write_parquet(file)
    return file.getvalue()


def mdf(tmp_path: Path) -> bytes:
    from asammdf import MDF, Signal

    columns = short_drive(200)
    file = MDF(version="4.10")
    file.append([Signal(columns[name], columns["time"], name=name, unit="") for name in ("rpm", "map")])
    file.save(tmp_path / "whole.mf4")
    file.close()
    return (tmp_path / "whole.mf4").read_bytes()


def with_line(at: int, line: str) -> bytes:
    return "".join([*LINES[:at], line + "\n", *LINES[at:]]).encode()


def with_cell(column: int, text: str, rows: slice = slice(10, 11)) -> bytes:
    lines = [line.rstrip("\n").split(",") for line in LINES]
    for row in lines[1:][rows]:
        row[column] = text
    return "\n".join(map(",".join, lines)).encode() + b"\n"


def headed(head: str) -> bytes:
    return "".join([head + "\n", *LINES[1:]]).encode()


REFUSED: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "must not be empty"),
    "blanks": (b" \n\n \r\n\t", "must not be empty"),
    "zeros": (b"\0" * 4000, "must not be empty"),
    "one word": (b"hello\n", "must have rows of numbers"),
    "prose": (b"It was a fine day.\nWe drove to the lake.\n", "must have rows of numbers"),
    "a page of the web": (b"<!DOCTYPE html><html><body>404</body></html>", "must have rows of numbers"),
    "JSON": (b'{"rpm": "none", "map": "none"}', "must have rows of numbers"),
    "names alone": (LINES[0].encode(), "must have rows of numbers"),
    "names and units alone": (b"time,rpm,map\ns,rpm,kPa\n", "must have rows of numbers"),
    "one column": (b"rpm\n800\n810\n820\n", "must have two columns or more"),
    "columns parted by blanks": (b"rpm map\n800 40\n810 41\n", "must have rows of numbers"),
    "columns parted by bars": (b"rpm|map\n800|40\n810|41\n", "must have rows of numbers"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\x08\x02\x03\x04\x05", "must be a log as text"),
    "a program": (b"\x7fELF\x02\x01\x01" + bytes(range(1, 32)) * 20, "must be a log as text"),
    "a PDF": (b"%PDF-1.7\n" + bytes(range(1, 9)) * 200, "must be a log as text"),
    "noise": (
        np.random.default_rng(1).integers(0, 256, 4000, dtype=np.uint8).tobytes(),
        "must be a log as text",
    ),
    "packed with gzip": (b"\x1f\x8b\x08\0" + b"x" * 50, "must be unpacked first: it is packed with gzip"),
    "packed with zip": (b"PK\x03\x04" + b"x" * 50, "must be unpacked first: it is packed with zip"),
    "packed with 7z": (b"7z\xbc\xaf\x27\x1c" + b"x" * 50, "must be unpacked first: it is packed with 7z"),
    "packed with bzip2": (b"BZh91AY" + b"x" * 50, "must be unpacked first: it is packed with bzip2"),
    "packed with xz": (b"\xfd7zXZ\0" + b"x" * 50, "must be unpacked first: it is packed with xz"),
    "Parquet's name alone": (b"PAR1", "can't be read as Parquet"),
    "MDF's name alone": (b"MDF     4.10    ", "can't be read as MDF"),
    "MDF of zeros": (b"MDF     4.10    " + b"\0" * 4000, "can't be read as MDF"),
    "unfinished MDF": (b"UnFinMF 4.10    " + b"\0" * 200, "can't be read as MDF"),
    "no speed": (headed("time,a,map,advance,coolant"), "must have a column of engine speed;"),
    "no load": (headed("time,rpm,b,advance,coolant"), "must have a column of manifold pressure;"),
    "names that say nothing": (
        headed("a,b,c,d,e"),
        "must have a column of engine speed and manifold pressure;",
    ),
    "a load in percent": (
        headed("time,rpm,engine load (%),advance,coolant"),
        "must have a column of manifold",
    ),
    "a speed in words": (with_cell(1, "fast", slice(None)), "must have a column of engine speed;"),
    "a thousand and one columns": (
        (",".join(f"c{k}" for k in range(1001)) + "\n" + (",".join("1" * 1001) + "\n") * 5).encode(),
        "must have at most 1000 columns",
    ),
    "Parquet without rows": (parquet({"rpm": pl.Series([], dtype=pl.Float64)}), "must have rows"),
    "Parquet without load": (parquet({"rpm": [800.0, 900.0]}), "must have a column of manifold pressure;"),
    "Parquet of words": (
        parquet({"rpm": ["a", "b"], "map": ["c", "d"]}),
        "must have a column of engine speed",
    ),
    "Parquet cut off": (parquet(dict(short_drive(500)))[:-40], "can't be read as Parquet"),
}
"""Files that can't be used: what is said of each."""

READ: dict[str, tuple[bytes, int, str]] = {
    "cut in a number": (GOOD[:-20], 59, "log.cut-off"),
    "cut after a comma": (GOOD[: GOOD.rfind(b",") + 1], 59, "log.cut-off"),
    "cut in the first column": (GOOD + b"9", 60, "log.cut-off"),
    "zeros at the end": (GOOD + b"\0" * 100, 60, "log.cut-off"),
    "zeros in the middle": (GOOD[:600] + b"\0" * 50 + GOOD[600:], GOOD[:600].count(b"\n") - 1, "log.cut-off"),
    "no end of the last line": (GOOD.rstrip(b"\n"), 60, ""),
    "blank lines": (GOOD.replace(b"\n", b"\n\n"), 60, ""),
    "lines of separators": (with_line(5, ",,,,"), 60, ""),
    "a line of words": (with_line(5, "logger paused by driver"), 60, "log.no-rows"),
    "a line of marks": (with_line(5, "#####"), 60, "log.no-rows"),
    "names again": (with_line(30, LINES[0].strip()), 60, "log.heads-again"),
    "names again, twice": (GOOD + GOOD, 120, "log.heads-again"),
    "a short line": (with_line(5, "0.45,900"), 61, ""),
    "a long line": (with_line(5, "0.45,900,40,20,80,1,2,3,4,5,6,7"), 61, ""),
    "a word for a number": (with_cell(3, "fault"), 60, "log.unreadable"),
    "a question mark": (with_cell(3, "?"), 60, "log.unreadable"),
    "two points": (with_cell(3, "1.2.3"), 60, "log.unreadable"),
    "a cell of a date": (with_cell(3, "1. May"), 60, "log.unreadable"),
    "error of a table": (with_cell(3, "#DIV/0!"), 60, "log.unreadable"),
    "letters in speed": (with_cell(1, "8OO"), 60, "log.unreadable"),
    "a very long cell": (with_cell(3, "x" * 50_000), 60, "log.unreadable"),
    "a cell with its unit": (with_cell(3, "12.5 deg"), 60, ""),
    "not a number": (with_cell(3, "NaN"), 60, ""),
    "no value": (with_cell(3, "n/a"), 60, ""),
    "null": (with_cell(3, "null"), 60, ""),
    "a dash": (with_cell(3, "-"), 60, ""),
    "without end": (with_cell(3, "inf"), 60, ""),
    "a huge number": (with_cell(3, "1e300"), 60, "log.beyond-sense"),
    "a number past all": (with_cell(3, "1e999"), 60, ""),
    "speed of a lost tooth": (with_cell(1, "65535"), 60, "log.beyond-sense"),
    "speed below nought": (with_cell(1, "-3"), 60, "log.beyond-sense"),
    "coolant of a broken wire": (with_cell(4, "-273"), 60, "log.beyond-sense"),
    "a blank channel": (with_cell(3, "", slice(None)), 60, "log.blank"),
    "a frozen channel": (with_cell(3, "12", slice(None)), 60, "log.frozen"),
    "a channel of words": (with_cell(3, "open", slice(None)), 60, "log.texts-left-out"),
    "an open quotation mark": (with_cell(3, '"12'), 60, ""),
    "quotation marks all over": (GOOD.replace(b",", b'","').replace(b"\n", b'"\n"')[:-1], 60, ""),
    "a mark in the middle of a name": (headed('time,rpm,map,adv"ance,coolant'), 60, ""),
    "two columns of a name": (headed("time,rpm,map,advance,advance"), 60, ""),
    "a name left out": (headed("time,rpm,map,,coolant"), 60, ""),
    "more names than columns": (headed("time,rpm,map,advance,coolant,one,two"), 60, ""),
    "fewer names than columns": (headed("time,rpm,map"), 60, ""),
    "no names of time": (headed("x y,rpm,map,advance,coolant"), 60, "log.no-time"),
    "time that stands": (with_cell(0, "1.0", slice(None)), 60, ""),
    "time that falls": (
        b"".join([LINES[0].encode(), *(each.encode() for each in LINES[:0:-1])]),
        60,
        "log.clock-jumped-back",
    ),
    "time that jumps back": (with_cell(0, "0.5", slice(30, 31)), 60, "log.clock-jumped-back"),
    "time that jumps ahead": (with_cell(0, "9999", slice(59, 60)), 60, "log.gaps"),
    "time left out here and there": (with_cell(0, "", slice(20, 30)), 60, ""),
    "time in words at a place": (with_cell(0, "noon"), 60, "log.unreadable"),
    "letters of another code": (
        headed("time,rpm,map,Zündung °,coolant")
        .replace("ü".encode(), b"\xfc")
        .replace("°".encode(), b"\xb0"),
        60,
        "log.encoding-guessed",
    ),
    "a torn letter": (headed("time,rpm,map,Z\u00fcnd,coolant").replace("ü".encode(), b"\xc3"), 60, ""),
    "both line ends": (GOOD.replace(b"\n", b"\r\n", 20), 60, ""),
    "a tail of another table": (GOOD + b"\nsummary\nhighest,5200\nlowest,200\n", 62, ""),
    "a thousand lines before": (b"about,this,log\n" * 300 + GOOD, 60, "log.lines-before"),
    "a comment in the middle": (with_line(5, "# gear changed"), 60, "log.no-rows"),
    "UTF-16 cut in a letter": (GOOD.decode().encode("utf-16")[:-1], 59, "log.cut-off"),
    "a decimal comma at a place": (GOOD.replace(b",", b";").replace(b"0.400;", b"0,400;", 1), 60, ""),
    "minus signs of a typesetter": (with_cell(3, "\u22125.0"), 60, "log.unreadable"),
    "a speed of nought throughout": (with_cell(1, "0", slice(None)), 60, "log.frozen"),
    "one row": (b"time,rpm,map\n0,800,40\n", 1, ""),
    "two rows": (b"time,rpm,map\n0,800,40\n1,800,40\n", 2, ""),
    "Parquet of whole numbers": (parquet({"rpm": [800, 900], "map": [40, 41]}), 2, "log.no-time"),
    "Parquet with gaps": (parquet({"time": [0.0, 0.1], "rpm": [800.0, None], "map": [40.0, 41.0]}), 2, ""),
    "Parquet with lists": (parquet({"rpm": [800.0], "map": [40.0], "x": [[1, 2]]}), 1, ""),
}
"""Files that give what they have: how many rows, and what is told of them besides."""


def test_there_are_at_least_eighty_of_them() -> None:
    assert len(REFUSED) + len(READ) >= 80


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_used_is_refused_with_what_to_do(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, says = REFUSED[name]
    (tmp_path / "drive.csv").write_bytes(content)
    kept = JOB.read_bytes()
    assert main(["drive", str(JOB), str(tmp_path / "drive.csv")]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("drive = drive.csv: ")
    assert says in printed.err
    assert "Traceback" not in printed.err
    assert JOB.read_bytes() == kept


@pytest.mark.parametrize("name", READ)
def test_what_can_be_used_is_and_the_rest_is_told(name: str, tmp_path: Path) -> None:
    content, rows, kind = READ[name]
    (tmp_path / "drive.csv").write_bytes(content)
    result = drive_of(PUMP_HOUSE, [tmp_path / "drive.csv"])
    assert result.rows == rows
    kinds = {each.kind for each in result.read}
    assert not kind or kind in kinds, kinds
    for each in (*result.read, *result.findings):
        assert str(told(each).sentence).endswith(".")


def test_a_torn_mdf_file_leaves_no_traceback_on_the_screen(tmp_path: Path) -> None:
    """In a process of its own, since what is let go of late is told on the real error stream."""
    (tmp_path / "drive.mf4").write_bytes(b"MDF     4.10    " + bytes(4000))
    command = [sys.executable, "-m", "sparkwright.cli", "drive", str(JOB), str(tmp_path / "drive.mf4")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 2
    assert done.stderr.startswith("drive = drive.mf4: can't be read as MDF; it may be cut off")
    assert done.stderr.count("\n") == 1


def rows_or_sentence(path: Path) -> int:
    """How many rows a file gives; 0 where it is refused with a sentence that names it."""
    try:
        result = drive_of(PUMP_HOUSE, [path], asked_of())
    except Refusal as refusal:
        if path.name not in str(refusal):
            raise AssertionError("the sentence doesn't name the file") from refusal
        return 0
    return result.rows if result.running_rows <= result.rows else -1


def test_an_mdf_file_that_is_cut_off_is_refused_or_gives_what_it_has(tmp_path: Path) -> None:
    whole = mdf(tmp_path)
    for share in (0.05, 0.3, 0.6, 0.95):
        (tmp_path / "cut.mf4").write_bytes(whole[: int(share * len(whole))])
        assert rows_or_sentence(tmp_path / "cut.mf4") in range(201)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--running", "fast"], '--running = "fast": must be a number of rpm'),
        (["--running", "9000"], "--running = 9000: must be 0 to 5000 rpm"),
        (["--rate", "0"], "--rate = 0: must be 0.01 to 10000"),
        (["--channel", "rpm"], '--channel = "rpm": must be QUANTITY=COLUMN'),
        (["--channel", "boost=map"], '--channel = "boost": must name one of time_s, rpm'),
        (["--channel", "rpm=speed"], "--channel = rpm=speed: must name a column: time, rpm"),
        (["--unit", "map"], '--unit = "map": must be COLUMN=UNIT'),
        (["--unit", "oil=bar"], "--unit = oil=bar: must name a column"),
        (
            ["--channel", "map_kpa=map", "--unit", "map=rpm"],
            "--unit = map=rpm: must be a unit of manifold pressure",
        ),
        (["--derive", "x=sum:a,b"], "must be one of difference, ratio, rate, slip"),
        (["--derive", "x=ratio:rpm"], "must name 2 columns for ratio"),
        (["--derive", "x=ratio:rpm,oil"], '--derive = "oil": must be a column'),
        (["--idle", "much"], '--idle = "much": must be a number'),
    ],
)
def test_options_that_cannot_be_used_are_refused(
    options: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "drive.csv").write_bytes(GOOD)
    assert main(["drive", str(JOB), str(tmp_path / "drive.csv"), *options]) == 2
    assert says in capsys.readouterr().err


def test_a_file_that_is_not_there_and_a_folder_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["drive", str(JOB), str(tmp_path / "none.csv")]) == 2
    assert main(["drive", str(JOB), str(tmp_path)]) == 2
    printed = capsys.readouterr().err
    assert "none.csv: is not there; check the name" in printed
    assert "must be a file; give the file in the folder" in printed


@pytest.mark.parametrize(("module", "extra"), [("polars", "drives"), ("asammdf", "mdf")])
def test_what_is_not_installed_is_named_with_how_to(
    module: str, extra: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, module, None)
    content = GOOD if module == "polars" else b"MDF     4.10    "
    (tmp_path / "drive.x").write_bytes(content)
    with pytest.raises(Refusal) as refusal:
        drive_of(PUMP_HOUSE, [tmp_path / "drive.x"])
    assert f"install it with: pip install 'sparkwright[{extra}]'" in str(refusal.value)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, len(GOOD)), instead=st.binary(max_size=12), gone=st.integers(0, 40))
def test_any_small_damage_ends_in_a_drive_or_a_sentence(
    at: int, instead: bytes, gone: int, tmp_path: Path
) -> None:
    (tmp_path / "drive.csv").write_bytes(GOOD[:at] + instead + GOOD[at + gone :])
    assert rows_or_sentence(tmp_path / "drive.csv") in range(71)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    mark=st.sampled_from([",", ";", "\t"]),
    comma=st.booleans(),
    end=st.sampled_from(["\n", "\r\n"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    trailing=st.booleans(),
    seed=st.integers(0, 1000),
)
def test_what_is_written_in_any_dialect_is_read(
    mark: str, comma: bool, end: str, encoding: str, trailing: bool, seed: int, tmp_path: Path
) -> None:
    columns = short_drive(80, seed)
    decimal = "," if comma else "."
    written = Written(mark=mark, decimal=decimal, end=end, encoding=encoding, trailing=trailing)
    (tmp_path / "drive.csv").write_bytes(written.bytes(columns))
    result = drive_of(PUMP_HOUSE, [tmp_path / "drive.csv"], asked_of())
    assert result.rows == 80
    running = columns["rpm"] > 400
    advance = next(each for each in result.channels if each.name == "advance")
    assert sum(cell.count for cell in advance.cells) == int(running.sum())
    total = sum(cell.count * cell.mean for cell in advance.cells)
    assert total == pytest.approx(float(columns["advance"][running].sum()), rel=1e-9)
