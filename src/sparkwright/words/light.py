"""The fixed-advance check in sentences, for the card."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.light.fit import Estimate
from sparkwright.light.proved import ProvedFact
from sparkwright.light.verdict import LightResult
from sparkwright.words.parts import mark_words
from sparkwright.words.told import sentences, told

MOST_FINDINGS = 3
"""Findings that a card has room for; they come the gravest first."""


def light_lines(result: LightResult) -> list[str]:
    """Give the card's sentences about a light check: what was read, what it proves, what is open.

    Parameters
    ----------
    result : LightResult
        From `check_light`.

    Returns
    -------
    list of str
        Plain text, one sentence or two each.

    Examples
    --------
    >>> from sparkwright.job import Job, starter_text
    >>> from sparkwright.light.readings import Reading
    >>> from sparkwright.light.verdict import check_light
    >>> job = Job.from_toml(starter_text())
    >>> result = check_light(job, [Reading(26, rpm, 26) for rpm in (1000, 2000, 3000, 4000)])
    >>> print(*light_lines(result), sep=chr(10))
    Read with a timing light: 4 readings from 1,000 to 4,000 rpm, 26 deg held.
    Commanded and seen agree within 0.7 deg over 1,000 to 4,000 rpm with 95 % confidence.
    Offset 0.0 deg (-0.9 to 0.9); delay of pickup, driver and light 0 us (-56 to 56); 95 % intervals.
    """
    if not result.readings:
        return ["Not read with a timing light yet."]
    lines = [what_was_read(result), *_mark_counted(result), str(told(result.proof.finding).sentence)]
    fit = result.fit
    if fit is not None:
        lines.append(
            f"Offset {interval(fit.offset_deg, 'deg', 1)}; delay of pickup, driver and light "
            f"{interval(fit.delay_us, 'us', 0)}; 95 % intervals{_widened(fit.bars)}."
        )
    found = [each for each in result.findings if each.state in ("problem", "look")]
    lines += [f"Look here: {sentence}" for sentence in sentences(found[:MOST_FINDINGS])]
    if len(found) > MOST_FINDINGS:
        lines.append(f"{len(found) - MOST_FINDINGS} more of its findings stand in the check itself.")
    return lines


def what_was_read(result: LightResult) -> str:
    """Say how many readings there are, over which speeds, and what was held.

    Parameters
    ----------
    result : LightResult
        What the timing light proved.
    """
    count = len(result.readings)
    speeds = sorted({each.speed_rpm for each in result.readings})
    held = sorted({each.commanded_deg for each in result.readings})
    first, last = f"{speeds[0]:,.0f}", f"{speeds[-1]:,.0f}"
    where = f"at {first} rpm" if first == last else f"from {first} to {last} rpm"
    what = f"{held[0]:g} deg held" if len(held) == 1 else f"{held[0]:g} to {held[-1]:g} deg commanded"
    return f"Read with a timing light: {count} reading{'' if count == 1 else 's'} {where}, {what}."


def facts_words(facts: Sequence[ProvedFact]) -> str:
    """Say what a light check proved of the job.

    Parameters
    ----------
    facts : sequence of ProvedFact
        Keys of the job with the values proved.

    Examples
    --------
    >>> print(facts_words([ProvedFact("light.delay_set_us", 85.0)]))
    the controller makes up for a delay of 85 us (`light.delay_set_us`)
    """
    words = {
        "timing_spread_deg": "base, mark and scatter of the spark are known to {:g} deg, one standard "
        "deviation",
        "delay_set_us": "the controller makes up for a delay of {:g} us",
    }
    return "; ".join(f"{words[each.name].format(each.value)} (`{each.key}`)" for each in facts)


def _mark_counted(result: LightResult) -> list[str]:
    error_deg = result.readings[0].mark_error_deg
    if not error_deg:
        return []
    return [f"The mark's known error is taken off: at true top dead centre it shows {mark_words(error_deg)}."]


def interval(estimate: Estimate | None, unit: str, decimals: int) -> str:
    """Write an estimate with its interval.

    Parameters
    ----------
    estimate : Estimate or None
        Value with the ends of its interval; None where it isn't determined.
    unit : str
        Unit that is written behind it.
    decimals : int
        Figures after the point.

    Examples
    --------
    >>> interval(Estimate(-0.01, -0.6, 0.58), "deg", 1), interval(None, "us", 0)
    ('0.0 deg (-0.6 to 0.6)', 'not determined')
    """
    if estimate is None:
        return "not determined"
    value, low, high = (_written(each, decimals) for each in (estimate.value, estimate.low, estimate.high))
    return f"{value} {unit} ({low} to {high})"


def _written(value: float, decimals: int) -> str:
    # Adding zero takes the sign off a rounded minus zero.
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def _widened(bars: str) -> str:
    return ", widened to the scatter found" if bars == "rescaled" else ""
