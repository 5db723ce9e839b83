"""Rotor, cap and how they stand."""

from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.ignition.body import SwitchingModule, WeightsPlace
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number, Quantity, YesNo
from sparkwright.job.list_kinds import Numbers
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import CYLINDER, NO_SUCH_ADVANCE, NO_SUCH_AIR, NO_SUCH_CAP
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

Rotation = Literal["clockwise", "anticlockwise"]
CapSize = Literal["small", "medium", "large"]
AdvanceMechanism = Literal["locked", "free", "not lockable"]
VacuumAdvance = Literal["disconnected", "connected", "none"]


class Distributor(Section):
    """Rotor, cap and how they stand."""

    rotation: Annotated[
        Rotation, Choice(get_args(Rotation), {"counterclockwise": 'write it "anticlockwise"'})
    ] = Field(
        description="Which way the rotor turns, seen from above with the cap off.", examples=["clockwise"]
    )
    advance: Annotated[AdvanceMechanism, Choice(get_args(AdvanceMechanism)), Tag("Mechanical advance")] = (
        Field(
            description="Whether the mechanical advance is locked, still free to move, or in a body where it "
            "can't be locked.",
            examples=["locked"],
        )
    )
    weights: Annotated[WeightsPlace | None, Choice(get_args(WeightsPlace)), Tag("Where the weights sit")] = (
        Field(
            default=None,
            description="Where the centrifugal weights sit, above or below the pickup's plate, or that there "
            "are none.",
            examples=["below the plate"],
        )
    )
    module_inside: Annotated[
        SwitchingModule | None, Choice(get_args(SwitchingModule)), Tag("Switching module inside")
    ] = Field(
        default=None,
        description="A switching module inside the body: none, one that charges and fires by itself (own "
        "dwell), or one with an input for the controller's timing (timing input).",
        examples=["none"],
    )
    base_deg: Annotated[float, Number(-10, 45, NO_SUCH_ADVANCE, unit="deg BTDC"), Tag("Base", often=2)] = (
        Field(
            description="Crank degrees before top dead centre at which the engine fires when the controller "
            "adds nothing.",
            examples=[10],
        )
    )
    rotor_phase_deg: Annotated[
        float,
        Number(-45, 45, "a rotor is moved by less than a post pitch"),
        Tag(unit="distributor deg", first=True, often=2),
    ] = Field(
        default=0,
        description=described(
            "DISTRIBUTOR degrees that the middle of the tip stands ahead of the middle of "
            "the post, in the direction of rotation, when the engine fires at base.",
            "0 is assumed: an unphased rotor.",
        ),
        examples=[0],
    )
    vacuum_advance: Annotated[VacuumAdvance | None, Choice(get_args(VacuumAdvance))] = Field(
        default=None,
        description='Whether the vacuum advance is disconnected, still connected, or there is "none".',
        examples=["disconnected"],
    )
    tip_radius_mm: Annotated[
        float | None,
        Quantity("length", "mm", 5, 80, NO_SUCH_CAP),
        Tag(
            hint=phrase(
                "From the shaft's axis to the end of the rotor tip; from ",
                Key("cap_size"),
                " when not measured.",
            )
        ),
    ] = Field(
        default=None,
        alias="tip_radius",
        description="From the shaft's axis to the end of the rotor tip; from cap_size when not measured.",
        examples=["29.2 mm"],
    )
    tip_width_mm: Annotated[
        float | None,
        Quantity("length", "mm", 0.5, 40, NO_SUCH_CAP),
        Tag(
            hint=phrase(
                "Width of the rotor tip along its path; from ", Key("cap_size"), " when not measured."
            ),
            first=True,
            often=2,
        ),
    ] = Field(
        default=None,
        alias="tip_width",
        description="Width of the rotor tip along its path; from cap_size when not measured.",
        examples=["6 mm"],
    )
    post_radius_mm: Annotated[
        float | None,
        Quantity("length", "mm", 5, 80, NO_SUCH_CAP),
        Tag(
            hint=phrase(
                "From the shaft's axis to the inner face of a cap post; from ",
                Key("cap_size"),
                " when not measured.",
            )
        ),
    ] = Field(
        default=None,
        alias="post_radius",
        description="From the shaft's axis to the inner face of a cap post; from cap_size when not measured.",
        examples=["30 mm"],
    )
    post_width_mm: Annotated[
        float | None,
        Quantity("length", "mm", 0.5, 40, NO_SUCH_CAP),
        Tag(
            hint=phrase(
                "Width of the inner face of a cap post; from ", Key("cap_size"), " when not measured."
            ),
            first=True,
            often=2,
        ),
    ] = Field(
        default=None,
        alias="post_width",
        description="Width of the inner face of a cap post; from cap_size when not measured.",
        examples=["2.5 mm"],
    )
    cap_size: Annotated[CapSize | None, Choice(get_args(CapSize)), Tag(starter=True, often=2)] = Field(
        default=None,
        description="Size class of the cap, for what was not measured; planning assumes one when not given.",
        examples=["medium"],
    )
    housing_diameter_mm: Annotated[float | None, Quantity("length", "mm", 20, 300, NO_SUCH_CAP)] = Field(
        default=None,
        alias="housing_diameter",
        description="Diameter of the body where it is turned; says a turn in mm at its rim.",
        examples=["72 mm"],
    )
    cap_air_temperature_c: Annotated[
        float, Quantity("temperature", "degC", -40, 150, NO_SUCH_AIR), Tag("Air inside the warm cap")
    ] = Field(
        default=60,
        alias="cap_air_temperature",
        description=described(
            "Air inside the warm cap.",
            "60 degC is assumed",
            practice=True,
        ),
        examples=["60 degC"],
    )
    cap_order: Annotated[
        tuple[int, ...] | None,
        Numbers(CYLINDER, 4, 8),
        Tag("Cylinders in the cap, where not the firing order"),
    ] = Field(
        default=None,
        description="Cylinder at each post in the direction of rotation, where it is not the firing order.",
        examples=[[1, 5, 7, 2, 6, 3, 4, 8]],
    )
    rotor_screws_secured: Annotated[bool | None, YesNo(), Tag("Screws of the rotor are secured")] = Field(
        default=None, description="Whether the screws of the rotor are secured.", examples=[True]
    )
    cap_vented: Annotated[bool | None, YesNo(), Tag("Vents of the cap are open")] = Field(
        default=None, description="Whether the vents of the cap are open.", examples=[True]
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the rotor turns within the posts."""
        if (
            self.tip_radius_mm is not None
            and self.post_radius_mm is not None
            and self.tip_radius_mm >= self.post_radius_mm
        ):
            yield Conflict(
                "tip_radius",
                phrase("must be below ", Key("post_radius"), f" ({self.say('post_radius_mm')})"),
                "the rotor would strike the posts",
            )
