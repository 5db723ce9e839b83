"""What the fields of a job are called on a page, and its sentences with those words in place of keys."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic.fields import FieldInfo

from sparkwright.job import Job
from sparkwright.job.names import FIELDS, label_of, tag_of_key, title_of
from sparkwright.job.tag import heading_of, tag_of
from sparkwright.shop.compare import ChangedFact
from sparkwright.words.assumed import without_assumed


def label_of_fact(fact: ChangedFact) -> str:
    """Give the words for a fact that changed: those of its field, or its own where it stands in the map.

    Parameters
    ----------
    fact : ChangedFact
        The fact, before and after.

    Examples
    --------
    >>> from sparkwright.findings import Sentence
    >>> label_of_fact(ChangedFact("engine", "bore", "engine bore", Sentence("100 mm"), Sentence("101 mm")))
    'Bore'
    """
    if fact.section in ("pegs", "hand") or not fact.section:
        return fact.label[:1].upper() + fact.label[1:]
    return label_of(f"{fact.section}.{fact.key}")


def hint_of(name: str, info: FieldInfo) -> str:
    """Give what stands under a field's label: its description without what the label or a mark says already.

    Parameters
    ----------
    name : str
        Section and key of the field.
    info : FieldInfo
        The model's record of the field.

    Examples
    --------
    >>> hint_of("engine.stroke", FIELDS["engine.stroke"])
    'Piston stroke.'
    >>> hint_of("coil.secondary_capacitance", FIELDS["coil.secondary_capacitance"])
    'Capacitance of secondary, lead and plug.'
    >>> hint_of("engine.cylinders", FIELDS["engine.cylinders"])
    ''
    """
    own = tag_of(info).hint
    if own is not None:
        return own
    description = info.description or ""
    if not info.is_required() and info.default is not None:
        description = without_assumed(description)
    hint = in_words(description, name.partition(".")[0])
    same = hint.rstrip(".").lower() == label_of(name).partition(",")[0].lower()
    return "" if same else hint


def practice(info: FieldInfo) -> bool:
    """Whether what is assumed in a field's place is common practice without a source.

    Parameters
    ----------
    info : FieldInfo
        The model's record of the field.
    """
    return "common practice, no source" in (info.description or "")


_KEY_IN_TEXT = re.compile(r"\b(?:([a-z_]+)\.)?([a-z]+(?:_[a-z0-9]+)+)(?!\w)")


def _homes() -> Mapping[str, list[str]]:
    homes: dict[str, list[str]] = {}
    for name in FIELDS:
        homes.setdefault(name.rpartition(".")[2], []).append(name)
    return homes


_HOMES = _homes()


def in_words(text: str, section: str = "") -> str:
    """Put a field's words where a sentence of the job file has its key.

    Parameters
    ----------
    text : str
        Sentence of the job file, with keys in it.
    section : str, optional
        Section that a bare key belongs to.

    Examples
    --------
    >>> in_words("this or rod_ratio", "engine")
    'this or “Rod length over stroke”'
    >>> in_words("must be below redline_rpm")
    'must be below “Redline”'
    """

    def words(match: re.Match[str]) -> str:
        homes = _HOMES.get(match[2], [])
        wanted = f"{match[1] or section}.{match[2]}"
        name = wanted if wanted in homes else homes[0] if len(homes) == 1 else ""
        return f"“{tag_of_key(name).label or label_of(name).partition(',')[0]}”" if name else match[0]

    plain = re.sub(r'for example [a-z_]+ = "?([^"]*)"?', r"for example \1", text)
    plain = re.sub(
        r'\bkind = "([a-z-]+)"', lambda found: f"“{label_of(f'{section}.kind')}” is {found[1]}", plain
    )
    return _KEY_IN_TEXT.sub(words, plain)


def changed_words(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """Say which facts differ, for the history; "" when none does.

    Parameters
    ----------
    before : mapping
        Facts by section and key before the change.
    after : mapping
        Facts by section and key after it.

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
            words = ", ".join(begun_small(label_of(f"{section}.{key}").partition(",")[0]) for key in keys[:4])
            rest = f" and {len(keys) - 4} more" if len(keys) > 4 else ""
            said.append(f"{title_of(section)}: {words}{rest}")
        else:
            heading = heading_of(Job.model_fields[section])
            said.append(label_of(section) if heading is None else heading.title)
    return "; ".join(said)[:500]


def begun_small(words: str) -> str:
    """Begin words with a small letter, unless they begin with an abbreviation.

    Parameters
    ----------
    words : str
        Words that may begin with a capital.
    """
    return words if words[:2].isupper() else f"{words[:1].lower()}{words[1:]}"
