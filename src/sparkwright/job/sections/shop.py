"""Who did the work."""

from typing import Annotated

from pydantic import Field

from sparkwright.job.field_kind import Text
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Shop(Section):
    """Who did the work."""

    name: Annotated[str | None, Text(), Tag("Name of the shop")] = Field(
        default=None, description="Name of the shop.", examples=["Example workshop"]
    )
    person: Annotated[str | None, Text(), Tag("Who answers for the work")] = Field(
        default=None, description="Who answers for the work.", examples=["A. Example"]
    )
    phone: Annotated[str | None, Text()] = Field(
        default=None, description="How to call.", examples=["000 000"]
    )
