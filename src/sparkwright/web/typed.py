"""What a person types in a field becomes what a job file holds, and back.

A form needs no quotes and no square brackets; points stand one a line. What is typed like the file is taken
as well. Numbers are read by `sparkwright.reading`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Any

from pydantic_core import PydanticCustomError

from sparkwright import units
from sparkwright.errors import Refusal
from sparkwright.job.field_kind import Choice, FieldKind, Number, Quantity, Text, YesNo
from sparkwright.job.list_kinds import Numbers, Pairs, Points
from sparkwright.job.rows_kind import Rows
from sparkwright.job.site_air import SiteAir
from sparkwright.reading import ENDINGS, number_or_none, parted, quantity, tidy
from sparkwright.units import System
from sparkwright.words.parts import load

YES, NO = "yes", "no"
NONE_OF_THEM = "none"

MOST_TEXT = 4000
"""Characters that a number, or a list of them, may take."""

MOST_SHOWN = 40

_BARE = re.compile(r"[-+]?[0-9]+(\.[0-9]+)?")
_DECIMAL = re.compile(r"[-+]?[0-9]*\.?[0-9]+[ ]*(.*)")


def typed(field_kind: FieldKind, text: str, unit: str = "", site: SiteAir | None = None) -> Any:
    """Turn what was typed into what the job file holds.

    Parameters
    ----------
    field_kind : FieldKind
        The kind of value.
    text : str
        What was typed.
    unit : str
        For a plain number: what may be typed behind it, as `unit_of_key` gives it.
    site : callable, optional
        Gives the air pressure at the site, for loads typed as vacuum or boost.

    Returns
    -------
    object
        As TOML holds it; None where nothing was typed.

    Raises
    ------
    Refusal
        Where it can't stand; its one problem names no place, which who asks knows.

    Examples
    --------
    >>> typed(Number(3, 16, ""), "9.25"), typed(Number(1000, 9000, ""), "5,800 rpm", "rpm")
    (9.25, '5,800 rpm')
    >>> typed(Numbers(Number(1, 8, "", whole=True), 4, 8), "1-5-7-2-6-3-4-8")
    [1, 5, 7, 2, 6, 3, 4, 8]
    """
    plain = text.strip()
    if not tidy(plain):
        return None
    if len(plain) > MOST_TEXT and not isinstance(field_kind, Text):
        raise Refusal.at("", plain, f"must be at most {MOST_TEXT:,} characters", f"it has {len(plain):,}")
    try:
        if isinstance(field_kind, Number):
            field_kind.read(plain, unit, site)
            return _number_as_typed(tidy(plain))
        if isinstance(field_kind, Numbers):
            return field_kind.write(field_kind.read(plain, unit, site))
        value = _value(field_kind, plain)
        field_kind.read(value)
    except PydanticCustomError as refusal:
        context = refusal.context or {}
        raise Refusal.at("", plain, context.get("must", ""), context.get("do", "")) from refusal
    return value


def _number_as_typed(text: str) -> float | str:
    """Give a bare number as one; with its unit, a fraction or a gauge's word behind it stays the text."""
    if not _BARE.fullmatch(text):
        return text
    return float(text) if "." in text else int(text)


def _value(field_kind: FieldKind, text: str) -> Any:
    match field_kind:
        case Points():
            return _points(field_kind, text)
        case Rows():
            return _rows(field_kind, text)
        case Pairs():
            return _pairs(text)
        case YesNo():
            return {YES: True, NO: False, "true": True, "false": False}.get(text.lower(), text)
        case Choice():
            return next((option for option in field_kind.options if str(option) == text), text)
        case Quantity():
            return tidy(text)
        case _:
            return text


def _rows(field_kind: Rows, text: str) -> list[list[Any]]:
    """Read a row a line, or rows in square brackets as a job file has them."""
    lines = [
        line for line in re.split(r"[\n;]", text.replace("[", ";").replace("]", ";")) if line.strip(", \t\r")
    ]
    rows = [parted(line.strip(", \t\r")) for line in lines]
    return field_kind.write(field_kind.read(rows))


