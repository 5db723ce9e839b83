"""Changes of map cells by hand, against SciPy and the standard library's decimal and csv modules."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from decimal import ROUND_HALF_DOWN, ROUND_HALF_UP, Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from invented_results import KPA, RPM
from sparkwright.edit import cells as edit
from sparkwright.edit import paste
from sparkwright.edit.cells import Block
from sparkwright.errors import Refusal
from sparkwright.job import Controller, LoadTerm
from sparkwright.plan.load_terms import Loads
from sparkwright.plan.spark_map import SparkMap

FINE = Controller(step_deg=0.05, min_deg=-10, max_deg=60)
HALVES = Controller(step_deg=0.5, min_deg=0, max_deg=50)
WHOLE = Block(0, 15, 0, 15)


def rough() -> SparkMap:
    """A map without any order in it."""
    return SparkMap(RPM, KPA, np.random.default_rng(7).uniform(10.0, 40.0, (16, 16)))


def plane() -> SparkMap:
    """A map that is linear in speed and load, multiples of a twentieth."""
    return SparkMap(RPM, KPA, 10.0 + RPM[None, :] / 200.0 - KPA[:, None] / 10.0)


# ---- Typing


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("34", 34.0),
        (" 34,5 ", 34.5),
        (".5", 0.5),
        ("-3", -3.0),
        ("\N{MINUS SIGN}3.25", -3.25),
        ("34\N{DEGREE SIGN}", 34.0),
        ("12 deg", 12.0),
    ],
)
def test_an_advance_is_read_as_people_type_it(text: str, value: float) -> None:
    assert edit.advance_typed(text) == value


@pytest.mark.parametrize("text", ["abc", "3 4", "34 rpm", "--3", "nan", "12,3,4", "0x1f"])
def test_what_is_no_number_is_refused_in_words(text: str) -> None:
    with pytest.raises(Refusal) as refusal:
        edit.advance_typed(text)
    assert str(refusal.value) == f'advance = "{text}": must be a number of deg; for example 34 or 34.5'


def test_nothing_typed_is_said_to_be_nothing() -> None:
    with pytest.raises(Refusal, match=r"advance \(not given\): must be a number of deg"):
        edit.advance_typed("  ")


@given(st.integers(-2000, 6000))
def test_values_go_to_the_nearest_step_and_between_two_to_the_later(hundredths: int) -> None:
    """Python's decimal module rounds halves toward the smaller value: down above zero, up in size below."""
    value = Decimal(hundredths) / 100
    halves = ROUND_HALF_DOWN if value >= 0 else ROUND_HALF_UP
    expected = (value * 2).quantize(Decimal(1), halves) / 2
    assert edit.to_step(float(value), 0.5) == float(expected)


def test_setting_says_when_it_rounds() -> None:
    edited = edit.Selection(rough(), Block(3, 3, 4, 5), HALVES).set_to("34.3")
    assert edited.value_deg == {(3, 4): 34.5, (3, 5): 34.5}
    assert edited.says == ("34.3 lies between the controller's steps of 0.5; 34.5 was set.",)


def test_more_than_the_controller_takes_is_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        edit.Selection(rough(), Block(3, 3, 4, 5), HALVES).set_to("51")
    assert str(refusal.value) == "advance = 51: must be 0 to 50, what the controller takes"


def test_a_range_beyond_the_map_is_refused() -> None:
    with pytest.raises(Refusal, match="must lie within the map, 16 rows by 16 columns"):
        edit.Selection(rough(), Block(3, 16, 0, 0), HALVES).set_to("20")


# ---- Adding


def test_adding_and_taking_away_are_each_others_opposite() -> None:
    spark_map = SparkMap(RPM, KPA, np.full((16, 16), 20.0))
    block = Block(2, 4, 3, 6)
    assert set(edit.Selection(spark_map, block, HALVES).added("2,5").value_deg.values()) == {22.5}
    assert set(edit.Selection(spark_map, block, HALVES).added("2.5", sign=-1).value_deg.values()) == {17.5}


