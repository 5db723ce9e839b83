"""A table of plain numbers in a job file: rows with a head each, of one length or of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from sparkwright.job.field_kind import FieldKind, Number, refuse, written
from sparkwright.job.list_kinds import require_count, require_rising
from sparkwright.job.site_air import SiteAir


@dataclass(frozen=True)
class Rows(FieldKind):
    """A table in rows: the head of a row, which rises from row to row, and a number for each column.

    Or, where rows have `own` numbers, any count of these, rising.
    """

    head: Number
    each: Number
    names: str
    least: int = 2
    most: int = 40
    own: str = ""
    """What the numbers behind a head are called where each row has its own, rising; "" for rows of one
    length."""

    def read(
        self, value: Any, unit: str = "", site: SiteAir | None = None
    ) -> tuple[tuple[float | int, ...], ...]:
        """Read `[[0, 30, 24], [100, 99, 97]]`.

        Parameters
        ----------
        value : object
            What stands in the file.
        unit : str, optional
            Unit of its plain numbers; none of these has one.
        site : SiteAir, optional
            The site's air, by which a pressure may be stated.
        """
        if not isinstance(value, list | tuple) or not all(isinstance(row, list | tuple) for row in value):
            refuse(f"must be a list of rows [{self.names}]", "each row in its own square brackets")
        require_count(value, self.least, self.most, "rows")
        self._require_lengths(value)
        rows = tuple(
            (self.head.read(row[0]), *(self.each.read(one, unit, site) for one in row[1:])) for row in value
        )
        require_rising((row[0] for row in rows), "must begin each row higher than the one before")
        if self.own:
            self._require_rising(rows)
        return rows

    def _require_lengths(self, value: Sequence[Sequence[Any]]) -> None:
        width = len(value[0])
        for place, row in enumerate(value, start=1):
            if not row or (len(row) < 2 and not self.own):
                refuse(f"must be a list of rows [{self.names}]", f"row {place} holds {len(row)} numbers")
            if self.own and not 1 <= len(row) - 1 <= self.most:
                has = f"row {place}, at {written(row[0])}, has {len(row) - 1 or 'none'}"
                refuse(f"must give each row 1 to {self.most} {self.own}", has)
            if not self.own and len(row) != width:
                refuse(
                    "must have rows of one length",
                    f"row {place} holds {len(row)} numbers, the first one {width}",
                )

    def _require_rising(self, rows: Sequence[Sequence[float]]) -> None:
        for head, *numbers in rows:
            for before, after in pairwise(numbers):
                if after <= before:
                    refuse(
                        f"must have {self.own} that rise within each row",
                        f"{after:g} follows {before:g} in the row at {head:g}",
                    )

    def write(self, value: Sequence[Sequence[float]]) -> list[list[float | int]]:
        """Write the rows.

        Parameters
        ----------
        value : sequence of sequences of float
            The rows, each with its head first.
        """
        return [[self.head.write(row[0]), *(self.each.write(one) for one in row[1:])] for row in value]

    def schema(self) -> dict[str, Any]:
        """Describe a list of rows of numbers."""
        row = {
            "type": "array",
            "prefixItems": [self.head.schema()],
            "items": self.each.schema(),
            "minItems": 2,
        }
        return {"type": "array", "items": row, "minItems": self.least, "maxItems": self.most}