def _points(field_kind: Points, text: str) -> list[list[Any]]:
    # Quotation marks around a text, as in a file, are none of it; one behind a number stands for inches.
    unquoted = re.sub(r"\"([^\";,\n]*)\"", r" \1 ", tidy(text))
    bare = re.sub(r"[()']", " ", unquoted.replace("[", ";").replace("]", ";"))
    lines = [line for line in re.split(r"[\n;]", bare) if line.strip(", \t\r")]
    points = [point for line in lines for point in _on_line(field_kind, line)]
    first, second = field_kind.first, field_kind.second
    return [
        [
            first.write(first.read(one, "rpm")) if isinstance(first, Number) else one,
            second.write(second.read(other, "deg")),
        ]
        for one, other in points
    ]


def _on_line(field_kind: Points, line: str) -> list[tuple[str, str]]:
    """Part a line into points: the last word is the second number, and what stands before it the first."""
    words = line.strip(", \t\r").split()
    if len(words) > 1 and words[-1].lower() in ("deg", "\N{DEGREE SIGN}"):
        words.pop()
    words = [word.rstrip(",:") for word in words]
    if len(words) == 1:
        words = re.split(r"[,:]", words[0])
    if number_or_none(words[-1], unit="deg") is None or len(words) == 1:
        what = f"what stands alone is {words[-1][:MOST_SHOWN]}"
        raise Refusal.at("", line, f"must be points, one a line: {field_kind.names}", what)
    if len(words) % 2 == 0 and all(number_or_none(word) is not None for word in words):
        return list(zip(words[::2], words[1::2], strict=True))
    return [(" ".join(words[:-1]), words[-1])]


def _pairs(text: str) -> list[list[int]]:
    if text.lower() in (NONE_OF_THEM, "[]"):
        return []
    if re.search(r"[^\d\s,;\[\]()+&-]", text.replace("and", " ")):
        do = f"for example 3-4, 5-6; {NONE_OF_THEM} when there are none"
        raise Refusal.at("", text, "must be pairs of cylinders", do)
    numbers = [int(each) for each in re.findall(r"\d{1,3}", text)]
    if len(numbers) % 2:
        raise Refusal.at("", text, "must be pairs of cylinders", "one stands alone; for example 3-4, 5-6")
    return [numbers[place : place + 2] for place in range(0, len(numbers), 2)]


def as_typed(field_kind: FieldKind, value: Any) -> str:
    """Write what a job's text holds as it was typed, in the units in which it was.

    Parameters
    ----------
    field_kind : FieldKind
        The kind of value.
    value : object
        As TOML holds it; None for nothing.

    Examples
    --------
    >>> bore = Quantity("length", "mm", 30, 250, "")
    >>> as_typed(bore, "4.00 in"), as_typed(Number(10, 110, ""), "12 inHg vacuum")
    ('4.00 in', '12 inHg vacuum')
    """
    if value is None or isinstance(value, str):
        return value or ""
    match field_kind:
        case YesNo():
            return YES if value else NO
        case Numbers():
            return " ".join(as_typed(field_kind.each, each) for each in value)
        case Points():
            return _lines(field_kind, value, as_typed)
        case Rows():
            return "\n".join(", ".join(as_typed(field_kind.each, each) for each in row) for row in value)
        case Pairs():
            return ", ".join("-".join(map(str, pair)) for pair in value) or NONE_OF_THEM
        case _:
            return str(value)


def shown(field_kind: FieldKind, value: Any, system: System = "metric") -> str:
    """Write what a job file holds as a person would type it, in the units that they read.

    Parameters
    ----------
    field_kind : FieldKind
        The kind of value.
    value : object
        As TOML holds it; None for nothing.
    system : {"metric", "inch"}
        Which units the person reads.

    Examples
    --------
    >>> bore = Quantity("length", "mm", 30, 250, "")
    >>> shown(bore, "95.25 mm", "inch"), shown(bore, "3.620 in", "metric")
    ('3.750 in', '91.948 mm')
    """
    if value is None:
        return ""
    match field_kind:
        case Quantity():
            return _quantity(field_kind, field_kind.read(value), system)
        case Points():
            return _lines(field_kind, value, lambda kind, each: shown(kind, each, system))
        case _:
            return as_typed(field_kind, value)


