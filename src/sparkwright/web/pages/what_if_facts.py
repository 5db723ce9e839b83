"""The facts that can be changed for a try, as a page offers them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sparkwright.errors import Refusal
from sparkwright.job import Job, JobText
from sparkwright.job.door import Choice, Number, Quantity, YesNo, unit_of_key
from sparkwright.job.sections.section import door_of
from sparkwright.units import System
from sparkwright.web.field_words import SECTION_WORDS, fields_by_name, label_of
from sparkwright.web.forms import site_air
from sparkwright.web.typed import shown, typed

OFTEN = (
    "fuel.ron",
    "fuel.ethanol_percent",
    "distributor.rotor_phase_deg",
    "distributor.base_deg",
    "distributor.tip_width",
    "distributor.post_width",
    "distributor.cap_size",
    "engine.compression_ratio",
    "induction.max_boost",
    "site.altitude",
    "limits.knock_margin_deg",
)
"""What people ask about most; a choice."""

WITHOUT = ("pegs", "shop", "customer", "hand")
FIELDS = {
    name: info
    for name, info in fields_by_name().items()
    if "." in name
    and name.partition(".")[0] not in WITHOUT
    and isinstance(door_of(info), Number | Quantity | Choice | YesNo)
}


@dataclass(frozen=True)
class Fact:
    """One fact to change: its name in the file, its words, and what the job says now."""

    name: str
    label: str
    now: str


@dataclass(frozen=True)
class Facts:
    """The facts of one section."""

    words: str
    facts: tuple[Fact, ...]


def facts_to_change(job: Job, system: System) -> tuple[Facts, ...]:
    """Give the facts to choose from, those asked about most first."""
    stated = job.facts()
    sections: dict[str, list[Fact]] = {}
    for name in FIELDS:
        section = name.partition(".")[0]
        if section == "old_curve" and section not in stated:
            continue
        sections.setdefault(section, []).append(_fact(name, stated, system))
    often = tuple(_fact(name, stated, system) for name in OFTEN if name in FIELDS)
    return (
        Facts("Asked about most", often),
        *(Facts(SECTION_WORDS.get(section, section), tuple(facts)) for section, facts in sections.items()),
    )


def fact_of(job: Job, name: str, system: System) -> Fact:
    """Give one fact by its name."""
    _require_fact(name)
    return _fact(name, job.facts(), system)


def _fact(name: str, stated: dict[str, object], system: System) -> Fact:
    section, _, key = name.partition(".")
    values = stated.get(section)
    door = door_of(FIELDS[name])
    assert door is not None
    value = values.get(key) if isinstance(values, dict) else None
    return Fact(name, label_of(name), shown(door, value, system) if value is not None else "not given")


def _require_fact(name: str) -> None:
    if name not in FIELDS:
        raise Refusal.at("fact", name[:60], "must be one of the job's", "choose one from the list")


def with_fact(text: JobText, name: str, value: str) -> JobText:
    """Give a job's text with one fact as typed; nothing typed takes it out.

    Raises
    ------
    Refusal
        If there is no such fact, the value can't stand, or it contradicts another.
    """
    _require_fact(name)
    section, _, key = name.partition(".")
    door = door_of(FIELDS[name])
    assert door is not None
    try:
        fact = typed(door, value, unit_of_key(name), site_air(text.job.facts()))
    except Refusal as refusal:
        problem = replace(refusal.problems[0], place=label_of(name), value=f'"{value[:40]}"')
        raise Refusal([problem]) from refusal
    return text.changed(section, **{key: fact})
