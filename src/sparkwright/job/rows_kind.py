"""A table of plain numbers in a job file: rows of one length, each with its own head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sparkwright.job.field_kind import FieldKind, Number, refuse
from sparkwright.job.list_kinds import require_count, require_rising
from sparkwright.job.site_air import SiteAir


@dataclass(frozen=True)
class Rows(FieldKind):
    """A table in rows: the head of a row, which rises from row to row, and a number for each column."""

    head: Number
    each: Number
    names: str
    least: int = 2
    most: int = 40

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
        width = len(value[0])
        for place, row in enumerate(value, start=1):
            if len(row) < 2:
                refuse(f"must be a list of rows [{self.names}]", f"row {place} holds {len(row)} numbers")
            if len(row) != width:
                refuse(
                    "must have rows of one length",
                    f"row {place} holds {len(row)} numbers, the first one {width}",
                )
        rows = tuple(
            (self.head.read(row[0]), *(self.each.read(one, unit, site) for one in row[1:])) for row in value
        )
        require_rising((row[0] for row in rows), "must begin each row higher than the one before")
        return rows

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
