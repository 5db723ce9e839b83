"""The mechanical and vacuum advance that the engine had."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Number, Quantity
from sparkwright.job.list_kinds import Points
from sparkwright.job.sections.bounds import NO_SUCH_ADVANCE, NO_SUCH_SPEED
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

VACUUM_KPA = Quantity("pressure", "kPa", 0, 100, "vacuum is the pressure below that of the site", "inHg")
CURVE_DEG = Number(0, 60, NO_SUCH_ADVANCE)


class OldCurve(Section):
    """The mechanical and vacuum advance that the engine had, for comparison."""

    initial_deg: Annotated[
        float, Number(-20, 40, NO_SUCH_ADVANCE, unit="deg BTDC"), Tag("Initial advance")
    ] = Field(description="Advance the old distributor was set to, crank degrees.", examples=[6])
    mechanical: Annotated[
        tuple[tuple[float, float], ...],
        Points(Number(0, 12000, NO_SUCH_SPEED), CURVE_DEG, "engine rpm, crank degrees", least=1),
        Tag("Mechanical advance, a point a line: rpm, deg", hint="Above initial; speeds rising."),
    ] = Field(
        description="Mechanical advance above initial: pairs of engine rpm and crank degrees, speeds rising.",
        examples=[[[700, 0], [1800, 14], [3200, 24]]],
    )
    vacuum: Annotated[
        tuple[tuple[float, float], ...] | None,
        Points(VACUUM_KPA, CURVE_DEG, "vacuum with its unit, crank degrees", least=1),
        Tag("Vacuum advance, a point a line: vacuum with its unit, deg", hint="Vacuum rising."),
    ] = Field(
        default=None,
        description="Vacuum advance: pairs of vacuum with its unit and crank degrees, vacuum rising.",
        examples=[[["5 inHg", 0], ["12 inHg", 14]]],
    )
