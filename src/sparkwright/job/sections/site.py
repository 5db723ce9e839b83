"""The air where the engine works."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field, ValidationError

from sparkwright.errors import Key, phrase
from sparkwright.job.described import described
from sparkwright.job.field_kind import Number, Quantity
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_AIR
from sparkwright.job.sections.section import Section
from sparkwright.job.site_air import air_pressure_kpa
from sparkwright.job.tag import Tag


class Site(Section):
    """The air where the engine works."""

    altitude_m: Annotated[
        float | None,
        Quantity("altitude", "m", -450, 5500, "roads lie between these heights"),
        Tag(starter=True, often=1),
    ] = Field(
        default=None,
        alias="altitude",
        description="Height above sea level. Give this or pressure; sea level is assumed for neither.",
        examples=["1450 m"],
    )
    pressure_kpa: Annotated[
        float | None,
        Quantity(
            "pressure", "kPa", 50, 110, "this is the pressure at the site, not reduced to sea level", "inHg"
        ),
        Tag("Air pressure"),
    ] = Field(
        default=None,
        alias="pressure",
        description="Air pressure at the site, absolute, not reduced to sea level; instead of altitude.",
        examples=["85 kPa"],
    )
    air_temperature_c: Annotated[float, Quantity("temperature", "degC", -50, 60, NO_SUCH_AIR)] = Field(
        default=25,
        alias="air_temperature",
        description=described(
            "Temperature of the outside air.",
            "25 degC is assumed.",
        ),
        examples=["25 degC"],
    )
    humidity_percent: Annotated[
        float, Number(0, 100, "it is relative humidity"), Tag("Relative humidity")
    ] = Field(
        default=50,
        description=described(
            "Relative humidity.",
            "50 is assumed.",
        ),
        examples=[50],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the pressure is stated in one way."""
        if self.altitude_m is not None and self.pressure_kpa is not None:
            yield Conflict(
                "pressure",
                phrase("must not stand beside ", Key("altitude")),
                "keep one of the two",
            )


def stated_air_kpa(tables: Mapping[str, Any]) -> float:
    """Give the air pressure that a job's tables state for the site; at sea level where they can't be used.

    Parameters
    ----------
    tables : mapping
        Sections of a job as TOML gave them, not yet checked.

    Examples
    --------
    >>> stated_air_kpa({"site": {"pressure": "850 hPa"}})
    85.0
    """
    try:
        site = Site.model_validate(tables.get("site", {}))
    except ValidationError:
        site = Site()
    return air_pressure_kpa(site.pressure_kpa, site.altitude_m)
