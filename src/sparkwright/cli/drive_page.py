"""A drive on a terminal: what it shows, where it ran, and how it was read."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.terminal import STATE_MARKS, assumed, headed_by, number, sentences, table, told, told_of
from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.result import DriveResult
from sparkwright.evidence.pulls_of_drives import pull_findings
from sparkwright.findings import Finding


def drive_page(result: DriveResult) -> Group:
    """Lay out findings, then the channels, then how the files were read.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    """
    rows = [
        (
            each.name,
            BY_NAME[each.quantity].called if each.quantity else "-",
            each.unit or "-",
            number(100.0 * each.confidence if each.quantity else None),
            number(sum(cell.count for cell in each.cells)),
        )
        for each in result.channels
    ]
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text(),
        *_findings((*result.findings, *pull_findings(result.accelerations))),
        table("Channels", ("", "taken for", "unit", "sure, %", "values"), rows, words=3),
        *_idle_tries(result),
        *told("How it was read", sentences(result.read)),
        *assumed(result.assumed),
        Text("The cells stand in the output of --json.", style="dim"),
    )


def _idle_tries(result: DriveResult) -> list[RenderableType]:
    if not result.idle_tries:
        return []
    rows = [
        (
            number(each.reserve_deg, 1),
            number(each.gain_deg_per_100rpm, 1),
            number(each.slope_deg_per_100rpm, 1),
            "no" if each.stable else "yes",
            "any" if each.gain_margin == float("inf") else number(each.gain_margin, 1),
            number(each.sigma_rpm),
        )
        for each in result.idle_tries
    ]
    names = (
        "reserve, deg",
        "loop, deg/100 rpm",
        "map, deg/100 rpm",
        "hunts",
        "times till it hunts",
        "+- rpm",
    )
    return [table("Idle, simulated", names, rows)]


def _findings(findings: tuple[Finding, ...]) -> list[RenderableType]:
    lines: list[RenderableType] = []
    for each in findings:
        mark, style = STATE_MARKS[each.state]
        said = told_of(each)
        line = Text.assemble((f"{mark} ", style), (f"{said.topic}: ", "bold"), str(said.sentence))
        lines.append(line)
        if said.action:
            lines.append(Text(f"  {said.action}"))
    return lines
