"""Readings at the door: what is understood, what is named, and that nothing ends in a traceback."""

import csv
import json
import pickle
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparkwright.errors import Problem, Refusal
from sparkwright.light.readings import (
    COLUMNS,
    MOST_READINGS,
    MOST_TOLD,
    SPANS,
    Reading,
    checked_reading,
    each_once,
    load_readings,
    read_readings,
    write_readings,
)
from telling import sentences_of

HEAD = "commanded_deg,speed_rpm,seen_deg\n"
TWO = (Reading(30, 2000, 29.5, line=2), Reading(30, 4000, 29, line=3))


def refusal(text: str) -> list[str]:
    with pytest.raises(Refusal) as refused:
        read_readings(text)
    assert str(refused.value) == "\n".join(refused.value.sentences)
    return list(refused.value.sentences)


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "30,2000,29.5\n30,4000,29\n",
        "\N{BYTE ORDER MARK}" + HEAD + "30,2000,29.5\r\n30,4000,29\r\n",
        "Commanded_deg;Speed_RPM;seen_deg\n30;2000;29,5\n30;4000;29,0",
        "commanded_deg\tspeed_rpm\tseen_deg\n30\t2000\t29,5\n30\t4000\t29\n",
        "commanded_deg, speed_rpm, seen_deg\n 30, 2000, 29.5\n 30, 4000, 29,,\n",
        HEAD.replace("\n", ",note\n") + '30,2000,"29,5",\n30,4000,29\n',
    ],
    ids=["comma", "mark and line ends", "semicolon", "tab", "spaces and empty cells", "quoted decimal comma"],
)
def test_tables_as_people_write_them(text: str) -> None:
    assert read_readings(text).readings == TWO


def test_comments_and_empty_lines_keep_the_line_numbers() -> None:
    sheet = read_readings("# hot engine\n\n" + HEAD + "# first\n30,2000,29\n,,\n30,4000,29\n")
    assert [each.line for each in sheet.readings] == [5, 7]


def test_all_columns_in_any_order() -> None:
    text = "note,sweep,battery_v,cylinder,resolution_deg,seen_deg,speed_rpm,commanded_deg\n"
    sheet = read_readings(text + "again  now,Rising,12.6,3,0.5,29.5,2000,30\n")
    assert sheet.readings == (Reading(30, 2000, 29.5, 0.5, 3, 12.6, "rising", "again now", line=2),)


def test_json_rows() -> None:
    rows = [
        {"commanded_deg": 30, "speed_rpm": 2000, "seen_deg": 29.5, "sweep": None},
        {"commanded_deg": 30, "speed_rpm": "4000", "seen_deg": 29},
    ]
    expected = [29.5, 29.0]
    assert [each.seen_deg for each in read_readings(json.dumps(rows)).readings] == expected
    assert [each.seen_deg for each in read_readings(json.dumps({"readings": rows})).readings] == expected


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "30,2000,300",
            "readings, line 2, seen_deg = 300: must be -40 to 100; it counts in crank degrees before top "
            "dead "
            "centre; read it again",
        ),
        (
            "30,0,29",
            "readings, line 2, speed_rpm = 0: must be 50 to 12000; the light is read on a running engine",
        ),
        (
            "90,2000,29",
            "readings, line 2, commanded_deg = 90: must be -20 to 80; it is the advance that the "
            "controller was "
            "told to hold",
        ),
        (
            "30,2000,",
            "readings, line 2, seen_deg (not given): must be given; it counts in crank degrees before top "
            "dead "
            "centre; read it again",
        ),
        (
            "30,2000,29 rpm",
            'readings, line 2, seen_deg = "29 rpm": must be a number of deg',
        ),
        (
            "30,2000,nan",
            'readings, line 2, seen_deg = "nan": must be a number of deg',
        ),
        (
            "30,2000,29,5",
            "readings, line 2 = 4 columns: must be at most 3, as in line 1; where a comma stands for "
            "decimals, "
            "part the columns by ;",
        ),
    ],
)
def test_a_bad_value_is_named_with_its_line(row: str, said: str) -> None:
    assert refusal(HEAD + row + "\n") == [said]


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        (
            {"cylinder": "9"},
            "cylinder = 9: must be 1 to 8; it is the cylinder whose lead the light is clamped on",
        ),
        (
            {"cylinder": 2.5},
            "cylinder = 2.5: must be a whole number; it is the cylinder whose lead the light is clamped on",
        ),
        (
            {"battery_v": 130},
            "battery_v = 130: must be 3 to 30; outside this lies no vehicle's electrical system",
        ),
        (
            {"resolution_deg": 0},
            "resolution_deg = 0: must be 0.05 to 10; it is the step of the light's dial or of the marks",
        ),
        ({"sweep": "up"}, 'sweep = "up": must be "rising" or "falling"; or left empty'),
        ({"seen_deg": True}, "seen_deg = True: must be a number"),
        ({"seen_deg": 10**400}, "seen_deg = a very long number: must be a number of ordinary size"),
        (
            {"seen": 3},
            'column = "seen": is not known; perhaps seen_deg; known are commanded_deg, speed_rpm, seen_deg, '
            "resolution_deg, cylinder, battery_v, sweep, note",
        ),
    ],
)
def test_a_reading_typed_by_hand_is_checked_alike(cell: dict[str, object], said: str) -> None:
    with pytest.raises(Refusal) as refused:
        checked_reading({"commanded_deg": 30, "speed_rpm": 2000, "seen_deg": 29} | cell)
    assert refused.value.sentences == (said,)


