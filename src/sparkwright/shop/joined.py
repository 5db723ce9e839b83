"""What one person changed, joined with what another saved meanwhile, fact by fact."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparkwright.job import JobText
from sparkwright.shop.compare import ChangedFact, changed_facts

Place = tuple[str, str]
"""Section and key of a fact, as a change names them."""


@dataclass(frozen=True)
class Joined:
    """What stands now, with what somebody else changed taken into it.

    ``text`` is that job; ``taken`` are the facts that come with it, each from what stands now to what was
    typed. ``met`` are the facts that both changed, each to another value: ``old`` is what stands now, ``new``
    what was typed, and ``text`` has the one that was chosen, or what stands now.
    """

    text: JobText
    taken: tuple[ChangedFact, ...]
    met: tuple[ChangedFact, ...]


def joined(base: JobText, latest: JobText, typed: JobText, choose_typed: Sequence[Place] = ()) -> Joined:
    """Take into the latest text only what was changed in another one.

    What was typed and changes nothing, as when an old revision is brought back over a newer one, is meant as
    a whole: then all of it is taken.

    Parameters
    ----------
    base : JobText
        What both began with.
    latest : JobText
        What stands now.
    typed : JobText
        What the other person typed.
    choose_typed : sequence of (section, key)
        Facts that both changed and of which what was typed is taken.

    Raises
    ------
    Refusal
        If the two can't stand together in one job.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> base = JobText(starter_text())
    >>> mine, yours = base.changed("fuel", ron=98), base.changed("engine", compression_ratio=9.5)
    >>> both = joined(base, yours, mine)
    >>> [(each.label, str(each.old), str(each.new)) for each in both.taken], both.met
    ([('Research octane number (RON)', '95', '98')], ())
    >>> both.text.job.engine.compression_ratio
    9.5
    """
    theirs = _by_place(changed_facts(base.job, latest.job))
    mine = _by_place(changed_facts(base.job, typed.job))
    if not mine:
        return Joined(typed, tuple(changed_facts(latest.job, typed.job)), ())
    met = [place for place in mine if place in theirs and theirs[place].new != mine[place].new]
    left = [place for place in met if place not in choose_typed]
    text = latest.stating(_with(latest, typed, [each for each in mine if each not in left]))
    meetings = tuple(
        ChangedFact(*place, mine[place].label, theirs[place].new, mine[place].new) for place in met
    )
    alone = tuple(
        each
        for each in changed_facts(latest.job, text.job)
        if (each.section, each.key) in mine and (each.section, each.key) not in met
    )
    return Joined(text, alone, meetings)


def _by_place(facts: Sequence[ChangedFact]) -> dict[Place, ChangedFact]:
    return {(each.section, each.key): each for each in facts}


def _with(latest: JobText, typed: JobText, places: Sequence[Place]) -> dict[str, Any]:
    """Give facts with those at some places as they were typed; one that isn't typed is taken out."""
    facts, other = latest.facts(), typed.facts()
    changed: dict[str, list[str]] = {}
    for section, key in places:
        changed.setdefault(section, []).append(key)
    for section, keys in changed.items():
        if isinstance(other.get(section, facts.get(section)), list):
            stays = [table for table, place in _placed(latest, section) if place not in keys]
            comes = [table for table, place in _placed(typed, section) if place in keys]
            facts[section] = [*stays, *comes]
        elif section:
            facts[section] = _with_keys(facts.get(section, {}), other.get(section, {}), keys)
        else:
            facts = _with_keys(facts, other, keys)
    return {name: value for name, value in facts.items() if value not in ({}, [])}


def _with_keys(facts: Mapping[str, Any], typed: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if name not in keys} | {
        key: typed[key] for key in keys if key in typed
    }


def _placed(text: JobText, section: str) -> Iterator[tuple[Any, str]]:
    """Give the tables of a list as they were typed, each with the place of the map that it stands at."""
    for table, each in zip(text.facts().get(section, ()), getattr(text.job, section), strict=True):
        yield table, f"{each.rpm:g} rpm, {each.kpa:g} kPa"
