"""What was taken where the job says nothing, in words and in the units of who reads them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pydantic_core import PydanticCustomError

from sparkwright.check.assumed import Assumed
from sparkwright.job import Job
from sparkwright.job.described import what_of
from sparkwright.job.field_kind import Quantity
from sparkwright.job.names import FIELDS, answer_in_words, label_of, unit_of
from sparkwright.job.sections.section import field_kind_of
from sparkwright.job.tag import tag_of
from sparkwright.plan.worth import measure_first
from sparkwright.reading import number_or_none
from sparkwright.units import DIMENSIONS, System, show


def assumed_words(items: Sequence[Assumed], system: System = "metric") -> list[str]:
    """Say what was taken, each once, what matters most first.

    Parameters
    ----------
    items : sequence of Assumed
        What was taken where the job states nothing.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> taken = [Assumed("engine.swirl", "1", "usual"), Assumed("distributor.tip_width", "6.0 mm", "usual")]
    >>> assumed_words([*taken, Assumed("controller.min_deg", "0", "usual")])
    ['Tip width 6.0 mm', 'Swirl 1', 'Least advance the controller takes 0 deg']
    """
    by_field = {each.field: each.value for each in items}
    first = [each.field for each in measure_first(items, most=len(by_field))]
    return [
        _said(field, value_words(field, by_field[field], system))
        for field in dict.fromkeys((*first, *by_field))
    ]


def stated_words(job: Job, fields: Iterable[str], system: System = "metric") -> list[str]:
    """Say what a job states of some fields; what it doesn't state is left out.

    Parameters
    ----------
    job : Job
        The job.
    fields : iterable of str
        Sections and keys, such as "coil.primary_resistance".
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> stated_words(job, ["engine.bore", "customer.name", "engine.firing_order"], "inch")
    ['Bore 3.921 in', 'Firing order 1, 5, 7, 2, 6, 3, 4, 8']
    """
    facts, found = job.facts(), []
    for field in fields:
        section, _, key = field.partition(".")
        value = facts.get(section, {}).get(key)
        if value is not None:
            text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
            found.append(_said(field, value_words(field, text, system)))
    return found


def _said(field: str, value: str) -> str:
    """Say one of them: its label, its value, and the unit of a plain number."""
    info = FIELDS.get(field)
    if info is not None and value in tag_of(info).answers:
        return f"{label_of(field)} {answer_in_words(info, value)}"
    if number_or_none(value) is None:
        return f"{label_of(field).removesuffix(f', {unit_of(field)}')} {value}"
    label, _, unit = label_of(field).partition(", ")
    return f"{label} {value} {unit}".rstrip().replace(" percent", " %")


def why_words(field: str, value: str, why: str, system: System) -> str:
    """Say why a value was taken, without naming it once more in units that the person doesn't read.

    Parameters
    ----------
    field : str
        Section and key that the value stands in for.
    value : str
        The value as it was taken, with its unit.
    why : str
        Why it was taken.
    system : System
        Units that the person reads.

    Examples
    --------
    >>> from sparkwright.job.described import described
    >>> why = described("The coil at work.", "80 degC is assumed.")
    >>> why_words("coil.warm", "80 degC", why, "inch")
    'The coil at work.'
    """
    return why if value_words(field, value, system) == value else what_of(why)


def value_words(field: str, value: str, system: System) -> str:
    """Say a value that a check or a plan took for a field; as it is where it is no plain quantity.

    Parameters
    ----------
    field : str
        Section and key that the value stands in for.
    value : str
        The value as it was taken, with its unit.
    system : System
        Units that the person reads.

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
