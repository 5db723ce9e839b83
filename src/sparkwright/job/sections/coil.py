"""The ignition coil."""

from typing import Annotated, get_args

from pydantic import Field

from sparkwright.ignition.coil_kinds import CoilKind
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number, Quantity
from sparkwright.job.sections.bounds import NO_SUCH_COIL
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag


class Coil(Section):
    """The ignition coil."""

    kind: Annotated[CoilKind | None, Choice(get_args(CoilKind)), Tag("Kind of coil", first=True)] = Field(
        default=None,
        description="Kind of coil, for what was not measured; planning assumes one when not given.",
        examples=["oil-filled"],
    )
    primary_ohm: Annotated[
        float | None,
        Quantity(
            "resistance", "ohm", 0.05, 10, "a shorted primary has no charging curve, an open one no current"
        ),
        Tag(starter=True),
    ] = Field(
        default=None,
        alias="primary_resistance",
        description="Resistance of the primary at 20 degC (68 degF); from the kind when not measured.",
        examples=["0.7 ohm"],
    )
    primary_mh: Annotated[
        float | None, Quantity("inductance", "mH", 0.1, 50, NO_SUCH_COIL), Tag(starter=True)
    ] = Field(
        default=None,
        alias="primary_inductance",
        description="Inductance of the primary, unsaturated; from the kind when not measured.",
        examples=["4 mH"],
    )
    turns_ratio: Annotated[float | None, Number(10, 300, NO_SUCH_COIL, unit="to 1"), Tag(starter=True)] = (
        Field(
            default=None,
            description="Secondary turns for each primary turn; from the kind when not measured.",
            examples=[85],
        )
    )
    secondary_kohm: Annotated[float | None, Quantity("resistance", "kohm", 0.2, 100, NO_SUCH_COIL)] = Field(
        default=None,
        alias="secondary_resistance",
        description="Resistance of the secondary; planning assumes one when not given.",
        examples=["9 kohm"],
    )
    secondary_pf: Annotated[float, Quantity("capacitance", "pF", 10, 500, NO_SUCH_COIL)] = Field(
        default=80,
        alias="secondary_capacitance",
        description=described(
            "Capacitance of secondary, lead and plug.",
            "80 pF is assumed",
            practice=True,
        ),
        examples=["80 pF"],
    )
    saturation_a: Annotated[
        float | None, Quantity("current", "A", 0.5, 60, NO_SUCH_COIL), Tag("Saturates at")
    ] = Field(
        default=None,
        alias="saturation",
        description="Current at which the core saturates; not modelled when not given.",
        examples=["8 A"],
    )
    energy_wanted_mj: Annotated[float | None, Quantity("energy", "mJ", 1, 500, NO_SUCH_COIL)] = Field(
        default=None,
        alias="energy_wanted",
        description="Energy wanted in the coil at each spark; planning assumes one when not given.",
        examples=["60 mJ"],
    )
    warm_c: Annotated[
        float, Quantity("temperature", "degC", -20, 180, NO_SUCH_COIL), Tag("Temperature of the warm winding")
    ] = Field(
        default=80,
        alias="warm",
        description=described(
            "Temperature of the warm winding.",
            "80 degC is assumed",
            practice=True,
        ),
        examples=["80 degC"],
    )
    max_mean_power_w: Annotated[
        float | None, Quantity("power", "W", 1, 500, NO_SUCH_COIL), Tag("Heat the coil may shed")
    ] = Field(
        default=None,
        alias="max_mean_power",
        description="Heat that the coil may shed for long; not judged when not given.",
        examples=["40 W"],
    )
