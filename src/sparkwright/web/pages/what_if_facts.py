"""The facts that can be changed for a try, as a page offers them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sparkwright.errors import Refusal
from sparkwright.job import Job, JobText
from sparkwright.job.field_kind import Choice, Number, Quantity, YesNo, unit_of_key
from sparkwright.job.names import FIELDS, label_of, title_of
from sparkwright.job.problems import is_list
from sparkwright.job.sections.section import field_kind_of
from sparkwright.job.tag import tag_of
from sparkwright.units import System
from sparkwright.web.filled import site_air
from sparkwright.web.typed import shown, typed

TO_TRY = {
    name: info
    for name, info in FIELDS.items()
    if "." in name
    and not is_list(Job.model_fields[name.partition(".")[0]])
    and isinstance(field_kind_of(info), Number | Quantity | Choice | YesNo)
}
"""Facts of which one value can be tried: not lists and texts, and not those that stand in rows."""


@dataclass(frozen=True)
class FactNow:
    """One fact to change: its name in the file, its words, and what the job says now."""

    name: str
    label: str
    now: str


@dataclass(frozen=True)
class Facts:
    """The facts of one section."""

    words: str
    facts: tuple[FactNow, ...]


def facts_to_change(job: Job, system: System) -> tuple[Facts, ...]:
    """Give the facts to choose from, those asked about most first.

    Parameters
    ----------
    job : Job
        The job.
    system : System
        Units that the person reads.
    """
    stated = job.facts()
    sections: dict[str, list[FactNow]] = {}
    for name in TO_TRY:
        section = name.partition(".")[0]
        if section == "old_curve" and section not in stated:
            continue
        sections.setdefault(section, []).append(_fact(name, stated, system))
    asked = [name for name, info in TO_TRY.items() if tag_of(info).often]
    most_first = sorted(asked, key=lambda name: -tag_of(TO_TRY[name]).often)
    often = tuple(_fact(name, stated, system) for name in most_first)
    return (
        Facts("Asked about most", often),
        *(Facts(title_of(section), tuple(facts)) for section, facts in sections.items()),
    )


def fact_of(job: Job, name: str, system: System) -> FactNow:
    """Give one fact by its name.

    Parameters
    ----------
    job : Job
        The job.
    name : str
        Section and key of the fact.
    system : System
        Units that the person reads.
    """
    _require_fact(name)
    return _fact(name, job.facts(), system)


def _fact(name: str, stated: dict[str, object], system: System) -> FactNow:
    section, _, key = name.partition(".")
    values = stated.get(section)
    field_kind = field_kind_of(TO_TRY[name])
    assert field_kind is not None
    value = values.get(key) if isinstance(values, dict) else None
    return FactNow(
        name, label_of(name), shown(field_kind, value, system) if value is not None else "not given"
    )


def _require_fact(name: str) -> None:
    if name not in TO_TRY:
        raise Refusal.at("fact", name[:60], "must be one of the job's", "choose one from the list")


def with_fact(text: JobText, name: str, value: str) -> JobText:
    """Give a job's text with one fact as typed; nothing typed takes it out.

    Parameters
    ----------
    text : JobText
        The job's text.
    name : str
        Section and key of the fact.
    value : str
        The value as it was typed.

    Raises
    ------
    Refusal
        If there is no such fact, the value can't stand, or it contradicts another.
    """
    _require_fact(name)
    section, _, key = name.partition(".")
    field_kind = field_kind_of(TO_TRY[name])
    assert field_kind is not None
    try:
        fact = typed(field_kind, value, unit_of_key(name), site_air(text.job.facts()))
    except Refusal as refusal:
        problem = replace(refusal.problems[0], place=label_of(name), value=f'"{value[:40]}"')
        raise Refusal([problem]) from refusal
    return text.changed(section, **{key: fact})
