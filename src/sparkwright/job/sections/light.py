"""The timing light, and what is known of the mark that it is read by."""

from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.job.field_kind import Choice, Number, YesNo
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

LightKind = Literal["plain", "dial-back"]


class TimingLight(Section):
    """The timing light, and what is known of the mark that it is read by."""

    kind: Annotated[LightKind | None, Choice(get_args(LightKind)), Tag("Kind of timing light")] = Field(
        default=None,
        description="plain: read against marks or a tape. dial-back: turned until the mark stands at zero.",
        examples=["plain"],
    )
    resolution_deg: Annotated[
        float | None,
        Number(0.05, 10, "it is the step of the dial or of the marks"),
        Tag("Step of its dial or marks", unit="crank deg"),
    ] = Field(
        default=None, description="Step of its dial, or of the marks read, crank degrees.", examples=[1]
    )
    mark_proved: Annotated[bool | None, YesNo(), Tag("Mark of top dead centre was proved")] = Field(
        default=None,
        description="Whether the mark of top dead centre was proved at the piston.",
        examples=[True],
    )
    mark_error_deg: Annotated[
        float | None,
        Number(-40, 40, "a mark that far off has to be made anew", unit="deg BTDC"),
        Tag("What the mark shows at true top dead centre, before positive", unit="crank deg"),
    ] = Field(
        default=None,
        description="What the mark shows at true top dead centre, crank degrees, before positive; 0 "
        "once it is set right.",
        examples=[-2],
    )
    timing_spread_deg: Annotated[float | None, Number(0.1, 5, "more than that is a fault to be mended")] = (
        Field(
            default=None,
            description="What the light check found base, mark and scatter of the spark to be known to, one "
            "standard deviation, crank degrees. Until it is measured 2 is taken, 1 with the mark proved.",
            examples=[0.5],
        )
    )
    delay_set_us: Annotated[
        float | None,
        Number(-2000, 2000, "a pickup's delay is some tens of them"),
        Tag("Delay that the controller makes up for"),
    ] = Field(
        default=None,
        description="Delay that the controller is set to make up for, microseconds.",
        examples=[0],
    )
