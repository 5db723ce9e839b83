"""What the controller can hold."""

from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.job.field_kind import Choice, Number, Numbers
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import ENGINE_RPM, MANIFOLD_KPA, MOST_NODES, NO_SUCH_ADVANCE
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

Between = Literal["straight lines", "nearest cell"]


class Controller(Section):
    """What the controller can hold."""

    step_deg: Annotated[float, Number(0.05, 5, "cells are rounded to this step"), Tag("Step of a cell")] = (
        Field(
            default=0.5,
            description="Step that the controller rounds a cell to. 0.5 is assumed.",
            examples=[0.5],
        )
    )
    rpm: Annotated[
        tuple[float, ...] | None,
        Numbers(ENGINE_RPM, 2, MOST_NODES, rising=True),
        Tag("Speeds of the map's columns"),
    ] = Field(
        default=None,
        description="Speeds of the map's columns; 16 are chosen when not given.",
        examples=[[600, 1000, 1500, 2000, 3000, 4000, 5000]],
    )
    kpa: Annotated[
        tuple[float, ...] | None,
        Numbers(MANIFOLD_KPA, 2, MOST_NODES, rising=True),
        Tag("Pressures of the map's rows"),
    ] = Field(
        default=None,
        description="Absolute manifold pressures of the map's rows; 16 are chosen when not given.",
        examples=[[25, 40, 55, 70, 85]],
    )
    between: Annotated[
        Between | None,
        Choice(get_args(Between)),
        Tag(
            "Between cells",
            answers={
                "straight lines": "straight lines in both directions",
                "nearest cell": "takes the nearest cell",
            },
        ),
    ] = Field(
        default=None,
        description="What the controller makes of the map between its cells: straight lines in both "
        "directions, or the nearest cell. Planned for straight lines when not given.",
        examples=["straight lines"],
    )
    min_deg: Annotated[float, Number(-20, 40, NO_SUCH_ADVANCE), Tag("Least advance the controller takes")] = (
        Field(default=0, description="Least advance that the controller takes. 0 is assumed.", examples=[0])
    )
    max_deg: Annotated[float, Number(5, 90, NO_SUCH_ADVANCE), Tag("Most advance the controller takes")] = (
        Field(default=60, description="Most advance that the controller takes. 60 is assumed.", examples=[60])
    )

    idle_delay_ms: Annotated[
        float | None,
        Number(0, 500, "from a change of speed to the advance that answers it"),
        Tag("Delay of the idle's timing loop"),
    ] = Field(
        default=None,
        description="From a change of speed to the advance with which the idle's timing loop answers [ms]; "
        "30 is taken when not given.",
        examples=[30],
    )

    @property
    def takes_between(self) -> Between:
        """What it makes of the map between its cells: straight lines where nobody says otherwise."""
        return self.between or "straight lines"

    def conflicts(self) -> Iterator[Conflict]:
        """Check that there is something between least and most."""
        if self.min_deg >= self.max_deg:
            yield Conflict("min_deg", f"must be below max_deg ({self.max_deg:g})", "check both")
