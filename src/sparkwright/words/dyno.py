"""The day at the dyno and what it taught, for a person."""

from __future__ import annotations

import numpy as np

from sparkwright.learn.day import Ask
from sparkwright.learn.result import LearnResult
from sparkwright.plan.result import PlanResult

SURE_SIGMAS = 1.0
"""What moved by less than so many of its standard deviations isn't told [-]; a choice."""


def ask_words(ask: Ask) -> str:
    """Say what to measure now.

    Parameters
    ----------
    ask : Ask
        The next step of the day.

    Examples
    --------
    >>> ask_words(Ask("go on", 2000.0, 90.0, 17.0, (22.0,)))
    'Now 17 deg at 2,000 rpm and 90 kPa, then 22.'
    """
    where = "" if ask.rpm is None else f"{ask.rpm:,.0f} rpm and {ask.kpa:.0f} kPa"
    then = f", then {', '.join(f'{each:g}' for each in ask.left_deg)}" if ask.left_deg else ""
    match ask.step:
        case "begin":
            return f"Go to {where} and begin at {ask.advance_deg:g} deg{then}."
        case "go on":
            return f"Now {ask.advance_deg:g} deg at {where}{then}."
        case "repeat":
            return f"Go back to {ask.advance_deg:g} deg once: a repeated point tells drift from timing."
        case "knock":
            return f"Knock ends the sweep at {where}: go no earlier there. Begin the next sweep."
        case "done":
            return f"The sweep at {where} is done. Begin the next one."
    return "More sweeps aren't worth their time. Prove the map from the late side."


def learned_words(result: LearnResult, before: PlanResult) -> tuple[str, ...]:
    """Say what was learned, the map first, then what explains it.

    Parameters
    ----------
    result : LearnResult
        What was learned.
    before : PlanResult
        The plan made before anything was measured, on the same axes.
    """
    return (*_map_words(result, before), *_constant_words(result))


def _map_words(result: LearnResult, before: PlanResult) -> tuple[str, ...]:
    best = np.array([each.best_deg for each in result.cells]).reshape(before.cells.ceilings.best_deg.shape)
    with np.errstate(invalid="ignore"):
        later = best - before.cells.ceilings.best_deg
    known = later[np.isfinite(later)]
    if not known.size:
        return ()
    middle = float(np.median(known))
    span = f"from {known.min():+.1f} to {known.max():+.1f} over the map"
    if abs(middle) < 0.5:
        return (f"Best lies where it was foretold in the middle cell, {span} deg.",)
    side = "more" if middle > 0 else "less"
    return (f"It wants {abs(middle):.1f} deg {side} than foretold in the middle cell, {span}.",)


def _constant_words(result: LearnResult) -> tuple[str, ...]:
    said = []
    for each in result.constants:
        if not each.seen or abs(each.moved) < SURE_SIGMAS * each.sigma or each.name.startswith("constants"):
            continue
        unit = f" {each.unit}" if each.unit else ""
        said.append(
            f"{each.name[:1].upper()}{each.name[1:]}: {each.moved:+.1f}{unit} against what was foretold, "
            f"+-{each.sigma:.1f}."
        )
    return tuple(said)
