"""Plugs and their leads."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.door import Pairs, Quantity
from sparkwright.job.sections.section import Section


class Plugs(Section):
    """Plugs and their leads."""

    gap_mm: Annotated[float, Quantity("length", "mm", 0.2, 3, "outside this lies no plug's gap")] = Field(
        alias="gap", description="Gap of the plugs.", examples=["0.035 in"]
    )
    leads_adjacent: Annotated[tuple[tuple[int, int], ...] | None, Pairs()] = Field(
        default=None,
        description="Pairs of cylinders whose plug leads run side by side for long; [] when none do.",
        examples=[[[3, 4]]],
    )
