"""Help for the person who writes a job file: a commented starter, tables of keys, a schema for editors."""

import textwrap
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sparkwright.job import toml
from sparkwright.job.field_kind import Choice
from sparkwright.job.model import Job
from sparkwright.job.problems import is_list, section_of
from sparkwright.job.sections.section import field_kind_of
from sparkwright.job.tag import tag_of

SCHEMA_ID = "urn:sparkwright:job:1"

HEADING = """\
# A Sparkwright job: what is known about one engine, in one file.
# Values stand with their unit, in quotes: "3.75 in", "95.25 mm", "170 degF", "10 psi".
# Plain numbers are for keys that name their unit (rpm, deg, kpa, percent, ratio) or have none.
# A line that starts with # is not read. Take the # away to state a value; what is not stated is
# assumed or derived, and every result says so. Angles are crank degrees unless they say otherwise;
# advance is before top dead centre. All values here are invented: put the engine's own.
"""


def starter_text() -> str:
    """Give a starter file: valid as it stands, every key explained, those that may be left out commented out.

    Examples
    --------
    >>> Job.from_toml(starter_text()).engine.cylinders
    8
    """
    lines = [HEADING]
    for name, info in Job.model_fields.items():
        section = section_of(info)
        if section is None:
            lines += [*_explained(name, info), ""]
        else:
            lines += _section(name, info, section)
    return "\n".join(lines).rstrip() + "\n"


def _section(name: str, info: FieldInfo, section: type[BaseModel]) -> list[str]:
    """Write one section; one that is not part of every job is commented out as a whole."""
    optional = info.default is None or is_list(info)
    mark = "# " if optional else ""
    heading = f"[[{name}]]" if is_list(info) else f"[{name}]"
    lines = [*_comment(info.description or ""), f"{mark}{heading}"]
    for attribute, field in section.model_fields.items():
        lines += _explained(attribute, field, mark=mark)
    return [*lines, ""]


def _explained(attribute: str, info: FieldInfo, *, mark: str = "") -> list[str]:
    stated = info.is_required() or tag_of(info).starter
    example = (info.examples or [None])[0]
    line = toml.dump({info.alias or attribute: example}).rstrip()
    return [*_comment(_described(info)), f"{mark or ('' if stated else '# ')}{line}"]


def _described(info: FieldInfo) -> str:
    """Tell what a key is, and its answers where the words don't name them all."""
    text, field_kind = info.description or "", field_kind_of(info)
    if not isinstance(field_kind, Choice) or all(
        str(option) in text.lower() for option in field_kind.options
    ):
        return text
    return f"{text} One of: {', '.join(map(str, field_kind.options))}."


def _comment(text: str) -> list[str]:
    return textwrap.wrap(text, 100, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)


def job_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a job file, for editors that complete and check.

    Examples
    --------
    >>> job_schema()["title"]
    'Sparkwright job'
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Sparkwright job",
        **_table_schema(Job),
    }


def _table_schema(model: type[BaseModel]) -> dict[str, Any]:
    fields = {info.alias or name: info for name, info in model.model_fields.items()}
    return {
        "type": "object",
        "properties": {key: _field_schema(info) for key, info in fields.items()},
        "required": [key for key, info in fields.items() if info.is_required()],
        "additionalProperties": False,
    }


def _field_schema(info: FieldInfo) -> dict[str, Any]:
    described: dict[str, Any] = {"description": info.description}
    section, field_kind = section_of(info), field_kind_of(info)
    if section is not None:
        table = _table_schema(section)
        return described | ({"type": "array", "items": table} if is_list(info) else table)
    if field_kind is not None:
        described |= field_kind.schema() | {"examples": info.examples}
        if not info.is_required() and info.default is not None:
            described["default"] = field_kind.write(info.default)
    return described


def key_tables() -> str:
    """Give every key of a job file in Markdown, one table a section.

    Examples
    --------
    >>> print(key_tables().splitlines()[4])
    | `name` | What to call this job. | `"My engine"` | must be given |
    """
    loose = {key: info for key, info in Job.model_fields.items() if section_of(info) is None}
    lines = ["## Before the first section", "", *_key_table(loose)]
    for name, info in Job.model_fields.items():
        section = section_of(info)
        if section is not None:
            heading = f"`[[{name}]]`, as often as needed" if is_list(info) else f"`[{name}]`"
            lines += ["", f"## {heading}", "", info.description or "", "", *_key_table(section.model_fields)]
    return "\n".join(lines) + "\n"


def _key_table(fields: Mapping[str, FieldInfo]) -> list[str]:
    lines = ["| key | what it is | for example | left out |", "|---|---|---|---|"]
    for attribute, info in fields.items():
        example = toml.dump({"x": (info.examples or [""])[0]}).strip().removeprefix("x = ")
        lines.append(
            f"| `{info.alias or attribute}` | {_described(info)} | `{example}` | {_left_out(info)} |"
        )
    return lines


def _left_out(info: FieldInfo) -> str:
    field_kind = field_kind_of(info)
    if info.is_required():
        return "must be given"
    return "not given" if info.default is None or field_kind is None else f"{field_kind.say(info.default)}"
