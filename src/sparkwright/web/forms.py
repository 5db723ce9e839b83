"""The sections of a job as forms: fields from the model itself, read back, checked, nothing typed lost."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from pydantic.fields import FieldInfo

from sparkwright.check.assumed import Assumed
from sparkwright.errors import Problem, Refusal
from sparkwright.job import Job
from sparkwright.job.field_kind import Choice, FieldKind, NamedQuantity, Points, Text, YesNo, unit_of_key
from sparkwright.job.names import FIELDS, answer_in_words, label_of, title_of, unit_of
from sparkwright.job.problems import place_of, section_of
from sparkwright.job.sections.section import field_kind_of
from sparkwright.job.sections.site import stated_air_kpa
from sparkwright.job.site_air import SiteAir
from sparkwright.job.tag import heading_of, tag_of
from sparkwright.units import System
from sparkwright.web.field_words import hint_of, in_words, practice
from sparkwright.web.typed import NO, YES, read_as, shown, typed

InputKind = Literal["text", "lines", "select"]

SYSTEMS: tuple[System, ...] = ("metric", "inch")
LOOSE = tuple(name for name in FIELDS if "." not in name)
"""Fields before the first section."""

PEG_KEYS = tuple(name.removeprefix("pegs.") for name in FIELDS if name.startswith("pegs."))
_ROW = re.compile(rf"pegs\.([0-9]{{1,2}})\.({'|'.join(PEG_KEYS)})")
MOST_PEGS = 100


@dataclass(frozen=True)
class Field:
    """One input with everything that is said beside it."""

    name: str
    label: str
    hint: str
    kind: InputKind
    text: str
    example: str
    needed: bool
    options: tuple[tuple[str, str], ...] = ()
    offered: tuple[str, ...] = ()
    """What may be typed by name."""
    assumed: str = ""
    refused: str = ""
    read: str = ""

    @property
    def id(self) -> str:
        """Name of the input within the page."""
        return self.name.replace(".", "-")

    @property
    def section(self) -> str:
        """The section it stands in; "job" for what stands before the first."""
        return _section(self.name)


@dataclass(frozen=True)
class Group:
    """One section: its fields that every job states, and those that may be left out."""

    name: str
    title: str
    about: str
    fields: tuple[Field, ...]
    more: tuple[Field, ...] = ()
    rows: tuple[tuple[Field, ...], ...] = ()
    whole: bool = False

    @property
    def open(self) -> bool:
        """Whether the part that may be left out has to be seen."""
        return any(each.refused for each in self.more)

    @property
    def stated(self) -> int:
        """How many of the facts that may be left out are stated."""
        return sum(bool(each.text) for each in self.more)


@dataclass(frozen=True)
class Filled:
    """What came back from a form: what was typed, the tables it makes, and what can't stand."""

    typed: Mapping[str, str]
    tables: dict[str, Any]
    values: Mapping[str, Any]
    job: Job | None
    problems: Mapping[str, str] = field(default_factory=dict)
    loose: tuple[str, ...] = ()

    def sentences(self) -> tuple[tuple[str, str, str], ...]:
        """Give each problem for the list on top: the input's id, its words, the sentence."""
        return tuple(
            (name.replace(".", "-"), f"{_row_words(name)}{label_of(_without_row(name))}", sentence)
            for name, sentence in self.problems.items()
        )


def _is_field(name: str) -> bool:
    """Whether a name is that of a field on a page; pegs have rows, cells set by hand are set on the map."""
    if _ROW.fullmatch(name):
        return True
    return name in FIELDS and not name.startswith(("pegs", "hand"))


def _row_words(name: str) -> str:
    """Say which peg a field belongs to, counted as people count."""
    found = _ROW.fullmatch(name)
    return f"Peg {int(found[1]) + 1}, " if found else ""


def _without_row(name: str) -> str:
    return re.sub(r"\.\d+\.", ".", name)


