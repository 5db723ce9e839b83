"""Two revisions of a job held against each other, fact by fact, in the words and units of the job file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sparkwright.job import Job, Section
from sparkwright.job.door import Door

NOT_GIVEN = "not given"
TAKEN = " (assumed)"


@dataclass(frozen=True)
class ChangedFact:
    """One fact that differs.

    ``section`` is empty for what stands above all sections. For a peg or a cell set by hand ``key`` is the
    place in the map, and ``old`` and ``new`` tell everything that stands there. ``label`` says which fact it
    is in words.
    """

    section: str
    key: str
    label: str
    old: str
    new: str


def changed_facts(old: Job, new: Job) -> list[ChangedFact]:
    """List every fact in which two jobs differ, in the order of the job file.

    A value that was assumed and is now stated, or the other way round, counts as changed.

    Parameters
    ----------
    old, new : Job
        The jobs.

    Returns
    -------
    list of ChangedFact
        Empty when both state the same; in which order pegs and cells stand doesn't count.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> (found,) = changed_facts(job, job.changed("engine", compression_ratio=9.5))
    >>> found.label, found.old, found.new
    ('engine compression ratio', '9', '9.5')
    """
    return list(_changed(old, new))


def _changed(old: Job, new: Job) -> Iterator[ChangedFact]:
    for attribute in Job.model_fields:
        before, after = getattr(old, attribute), getattr(new, attribute)
        section = Job.key(attribute)
        if isinstance(Job.door(attribute), Door):
            yield from _if_changed("", section, _said(old, attribute), _said(new, attribute))
        elif isinstance(before, tuple):
            yield from _changed_list(section, before, after)
        else:
            kind = type(before if before is not None else after)
            if issubclass(kind, Section):
                yield from _changed_section(section, kind, before, after)


def _changed_section(
    section: str, kind: type[Section], old: Section | None, new: Section | None
) -> Iterator[ChangedFact]:
    for attribute in kind.model_fields:
        yield from _if_changed(section, kind.key(attribute), _said(old, attribute), _said(new, attribute))


def _changed_list(section: str, old: Sequence[Section], new: Sequence[Section]) -> Iterator[ChangedFact]:
    before, after = _by_place(old), _by_place(new)
    for place in dict.fromkeys((*before, *after)):
        yield from _if_changed(section, place, before.get(place, NOT_GIVEN), after.get(place, NOT_GIVEN))


def _if_changed(section: str, key: str, old: str, new: str) -> Iterator[ChangedFact]:
    if old != new:
        yield ChangedFact(section, key, f"{section} {key}".strip().replace("_", " "), old, new)


def _said(part: Section | None, attribute: str) -> str:
    if part is None:
        return NOT_GIVEN
    value = part.say(attribute)
    taken = attribute not in part.model_fields_set and getattr(part, attribute) is not None
    return value + TAKEN if taken else value


def _by_place(sections: Sequence[Section]) -> dict[str, str]:
    """Give what stands at each place of the map; a second one at a place gets a number."""
    seen = Counter[str]()
    found = {}
    for each in sections:
        facts = each.facts()
        place = f"{facts.pop('rpm'):g} rpm, {facts.pop('kpa'):g} kPa"
        seen[place] += 1
        numbered = place if seen[place] == 1 else f"{place} ({seen[place]})"
        found[numbered] = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in facts.items())
    return found
