"""The voltage there is."""

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Quantity
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_BATTERY
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Battery(Section):
    """The voltage there is."""

    running_v: Annotated[
        float, Quantity("voltage", "V", 5, 30, NO_SUCH_BATTERY), Tag("Voltage, engine running")
    ] = Field(
        default=13.8,
        alias="running",
        description=described(
            "Voltage with the engine running.",
            "13.8 V is assumed",
            practice=True,
        ),
        examples=["13.8 V"],
    )
    cranking_v: Annotated[
        float, Quantity("voltage", "V", 3, 28, NO_SUCH_BATTERY), Tag("Voltage on the starter")
    ] = Field(
        default=9.5,
        alias="cranking",
        description=described(
            "Voltage on the starter.",
            "9.5 V is assumed",
            practice=True,
        ),
        examples=["9.5 V"],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the starter pulls the voltage down and not up."""
        if self.cranking_v > self.running_v:
            yield Conflict(
                "cranking",
                phrase("must not be above ", Key("running")),
                "perhaps they are swapped",
            )