def test_a_long_note_is_refused() -> None:
    with pytest.raises(Refusal, match=r'note = "x{20}\.\.\.": must be one line of 200 letters'):
        checked_reading({"commanded_deg": 30, "speed_rpm": 2000, "seen_deg": 29, "note": "x" * 201})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "",
            "readings = nothing: must hold a table of readings; start with a line "
            "`commanded_deg,speed_rpm,seen_deg`",
        ),
        (
            "30,2000,29\n",
            'readings, line 1 = "30,2000,29": must name the columns; start with a line '
            "`commanded_deg,speed_rpm,seen_deg`",
        ),
        (
            "commanded_deg,speed_rpm\n30,2000\n",
            "readings, line 1: must name seen_deg too; start with a line `commanded_deg,speed_rpm,seen_deg`",
        ),
        ("seen_deg," + HEAD, "readings, line 1: must name seen_deg once"),
        ("[1, 2", "readings = text: can't be read as JSON; it may have been cut short"),
        ("[1, 2]", 'readings = JSON: must be a list of rows, [{"commanded_deg": 30, ...}]'),
        (
            HEAD + '"30,2000,29\n',
            'readings, line 2 = ""30,2000,29": must be plain text parted by commas; '
            "a quotation mark may be open, or a cell is too long",
        ),
    ],
)
def test_what_is_no_table_of_readings_is_refused(text: str, said: str) -> None:
    assert refusal(text) == [said]


WIDE = "must be at most 20; known are commanded_deg, speed_rpm, seen_deg, "


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a," * 82_000, f"readings, line 1 = 82001 columns: {WIDE}"),
        (HEAD.strip() + "," + ",".join(map(str, range(20_000))), f"readings, line 1 = 20003 columns: {WIDE}"),
        (
            "[{" + ",".join(f'"k{each}": 1' for each in range(60_000)) + "}]",
            f"readings, row 1 = 60000 columns: {WIDE}",
        ),
        (HEAD + "1," * 300_000, "readings, line 2 = 300000 columns: must be at most 3, as in line 1"),
        (HEAD + "30,2000,29\n" * 90_000, "readings = 90000 lines: must be at most 500"),
        (
            "x" * 100_000 + ",speed_rpm,seen_deg",
            'readings, line 1, column = "xxxxxxxxxxxxxxxxxxxxxxxxxxx..."',
        ),
    ],
    ids=["names", "more names", "keys", "cells", "lines", "long name"],
)
def test_a_file_made_to_keep_the_program_busy_is_refused_at_once(text: str, said: str) -> None:
    """A few tenths of a second by the clock of this process; they took up to minutes."""
    begun = time.process_time()
    assert refusal(text)[0].startswith(said)
    assert time.process_time() - begun < 2.0


def test_every_bad_line_is_named_up_to_a_page() -> None:
    assert len(refusal(HEAD + "30,0,300\n" * 2)) == 4
    many = refusal(HEAD + "30,0,29\n" * 30)
    assert len(many) == MOST_TOLD + 1
    assert many[-1] == "10 more lines can't be used either"
    assert refusal(HEAD + "30,2000,29\n" * (MOST_READINGS + 1)) == [
        "readings = 501 lines: must be at most 500; keep those of one setting"
    ]


