"""Timing values that a person insists on."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Number, Text
from sparkwright.job.sections.bounds import MANIFOLD_KPA, NO_SUCH_ADVANCE, NO_SUCH_SPEED
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Peg(Section):
    """A timing value that a person insists on at a speed and load, with a reason."""

    rpm: Annotated[float, Number(100, 12000, NO_SUCH_SPEED), Tag("Speed")] = Field(
        description="Speed of the peg.", examples=[3000]
    )
    kpa: Annotated[float, MANIFOLD_KPA, Tag("Manifold pressure")] = Field(
        description="Absolute manifold pressure of the peg.", examples=[45]
    )
    advance_deg: Annotated[float, Number(-20, 80, NO_SUCH_ADVANCE, unit="deg BTDC")] = Field(
        description="Advance insisted on, crank degrees before top dead centre.", examples=[36]
    )
    reason: Annotated[str, Text(200)] = Field(
        description="Why; whoever reads the card has to know.", examples=["surged above this on the road"]
    )
