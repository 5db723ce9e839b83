"""Readings of the balancer's mark against a stop or a dial, as people write them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sparkwright.cycle.marks import rim_angle_deg
from sparkwright.errors import Refusal
from sparkwright.mounting.lengths import length_mm
from sparkwright.reading import ENDINGS, SIDES, found_in, number, shown, tidy

MOST_HALF_TRAVEL_DEG = 120.0


MOST_PAIRS = 20


@dataclass(frozen=True)
class ReadPair:
    """Two readings at which the piston stands equally low: before and after the top [crank deg]."""

    before_deg: float
    after_deg: float


def mark_reading_deg(text: str, diameter_mm: float | None = None, field: str = "--stop") -> float:
    """Read what a person saw on the balancer.

    Parameters
    ----------
    text : str
        `"27 before"`, `"31 after"`, or a distance from the zero mark along the rim, `"52 mm before"`. Only 0
        stands without its side.
    diameter_mm : float, optional
        Diameter of the rim [mm], for a distance.
    field : str
        What to call it when it has to be refused.

    Returns
    -------
    float
        The reading, positive before top dead centre [crank deg], within -180 to 180.

    Raises
    ------
    Refusal
        If it can't be read, doesn't say its side, or lies outside half a turn.

    Examples
    --------
    >>> mark_reading_deg("27 before"), mark_reading_deg("31.5 after")
    (27.0, -31.5)
    >>> round(mark_reading_deg("16.07 mm before", diameter_mm=184.15), 2)
    10.0
    """
    write = 'write it as "27 before" or "31 after", or a distance along the rim as "52 mm before"'
    word, bare = _side_of(tidy(text))
    found = found_in(bare, field)
    if found is None:
        raise Refusal.at(field, shown(text), "must start with a number", write)
    if found.rest and found.rest.lower() not in ENDINGS["deg"]:
        distance_mm = length_mm(bare, field)
        if diameter_mm is None:
            raise Refusal.at(
                field, shown(text), "must come with the diameter of the rim", 'such as "7.24 in"'
            )
        value = float(rim_angle_deg(diameter_mm, distance_mm))
    else:
        value = number(bare, unit="deg", low=-180.0, high=180.0, field=field, do=write)
    if word and value < 0.0:
        raise Refusal.at(field, shown(text), "must not have both a minus and a side", write)
    if not -180.0 <= value <= 180.0:
        must = "must be within half a turn, 180 deg to either side of the mark"
        raise Refusal.at(field, shown(text), must, write)
    if not word and value != 0.0:
        without_sign = bare.lstrip("+-").strip()
        raise Refusal.at(
            field,
            shown(text),
            "must say on which side of the mark it was read, as each reading must",
            f'write "{without_sign} before" or "{without_sign} after"',
        )
    return SIDES.get(word, 0) * value


def _side_of(text: str) -> tuple[str, str]:
    """Part the side from the end of a text; "" where it names none."""
    small = text.lower()
    word = max((each for each in SIDES if small.endswith(each)), key=len, default="")
    return word, text[: len(text) - len(word)].rstrip() if word else text


def read_pairs(readings_deg: Sequence[float], field: str = "--stop") -> tuple[ReadPair, ...]:
    """Sort readings into pairs, first with second, third with fourth, before ahead of after.

    Parameters
    ----------
    readings_deg : sequence of float
        Two readings a pair, positive before top dead centre [crank deg].
    field : str
        What to call them when they have to be refused.

    Raises
    ------
    Refusal
        For an odd count, none, the same reading twice, or two that don't lie on either side.

    Examples
    --------
    >>> read_pairs([-31.0, 27.0])
    (ReadPair(before_deg=27.0, after_deg=-31.0),)
    """
    count = len(readings_deg)
    if count == 0 or count % 2:
        shown = None if count == 0 else ", ".join(f"{each:g}" for each in readings_deg)
        raise Refusal.at(
            field,
            shown,
            "must be given twice for each try, once from either side of the top",
            "turn the engine the other way against the stop and read again",
        )
    if count // 2 > MOST_PAIRS:
        raise Refusal.at(field, f"{count // 2} pairs", f"must be at most {MOST_PAIRS} pairs")
    return tuple(_pair(first, second, field) for first, second in zip(*[iter(readings_deg)] * 2, strict=True))


def _pair(first_deg: float, second_deg: float, field: str) -> ReadPair:
    shown = f"{first_deg:g} and {second_deg:g}"
    if not (math.isfinite(first_deg) and math.isfinite(second_deg)):
        raise Refusal.at(field, shown, "must be numbers of degrees")
    before_deg, after_deg = max(first_deg, second_deg), min(first_deg, second_deg)
    half_deg = (before_deg - after_deg) / 2.0
    if half_deg < 1.0:
        raise Refusal.at(
            field,
            shown,
            "must lie well apart, one on either side of the top",
            'write the one after the mark as "31 after"',
        )
    if half_deg > MOST_HALF_TRAVEL_DEG:
        raise Refusal.at(
            field,
            shown,
            f"must be less than {2 * MOST_HALF_TRAVEL_DEG:g} deg apart",
            "a stop that low is not held by the piston near its top",
        )
    return ReadPair(before_deg, after_deg)