def test_adding_names_the_cell_that_would_go_too_far() -> None:
    advance = np.full((16, 16), 20.0)
    advance[3, 4] = 49.0
    with pytest.raises(Refusal) as refusal:
        edit.Selection(SparkMap(RPM, KPA, advance), Block(2, 4, 3, 6), HALVES).added("2")
    assert str(refusal.value) == "1,500 rpm, 35 kPa = 51: must be 0 to 50, what the controller takes"


def test_adding_nothing_touches_no_cell() -> None:
    edited = edit.Selection(plane(), WHOLE, FINE).added("0")
    assert edited.value_deg == {}
    assert edited.says == ("Nothing changed: every cell comes out as it was.",)


# ---- Interpolating


def test_between_corners_it_is_bilinear_on_the_axes() -> None:
    """SciPy's RegularGridInterpolator over the four corners is the reference, to half a step."""
    spark_map, block = rough(), Block(2, 9, 3, 12)
    corners = np.ix_([2, 9], [3, 12])
    reference = RegularGridInterpolator((KPA[[2, 9]], RPM[[3, 12]]), spark_map.advance_deg[corners])
    edited = edit.Selection(spark_map, block, FINE).interpolated()
    for (i, j), value in edited.value_deg.items():
        if (i, j) not in ((2, 3), (2, 12), (9, 3), (9, 12)):
            assert value == pytest.approx(float(reference((KPA[i], RPM[j]))[()]), abs=0.0251)
    assert len(edited.value_deg) >= 8 * 10 - 4


@pytest.mark.parametrize("along", ["speed", "load"])
def test_along_one_way_each_line_keeps_its_ends(along: edit.Along) -> None:
    """numpy.interp between the two ends of each line is the reference."""
    spark_map, block = rough(), Block(2, 6, 3, 9)
    values = edit.Selection(spark_map, block, FINE).interpolated(along).value_deg
    cells = spark_map.advance_deg
    if along == "speed":
        expected = [np.interp(RPM[5], RPM[[3, 9]], cells[i, [3, 9]]) for i in range(2, 7)]
        assert [values[i, 5] for i in range(2, 7)] == pytest.approx(expected, abs=0.0251)
    else:
        expected = [np.interp(KPA[4], KPA[[2, 6]], cells[[2, 6], j]) for j in range(3, 10)]
        assert [values[4, j] for j in range(3, 10)] == pytest.approx(expected, abs=0.0251)


def test_interpolating_a_plane_changes_nothing() -> None:
    takes = Controller(step_deg=0.05, min_deg=-10, max_deg=60)
    assert edit.Selection(plane(), WHOLE, takes).interpolated().value_deg == {}


@pytest.mark.parametrize(
    ("block", "along"),
    [(Block(3, 3, 4, 4), "both"), (Block(3, 4, 4, 5), "both"), (Block(3, 9, 4, 5), "speed")],
)
def test_nothing_between_the_ends_is_refused(block: Block, along: edit.Along) -> None:
    with pytest.raises(Refusal, match="must reach over at least three cells; select from one good value"):
        edit.Selection(rough(), block, FINE).interpolated(along)


# ---- Smoothing


def test_smoothing_leaves_an_even_slope_alone() -> None:
    assert edit.Selection(plane(), WHOLE, FINE).smoothed().value_deg == {}


def test_smoothing_halves_a_single_spike_and_stays_within_its_neighbours() -> None:
    """Solved by head: half of the spike goes to the line through its neighbours, which is 20."""
    advance = np.full((16, 16), 20.0)
    advance[5, 5] = 28.0
    edited = edit.Selection(SparkMap(RPM, KPA, advance), Block(5, 5, 5, 5), HALVES).smoothed()
    assert edited.value_deg == {(5, 5): 24.0}


