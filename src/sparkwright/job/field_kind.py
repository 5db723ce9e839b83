"""How one value of a job file is read, written back and described: one small class for each kind.

Each class stands in the annotation of a field. It reads what TOML gave, refuses it in words, writes it
back in one canonical form and says in JSON Schema what an editor may offer.
"""

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any, NoReturn

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from sparkwright import units
from sparkwright.errors import Refusal
from sparkwright.job.site_air import SiteAir
from sparkwright.reading import load_kpa, number, quantity

REFUSED = "refused"

MOST_FIGURES = 6
"""Figures of a number that a person states; one with more was turned from another unit. A choice."""

_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
    r"([T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?(Z|[-+][0-9]{2}:[0-9]{2})?)?"
)


def refuse(must: str, do: str = "") -> NoReturn:
    """Refuse the value being read; the caller of the model knows its name and turns this into a sentence.

    Parameters
    ----------
    must : str
        What is allowed.
    do : str, optional
        What to do, or why.
    """
    raise PydanticCustomError(REFUSED, "must not stand", {"must": must, "do": do})


def written(value: object) -> str:
    """Say a TOML value as a person would find it in the file, cut to a readable length.

    Parameters
    ----------
    value : object
        The value as TOML gave it.

    Examples
    --------
    >>> written("3.75 in"), written(True), written([1, 3, 4, 2])
    ('"3.75 in"', 'true', '[1, 3, 4, 2]')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _cut(f'"{value}"'.replace("\n", " "))
    if isinstance(value, dict):
        return "a section"
    if isinstance(value, list | tuple):
        return _cut("[" + ", ".join(written(each) for each in value) + "]")
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a number of more than 18 digits"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return f"{value:.1f}"
    return _cut(str(value))


def _cut(text: str, most: int = 60) -> str:
    return text if len(text) <= most else f"{text[:most]}..."


SITE_AIR = "site_air"
"""Under which name the reader of a job tells how to get the air pressure at its site."""

UNIT_ENDINGS = {"deg": "deg", "rpm": "rpm", "kpa": "kPa", "percent": "percent", "us": "us"}
"""What a key's ending says of its unit."""


def unit_of_key(key: str) -> str:
    """Give the unit that a key's ending names, as `reading` calls it; "" for none.

    Parameters
    ----------
    key : str
        Key of the job file.

    Examples
    --------
    >>> unit_of_key("engine.idle_rpm"), unit_of_key("controller.rpm"), unit_of_key("engine.bore")
    ('rpm', 'rpm', '')
    """
    return UNIT_ENDINGS.get(re.split(r"[._]", key)[-1], "")


