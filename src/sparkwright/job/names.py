"""What the keys of a job are called, for whoever reads a page, a sheet or a terminal."""

from __future__ import annotations

from pydantic.fields import FieldInfo

from sparkwright.job.field_kind import UNIT_ENDINGS, unit_of_key
from sparkwright.job.model import Job
from sparkwright.job.problems import section_of
from sparkwright.job.tag import Tag, heading_of, tag_of


def _fields_by_name() -> dict[str, FieldInfo]:
    found: dict[str, FieldInfo] = {}
    for section, info in Job.model_fields.items():
        model = section_of(info)
        if model is None:
            found[section] = info
            continue
        for attribute, field in model.model_fields.items():
            found[f"{section}.{field.alias or attribute}"] = field
    return found


FIELDS = _fields_by_name()
"""Every field of a job by ``section.key``; those before the first section by their key alone."""


def tag_of_key(name: str) -> Tag:
    """Give the tag of a field by its name; an empty one for what is no field of a job.

    Parameters
    ----------
    name : str
        Section and key, such as "engine.bore".
    """
    info = FIELDS.get(name)
    return Tag() if info is None else tag_of(info)


def title_of(section: str) -> str:
    """Give the words for a section; its name where no page asks for it as a form.

    Parameters
    ----------
    section : str
        Section of the job, such as "cam".

    Examples
    --------
    >>> title_of("cam"), title_of("hand")
    ('Camshaft', 'hand')
    """
    heading = heading_of(Job.model_fields[section])
    return section if heading is None else heading.title


def unit_of(name: str) -> str:
    """Give the unit that a field's key states, "" for none.

    Parameters
    ----------
    name : str
        Section and key, such as "engine.idle_rpm".

    Examples
    --------
    >>> unit_of("engine.idle_rpm"), unit_of("engine.bore")
    ('rpm', '')
    """
    return tag_of_key(name).unit or unit_of_key(name)


def label_of(name: str) -> str:
    """Give the words for a field, with the unit of a plain number.

    Parameters
    ----------
    name : str
        Section and key, such as "engine.idle_rpm".

    Examples
    --------
    >>> label_of("engine.compression_ratio"), label_of("pegs.advance_deg"), label_of("engine.idle_rpm")
    ('Compression ratio', 'Advance, deg', 'Idle speed, rpm')
    """
    unit = unit_of(name)
    plain = name.rpartition(".")[2]
    if unit and plain.endswith(tuple(f"_{ending}" for ending in UNIT_ENDINGS)):
        plain = plain.rpartition("_")[0]
    words = tag_of_key(name).label or plain.replace("_", " ").capitalize()
    return f"{words}, {unit}" if unit else words


def answer_in_words(info: FieldInfo, answer: object) -> str:
    """Give the words for one of the answers of a field: its own where none are needed.

    Parameters
    ----------
    info : FieldInfo
        The model's record of the field.
    answer : object
        One of the answers that the field takes.

    Examples
    --------
    >>> answer_in_words(FIELDS["pickup.kind"], "hall"), answer_in_words(FIELDS["engine.chamber"], "wedge")
    ('Hall', 'wedge')
    """
    return tag_of(info).answers.get(answer, str(answer))
