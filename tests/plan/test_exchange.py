"""The map as text: what is written reads back the same, and what can't be read is refused where it stands."""

import json
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import Refusal
from sparkwright.plan.exchange import FORMS, MAP_SCHEMA, Form, load_map, read_map, write_map
from sparkwright.plan.spark_map import SparkMap

SMALL = SparkMap(
    np.array([1000.0, 2000.0, 3500.5]), np.array([40.0, 90.0]), np.array([[20, 30.5, 35], [-2, 20, 28.25]])
)


def axis(low: float, high: float) -> st.SearchStrategy[list[float]]:
    numbers = st.floats(low, high).map(lambda value: round(value, 3))
    return st.lists(numbers, min_size=2, max_size=20, unique=True).map(sorted)


@st.composite
def maps(draw: st.DrawFn) -> SparkMap:
    rpm, kpa = draw(axis(100, 12000)), draw(axis(10, 400))
    cell = st.floats(-20, 60).map(lambda value: round(value, 2))
    row = st.lists(cell, min_size=len(rpm), max_size=len(rpm))
    cells = draw(st.lists(row, min_size=len(kpa), max_size=len(kpa)))
    return SparkMap(np.array(rpm), np.array(kpa), np.array(cells))


@pytest.mark.parametrize("form", FORMS)
@given(spark_map=maps())
def test_what_is_written_reads_back_the_same(form: Form, spark_map: SparkMap) -> None:
    again = read_map(write_map(spark_map, form))
    assert np.array_equal(again.rpm, spark_map.rpm)
    assert np.array_equal(again.kpa, spark_map.kpa)
    assert np.array_equal(again.advance_deg, spark_map.advance_deg)


@pytest.mark.parametrize("form", ["csv", "tsv"])
def test_rows_may_stand_either_way_up(form: Form) -> None:
    turned = write_map(SMALL, form, highest_load_first=True)
    assert turned.splitlines()[1].startswith("90")
    assert np.array_equal(read_map(turned).advance_deg, SMALL.advance_deg)


def test_csv_to_the_letter() -> None:
    assert write_map(SMALL, "csv") == "kPa by rpm,1000,2000,3500.5\n40,20,30.5,35\n90,-2,20,28.25\n"


def test_bare_cells_to_paste() -> None:
    assert write_map(SMALL, "tsv", bare=True) == "20\t30.5\t35\n-2\t20\t28.25\n"


def test_json_names_its_axes() -> None:
    assert json.loads(write_map(SMALL, "json")) == {
        "schema": "urn:sparkwright:map:1",
        "rpm": [1000.0, 2000.0, 3500.5],
        "kpa": [40.0, 90.0],
        "advance_deg": [[20.0, 30.5, 35.0], [-2.0, 20.0, 28.25]],
    }


def test_json_is_not_written_bare() -> None:
    with pytest.raises(Refusal, match="must stand with its axes"):
        write_map(SMALL, "json", bare=True)