def example_of(name: str) -> str:
    """Give an example of a field as it would be typed.

    Examples
    --------
    >>> example_of("engine.bore"), example_of("engine.firing_order")
    ('3.921 in', '1 5 7 2 6 3 4 8')
    """
    info = FIELDS[name]
    field_kind = field_kind_of(info)
    example = (info.examples or [""])[0]
    if field_kind is None or isinstance(example, str):
        return str(example)
    return shown(field_kind, example)


# From the job to the fields


def groups(
    sections: Sequence[str],
    facts: Mapping[str, Any],
    system: System,
    *,
    assumed: Iterable[Assumed] = (),
    filled: Filled | None = None,
    told: bool = True,
) -> tuple[Group, ...]:
    """Give sections of a job as forms.

    Parameters
    ----------
    sections : sequence of str
        Which, in order; "job" for what stands before the first section.
    facts : mapping
        What is stated, by section and key, as a job file holds it.
    system : {"metric", "inch"}
        Which units the person reads.
    assumed : iterable of Assumed
        What a plan took where nothing is stated, if there is one.
    filled : Filled, optional
        What was typed and refused: shown in place of the facts.
    told : bool
        Say beside each field what can't stand; not while rows are only added or taken away.
    """
    taken = {each.field: each.value for each in assumed}
    if filled is not None and not told:
        filled = replace(filled, problems={})
    source = _Source(facts, system, taken, filled)
    return tuple(_group(section, source) for section in sections)


def all_fields(shown_groups: Iterable[Group]) -> list[Field]:
    """Give every field of groups, in the order of the page."""
    return [
        each
        for group in shown_groups
        for each in (*group.fields, *group.more, *(one for row in group.rows for one in row))
    ]


def shown_fact(facts: Mapping[str, Any], name: str, system: System) -> str:
    """Give one fact as it is shown in its field; "" where it isn't stated."""
    return shown(field_kind_for(name), _fact(facts, name), system)


def sections_in(form: Mapping[str, str]) -> tuple[str, ...]:
    """Give the sections of which fields stand in a form, in its order."""
    return tuple(dict.fromkeys(_section(name) for name in form if _is_field(name)))


def _section(name: str) -> str:
    return name.partition(".")[0] if "." in name else "job"


@dataclass(frozen=True)
class _Source:
    facts: Mapping[str, Any]
    system: System
    assumed: Mapping[str, str]
    filled: Filled | None

    def text(self, name: str, field_kind: FieldKind) -> str:
        if self.filled is not None:
            return self.filled.typed.get(name, "")
        return shown(field_kind, _fact(self.facts, name), self.system)

    def field(self, name: str) -> Field:
        plain = _without_row(name)
        info = FIELDS[plain]
        field_kind = field_kind_for(plain)
        text = self.text(name, field_kind)
        value = self.filled.values.get(name) if self.filled else None
        refused = self.filled.problems.get(name, "") if self.filled else ""
        return Field(
            name=name,
            label=label_of(plain),
            hint=hint_of(plain, info),
            kind=_kind(field_kind),
            text=text,
            example=example_of(plain),
            needed=info.is_required() or tag_of(info).asked_anew,
            options=_options(field_kind, info),
            offered=(example_of(plain), *(name for name, _ in field_kind.names))
            if isinstance(field_kind, NamedQuantity)
            else (),
            assumed="" if text else self._assumed(plain, info, field_kind),
            refused=refused,
            read="" if refused or value is None else read_as(field_kind, value, text, unit_of(plain)),
        )

    def _assumed(self, name: str, info: FieldInfo, field_kind: FieldKind) -> str:
        if info.is_required():
            return ""
        if info.default is not None:
            value = shown(field_kind, field_kind.write(info.default), self.system)
            return f"{value} (common practice, no source)" if practice(info) else value
        taken = self.assumed.get(name, "")
        try:
            return shown(field_kind, typed(field_kind, taken, unit_of_key(name)), self.system)
        except Refusal:
            return taken


def field_kind_for(name: str) -> FieldKind:
    """Give what reads and writes a field."""
    field_kind = field_kind_of(FIELDS[name])
    assert field_kind is not None
    return field_kind


