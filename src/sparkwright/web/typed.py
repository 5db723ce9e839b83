"""What a person types in a field becomes what a job file holds, and back.

A form has no quotes and no square brackets: numbers of a list are parted by anything that isn't part of a
number, points stand one a line. What is typed like the file is taken as well.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from sparkwright import units
from sparkwright.errors import InputError
from sparkwright.job.door import Choice, Door, Number, Numbers, Pairs, Points, Quantity, Text, YesNo
from sparkwright.units import System

YES, NO = "yes", "no"
NONE_OF_THEM = "none"

MOST_TEXT = 4000
"""Characters that a number, or a list of them, may take."""

# Nothing here is tried twice in another way (`++`), or a long row of figures would hold everybody up.
_NUMBER = r"[-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][-+]?\d{1,2})?"
_POINT = re.compile(rf"({_NUMBER}(?:\s*+[A-Za-zµ°%]++(?:\s?Hg)?)?)[\s,:]++({_NUMBER})")
_SUFFIXES = {
    "deg": ("deg", "°", "degrees"),
    "rpm": ("rpm", "1/min"),
    "percent": ("%", "percent"),
    "us": ("us", "µs"),
    "": (":1",),
}
_LOOK_ALIKES = str.maketrans({"\u2212": "-", "\u2013": "-", "\u00a0": " "})


class RefusedError(Exception):
    """What was typed can't stand: what is allowed, and what to do."""

    def __init__(self, must: str, do: str = "") -> None:
        self.must = must
        self.do = do
        super().__init__(must, do)


def typed(door: Door, text: str, unit: str = "") -> Any:
    """Turn what was typed into what the job file holds.

    Parameters
    ----------
    door : Door
        The kind of value.
    text : str
        What was typed.
    unit : str
        For a plain number: the unit that its key states, which may be typed behind it.

    Returns
    -------
    object
        As TOML holds it; None where nothing was typed.

    Raises
    ------
    RefusedError
        Where it can't stand.

    Examples
    --------
    >>> typed(Number(3, 16, ""), "9.0:1"), round(typed(Number(10, 400, ""), "14.5 psi", "kPa"), 2)
    (9, 99.97)
    >>> typed(Numbers(Number(1, 8, "", whole=True), 4, 8), "1-5-7-2-6-3-4-8")
    [1, 5, 7, 2, 6, 3, 4, 8]
    """
    plain = text.translate(_LOOK_ALIKES).strip()
    if not plain:
        return None
    if len(plain) > MOST_TEXT and not isinstance(door, Text):
        raise RefusedError(f"must be at most {MOST_TEXT:,} characters", f"it has {len(plain):,}")
    value = _value(door, plain, unit)
    try:
        door.read(value)
    except PydanticCustomError as refusal:
        context = refusal.context or {}
        raise RefusedError(_unquoted(context.get("must", "")), _unquoted(context.get("do", ""))) from refusal
    return value


def _unquoted(words: str) -> str:
    return words.replace(", in quotes", "").replace(" without unit or quotes", "")


def _value(door: Door, text: str, unit: str) -> Any:
    match door:
        case Number():
            return _number(text, unit)
        case Numbers():
            return _numbers(door, text, unit)
        case Points():
            return _points(door, text)
        case Pairs():
            return _pairs(text)
        case YesNo():
            return {YES: True, NO: False, "true": True, "false": False}.get(text.lower(), text)
        case Choice():
            return next((option for option in door.options if str(option) == text), text)
        case _:
            return text


def _number(text: str, unit: str) -> float | int:
    plain = text
    for suffix in _SUFFIXES.get(unit, ()):
        plain = plain.removesuffix(suffix).rstrip()
    if re.fullmatch(_NUMBER, plain):
        value = float(plain)
        return int(value) if value.is_integer() and abs(value) < 1e15 else value
    if "," in plain:
        raise RefusedError("must have no comma", "write a point for decimals and nothing between thousands")
    if unit == "kPa":
        try:
            return units.parse(plain, "pressure", into="kPa")
        except InputError as problem:
            raise RefusedError(problem.must, problem.do) from problem
    of = f" of {unit}" if unit else ""
    raise RefusedError(f"must be a number{of}", "figures only" if not unit else "")


