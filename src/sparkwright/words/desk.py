"""Sentences of the desk: how a case stands, what can't both be right, and the cautions of the tests."""

from __future__ import annotations

from collections.abc import Iterable

from sparkwright.desk.knowledge import Caution
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

CAUTION_TEXTS: dict[Caution, str] = {
    "high-voltage": (
        "High voltage: coil, leads and cap carry enough to kill. Key off before a hand goes near; key on, "
        "stand clear; never run a coil with its lead in the air. Nobody with a pacemaker near it."
    ),
    "moving-parts": (
        "Moving parts: before cranking or running, hands, hair, sleeves and tools clear of fan, belts and "
        "crank; out of gear, brake on, wheels blocked; the bar off the crank before the key is touched."
    ),
    "fuel": (
        "Fuel: no spark, lamp or hot air where there is fuel or its vapour. Leaks dried, lines shut, air "
        "through the room, a fire extinguisher at hand."
    ),
    "hot": "Hot parts: read temperatures with an instrument, and let plugs, coil and exhaust cool first.",
    "exhaust": "Exhaust: run the engine only outdoors, or with the exhaust led away.",
}
"""Cautions of the trade, in our words. Common practice, no source."""

LICENSED = (
    "This is advice. Work that the law of your place keeps for licensed hands stays with them, and local "
    "codes and emission law come first."
)
NOT_FORESEEN = (
    "The desk doesn't know these words yet, so they move no number; they are kept with the case, for whoever "
    "reads it. It can go on from the nearest of its own answers, or from a test."
)

NEXT_TEST = "The next test tells most for the time and money that it takes."


def caution_texts(cautions: Iterable[Caution]) -> tuple[str, ...]:
    """Give the cautions in words, and who may do the work.

    Parameters
    ----------
    cautions : iterable of str
        Their kinds.
    """
    return (*(CAUTION_TEXTS[each] for each in cautions), LICENSED)


def _percent(percent: float) -> str:
    """Write a probability without ever saying that something is certain.

    Examples
    --------
    >>> _percent(99.8), _percent(62.4), _percent(0.2)
    ('over 99 %', '62 %', 'under 1 %')
    """
    if percent > 99.0:
        return "over 99 %"
    return "under 1 %" if percent < 1.0 else f"{percent:.0f} %"


def _nothing_said(system: System) -> Said:
    return "Nothing was said yet.", "Say what the engine does; the desk asks for the rest."


def _something_else(system: System, *, percent: float) -> Said:
    return (
        f"None of the causes that the desk knows fits well: {_percent(percent)} for something else.",
        "Read the answers over once more; if they stand, look at the engine itself, not only its spark.",
    )


def _to_prove(system: System, *, cause: str, percent: float, prove: str) -> Said:
    return f"{cause}: {_percent(percent)}.", f"Prove it before anything is changed: {prove}"


def _likely(system: System, *, cause: str, percent: float) -> Said:
    return f"Likely: “{cause}”, {_percent(percent)}.", NEXT_TEST


def _between(system: System, *, cause: str, percent: float, other: str) -> Said:
    return (
        f"Not settled: first “{cause}”, {_percent(percent)}, then “{other}”.",
        NEXT_TEST,
    )


def _two_answers(system: System, *, asked: str, one: str, other: str) -> Said:
    return (
        f"{asked.rstrip('?')} has two answers, “{one}” and “{other}”; neither counts.",
        "Withdraw the one that is wrong.",
    )


def _not_both(system: System, *, asked: str, one: str, other_asked: str, other: str, why: str) -> Said:
    return (
        f"“{one}” ({asked.rstrip('?').lower()}) and “{other}” ({other_asked.rstrip('?').lower()}) can't both "
        f"be right: {why}. Both count as they were given.",
        "Look at one of them again, and withdraw what was wrong.",
    )


def percent_words(probability: float) -> str:
    """Write a probability for a person.

    Parameters
    ----------
    probability : float
        From 0 to 1.
    """
    return _percent(100.0 * probability)


WRITERS: dict[str, Writer] = {
    "desk.nothing-said": _nothing_said,
    "desk.something-else": _something_else,
    "desk.to-prove": _to_prove,
    "desk.likely": _likely,
    "desk.between": _between,
    "desk.two-answers": _two_answers,
    "desk.not-both": _not_both,
}
"""How each kind of finding of the desk is told."""