class FieldKind(ABC):
    """One kind of value in a job file."""

    @abstractmethod
    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> Any:
        """Turn what TOML gave, or a person typed, into what the program keeps, or refuse it.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            What the key says may stand behind a plain number, where this kind doesn't name its own.
        site : callable, optional
            Gives the air pressure that loads may be stated against.
        """

    @abstractmethod
    def schema(self) -> dict[str, Any]:
        """Describe what may be written, as JSON Schema."""

    def write(self, value: Any) -> Any:
        """Turn what the program keeps into what TOML holds; reading it gives the same value again.

        Parameters
        ----------
        value : object
            What the program keeps.
        """
        return value

    def say(self, value: Any) -> str:
        """Say what the program keeps, for a person.

        Parameters
        ----------
        value : object
            What the program keeps.
        """
        return str(self.write(value))

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Let the model read this field with `read` and nothing else."""

        def read(value: Any, info: ValidationInfo) -> Any:
            return self.read(value, unit_of_key(info.field_name or ""), (info.context or {}).get(SITE_AIR))

        return core_schema.with_info_plain_validator_function(read)


@dataclass(frozen=True)
class Quantity(FieldKind):
    """A number with its unit, in quotes; kept as a float in the unit `inside`.

    `low` and `high` are the limits in that unit, both allowed; `why` is the reason for them. `beside` is the
    unit in which a refusal says them too, where it isn't that of the other system.
    """

    dimension: str
    inside: str
    low: float
    high: float
    why: str
    beside: str = ""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> float:
        """Read `"3.75 in"`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        example = units.DIMENSIONS[self.dimension].example
        if isinstance(value, int | float) and not isinstance(value, bool):
            refuse("must have a unit, in quotes", f"write for example {_or(example)}")
        try:
            found = quantity(value, self.dimension, into=self.inside, low=self.low, high=self.high)
        except Refusal as refusal:
            (problem,) = refusal.problems
            refuse(str(problem.must), str(problem.do))
        if not self.low <= found <= self.high:
            limits = units.show_span(self.low, self.high, self.dimension, self.inside, self.beside)
            refuse(f"must be {limits}", self.why)
        return found

    def write(self, value: float) -> str:
        """Write `"95.25 mm"`.

        Parameters
        ----------
        value : float
            The number in the unit ``inside``.
        """
        return f"{_plain(value)} {self.inside}"

    def say(self, value: float) -> str:
        """Say it as it was stated, or, of more figures than anyone states, as a gauge shows it.

        Parameters
        ----------
        value : float
            The number in the unit ``inside``.

        Examples
        --------
        >>> boost = Quantity("pressure", "kPa", 1, 300, "")
        >>> boost.say(boost.read("6 inHg")), boost.say(boost.read("55 kPa"))
        ('20.3 kPa', '55 kPa')
        """
        rounded = units.show(value, self.dimension, unit=self.inside)
        return self.write(value) if float(f"{value:.{MOST_FIGURES}g}") == value else rounded

    def schema(self) -> dict[str, Any]:
        """Describe a text of a number and one of the known units."""
        known = units.DIMENSIONS[self.dimension].units
        spellings = [text for unit in known for text in (unit.name, *unit.also)]
        either = "|".join(_escape(text) for text in sorted(spellings, key=len, reverse=True))
        plain = r"([0-9][0-9,]*\.?[0-9]*|[.,][0-9]+)([eE](\+?[0-9]{1,2}|-[0-9]{1,3}))?"
        number = rf"[-+]?(([0-9]+[ -])?[0-9]+/[0-9]+|{plain})"
        return {"type": "string", "pattern": rf"^\s*{number}\s*({either})\s*$"}