def _numbers(door: Numbers, text: str, unit: str) -> list[float | int]:
    # A hyphen parts numbers that are never negative: 1-5-7-2.
    parting = r"[\s,;\[\]()]+" if door.each.low < 0 else r"[\s,;\[\]()-]+"
    parts = [part for part in re.split(parting, text) if part]
    if parts and parts[-1].lower() in (unit.lower(), "deg"):
        parts.pop()
    return [_number(part, "") for part in parts]


def _points(door: Points, text: str) -> list[list[Any]]:
    bare = re.sub(r"[\[\]()\"']", " ", text)
    rest = _POINT.sub(" ", bare)
    if re.sub(r"[\s,;]", "", rest):
        raise RefusedError(
            f"must be points, one a line: {door.names}", f"what stands alone is {rest.split()[0]}"
        )
    plain = isinstance(door.first, Number)
    return [
        [_number(first.strip(), "rpm") if plain else first.strip(), _number(second, "deg")]
        for first, second in _POINT.findall(bare)
    ]


def _pairs(text: str) -> list[list[int]]:
    if text.lower() in (NONE_OF_THEM, "[]"):
        return []
    if re.search(r"[^\d\s,;\[\]()+&-]", text.replace("and", " ")):
        raise RefusedError(
            "must be pairs of cylinders", f"for example 3-4, 5-6; {NONE_OF_THEM} when there are none"
        )
    numbers = [int(each) for each in re.findall(r"\d{1,3}", text)]
    if len(numbers) % 2:
        raise RefusedError("must be pairs of cylinders", "one stands alone; for example 3-4, 5-6")
    return [numbers[place : place + 2] for place in range(0, len(numbers), 2)]


def shown(door: Door, value: Any, system: System = "metric") -> str:
    """Write what a job file holds as a person would type it, in the units that they read.

    Parameters
    ----------
    door : Door
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
    match door:
        case Quantity():
            return _quantity(door, door.read(value), system)
        case YesNo():
            return YES if value else NO
        case Numbers():
            return _parted(value, " ")
        case Points():
            return "\n".join(f"{shown(door.first, first, system)}, {second:g}" for first, second in value)
        case Pairs():
            return ", ".join(_parted(pair, "-") for pair in value) or NONE_OF_THEM
        case Number():
            return _parted([value], "")
        case _:
            return str(value)


def _parted(numbers: Sequence[float], by: str) -> str:
    return by.join(str(int(each)) if float(each).is_integer() else repr(each) for each in numbers)


def _quantity(door: Quantity, value: float, system: System) -> str:
    """Write a quantity with the decimals that give it back, or those usual for its unit where none do."""
    kind = units.DIMENSIONS[door.dimension]
    name = kind.inch if system == "inch" else kind.metric
    if door.inside != kind.inside:
        # A small unit was chosen for what is small: 80 pF, not 0 uF.
        name = door.inside
    unit = kind.find(name)
    assert unit is not None
    in_unit = units.convert(value, door.dimension, door.inside, name)
    for decimals in range(unit.decimals, unit.decimals + 3):
        text = f"{in_unit:.{decimals}f} {name}"
        if units.parse(text, door.dimension, into=door.inside) == value:
            return text
    return f"{in_unit:.{unit.decimals}f} {name}"


def read_as(door: Door, value: Any, text: str, unit: str = "") -> str:
    """Say how what was typed was read, where that isn't plain from the text.

    Examples
    --------
    >>> read_as(Quantity("length", "mm", 30, 250, ""), "3.75 in", "3.75 in")
    '= 95.25 mm'
    """
    if value is None or isinstance(door, Choice | YesNo):
        return ""
    match door:
        case Quantity():
            kept = door.read(value)
            typed_so = re.search(rf"[\d.]\s*{re.escape(door.inside)}\s*$", text) is not None
            said = _quantity(door, kept, "inch") if typed_so else door.say(kept)
            return "" if said.endswith(f" {door.inside}") and typed_so else f"= {said}"
        case Numbers() | Pairs():
            said = f"{len(value)} numbers: " if isinstance(door, Numbers) else ""
            return f"= {said}{shown(door, value)}"
        case Points():
            return f"= {len(value)} point{'' if len(value) == 1 else 's'}"
        case Number():
            said = f"{value:.6g} {unit}".strip()
            return "" if text.strip() in (said, shown(door, value)) else f"= {said}"
        case _:
            return ""