GOOD = write_map(SMALL, "csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "map = nothing: must hold a table of advance; `sparkwright export` writes one"),
        (",,,\n\n", "map = nothing: must hold a table of advance; `sparkwright export` writes one"),
        (
            GOOD.replace("30.5", "thirty"),
            'map, line 2, column 3 = "thirty": must be a number',
        ),
        (
            GOOD.replace("30.5", ""),
            'map, line 2, column 3 = "": must be a number',
        ),
        (
            GOOD.replace("30.5", "nan"),
            'map, line 2, column 3 = "nan": must be a number',
        ),
        (
            GOOD.replace("30.5", "1_0"),
            'map, line 2, column 3 = "1_0": must be a number',
        ),
        (
            write_map(SMALL, "tsv").replace("30.5", "30,5,1"),
            'map, line 2, column 3 = "30,5,1": must be a number',
        ),
        (
            GOOD.replace("30.5", "305"),
            "map, line 2, column 3 = 305: must be -60 to 90; check axes and cells",
        ),
        (
            GOOD.replace("3500.5", "1e9"),
            "map, line 1, column 4 = 1e9: must be 100 to 12000; check axes and cells",
        ),
        (
            GOOD.replace("\n40", "\n-40"),
            "map, line 2, column 1 = -40: must be 10 to 400 kPa; check axes and cells",
        ),
        (GOOD.replace(",28.25", ""), "map, line 3 = 3 columns: must be 4 as in line 1"),
        (
            write_map(SMALL, "csv", bare=True),
            'map, line 1 = "20": must start with a corner that is no number; write "kPa by rpm"',
        ),
        (
            "kPa by rpm,1000,2000\n40,20,30\n",
            "map.kpa = [40.0]: must be at least two finite values that rise",
        ),
        (
            "kPa by rpm,1000\n40,20\n90,30\n",
            "map.rpm = [1000.0]: must be at least two finite values that rise",
        ),
        (
            GOOD.replace("2000", "900"),
            "map, line 1 = 900 rpm falls after 1000: must rise from column to column",
        ),
        ("{", "map = text: can't be read as JSON; it may have been cut short"),
        (
            '{"rpm": []}',
            'map = JSON: must hold "schema": "urn:sparkwright:map:1" and lists rpm, kpa, advance_deg',
        ),
        (
            write_map(SMALL, "json").replace("30.5", "true"),
            'map.advance_deg, row 1, place 2 = "True": must be a number',
        ),
        (
            write_map(SMALL, "json").replace("30.5", "NaN"),
            "map.advance_deg, row 1, place 2 = nan: must be -60 to 90; check axes and cells",
        ),
        (
            write_map(SMALL, "json").replace(", 30.5", ""),
            "map.advance_deg = rows: must be lists of 3 cells, one for each speed",
        ),
        (
            write_map(SMALL, "json").replace("2000.0", '"x"'),
            'map.rpm, row 1, place 2 = "x": must be a number',
        ),
    ],
)
def test_what_can_not_be_read_is_refused_where_it_stands(text: str, message: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_map(text)
    assert str(refusal.value) == message


@given(text=st.text(max_size=60) | st.text(alphabet='0123456789.,\t\n-{}[]:"rpmk', max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    outcome = read_or_refusal(text)
    assert isinstance(outcome, SparkMap) or outcome.startswith("map")


def read_or_refusal(text: str) -> SparkMap | str:
    try:
        return read_map(text)
    except Refusal as refusal:
        return str(refusal)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"\xff\xfe\x00", "map = map.csv: must be UTF-8 text; save it as plain text"),
        (b"x" * 1_000_001, "map = map.csv: must be at most 1,000,000 bytes; a map is a page of text"),
    ],
    ids=["binary", "big"],
)
def test_files_that_hold_no_map(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "map.csv"
    path.write_bytes(content)
    with pytest.raises(Refusal) as refusal:
        load_map(path)
    assert str(refusal.value) == message


def test_a_file_that_is_not_there_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"map = none\.csv: is not there; check the name"):
        load_map(tmp_path / "none.csv")
    with pytest.raises(Refusal, match="must be a file; give the file in the folder"):
        load_map(tmp_path)


def test_a_file_with_a_byte_order_mark_and_foreign_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "map.csv"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert np.array_equal(load_map(path).advance_deg, SMALL.advance_deg)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "kPa by rpm" + ",1000" * 90_000 + "\n40" + ",1" * 90_000,
            "map.rpm = 90000 values: must be at most 40",
        ),
        ("kPa by rpm,1000\n" + "40,1\n" * 190_000, "map.kpa = 190000 values: must be at most 40"),
        (
            json.dumps({"schema": MAP_SCHEMA, "rpm": [1000] * 100_000, "kpa": [], "advance_deg": []}),
            "map.rpm = 100000 values: must be at most 40",
        ),
    ],
    ids=["columns", "lines", "json"],
)
def test_a_table_made_to_keep_the_program_busy_is_refused_at_once(text: str, said: str) -> None:
    begun = time.process_time()
    with pytest.raises(Refusal) as refusal:
        read_map(text)
    assert str(refusal.value) == said
    assert time.process_time() - begun < 2.0
