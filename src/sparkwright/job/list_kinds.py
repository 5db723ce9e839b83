"""Kinds of values that are lists: numbers, the points of a curve, pairs of cylinders."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from sparkwright.job.field_kind import FieldKind, Number, refuse
from sparkwright.job.site_air import SiteAir
from sparkwright.reading import ENDINGS, parted

MOST_LIST = 4000
"""Characters that a list of numbers may take as text."""


@dataclass(frozen=True)
class Numbers(FieldKind):
    """A list of plain numbers, each within the limits of `each`."""

    each: Number
    least: int
    most: int
    rising: bool = False

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> tuple[float | int, ...]:
        """Read `[600, 1000, 1500]`, or an order of cylinders in one, `18436572`, or `"1-8-4-3-6-5-7-2"`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        if isinstance(value, int) and not isinstance(value, bool) and self._has_figures:
            value = str(value)
        if isinstance(value, str):
            value = self._typed(value, unit)
        if not isinstance(value, list | tuple):
            refuse("must be a list of numbers", "write them in square brackets, parted by commas")
        require_count(value, self.least, self.most, "numbers")
        numbers = tuple(self.each.read(one, unit, site) for one in value)
        if self.rising:
            require_rising(numbers, "must rise from each value to the next")
        return numbers

    @property
    def _has_figures(self) -> bool:
        """Whether each number has one figure."""
        return self.each.whole and 0 <= self.each.low <= self.each.high < 10

    def _typed(self, text: str, unit: str) -> list[str]:
        if len(text) > MOST_LIST:
            refuse(f"must be at most {MOST_LIST:,} characters", f"it has {len(text):,}")
        parts = parted(text, negative=self.each.low < 0, figures=self._has_figures)
        # A unit behind the last of a list is that of all.
        return parts[:-1] if parts and parts[-1].lower() in ENDINGS[unit] else parts

    def write(self, value: Sequence[float]) -> list[float | int]:
        """Write the numbers, without points where they need none.

        Parameters
        ----------
        value : sequence of float
            The numbers.
        """
        return [self.each.write(one) for one in value]

    def schema(self) -> dict[str, Any]:
        """Describe a list of numbers, or text that parts them."""
        return {
            "type": ["array", "string"],
            "items": self.each.schema(),
            "minItems": self.least,
            "maxItems": self.most,
        }


@dataclass(frozen=True)
class Points(FieldKind):
    """The points of a curve, a list of pairs whose first values rise."""

    first: FieldKind
    second: FieldKind
    names: str
    least: int = 2
    most: int = 20

    def read(
        self, value: Any, unit: str = "", site: SiteAir | None = None
    ) -> tuple[tuple[float, float], ...]:
        """Read `[[800, 0], [2500, 20]]`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        if not _are_pairs(value):
            refuse(f"must be a list of pairs [{self.names}]", "each pair in its own square brackets")
        require_count(value, self.least, self.most, "points")
        points = tuple((self.first.read(one, "rpm"), self.second.read(other, "deg")) for one, other in value)
        require_rising([one for one, _ in points], "must rise from each value to the next")
        return points

    def write(self, value: Sequence[tuple[float, float]]) -> list[list[Any]]:
        """Write the pairs.

        Parameters
        ----------
        value : sequence of tuple
            The pairs.
        """
        return [[self.first.write(one), self.second.write(other)] for one, other in value]

    def schema(self) -> dict[str, Any]:
        """Describe a list of pairs."""
        pair = {
            "type": "array",
            "prefixItems": [self.first.schema(), self.second.schema()],
            "minItems": 2,
            "maxItems": 2,
        }
        return {"type": "array", "items": pair, "minItems": self.least, "maxItems": self.most}


@dataclass(frozen=True)
class Pairs(FieldKind):
    """A list of pairs of cylinders."""

    def read(self, value: Any, unit: str = "", site: SiteAir | None = None) -> tuple[tuple[int, int], ...]:
        """Read `[[3, 4]]`.

        Parameters
        ----------
        value : object
            What TOML gave, or a person typed.
        unit : str, optional
            Unit that may stand behind a plain number.
        site : callable, optional
            Gives the air pressure at the site, against which loads may be stated.
        """
        cylinder = Number(1, 8, "a distributor here serves at most 8 cylinders", whole=True)
        if not _are_pairs(value):
            refuse("must be a list of pairs of cylinders", "for example [[3, 4]]; [] when there are none")
        pairs = tuple((int(cylinder.read(one)), int(cylinder.read(other))) for one, other in value)
        if any(one == other for one, other in pairs):
            refuse("must pair two different cylinders", "for example [[3, 4]]")
        return pairs

    def write(self, value: Sequence[tuple[int, int]]) -> list[list[int]]:
        """Write the pairs.

        Parameters
        ----------
        value : sequence of tuple
            The pairs.
        """
        return [list(pair) for pair in value]

    def schema(self) -> dict[str, Any]:
        """Describe a list of pairs of cylinders."""
        cylinder = {"type": "integer", "minimum": 1, "maximum": 8}
        return {"type": "array", "items": {"type": "array", "items": cylinder, "minItems": 2, "maxItems": 2}}


def _are_pairs(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(
        isinstance(pair, list | tuple) and len(pair) == 2 for pair in value
    )


def require_count(value: Sequence[Any], least: int, most: int, what: str) -> None:
    """Refuse a list that holds too few or too many.

    Parameters
    ----------
    value : sequence
        The list.
    least, most : int
        How many it may hold.
    what : str
        What they are called.
    """
    if not least <= len(value) <= most:
        count = f"{least}" if least == most else f"{least} to {most}"
        refuse(f"must hold {count} {what}", f"it holds {len(value)}")


def require_rising(numbers: Iterable[float], must: str) -> None:
    """Refuse numbers of which one is no higher than the one before.

    Parameters
    ----------
    numbers : iterable of float
        The numbers.
    must : str
        What must be.
    """
    for before, after in pairwise(numbers):
        if after <= before:
            refuse(must, f"{after:g} follows {before:g}")
