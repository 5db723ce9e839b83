"""The fixed-advance check on a terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.terminal import (
    STATE_MARKS,
    assumed,
    headed,
    number,
    sentences,
    state_key,
    table,
    told,
    told_of,
)
from sparkwright.light.verdict import LightResult
from sparkwright.words.light import interval, what_was_read
from sparkwright.words.told import STATE_WORDS


def light_page(result: LightResult) -> Group:
    """Lay out a light check: how things stand, what to do and to read next, then the numbers.

    Parameters
    ----------
    result : LightResult
        What the timing light proved.
    """
    lead, to_do = told_of(result.headline), result.to_do and told_of(result.to_do).action
    parts: list[RenderableType] = [
        headed(result.job_name, result.fingerprint, str(lead.sentence), str(to_do or "")),
        Text(),
    ]
    if result.proof.finding != result.headline:
        parts += [Text(str(told_of(result.proof.finding).sentence)), Text()]
    for finding in result.findings:
        mark, style = STATE_MARKS[finding.state]
        said = told_of(finding)
        line = Text.assemble((f"{mark} ", style), (f"{said.topic}: ", "bold"), str(said.sentence))
        act = said.action if said.action != to_do else None
        parts.append(line.append(f" {act}") if act else line)
    if result.findings:
        parts += [Text(state_key(STATE_WORDS["open"]), style="dim"), Text()]
    if result.readings:
        parts += _numbers(result)
    return Group(
        *parts,
        *told("Read next", next_lines(result)),
        *told("Take care", result.cautions),
        *told("Look at", sentences(result.warnings)),
        *assumed(result.assumed),
    )


def next_lines(result: LightResult) -> list[str]:
    """Say each reading to take next.

    Parameters
    ----------
    result : LightResult
        What the timing light proved.
    """
    return [
        f"{each.commanded_deg:g} deg held, {each.speed_rpm:,.0f} rpm: {told_of(each.why).sentence}."
        for each in result.next_readings
    ]


def _numbers(result: LightResult) -> list[RenderableType]:
    fit = result.fit
    if fit is None:
        return [Text(what_was_read(result))]
    facts = [
        ("offset", interval(fit.offset_deg, "deg", 1)),
        ("delay", interval(fit.delay_us, "us", 0)),
        (f"at {fit.lowest_rpm:,.0f} rpm", interval(fit.at_lowest, "deg", 1)),
        (f"at {fit.highest_rpm:,.0f} rpm", interval(fit.at_highest, "deg", 1)),
        ("scatter, found over stated", number(fit.scatter_ratio, 1)),
        ("error bars", "from stated reading errors" if fit.bars == "stated" else "widened to the scatter"),
    ]
    rows = [
        (
            str(reading.line or ""),
            number(reading.speed_rpm),
            number(reading.commanded_deg, 1),
            number(reading.seen_deg, 1),
            number(reading.difference_deg, 1),
            number(float(fitted), 1),
            _doubt(place, fit.left_out, fit.suspects),
        )
        for place, (reading, fitted) in enumerate(zip(fit.readings, fit.fitted_difference_deg, strict=True))
    ]
    names = ("line", "rpm", "commanded", "seen", "seen less commanded", "fit", "")
    return [
        table("Seen less commanded, with 95 % intervals", ("", ""), facts, words=2),
        table("Readings", names, rows),
    ]


def _doubt(place: int, left_out: int | None, suspects: tuple[int, ...]) -> str:
    return "left out" if place == left_out else "in doubt" if place in suspects else ""
