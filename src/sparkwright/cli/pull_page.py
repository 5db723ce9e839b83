"""Pulls, and timings held against each other, on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.common import own_system
from sparkwright.cli.terminal import number, sentences, table, told, told_of
from sparkwright.dyno.pull_result import PullResult
from sparkwright.dyno.pulls import Compared
from sparkwright.evidence.found import Found
from sparkwright.words.evidence import found_words
from sparkwright.words.parts import in_own_units, own_unit

EVERY = 5
"""Every so many speeds have a line; all of them stand in the JSON."""


def pulls_page(result: PullResult, road: Sequence[Found] = ()) -> Group:
    """Lay out each pull, the differences, the factors for the air of the day, and what the road says.

    Parameters
    ----------
    result : PullResult
        Pulls, smoothed and held against each other.
    road : sequence of Found, optional
        What kept pulls on the road say.
    """
    rows = [
        (each.name, each.timing, number(_own(each.most_nm)), number(each.most_at_rpm))
        for each in result.pulls
    ]
    parts: list[RenderableType] = [
        Text(" ".join(map(str, sentences(result.findings)))),
        Text(str(told_of(result.to_do).action)),
        Text(),
        table(
            f"Pulls, smoothed over {result.bandwidth_rpm:g} rpm, uncorrected",
            ("pull", "timing", f"most {own_unit('torque', own_system())}", "at rpm"),
            rows,
            words=2,
        ),
        *(_differences(each) for each in result.compared),
    ]
    if result.corrections:
        factors = [(each.standard, number(each.factor, 3)) for each in result.corrections]
        parts.append(table("Factors for the air of the day", ("standard", "factor"), factors, words=1))
    parts += told("On the road, in percent; it teaches nothing", [f"{found_words(each)}." for each in road])
    return Group(*parts, *told("Look at", list(sentences(result.warnings))))


def _differences(found: Compared) -> RenderableType:
    columns = zip(found.rpm, found.difference_nm, found.low_nm, found.high_nm, strict=True)
    rows = [
        (number(rpm), *(number(_own(each), 1) for each in (by, low, high)))
        for place, (rpm, by, low, high) in enumerate(columns)
        if place % EVERY == 0
    ]
    noise = number(found.noise_percent, 2)
    unit = own_unit("torque", own_system())
    title = f"{found.second} less {found.first}, {unit}; noise of a pull {noise} %"
    return table(title, ("rpm", "by", "low", "high"), rows)


def _own(torque_nm: float) -> float:
    return in_own_units(torque_nm, "torque", own_system())
