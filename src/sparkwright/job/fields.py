"""Every field of a job by its name, for whoever asks, shows or tells one."""

from __future__ import annotations

from pydantic.fields import FieldInfo

from sparkwright.job.model import Job
from sparkwright.job.problems import section_of


def fields_by_name() -> dict[str, FieldInfo]:
    """Give every field of a job by ``section.key``; those before the first section by their key alone."""
    found: dict[str, FieldInfo] = {}
    for section, info in Job.model_fields.items():
        model = section_of(info)
        if model is None:
            found[section] = info
            continue
        for attribute, field in model.model_fields.items():
            found[f"{section}.{field.alias or attribute}"] = field
    return found


FIELDS = fields_by_name()
