"""Whose engine it is."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Text
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Customer(Section):
    """Whose engine it is."""

    name: Annotated[str | None, Text(), Tag("Name of the customer")] = Field(
        default=None, description="Name of the customer.", examples=["Example brigade"]
    )
    vehicle: Annotated[str | None, Text()] = Field(
        default=None, description="What the engine drives.", examples=["Fire engine with a pump"]
    )
    plate: Annotated[str | None, Text()] = Field(
        default=None, description="Its plate or number.", examples=["EXAMPLE 1"]
    )
