"""How air comes in."""

from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.errors import Key, Stated, phrase
from sparkwright.job.field_kind import Choice, Number, Quantity
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_AIR
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

InductionKind = Literal["natural", "boosted"]


class Induction(Section):
    """How air comes in."""

    kind: Annotated[InductionKind, Choice(get_args(InductionKind)), Tag("Natural or boosted")] = Field(
        description="Natural, or boosted by a turbocharger or blower.", examples=["natural"]
    )
    max_boost_kpa: Annotated[
        float | None,
        Quantity("pressure", "kPa", 1, 300, "this is gauge pressure, above that of the site"),
        Tag("Highest boost", often=1),
    ] = Field(
        default=None,
        alias="max_boost",
        description="Highest boost, gauge (above the pressure of the site). Boosted engines only.",
        examples=["10 psi"],
    )
    charge_temperature_c: Annotated[float | None, Quantity("temperature", "degC", -40, 250, NO_SUCH_AIR)] = (
        Field(
            default=None,
            alias="charge_temperature",
            description="Temperature of the air in the manifold at full boost, after any intercooler.",
            examples=["60 degC"],
        )
    )
    boost_from_rpm: Annotated[
        float | None,
        Number(0, 8000, "0 where boost stands from idle, as with a blower that the crank drives"),
    ] = Field(
        default=None,
        description="Speed from which full boost is there; 0 where it stands from idle, as with a blower "
        "that the crank drives. Below it no cell under boost counts as met. Planning assumes 2,000 when not "
        "given.",
        examples=[2200],
    )
    intake_temperature_c: Annotated[float | None, Quantity("temperature", "degC", -40, 150, NO_SUCH_AIR)] = (
        Field(
            default=None,
            alias="intake_temperature",
            description="Air in the manifold without boost; taken from the site's air when not given.",
            examples=["104 degF"],
        )
    )

    manifold_litres: Annotated[
        float | None, Number(0.2, 60, "from throttle to valves"), Tag("Volume of the manifold")
    ] = Field(
        default=None,
        description="Volume from throttle to intake valves [litres]; taken from the swept volume when not "
        "given.",
        examples=[5.5],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that boost is stated where there is boost, and only there."""
        if self.kind == "boosted" and self.max_boost_kpa is None:
            yield Conflict(
                "max_boost",
                phrase("must be given where ", Stated("kind", "boosted")),
                phrase("for example ", Stated("max_boost", "10 psi")),
            )
        if self.kind == "natural":
            for name in ("max_boost_kpa", "charge_temperature_c", "boost_from_rpm"):
                if getattr(self, name) is not None:
                    yield Conflict(
                        self.key(name),
                        phrase("must stand only where ", Stated("kind", "boosted")),
                        phrase("take it out or change ", Key("kind")),
                    )
