"""Cells of the map that a person has set."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Moment, Number, Text
from sparkwright.job.sections.bounds import ENGINE_RPM, MANIFOLD_KPA, NO_SUCH_ADVANCE
from sparkwright.job.sections.section import Section


class HandCell(Section):
    """An exact value that a person has put in one cell of the map, whatever the plan would give."""

    rpm: Annotated[float, ENGINE_RPM] = Field(
        description="Speed of the cell, one of the map's.", examples=[3000]
    )
    kpa: Annotated[float, MANIFOLD_KPA] = Field(
        description="Absolute manifold pressure of the cell, one of the map's.", examples=[45]
    )
    advance_deg: Annotated[float, Number(-20, 90, NO_SUCH_ADVANCE, unit="deg BTDC")] = Field(
        description="Value of the cell, crank degrees before top dead centre, a multiple of the controller's "
        "step.",
        examples=[36],
    )
    reason: Annotated[str | None, Text(200)] = Field(
        default=None,
        description="Why; one that stands over a ceiling needs it, for whoever reads the card.",
        examples=["no knock heard here with the test fuel"],
    )
    by: Annotated[str | None, Text()] = Field(
        default=None, description="Who set it.", examples=["A. Example"]
    )
    on: Annotated[str | None, Moment()] = Field(
        default=None, description="When it was set.", examples=["2030-05-01T14:30"]
    )
