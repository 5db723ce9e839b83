"""What a model refused, as problems in the words of the job file."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from sparkwright.errors import WHOLE, Phrase, Problem
from sparkwright.job.field_kind import REFUSED, written

CONFLICT = "conflict"
MOST_TOLD = 1000
"""Problems told of one by one; each is compared with every key there is, which takes its time."""


@dataclass(frozen=True)
class Conflict:
    """A value that contradicts another; its place counts from its section on: `pegs.0.rpm`."""

    place: str
    must: str | Phrase
    do: str | Phrase

    def steps(self) -> tuple[int | str, ...]:
        """Give the way to the value, keys and places in lists."""
        return tuple(int(step) if step.isdigit() else step for step in self.place.split("."))

    def given(self, section: Any) -> str | None:
        """Say what was written there, in the tables that the section was read from; None when nothing was.

        Parameters
        ----------
        section : object
            Tables of the section, as TOML gave them.
        """
        found = section
        for step in self.steps():
            if isinstance(step, str) and step not in found:
                return None
            found = found[step]
        return written(found)


def problems_of(refusal: ValidationError, root: type[BaseModel]) -> list[Problem]:
    """Give every problem, in the order of the model.

    Parameters
    ----------
    refusal : ValidationError
        What the model refused, a detail for each place.
    root : type
        Model that the places are counted from.
    """
    details = refusal.errors(include_url=False)
    problems = [problem for detail in details[:MOST_TOLD] for problem in _problems(detail, root)]
    if len(details) > MOST_TOLD:
        more = f"{len(details) - MOST_TOLD:,} more places in it can't be used either"
        problems.append(Problem("the job", WHOLE, more))
    return problems


def _problems(detail: ErrorDetails, root: type[BaseModel]) -> Iterator[Problem]:
    place = detail["loc"]
    field = place_of(place)
    context = detail.get("ctx", {})
    match detail["type"]:
        case "missing":
            yield Problem(field, None, "must be given", _how_to_write(place, root))
        case "extra_forbidden":
            yield Problem(field, written(detail["input"]), "is not a key of a job", _nearest(place, root))
        case kind if kind == CONFLICT:
            for conflict in context["problems"]:
                yield Problem(
                    place_of((*place, *conflict.steps())),
                    conflict.given(detail["input"]),
                    conflict.must,
                    conflict.do,
                )
        case kind if kind == REFUSED:
            yield Problem(field, written(detail["input"]), context["must"], context["do"])
        case "model_type" | "dict_type" | "model_attributes_type":
            heading = f"[{field}]" if isinstance(place[-1], str) else f"[[{place[0]}]]"
            yield Problem(
                field, written(detail["input"]), "must be a section", f"write it as {heading}, one key a line"
            )
        case "too_long":
            yield Problem(
                field, f"{context['actual_length']} sections", f"must be at most {context['max_length']}"
            )
        case _:
            yield Problem(
                field, written(detail["input"]), "must be a list of sections", f"write each as [[{field}]]"
            )


def place_of(steps: Sequence[int | str]) -> str:
    """Join the way to a value as a person finds it in the file, counted from 1.

    Parameters
    ----------
    steps : sequence of int or str
        Names of sections and keys, and numbers in lists from 0.

    Examples
    --------
    >>> place_of(("engine", "bore")), place_of(("pegs", 0, "rpm"))
    ('engine.bore', 'pegs[1].rpm')
    """
    text = ""
    for step in steps:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        elif step:
            text += f".{step}" if text else step
    return text


def _model_at(place: Sequence[int | str], root: type[BaseModel]) -> type[BaseModel]:
    model = root
    for step in place:
        if isinstance(step, str):
            model = section_of(_fields(model)[step]) or model
    return model


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {info.alias or name: info for name, info in model.model_fields.items()}


def section_of(info: FieldInfo) -> type[BaseModel] | None:
    """Give the model of a field that is a section, or a list of sections; None for a value.

    Parameters
    ----------
    info : FieldInfo
        A model's record of the field.
    """
    for kind in (info.annotation, *get_args(info.annotation)):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
    return None


def is_list(info: FieldInfo) -> bool:
    """Whether a field holds any number of sections.

    Parameters
    ----------
    info : FieldInfo
        A model's record of the field.
    """
    return section_of(info) is not None and info.default == ()


def _how_to_write(place: Sequence[int | str], root: type[BaseModel]) -> str:
    key = str(place[-1])
    info = _fields(_model_at(place[:-1], root))[key]
    if section_of(info):
        return f"add a section [{key}]; `sparkwright new` writes a starter file with all of them"
    return f"for example {key} = {written((info.examples or [''])[0])}"


def _nearest(place: Sequence[int | str], root: type[BaseModel]) -> str:
    key = str(place[-1])
    here = _fields(_model_at(place[:-1], root))
    homes = [name for name, info in _fields(root).items() if key in _fields(section_of(info) or BaseModel)]
    if homes:
        return f"it belongs in section [{homes[0]}]"
    everywhere = [
        f"{name}.{inner}"
        for name, info in _fields(root).items()
        for inner in _fields(section_of(info) or BaseModel)
    ]
    near: list[Any] = get_close_matches(key, here, n=1, cutoff=0.6)
    if near:
        return f"perhaps {near[0]} is meant"
    by_key = {name.split(".")[1]: name for name in everywhere}
    near = get_close_matches(key, by_key, n=1, cutoff=0.8)
    return f"perhaps {by_key[near[0]]} is meant" if near else f"keys here are {', '.join(here)}"
