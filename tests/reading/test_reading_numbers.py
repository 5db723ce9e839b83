"""Numbers as people write them: a table of what is typed, what it means, and in what words it is refused."""

import time
from collections.abc import Callable
from fractions import Fraction
from math import inf, isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning_jobs import PUMP_HOUSE
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.job.field_kind import unit_of_key
from sparkwright.light.readings import checked_reading
from sparkwright.reading import load_kpa, number, parted, quantity
from sparkwright.web.filled import fill
from sparkwright.web.form_names import field_kind_for
from sparkwright.web.typed import typed

INHG_KPA = 3.386389
"""NIST SP 811 (2008), appendix B.8, as the 6.894757 kPa of a psi below."""

# What an arithmetic by hand makes of each; the unit and span are those of a field.
PLAIN = [
    ("5,800", "rpm", (1000, 12000), 5800),
    ("5 800 rpm", "rpm", (1000, 12000), 5800),
    ("5\N{NARROW NO-BREAK SPACE}800", "rpm", (1000, 12000), 5800),
    ("5.800,5", "rpm", (1000, 12000), 5800.5),
    ("5,800.5", "rpm", (1000, 12000), 5800.5),
    ("1,234,567", "", (-inf, inf), 1234567),
    ("850 rpm", "rpm", (200, 2500), 850),
    ("850RPM", "rpm", (200, 2500), 850),
    ("850 1/min", "rpm", (200, 2500), 850),
    ("2,000", "rpm", (50, 12000), 2000),
    ("9,8", "to 1", (3.5, 16), 9.8),
    ("9,800", "to 1", (3.5, 16), 9.8),
    ("9.8 to 1", "to 1", (3.5, 16), 9.8),
    ("9.8:1", "to 1", (3.5, 16), 9.8),
    ("9.8 : 1", "to 1", (3.5, 16), 9.8),
    ("93 AKI", "AKI", (40, 125), 93),
    ("91 octane", "AKI", (40, 125), 91),
    ("95RON", "RON", (40, 130), 95),
    ("7 BTDC", "deg BTDC", (-10, 45), 7),
    ("7\N{DEGREE SIGN} BTDC", "deg BTDC", (-10, 45), 7),
    ("27before", "deg BTDC", (-180, 180), 27),
    ("27 before", "deg BTDC", (-180, 180), 27),
    ("3 ATDC", "deg BTDC", (-10, 45), -3),
    ("50 ABDC", "deg ABDC", (-60, 150), 50),
    ("5 deg before top dead centre", "deg ATDC", (-60, 150), -5),
    ("28 1/2", "deg BTDC", (-40, 100), 28.5),
    ("28\N{VULGAR FRACTION ONE HALF}", "deg BTDC", (-40, 100), 28.5),
    ("\N{MINUS SIGN}4", "deg BTDC", (-10, 45), -4),
    ("+4,25", "deg BTDC", (-10, 45), 4.25),
    ("\N{EN DASH}4", "deg BTDC", (-10, 45), -4),
    (" \N{NO-BREAK SPACE}12\N{THIN SPACE}deg ", "deg", (-10, 45), 12),
    ("5 %", "percent", (0, 100), 5),
    ("0,125", "deg", (0, 1000), 0.125),
    ("1.450", "", (-inf, inf), 1.45),
    ("1e3", "rpm", (200, 2500), 1000),
]


@pytest.mark.parametrize(("text", "unit", "span", "meant"), PLAIN)
def test_a_number_is_read_as_people_write_it(
    text: str, unit: str, span: tuple[float, float], meant: float
) -> None:
    assert number(text, unit=unit, low=span[0], high=span[1]) == meant


@pytest.mark.parametrize(
    ("text", "dimension", "span", "meant"),
    [
        ('3 3/4"', "length", (30, 250), 95.25),
        ("3-3/4 in", "length", (30, 250), 95.25),
        ("3\N{VULGAR FRACTION THREE QUARTERS} in", "length", (30, 250), 95.25),
        ("7/16 in", "length", (2, 25), 11.1125),
        ("3,75 in", "length", (30, 250), 95.25),
        ("3,750 in", "length", (30, 250), 95.25),
        ("1,450.5 m", "altitude", (-450, 5500), 1450.5),
        ("12 450 ft", "altitude", (-450, 5500), 3794.76),
        ("0,7 ohm", "resistance", (0, 10), 0.7),
        ("13,8V", "voltage", (5, 30), 13.8),
        ('6"', "pressure", (0, 100), 6 * INHG_KPA),
        ("12 inHg", "pressure", (0, 100), 12 * INHG_KPA),
    ],
)
def test_a_quantity_is_read_as_people_write_it(
    text: str, dimension: str, span: tuple[float, float], meant: float
) -> None:
    """Inch and foot: international agreement of 1959."""
    assert quantity(text, dimension, low=span[0], high=span[1]) == pytest.approx(meant, rel=2e-7)


