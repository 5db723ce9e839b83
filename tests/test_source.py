"""The source itself: short modules, docstrings that name each parameter, formulas that name their source."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from pathlib import Path

import sparkwright

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

NAMES_EVERY_PARAMETER = (
    "air/",
    "cycle/cam.py",
    "cycle/chamber.py",
    "cycle/filling.py",
    "cycle/friction.py",
    "cycle/heat.py",
    "cycle/jit.py",
    "cycle/kinematics.py",
    "cycle/mixing.py",
    "cycle/octane.py",
    "cycle/published/",
    "cycle/species.py",
    "cycle/turbulence.py",
    "edit/paste.py",
    "ignition/body.py",
    "ignition/capacitive.py",
    "ignition/coil",
    "ignition/cranking.py",
    "ignition/ring.py",
    "ignition/rotor.py",
    "ignition/wiring.py",
    "mounting/mark_readings.py",
    "numeric/",
)
"""Rooms and modules that are held to the one form, numpydoc's; the others are not there yet."""
NAMES_EVERY_SOURCE = (
    "air/",
    "cycle/cam.py",
    "cycle/friction.py",
    "cycle/heat.py",
    "cycle/kinematics.py",
    "cycle/mixing.py",
    "cycle/octane.py",
    "cycle/published/",
    "cycle/turbulence.py",
    "ignition/capacitive.py",
    "ignition/coil.py",
    "ignition/coil_formulas.py",
    "ignition/cranking.py",
    "ignition/ring.py",
    "ignition/rotor.py",
)
"""Physics whose every public function says where it comes from; the others are not there yet."""
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

    @property
    def named(self) -> set[str]:
        """The parameters that a section `Parameters` gives with their types, as numpydoc has them."""
        section = re.search(r"(?ms)^Parameters\n-+\n(.*?)(?=\n\n\w+\n-+\n|\Z)", self.says)
        lines = re.findall(r"^(\S.*) : \S", section[1], re.MULTILINE) if section else []
        return {name.strip().lstrip("*") for line in lines for name in line.split(",")}


def public_functions(held: tuple[str, ...]) -> list[Public]:
    found = []
    for place, text in modules().items():
        if place.startswith(held):
            body = ast.parse(text).body
            found += [_public(place, each, False) for each in _functions(body)]
            for owner in body:
                if isinstance(owner, ast.ClassDef):
                    found += [_public(place, each, True) for each in _functions(owner.body)]
    return found


def _functions(body: list[ast.stmt]) -> list[ast.FunctionDef]:
    return [each for each in body if isinstance(each, ast.FunctionDef) and not each.name.startswith("_")]


def _public(place: str, function: ast.FunctionDef, in_class: bool) -> Public:
    taken = function.args
    names = [each.arg for each in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)]
    given = frozenset(names[1:] if in_class else names)
    return Public(place, function.name, given, ast.get_docstring(function) or "", in_class)


def test_every_parameter_is_named_with_its_type_in_one_form() -> None:
    functions = public_functions(NAMES_EVERY_PARAMETER)
    assert len(functions) > 150
    missing = {(each.place, each.name): each.parameters - each.named for each in functions}
    assert {where: names for where, names in missing.items() if names} == {}


def test_every_formula_names_its_source_or_says_that_it_has_none() -> None:
    functions = [each for each in public_functions(NAMES_EVERY_SOURCE) if not each.in_class]
    assert len(functions) > 70
    assert [(each.place, each.name) for each in functions if not A_SOURCE.search(each.says)] == []