def _fact(facts: Mapping[str, Any], name: str) -> Any:
    """Give what is stated at a place, ``pegs.0.rpm``; None where nothing is."""
    section, _, rest = name.partition(".")
    found = facts.get(section)
    row, _, key = rest.partition(".")
    if found is None or not rest:
        return found
    if key:
        return found[int(row)].get(key) if int(row) < len(found) else None
    return found.get(rest)


def _kind(field_kind: FieldKind) -> InputKind:
    if isinstance(field_kind, Choice | YesNo):
        return "select"
    lines = isinstance(field_kind, Points) or (isinstance(field_kind, Text) and field_kind.lines)
    return "lines" if lines else "text"


def _options(field_kind: FieldKind, info: FieldInfo) -> tuple[tuple[str, str], ...]:
    if isinstance(field_kind, YesNo):
        return (("", "not stated"), (YES, "yes"), (NO, "no"))
    if isinstance(field_kind, Choice):
        words = ((str(each), answer_in_words(info, each)) for each in field_kind.options)
        return (("", "choose one" if info.is_required() else "not stated"), *words)
    return ()


def _group(section: str, source: _Source) -> Group:
    if section == "job":
        loose = tuple(source.field(name) for name in LOOSE)
        return Group("job", "The job", "", loose[:1], loose[1:])
    info = Job.model_fields[section]
    heading = heading_of(info)
    about = (info.description or "") if heading is not None and heading.about else ""
    title = title_of(section)
    names = [name for name in FIELDS if name.startswith(f"{section}.")]
    if section == "pegs":
        return Group(section, title, about, (), rows=_peg_rows(source))
    fields = tuple(source.field(name) for name in names)
    if info.default is None:
        # Nothing in it is needed while all of it is empty; the marks come back with the first word.
        started = any(each.text for each in fields)
        marked = tuple(replace(each, needed=each.needed and started) for each in fields)
        return Group(section, title, about, (), marked, whole=True)
    seen = [each for each in fields if each.needed or tag_of(FIELDS[each.name]).stands_first or each.text]
    rest = [each for each in fields if each not in seen]
    return Group(section, title, about, tuple(seen), tuple(rest))


def _peg_rows(source: _Source) -> tuple[tuple[Field, ...], ...]:
    rows = len(source.facts.get("pegs", ())) if source.filled is None else _row_count(source.filled.typed)
    return tuple(
        tuple(replace(source.field(f"pegs.{row}.{key}"), needed=False) for key in PEG_KEYS)
        for row in range(rows)
    )


def _row_count(form: Mapping[str, str]) -> int:
    return max((int(found[1]) for name in form if (found := _ROW.fullmatch(name))), default=-1) + 1


def with_rows(form: dict[str, str]) -> dict[str, str] | None:
    """Give a form with a row for a peg added or taken away; None where its button was another one.

    Examples
    --------
    >>> with_rows({"do": "add a peg", "pegs.0.rpm": "800"})["pegs.1.rpm"]
    ''
    >>> with_rows({"do": "drop peg 0", "pegs.0.rpm": "800", "pegs.1.rpm": "900"})
    {'do': '', 'pegs.0.rpm': '900'}
    """
    asked = form.get("do", "")
    if asked == "add a peg":
        row = min(_row_count(form), MOST_PEGS - 1)
        empty = {f"pegs.{row}.{key}": "" for key in PEG_KEYS}
        return empty | form | {"do": ""}
    dropped = asked.removeprefix("drop peg ")
    if dropped == asked or not dropped.isdecimal():
        return None
    left: dict[str, str] = {"do": ""}
    for name, text in form.items():
        found = _ROW.fullmatch(name)
        if found is None:
            left.setdefault(name, text)
        elif int(found[1]) != int(dropped):
            row = int(found[1]) - (int(found[1]) > int(dropped))
            left[f"pegs.{row}.{found[2]}"] = text
    return left


# From the fields to the job


