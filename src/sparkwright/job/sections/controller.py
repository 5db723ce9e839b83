"""What the controller can hold."""

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.errors import Key, Stated, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number
from sparkwright.job.list_kinds import Numbers
from sparkwright.job.problems import Conflict
from sparkwright.job.rows_kind import Rows
from sparkwright.job.sections.bounds import ENGINE_RPM, MANIFOLD_KPA, MOST_NODES, NO_SUCH_ADVANCE
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

Between = Literal["straight lines", "nearest cell"]

LoadTerm = Literal[
    "kPa absolute", "inHg vacuum", "kPa boost", "psi boost", "percent of full load", "percent of throttle"
]
"""In what a controller's map has its loads."""


class Controller(Section):
    """What the controller can hold."""

    step_deg: Annotated[float, Number(0.05, 5, "cells are rounded to this step"), Tag("Step of a cell")] = (
        Field(
            default=0.5,
            description=described(
                "Step that the controller rounds a cell to.",
                "0.5 is assumed.",
            ),
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
    load: Annotated[
        LoadTerm | None,
        Choice(get_args(LoadTerm)),
        Tag(
            "Loads of the controller's map",
            hint="In what the map is written out and read in. Boost is negative below the air at the site.",
        ),
    ] = Field(
        default=None,
        description="In what the controller's map has its loads, for maps that go out and come in: vacuum "
        "below the air at the site, boost above it (negative below), percent of the most that site and boost "
        "give, or throttle by throttle_kpa. kPa absolute when not given.",
        examples=["inHg vacuum"],
    )
    throttle_rpm: Annotated[
        tuple[float, ...] | None,
        Numbers(ENGINE_RPM, 2, MOST_NODES, rising=True),
        Tag(
            "Speeds of the throttle table", hint=phrase("Speeds of the columns of ", Key("throttle_kpa"), ".")
        ),
    ] = Field(
        default=None,
        description="Speeds of the columns of throttle_kpa.",
        examples=[[1000, 3000, 5000]],
    )
    throttle_kpa: Annotated[
        tuple[tuple[float, ...], ...] | None,
        Rows(
            Number(0, 100, "throttle is 0 to 100 percent"),
            MANIFOLD_KPA,
            "throttle in percent, kPa at each of throttle_rpm",
            most=MOST_NODES,
        ),
        Tag(
            "Throttle table, a row a line: throttle in percent, kPa at each speed",
            hint="Manifold pressure that each throttle gives, as logged on this engine; throttle rising.",
        ),
    ] = Field(
        default=None,
        description="Manifold pressure that each throttle gives: rows of throttle [percent] and absolute "
        "pressure at each of throttle_rpm, throttle and pressures rising.",
        examples=[[[0, 32, 26, 24], [30, 85, 62, 45], [100, 99, 98, 96]]],
    )
    min_deg: Annotated[float, Number(-20, 40, NO_SUCH_ADVANCE), Tag("Least advance the controller takes")] = (
        Field(
            default=0,
            description=described(
                "Least advance that the controller takes.",
                "0 is assumed.",
            ),
            examples=[0],
        )
    )
    max_deg: Annotated[float, Number(5, 90, NO_SUCH_ADVANCE), Tag("Most advance the controller takes")] = (
        Field(
            default=60,
            description=described(
                "Most advance that the controller takes.",
                "60 is assumed.",
            ),
            examples=[60],
        )
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
        """Check that there is something between least and most, and what the throttle table says."""
        if self.min_deg >= self.max_deg:
            yield Conflict(
                "min_deg", phrase("must be below ", Key("max_deg"), f" ({self.max_deg:g})"), "check both"
            )
        yield from self._throttle_conflicts()

    def _throttle_conflicts(self) -> Iterator[Conflict]:
        """Check that the throttle table is whole, and that more throttle gives more pressure."""
        if self.throttle_kpa is None or self.throttle_rpm is None:
            if self.load == "percent of throttle" or self.throttle_kpa or self.throttle_rpm:
                missing = "throttle_rpm" if self.throttle_rpm is None else "throttle_kpa"
                must = (
                    phrase("must be given where ", Stated("load", "percent of throttle"))
                    if self.load == "percent of throttle"
                    else "must be given with the other"
                )
                yield Conflict(missing, must, "a throttle table has its speeds and its rows")
            return
        if len(self.throttle_kpa[0]) != 1 + len(self.throttle_rpm):
            yield Conflict(
                "throttle_kpa",
                f"must have rows of {1 + len(self.throttle_rpm)} numbers",
                f"throttle, and a pressure at each of {len(self.throttle_rpm)} speeds",
            )
            return
        for before, after in pairwise(self.throttle_kpa):
            for rpm, low, high in zip(self.throttle_rpm, before[1:], after[1:], strict=True):
                if high <= low:
                    yield Conflict(
                        "throttle_kpa",
                        "must rise with the throttle at each speed",
                        f"at {rpm:g} rpm {high:g} kPa at {after[0]:g} % follows {low:g} at {before[0]:g} %",
                    )
                    return