@pytest.mark.parametrize(
    ("text", "unit", "span", "said"),
    [
        ("2,000", "rpm", (0, 8000), 'x = "2,000": could be 2 or 2000; write 2000 or 2.0'),
        (
            "1,234 rpm",
            "rpm",
            (0, 8000),
            'x = "1,234 rpm": could be 1.234 rpm or 1234 rpm; write 1234 rpm or 1.234 rpm',
        ),
        ("-2,000", "us", (-9000, 9000), 'x = "-2,000": could be -2 or -2000; write -2000 or -2.0'),
        ("850 deg", "rpm", (200, 2500), 'x = "850 deg": must be a number of rpm'),
        ("fast", "rpm", (200, 2500), 'x = "fast": must be a number of rpm'),
        ("nine", "to 1", (3, 16), 'x = "nine": must be a number'),
        ("12,3,4", "", (0, 9), 'x = "12,3,4": must be a number'),
        ("1/0", "", (0, 9), 'x = "1/0": must be a number'),
        ("3 4", "", (0, 99), 'x = "3 4": must be a number'),
        ("nan", "", (0, 9), 'x = "nan": must be a number'),
        ("1_0", "", (0, 99), 'x = "1_0": must be a number'),
        ("", "", (0, 9), 'x = "": must be a number'),
        (
            "-7 BTDC",
            "deg BTDC",
            (-10, 45),
            'x = "-7 BTDC": must not have both a minus and a side; write one of the two',
        ),
        (
            "\N{FULLWIDTH DIGIT SEVEN}",
            "",
            (0, 9),
            'x = "\N{FULLWIDTH DIGIT SEVEN}": must be written with the figures 0 to 9; '
            '"\N{FULLWIDTH DIGIT SEVEN}" is of another script',
        ),
        ("9" * 300, "", (0, 9), f'x = "{"9" * 60}...": must be a number'),
    ],
)
def test_what_stays_open_is_refused_with_both_readings_named(
    text: str, unit: str, span: tuple[float, float], said: str
) -> None:
    with pytest.raises(Refusal) as refusal:
        number(text, unit=unit, low=span[0], high=span[1], field="x")
    assert str(refusal.value) == said


@pytest.mark.parametrize(
    ("text", "each"),
    [
        ("18436572", [1, 8, 4, 3, 6, 5, 7, 2]),
        ("1-8-4-3-6-5-7-2", [1, 8, 4, 3, 6, 5, 7, 2]),
        ("1 8 4 3 6 5 7 2", [1, 8, 4, 3, 6, 5, 7, 2]),
        ("1,8,4,3,6,5,7,2", [1, 8, 4, 3, 6, 5, 7, 2]),
        ("153624", [1, 5, 3, 6, 2, 4]),
    ],
)
def test_a_firing_order_is_read_as_it_stands_on_the_manifold(text: str, each: list[int]) -> None:
    assert typed(field_kind_for("engine.firing_order"), text) == each
    cylinders = len(each)
    order = PUMP_HOUSE.changed("distributor", cap_order=None).changed("plugs", leads_adjacent=[])
    layout = "v" if cylinders == 8 else "inline"
    changed = order.changed(
        "engine", cylinders=cylinders, layout=layout, bank_numbering=None, firing_order=text
    )
    assert list(changed.engine.firing_order) == each


def test_an_order_in_one_run_of_figures_holds_each_cylinder_once() -> None:
    with pytest.raises(Refusal, match="must hold each cylinder once; twice: 1, missing: 8"):
        PUMP_HOUSE.changed("engine", firing_order="11436572")


def test_a_list_of_speeds_may_have_commas_in_its_thousands() -> None:
    speeds = field_kind_for("controller.rpm")
    assert typed(speeds, "600, 1,000, 1,500 rpm", "rpm") == [600, 1000, 1500]
    assert typed(speeds, "600,1000,1500", "rpm") == [600, 1000, 1500]
    assert parted("0,9 1,05", negative=True) == ["0,9", "1,05"]


