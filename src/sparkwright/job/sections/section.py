"""What every section of a job can do: read and write its values, say them, refuse what contradicts."""

from collections.abc import Iterator
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, ValidationInfo, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from sparkwright.job.field_kind import FieldKind
from sparkwright.job.problems import CONFLICT, Conflict

KEPT = "kept"
"""Says, while a text is read, that it was taken before: its open questions don't keep it from being read."""


class Section(BaseModel):
    """A part of the job: frozen, and no key that isn't known."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def conflicts(self) -> Iterator[Conflict]:
        """Give every way in which values here contradict one another."""
        yield from ()

    def questions(self) -> Iterator[Conflict]:
        """Give what is refused in a job that is given now, and stays open in one that was kept before."""
        yield from ()

    @model_validator(mode="after")
    def _agree(self, info: ValidationInfo) -> Self:
        problems = list(self.conflicts())
        if not (info.context or {}).get(KEPT):
            problems += self.questions()
        if problems:
            raise PydanticCustomError(CONFLICT, "values contradict one another", {"problems": problems})
        return self

    @classmethod
    def key(cls, attribute: str) -> str:
        """Give the TOML key of an attribute.

        Parameters
        ----------
        attribute : str
            Name in the model, such as "bore_mm".
        """
        return cls.model_fields[attribute].alias or attribute

    @classmethod
    def field_kind(cls, attribute: str) -> FieldKind | None:
        """Give what reads and writes an attribute; None for a section within.

        Parameters
        ----------
        attribute : str
            Name in the model, such as "bore_mm".
        """
        return field_kind_of(cls.model_fields[attribute])

    def say(self, attribute: str) -> str:
        """Say the value of an attribute with its unit; "not given" when there is none.

        Parameters
        ----------
        attribute : str
            Name in the model, such as "bore_mm".

        Examples
        --------
        >>> from sparkwright.job import Site
        >>> Site().say("air_temperature_c"), Site().say("altitude_m")
        ('25 degC', 'not given')
        """
        value = getattr(self, attribute)
        field_kind = self.field_kind(attribute)
        return "not given" if value is None else field_kind.say(value) if field_kind else str(value)

    def facts(self) -> dict[str, Any]:
        """Give what was stated, by TOML key, as TOML holds it."""
        found: dict[str, Any] = {}
        for attribute in type(self).model_fields:
            value = getattr(self, attribute)
            if attribute not in self.model_fields_set or value is None:
                continue
            field_kind = self.field_kind(attribute)
            if isinstance(value, Section):
                found[self.key(attribute)] = value.facts()
            elif field_kind is None:
                found[self.key(attribute)] = [section.facts() for section in value]
            else:
                found[self.key(attribute)] = field_kind.write(value)
        return found


def field_kind_of(info: FieldInfo) -> FieldKind | None:
    """Give what reads and writes a field; None for a section within.

    Parameters
    ----------
    info : FieldInfo
        A model's record of the field.
    """
    return next((each for each in info.metadata if isinstance(each, FieldKind)), None)
