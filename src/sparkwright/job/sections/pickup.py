"""What tells the controller where the engine stands."""

from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.job.field_kind import Choice, YesNo
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

PickupKind = Literal["two-wire", "hall", "points"]


class Pickup(Section):
    """What tells the controller where the engine stands."""

    kind: Annotated[
        PickupKind,
        Choice(get_args(PickupKind)),
        Tag("Kind of pickup", answers={"two-wire": "two-wire (variable reluctance)", "hall": "Hall"}),
    ] = Field(description="Two-wire (variable reluctance), hall, or points.", examples=["two-wire"])
    polarity_checked: Annotated[bool | None, YesNo(), Tag("Polarity was proved")] = Field(
        default=None, description="Whether the polarity of a two-wire pickup was proved.", examples=[True]
    )
    twisted_pair: Annotated[bool | None, YesNo(), Tag("Wires are a twisted pair")] = Field(
        default=None, description="Whether the pickup's wires are a twisted pair.", examples=[True]
    )
    away_from_plug_leads: Annotated[bool | None, YesNo(), Tag("Wires run away from plug leads")] = Field(
        default=None, description="Whether the pickup's wires run away from plug leads.", examples=[True]
    )
