"""What the person at the engine allows."""

from typing import Annotated

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Number
from sparkwright.job.sections.bounds import NO_SUCH_ADVANCE, NO_SUCH_SPEED
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Limits(Section):
    """What the person at the engine allows."""

    knock_margin_deg: Annotated[
        float, Number(0, 20, "a margin is a few degrees"), Tag("Kept below the knock limit", often=1)
    ] = Field(
        default=0,
        description=described(
            "Degrees kept below the knock ceiling on top of the chance that it is set by.",
            "0 is assumed: the chance has its own margin.",
        ),
        examples=[2],
    )
    knock_chance_percent: Annotated[float, Number(0.1, 50, "50 is the knock limit itself")] = Field(
        default=10,
        description=described(
            "Chance of knock that a cell up to the site's pressure may have, given all that"
            " isn't known exactly.",
            "10 is assumed: a light knock is heard there before it harms.",
        ),
        examples=[10],
    )
    boost_knock_chance_percent: Annotated[float, Number(0.1, 50, "50 is the knock limit itself")] = Field(
        default=2,
        description=described(
            "The same above the site's pressure.",
            "2 is assumed: under boost the first knock can break a piston.",
        ),
        examples=[2],
    )
    idle_reserve_deg: Annotated[
        float, Number(0, 20, "a reserve is a few degrees"), Tag("Kept below best at idle")
    ] = Field(
        default=6,
        description=described(
            "Degrees kept below best at idle, so that timing can steady it.",
            "6 is assumed",
            practice=True,
        ),
        examples=[6],
    )
    idle_wander_rpm: Annotated[
        float | None,
        Number(10, 500, "an idle that wanders further is no idle"),
        Tag("How far the idle wanders"),
    ] = Field(
        default=None,
        description="How far the speed wanders to either side of idle. The idle block is laid for 100 when "
        "not given.",
        examples=[100],
    )
    slope_deg_per_500rpm: Annotated[
        float,
        Number(0.5, 60, "a map steeper than this has no use", unit="deg"),
        Tag("Most change over 500 rpm", unit="deg"),
    ] = Field(
        default=12,
        description=described(
            "Most change of advance over 500 rpm.",
            "12 is assumed.",
        ),
        examples=[12],
    )
    slope_deg_per_10kpa: Annotated[
        float,
        Number(0.5, 60, "a map steeper than this has no use", unit="deg"),
        Tag("Most change over 10 kPa", unit="deg"),
    ] = Field(
        default=8,
        description=described(
            "Most change of advance over 10 kPa.",
            "8 is assumed.",
        ),
        examples=[8],
    )
    max_advance_deg: Annotated[float | None, Number(0, 80, NO_SUCH_ADVANCE), Tag("Most advance anywhere")] = (
        Field(default=None, description="Most advance that the person allows anywhere.", examples=[40])
    )
    highest_rpm: Annotated[
        float | None,
        Number(1000, 12000, NO_SUCH_SPEED),
        Tag(
            "Highest speed of the plan",
            hint=phrase("Highest speed the plan is for; ", Key("engine.redline_rpm"), " when not given."),
        ),
    ] = Field(
        default=None,
        description="Highest speed the plan is for; engine.redline_rpm when not given.",
        examples=[5000],
    )