def _lines(points: Points, value: Any, write: Callable[[FieldKind, Any], str]) -> str:
    return "\n".join(f"{write(points.first, one)}, {write(points.second, other)}" for one, other in value)


def _quantity(field_kind: Quantity, value: float, system: System) -> str:
    """Write a quantity with the decimals that give it back, or those usual for its unit where none do."""
    unit = _own_unit(field_kind, system)
    name = unit.name
    in_unit = units.convert(value, field_kind.dimension, field_kind.inside, name)
    for decimals in range(unit.decimals, unit.decimals + 3):
        text = f"{in_unit:.{decimals}f} {name}"
        if quantity(text, field_kind.dimension, into=field_kind.inside) == value:
            return text
    return f"{in_unit:.{unit.decimals}f} {name}"


def read_as(
    field_kind: FieldKind,
    value: Any,
    text: str,
    unit: str = "",
    system: System = "metric",
    site: SiteAir | None = None,
) -> str:
    """Say how what was typed is read, in the person's units, where that isn't plain from the text.

    Parameters
    ----------
    field_kind : FieldKind
        What reads the field.
    value : object
        As TOML holds it; a number whose text says more is given as it was read.
    text : str
        The text as it was typed.
    unit : str, optional
        Unit of a plain number by its key; "" for none.
    system : {"metric", "inch"}, optional
        Units that the person reads.
    site : callable, optional
        Gives the air pressure at the site, for loads typed as vacuum or boost.

    Examples
    --------
    >>> bore = Quantity("length", "mm", 30, 250, "")
    >>> read_as(bore, "3.75 in", "3.75 in"), read_as(bore, "3.75 in", "3.75 in", system="inch")
    ('= 95.25 mm', '')
    """
    if value is None or isinstance(field_kind, Choice | YesNo):
        return ""
    match field_kind:
        case Quantity():
            own = _own_unit(field_kind, system)
            said = _quantity(field_kind, field_kind.read(value), system)
            return _unless_plain(text, said, (own.name, *own.also))
        case Numbers() | Pairs():
            said = f"{len(value)} numbers: " if isinstance(field_kind, Numbers) else ""
            return f"= {said}{shown(field_kind, value)}"
        case Points():
            return f"= {len(value)} point{'' if len(value) == 1 else 's'}"
        case Rows():
            return f"= {len(value)} rows"
        case Number():
            return _unless_plain(text, *_number(field_kind, value, unit, system, site))
        case _:
            return ""


def _own_unit(field_kind: Quantity, system: System) -> units.Unit:
    """Give the unit in which a person reads a quantity; one chosen for what is small stays."""
    kind = units.DIMENSIONS[field_kind.dimension]
    name = kind.inch if system == "inch" else kind.metric
    unit = kind.find(name if field_kind.inside == kind.inside else field_kind.inside)
    assert unit is not None
    return unit


def _number(
    field_kind: Number, value: float, unit: str, system: System, site: SiteAir | None
) -> tuple[str, Collection[str]]:
    """Say a plain number, and what may stand behind one that says the same already."""
    if unit == "kPa" and system == "inch" and site is not None:
        said = load(value, site(), system)
        return said, (said.partition(" ")[2],)
    said = units.show(value, "pressure") if unit == "kPa" else f"{value:.6g} {unit}".strip()
    endings = ENDINGS.get(field_kind.unit or unit, {})
    return said, ("", unit, *(ending for ending, sign in endings.items() if sign >= 0))


def _unless_plain(text: str, said: str, plain_behind: Collection[str]) -> str:
    """Give what is said of a text, unless that is a decimal number with one of these behind it."""
    found = _DECIMAL.fullmatch(tidy(text))
    return "" if found and {found[1], found[1].lower()} & set(plain_behind) else f"= {said}"
