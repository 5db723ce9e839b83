"""Two revisions of a job held against each other, fact by fact, and what was seen between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from typing import Literal

from sparkwright.evidence.records import Record
from sparkwright.findings import Length, Sentence
from sparkwright.job import Job, Section
from sparkwright.job.field_kind import FieldKind, Quantity
from sparkwright.job.names import FIELDS, label_of

NOT_GIVEN = "not given"
TAKEN = " (assumed)"
LINES_BESIDE = 2
MOST_LINES = 1000
"""Lines from the first that differs to the last that are matched; more would take many seconds at worst."""


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
    old: Sentence
    new: Sentence


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
    >>> found.label, str(found.old), str(found.new)
    ('Compression ratio', '9', '9.5')
    """
    return list(_changed(old, new))


def _changed(old: Job, new: Job) -> Iterator[ChangedFact]:
    for attribute in Job.model_fields:
        before, after = getattr(old, attribute), getattr(new, attribute)
        section = Job.key(attribute)
        if isinstance(Job.field_kind(attribute), FieldKind):
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
    none = Sentence(NOT_GIVEN)
    for place in dict.fromkeys((*before, *after)):
        yield from _if_changed(section, place, before.get(place, none), after.get(place, none))


def _if_changed(section: str, key: str, old: Sentence, new: Sentence) -> Iterator[ChangedFact]:
    if old != new:
        yield ChangedFact(section, key, _label(section, key), old, new)


def _label(section: str, key: str) -> str:
    """Give the words of a field, or the list and the place in the map of what stands there."""
    name = f"{section}.{key}" if section else key
    return label_of(name) if name in FIELDS else f"{section[:1].upper()}{section[1:]} {key}"


def _said(part: Section | None, attribute: str) -> Sentence:
    if part is None:
        return Sentence(NOT_GIVEN)
    value, field_kind = getattr(part, attribute), part.field_kind(attribute)
    taken = TAKEN if attribute not in part.model_fields_set and value is not None else ""
    if (
        value is not None
        and isinstance(field_kind, Quantity)
        and field_kind.dimension in ("length", "altitude")
    ):
        unit: Literal["mm", "m"] = "m" if field_kind.inside == "m" else "mm"
        written = int(value) if float(value).is_integer() else value
        return Sentence(f"{{0}}{taken}", (Length(written, "", unit),))
    return Sentence(f"{part.say(attribute)}{taken}")


def _by_place(sections: Sequence[Section]) -> dict[str, Sentence]:
    """Give what stands at each place of the map; a second one at a place gets a number."""
    seen = Counter[str]()
    found = {}
    for each in sections:
        facts = each.facts()
        place = f"{facts.pop('rpm'):g} rpm, {facts.pop('kpa'):g} kPa"
        seen[place] += 1
        numbered = place if seen[place] == 1 else f"{place} ({seen[place]})"
        said = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in facts.items())
        found[numbered] = Sentence(said)
    return found


@dataclass(frozen=True)
class TextLine:
    """A line of a job file: taken out, put in, or beside one of those; or more lines, left out here."""

    what: Literal["out", "in", "beside", "more"]
    text: str = ""


def changed_lines(old: str, new: str) -> list[TextLine]:
    r"""List the lines in which two texts of a job differ, with the lines beside them.

    Comments and blank lines count; how a line ends doesn't. Where the first and the last difference lie more
    than `MOST_LINES` apart, all lines between them are given as taken out and put in.

    Parameters
    ----------
    old, new : str
        The texts, as they were typed.

    Returns
    -------
    list of TextLine
        Empty where the texts are the same.

    Examples
    --------
    >>> found = changed_lines("# by hand\nron = 95\nmon = 85\n", "# by hand\nron = 98\nmon = 85\n")
    >>> [(line.what, line.text) for line in found]
    [('beside', '# by hand'), ('out', 'ron = 95'), ('in', 'ron = 98'), ('beside', 'mon = 85')]
    """
    before, after = old.splitlines(), new.splitlines()
    found: list[TextLine] = []
    place = 0
    for out, put_in in _differing(before, after):
        found += _beside(before[place : out.start], behind=bool(found), ahead=True)
        found += [TextLine("out", line) for line in before[out]]
        found += [TextLine("in", line) for line in after[put_in]]
        place = out.stop
    return found + _beside(before[place:], behind=True, ahead=False) if found else found


def _differing(before: Sequence[str], after: Sequence[str]) -> Iterator[tuple[slice, slice]]:
    """Give where lines differ, in the one and in the other."""
    first = _alike(before, after)
    behind = _alike(before[first:][::-1], after[first:][::-1])
    old, new = before[first : len(before) - behind], after[first : len(after) - behind]
    if max(len(old), len(new)) > MOST_LINES:
        yield slice(first, first + len(old)), slice(first, first + len(new))
        return
    for tag, start, stop, new_start, new_stop in SequenceMatcher(None, old, new).get_opcodes():
        if tag != "equal":
            yield slice(first + start, first + stop), slice(first + new_start, first + new_stop)


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """Count the lines that are the same from the first on."""
    return next(
        (place for place, (line, another) in enumerate(zip(one, other, strict=False)) if line != another),
        min(len(one), len(other)),
    )


def _beside(lines: Sequence[str], *, behind: bool, ahead: bool) -> list[TextLine]:
    """Give lines that stand behind a difference, ahead of one, or between two; not those far from it."""
    near, far = LINES_BESIDE * behind, len(lines) - LINES_BESIDE * ahead
    if far <= near:
        return [TextLine("beside", line) for line in lines]
    shown = [[TextLine("beside", line) for line in part] for part in (lines[:near], lines[far:])]
    return [*shown[0], TextLine("more"), *shown[1]]


@dataclass(frozen=True)
class Between:
    """What was seen between two moments, and what was withdrawn between them."""

    taken: tuple[Record, ...]
    withdrawn: tuple[Record, ...]


def seen_between(records: Iterable[Record], start: datetime, end: datetime) -> Between:
    """Give the evidence that was taken, and that was withdrawn, after one moment and up to another.

    Parameters
    ----------
    records : iterable of Record
        Evidence of one job, that which was withdrawn among it.
    start : datetime
        Moment from which it counts, itself left out.
    end : datetime
        Moment to which it counts, itself among it.
    """
    kept = tuple(records)
    return Between(
        tuple(each for each in kept if start < each.when <= end),
        tuple(each for each in kept if each.withdrawn and start < each.withdrawn.when <= end),
    )
