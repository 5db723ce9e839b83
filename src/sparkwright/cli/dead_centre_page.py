"""What was found about top dead centre, for a terminal."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.common import own_system
from sparkwright.cli.terminal import number, table, told
from sparkwright.mounting.dead_centre import DeadCentre, PairResult
from sparkwright.words.dead_centre import CAUTIONS, interval_words
from sparkwright.words.parts import in_own_units, own_unit
from sparkwright.words.told import sentences
from sparkwright.words.told import told as told_of


def dead_centre_page(found: DeadCentre, job_name: str = "", fingerprint: str = "") -> Group:
    """Lay out the finding: how it stands, what to do, the readings, and what to take care of.

    Parameters
    ----------
    found : DeadCentre
        Top dead centre as it was found.
    job_name : str, optional
        Name of the job; "" where there is none.
    fingerprint : str, optional
        Fingerprint of the job; "" where there is none.
    """
    system = own_system()
    parts: list[RenderableType] = []
    if job_name:
        parts.append(Text(f"{job_name}  {fingerprint[:12]}", style="dim"))
    lead = told_of(found.headline, system)
    parts += [Text(str(lead.sentence), style="bold"), Text(str(lead.action)), Text()]
    columns = (
        "before",
        "after",
        "midway",
        "pin offset",
        "mark at top",
        "+/-",
        f"drop {own_unit('length', system)}",
    )
    parts.append(table("Readings, crank degrees, before positive", columns, map(_row, found.pairs)))
    parts.append(
        Text(
            f"Mark at true top dead centre: {found.mark_error_deg:+.2f} deg, "
            f"95 % interval {found.mark_error_deg - found.half_interval_deg:+.2f} to "
            f"{found.mark_error_deg + found.half_interval_deg:+.2f}, from {interval_words(found)}."
        )
    )
    return Group(
        *parts,
        *told("Look at", sentences((*found.findings, *found.warnings), system)),
        *told("Take care", CAUTIONS),
    )


def _row(pair: PairResult) -> list[str]:
    system = own_system()
    drop = None if pair.drop_mm is None else in_own_units(pair.drop_mm, "length", system)
    numbers = (
        (pair.before_deg, 1),
        (pair.after_deg, 1),
        (pair.middle_deg, 2),
        (pair.pin_error_deg, 3),
        (pair.mark_error_deg, 2),
        (pair.sigma_deg, 2),
        (drop, 2 if system == "metric" else 3),
    )
    return [number(value, decimals) for value, decimals in numbers]
