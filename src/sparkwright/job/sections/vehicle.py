"""What the engine drives on the road, as far as its accelerations hang on it."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Number
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Vehicle(Section):
    """What the engine drives on the road, as far as its accelerations hang on it."""

    mass_kg: Annotated[
        float | None,
        Number(80, 40_000, "it is the vehicle as it was driven, with who and what was in it"),
        Tag("Mass as driven", unit="kg"),
    ] = Field(
        default=None,
        description="Mass as driven, with driver and load [kg]; 1,500 is taken when not given.",
        examples=[1450],
    )
    drag_area_m2: Annotated[
        float | None,
        Number(0.1, 12, "it is frontal area times drag coefficient"),
        Tag("Drag area", hint="Frontal area times drag coefficient."),
    ] = Field(
        default=None,
        description="Frontal area times drag coefficient [m2]; 0.8 is taken when not given.",
        examples=[0.75],
    )
    rolling_resistance: Annotated[
        float | None,
        Number(0.003, 0.1, "it is the force that rolling takes over the vehicle's weight"),
        Tag("Rolling resistance", hint="The force that rolling takes over the weight."),
    ] = Field(
        default=None,
        description="Force that rolling takes over the vehicle's weight; 0.014 is taken when not given.",
        examples=[0.014],
    )
