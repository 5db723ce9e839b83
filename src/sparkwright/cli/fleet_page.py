"""What the commands of a fleet print for a person."""

from __future__ import annotations

from math import isinf
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from sparkwright.fleet.drives import FleetDrives
    from sparkwright.fleet.plans import FleetPlans
    from sparkwright.fleet.risk import Risk, RiskCell

HEADINGS = ("rpm", "kPa", "deg", "knocks %", "95 %", "plan %", "may %", "lost %", "keep to deg")
WORST = 12
"""Cells that are listed; `--json` gives them all."""


def plans_page(result: FleetPlans) -> RenderableType:
    """Lay out what came of a fleet.

    Parameters
    ----------
    result : FleetPlans
        Plans of a fleet, counted and gathered.
    """
    lines = [
        f"{result.planned:,} of {result.engines:,} engines are planned; the tables stand in {result.folder}."
    ]
    if result.already:
        lines.append(f"{result.already:,} of them stood there from before.")
    if not result.refused_count:
        return Text("\n".join(lines))
    one = result.refused_count == 1
    lines.append(f"{result.refused_count:,} {'has' if one else 'have'} no map:")
    lines += [f"  {source}: {said}" for source, said in result.refused]
    left = result.refused_count - len(result.refused)
    if left:
        lines.append(f"  and {left:,} more; the table `engines` says why for each.")
    return Text("\n".join(lines))


def drives_page(result: FleetDrives) -> RenderableType:
    """Lay out what an archive of drives comes to.

    Parameters
    ----------
    result : FleetDrives
        An archive of drives, counted and gathered.
    """
    lines = [
        f"{result.read:,} of {result.files:,} drives are read, {result.running_rows:,} running rows in "
        f"{result.seconds / 3600.0:,.1f} hours; the tables stand in {result.folder}."
    ]
    lines += [f"  {kind}: found in {count:,}" for kind, count in result.found]
    if result.used:
        lines.append("Most of the driving was at:")
        lines += [
            f"  {each.rpm:,.0f} rpm and {each.kpa:.0f} kPa: {each.share_percent:.1f} %"
            for each in result.used[:5]
        ]
    if result.refused_count:
        lines.append(f"{result.refused_count:,} can't be read:")
        lines += [f"  {source}: {said}" for source, said in result.refused]
    return Text("\n".join(lines))


def risk_page(result: Risk) -> RenderableType:
    """Lay out what a map risks, the cells most likely to knock first.

    Parameters
    ----------
    result : Risk
        Chances of knock of a map over engines that may be.
    """
    over = result.over_allowed
    lead = (
        "No cell knocks more often than it may."
        if not over
        else f"{over} {'cell knocks' if over == 1 else 'cells knock'} more often than allowed."
    )
    lines = [lead, f"{result.draws:,} engines were drawn as this one may be, and the plan's map run on each."]
    if result.left_out:
        lines.append(f"{result.left_out:,} more could not be computed and are left out.")
    lines.append("Advice for a person at the engine: prove the timing with a light, and listen for knock.")
    return Group(Text("\n".join(lines)), _cells(sorted(result.cells, key=_worst_first)[:WORST]))


def _worst_first(cell: RiskCell) -> float:
    return cell.allowed_percent - cell.chance_percent


def _cells(cells: list[RiskCell]) -> Table:
    table = Table(box=None, pad_edge=False)
    for heading in HEADINGS:
        table.add_column(heading, justify="right")
    for each in cells:
        table.add_row(
            f"{each.rpm:,.0f}",
            f"{each.kpa:.0f}",
            f"{each.advance_deg:.1f}",
            f"{each.chance_percent:.1f}",
            f"{each.chance_low_percent:.0f} to {each.chance_high_percent:.0f}",
            f"{each.plan_chance_percent:.1f}",
            f"{each.allowed_percent:g}",
            f"{each.lost_percent:.1f}",
            "none" if isinf(each.kept_deg) else f"{each.kept_deg:.1f}",
        )
    return table
