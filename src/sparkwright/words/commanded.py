"""What a controller commands at a point of its map, in sentences."""

from __future__ import annotations

from math import isinf, isnan

from sparkwright.units import System
from sparkwright.words.loads import load_said
from sparkwright.words.map import HELD_WORDS
from sparkwright.words.parts import Said, Writer
from sparkwright.words.plan import OVER_MEANS, chance_words

CEILING = {"knock": "knock", "reach": "reach", "limit": "the limit", "best": "best"}


def _commands(rpm: float, kpa: float, load: float | None, load_term: str, advance_deg: float) -> str:
    at = f"At {rpm:,.0f} rpm and {load_said(kpa, load, load_term)}"
    return f"{at} the controller commands {advance_deg:.1f} deg"


def _under(
    _: System,
    *,
    rpm: float,
    kpa: float,
    load: float | None = None,
    load_term: str = "",
    advance_deg: float,
    held_by: tuple[str, ...],
    ceiling: str,
    margin_deg: float,
    chance_percent: float,
) -> Said:
    near = "no ceiling is near"
    if not isnan(margin_deg):
        at = "at" if margin_deg < 0.05 else f"{margin_deg:.1f} deg below"
        near = f"it stands {at} {CEILING[ceiling]}"
    held = " and ".join(HELD_WORDS[each] for each in held_by)
    chance = chance_words(chance_percent)
    there = _commands(rpm, kpa, load, load_term, advance_deg)
    return f"{there}: {near}. Held by {held}; chance of knock {chance}.", ""


def _over(
    _: System,
    *,
    rpm: float,
    kpa: float,
    load: float | None = None,
    load_term: str = "",
    advance_deg: float,
    held_by: tuple[str, ...],
    ceiling: str,
    margin_deg: float,
    chance_percent: float,
) -> Said:
    chance, there = chance_words(chance_percent), _commands(rpm, kpa, load, load_term, advance_deg)
    if isinf(margin_deg):
        return (
            f"{there}, and this fuel knocks there at any advance.",
            "Keep out of that load: less boost, a better fuel, or a cooler charge.",
        )
    over = f"{there}, {-margin_deg:.1f} deg over {CEILING[ceiling]}"
    if ceiling == "best":
        return f"{over}: that only costs torque. Chance of knock {chance}.", ""
    lower = "Lower the cells about it."
    if "by hand" in held_by:
        lower = "Give the cells about it back to the plan, or lower them."
    return f"{over}; {OVER_MEANS[ceiling]}. Chance of knock {chance}.", lower


def _not_met(
    _: System,
    *,
    rpm: float,
    kpa: float,
    load: float | None = None,
    load_term: str = "",
    advance_deg: float,
    **rest: object,
) -> Said:
    return (
        f"A running engine doesn't come to {rpm:,.0f} rpm and {load_said(kpa, load, load_term)}; the "
        f"controller would command {advance_deg:.1f} deg.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "commanded.under": _under,
    "commanded.over": _over,
    "commanded.not-met": _not_met,
}
"""How a commanded advance is told."""
