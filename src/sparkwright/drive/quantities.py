"""What a channel of a log can be: its names, its units, and what it may read.

Words are trade words as anybody writes them, and those of SAE J1979; common practice, no source. A
quantity is measured in one unit inside, which its key names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from sparkwright import units

QuantityName = Literal[
    "time_s",
    "rpm",
    "map_kpa",
    "advance_deg",
    "commanded_deg",
    "throttle_percent",
    "speed_km_h",
    "mixture_lambda",
    "coolant_c",
    "intake_c",
    "battery_v",
    "dwell_ms",
    "dwell_asked_ms",
    "knock_level",
    "knock_retard_deg",
    "knock_mark",
    "idle_correction_deg",
    "trim_deg",
    "sync_losses",
    "barometer_kpa",
    "torque_nm",
]


@dataclass(frozen=True)
class Quantity:
    """One thing that a channel can be.

    Parameters
    ----------
    name : str
        Its key, with the unit inside.
    called : str
        What a person calls it.
    words : tuple of str
        Patterns of its name, in small letters with one space between words; the surest first.
    unit : str
        The unit inside, as a log's unit is written.
    dimension : str
        A key of `units.DIMENSIONS`, where its unit has others beside it; "" for a plain number.
    low, high : float
        What it may read; outside it the sensor or its wire is at fault, and the value is left out.
    """

    name: QuantityName
    called: str
    words: tuple[str, ...]
    unit: str
    dimension: str
    low: float
    high: float


QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "time_s",
        "time",
        (r"time|timestamp|zeit|temps|t|clock|elapsed( time)?|log time", r".*\btime( stamp)?\b.*"),
        "s",
        "",
        -1e12,
        1e15,
    ),
    Quantity(
        "rpm",
        "engine speed",
        (
            r"rpm|engine (speed|rpm)|speed rpm|n engine|drehzahl|motordrehzahl|regime( moteur)?|rev(s|"
            r"olutions)?",
            r".*\brpm\b.*|.*engine speed.*|.*drehzahl.*",
        ),
        "rpm",
        "",
        0.0,
        20000.0,
    ),
    Quantity(
        "map_kpa",
        "manifold pressure",
        (
            r"map|kpa|map (kpa|abs|absolute|sensor|pressure)|manifold( absolute)? pressure|"
            r"intake manifold( absolute)? pressure|load kpa|saugrohrdruck|ladedruck abs",
            r".*\bmap\b.*|.*manifold.*pressure.*|.*saugrohr.*",
            r"load|engine load|fuel load|ignition load",
        ),
        "kPa",
        "pressure",
        0.0,
        500.0,
    ),
    Quantity(
        "commanded_deg",
        "commanded advance",
        (
            r"commanded( advance| timing| deg)?|advance commanded|target (advance|timing|ignition)|"
            r"ignition target|advance target|spark target|timing target|table advance|advance table",
            r".*\b(commanded|cmd|target|demand|soll)\b.*\b(advance|timing|ignition|spark)\b.*|.*\b(advance|"
            r"timing|ignition|spark)\b.*\b(commanded|cmd|target|demand|table|soll)\b.*",
        ),
        "deg",
        "angle",
        -60.0,
        90.0,
    ),
    Quantity(
        "knock_retard_deg",
        "knock retard",
        (
            r"knock (retard|correction|pull)( deg)?|retard knock",
            r".*knock.*\b(retard|corr\w*|reduction|pull)\b.*|.*\bretard\b.*",
        ),
        "deg",
        "angle",
        -40.0,
        40.0,
    ),
    Quantity(
        "idle_correction_deg",
        "idle correction of the timing",
        (
            r"idle (advance|timing|ignition|spark)( correction| corr| deg)?|idle correction( deg)?",
            r".*\bidle\b.*\b(advance|timing|spark|ign\w*|corr\w*)\b.*",
        ),
        "deg",
        "angle",
        -40.0,
        40.0,
    ),
    Quantity(
        "trim_deg",
        "trims of the timing",
        (
            r"(timing|advance|ignition|spark) (trim|correction|corr|comp\w*)( deg)?|trim( deg)?",
            r".*\b(timing|advance|ignition|spark)\b.*\b(trim|corr\w*|comp\w*|adder|modifier)\b.*",
        ),
        "deg",
        "angle",
        -40.0,
        40.0,
    ),
    Quantity(
        "advance_deg",
        "advance",
        (
            r"advance( deg)?|timing( deg)?|ignition (advance|timing|angle)( deg)?|ign (advance|timing|"
            r"adv|angle)|spark( advance| timing| angle)?( deg)?|timing advance|zündwinkel|zuendwinkel|"
            r"avance",
            r".*\b(advance|timing|zündwinkel|avance)\b.*|.*\bspark\b.*\b(angle|adv)\b.*|"
            r".*\bign(ition)?\b.*\b(adv|angle)\b.*",
        ),
        "deg",
        "angle",
        -60.0,
        90.0,
    ),
    Quantity(
        "throttle_percent",
        "throttle",
        (
            r"tps|throttle( position| pos| percent)?|drosselklappe|pedal",
            r".*\b(tps|throttle)\b.*|.*drossel.*",
        ),
        "%",
        "",
        -20.0,
        120.0,
    ),
    Quantity(
        "speed_km_h",
        "road speed",
        (
            r"vss|(vehicle|road|gps|wheel) speed|speed( km h)?|geschwindigkeit|vitesse",
            r".*\b(vehicle|road|gps)\b.*speed.*",
        ),
        "km/h",
        "speed",
        0.0,
        400.0,
    ),
    Quantity(
        "mixture_lambda",
        "lambda",
        (
            r"(mixture )?lambda( 1| actual)?|afr( 1| actual)?|air fuel( ratio)?|equivalence ratio|λ",
            r".*\b(lambda|afr)\b.*",
        ),
        "lambda",
        "",
        0.4,
        3.0,
    ),
    Quantity(
        "coolant_c",
        "coolant temperature",
        (
            r"clt|ect|coolant( temp(erature)?)?( c)?|engine( coolant)? temp(erature)?|"
            r"kühlwasser(temperatur)?|water temp(erature)?",
            r".*\b(coolant|water)\b.*|.*\b(clt|ect)\b.*|.*kühl.*",
        ),
        "degC",
        "temperature",
        -60.0,
        200.0,
    ),
    Quantity(
        "intake_c",
        "air temperature",
        (
            r"iat|mat|act|(intake|inlet|manifold|charge)( air)? temp(erature)?|intake c|"
            r"air temp(erature)?|ansaugluft(temperatur)?",
            r".*\b(iat|intake|inlet|air)\b.*temp.*|.*\biat\b.*|.*ansaug.*temp.*",
        ),
        "degC",
        "temperature",
        -60.0,
        250.0,
    ),
    Quantity(
        "battery_v",
        "battery",
        (
            r"batt?(ery)?( v(olt(age|s)?)?)?|system voltage|vbat\w*|supply( voltage)?|bordspannung",
            r".*\b(batt?(ery)?|vbat\w*)\b.*|.*module voltage.*",
        ),
        "V",
        "voltage",
        0.0,
        60.0,
    ),
    Quantity(
        "dwell_asked_ms",
        "dwell asked for",
        (
            r"dwell (asked|target|wanted|commanded|requested)( ms)?|(target|commanded) dwell",
            r".*\bdwell\b.*\b(target|asked|wanted|table|request\w*)\b.*",
        ),
        "ms",
        "time",
        0.0,
        30.0,
    ),
    Quantity(
        "dwell_ms",
        "dwell",
        (r"(coil )?dwell( time| ms)?|schließzeit", r".*\bdwell\b.*"),
        "ms",
        "time",
        0.0,
        30.0,
    ),
    Quantity(
        "knock_mark",
        "marks of knock by ear",
        (r"(knock )?mark(er)?|event|button|knock heard|heard", r".*\b(marker|mark|button)\b.*"),
        "",
        "",
        0.0,
        1e6,
    ),
    Quantity(
        "knock_level",
        "knock level",
        (r"knock( level| sensor| voltage| v| signal)?|klopf\w*", r".*\bknock\b.*"),
        "",
        "",
        -10.0,
        1e6,
    ),
    Quantity(
        "sync_losses",
        "losses of sync",
        (
            r"sync( loss(es)?| errors?)?|(trigger|pickup|tooth|crank) (errors?|loss(es)?)|"
            r"loss(es)? of sync",
            r".*\b(sync|trigger|pickup|tooth)\b.*\b(loss|losses|error|errors|lost|count)\b.*",
        ),
        "",
        "",
        0.0,
        1e9,
    ),
    Quantity(
        "barometer_kpa",
        "air pressure",
        (
            r"baro(meter|metric)?( pressure| kpa)?|ambient pressure|atmospheric pressure|luftdruck",
            r".*\bbaro\w*\b.*",
        ),
        "kPa",
        "pressure",
        40.0,
        120.0,
    ),
    Quantity(
        "torque_nm",
        "torque",
        (r"(brake |engine )?torque( nm)?|drehmoment", r".*\btorque\b.*"),
        "N m",
        "torque",
        -2000.0,
        5000.0,
    ),
)
"""The more particular stands before the more general, since names are tried in this order."""

BY_NAME: dict[str, Quantity] = {each.name: each for each in QUANTITIES}

STOICH_AIR_FUEL = 14.7
"""Air over fuel by mass at lambda 1 of gasoline, by which gauges of air-fuel ratio count [-]; common
practice, no source."""

SPELT: dict[str, str] = {
    "rpm": "rpm",
    "1/min": "rpm",
    "r/min": "rpm",
    "rev/min": "rpm",
    "u/min": "rpm",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "msec": "ms",
    "\N{MICRO SIGN}s": "us",
    "\N{GREEK SMALL LETTER MU}s": "us",
    "minutes": "min",
    "hours": "h",
    "kpa": "kPa",
    "kpaa": "kPa",
    "kpa abs": "kPa",
    "pa": "Pa",
    "hpa": "hPa",
    "inhg": "inHg",
    "in hg": "inHg",
    "mmhg": "mmHg",
    "c": "degC",
    "\N{DEGREE SIGN}c": "degC",
    "deg c": "degC",
    "degc": "degC",
    "f": "degF",
    "\N{DEGREE SIGN}f": "degF",
    "deg f": "degF",
    "degf": "degF",
    "k": "K",
    "\N{DEGREE SIGN}": "deg",
    "degree": "deg",
    "degrees": "deg",
    "btdc": "deg",
    "deg btdc": "deg",
    "\N{DEGREE SIGN}btdc": "deg",
    "dbtdc": "deg",
    "deg_btdc": "deg",
    "\N{DEGREE SIGN}ca": "deg",
    "kph": "km/h",
    "kmh": "km/h",
    "v": "V",
    "volt": "V",
    "volts": "V",
    "mv": "mV",
    "percent": "%",
    "nm": "N m",
    "n\N{MIDDLE DOT}m": "N m",
    "lbft": "lb-ft",
    "lb ft": "lb-ft",
    "\N{GREEK SMALL LETTER LAMDA}": "lambda",
    "afr": "afr",
}
"""Units as logs write them, in small letters, and as they are called here."""

_PLAIN: dict[tuple[str, str], tuple[float, float]] = {
    ("mixture_lambda", "afr"): (1.0 / STOICH_AIR_FUEL, 0.0),
    ("rpm", "Hz"): (60.0, 0.0),
    ("rpm", "hz"): (60.0, 0.0),
    ("battery_v", "mV"): (1e-3, 0.0),
    ("time_s", "ms"): (1e-3, 0.0),
    ("time_s", "us"): (1e-6, 0.0),
    ("time_s", "min"): (60.0, 0.0),
    ("time_s", "h"): (3600.0, 0.0),
}


def spelt(unit: str) -> str:
    """Give a unit as it is called here.

    Parameters
    ----------
    unit : str
        Unit as a log writes it, in any case, such as "Deg C" or "RPM".

    Examples
    --------
    >>> spelt("1/min"), spelt("[kpa]"), spelt("mV")
    ('rpm', 'kPa', 'mV')
    """
    plain = unit.strip(" ()[]{}\"'").replace("_", " ")
    return SPELT.get(plain.lower(), plain)


def line_into(quantity: Quantity, unit: str) -> tuple[float, float] | None:
    """Give scale and offset that turn a unit into the one inside; None where it is not one of this quantity.

    Parameters
    ----------
    quantity : Quantity
        Quantity that the column holds, with the unit it has inside.
    unit : str
        Unit of the column, as `spelt` gives it.

    Examples
    --------
    >>> line_into(BY_NAME["coolant_c"], "degF") == (5 / 9, -32 * 5 / 9)
    True
    >>> line_into(BY_NAME["rpm"], "kPa") is None
    True
    """
    if not unit or unit == quantity.unit:
        return 1.0, 0.0
    if (quantity.name, unit) in _PLAIN:
        return _PLAIN[quantity.name, unit]
    if not quantity.dimension:
        return None
    kind = units.DIMENSIONS[quantity.dimension]
    found = kind.find(unit)
    if found is None:
        return None
    offset = units.convert_exactly(Fraction(0), kind, found, quantity.unit)
    return float(found.scale / _scale_of(kind, quantity.unit)), offset


def _scale_of(kind: units.Dimension, unit: str) -> Fraction:
    return next(each.scale for each in kind.units if each.name == unit)


_IN_BRACKETS = re.compile(r"^(?P<name>[^\[\](){}]+?)[\s_]*[\[({](?P<unit>[^\[\](){}]*)[\])}]\s*$")
_ENDING = re.compile(
    r"(?:[\s_.,]|^)(?P<unit>rpm|kpa|hpa|mbar|bar|psi|inhg|deg|degrees|deg_?c|deg_?f|ms|us|sec|s|percent|pct|%|v|mv"
    r"|nm|lbft|kmh|kph|mph|km[_ /]h|c|f|afr|lambda)$",
    re.IGNORECASE,
)
_ENDINGS_SPELT = {"pct": "%", "km h": "km/h", "km_h": "km/h"}


def parted_name(written: str, unit: str = "") -> tuple[str, str]:
    """Part a column's heading into its words, in small letters, and its unit; "" where it has none.

    Parameters
    ----------
    written : str
        Heading of the column as the file has it, perhaps with its unit in brackets.
    unit : str, optional
        Unit that the file states elsewhere, such as in a line of its own; "" for none.

    Examples
    --------
    >>> parted_name("Engine Speed (1/min)"), parted_name("coolantTemp_degF"), parted_name("MAP", "kPa")
    (('engine speed', 'rpm'), ('coolant temp', 'degF'), ('map', 'kPa'))
    """
    name = re.sub(r" #\d+$", "", written.strip())
    match = _IN_BRACKETS.match(name)
    if match:
        name, unit = match["name"], unit or match["unit"]
    ending = _ENDING.search(name)
    if ending:
        unit = unit or _ENDINGS_SPELT.get(ending["unit"].lower(), ending["unit"])
        name = name[: ending.start()] or name
    return words_of(name), spelt(unit)


def words_of(name: str) -> str:
    """Give a name as words in small letters, with one space between them.

    Parameters
    ----------
    name : str
        Name with capitals, underscores, points or blanks between its words.

    Examples
    --------
    >>> words_of("coolantTemp_C"), words_of("Engine-Speed.rpm")
    ('coolant temp c', 'engine speed rpm')
    """
    words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return " ".join(re.split(r"[\s_.:/()\[\]{}-]+", words)).strip().lower()
