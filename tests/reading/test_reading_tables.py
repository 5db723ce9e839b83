"""Tables as spreadsheets write them: encodings, what parts the columns, line numbers, commas in cells."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import Refusal
from sparkwright.light.readings import load_readings, read_readings
from sparkwright.plan.exchange import load_map, read_map
from sparkwright.reading.tables import DIALECTS, rows_of, text_of

READINGS = "commanded_deg;speed_rpm;seen_deg\r\n30;2,000;29,5\r\n30;4 000 rpm;28 1/2\r\n"
MAP = "kPa by rpm;1,000;2,000\n40;20,5;30\n90;10;20\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_table_is_read_in_the_encodings_of_spreadsheets(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(READINGS.encode(encoding))
    read = [(each.speed_rpm, each.seen_deg, each.line) for each in load_readings(path).readings]
    assert read == [(2000.0, 29.5, 2), (4000.0, 28.5, 3)]
    path.write_bytes(MAP.encode(encoding))
    spark_map = load_map(path)
    assert (spark_map.rpm.tolist(), spark_map.kpa.tolist()) == ([1000.0, 2000.0], [40.0, 90.0])
    assert spark_map.advance_deg.tolist() == [[20.5, 30.0], [10.0, 20.0]]


@pytest.mark.parametrize("mark", [each.mark for each in DIALECTS])
def test_a_map_may_be_parted_by_commas_semicolons_or_tabs(mark: str) -> None:
    text = "\n".join(
        mark.join(row) for row in (["x", "1000", "2000"], ["40", "20", "30"], ["90", "10", "20"])
    )
    assert read_map(text).advance_deg.tolist() == [[20.0, 30.0], [10.0, 20.0]]


def test_a_refusal_names_the_line_that_an_editor_shows() -> None:
    with pytest.raises(Refusal) as refusal:
        read_map("# from the bench\n\nkPa by rpm,1000,2000\n\n40,20,thirty\n90,10,20\n")
    assert str(refusal.value) == 'map, line 5, column 3 = "thirty": must be a number'


def test_a_cell_is_read_by_what_the_map_takes() -> None:
    with pytest.raises(Refusal) as refusal:
        read_map("x;1000;2000\n40;20;30\n90;1.5.0;20\n")
    assert str(refusal.value) == 'map, line 3, column 2 = "1.5.0": must be a number'
    assert read_readings("commanded_deg;speed_rpm;seen_deg\n30;2,000;29,500\n").readings[0].seen_deg == 29.5


def test_an_open_quotation_mark_is_named_with_its_line() -> None:
    with pytest.raises(Refusal) as refusal:
        rows_of('a;b\n"1;2\n', "map")
    assert str(refusal.value) == (
        'map, line 2 = ""1;2": must be plain text parted by semicolons; '
        "a quotation mark may be open, or a cell is too long"
    )


def test_bytes_that_are_no_text_are_refused() -> None:
    """0xFF stands in no UTF-8 (RFC 3629, section 3)."""
    with pytest.raises(Refusal) as refusal:
        text_of(b"a\xff", "map", "photo.jpg")
    assert str(refusal.value) == "map = photo.jpg: must be UTF-8 text; save it as plain text"


@given(text=st.text(max_size=80) | st.text(alphabet='1a,;\t"\n#', max_size=80))
def test_any_text_is_parted_or_refused(text: str) -> None:
    try:
        numbers = [row.line for row in rows_of(text, "map")]
    except Refusal:
        numbers = []
    assert numbers == sorted(set(numbers))