def test_a_curve_may_have_decimal_commas_and_thousands() -> None:
    curve = field_kind_for("old_curve.mechanical")
    assert typed(curve, "700 0\n1800 14,5 deg") == [[700, 0], [1800, 14.5]]
    assert typed(curve, "700,0\n1800,14") == [[700, 0], [1800, 14]]
    with pytest.raises(Refusal) as refused:
        typed(curve, "700 0\n1,800 14")
    (problem,) = refused.value.problems
    assert (problem.must, problem.do) == ("could be 1.8 or 1800", "write 1800 or 1.8")
    assert typed(field_kind_for("old_curve.vacuum"), '6" 0\n12,5 inHg 14') == [['6"', 0], ["12,5 inHg", 14]]


@pytest.mark.parametrize(
    ("section", "key", "text", "value"),
    [
        ("engine", "compression_ratio", "9.8:1", 9.8),
        ("engine", "compression_ratio", "9.8 to 1", 9.8),
        ("engine", "idle_rpm", "850 rpm", 850),
        ("engine", "redline_rpm", "5,800", 5800),
        ("fuel", "aki", "93 AKI", 93),
        ("distributor", "base_deg", "7 BTDC", 7),
        ("cam", "intake_lift", "7/16 in", 11.1125),
    ],
)
def test_a_job_file_and_a_page_read_a_value_alike(section: str, key: str, text: str, value: float) -> None:
    job = PUMP_HOUSE.changed("fuel", ron=None, mon=None, aki=90) if key == "aki" else PUMP_HOUSE
    part = getattr(job.changed(section, **{key: text}), section)
    attribute = next(name for name in type(part).model_fields if part.key(name) == key)
    assert getattr(part, attribute) == value
    name = f"{section}.{key}"
    held = typed(field_kind_for(name), text, unit_of_key(name))
    assert held == (text if isinstance(held, str) else value)


def test_a_speed_of_2_000_at_the_light_is_two_thousand() -> None:
    reading = checked_reading({"commanded_deg": "30 BTDC", "speed_rpm": "2,000 rpm", "seen_deg": "28 1/2"})
    assert (reading.commanded_deg, reading.speed_rpm, reading.seen_deg) == (30.0, 2000.0, 28.5)


# Loads


@pytest.mark.parametrize(
    ("text", "kpa"),
    [
        ("57", 57.0),
        ("57 kPa", 57.0),
        ("570 hPa", 57.0),
        ("12 inHg vacuum", 101.3 - 12 * INHG_KPA),
        ('12" vacuum', 101.3 - 12 * INHG_KPA),
        ("12 inHg vac", 101.3 - 12 * INHG_KPA),
        ("40 kPa vacuum", 61.3),
        ("12 inHg absolute", 12 * INHG_KPA),
        ("29 inHg", 29 * INHG_KPA),
        ("2 psi", 101.3 + 2 * 6.894757),
        ("8 psi boost", 101.3 + 8 * 6.894757),
    ],
)
def test_a_load_says_what_it_is_measured_from(text: str, kpa: float) -> None:
    assert load_kpa(text, 101.3, low=15, high=400) == pytest.approx(kpa, rel=1e-6)


def test_an_idle_of_12_inhg_is_asked_whether_it_is_vacuum() -> None:
    """101.325 kPa at sea level (ISO 2533); 12 of 3.386389 kPa are 40.6, and 60.7 are left."""
    at_sea = PUMP_HOUSE.changed("site", altitude="0 m", pressure=None)
    with pytest.raises(Refusal) as refusal:
        at_sea.changed("engine", idle_kpa="12 inHg")
    assert str(refusal.value) == (
        'engine.idle_kpa = "12 inHg": could be 40.6 kPa absolute, or 12 inHg of vacuum, which is 60.7 kPa '
        'absolute here; write "12 inHg absolute" or "12 inHg vacuum"'
    )
    assert at_sea.changed("engine", idle_kpa="12 inHg vacuum").engine.idle_kpa == pytest.approx(
        60.688, abs=1e-3
    )
    assert at_sea.changed("engine", idle_kpa="12 inHg absolute").engine.idle_kpa == pytest.approx(
        40.637, abs=1e-3
    )


def test_vacuum_counts_from_the_air_of_the_site() -> None:
    high = PUMP_HOUSE.changed("site", altitude=None, pressure="85 kPa")
    assert high.changed("engine", idle_kpa="12 inHg vacuum").engine.idle_kpa == pytest.approx(
        44.363, abs=1e-3
    )
    again = Job.from_toml(high.changed("engine", idle_kpa="12 inHg vacuum").to_toml())
    assert again.engine.idle_kpa == pytest.approx(44.363, abs=1e-3)


