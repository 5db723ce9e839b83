"""Units: what people write in becomes what the program computes in.

This is the only module that converts units; `reading` reads the texts. A quantity is a number and a unit,
`"3.75 in"`. The number is kept as an exact fraction until the one rounding to a float, so `"95.25 mm"` and
`"3.75 in"` give the same float. Definitions of the inch and the pound: international yard and pound agreement
of 1959. Standard gravity, SI prefixes, litre, bar: BIPM, The International System of Units (SI Brochure),
9th edition, 2019. Conventional inch of mercury: mercury of 13 595.1 kg/m3 under standard gravity (ISO 80000-4
and NIST SP 811, 2008, appendix B.8).
"""

import math
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from typing import Literal

from sparkwright.errors import Refusal

System = Literal["metric", "inch"]

INCH_MM = Fraction("25.4")
FOOT_M = Fraction("0.3048")
MILE_M = 5280 * FOOT_M
POUND_KG = Fraction("0.45359237")
STANDARD_GRAVITY = Fraction("9.80665")
POUND_FORCE_N = POUND_KG * STANDARD_GRAVITY
PSI_KPA = POUND_FORCE_N / (INCH_MM / 1000) ** 2 / 1000
MERCURY_DENSITY = Fraction("13595.1")
INCH_OF_MERCURY_KPA = MERCURY_DENSITY * STANDARD_GRAVITY * (INCH_MM / 1000) / 1000


