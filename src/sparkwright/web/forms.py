"""The sections of a job as forms: fields from the model itself, with everything that is said beside them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from sparkwright.check.assumed import Assumed
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.job.field_kind import (
    Choice,
    FieldKind,
    NamedQuantity,
    Number,
    Quantity,
    Text,
    YesNo,
    unit_of_key,
)
from sparkwright.job.list_kinds import Points
from sparkwright.job.names import FIELDS, answer_in_words, label_of, title_of, unit_of
from sparkwright.job.rows_kind import Rows
from sparkwright.job.tag import heading_of, tag_of
from sparkwright.units import System
from sparkwright.web.field_words import hint_of, practice
from sparkwright.web.filled import Filled, site_air
from sparkwright.web.form_names import (
    LOOSE,
    PEG_KEYS,
    example_of,
    fact_at,
    field_kind_for,
    section_in_form,
    without_row,
)
from sparkwright.web.peg_rows import row_count
from sparkwright.web.typed import NO, YES, as_typed, read_as, shown, typed

InputKind = Literal["text", "lines", "select"]


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
        return section_in_form(self.name)


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
        What is stated, by section and key, as it was typed.
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


def fields_named(
    names: Iterable[str],
    facts: Mapping[str, Any],
    system: System,
    *,
    assumed: Iterable[Assumed] = (),
    filled: Filled | None = None,
) -> tuple[Field, ...]:
    """Give fields by name, in that order; of what was typed and refused, those that it didn't show as stated.

    Parameters
    ----------
    names : iterable of str
        Section and key of each field.
    facts : mapping
        What is stated, by section and key.
    system : System
        Units that the person reads.
    assumed : iterable of Assumed, optional
        What was taken where nothing is stated.
    filled : Filled, optional
        What came back from the form and was refused; None where nothing was.

    Examples
    --------
    >>> [each.label for each in fields_named(["fuel.ron", "fuel.aki"], {}, "metric")][1]
    'Anti-knock index (AKI)'
    """
    asked = tuple(names)
    if filled is not None:
        stated = {name: typed_fact(facts, name) for name in asked}
        filled = replace(filled, typed=stated | dict(filled.typed))
    source = _Source(facts, system, {each.field: each.value for each in assumed}, filled)
    return tuple(source.field(name) for name in asked)


def names_asked(names: Sequence[str], filled: Filled | None) -> tuple[str, ...]:
    """Give the fields of a short form, and with them each other one that was refused or typed in.

    Parameters
    ----------
    names : sequence of str
        Section and key of each field that is asked for anyway.
    filled : Filled or None
        What came back from the form and was refused; None where nothing was.
    """
    if filled is None:
        return tuple(names)
    typed_in = {name for name, text in filled.typed.items() if text.strip()}
    also = (name for name in FIELDS if name in typed_in or name in filled.problems)
    return tuple(dict.fromkeys((*names, *(name for name in also if not name.startswith("pegs.")))))


def all_fields(shown_groups: Iterable[Group]) -> list[Field]:
    """Give every field of groups, in the order of the page.

    Parameters
    ----------
    shown_groups : iterable of Group
        Groups of the page.
    """
    return [
        each
        for group in shown_groups
        for each in (*group.fields, *group.more, *(one for row in group.rows for one in row))
    ]


def shown_fact(facts: Mapping[str, Any], name: str, system: System) -> str:
    """Give one fact in the person's units; "" where it isn't stated.

    Parameters
    ----------
    facts : mapping
        What is stated, by section and key.
    name : str
        Name of an input.
    system : System
        Units that the person reads.
    """
    return shown(field_kind_for(name), fact_at(facts, name), system)


def typed_fact(facts: Mapping[str, Any], name: str) -> str:
    """Give one fact as it was typed; "" where it isn't stated.

    Parameters
    ----------
    facts : mapping
        What is stated, by section and key.
    name : str
        Name of an input.
    """
    return as_typed(field_kind_for(name), fact_at(facts, name))


@dataclass(frozen=True)
class _Source:
    facts: Mapping[str, Any]
    system: System
    assumed: Mapping[str, str]
    filled: Filled | None

    def text(self, name: str, field_kind: FieldKind) -> str:
        if self.filled is not None:
            return self.filled.typed.get(name, "")
        return as_typed(field_kind, fact_at(self.facts, name))

    def read(self, name: str, field_kind: FieldKind, text: str) -> str:
        """Say how the text is read; of what stands in the job, where its units aren't the person's."""
        if self.filled is None and not isinstance(field_kind, Quantity | Number):
            return ""
        value = fact_at(self.facts, name) if self.filled is None else self.filled.values.get(name)
        air = site_air(self.facts, self.filled.typed if self.filled else None)
        if isinstance(field_kind, Number) and value is not None:
            try:
                value = field_kind.read(value, unit_of_key(name), air)
            except PydanticCustomError:  # a vacuum that another height of the site, not yet saved, can't have
                return ""
        return read_as(field_kind, value, text, unit_of(without_row(name)), self.system, air)

    def field(self, name: str) -> Field:
        plain = without_row(name)
        info = FIELDS[plain]
        field_kind = field_kind_for(plain)
        text = self.text(name, field_kind)
        refused = self.filled.problems.get(name, "") if self.filled else ""
        return Field(
            name=name,
            label=label_of(plain),
            hint=hint_of(plain, info),
            kind=_kind(field_kind),
            text=text,
            example=example_of(plain, self.system),
            needed=info.is_required() or tag_of(info).asked_anew,
            options=_options(field_kind, info),
            offered=(example_of(plain), *(name for name, _ in field_kind.names))
            if isinstance(field_kind, NamedQuantity)
            else (),
            assumed="" if text else self._assumed(plain, info, field_kind),
            refused=refused,
            read="" if refused else self.read(name, field_kind, text),
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


def _kind(field_kind: FieldKind) -> InputKind:
    if isinstance(field_kind, Choice | YesNo):
        return "select"
    lines = isinstance(field_kind, Points | Rows) or (isinstance(field_kind, Text) and field_kind.lines)
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
    rows = len(source.facts.get("pegs", ())) if source.filled is None else row_count(source.filled.typed)
    return tuple(
        tuple(replace(source.field(f"pegs.{row}.{key}"), needed=False) for key in PEG_KEYS)
        for row in range(rows)
    )


def sections_shown(job_page: Literal["engine", "ignition", "new"]) -> tuple[str, ...]:
    """Give the sections of a page, in the order of the work, which is that of the job.

    Parameters
    ----------
    job_page : {"engine", "ignition", "new"}
        Name of the page.
    """
    pages = {
        name: heading.page
        for name, info in Job.model_fields.items()
        if (heading := heading_of(info)) is not None
    }
    if job_page == "new":
        return ("job", *pages)
    shown_here = tuple(name for name, page in pages.items() if page == job_page)
    return ("job", *shown_here) if job_page == "engine" else shown_here