def test_smoothing_a_rough_map_makes_it_less_rough_and_leaves_its_span() -> None:
    spark_map = rough()
    after = spark_map.advance_deg.copy()
    for place, value in edit.Selection(spark_map, WHOLE, FINE).smoothed().value_deg.items():
        assert value is not None
        after[place] = value
    assert (
        np.abs(np.diff(after, 2, axis=1)).mean()
        < 0.75 * np.abs(np.diff(spark_map.advance_deg, 2, axis=1)).mean()
    )
    assert after.min() >= spark_map.advance_deg.min() - 0.05
    assert after.max() <= spark_map.advance_deg.max() + 0.05


# ---- Pasting


def excel_tab(rows: list[list[object]]) -> str:
    """Write rows as the standard library's dialect "excel-tab" does, as spreadsheets put on the clipboard."""
    text = io.StringIO()
    csv.writer(text, dialect="excel-tab").writerows(rows)
    return text.getvalue()


def test_a_block_goes_in_from_the_highest_load_and_least_speed_selected() -> None:
    text = excel_tab([[20, 21.5], [22, 23]])
    assert paste.pasted(rough(), Block(4, 7, 3, 3), text, HALVES).value_deg == {
        (7, 3): 20.0,
        (7, 4): 21.5,
        (6, 3): 22.0,
        (6, 4): 23.0,
    }


def test_axes_place_each_value_whatever_is_selected() -> None:
    text = excel_tab([["kPa by rpm", 1200, 2100], [85, 10, 11], [20, 12, 13]])
    expected = {(15, 3): 10.0, (15, 6): 11.0, (0, 3): 12.0, (0, 6): 13.0}
    assert paste.pasted(rough(), Block(5, 5, 9, 9), text, HALVES).value_deg == expected


def test_a_line_of_speeds_alone_places_the_columns() -> None:
    text = excel_tab([["1,200", "2,100"], [10, 11]])
    assert paste.pasted(rough(), Block(7, 7, 0, 0), text, HALVES).value_deg == {(7, 3): 10.0, (7, 6): 11.0}


def test_loads_alone_place_the_rows_where_the_block_could_not_fit_otherwise() -> None:
    text = excel_tab([[45, *range(16)], [40, *range(1, 17)]])
    values = paste.pasted(rough(), Block(15, 15, 0, 0), text, HALVES).value_deg
    assert {place[0] for place in values} == {5, 4}
    assert [values[5, j] for j in range(16)] == [float(j) for j in range(16)]


@pytest.mark.parametrize("text", ["20,5\t21\n22\t23\n", "20,5;21\r\n22;23", "20.5\t21\n\n22\t23\n\n"])
def test_other_partings_and_decimal_commas_are_taken(text: str) -> None:
    values = paste.pasted(rough(), Block(1, 1, 0, 0), text, HALVES).value_deg
    assert values == {(1, 0): 20.5, (1, 1): 21.0, (0, 0): 22.0, (0, 1): 23.0}


def test_a_column_of_decimal_commas_stays_a_column() -> None:
    values = paste.pasted(rough(), Block(1, 1, 0, 0), "20,5\n21,5\n", HALVES).value_deg
    assert values == {(1, 0): 20.5, (0, 0): 21.5}


def test_one_value_fills_all_that_is_selected() -> None:
    values = paste.pasted(rough(), Block(1, 2, 3, 4), "20\n", HALVES).value_deg
    assert values == {(1, 3): 20.0, (1, 4): 20.0, (2, 3): 20.0, (2, 4): 20.0}


def test_a_paste_says_what_did_not_fit() -> None:
    text = excel_tab([[20.2, "n/a", 21, 22], [99, "", 23, 24], [25, 26, 27, 28]])
    edited = paste.pasted(rough(), Block(1, 1, 13, 13), text, HALVES)
    assert edited.value_deg == {(1, 13): 20.0, (1, 15): 21.0, (0, 15): 23.0}
    assert edited.says == (
        "6 values beyond the map were left out.",
        '1 value that was no number, "n/a" first, was left out.',
        "1 value beyond what the controller takes (0 to 50) was left out, 99 at 4,600 rpm and 20 kPa first.",
        "1 value was rounded to the controller's step of 0.5.",
    )


