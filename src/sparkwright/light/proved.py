"""What a light check found that is a fact of the job once it is proved, or once it is done."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.findings import Finding, Value
from sparkwright.job import Job, JobText
from sparkwright.light.bench import Bench
from sparkwright.light.findings import asks
from sparkwright.light.fit import LightFit
from sparkwright.numeric.quantiles import normal_quantile

MARK_SPREAD_DEG = 0.2
"""How well a mark that was proved at the piston is known, one standard deviation [crank deg]: half of two
readings to half a degree, with the hand's share. Common practice, no source."""

_CONFIDENCE = 0.95


@dataclass(frozen=True)
class ProvedFact:
    """A fact to be kept in the job: its key, `light.timing_spread_deg`, and its value."""

    key: str
    value: float

    @property
    def name(self) -> str:
        """Its key within section light."""
        return self.key.removeprefix("light.")


def proved_facts(fit: LightFit | None, within_deg: float | None, bench: Bench) -> tuple[ProvedFact, ...]:
    """Give what a proved check says of the job.

    Parameters
    ----------
    fit : LightFit or None
        The readings' fit.
    within_deg : float or None
        What commanded and seen are proved to agree within [crank deg]; None where they are not.
    bench : Bench
        What was known beside the readings. A spread is given only where the mark was proved: a light can't
        see that its mark is wrong.
    """
    if fit is None or within_deg is None:
        return ()
    found = []
    if bench.top_dead_centre_proved:
        found.append(ProvedFact("light.timing_spread_deg", timing_spread_deg(fit, within_deg)))
    if bench.delay_set_us is not None:
        found.append(ProvedFact("light.delay_set_us", bench.delay_set_us))
    return tuple(found)


def not_yet_stated(facts: Sequence[ProvedFact], job: Job) -> tuple[ProvedFact, ...]:
    """Give those facts that the job doesn't state, or states otherwise.

    Parameters
    ----------
    facts : sequence of ProvedFact
        What was proved.
    job : Job
        What the shop states of the engine.
    """
    return tuple(each for each in facts if getattr(job.light, each.name) != each.value)


def with_facts(text: JobText, facts: Sequence[ProvedFact]) -> JobText:
    """Give the text of a job with these facts in it; everything else stays as it was typed.

    Parameters
    ----------
    text : JobText
        The text of the job.
    facts : sequence of ProvedFact
        What was proved.
    """
    values = {each.name: int(each.value) if each.value.is_integer() else each.value for each in facts}
    return text.changed("light", **values)


def timing_spread_deg(fit: LightFit, within_deg: float) -> float:
    """Give how far the real spark may lie from the commanded one, one standard deviation [crank deg].

    Parameters
    ----------
    fit : LightFit
        The readings' fit.
    within_deg : float
        What commanded and seen agree within, with 95 % [crank deg].

    Notes
    -----
    Three parts that know nothing of one another, added as squares (JCGM 100:2008, 5.1.2). The agreement: an
    error of normal spread lies within 1.96 standard deviations 95 times in 100. The scatter of single
    readings: spark and eye together, since readings can't part them, and never less than what the readings
    can show. The mark. Rounded up to a hundredth.
    """
    one_reading_deg = float(np.sqrt(np.mean(np.square(fit.sigma_deg))))
    scatter_deg = max(1.0, fit.scatter_ratio or 1.0) * one_reading_deg
    agreement_deg = within_deg / normal_quantile((1.0 + _CONFIDENCE) / 2.0)
    spread_deg = math.hypot(agreement_deg, scatter_deg, MARK_SPREAD_DEG)
    return math.ceil(100.0 * spread_deg) / 100.0


def delay_to_set_us(findings: Sequence[Finding]) -> float | None:
    """Give the whole delay that the controller is to be set to [us]; None where none is to be set.

    Parameters
    ----------
    findings : sequence of Finding
        What was noticed.
    """
    for finding in findings:
        numbers = finding.numbers
        if not asks(finding):
            continue
        if finding.kind == "delay.to-set":
            return float(round(_number(numbers["set_us"]) + _number(numbers["value"])))
        if finding.kind == "delay.set-too-long":
            left_us = _number(numbers["set_us"]) - _number(numbers["gained_us"])
            return float(round(left_us)) if left_us >= 0.0 else None
    return None


def _number(value: Value) -> float:
    assert isinstance(value, int | float)
    return float(value)
