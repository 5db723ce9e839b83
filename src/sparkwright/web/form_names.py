"""The names of the fields of a form: sections, keys, and the rows of pegs; and what reads each."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from sparkwright.job.field_kind import FieldKind, Quantity
from sparkwright.job.names import FIELDS
from sparkwright.job.sections.section import field_kind_of
from sparkwright.units import DIMENSIONS, System, show
from sparkwright.web.typed import shown

LOOSE = tuple(name for name in FIELDS if "." not in name)
"""Fields before the first section."""

PEG_KEYS = tuple(name.removeprefix("pegs.") for name in FIELDS if name.startswith("pegs."))
ROW = re.compile(rf"pegs\.([0-9]{{1,2}})\.({'|'.join(PEG_KEYS)})")


def is_field(name: str) -> bool:
    """Whether a name is that of a field on a page; pegs have rows, cells set by hand are set on the map.

    Parameters
    ----------
    name : str
        Name of an input, such as "engine.bore" or "pegs.0.rpm".
    """
    if ROW.fullmatch(name):
        return True
    return name in FIELDS and not name.startswith(("pegs", "hand"))


def row_words(name: str) -> str:
    """Say which peg a field belongs to, counted as people count.

    Parameters
    ----------
    name : str
        Name of an input.
    """
    found = ROW.fullmatch(name)
    return f"Peg {int(found[1]) + 1}, " if found else ""


def without_row(name: str) -> str:
    """Give the name of a field of the job, whichever row of the form it stands in.

    Parameters
    ----------
    name : str
        Name of an input, such as "pegs.0.rpm".
    """
    return re.sub(r"\.\d+\.", ".", name)


def section_in_form(name: str) -> str:
    """Give the section of a field; "job" for what stands before the first.

    Parameters
    ----------
    name : str
        Name of an input.
    """
    return name.partition(".")[0] if "." in name else "job"


def sections_in(form: Mapping[str, str]) -> tuple[str, ...]:
    """Give the sections of which fields stand in a form, in its order.

    Parameters
    ----------
    form : mapping
        What was typed by input.
    """
    return tuple(dict.fromkeys(section_in_form(name) for name in form if is_field(name)))


def field_kind_for(name: str) -> FieldKind:
    """Give what reads and writes a field.

    Parameters
    ----------
    name : str
        Section and key of the field.
    """
    field_kind = field_kind_of(FIELDS[name])
    assert field_kind is not None
    return field_kind


def fact_at(facts: Mapping[str, Any], name: str) -> Any:
    """Give what is stated at a place, ``pegs.0.rpm``; None where nothing is.

    Parameters
    ----------
    facts : mapping
        What is stated, by section and key.
    name : str
        Name of an input, such as "pegs.0.rpm".
    """
    section, _, rest = name.partition(".")
    found = facts.get(section)
    row, _, key = rest.partition(".")
    if found is None or not rest:
        return found
    if key:
        return found[int(row)].get(key) if int(row) < len(found) else None
    return found.get(rest)


def example_of(name: str, system: System | None = None) -> str:
    """Give an example of a field as it would be typed.

    Parameters
    ----------
    name : str
        Section and key of the field.
    system : {"metric", "inch"}, optional
        Units that the person reads; the example as the reference of job files has it when not given.

    Examples
    --------
    >>> example_of("engine.bore"), example_of("engine.firing_order")
    ('3.921 in', '1 5 7 2 6 3 4 8')
    >>> example_of("engine.bore", "metric"), example_of("site.air_temperature", "inch")
    ('99.59 mm', '77 degF')
    """
    info = FIELDS[name]
    field_kind = field_kind_of(info)
    example = (info.examples or [""])[0]
    if system is not None and type(field_kind) is Quantity:
        # A small unit was chosen for what is small: 80 pF.
        small = field_kind.inside != DIMENSIONS[field_kind.dimension].inside
        return example if small else show(field_kind.read(example), field_kind.dimension, system)
    if field_kind is None or isinstance(example, str):
        return str(example)
    return shown(field_kind, example)
