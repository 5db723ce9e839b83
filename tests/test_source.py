"""The source itself: short modules, docstrings that name each parameter, formulas that name their source."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import click

import sparkwright
from sparkwright.cli import commands

SOURCE = Path(sparkwright.__file__).parent
MOST_LINES = 500


def modules() -> dict[str, str]:
    """Give the text of every module under its place in the package."""
    return {
        path.relative_to(SOURCE).as_posix(): path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py")
    }


def test_no_module_is_longer_than_can_be_read_at_a_sitting() -> None:
    long = {place for place, text in modules().items() if len(text.splitlines()) > MOST_LINES}
    assert long == set()


# Docstrings

ASKING = (".command", ".group", "router.get", "router.post", "router.put", "router.delete")
"""Decorators of what a person asks by command or address."""

NO_FORMULA = (
    "cycle/compile.py",
    "cycle/jit.py",
    "cycle/kept.py",
    "cycle/mixture_fits.py",
    "ignition/coil_kinds.py",
    "ignition/crank.py",
    "ignition/order.py",
    "ignition/wiring.py",
)
"""Modules of the physics that compute nothing that has a source: they keep, count, compile and choose."""
NO_FORMULA_NAMES = {"packed", "require_all_above", "require_within"}
"""Functions of the same kind in other modules."""
PHYSICS = ("air/", "cycle/", "ignition/", "numeric/")
A_SOURCE = re.compile(
    r"\b(18|19|20)\d\d\b|\b(ISO|IEC|SAE|ASTM|CFR|WMO)\b"
    r"|recalled|[Cc]ommon practice|[Dd]efinition|[Gg]eometry|[Ff]irst principles|\b[Cc]hoice\b"
)


@dataclass(frozen=True)
class Public:
    """A public function or method, where it stands, and what its docstring says."""

    place: str
    name: str
    parameters: frozenset[str]
    says: str
    in_class: bool
    asks: bool
    """Whether a person asks it by command or address, so that its options and fields say what each takes."""

    @property
    def named(self) -> set[str]:
        """The parameters that a section `Parameters` gives with their types, as numpydoc has them."""
        section = re.search(r"(?ms)^Parameters\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", self.says)
        lines = re.findall(r"^(\S.*) : \S", section[1], re.MULTILINE) if section else []
        return {name.strip().lstrip("*") for line in lines for name in line.split(",")}


def public_functions() -> list[Public]:
    found = []
    for place, text in modules().items():
        body = ast.parse(text).body
        found += [_public(place, each, False) for each in _functions(body)]
        for owner in body:
            if isinstance(owner, ast.ClassDef) and not owner.name.startswith("_"):
                found += [_public(place, each, True) for each in _functions(owner.body)]
    return found


def _functions(body: list[ast.stmt]) -> list[ast.FunctionDef]:
    return [each for each in body if isinstance(each, ast.FunctionDef) and not each.name.startswith("_")]


def _public(place: str, function: ast.FunctionDef, in_class: bool) -> Public:
    taken = function.args
    names = [each.arg for each in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)]
    given = frozenset(names[1:] if in_class else names)
    asks = any(_asks(each) for each in function.decorator_list)
    return Public(place, function.name, given, ast.get_docstring(function) or "", in_class, asks)


def _asks(decorator: ast.expr) -> bool:
    """Whether it makes a function a command of the terminal or the answer to an address.

    Nothing in the program calls such a function: what a command takes is said by `--help`, held by
    `test_every_option_says_what_it_takes`; what an address takes by its type in `web.routes`, its template,
    or the API's own description.
    """
    return isinstance(decorator, ast.Call) and ast.unparse(decorator.func).endswith(ASKING)


def test_every_parameter_is_named_with_its_type_in_one_form() -> None:
    functions = public_functions()
    assert len(functions) > 400
    assert without_a_name(functions) == {}


def without_a_name(functions: list[Public]) -> dict[tuple[str, str], set[str]]:
    missing = {
        (each.place, each.name): set(each.parameters - each.named) for each in functions if not each.asks
    }
    return {where: names for where, names in missing.items() if names}


def test_every_option_says_what_it_takes() -> None:
    silent = [
        (" ".join(path), option.name)
        for path, command in commands_below(commands)
        for option in command.params
        if isinstance(option, click.Option) and not option.help
    ]
    assert silent == []


def commands_below(
    command: click.Command, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    yield path, command
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            yield from commands_below(below, (*path, name))


def test_every_formula_names_its_source_or_says_that_it_has_none() -> None:
    functions = [
        each
        for each in public_functions()
        if each.place.startswith(PHYSICS)
        and not each.place.startswith(NO_FORMULA)
        and each.name not in NO_FORMULA_NAMES
        and not each.in_class
    ]
    assert len(functions) > 150
    assert [
        (each.place, each.name) for each in functions if not A_SOURCE.search(" ".join(each.says.split()))
    ] == []


AUTHORS = {
    *(
        "anderson",
        "buck",
        "chen",
        "douaud",
        "eyzat",
        "flynn",
        "fox",
        "hohenberg",
        "huber",
        "kalghatgi",
        "keck",
    ),
    *(
        "kuffel",
        "livengood",
        "magnus",
        "metghalchi",
        "moss",
        "peek",
        "rhodes",
        "sutherland",
        "taylor",
        "woschni",
    ),
    *("wu", "zaengl"),
}
"""Whom formulas of the physics are named after."""


def test_a_formula_named_after_somebody_names_them_and_the_year() -> None:
    named = {
        each: AUTHORS & set(each.name.split("_"))
        for each in public_functions()
        if each.place.startswith(PHYSICS) and AUTHORS & set(each.name.split("_"))
    }
    assert len(named) > 20
    assert {author for authors in named.values() for author in authors} == AUTHORS
    assert [
        (each.place, each.name)
        for each, authors in named.items()
        if not all(re.search(rf"\b{author.capitalize()}\b", each.says) for author in authors)
        or not re.search(r"\b(18|19|20)\d\d\b", each.says)
    ] == []
