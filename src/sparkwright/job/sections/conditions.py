"""Between what conditions a map must hold, and which trims the controller has for them."""

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Number, Quantity, YesNo
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_AIR, NO_SUCH_FUEL
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

_ROADS = "roads lie between these heights"
_COOLANT = "outside this no engine runs on its coolant"


class Conditions(Section):
    """Between what conditions a map must hold, and which trims the controller has for them."""

    coldest_air_c: Annotated[
        float | None, Quantity("temperature", "degC", -50, 60, NO_SUCH_AIR), Tag("Coldest day")
    ] = Field(
        default=None,
        alias="coldest_air",
        description="Outside air on the coldest day it is driven.",
        examples=["-10 degC"],
    )
    hottest_air_c: Annotated[
        float | None, Quantity("temperature", "degC", -50, 60, NO_SUCH_AIR), Tag("Hottest day")
    ] = Field(
        default=None,
        alias="hottest_air",
        description="Outside air on the hottest day it is driven.",
        examples=["40 degC"],
    )
    coldest_coolant_c: Annotated[
        float | None, Quantity("temperature", "degC", -40, 140, _COOLANT), Tag("Coldest engine under load")
    ] = Field(
        default=None,
        alias="coldest_coolant",
        description="Coolant at which it is first driven away.",
        examples=["20 degC"],
    )
    hottest_coolant_c: Annotated[
        float | None, Quantity("temperature", "degC", -40, 140, _COOLANT), Tag("Hottest engine")
    ] = Field(
        default=None,
        alias="hottest_coolant",
        description="Coolant at which it is stopped at the latest.",
        examples=["105 degC"],
    )
    lowest_altitude_m: Annotated[
        float | None, Quantity("altitude", "m", -450, 5500, _ROADS), Tag("Lowest place")
    ] = Field(
        default=None,
        alias="lowest_altitude",
        description="Lowest height above sea level at which it is driven.",
        examples=["0 m"],
    )
    highest_altitude_m: Annotated[
        float | None, Quantity("altitude", "m", -450, 5500, _ROADS), Tag("Highest pass")
    ] = Field(
        default=None,
        alias="highest_altitude",
        description="Highest height above sea level at which it is driven.",
        examples=["2500 m"],
    )
    other_ron: Annotated[
        float | None,
        Number(40, 130, NO_SUCH_FUEL, unit="RON"),
        Tag(
            "Second fuel's RON",
            hint=phrase(
                "Research octane number of a second fuel that it may be given. With it, or ",
                Key("other_mon"),
                " or ",
                Key("other_aki"),
                ", the map must hold on that fuel too.",
            ),
        ),
    ] = Field(
        default=None,
        description="Research octane number of a second fuel that it may be given. With it, or other_mon or "
        "other_aki, the map must hold on that fuel too.",
        examples=[91],
    )
    other_mon: Annotated[
        float | None, Number(40, 120, NO_SUCH_FUEL, unit="MON"), Tag("Second fuel's MON")
    ] = Field(default=None, description="Its motor octane number.", examples=[82])
    other_aki: Annotated[
        float | None, Number(40, 125, NO_SUCH_FUEL, unit="AKI"), Tag("Second fuel's AKI")
    ] = Field(default=None, description="Half the sum of both, as on some pumps.", examples=[87])
    other_ethanol_percent: Annotated[
        float | None, Number(0, 100, "it is a share of the volume"), Tag("Second fuel's ethanol")
    ] = Field(
        default=None,
        description="Ethanol in the second fuel, percent of volume; that of the first when not given.",
        examples=[10],
    )
    air_trim: Annotated[bool, YesNo(), Tag("Controller trims by air temperature")] = Field(
        default=True,
        description=described(
            "Whether the controller trims by air temperature.",
            "true is assumed.",
        ),
        examples=[True],
    )
    coolant_trim: Annotated[bool, YesNo(), Tag("Controller trims by engine temperature")] = Field(
        default=True,
        description=described(
            "Whether the controller trims by engine temperature.",
            "true is assumed.",
        ),
        examples=[True],
    )
    pressure_trim: Annotated[bool, YesNo(), Tag("Controller trims by air pressure")] = Field(
        default=True,
        description=described(
            "Whether the controller trims by the pressure of the outside air.",
            "true is assumed.",
        ),
        examples=[True],
    )
    fuel_trim: Annotated[bool, YesNo(), Tag("Controller trims by fuel")] = Field(
        default=True,
        description=described(
            "Whether the controller trims by fuel, by a switch or a sensor.",
            "true is assumed.",
        ),
        examples=[True],
    )

    @property
    def second_fuel(self) -> bool:
        """Whether a second fuel is stated."""
        return any(each is not None for each in (self.other_ron, self.other_mon, self.other_aki))

    def conflicts(self) -> Iterator[Conflict]:
        """Check that each span rises, and that ethanol comes with an octane number."""
        for low, high in (
            ("coldest_air_c", "hottest_air_c"),
            ("coldest_coolant_c", "hottest_coolant_c"),
            ("lowest_altitude_m", "highest_altitude_m"),
        ):
            least, most = getattr(self, low), getattr(self, high)
            if least is not None and most is not None and least >= most:
                yield Conflict(
                    self.key(low), phrase("must be below ", Key(self.key(high))), "perhaps they are swapped"
                )
        if self.other_ethanol_percent is not None and not self.second_fuel:
            yield Conflict(
                "other_ethanol_percent",
                "must come with an octane number of that fuel",
                phrase(
                    "give ",
                    Key("other_ron"),
                    ", ",
                    Key("other_mon"),
                    " or ",
                    Key("other_aki"),
                    " as the pump says",
                ),
            )