@dataclass(frozen=True)
class Unit:
    """One unit of a dimension: `inside = (value + offset) * scale`."""

    name: str
    scale: Fraction
    offset: Fraction = Fraction(0)
    also: tuple[str, ...] = ()
    decimals: int = 1


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity: the unit used inside, the units people write, and what to show them."""

    inside: str
    units: tuple[Unit, ...]
    metric: str
    inch: str
    example: str

    def find(self, name: str) -> Unit | None:
        """Give the unit of that name or other spelling, or None.

        Parameters
        ----------
        name : str
            Name or other spelling, as typed.
        """
        for unit in self.units:
            if name == unit.name or name in unit.also:
                return unit
        return None

    def names(self) -> list[str]:
        """Give the names of all units, the first spelling of each."""
        return [unit.name for unit in self.units]


DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension(
        "mm",
        (
            Unit(
                "mm", Fraction(1), decimals=2, also=("millimetre", "millimetres", "millimeter", "millimeters")
            ),
            Unit("cm", Fraction(10), decimals=3),
            Unit("m", Fraction(1000), decimals=4),
            Unit("um", Fraction(1, 1000), decimals=0, also=("µm",)),
            Unit("in", INCH_MM, decimals=3, also=('"', "inch", "inches")),
            Unit("thou", INCH_MM / 1000, decimals=0),
            Unit("ft", FOOT_M * 1000, decimals=3, also=("foot", "feet")),
        ),
        "mm",
        "in",
        "95.25 mm or 3.75 in",
    ),
    "altitude": Dimension(
        "m",
        (
            Unit("m", Fraction(1), decimals=0, also=("metre", "metres", "meter", "meters")),
            Unit("km", Fraction(1000), decimals=3),
            Unit("ft", FOOT_M, decimals=0, also=("foot", "feet")),
        ),
        "m",
        "ft",
        "1450 m or 4760 ft",
    ),
    "pressure": Dimension(
        "kPa",
        (
            Unit("kPa", Fraction(1), decimals=1),
            Unit("Pa", Fraction(1, 1000), decimals=0),
            Unit("hPa", Fraction(1, 10), decimals=0),
            Unit("mbar", Fraction(1, 10), decimals=0),
            Unit("bar", Fraction(100), decimals=3),
            Unit("psi", PSI_KPA, decimals=1, also=("PSI", "lb/in2")),
            Unit("inHg", INCH_OF_MERCURY_KPA, decimals=1, also=("in Hg", "in.Hg", '"')),
            Unit("mmHg", INCH_OF_MERCURY_KPA / INCH_MM, decimals=0, also=("mm Hg",)),
            Unit("atm", Fraction("101.325"), decimals=3),
        ),
        "kPa",
        "psi",
        "70 kPa, 10 psi or 0.7 bar",
    ),
    "temperature": Dimension(
        "degC",
        (
            Unit("degC", Fraction(1), decimals=0, also=("C", "°C", "deg C")),
            Unit("degF", Fraction(5, 9), offset=Fraction(-32), decimals=0, also=("F", "°F", "deg F")),
            Unit("K", Fraction(1), offset=Fraction("-273.15"), decimals=1),
        ),
        "degC",
        "degF",
        "77 degC or 170 degF",
    ),
    "torque": Dimension(
        "N m",
        (
            Unit("N m", Fraction(1), decimals=1, also=("Nm", "N·m", "N.m", "N*m")),
            Unit("lb-ft", POUND_FORCE_N * FOOT_M, decimals=1, also=("lbf ft", "lb ft", "ft-lb", "ft lb")),
            Unit("lb-in", POUND_FORCE_N * INCH_MM / 1000, decimals=1, also=("lbf in", "lb in", "in-lb")),
        ),
        "N m",
        "lb-ft",
        "300 N m or 221 lb-ft",
    ),
    "angle": Dimension(
        "deg",
        (Unit("deg", Fraction(1), decimals=1, also=("°", "degree", "degrees")),),
        "deg",
        "deg",
        "10 deg",
    ),
    "voltage": Dimension(
        "V",
        (
            Unit("V", Fraction(1), decimals=1),
            Unit("mV", Fraction(1, 1000), decimals=0),
            Unit("kV", Fraction(1000), decimals=2),
        ),
        "V",
        "V",
        "13.8 V",
    ),
    "current": Dimension(
        "A",
        (Unit("A", Fraction(1), decimals=1), Unit("mA", Fraction(1, 1000), decimals=0)),
        "A",
        "A",
        "7 A",
    ),
    "resistance": Dimension(
        "ohm",
        (
            Unit("ohm", Fraction(1), decimals=2, also=("Ω", "ohms")),
            Unit("mohm", Fraction(1, 1000), decimals=0, also=("mΩ", "milliohm")),
            Unit("kohm", Fraction(1000), decimals=2, also=("kΩ", "kilohm")),
        ),
        "ohm",
        "ohm",
        "0.7 ohm",
    ),
    "inductance": Dimension(
        "mH",
        (
            Unit("mH", Fraction(1), decimals=2),
            Unit("uH", Fraction(1, 1000), decimals=0, also=("µH",)),
            Unit("H", Fraction(1000), decimals=3),
        ),
        "mH",
        "mH",
        "4 mH",
    ),
    "capacitance": Dimension(
        "uF",
        (
            Unit("uF", Fraction(1), decimals=2, also=("µF",)),
            Unit("nF", Fraction(1, 1000), decimals=1),
            Unit("pF", Fraction(1, 1_000_000), decimals=0),
        ),
        "uF",
        "uF",
        "1 uF or 80 pF",
    ),
    "energy": Dimension(
        "mJ",
        (Unit("mJ", Fraction(1), decimals=0), Unit("J", Fraction(1000), decimals=3)),
        "mJ",
        "mJ",
        "80 mJ",
    ),
    "power": Dimension(
        "W",
        (Unit("W", Fraction(1), decimals=0), Unit("kW", Fraction(1000), decimals=2)),
        "W",
        "W",
        "60 W",
    ),
    "mass": Dimension(
        "kg",
        (
            Unit("kg", Fraction(1), decimals=1),
            Unit("g", Fraction(1, 1000), decimals=0),
            Unit("lb", POUND_KG, decimals=1, also=("lbs", "pounds")),
            Unit("oz", POUND_KG / 16, decimals=1),
        ),
        "kg",
        "lb",
        "1500 kg or 3300 lb",
    ),
    "speed": Dimension(
        "km/h",
        (
            Unit("km/h", Fraction(1), decimals=0, also=("kph",)),
            Unit("mph", MILE_M / 1000, decimals=0),
            Unit("m/s", Fraction(36, 10), decimals=1),
        ),
        "km/h",
        "mph",
        "80 km/h or 50 mph",
    ),
    "time": Dimension(
        "ms",
        (
            Unit("ms", Fraction(1), decimals=2),
            Unit("us", Fraction(1, 1000), decimals=0, also=("µs",)),
            Unit("s", Fraction(1000), decimals=3),
        ),
        "ms",
        "ms",
        "3.5 ms",
    ),
}


def convert_exactly(value: Fraction, kind: Dimension, unit: Unit, into: str = "") -> float:
    """Turn an exact number in a unit into another of its dimension (else the inside one), rounded once.

    Parameters
    ----------
    value : Fraction
        The number.
    kind : Dimension
        What is measured.
    unit : Unit
        The unit that the number has.
    into : str
        Name of the unit wanted; that of the inside where not given.

    Examples
    --------
    >>> length = DIMENSIONS["length"]
    >>> convert_exactly(Fraction("3.75"), length, length.units[4])
    95.25
    """
    target = _known(kind, into or kind.inside)
    return float((value + unit.offset) * unit.scale / target.scale - target.offset)


def convert(value: float, dimension: str, from_unit: str, to_unit: str) -> float:
    """Turn a number in one unit of a dimension into another unit of it.

    The number counts as it is written, 25.4 and not the float next to it, and is rounded once.

    Parameters
    ----------
    value : float
        The number, in `from_unit`.
    dimension : str
        A key of `DIMENSIONS`.
    from_unit, to_unit : str
        Names of two units of that dimension.

    Returns
    -------
    float
        The number in `to_unit`; nan and infinities pass through.

    Examples
    --------
    >>> convert(100.0, "temperature", "degC", "degF"), convert(25.4, "length", "mm", "in")
    (212.0, 1.0)
    """
    if not math.isfinite(value):
        return value
    kind = DIMENSIONS[dimension]
    return convert_exactly(Fraction(str(float(value))), kind, _known(kind, from_unit), to_unit)


def show(value: float | None, dimension: str, system: System = "metric", *, unit: str = "") -> str:
    """Say a value of the inside unit for a person.

    Parameters
    ----------
    value : float or None
        In the dimension's inside unit (`DIMENSIONS[dimension].inside`); None or nan when unknown.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"metric", "inch"}
        Which units the person reads.
    unit : str
        A unit to use instead of the one of the system.

    Returns
    -------
    str
        The number with the decimals that suit the unit, and the unit; "not determined" when unknown.

    Examples
    --------
    >>> show(95.25, "length"), show(95.25, "length", "inch"), show(None, "length")
    ('95.25 mm', '3.750 in', 'not determined')
    """
    if value is None or math.isnan(value):
        return "not determined"
    kind = DIMENSIONS[dimension]
    chosen = _known(kind, unit or (kind.inch if system == "inch" else kind.metric))
    return f"{convert(value, dimension, kind.inside, chosen.name):.{chosen.decimals}f} {chosen.name}"


def show_span(low: float, high: float, dimension: str, unit: str, beside: str = "") -> str:
    """Say what is allowed, for people of either system: from where to where, and the same in other units.

    What stands in brackets is rounded inwards, so that both ends of it are allowed.

    Parameters
    ----------
    low, high : float
        Both ends, in `unit`.
    dimension : str
        A key of `DIMENSIONS`.
    unit : str
        Name of the unit in which the span is stated.
    beside : str
        Unit of the span in brackets; that of the other system when not given.

    Examples
    --------
    >>> show_span(30.0, 250.0, "length", "mm"), show_span(0.0, 8.0, "voltage", "V")
    ('30 mm to 250 mm (1.182 in to 9.842 in)', '0 V to 8 V')
    >>> show_span(50.0, 110.0, "pressure", "kPa", "inHg")
    '50 kPa to 110 kPa (14.8 inHg to 32.4 inHg)'
    """
    kind = DIMENSIONS[dimension]
    said = f"{low:g} {unit} to {high:g} {unit}"
    other = _known(kind, beside or {kind.metric: kind.inch, kind.inch: kind.metric}.get(unit, unit))
    if other.name == unit:
        return said
    fine = 10**other.decimals
    least = math.ceil(round(convert(low, dimension, unit, other.name) * fine, 6)) / fine
    most = math.floor(round(convert(high, dimension, unit, other.name) * fine, 6)) / fine
    ends = (f"{each:.{other.decimals}f} {other.name}" for each in (least, most))
    return f"{said} ({' to '.join(ends)})"


def show_both(value: float, dimension: str, form: str = "g") -> str:
    """Say a value of the inside unit for people of either system: metric, and in brackets in inch units.

    Parameters
    ----------
    value : float
        In the dimension's inside unit.
    dimension : str
        A key of `DIMENSIONS`.
    form : str
        How the number is written in the metric unit.

    Examples
    --------
    >>> show_both(95.25, "length"), show_both(38.14, "length", ".1f")
    ('95.25 mm (3.750 in)', '38.1 mm (1.502 in)')
    """
    kind = DIMENSIONS[dimension]
    metric = convert(value, dimension, kind.inside, kind.metric)
    return f"{metric:{form}} {kind.metric} ({show(value, dimension, 'inch')})"


def _known(kind: Dimension, name: str) -> Unit:
    unit = kind.find(name)
    if unit is None:
        raise Refusal.at("unit", f'"{name}"', "must be a unit of this dimension", advice(kind, name))
    return unit


def advice(kind: Dimension, name: str) -> str:
    """Say which unit was perhaps meant, and which there are.

    Parameters
    ----------
    kind : Dimension
        What is measured.
    name : str
        The unit that was typed.
    """
    spellings = {also.lower(): unit.name for unit in kind.units for also in (unit.name, *unit.also)}
    # Finding the nearest takes time with the square of the letters; no unit has this many.
    near = get_close_matches(name.lower(), spellings, n=1, cutoff=0.7) if len(name) <= 20 else []
    hint = f"perhaps {spellings[near[0]]}; " if near else ""
    return f"{hint}known are {', '.join(kind.names())}"
