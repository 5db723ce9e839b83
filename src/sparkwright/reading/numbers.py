"""The one reader of numbers as people write them, for every field, option, file and table.

The rule for commas and points:

- A point alone is the decimal point: `1.450` is 1.45.
- A comma alone is a decimal comma, `9,8`, unless exactly three figures follow it and one to three, not
  starting with 0, stand before it. Then it may part thousands as well: `2,000` is 2 to one reader and 2000 to
  the next. Where the field takes only one of the two, that one is meant: 2000 as the speed of an engine,
  3.921 as its bore, `"3,921 in"`. Where it takes both, the number is refused with both named.
- Several commas, or several points, part thousands: `1,234,567`. Where both stand, the last is the decimal
  mark and the others part thousands: `1,234.5`, `1.234,5`. So do spaces: `5 800`.

Fractions are read as they stand on a rule: `3 3/4`, `3-3/4`, `7/16`. Look-alikes of minus and space are taken
for them. What stands behind a plain number must be the unit that its field has, `850 rpm`, `93 AKI`, `9.8:1`,
or the side of dead centre, `7 BTDC`, `3 after`. The time to read is proportional to the length of the text.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import inf

from sparkwright import units
from sparkwright.errors import Refusal

MOST_LETTERS = 200
"""Letters that one number with its unit may have."""

# Minus, space, inch, micro and ohm have look-alikes; one of each is enough below.
_LOOK_ALIKES = str.maketrans(
    {
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{NON-BREAKING HYPHEN}": "-",
        "\N{NO-BREAK SPACE}": " ",
        "\N{THIN SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
        "\N{FIGURE SPACE}": " ",
        "\N{DOUBLE PRIME}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{GREEK SMALL LETTER MU}": "\N{MICRO SIGN}",
        "\N{OHM SIGN}": "\N{GREEK CAPITAL LETTER OMEGA}",
        "\N{MASCULINE ORDINAL INDICATOR}": "\N{DEGREE SIGN}",
        "\N{FRACTION SLASH}": "/",
        "\N{VULGAR FRACTION ONE QUARTER}": " 1/4",
        "\N{VULGAR FRACTION ONE HALF}": " 1/2",
        "\N{VULGAR FRACTION THREE QUARTERS}": " 3/4",
        "\N{VULGAR FRACTION ONE EIGHTH}": " 1/8",
        "\N{VULGAR FRACTION THREE EIGHTHS}": " 3/8",
        "\N{VULGAR FRACTION FIVE EIGHTHS}": " 5/8",
        "\N{VULGAR FRACTION SEVEN EIGHTHS}": " 7/8",
    }
)

# Few figures, and few of an exponent, are more than this trade needs, and keep the exact fraction small.
# Nothing is tried twice (`++`) but a few figures at a time.
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)[ \t]*+"
    r"(?:(?:(?P<whole>[0-9]{1,6})(?:[ \t]++|-))?(?P<top>[0-9]{1,6})/(?P<bottom>[0-9]{1,6})(?![0-9.,/])"
    r"|(?P<figures>(?:[0-9]{1,3}(?:\x20[0-9]{3})++(?![0-9])|[0-9]++|(?=[.,][0-9]))(?:[.,][0-9]++)*+[.,]?+)"
    r"(?P<exponent>[eE](?:\+?[0-9]{1,2}|-[0-9]{1,3})(?![0-9]))?+)"
)
_MORE_FIGURES = re.compile(r"[ \t]*+(?!1/min)(?:[eE][+-]?)?[0-9]")
_MOST_FIGURES = 40
_MOST_SHOWN = 60
_BLANKS = " \t\r\n"
"""What may stand around a number; a character that doesn't print is none of it."""

_DEGREES = ("deg", "\N{DEGREE SIGN}", "degree", "degrees", "crank deg")


def _sides(before: tuple[str, ...], after: tuple[str, ...]) -> dict[str, int]:
    """Give the endings of an angle that counts one side of a dead centre as positive."""
    found = dict.fromkeys(_DEGREES, 0)
    for words, sign in ((before, 1), (after, -1)):
        for word in words:
            found |= {word: sign} | {f"{degrees} {word}": sign for degrees in _DEGREES}
    return found


