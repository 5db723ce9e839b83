"""Pulls, and timings held against each other, on a terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.terminal import number, sentences, table, told
from sparkwright.dyno.pull_result import PullResult
from sparkwright.dyno.pulls import Compared

EVERY = 5
"""Every so many speeds have a line; all of them stand in the JSON."""


def pulls_page(result: PullResult) -> Group:
    """Lay out each pull, the differences, and the factors for the air of the day.

    Parameters
    ----------
    result : PullResult
        Pulls, smoothed and held against each other.
    """
    rows = [(each.name, each.timing, number(each.most_nm), number(each.most_at_rpm)) for each in result.pulls]
    parts: list[RenderableType] = [
        Text(result.headline),
        Text(result.action),
        Text(),
        table(
            f"Pulls, smoothed over {result.bandwidth_rpm:g} rpm, uncorrected",
            ("pull", "timing", "most N m", "at rpm"),
            rows,
            words=2,
        ),
        *(_differences(each) for each in result.compared),
    ]
    if result.corrections:
        factors = [(each.standard, number(each.factor, 3)) for each in result.corrections]
        parts.append(table("Factors for the air of the day", ("standard", "factor"), factors, words=1))
    return Group(*parts, *told("Look at", list(sentences(result.warnings))))


def _differences(found: Compared) -> RenderableType:
    columns = zip(found.rpm, found.difference_nm, found.low_nm, found.high_nm, strict=True)
    rows = [
        (number(rpm), number(by, 1), number(low, 1), number(high, 1))
        for place, (rpm, by, low, high) in enumerate(columns)
        if place % EVERY == 0
    ]
    noise = number(found.noise_percent, 2)
    title = f"{found.second} less {found.first}, N m; noise of a pull {noise} %"
    return table(title, ("rpm", "by", "low", "high"), rows)
