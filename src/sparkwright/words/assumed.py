"""What was taken where nothing was stated, in the person's units."""

from __future__ import annotations

import re

from pydantic_core import PydanticCustomError

from sparkwright.job.field_kind import Quantity
from sparkwright.job.fields import FIELDS
from sparkwright.job.sections.section import field_kind_of
from sparkwright.units import DIMENSIONS, System, show


def why_words(field: str, value: str, why: str, system: System) -> str:
    """Say why a value was taken, without naming it once more in units that the person doesn't read.

    Examples
    --------
    >>> why_words("coil.warm", "80 degC", "The coil at work. 80 degC is assumed.", "inch")
    'The coil at work.'
    """
    return why if value_words(field, value, system) == value else without_assumed(why)


def without_assumed(description: str) -> str:
    """Leave out of a description what is assumed where nothing is stated.

    Examples
    --------
    >>> without_assumed("The coil at work. 80 degC is assumed.")
    'The coil at work.'
    """
    parts = re.split(r"(?<=\.)\s+", description)
    return " ".join(part for part in parts if not _ASSUMED.fullmatch(part))


_ASSUMED = re.compile(r"(?!Only )[^;]+ is assumed(: .*)?\.")


def value_words(field: str, value: str, system: System) -> str:
    """Say a value that a check or a plan took for a field; as it is where it is no plain quantity.

    Examples
    --------
    >>> value_words("coil.warm", "80 degC", "inch"), value_words("fuel.mon", "MON 85.0", "inch")
    ('176 degF', 'MON 85.0')
    """
    field_kind = field_kind_of(FIELDS[field]) if field in FIELDS else None
    if system == "metric" or not isinstance(field_kind, Quantity):
        return value
    if DIMENSIONS[field_kind.dimension].metric == DIMENSIONS[field_kind.dimension].inch:
        return value
    try:
        return show(field_kind.read(value), field_kind.dimension, system)
    except PydanticCustomError:
        return value