@dataclass(frozen=True)
class NamedQuantity(Quantity):
    """A quantity, some values of which may also be written by their name, such as `"advertised, solid"`."""

    names: tuple[tuple[str, float], ...] = ()

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> float:
        """Read `"0.050 in"` or a name, whatever its case.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        named = dict(self.names)
        if isinstance(value, str):
            name = " ".join(value.lower().replace(",", " ").split())
            for known, number in named.items():
                if name == known.replace(",", ""):
                    return number
            if any(name and known.startswith(name) for known in named):
                refuse(f"must say which: {_any_of(list(named))}", "or a number with its unit")
        return super().read(value, unit, site)

    def schema(self) -> dict[str, Any]:
        """Describe a text that is a quantity or a name."""
        return {"anyOf": [super().schema(), {"enum": [name for name, _ in self.names]}]}


@dataclass(frozen=True)
class Number(FieldKind):
    """A plain number whose key says its unit, or which has none.

    `unit` is what may be written behind it where the ending of its key doesn't tell: `"9.8 to 1"`.
    """

    low: float
    high: float
    why: str
    whole: bool = False
    unit: str = ""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> float | int:
        """Read `2400`, `9.5`, or, in quotes, `"2,400 rpm"`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        kind = "a whole number" if self.whole else "a number"
        if isinstance(value, str):
            value = self._typed(value, self.unit or unit, site)
        if isinstance(value, bool) or not isinstance(value, int | float):
            refuse(f"must be {kind} without unit or quotes", f"allowed is {self.low:g} to {self.high:g}")
        if isinstance(value, float) and not math.isfinite(value):
            refuse(f"must be {kind} that is known and finite", f"allowed is {self.low:g} to {self.high:g}")
        if not self.low <= value <= self.high:
            refuse(f"must be {self.low:g} to {self.high:g}", self.why)
        if self.whole and value != int(value):
            refuse("must be a whole number", f"allowed is {self.low:g} to {self.high:g}")
        return int(value) if self.whole else float(value)

    def _typed(self, text: str, unit: str, site: SiteAir | None) -> float:
        try:
            if unit == "kPa":
                return load_kpa(text, None if site is None else site(), low=self.low, high=self.high)
            return number(text, unit=unit, low=self.low, high=self.high)
        except Refusal as refusal:
            (problem,) = refusal.problems
            refuse(str(problem.must), str(problem.do) or f"allowed is {self.low:g} to {self.high:g}")

    def write(self, value: float) -> float | int:
        """Write the number, without a point where it needs none.

        Parameters
        ----------
        value : float
            The number.
        """
        return _shortest(value)

    def schema(self) -> dict[str, Any]:
        """Describe a number and its limits, or text that has the unit behind it."""
        kind = "integer" if self.whole else "number"
        return {"type": [kind, "string"], "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Choice(FieldKind):
    """One of a few words or counts; `not_supported` holds the answers to likely others."""

    options: tuple[Any, ...]
    not_supported: dict[Any, str] = field(default_factory=dict, hash=False)
    why: str = ""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> Any:
        """Read `"wedge"`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        # 4.0 and true equal 4 and 1 in Python; only the same kind of value is the same answer.
        if any(value == option and type(value) is type(option) for option in self.options):
            return value
        if isinstance(value, str) and value in self.not_supported:
            refuse(f"must be {_any_of(self.options)}", self.not_supported[value])
        if isinstance(self.options[0], int) and str(value).removesuffix(".0") in map(str, self.options):
            refuse(f"must be {_any_of(self.options)}", "write it without quotes and without a point")
        words = [option for option in self.options if isinstance(option, str)]
        near = get_close_matches(value.lower(), words, n=1, cutoff=0.6) if isinstance(value, str) else []
        refuse(f"must be {_any_of(self.options)}", f'perhaps "{near[0]}" is meant' if near else self.why)

    def schema(self) -> dict[str, Any]:
        """Describe the options."""
        return {"enum": list(self.options)}


@dataclass(frozen=True)
class YesNo(FieldKind):
    """True or false."""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> bool:
        """Read `true`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        if not isinstance(value, bool):
            refuse("must be true or false", "write it without quotes; leave the key out when not known")
        return value

    def schema(self) -> dict[str, Any]:
        """Describe true or false."""
        return {"type": "boolean"}

    def say(self, value: bool) -> str:
        """Say yes or no.

        Parameters
        ----------
        value : bool
            What the program keeps.
        """
        return "yes" if value else "no"


@dataclass(frozen=True)
class Text(FieldKind):
    """Words, up to `most` characters; line breaks only where `lines` allows them."""

    most: int = 120
    lines: bool = False

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> str:
        """Read `"Pump house V8"`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        if not isinstance(value, str):
            refuse("must be text in quotes", f"up to {self.most} characters")
        if not value.strip():
            refuse("must not be blank", "write it, or leave the key out where it may be left out")
        if len(value) > self.most:
            refuse(f"must be at most {self.most} characters", f"it has {len(value)}")
        allowed = "\n\t" if self.lines else ""
        if not all(character.isprintable() or character in allowed for character in value):
            refuse("must hold only characters that print", "take out line breaks and control characters")
        return value

    def schema(self) -> dict[str, Any]:
        """Describe a text."""
        return {"type": "string", "minLength": 1, "maxLength": self.most}


@dataclass(frozen=True)
class Moment(FieldKind):
    """A date, with or without the time of day, as ISO 8601 writes it; kept as it was written."""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> str:
        """Read `"2030-05-01"` or `"2030-05-01T14:30"`, also without quotes.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        text = value.isoformat() if isinstance(value, date) else value
        if isinstance(text, str) and _MOMENT.fullmatch(text):
            try:
                datetime.fromisoformat(text)
            except ValueError:
                pass
            else:
                return text
        refuse("must be a date, or a date and a time", 'for example "2030-05-01" or "2030-05-01T14:30"')

    def schema(self) -> dict[str, Any]:
        """Describe a date, with or without the time of day."""
        return {"type": "string", "pattern": f"^{_MOMENT.pattern}$"}


def _any_of(options: Sequence[Any]) -> str:
    words = [written(option) for option in options]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _or(example: str) -> str:
    """Turn `70 kPa or 10 psi` into the same in quotes."""
    return f'"{example}"'.replace(", ", '", "').replace(" or ", '" or "')


def _escape(text: str) -> str:
    return "".join(f"\\{each}" if each in r".*+?()[]{}|\^$/" else each for each in text)


def _shortest(value: float) -> float | int:
    return int(value) if value == int(value) and abs(value) < 1e15 else value


def _plain(value: float) -> str:
    return repr(_shortest(value))
