"""Maps as text: out and in again, every refusal to the letter, and anything at all thrown at the reader."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as drawn

from sparkwright.errors import Refusal
from sparkwright.plan.exchange import (
    FORMS,
    MAP_SCHEMA,
    Form,
    load_map,
    read_map,
    write_map,
)
from sparkwright.plan.load_terms import CORNER
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading.tables import MOST_BYTES

SMALL = SparkMap(np.array([1000.0, 2000.0]), np.array([40.0, 90.0]), np.array([[20.0, 30.5], [-2.0, 20.0]]))


def same(one: SparkMap, other: SparkMap) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name)) for name in ("rpm", "kpa", "advance_deg")
    )


@st.composite
def spark_maps(draw: st.DrawFn) -> SparkMap:
    rpm = draw(st.lists(st.integers(100, 12000), min_size=2, max_size=6, unique=True).map(sorted))
    kpa = draw(st.lists(st.integers(10, 400), min_size=2, max_size=6, unique=True).map(sorted))
    quarters = draw(drawn.arrays(int, (len(kpa), len(rpm)), elements=st.integers(-240, 360)))
    return SparkMap(np.array(rpm, dtype=float), np.array(kpa, dtype=float), quarters / 4.0)


@settings(deadline=None, max_examples=60)
@given(spark_map=spark_maps(), form=st.sampled_from(FORMS))
def test_what_is_written_reads_back_the_same(spark_map: SparkMap, form: Form) -> None:
    assert same(read_map(write_map(spark_map, form)), spark_map)


@settings(deadline=None, max_examples=30)
@given(spark_map=spark_maps(), form=st.sampled_from(["csv", "tsv"]))
def test_rows_may_fall_in_load(spark_map: SparkMap, form: Form) -> None:
    assert same(read_map(write_map(spark_map, form, highest_load_first=True)), spark_map)


def test_the_text_is_plain() -> None:
    assert write_map(SMALL, "csv") == f"{CORNER},1000,2000\n40,20,30.5\n90,-2,20\n"
    assert write_map(SMALL, "tsv", bare=True, highest_load_first=True) == "-2\t20\n20\t30.5\n"
    assert json.loads(write_map(SMALL, "json")) == {
        "schema": MAP_SCHEMA,
        "rpm": [1000.0, 2000.0],
        "kpa": [40.0, 90.0],
        "advance_deg": [[20.0, 30.5], [-2.0, 20.0]],
    }


@pytest.mark.parametrize(("bare", "turned"), [(True, False), (False, True)])
def test_json_stands_with_its_axes(bare: bool, turned: bool) -> None:
    with pytest.raises(Refusal) as refusal:
        write_map(SMALL, "json", bare=bare, highest_load_first=turned)
    assert str(refusal.value) == "form = json: must stand with its axes, loads rising; choose csv or tsv"


def as_json(**changes: object) -> str:
    whole = {"schema": MAP_SCHEMA, "rpm": [1000, 2000], "kpa": [40, 90], "advance_deg": [[20, 30], [10, 20]]}
    return json.dumps({**whole, **changes})


WHOLE = 'must hold "schema": "urn:sparkwright:map:1" and lists rpm, kpa, advance_deg'
REFUSALS = {
    "empty": ("", "map = nothing: must hold a table of advance; `sparkwright export` writes one"),
    "separators only": (
        ",,\n\t\n",
        "map = nothing: must hold a table of advance; `sparkwright export` writes one",
    ),
    "no corner": (
        "1000,2000\n40,20\n90,10",
        'map, line 1 = "1000": must start with a corner that is no number; write "kPa by rpm"',
    ),
    "short row": ("x,1000,2000\n40,20\n90,10,20", "map, line 2 = 2 columns: must be 3 as in line 1"),
    "long row": ("x,1000,2000\n40,20,30\n90,10,20,5", "map, line 3 = 4 columns: must be 3 as in line 1"),
    "a word": (
        "x,1000,2000\n40,20,thirty\n90,10,20",
        'map, line 2, column 3 = "thirty": must be a number',
    ),
    "an empty cell": (
        "x,1000,2000\n40,20,\n90,10,20",
        'map, line 2, column 3 = "": must be a number',
    ),
    "two decimal commas": (
        "x\t1000\t2000\n40\t20\t30,5,1\n90\t10\t20",
        'map, line 2, column 3 = "30,5,1": must be a number',
    ),
    "nan": (
        "x,1000,2000\n40,nan,30\n90,10,20",
        'map, line 2, column 2 = "nan": must be a number',
    ),
    "infinite": (
        "x,1000,2000\n40,1e99,30\n90,10,20",
        "map, line 2, column 2 = 1e99: must be -60 to 90; check axes and cells",
    ),
    "Python's own number": (
        "x,1_000,2000\n40,20,30\n90,10,20",
        'map, line 1, column 2 = "1_000": must be a number',
    ),
    "absurd speed": (
        "x,1000,200000\n40,20,30\n90,10,20",
        "map, line 1, column 3 = 200000: must be 100 to 12000; check axes and cells",
    ),
    "load in bar": (
        "x,1000,2000\n0.4,20,30\n0.9,10,20",
        "map, line 2, column 1 = 0.4: must be 10 to 400 kPa; check axes and cells",
    ),
    "absurd advance": (
        "x,1000,2000\n40,20,300\n90,10,20",
        "map, line 2, column 3 = 300: must be -60 to 90; check axes and cells",
    ),
    "speeds fall": (
        "x,2000,1000\n40,20,30\n90,10,20",
        "map, line 1 = 1000 rpm falls after 2000: must rise from column to column",
    ),
    "a load twice": (
        "x,1000,2000\n40,20,30\n40,10,20",
        "map, loads = 40 kPa stands twice: must rise, or fall, from row to row",
    ),
    "one load": ("x,1000,2000\n40,20,30", "map.kpa = [40.0]: must be at least two finite values that rise"),
    "too many speeds": (
        "x," + ",".join(str(1000 + 10 * i) for i in range(41)) + "\n40" + ",20" * 41 + "\n90" + ",20" * 41,
        "map.rpm = 41 values: must be at most 40",
    ),
    "one speed": ("x,1000\n40,20\n90,10", "map.rpm = [1000.0]: must be at least two finite values that rise"),
    "cell too long to read": (
        f"x,1000,2000\n40,{'1' * 200_000},30",
        f'map, line 2 = "40,{"1" * 57}...": must be plain text parted by commas; '
        "a quotation mark may be open, or a cell is too long",
    ),
    "JSON cut short": (as_json()[:-5], "map = text: can't be read as JSON; it may have been cut short"),
    "JSON too deep": ('{"a":' * 200_000, "map = text: can't be read as JSON; it may have been cut short"),
    "JSON of another kind": (as_json(schema="urn:other"), f"map = JSON: {WHOLE}"),
    "JSON without loads": (as_json(kpa=None), f"map = JSON: {WHOLE}"),
    "JSON word": (
        as_json(rpm=[1000, "fast"]),
        'map.rpm, row 1, place 2 = "fast": must be a number',
    ),
    "JSON true": (
        as_json(advance_deg=[[True, 30], [10, 20]]),
        'map.advance_deg, row 1, place 1 = "True": must be a number',
    ),
    "JSON NaN": (
        as_json(advance_deg=[[float("nan"), 30], [10, 20]]),
        "map.advance_deg, row 1, place 1 = nan: must be -60 to 90; check axes and cells",
    ),
    "JSON number without end": (
        as_json().replace("2000", "9" * 5000),
        "map.rpm, row 1, place 2 = inf: must be 100 to 12000; check axes and cells",
    ),
    "JSON short row": (
        as_json(advance_deg=[[20, 30], [10]]),
        "map.advance_deg = rows: must be lists of 2 cells, one for each speed",
    ),
    "JSON row too many": (
        as_json(advance_deg=[[20, 30], [10, 20], [5, 10]]),
        "map.advance_deg = 3 rows: must be 2, one for each load",
    ),
    "JSON row too few": (
        as_json(advance_deg=[[20, 30]]),
        "map.advance_deg = 1 rows: must be 2, one for each load",
    ),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_every_refusal_names_place_value_and_what_is_allowed(name: str) -> None:
    text, sentence = REFUSALS[name]
    with pytest.raises(Refusal) as refusal:
        read_map(text)
    assert str(refusal.value) == sentence


def test_a_file_is_read_whatever_its_form_and_mark(tmp_path: Path) -> None:
    for form in FORMS:
        path = tmp_path / "map.txt"
        path.write_bytes(b"\xef\xbb\xbf" + write_map(SMALL, form).replace("\n", "\r\n").encode())
        assert same(load_map(path), SMALL)


def test_files_that_are_no_maps(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "binary").write_bytes(b"\x89PNG\r\n\xff\xfe")
    (tmp_path / "huge").write_bytes(b"1" * (MOST_BYTES + 1))
    for name, sentence in {
        "folder": "map = folder: must be a file; give the file in the folder",
        "absent": "map = absent: is not there; check the name",
        "binary": "map = binary: must be UTF-8 text; save it as plain text",
        "huge": "map = huge: must be at most 1,000,000 bytes; a map is a page of text",
    }.items():
        with pytest.raises(Refusal) as refusal:
            load_map(tmp_path / name)
        assert str(refusal.value) == sentence


def reads_or_refuses_in_words(text: str) -> bool:
    """Whether a map came out whole, or a sentence that names what must be; any other fault is raised."""
    try:
        read = read_map(text)
    except Refusal as refusal:
        (problem,) = refusal.problems
        named = problem.place.startswith("map")
        return (
            named and str(problem.must).startswith(("must ", "can't be read")) and str(refusal).isprintable()
        )
    return bool(np.isfinite(read.advance_deg).all())


@settings(deadline=None, max_examples=150)
@given(
    text=st.one_of(st.text(), st.text(alphabet='0123456789,\t\n\r;.-+eE" x{}[]'), st.text().map("{".__add__))
)
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    assert reads_or_refuses_in_words(text)


JSON_VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=3), inner, max_size=2)
    ),
    max_leaves=8,
)


@settings(deadline=None, max_examples=150)
@given(
    changes=st.dictionaries(
        st.sampled_from(["rpm", "kpa", "advance_deg"]),
        st.one_of(
            JSON_VALUES, st.lists(st.floats(5, 500), max_size=3), st.lists(st.lists(st.integers(0, 40)))
        ),
    )
)
def test_any_json_is_read_or_refused_in_words(changes: dict[str, object]) -> None:
    assert reads_or_refuses_in_words(as_json(**changes))


@settings(deadline=None, max_examples=100)
@given(place=st.integers(0, 200), put=st.text(max_size=3), form=st.sampled_from(FORMS))
def test_a_map_with_something_else_in_it_is_read_or_refused(place: int, put: str, form: Form) -> None:
    text = write_map(SMALL, form)
    assert reads_or_refuses_in_words(text[:place] + put + text[place + 1 :])
