"""What switches the coil."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.errors import Key, Stated, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number, Quantity, YesNo
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_COIL
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

DriverKind = Literal["inductive", "capacitive"]


class Driver(Section):
    """What switches the coil."""

    kind: Annotated[DriverKind, Choice(get_args(DriverKind)), Tag("Kind of driver")] = Field(
        description="Inductive (charges the coil's field), or capacitive (discharges a capacitor into it).",
        examples=["inductive"],
    )
    controls_dwell: Annotated[bool, YesNo(), Tag("Controller or driver sets the dwell")] = Field(
        default=True,
        description=described(
            "Whether the controller or driver sets the dwell.",
            "true is assumed.",
        ),
        examples=[True],
    )
    ballast_ohm: Annotated[
        float, Quantity("resistance", "ohm", 0, 10, "a larger ballast would starve the coil")
    ] = Field(
        default=0,
        alias="ballast",
        description=described(
            "Ballast in series with the coil, resistor or resistance wire.",
            "None (0 ohm) is assumed.",
        ),
        examples=["0 ohm"],
    )
    drop_v: Annotated[
        float | None, Quantity("voltage", "V", 0, 5, NO_SUCH_COIL), Tag("Voltage across the driver when on")
    ] = Field(
        default=None,
        alias="drop",
        description="Voltage left across the driver when it is on; planning assumes one when not given.",
        examples=["1.2 V"],
    )
    current_limit_a: Annotated[float | None, Quantity("current", "A", 0.5, 50, NO_SUCH_COIL)] = Field(
        default=None,
        alias="current_limit",
        description="Current at which the driver limits; no limit when not given.",
        examples=["9 A"],
    )
    max_mean_power_w: Annotated[
        float | None, Quantity("power", "W", 1, 500, NO_SUCH_COIL), Tag("Heat the driver may shed")
    ] = Field(
        default=None,
        alias="max_mean_power",
        description="Heat that the driver may shed for long; not judged when not given.",
        examples=["30 W"],
    )
    energy_mj: Annotated[
        float | None,
        Quantity("energy", "mJ", 1, 2000, NO_SUCH_COIL),
        Tag(
            "Energy of one discharge",
            hint=phrase(
                "Capacitive: two of this, ", Key("primary_voltage"), " and ", Key("capacitance"), "."
            ),
        ),
    ] = Field(
        default=None,
        alias="energy",
        description="Energy of one discharge. Capacitive: two of energy, primary_voltage, capacitance.",
        examples=["90 mJ"],
    )
    primary_v: Annotated[float | None, Quantity("voltage", "V", 50, 1000, NO_SUCH_COIL)] = Field(
        default=None,
        alias="primary_voltage",
        description="Voltage put on the coil's primary. Capacitive only.",
        examples=["415 V"],
    )
    capacitance_uf: Annotated[float | None, Quantity("capacitance", "uF", 0.05, 20, NO_SUCH_COIL)] = Field(
        default=None,
        alias="capacitance",
        description="Capacitor that is discharged. Capacitive only.",
        examples=["1.05 uF"],
    )
    other_leads_on_coil: Annotated[bool | None, YesNo(), Tag("Anything else on the coil's terminals")] = (
        Field(
            default=None,
            description="Whether anything but the driver's output is on the coil's terminals. "
            "Capacitive only.",
            examples=[False],
        )
    )
    cranking_sparks: Annotated[
        int,
        Number(1, 20, "more sparks would outlast the stroke", whole=True),
        Tag("Sparks for each firing while cranking"),
    ] = Field(
        default=1,
        description=described(
            "Sparks for each firing while cranking.",
            "1 is assumed.",
        ),
        examples=[1],
    )
    spark_spacing_ms: Annotated[
        float | None,
        Quantity("time", "ms", 0.2, 20, "sparks follow one another by about a millisecond"),
        Tag("Time between those sparks"),
    ] = Field(
        default=None,
        alias="spark_spacing",
        description="Time from one of those sparks to the next; planning assumes one when not given.",
        examples=["1 ms"],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that each kind of driver has its own values and no others."""
        theirs = ("energy_mj", "primary_v", "capacitance_uf")
        given = [name for name in theirs if getattr(self, name) is not None]
        misplaced = given if self.kind == "inductive" else []
        if self.kind == "capacitive":
            misplaced = [name for name in ("drop_v", "current_limit_a") if getattr(self, name) is not None]
            yield from self._capacitive_energy(given)
        owner = "capacitive" if self.kind == "inductive" else "inductive"
        for name in misplaced:
            yield Conflict(
                self.key(name),
                phrase("must stand only where ", Stated("kind", owner)),
                phrase("take it out or change ", Key("kind")),
            )

    def _capacitive_energy(self, given: Sequence[str]) -> Iterator[Conflict]:
        if len(given) < 2:
            yield Conflict(
                "energy",
                phrase(
                    "must stand with one more of ",
                    Key("energy"),
                    ", ",
                    Key("primary_voltage"),
                    ", ",
                    Key("capacitance"),
                ),
                "two of the three give the third",
            )
        if self.energy_mj is not None and self.primary_v is not None and self.capacitance_uf is not None:
            stored_mj = 0.5 * self.capacitance_uf * self.primary_v**2 / 1000
            if abs(stored_mj - self.energy_mj) > 0.1 * stored_mj:
                yield Conflict(
                    "energy",
                    phrase(
                        f"must be the {stored_mj:.0f} mJ of ",
                        Key("primary_voltage"),
                        " and ",
                        Key("capacitance"),
                        ", within 10 percent",
                    ),
                    "keep the two that are known",
                )
