"""What a page hands its template is what the template asks for: no name missing, none in vain.

Jinja2's own reader of templates says which names one uses (its documentation, "The Meta API").
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import fields

import pytest
from jinja2 import meta, nodes

from sparkwright.web import pages
from sparkwright.web.view import Shown, environment

OF_EVERY_PAGE = {"person", "path", "shared"}
OF_A_JOB = {"revision", "latest", "here", "reckoned", "steps"}
OF_A_PART = {"revision"}
"""The frame of each page, of each page of a job, and of a part of one."""

OWN_TYPES = {
    "compare.html",
    "desk-case.html",
    "desk.html",
    "drive.html",
    "dyno.html",
    "engine.html",
    "first-start.html",
    "hand-over.html",
    "history.html",
    "ignition.html",
    "jobs.html",
    "learned.html",
    "light.html",
    "map-why.html",
    "map.html",
    "marking-day.html",
    "marking-scale.html",
    "marking.html",
    "new.html",
    "one-fact.html",
    "other-day.html",
    "pulls.html",
    "sign-in.html",
    "what-if.html",
}
"""Pages that must say in a type what their templates get."""


def shown_types(of: type[Shown] = Shown) -> Iterator[type[Shown]]:
    for each in of.__subclasses__():
        yield each
        yield from shown_types(each)


def by_template() -> dict[str, list[type[Shown]]]:
    for module in pkgutil.iter_modules(pages.__path__):
        importlib.import_module(f"{pages.__name__}.{module.name}")
    found: dict[str, list[type[Shown]]] = {}
    for each in dict.fromkeys(shown_types()):
        found.setdefault(each.template, []).append(each)
    return found


TYPES = by_template()
TEMPLATES = environment()


def names_used(template: str, known: frozenset[str] = frozenset(), *, needed: bool = False) -> set[str]:
    """Give the names that a template uses, with all that it extends and includes.

    Those that are needed are all but what it does without where it is missing (`x | default(...)`,
    `x is defined`).
    """
    assert TEMPLATES.loader is not None
    tree = TEMPLATES.parse(TEMPLATES.loader.get_source(TEMPLATES, template)[0])
    inside = known | frozenset(_made_in(tree))
    found = meta.find_undeclared_variables(tree) - inside - set(TEMPLATES.globals)
    for each in meta.find_referenced_templates(tree):
        assert each is not None
        if each not in _macros_of(tree):
            found |= names_used(each, inside, needed=needed)
    return found - _may_be_missing(tree) if needed else found


def _made_in(tree: nodes.Template) -> Iterator[str]:
    """Give the names that a template makes itself: set, with, macros, and macros of others."""
    yield from (each.name for each in tree.find_all(nodes.Name) if each.ctx == "store")
    given = (each for block in tree.find_all(nodes.With) for each in block.targets)
    yield from (each.name for each in given if isinstance(each, nodes.Name))
    yield from (each.name for each in tree.find_all(nodes.Macro))
    for imported in tree.find_all(nodes.FromImport):
        yield from (name if isinstance(name, str) else name[1] for name in imported.names)


def _macros_of(tree: nodes.Template) -> set[object]:
    """Give the templates of which a template takes macros alone, which get none of its names."""
    imports = tree.find_all(nodes.FromImport)
    return {each.template.value for each in imports if isinstance(each.template, nodes.Const)}


def _may_be_missing(tree: nodes.Template) -> set[str]:
    asked = [
        *(each.node for each in tree.find_all(nodes.Filter) if each.name == "default"),
        *(each.node for each in tree.find_all(nodes.Test) if each.name == "defined"),
    ]
    return {each.name for each in asked if isinstance(each, nodes.Name)}


def framed(template: str) -> set[str]:
    """Give what the frame of a page hands its template."""
    assert TEMPLATES.loader is not None
    text = TEMPLATES.loader.get_source(TEMPLATES, template)[0]
    if '{% extends "base.html" %}' in text:
        return set()
    return OF_A_JOB if '{% extends "job.html" %}' in text else OF_A_PART


@pytest.mark.parametrize("template", sorted(TYPES))
def test_a_page_hands_its_template_every_name_that_it_asks_for(template: str) -> None:
    asked = names_used(template, needed=True) - OF_EVERY_PAGE - framed(template)
    handed = [{each.name for each in fields(one)} for one in TYPES[template]]
    assert asked <= set().union(*handed)


@pytest.mark.parametrize("template", sorted(TYPES))
def test_a_page_hands_its_template_no_name_in_vain(template: str) -> None:
    handed = {each.name for one in TYPES[template] for each in fields(one)}
    assert handed <= names_used(template)


def test_pages_say_in_a_type_what_their_templates_get() -> None:
    assert set(TYPES) >= OWN_TYPES


def test_every_name_of_a_pages_type_has_a_type_of_its_own() -> None:
    loose = [
        f"{one.__name__}.{each.name}"
        for types in TYPES.values()
        for one in types
        for each in fields(one)
        if each.type in ("Any", "object")
    ]
    assert loose == []