def test_a_paste_names_the_lines_that_the_map_does_not_have() -> None:
    text = excel_tab([["", 1250, 2100], [85, 10, 11], [33, 12, 13]])
    edited = paste.pasted(rough(), WHOLE, text, HALVES)
    assert edited.value_deg == {(15, 6): 11.0}
    assert edited.says == (
        "This map has no line at 1,250 rpm, 33 kPa.",
        "3 values beyond the map were left out.",
    )


IN_TERMS = {
    "inHg vacuum": ("0", "11.8"),
    "kPa boost": ("0", "-40"),
    "psi boost": ("0", "-5.8"),
    "percent of full load": ("100", "52.9"),
}
"""85 and 45 kPa under air of 85 kPa, as a table with one decimal has them. By hand: an inch of mercury is
3.386389 kPa and a psi 6.894757 kPa (NIST SP 811, appendix B.8)."""


@pytest.mark.parametrize("term", IN_TERMS)
def test_a_block_with_loads_as_the_controller_has_them_finds_its_rows(term: LoadTerm) -> None:
    own = Loads(term, site_kpa=85.0, top_kpa=85.0)
    high, low = IN_TERMS[term]
    expected = {(15, 3): 10.0, (5, 3): 12.0}
    for corner, loads in (("load", own), (f"{term} by rpm", replace(own, term="kPa absolute"))):
        text = excel_tab([[corner, 1200], [high, 10], [low, 12]])
        assert paste.pasted(rough(), WHOLE, text, HALVES, loads).value_deg == expected
    # A corner that says kPa counts before what the controller has.
    text = excel_tab([["kPa by rpm", 1200], [85, 10], [45, 12]])
    assert paste.pasted(rough(), WHOLE, text, HALVES, own).value_deg == expected


def test_loads_of_another_scale_never_name_a_row_that_happens_to_have_their_number() -> None:
    """85 percent of full load are 72 kPa, and not the row at 85."""
    own = Loads("percent of full load", site_kpa=85.0, top_kpa=85.0)
    edited = paste.pasted(rough(), WHOLE, excel_tab([["", 1200], [85, 10]]), HALVES, own)
    assert not edited.value_deg
    assert edited.says[:2] == (
        "Nothing of this fitted the map.",
        "This map has no line at 85 % of full load.",
    )


@pytest.mark.parametrize("corner", ["", "percent of throttle by rpm"])
def test_a_block_with_loads_by_throttle_is_refused_in_a_sentence(corner: str) -> None:
    own = Loads("percent of throttle", site_kpa=85.0, top_kpa=85.0)
    with pytest.raises(Refusal) as refusal:
        paste.pasted(rough(), WHOLE, excel_tab([[corner, 1200], [85, 10]]), HALVES, own)
    assert str(refusal.value) == (
        "what was pasted = a block with loads by throttle: must have them in kPa to name rows of this map; "
        'write "kPa by rpm" in its corner, leave the loads out, or bring the whole map in'
    )
    in_kpa = excel_tab([["kPa by rpm", 1200], [85, 10]])
    assert paste.pasted(rough(), WHOLE, in_kpa, HALVES, own).value_deg == {(15, 3): 10.0}


@given(st.text(max_size=200))
def test_any_text_is_taken_or_refused_in_words(text: str) -> None:
    try:
        edited = paste.pasted(rough(), Block(3, 5, 3, 5), text, HALVES)
    except Refusal:
        return
    for (i, j), value in edited.value_deg.items():
        assert 0 <= i < 16
        assert 0 <= j < 16
        assert value is not None
        assert 0 <= value <= 50


def test_a_whole_map_sets_only_what_differs_from_the_plan() -> None:
    planned = np.full((16, 16), 20.0)
    given_deg = planned.copy()
    given_deg[3, 4], given_deg[5, 6] = 22.3, np.nan
    values = edit.whole_map(RPM, KPA, given_deg, planned, HALVES).value_deg
    assert values.pop((3, 4)) == 22.5
    assert (5, 6) not in values
    assert set(values.values()) == {None}
    assert len(values) == 254