def fill(form: Mapping[str, str], facts: Mapping[str, Any], *, check: bool = True) -> Filled:
    """Read a form back over the facts it was made from.

    Parameters
    ----------
    form : mapping
        What was typed, by field; fields that aren't in it stay as they are.
    facts : mapping
        What was stated before. A text that still shows a fact, in either system of units, leaves it as it
        was, so that looking at millimetres in inches changes nothing.
    check : bool
        Also hold the sections against one another.
    """
    entered = {name: text for name, text in form.items() if _is_field(name)}
    tables = {key: dict(value) if isinstance(value, dict) else value for key, value in facts.items()}
    values: dict[str, Any] = {}
    problems: dict[str, str] = {}
    rows = _pegs_typed(form)
    air = site_air(facts, entered)
    for name, text in entered.items():
        if _ROW.fullmatch(name) and int(name.split(".")[1]) not in rows:
            continue
        field_kind, unit = field_kind_for(_without_row(name)), unit_of_key(name)
        try:
            values[name] = _value(field_kind, unit, text, _fact(facts, name), air)
        except Refusal as refusal:
            problems[name] = _sentence(name, text, refusal.problems[0])
    # What can't stand is left as typed, so that the model refuses it too and makes nothing of the rest.
    given = values | {name: entered[name] for name in problems}
    for name, value in given.items():
        if not _ROW.fullmatch(name):
            _put(tables, name, value)
    if "pegs" in form:
        _put_pegs(tables, given, rows)
    for section, info in Job.model_fields.items():
        if section_of(info) is None:
            continue
        if info.is_required():
            tables.setdefault(section, {})
        elif not tables.get(section) and facts.get(section) != {}:
            tables.pop(section, None)
    filled = Filled(dict(form), tables, values, None, problems)
    return _checked(filled, rows) if check else filled


def _value(field_kind: FieldKind, unit: str, text: str, before: Any, air: SiteAir) -> Any:
    plain = text.replace("\r\n", "\n").strip()
    if before is None:
        return typed(field_kind, plain, unit, air)
    shown_before = [shown(field_kind, before, system).strip() for system in SYSTEMS]
    if plain in shown_before:
        return before
    value = typed(field_kind, plain, unit, air)
    return _points(value, plain, before, shown_before) if value and isinstance(field_kind, Points) else value


def _points(value: list[Any], text: str, before: Sequence[Any], shown_before: Sequence[str]) -> list[Any]:
    """Leave each point, or the first half of one, as it was where its line still shows it."""
    lines = [line.strip() for line in text.splitlines()]
    if len(lines) != len(value):
        return value
    stood: dict[str, Any] = {}
    for each in shown_before:
        for line, point in zip(each.splitlines(), before, strict=True):
            stood |= {line: point, line.partition(",")[0]: point[0]}
    return [
        stood.get(line) or [stood.get(line.partition(",")[0], first), second]
        for line, (first, second) in zip(lines, value, strict=True)
    ]


def site_air(facts: Mapping[str, Any], entered: Mapping[str, str] | None = None) -> SiteAir:
    """Give how to get the air pressure at the site, as it is typed where it is, else as it was stated."""
    site = dict(facts.get("site") or {})
    for name, text in (entered or {}).items():
        if name in ("site.pressure", "site.altitude"):
            _put({"site": site}, name, text.strip() or None)
    return lambda: stated_air_kpa({"site": site})


def _put(tables: dict[str, Any], name: str, value: Any) -> None:
    section, _, key = name.rpartition(".")
    table = tables.setdefault(section, {}) if section else tables
    if value is None:
        table.pop(key, None)
    else:
        table[key] = value


def _pegs_typed(form: Mapping[str, str]) -> list[int]:
    """Give the rows of pegs in which anything was typed."""
    rows = {int(found[1]) for name, text in form.items() if (found := _ROW.fullmatch(name)) and text.strip()}
    return sorted(rows)


def _put_pegs(tables: dict[str, Any], values: Mapping[str, Any], rows: Sequence[int]) -> None:
    pegs = [
        {
            name.rpartition(".")[2]: value
            for name, value in values.items()
            if name.startswith(f"pegs.{row}.") and value is not None
        }
        for row in rows
    ]
    tables.pop("pegs", None)
    if pegs:
        tables["pegs"] = pegs


