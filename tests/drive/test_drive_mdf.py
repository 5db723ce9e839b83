"""MDF 4 a piece at a time, and what is left of a file that breaks off."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest

from invented_drives import PUMP_HOUSE, Columns
from sparkwright.drive import mdf
from sparkwright.drive.drives import drive_of
from sparkwright.drive.mdf import MdfSource
from sparkwright.drive.result import DriveResult
from sparkwright.errors import Refusal
from sparkwright.words.told import told

ROWS, RECORD = 6000, 24
"""Rows of the file, and the bytes of one: time, speed and load as floats of 8 bytes."""


def columns() -> Columns:
    time_s = np.arange(ROWS, dtype=float) * 0.05
    return {"time": time_s, "rpm": 2000.0 + 900.0 * np.sin(time_s), "map": 55.0 + 20.0 * np.cos(time_s)}


def library_file(path: Path, compression: Literal[0, 2] = 0, slow: bool = False) -> Path:
    """A file as another library writes it: what describes the channels stands after the data."""
    from asammdf import MDF, Signal

    written = columns()
    units = {"rpm": "rpm", "map": "kPa"}
    file = MDF(version="4.10")
    file.append(
        [Signal(written[name], written["time"], name=name, unit=unit) for name, unit in units.items()]
    )
    if slow:
        times = written["time"][::20]
        file.append([Signal(80.0 + 0.01 * times, times, name="coolant", unit="degC")])
    file.save(path, compression=compression)
    file.close()
    return path


def logger_file(path: Path) -> bytes:
    """The same as a logger writes it: the records, moved to the end, with the group's link to them."""
    content = bytearray(library_file(path).read_bytes())
    group = content.index(b"##DG")
    (records,) = struct.unpack_from("<Q", content, group + 40)
    (length,) = struct.unpack_from("<Q", content, records + 8)
    assert length == 24 + ROWS * RECORD
    content += bytes(-len(content) % 8)
    struct.pack_into("<Q", content, group + 40, len(content))
    return bytes(content) + bytes(content[records : records + length])


def drive(path: Path) -> DriveResult:
    return drive_of(PUMP_HOUSE, [path])


@pytest.mark.parametrize("compression", [0, 2], ids=["plain", "packed"])
def test_pieces_hold_every_value_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, compression: Literal[0, 2]
) -> None:
    """Pieces that don't divide the rows evenly, with a second group of another rate."""
    monkeypatch.setattr(mdf, "PIECE_ROWS", 701)
    source = MdfSource(library_file(tmp_path / "drive.mf4", compression, slow=True))
    pieces = list(source.pieces())
    assert max(each.columns["time"].size for each in pieces) == 701
    assert pieces[-1].share_done == 1.0
    for name, wanted in columns().items():
        found = np.concatenate([each.columns[name] for each in pieces])
        np.testing.assert_array_equal(found, wanted)
    coolant = np.concatenate([each.columns["coolant"] for each in pieces])
    assert np.flatnonzero(np.isfinite(coolant)).tolist() == list(range(0, ROWS, 20))


def test_only_a_piece_of_the_values_is_asked_of_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from asammdf import MDF

    asked: list[int] = []
    select = MDF.select
    monkeypatch.setattr(mdf, "PIECE_ROWS", 1000)

    def counted(*given: Any, **more: Any) -> Any:
        asked.append(more["record_count"])
        return select(*given, **more)

    monkeypatch.setattr(MDF, "select", counted)
    assert drive(library_file(tmp_path / "drive.mf4")).rows == ROWS
    assert asked == [1000] * 6


@pytest.mark.parametrize("lost", [1, 1000, 100_000])
def test_a_torn_file_gives_all_records_that_it_has_and_says_where_it_ends(tmp_path: Path, lost: int) -> None:
    (tmp_path / "torn.mf4").write_bytes(logger_file(tmp_path / "whole.mf4")[:-lost])
    kept = ROWS - -(-lost // RECORD)
    result = drive(tmp_path / "torn.mf4")
    assert result.rows == kept
    assert result.files[0].cut_off
    assert result.files[0].seconds == pytest.approx((kept - 1) * 0.05)
    (note,) = [each for each in result.read if each.kind == "log.cut-off"]
    said = str(told(note).sentence)
    assert said.startswith("torn.mf4 breaks off in a record, ")
    assert said.endswith(f" after its start; all {kept:,} rows before it are used.")
    before = (tmp_path / "torn.mf4").stat().st_size
    assert before == len(logger_file(tmp_path / "whole.mf4")) - lost, "the file itself stays as it is"


def test_a_whole_file_of_a_logger_says_nothing_of_an_end(tmp_path: Path) -> None:
    (tmp_path / "whole.mf4").write_bytes(logger_file(tmp_path / "library.mf4"))
    result = drive(tmp_path / "whole.mf4")
    assert (result.rows, result.files[0].cut_off) == (ROWS, False)


def test_a_file_without_what_describes_its_channels_is_refused(tmp_path: Path) -> None:
    content = library_file(tmp_path / "whole.mf4").read_bytes()
    (tmp_path / "torn.mf4").write_bytes(content[: len(content) // 2])
    with pytest.raises(Refusal, match="may be cut off before what describes its channels"):
        drive(tmp_path / "torn.mf4")