_BTDC = ("before", "btdc", "before tdc", "before top", "before top dead centre")
_ATDC = ("after", "atdc", "after tdc", "after top", "after top dead centre")
_BBDC = ("before", "bbdc", "before bdc", "before bottom", "before bottom dead centre")
_ABDC = ("after", "abdc", "after bdc", "after bottom", "after bottom dead centre")

SIDES = dict.fromkeys(_BTDC, 1) | dict.fromkeys(_ATDC, -1)
"""How a person names the side of top dead centre, in small letters: before counts positive."""

ENDINGS: dict[str, dict[str, int]] = {
    "": {},
    "rpm": dict.fromkeys(("rpm", "r/min", "1/min", "rev/min"), 0),
    "deg": dict.fromkeys(_DEGREES, 0),
    "deg BTDC": _sides(_BTDC, _ATDC),
    "deg ATDC": _sides(_ATDC, _BTDC),
    "deg BBDC": _sides(_BBDC, _ABDC),
    "deg ABDC": _sides(_ABDC, _BBDC),
    "percent": dict.fromkeys(("percent", "%", "per cent"), 0),
    "us": dict.fromkeys(("us", "\N{MICRO SIGN}s"), 0),
    "V": {"v": 0},
    "kPa": {"kpa": 0},
    "RON": {"ron": 0, "octane": 0},
    "MON": {"mon": 0, "octane": 0},
    "AKI": {"aki": 0, "(r+m)/2": 0, "octane": 0},
    "to 1": dict.fromkeys((":1", ": 1", "to 1", "to one"), 0),
}
"""What may stand behind a plain number, by the unit of its field: in small letters, with the sign that a side
of dead centre gives, 0 where it names none."""


@dataclass(frozen=True)
class Found:
    """What a text begins with: all that the number can be, thousands first, and what stands behind it."""

    readings: tuple[Fraction, ...]
    rest: str


def tidy(text: str) -> str:
    """Give a text with one form of minus, space, inch and micro, and no space around it.

    Parameters
    ----------
    text : str
        What was typed.

    Examples
    --------
    >>> tidy(" \N{MINUS SIGN}3\N{NO-BREAK SPACE}\N{VULGAR FRACTION ONE HALF}\N{DOUBLE PRIME} ")
    '-3  1/2"'
    """
    return text.translate(_LOOK_ALIKES).strip(_BLANKS)


def number(
    text: str, *, unit: str = "", low: float = -inf, high: float = inf, field: str = "number", do: str = ""
) -> float:
    """Read a plain number, with or without the unit that its field has.

    Parameters
    ----------
    text : str
        What was typed.
    unit : str
        A key of `ENDINGS`: what may stand behind the number.
    low, high : float
        What the field takes. It decides between two readings, and refuses nothing else.
    field : str
        What to call it when it has to be refused.
    do : str
        What to do where it is no number.

    Returns
    -------
    float
        The number; negative on the side of dead centre that the field counts as negative.

    Raises
    ------
    Refusal
        If it is no number, has another unit, or can be read in two ways that the field takes both.

    Examples
    --------
    >>> number("5,800 rpm", unit="rpm", low=1000, high=12000), number("9,8 to 1", unit="to 1")
    (5800.0, 9.8)
    >>> number("28 1/2"), number("3 ATDC", unit="deg BTDC")
    (28.5, -3.0)
    >>> number("2,000", low=0, high=8000, field="boost_from_rpm")
    Traceback (most recent call last):
    ...
    sparkwright.errors.Refusal: boost_from_rpm = "2,000": could be 2 or 2000; write 2000 or 2.0
    """
    found = found_in(text, field)
    side = None if found is None else ENDINGS[unit].get(found.rest.lower(), None if found.rest else 0)
    if found is None or side is None:
        of = "" if unit in ("", "to 1") else f" of {unit.split()[0]}"
        raise Refusal.at(field, shown(text), f"must be a number{of}", do)
    if side and found.readings[0] < 0:
        raise Refusal.at(field, shown(text), "must not have both a minus and a side", "write one of the two")
    values = [float((side or 1) * each) for each in found.readings]
    return _the_one_taken(found, values, (low, high), field, text)