def _sentence(name: str, text: str, problem: Problem) -> str:
    section = _without_row(name).rpartition(".")[0]
    typed_text = " ".join(text.split())
    if len(typed_text) > 60:
        typed_text = f"{typed_text[:60]}..."
    must, do = in_words(problem.must, section), in_words(_to_do(name, problem), section)
    start = f"“{typed_text}” {must}" if typed_text else f"{must[:1].upper()}{must[1:]}"
    return f"{start}; {do}." if do else f"{start}."


def _checked(filled: Filled, rows: Sequence[int]) -> Filled:
    try:
        # A question is put on the page that answers it; elsewhere one that was open may stay open.
        asks = {name.partition(".")[0] for name in filled.typed} & {"engine", "cam"}
        job = Job.from_facts(filled.tables, kept=not asks)
    except Refusal as refusal:
        problems, loose = dict(filled.problems), []
        names = _names_by_place(filled.tables, rows)
        for problem in refusal.problems:
            name = names.get(problem.place)
            if name is None:
                loose.append(str(problem))
            elif name not in problems:
                problems[name] = _sentence(name, filled.typed.get(name, ""), problem)
        order = {name: place for place, name in enumerate(filled.typed)}
        in_order = sorted(problems, key=lambda name: order.get(name, len(order)))
        return replace(filled, problems={name: problems[name] for name in in_order}, loose=tuple(loose))
    return replace(filled, job=job)


def _names_by_place(tables: Mapping[str, Any], rows: Sequence[int]) -> dict[str, str]:
    """Give the name of every field by the place that a problem of the model names.

    A peg that was left empty is no section of the job, so that a row of the form may be another one there.
    """
    names: dict[str, str] = {}
    for name in FIELDS:
        section, _, key = name.partition(".")
        if section == "pegs":
            names |= {place_of((section, at, key)): f"{section}.{row}.{key}" for at, row in enumerate(rows)}
        elif section == "hand":
            count = len(tables.get(section, ()))
            names |= {place_of((section, at, key)): f"{section}.{at}.{key}" for at in range(count)}
        else:
            names[name] = name
    return names


def _to_do(name: str, problem: Problem) -> str:
    """Give what to do as a person at a form does it: a field that was left empty shows an example."""
    plain = _without_row(name)
    if problem.value is None and FIELDS[plain].is_required():
        return f"for example {'; '.join(example_of(plain).splitlines())}"
    return problem.do


def changed_words(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """Say which facts differ, for the history; "" when none does.

    Examples
    --------
    >>> changed_words({"name": "x", "fuel": {"ron": 95}}, {"name": "x", "fuel": {"ron": 98, "mon": 88}})
    'Fuel and mixture: research octane number (RON), motor octane number (MON)'
    """
    said = []
    for section in Job.model_fields:
        old, new = before.get(section), after.get(section)
        if old == new:
            continue
        if isinstance(old or new, dict):
            keys = [
                key for key in {**(old or {}), **(new or {})} if (old or {}).get(key) != (new or {}).get(key)
            ]
            words = ", ".join(
                _begun_small(label_of(f"{section}.{key}").partition(",")[0]) for key in keys[:4]
            )
            rest = f" and {len(keys) - 4} more" if len(keys) > 4 else ""
            said.append(f"{title_of(section)}: {words}{rest}")
        else:
            heading = heading_of(Job.model_fields[section])
            said.append(label_of(section) if heading is None else heading.title)
    return "; ".join(said)[:500]


def _begun_small(words: str) -> str:
    return words if words[:2].isupper() else f"{words[:1].lower()}{words[1:]}"


def sections_shown(job_page: Literal["engine", "ignition", "new"]) -> tuple[str, ...]:
    """Give the sections of a page, in the order of the work, which is that of the job."""
    pages = {
        name: heading.page
        for name, info in Job.model_fields.items()
        if (heading := heading_of(info)) is not None
    }
    if job_page == "new":
        return ("job", *pages)
    shown_here = tuple(name for name, page in pages.items() if page == job_page)
    return ("job", *shown_here) if job_page == "engine" else shown_here
