"""The one writer of findings: from kind and numbers to a sentence and what to do, in the person's units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sparkwright.findings import Finding, Sentence, State
from sparkwright.units import System
from sparkwright.words import (
    bench,
    between,
    check,
    coil,
    commanded,
    dead_centre,
    desk,
    difference,
    drive,
    engine_doubts,
    first_map,
    formulas,
    hand_over,
    held_against,
    learn,
    light_delay,
    light_findings,
    light_offset,
    light_scatter,
    log,
    mine,
    plan,
    pulls,
    road_pulls,
    rotor_phasing,
    rules_of_the_trade,
    scale,
    settings,
    start_and_idle,
    static_setting,
    sweeps,
    trims,
    why,
)
from sparkwright.words.parts import Writer

WRITERS: dict[str, Writer] = {
    **check.WRITERS,
    **coil.WRITERS,
    **engine_doubts.WRITERS,
    **plan.WRITERS,
    **formulas.WRITERS,
    **why.WRITERS,
    **between.WRITERS,
    **held_against.WRITERS,
    **difference.WRITERS,
    **light_findings.WRITERS,
    **light_scatter.WRITERS,
    **light_delay.WRITERS,
    **light_offset.WRITERS,
    **dead_centre.WRITERS,
    **scale.WRITERS,
    **bench.WRITERS,
    **rotor_phasing.WRITERS,
    **static_setting.WRITERS,
    **first_map.WRITERS,
    **rules_of_the_trade.WRITERS,
    **trims.WRITERS,
    **log.WRITERS,
    **drive.WRITERS,
    **road_pulls.WRITERS,
    **hand_over.WRITERS,
    **mine.WRITERS,
    **settings.WRITERS,
    **commanded.WRITERS,
    **start_and_idle.WRITERS,
    **desk.WRITERS,
    **sweeps.WRITERS,
    **learn.WRITERS,
    **pulls.WRITERS,
}


STATE_WORDS: dict[State, str] = {
    "good": "good",
    "look": "look here",
    "problem": "put right",
    "open": "not determined",
}
"""How the states are told."""


@dataclass(frozen=True)
class Told:
    """One finding as a person reads it: what it is about, a sentence, and what to do if there is anything."""

    topic: str
    sentence: Sentence
    action: Sentence | None


def told(finding: Finding, system: System = "metric") -> Told:
    """Tell a finding.

    Parameters
    ----------
    finding : Finding
        From a check, a plan, a comparison.
    system : {"metric", "inch"}
        Which units the person reads.

    Examples
    --------
    >>> short = {"reach_deg": 26.0, "above_base_deg": 16.0, "missing_deg": 8.0}
    >>> move = {"move_distributor_deg": 6.0, "move_mm": 3.06, "move_tip_fraction": 0.55}
    >>> needed = {"least_needed_deg": 10.0, "most_needed_deg": 34.0}
    >>> then = {"phased_from_deg": 6.0, "phased_to_deg": 38.0}
    >>> found = Finding("rotor.runs-out", "problem", {**short, **move, **needed, **then})
    >>> print(told(found).sentence)
    The rotor runs out at 26 deg, 16 above base: the plan wants 8 more.
    """
    sentence, action = WRITERS[finding.kind](system, **finding.numbers)
    return Told(finding.subject.replace("-", " "), Sentence(sentence), Sentence(action) if action else None)


def sentences(findings: Iterable[Finding], system: System = "metric") -> tuple[Sentence, ...]:
    """Tell the sentences of findings, in their order.

    Parameters
    ----------
    findings : iterable of Finding
        What was noticed.
    system : System, optional
        Units that the person reads.
    """
    return tuple(told(each, system).sentence for each in findings)