def number_or_none(text: str, *, unit: str = "", low: float = -inf, high: float = inf) -> float | None:
    """Read a number as `number` does; None where it can't be read, or not in one way.

    Parameters
    ----------
    text : str
        What was typed.
    unit : str
        Unit that may stand behind it.
    low, high : float
        Where the number can lie; it decides how a comma is read.

    Examples
    --------
    >>> number_or_none("kPa by rpm"), number_or_none("1,200", low=100, high=12000)
    (None, 1200.0)
    """
    try:
        return number(text, unit=unit, low=low, high=high)
    except Refusal:
        return None


def quantity(
    text: object,
    dimension: str,
    *,
    into: str = "",
    field: str = "quantity",
    low: float = -inf,
    high: float = inf,
) -> float:
    """Read a number and its unit.

    Parameters
    ----------
    text : object
        What was typed: `"3.75 in"`, with or without the space. The case of a unit counts, as it does in SI.
    dimension : str
        A key of `units.DIMENSIONS`: `"length"`, `"pressure"` ...
    into : str
        Name of the unit of the result; the dimension's inside unit when empty.
    field : str
        What to call it when it has to be refused.
    low, high : float
        What the field takes, in the unit of the result. It decides between two readings, and refuses nothing.

    Returns
    -------
    float
        The value in the unit asked for, rounded once.

    Raises
    ------
    Refusal
        If there is no number, no unit, a unit that this dimension doesn't have, or if it can be read in two
        ways that the field takes both.

    Examples
    --------
    >>> quantity("3.75 in", "length"), quantity('3 3/4"', "length"), quantity("3,75in", "length")
    (95.25, 95.25, 95.25)
    >>> quantity("170 degF", "temperature"), quantity("9 kohm", "resistance", into="kohm")
    (76.66666666666667, 9.0)
    """
    kind = units.DIMENSIONS[dimension]
    write = f'write it as "{kind.example}"'.replace(", ", '", "').replace(" or ", '" or "')
    if not isinstance(text, str):
        raise Refusal.at(field, text, "must be a number with its unit, in quotes", write)
    found = found_in(text, field)
    if found is None:
        raise Refusal.at(field, shown(text), "must start with a number of ordinary size", write)
    if not found.rest:
        raise Refusal.at(field, shown(text), f"must have a unit: {', '.join(kind.names())}", write)
    unit = kind.find(found.rest)
    if unit is None:
        must = f'has no known unit of {dimension} ("{shortened(found.rest)}")'
        raise Refusal.at(field, shown(text), must, units.advice(kind, found.rest))
    values = [units.convert_exactly(each, kind, unit, into) for each in found.readings]
    return _the_one_taken(found, values, (low, high), field, text)


def parted(text: str, *, negative: bool = False, figures: bool = False) -> list[str]:
    """Part a list of numbers that a person typed, without reading them.

    Parameters
    ----------
    text : str
        Numbers parted by spaces, semicolons, brackets, or commas: a comma between two figures parts them only
        where nothing else does.
    negative : bool
        Whether the numbers can be negative; a hyphen parts those that can't: `1-5-7-2`.
    figures : bool
        Whether each number has one figure, so that a run of them is a list: `18436572`.

    Examples
    --------
    >>> parted("1-8-4-3-6-5-7-2"), parted("18436572", figures=True)[:3]
    (['1', '8', '4', '3', '6', '5', '7', '2'], ['1', '8', '4'])
    >>> parted("600, 1,000, 1,500"), parted("[600,1000,1500]"), parted("0,9 1,05")
    (['600', '1,000', '1,500'], ['600', '1000', '1500'], ['0,9', '1,05'])
    """
    marks = r"[\s;\[\]()]|,(?=\s|$)" if negative else r"[\s;\[\]()-]|,(?=\s|$)"
    parts = [part for part in re.split(marks, tidy(text)) if part]
    if len(parts) == 1 and "," in parts[0]:
        parts = [part for part in parts[0].split(",") if part]
    if figures and len(parts) == 1 and parts[0].isascii() and parts[0].isdecimal():
        return list(parts[0])
    return parts


