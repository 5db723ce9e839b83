"""Sweeps, what they teach, and what to run next, on a terminal."""

from __future__ import annotations

import math

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.common import own_system
from sparkwright.cli.terminal import assumed, headed, headed_by, number, sentences, table, told, told_of
from sparkwright.dyno.fits import DynoResult
from sparkwright.dyno.hook_fit import SweepFit
from sparkwright.learn.next_runs import NextResult
from sparkwright.learn.result import LearnedCell, LearnResult
from sparkwright.words.parts import in_own_units, own_unit


def dyno_page(result: DynoResult) -> Group:
    """Lay out each sweep's top and what was noticed.

    Parameters
    ----------
    result : DynoResult
        Sweeps, fitted.
    """
    lead, to_do = told_of(result.headline), told_of(result.to_do)
    return Group(
        headed(result.job_name, result.fingerprint, str(lead.sentence), str(to_do.action)),
        Text(),
        *_fits(result.sweeps),
        *told("Look at", [f"{each.sentence} {each.action}" for each in map(told_of, result.findings)]),
        *assumed(result.assumed),
    )


def learn_page(result: LearnResult) -> Group:
    """Lay out best and knock limit of every cell with their intervals, and what was moved.

    Parameters
    ----------
    result : LearnResult
        What was learned of one engine.
    """
    names = ("kPa", *(f"{each:.0f}" for each in result.spark_map.rpm.tolist()))
    loads = result.spark_map.kpa.tolist()[::-1]
    by_load = {load: [cell for cell in result.cells if cell.kpa == load] for load in loads}
    bests = [(number(load), *(number(cell.best_deg) for cell in by_load[load])) for load in loads]
    halves = [(number(load), *(number(_half(cell), 1) for cell in by_load[load])) for load in loads]
    knocks = [(number(load), *(number(cell.knock_deg) for cell in by_load[load])) for load in loads]
    moved = [
        (
            each.name,
            f"{each.moved:+.1f} {each.unit}".strip(),
            f"+-{each.sigma:.1f}",
            "" if each.seen else "not seen",
        )
        for each in result.constants
    ]
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text(),
        table("Best, crank deg", names, bests, tight=True),
        table("Half of its 90 % interval, crank deg", names, halves, tight=True),
        table("Even chance of knock, crank deg; - where there is none near best", names, knocks, tight=True),
        table("What was moved", ("", "by", "one deviation", ""), moved, words=1),
        *_fits(result.sweeps),
        *told("Look at", sentences(result.warnings)),
        *assumed(result.assumed),
    )


def next_page(result: NextResult) -> Group:
    """Lay out the sweeps worth running, best first.

    Parameters
    ----------
    result : NextResult
        What to measure next.
    """
    system = own_system()
    rows = [
        (
            number(each.rpm),
            number(each.kpa),
            ", ".join(f"{advance:g}" for advance in each.advances_deg),
            number(in_own_units(each.worth, "torque", system), 2),
            number(each.knock_chance_percent),
        )
        for each in result.next
    ]
    tables: list[RenderableType] = []
    if rows:
        names = (
            "rpm",
            "kPa",
            "advances, deg, in this order",
            f"worth, {own_unit('torque', system)}",
            "most chance of knock, %",
        )
        tables = [table("Sweeps, best first", names, rows)]
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text(),
        *tables,
        *told("Look at", sentences(result.findings)),
        *assumed(result.assumed),
    )


def _fits(fits: tuple[SweepFit, ...]) -> list[RenderableType]:
    if not fits:
        return []
    system = own_system()
    names = ("sweep", "rpm", "kPa", "best", "low", "high", own_unit("torque", system), "drift %", "knock")
    rows = [
        (
            each.sweep,
            number(each.rpm),
            number(each.kpa),
            number(each.best_deg, 1),
            number(each.best_low_deg, 1),
            number(each.best_high_deg, 1),
            number(in_own_units(each.best_torque_nm, "torque", system)),
            number(each.drift_percent, 1),
            _heard(each),
        )
        for each in fits
    ]
    return [table("Sweeps: best with its 90 % interval", names, rows, words=1, tight=True)]


def _heard(fit: SweepFit) -> str:
    quiet, loud = fit.knock_from_deg, fit.knock_to_deg
    if math.isnan(loud):
        return "-" if math.isnan(quiet) else f"none to {quiet:.0f}"
    return f"at {loud:.0f}" if math.isnan(quiet) else f"{quiet:.0f} to {loud:.0f}"


def _half(cell: LearnedCell) -> float:
    return 0.5 * (cell.best_high_deg - cell.best_low_deg)