def test_a_page_takes_vacuum_against_the_site_as_it_is_typed() -> None:
    form = {"engine.idle_kpa": "12 inHg vacuum", "site.altitude": "", "site.pressure": "85 kPa"}
    filled = fill(form, PUMP_HOUSE.facts())
    assert filled.job is not None
    assert filled.job.engine.idle_kpa == pytest.approx(44.363, abs=1e-3)
    refused = fill(form | {"engine.idle_kpa": "12 inHg"}, PUMP_HOUSE.facts())
    assert refused.problems["engine.idle_kpa"] == (
        "“12 inHg” could be 40.6 kPa absolute, or 12 inHg of vacuum, which is 44.4 kPa absolute here; "
        'write "12 inHg absolute" or "12 inHg vacuum".'
    )


def test_vacuum_without_a_site_is_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        load_kpa("12 inHg vacuum", None)
    assert str(refusal.value) == (
        'load = "12 inHg vacuum": must be absolute where the air at the site isn\'t known; state it in kPa'
    )


def test_an_old_curve_of_bare_inhg_stays_as_it_is() -> None:
    assert PUMP_HOUSE.old_curve is not None
    assert PUMP_HOUSE.old_curve.vacuum is not None
    assert PUMP_HOUSE.old_curve.vacuum[0][0] == pytest.approx(5 * INHG_KPA, rel=1e-6)


# Any text, and what the program writes itself

STRANGE = "\N{NO-BREAK SPACE}\N{VULGAR FRACTION ONE HALF}\N{ARABIC-INDIC DIGIT TWO}\N{SUPERSCRIPT TWO}"
LETTERS = "0123456789.,/-+ eE:'\"inHgkPaBTDCrpm" + STRANGE
ANY_TEXT = st.text(max_size=30) | st.text(alphabet=LETTERS, max_size=30)


@given(text=ANY_TEXT, unit=st.sampled_from(["", "rpm", "deg BTDC", "to 1", "percent"]))
def test_any_text_is_a_number_or_refused(text: str, unit: str) -> None:
    outcome = read_or_said(lambda: number(text, unit=unit, low=0, high=5000))
    assert outcome in (True, "must", "could")


@given(text=ANY_TEXT)
def test_any_text_is_a_load_a_quantity_a_list_or_refused(text: str) -> None:
    assert read_or_said(lambda: load_kpa(text, 100.0, low=10, high=400)) in (True, "must", "has", "could")
    assert read_or_said(lambda: quantity(text, "length", low=0, high=9)) in (True, "must", "has", "could")
    assert all(parted(text, figures=True))


def read_or_said(read: Callable[[], float]) -> bool | str:
    """Whether a finite number was read; the first word of what was said where none was."""
    try:
        return isfinite(read())
    except Refusal as refusal:
        return str(refusal.problems[0].must).split()[0]


@given(value=st.integers(1000, 12000) | st.integers(1, 999))
def test_a_grouped_speed_that_the_program_prints_reads_back(value: int) -> None:
    printed = f"{value:,} rpm"
    low, high = (1000, 12000) if value >= 1000 else (1, 999)
    assert number(printed, unit="rpm", low=low, high=high) == value


@given(value=st.floats(-1e6, 1e6, allow_nan=False))
def test_a_float_that_the_program_writes_reads_back_to_the_last_digit(value: float) -> None:
    assert number(repr(value)) == value
    assert quantity(f"{value!r} mm", "length") == value


@given(whole=st.integers(0, 99), top=st.integers(1, 63), bottom=st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_of_a_rule_is_exact(whole: int, top: int, bottom: int) -> None:
    assert number(f"{whole} {top}/{bottom}") == float(whole + Fraction(top, bottom))


@pytest.mark.parametrize("unit", ["9", " ", ",", "9,", "-", "9 ", "e9", "/", "1/"])
def test_a_long_row_of_anything_is_refused_at_once(unit: str) -> None:
    """A change alarm: reading is linear, some ms for 100,000 letters; tried twice in another way: hours."""
    started_s = time.perf_counter()
    with pytest.raises(Refusal):
        number(unit * 100_000 + "x")
    with pytest.raises(Refusal):
        quantity(unit * 100_000 + "x", "length")
    parted(unit * 100_000, negative=True)
    assert time.perf_counter() - started_s < 2.0
