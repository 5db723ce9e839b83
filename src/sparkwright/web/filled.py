"""What a posted form says: read back over the facts it was made from, checked, nothing typed lost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sparkwright.errors import Phrase, Problem, Refusal
from sparkwright.job import Job
from sparkwright.job.field_kind import FieldKind, unit_of_key
from sparkwright.job.names import FIELDS, label_of
from sparkwright.job.problems import place_of, section_of
from sparkwright.job.sections.site import stated_air_kpa
from sparkwright.job.site_air import SiteAir
from sparkwright.web.field_words import on_page
from sparkwright.web.form_names import (
    ROW,
    example_of,
    fact_at,
    field_kind_for,
    is_field,
    row_words,
    without_row,
)
from sparkwright.web.peg_rows import put_rows, rows_typed
from sparkwright.web.typed import as_typed, typed


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
            (name.replace(".", "-"), f"{row_words(name)}{label_of(without_row(name))}", sentence)
            for name, sentence in self.problems.items()
        )


def fill(form: Mapping[str, str], facts: Mapping[str, Any], *, check: bool = True) -> Filled:
    """Read a form back over the facts it was made from.

    Parameters
    ----------
    form : mapping
        What was typed, by field; fields that aren't in it stay as they are.
    facts : mapping
        What was stated before, as it was typed. A text that still shows a fact leaves it as it was.
    check : bool
        Also hold the sections against one another.
    """
    entered = {name: text for name, text in form.items() if is_field(name)}
    tables = {key: dict(value) if isinstance(value, dict) else value for key, value in facts.items()}
    values: dict[str, Any] = {}
    problems: dict[str, str] = {}
    rows = rows_typed(form)
    air = site_air(facts, entered)
    for name, text in entered.items():
        if ROW.fullmatch(name) and int(name.split(".")[1]) not in rows:
            continue
        field_kind, unit = field_kind_for(without_row(name)), unit_of_key(name)
        try:
            values[name] = _value(field_kind, unit, text, fact_at(facts, name), air)
        except Refusal as refusal:
            problems[name] = _sentence(name, text, refusal.problems[0])
    # What can't stand is left as typed, so that the model refuses it too and makes nothing of the rest.
    given = values | {name: entered[name] for name in problems}
    for name, value in given.items():
        if not ROW.fullmatch(name):
            _put(tables, name, value)
    if "pegs" in form:
        put_rows(tables, given, rows)
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
    if before is not None and plain == as_typed(field_kind, before).strip():
        return before
    return typed(field_kind, plain, unit, air)


def site_air(facts: Mapping[str, Any], entered: Mapping[str, str] | None = None) -> SiteAir:
    """Give how to get the air pressure at the site, as it is typed where it is, else as it was stated.

    Parameters
    ----------
    facts : mapping
        What was stated before, by section and key.
    entered : mapping, optional
        What was typed by field; None for nothing.
    """
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


def _sentence(name: str, text: str, problem: Problem) -> str:
    plain = without_row(name)
    typed_text = " ".join(text.split())
    if len(typed_text) > 60:
        typed_text = f"{typed_text[:60]}..."
    must, do = on_page(problem.must, plain), on_page(_to_do(name, problem), plain)
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


def _to_do(name: str, problem: Problem) -> str | Phrase:
    """Give what to do as a person at a form does it: a field that was left empty shows an example."""
    plain = without_row(name)
    if problem.value is None and FIELDS[plain].is_required():
        return f"for example {'; '.join(example_of(plain).splitlines())}"
    return problem.do
