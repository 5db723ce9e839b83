"""Plugs and their leads."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.described import described
from sparkwright.job.field_kind import Quantity
from sparkwright.job.list_kinds import Pairs
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Plugs(Section):
    """Plugs and their leads."""

    gap_mm: Annotated[
        float,
        Quantity("length", "mm", 0.2, 3, "outside this lies no plug's gap"),
        Tag("Plug gap", starter=True),
    ] = Field(
        default=0.9,
        alias="gap",
        description=described(
            "Gap of the plugs.",
            "0.9 mm is assumed",
            practice=True,
        ),
        examples=["0.035 in"],
    )
    leads_adjacent: Annotated[
        tuple[tuple[int, int], ...] | None,
        Pairs(),
        Tag(
            "Leads side by side, pairs of cylinders",
            hint="Pairs whose leads run side by side for long: 3-4, 5-6; “none” when none do.",
        ),
    ] = Field(
        default=None,
        description="Pairs of cylinders whose plug leads run side by side for long; [] when none do.",
        examples=[[[3, 4]]],
    )
