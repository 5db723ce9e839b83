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

_NO_ROWS = {
    "between": "between rows with speeds of their own it is planned in straight lines only",
    "load": "a row of a map by throttle is another pressure at each speed; give rpm and kpa",
}
"""Why rows with speeds of their own can't stand beside some answers."""


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
    rows: Annotated[
        tuple[tuple[float, ...], ...] | None,
        Rows(
            MANIFOLD_KPA,
            ENGINE_RPM,
            "kPa, then the speeds of that row in rpm",
            most=MOST_NODES,
            own="speeds",
        ),
        Tag(
            "Rows with speeds of their own, a row a line: kPa, then its speeds",
            hint="Only where each load has speeds of its own in the controller. Beyond its first and last "
            "speed a row keeps their values.",
        ),
    ] = Field(
        default=None,
        description="The map's rows where each has speeds of its own: absolute manifold pressure, then the "
        "speeds of that row, both rising. Beyond its first and last speed a row keeps their values; one "
        "speed holds for all. They take the place of rpm and kpa.",
        examples=[[[30, 600, 900, 2500], [60, 600, 1500, 3000, 5000], [98, 600, 2000, 3500, 5000]]],
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
    def speeds(self) -> tuple[float, ...] | None:
        """Speeds of the map's columns: as stated, or those of all rows together; None where nobody says."""
        if self.rows is None:
            return self.rpm
        return tuple(sorted({rpm for _, *speeds in self.rows for rpm in speeds}))

    @property
    def loads(self) -> tuple[float, ...] | None:
        """Pressures of the map's rows [kPa absolute]; None where nobody says."""
        return self.kpa if self.rows is None else tuple(row[0] for row in self.rows)

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
        yield from self._rows_conflicts()
        yield from self._throttle_conflicts()

    def _rows_conflicts(self) -> Iterator[Conflict]:
        """Check that rows with speeds of their own make a map, and that nothing else says otherwise."""
        if self.rows is None:
            return
        together = {"rpm": self.speeds or (), "kpa": self.loads or ()}
        if not 2 <= len(together["rpm"]) <= MOST_NODES:
            yield Conflict(
                "rows",
                f"must have 2 to {MOST_NODES} different speeds in all",
                f"together they have {len(together['rpm'])}; let rows share speeds",
            )
        for name, of in (("rpm", "speeds"), ("kpa", "loads")):
            stated = getattr(self, name)
            if stated is not None and stated != together[name]:
                yield Conflict(
                    name,
                    phrase("must be left out, or be the ", of, " of ", Key("rows"), " together"),
                    f"the {of} of the rows are {', '.join(f'{each:g}' for each in together[name])}",
                )
        for name, value in (("between", "nearest cell"), ("load", "percent of throttle")):
            if getattr(self, name) == value:
                yield Conflict("rows", phrase("must be left out where ", Stated(name, value)), _NO_ROWS[name])

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
