"""What a person types in a field becomes what a job file holds, and back.

A form needs no quotes and no square brackets; points stand one a line. What is typed like the file is taken
as well. Numbers are read by `sparkwright.reading`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from sparkwright import units
from sparkwright.errors import Refusal
from sparkwright.job.field_kind import Choice, FieldKind, Number, Quantity, Text, YesNo
from sparkwright.job.list_kinds import Numbers, Pairs, Points
from sparkwright.job.rows_kind import Rows
from sparkwright.job.site_air import SiteAir
from sparkwright.reading import number_or_none, parted, quantity, tidy
from sparkwright.units import System

YES, NO = "yes", "no"
NONE_OF_THEM = "none"

MOST_TEXT = 4000
"""Characters that a number, or a list of them, may take."""

MOST_SHOWN = 40


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
    >>> typed(Number(3, 16, ""), "9.0:1", "to 1"), typed(Number(1000, 9000, ""), "5,800 rpm", "rpm")
    (9, 5800)
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
            return field_kind.write(field_kind.read(plain, unit, site))
        if isinstance(field_kind, Numbers):
            return field_kind.write(field_kind.read(plain, unit, site))
        value = _value(field_kind, plain)
        field_kind.read(value)
    except PydanticCustomError as refusal:
        context = refusal.context or {}
        raise Refusal.at("", plain, context.get("must", ""), context.get("do", "")) from refusal
    return value


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
        case YesNo():
            return YES if value else NO
        case Numbers():
            return _parted(value, " ")
        case Points():
            return "\n".join(
                f"{shown(field_kind.first, first, system)}, {second:g}" for first, second in value
            )
        case Rows():
            return "\n".join(_parted(row, ", ") for row in value)
        case Pairs():
            return ", ".join(_parted(pair, "-") for pair in value) or NONE_OF_THEM
        case Number():
            return _parted([value], "")
        case _:
            return str(value)


def _parted(numbers: Sequence[float], by: str) -> str:
    return by.join(str(int(each)) if float(each).is_integer() else repr(each) for each in numbers)


def _quantity(field_kind: Quantity, value: float, system: System) -> str:
    """Write a quantity with the decimals that give it back, or those usual for its unit where none do."""
    kind = units.DIMENSIONS[field_kind.dimension]
    name = kind.inch if system == "inch" else kind.metric
    if field_kind.inside != kind.inside:
        # A small unit was chosen for what is small: 80 pF, not 0 uF.
        name = field_kind.inside
    unit = kind.find(name)
    assert unit is not None
    in_unit = units.convert(value, field_kind.dimension, field_kind.inside, name)
    for decimals in range(unit.decimals, unit.decimals + 3):
        text = f"{in_unit:.{decimals}f} {name}"
        if quantity(text, field_kind.dimension, into=field_kind.inside) == value:
            return text
    return f"{in_unit:.{unit.decimals}f} {name}"


def read_as(field_kind: FieldKind, value: Any, text: str, unit: str = "") -> str:
    """Say how what was typed was read, where that isn't plain from the text.

    Parameters
    ----------
    field_kind : FieldKind
        What reads the field.
    value : object
        The value as it was read.
    text : str
        The text as it was typed.
    unit : str, optional
        Unit of a plain number by its key; "" for none.

    Examples
    --------
    >>> read_as(Quantity("length", "mm", 30, 250, ""), "3.75 in", "3.75 in")
    '= 95.25 mm'
    """
    if value is None or isinstance(field_kind, Choice | YesNo):
        return ""
    match field_kind:
        case Quantity():
            kept = field_kind.read(value)
            typed_so = re.search(rf"[\d.]\s*{re.escape(field_kind.inside)}\s*$", text) is not None
            said = _quantity(field_kind, kept, "inch") if typed_so else field_kind.say(kept)
            return "" if said.endswith(f" {field_kind.inside}") and typed_so else f"= {said}"
        case Numbers() | Pairs():
            said = f"{len(value)} numbers: " if isinstance(field_kind, Numbers) else ""
            return f"= {said}{shown(field_kind, value)}"
        case Points():
            return f"= {len(value)} point{'' if len(value) == 1 else 's'}"
        case Rows():
            return f"= {len(value)} rows"
        case Number():
            said = f"{value:.6g} {unit}".strip()
            return "" if text.strip() in (said, shown(field_kind, value)) else f"= {said}"
        case _:
            return ""