def test_the_same_reading_twice_is_named_and_counted_once() -> None:
    sheet = read_readings(HEAD + "30,2000,29\n30,4000,29\n30,2000,29.0\n")
    assert len(sheet.readings) == 2
    assert sentences_of(sheet.warnings) == (
        "Lines 2 and 4 are the same reading, counted once; if it was read anew, say so in its note "
        '("again").',
    )
    again = read_readings("commanded_deg,speed_rpm,seen_deg,note\n30,2000,29,\n30,2000,29,again\n")
    assert len(again.readings) == 2
    assert again.warnings == ()


def test_readings_without_lines_count_from_one() -> None:
    assert [each.line for each in each_once([Reading(30, 2000, 29), Reading(30, 3000, 29)]).readings] == [
        1,
        2,
    ]


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + "30,2000,29.5\n30,4000,29\n").encode())
    assert load_readings(path).readings == TWO
    with pytest.raises(Refusal, match=r"readings = away\.csv: is not there; check the name"):
        load_readings(tmp_path / "away.csv")
    with pytest.raises(Refusal, match="must be a file"):
        load_readings(tmp_path)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Refusal, match="must be UTF-8 text"):
        load_readings(path)
    path.write_bytes(b" " * 1_000_001)
    with pytest.raises(Refusal, match="must be at most 1,000,000 bytes"):
        load_readings(path)


def test_a_refusal_crosses_to_another_process_whole() -> None:
    refused = Refusal(
        [Problem("seen_deg", 300, "must be -40 to 100"), Problem("note", None, "must be given")]
    )
    assert pickle.loads(pickle.dumps(refused)).problems == refused.problems


def spanned(name: str, places: int) -> st.SearchStrategy[float]:
    return st.floats(SPANS[name].low, SPANS[name].high).map(lambda value: round(value, places))


READINGS = st.lists(
    st.builds(
        Reading,
        spanned("commanded_deg", 1),
        spanned("speed_rpm", 0),
        spanned("seen_deg", 2),
        st.none() | spanned("resolution_deg", 2),
        st.none() | st.integers(1, 8),
        st.none() | spanned("battery_v", 2),
        st.sampled_from([None, "rising", "falling"]),
        st.sampled_from(["", "again", 'a "b", c', "x;y"]),
    ),
    min_size=1,
    max_size=8,
    unique=True,
)


@pytest.mark.parametrize("begin", ["=", "+", "-", "@", "'=", "''+"])
def test_a_note_that_a_spreadsheet_would_run_leaves_as_text(begin: str) -> None:
    """An apostrophe before it says so to any spreadsheet; common practice, no source."""
    readings = [Reading(30, 2000, 29, note=begin + 'HYPERLINK("https://elsewhere.example","light")', line=2)]
    written = write_readings(readings)
    (row,) = csv.DictReader(written.splitlines())
    assert row["note"][0] == "'"
    assert list(read_readings(written).readings) == readings


def test_a_note_in_apostrophes_is_left_alone() -> None:
    assert write_readings([Reading(30, 2000, 29, note="'cold'")]).endswith(",'cold'\n")
    assert read_readings(HEAD.strip() + ",note\n30,2000,29,'cold'\n").readings[0].note == "'cold'"


@given(readings=READINGS)
def test_what_is_written_reads_back_the_same(readings: list[Reading]) -> None:
    again = read_readings(write_readings(readings)).readings
    assert [[getattr(each, name) for name in COLUMNS] for each in again] == [
        [getattr(each, name) for name in COLUMNS] for each in readings
    ]


CELLS = st.one_of(
    st.sampled_from(
        ["30", "2000", "29,5", "", "rising", "1e400", "-", "\N{MINUS SIGN}3", '"', "#", "\x00", "0x1p3"]
    ),
    st.text(max_size=8),
)
TABLES = st.builds(
    lambda mark, head, rows: "\n".join(mark.join(row) for row in [head, *rows]),
    st.sampled_from([",", ";", "\t"]),
    st.lists(st.sampled_from(COLUMNS) | st.text(max_size=5), max_size=5),
    st.lists(st.lists(CELLS, max_size=5), max_size=5),
)
JSON_ROWS = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from([*COLUMNS, "readings"]), inner, max_size=4)
    ),
    max_leaves=12,
).map(json.dumps)


@settings(max_examples=300, deadline=None)
@given(text=st.text() | TABLES | JSON_ROWS)
def test_any_text_gives_readings_or_sentences(text: str) -> None:
    said: tuple[str, ...] = ()
    speeds = [50.0]
    try:
        speeds += [each.speed_rpm for each in read_readings(text).readings]
    except Refusal as refused:
        said = refused.sentences or ("",)
    assert all(each and each.isprintable() for each in said)
    assert min(speeds) >= 50.0
