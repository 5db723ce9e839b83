"""What one person changed, joined with what another saved meanwhile, fact by fact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    ([('fuel ron', '95', '98')], ())
    >>> both.text.job.engine.compression_ratio
    9.5
    """
    theirs = _by_place(changed_facts(base.job, latest.job))
    mine = _by_place(changed_facts(base.job, typed.job))
    if not mine:
        return Joined(typed, tuple(changed_facts(latest.job, typed.job)), ())
    met = [place for place in mine if place in theirs and theirs[place].new != mine[place].new]
    left = [place for place in met if place not in choose_typed]
    text = latest.stating(_with(latest.facts(), typed.facts(), [each for each in mine if each not in left]))
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


def _with(latest: dict[str, Any], typed: Mapping[str, Any], places: Sequence[Place]) -> dict[str, Any]:
    """Give facts with those at some places as they were typed; one that isn't typed is taken out."""
    facts = dict(latest)
    for section, key in places:
        if not section:
            _put(facts, key, typed)
        elif isinstance(typed.get(section, facts.get(section)), list):
            facts[section] = _listed(facts.get(section, []), typed.get(section, []), key)
        else:
            facts[section] = dict(facts.get(section, {}))
            _put(facts[section], key, typed.get(section, {}))
    return {name: value for name, value in facts.items() if value not in ({}, [])}


def _put(facts: dict[str, Any], key: str, typed: Mapping[str, Any]) -> None:
    facts.pop(key, None)
    if key in typed:
        facts[key] = typed[key]


def _listed(latest: list[Any], typed: list[Any], place: str) -> list[Any]:
    """Give the tables of a list with those at one place of the map as they were typed."""
    stays = [each for each in latest if _at(each) != place]
    return [*stays, *(each for each in typed if _at(each) == place)]


def _at(table: Mapping[str, Any]) -> str:
    return f"{table['rpm']:g} rpm, {table['kpa']:g} kPa"