def shown(text: str) -> str:
    """Give what was typed in quotes, cut to a readable length.

    Parameters
    ----------
    text : str
        What was typed.
    """
    return f'"{shortened(text)}"'


def shortened(text: str) -> str:
    """Cut a text to a readable length.

    Parameters
    ----------
    text : str
        What was typed.
    """
    return text if len(text) <= _MOST_SHOWN else f"{text[:_MOST_SHOWN]}..."


def found_in(text: str, field: str = "number") -> Found | None:
    """Take a number from the start of a text; None where there is none, or none of ordinary size.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        What a refusal calls it.

    Raises
    ------
    Refusal
        If it has figures of another script, which look like others or are as wide as two.
    """
    plain = tidy(text)
    if len(plain) > MOST_LETTERS:
        return None
    strange = next((each for each in plain if each.isdecimal() and not each.isascii()), "")
    if strange:
        raise Refusal.at(
            field, shown(text), "must be written with the figures 0 to 9", f'"{strange}" is of another script'
        )
    match = _NUMBER.match(plain)
    if match is None or _MORE_FIGURES.match(plain, match.end()):
        return None
    sign = -1 if match["sign"] == "-" else 1
    readings = _fractions(match) if match["bottom"] else _readings(match["figures"].replace(" ", ""))
    scale = Fraction(f"1{match['exponent'] or ''}")
    found = tuple(sign * each * scale for each in readings)
    return Found(found, re.sub(r"[ \t\r\n]++", " ", plain[match.end() :]).strip(" ")) if found else None


def _fractions(match: re.Match[str]) -> tuple[Fraction, ...]:
    """Give `3 3/4` as a number, nothing where it is divided by nothing."""
    top, bottom = int(match["top"]), int(match["bottom"])
    return (int(match["whole"] or 0) + Fraction(top, bottom),) if bottom else ()


def _readings(figures: str) -> tuple[Fraction, ...]:
    """Give what figures with commas and points can be, thousands first; nothing where they make no number."""
    points, commas = figures.count("."), figures.count(",")
    if len(figures) > _MOST_FIGURES:
        return ()
    if not commas and points <= 1:
        return (Fraction(figures),)
    if commas and points:
        decimal = "." if figures.rfind(".") > figures.rfind(",") else ","
        grouped, _, decimals = figures.rpartition(decimal)
        whole = _without_groups(grouped, "," if decimal == "." else ".")
        return () if whole is None else (Fraction(f"{whole}.{decimals}"),)
    thousands = _without_groups(figures, "," if commas else ".")
    as_thousands = () if thousands is None else (Fraction(thousands),)
    return (*as_thousands, Fraction(figures.replace(",", "."))) if commas == 1 else as_thousands


def _without_groups(figures: str, mark: str) -> str | None:
    """Give figures without the marks between their thousands; None where the groups are not of three."""
    first, *groups = figures.split(mark)
    right = 1 <= len(first) <= 3 and first[0] in "123456789" and all(len(group) == 3 for group in groups)
    joined = "".join((first, *groups))
    return joined if right and joined.isdecimal() else None


def _the_one_taken(
    found: Found, values: Sequence[float], span: tuple[float, float], field: str, text: str
) -> float:
    """Choose the value that the field takes; the first where it takes none, for its own refusal to name."""
    low, high = span
    taken = [value for value in values if low <= value <= high]
    if len(taken) == 1:
        return taken[0]
    if not taken or len(values) == 1:
        return values[0]
    unit = f" {found.rest}" if found.rest else ""
    thousands, decimal = (repr(float(each)).removesuffix(".0") for each in found.readings)
    point = decimal if "." in decimal else f"{decimal}.0"
    raise Refusal.at(
        field,
        shown(text),
        f"could be {decimal}{unit} or {thousands}{unit}",
        f"write {thousands}{unit} or {point}{unit}",
    )
