"""Units at the door, against pint (an independent unit library) and definitions in published standards."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparkwright import units
from sparkwright.errors import Refusal
from sparkwright.reading import quantity

REGISTRY: "pint.UnitRegistry[float]" = pint.UnitRegistry()

# The same units by pint's names. Both libraries take the conventional inch of mercury
# (13 595.1 kg/m3 under standard gravity; NIST SP 811, 2008, appendix B.8).
PINT_NAMES = {
    "um": "micrometer",
    "in": "inch",
    "ft": "foot",
    "thou": "thou",
    "inHg": "inch_Hg",
    "mmHg": "mmHg",
    "N m": "newton * meter",
    "lb-ft": "force_pound * foot",
    "lb-in": "force_pound * inch",
    "degC": "degC",
    "degF": "degF",
    "K": "kelvin",
    "mohm": "milliohm",
    "kohm": "kiloohm",
    "uH": "microhenry",
    "uF": "microfarad",
    "us": "microsecond",
    "km/h": "kilometer / hour",
    "mph": "mile / hour",
    "m/s": "meter / second",
}
EVERY_UNIT = [(dimension, unit.name) for dimension, kind in units.DIMENSIONS.items() for unit in kind.units]
EVERY_SPELLING = [
    (dimension, unit.name, also)
    for dimension, kind in units.DIMENSIONS.items()
    for unit in kind.units
    for also in unit.also
]
ORDINARY = st.floats(min_value=-1e6, max_value=1e6).map(lambda value: round(value, 6))


def by_pint(value: float, from_unit: str, to_unit: str) -> float:
    quantity = REGISTRY.Quantity(value, PINT_NAMES.get(from_unit, from_unit))
    return float(quantity.to(PINT_NAMES.get(to_unit, to_unit)).magnitude)


@pytest.mark.parametrize(("dimension", "unit"), EVERY_UNIT)
@pytest.mark.parametrize("number", ["0", "1", "-40", "123.456", "1e-3", "9.75e5"])
def test_parse_agrees_with_pint(dimension: str, unit: str, number: str) -> None:
    inside = units.DIMENSIONS[dimension].inside
    expected = by_pint(float(number), unit, inside)
    # pint chains float factors; a few units in the last place separate it from one exact rounding.
    assert quantity(f"{number} {unit}", dimension) == pytest.approx(expected, rel=1e-12, abs=1e-10)


@given(pair=st.sampled_from(EVERY_UNIT), value=ORDINARY)
@settings(max_examples=500)
def test_unit_in_unit_out(pair: tuple[str, str], value: float) -> None:
    dimension, unit = pair
    inside = quantity(f"{value!r} {unit}", dimension)
    back = units.convert(inside, dimension, units.DIMENSIONS[dimension].inside, unit)
    # Two roundings to a float, one of them before the offset of a temperature is taken off again.
    assert back == pytest.approx(value, rel=1e-14, abs=1e-12 if dimension != "temperature" else 2e-13)


@given(pair=st.sampled_from(EVERY_UNIT), value=ORDINARY)
@settings(max_examples=500)
def test_a_number_turned_is_the_number_typed_with_its_unit(pair: tuple[str, str], value: float) -> None:
    dimension, unit = pair
    inside = units.DIMENSIONS[dimension].inside
    assert units.convert(value, dimension, unit, inside) == quantity(f"{value!r} {unit}", dimension)


@pytest.mark.parametrize(
    ("value", "dimension", "unit", "into", "exact"),
    [
        (25.4, "length", "mm", "in", 1.0),
        (2.54, "length", "cm", "in", 1.0),
        (0.3048, "altitude", "m", "ft", 1.0),
        (0.45359237, "mass", "kg", "lb", 1.0),
        (101.325, "pressure", "kPa", "atm", 1.0),
        (37.8, "temperature", "degC", "degF", 100.04),
    ],
)
def test_what_is_one_by_definition_is_one(
    value: float, dimension: str, unit: str, into: str, exact: float
) -> None:
    """Definitions of inch, foot and pound (1959), of the atmosphere; 37.8 degC are 100.04 degF by head."""
    assert units.convert(value, dimension, unit, into) == exact


@pytest.mark.parametrize(("dimension", "name", "also"), EVERY_SPELLING)
def test_other_spellings_mean_the_same_unit(dimension: str, name: str, also: str) -> None:
    assert quantity(f"7 {also}", dimension) == quantity(f"7 {name}", dimension)


def test_no_spelling_stands_for_two_units() -> None:
    for kind in units.DIMENSIONS.values():
        spellings = [text for unit in kind.units for text in (unit.name, *unit.also)]
        assert len(spellings) == len(set(spellings))


@pytest.mark.parametrize(
    ("text", "dimension", "expected", "source"),
    [
        ("1 in", "length", 25.4, "yard and pound agreement, 1959"),
        ("1 ft", "altitude", 0.3048, "yard and pound agreement, 1959"),
        ("1 atm", "pressure", 101.325, "10th CGPM, resolution 4, 1954"),
        ("1 psi", "pressure", 6.894757, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("1 inHg", "pressure", 3.386389, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("1 mmHg", "pressure", 0.1333224, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("1 lb-ft", "torque", 1.355818, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("1 lb-in", "torque", 0.1129848, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("1 mph", "speed", 1.609344, "NIST SP 811 (2008), appendix B.8, exact"),
        ("1 oz", "mass", 0.02834952, "NIST SP 811 (2008), appendix B.8, 7 digits"),
        ("32 degF", "temperature", 0.0, "melting ice, by definition of the scale"),
        ("212 degF", "temperature", 100.0, "boiling water, by definition of the scale"),
        ("-40 degF", "temperature", -40.0, "where both scales meet"),
        ("0 K", "temperature", -273.15, "SI Brochure (2019), section 2.3.1"),
    ],
)
def test_published_definitions(text: str, dimension: str, expected: float, source: str) -> None:
    # Half a unit in the seventh digit printed.
    assert quantity(text, dimension) == pytest.approx(expected, rel=5e-7, abs=1e-13), source


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [("3.75 in", 95.25), ("3.75in", 95.25), ('3.75"', 95.25), ("3.75 inches", 95.25), ("95.25 mm", 95.25)],
)
def test_one_length_however_written_is_one_float(text: str, expected_mm: float) -> None:
    assert quantity(text, "length") == expected_mm


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        (" 170°F ", "temperature", quantity("170 degF", "temperature")),
        ("0.7 Ω", "resistance", 0.7),
        ("1 μF", "capacitance", 1.0),
        ("\u221240 degC", "temperature", -40.0),
        ("+5. V", "voltage", 5.0),
        (".5 V", "voltage", 0.5),
        ("29.6 in  Hg", "pressure", quantity("29.6 inHg", "pressure")),
    ],
)
def test_look_alike_characters_and_loose_spacing(text: str, dimension: str, expected: float) -> None:
    assert quantity(text, dimension) == expected


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        (
            "95.25",
            "length",
            'quantity = "95.25": must have a unit: mm, cm, m, um, in, thou, ft; '
            'write it as "95.25 mm" or "3.75 in"',
        ),
        (
            "1,450 m",
            "altitude",
            'quantity = "1,450 m": could be 1.45 m or 1450 m; write 1450 m or 1.45 m',
        ),
        (
            "4 KPA",
            "pressure",
            'quantity = "4 KPA": has no known unit of pressure ("KPA"); '
            "perhaps kPa; known are kPa, Pa, hPa, mbar, bar, psi, inHg, mmHg, atm",
        ),
        (
            "3 furlongs",
            "length",
            'quantity = "3 furlongs": has no known unit of length ("furlongs"); '
            "known are mm, cm, m, um, in, thou, ft",
        ),
        (
            "in 4",
            "length",
            'quantity = "in 4": must start with a number of ordinary size; '
            'write it as "95.25 mm" or "3.75 in"',
        ),
        (
            "",
            "voltage",
            'quantity = "": must start with a number of ordinary size; write it as "13.8 V"',
        ),
        (
            "1e999 mm",
            "length",
            'quantity = "1e999 mm": must start with a number of ordinary size; '
            'write it as "95.25 mm" or "3.75 in"',
        ),
        (
            "nan mm",
            "length",
            'quantity = "nan mm": must start with a number of ordinary size; '
            'write it as "95.25 mm" or "3.75 in"',
        ),
        (
            4.0,
            "length",
            'quantity = 4.0: must be a number with its unit, in quotes; write it as "95.25 mm" or "3.75 in"',
        ),
    ],
)
def test_refusals_say_what_to_write(text: object, dimension: str, message: str) -> None:
    with pytest.raises(Refusal) as refusal:
        quantity(text, dimension)
    assert str(refusal.value) == message


def test_an_unknown_unit_to_convert_into_is_refused() -> None:
    with pytest.raises(Refusal) as refusal:
        units.convert(1.0, "length", "mm", "inc")
    assert str(refusal.value) == (
        'unit = "inc": must be a unit of this dimension; perhaps in; known are mm, cm, m, um, in, thou, ft'
    )


@given(text=st.text(max_size=30) | st.from_regex(r"[-+0-9.eE]{1,12} ?(mm|in|ft|x)", fullmatch=True))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    outcome = read_or_refusal(text)
    assert ("must" in outcome or "known" in outcome) if isinstance(outcome, str) else math.isfinite(outcome)


def read_or_refusal(text: str) -> float | str:
    try:
        return quantity(text, "length")
    except Refusal as refusal:
        return str(refusal)


@pytest.mark.parametrize(
    ("value", "dimension", "system", "expected"),
    [
        (95.25, "length", "metric", "95.25 mm"),
        (95.25, "length", "inch", "3.750 in"),
        (1450.0, "altitude", "metric", "1450 m"),
        (1450.0, "altitude", "inch", "4757 ft"),
        (68.947573, "pressure", "inch", "10.0 psi"),
        (100.0, "temperature", "inch", "212 degF"),
        (None, "pressure", "metric", "not determined"),
        (math.nan, "torque", "inch", "not determined"),
        (math.inf, "torque", "metric", "inf N m"),
    ],
)
def test_show(value: float | None, dimension: str, system: units.System, expected: str) -> None:
    assert units.show(value, dimension, system) == expected


def test_show_in_a_chosen_unit() -> None:
    assert units.show(101.325, "pressure", unit="inHg") == "29.9 inHg"
