"""What the fields of a job are called on a page, and how words write the keys that stand among them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic.fields import FieldInfo

from sparkwright.errors import Part, Phrase, Stated
from sparkwright.job import Job
from sparkwright.job.described import Described, what_of
from sparkwright.job.names import label_of, tag_of_key, title_of
from sparkwright.job.tag import heading_of, tag_of


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
    >>> from sparkwright.job.names import FIELDS
    >>> hint_of("engine.stroke", FIELDS["engine.stroke"])
    'Piston stroke.'
    >>> hint_of("coil.secondary_capacitance", FIELDS["coil.secondary_capacitance"])
    'Capacitance of secondary, lead and plug.'
    >>> hint_of("engine.cylinders", FIELDS["engine.cylinders"])
    ''
    """
    own = tag_of(info).hint
    if own is not None:
        return on_page(own, name)
    description = info.description or ""
    if not info.is_required() and info.default is not None:
        description = what_of(description)
    same = description.rstrip(".").lower() == label_of(name).partition(",")[0].lower()
    return "" if same else description


def practice(info: FieldInfo) -> bool:
    """Whether what is assumed in a field's place is common practice without a source.

    Parameters
    ----------
    info : FieldInfo
        The model's record of the field.
    """
    return isinstance(info.description, Described) and info.description.practice


def on_page(words: str | Phrase, name: str) -> str:
    """Write words for a page, with the label of each key that stands among them.

    Parameters
    ----------
    words : str or Phrase
        Words of a problem or a hint.
    name : str
        Section and key of the field that they are about.

    Examples
    --------
    >>> from sparkwright.errors import Key, phrase
    >>> on_page(phrase("must be below ", Key("redline_rpm"), "."), "engine.idle_rpm")
    'must be below “Redline”.'
    >>> on_page(phrase("must be given where ", Stated("kind", "boosted")), "induction.max_boost")
    'must be given where “Natural or boosted” is boosted'
    >>> on_page(phrase("for example ", Stated("max_boost", "10 psi")), "induction.max_boost")
    'for example 10 psi'
    """
    if isinstance(words, str):
        return words
    return "".join(_part_on_page(part, name) for part in words.parts)


def _part_on_page(part: Part, name: str) -> str:
    if isinstance(part, str):
        return part
    key = part.path if "." in part.path else f"{name.partition('.')[0]}.{part.path}"
    if isinstance(part, Stated) and key == name:
        return part.value
    label = f"“{tag_of_key(key).label or label_of(key).partition(',')[0]}”"
    return f"{label} is {part.value}" if isinstance(part, Stated) else label


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
