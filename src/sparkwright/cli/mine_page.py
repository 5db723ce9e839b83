"""A person's map against the plan, on a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group
from rich.text import Text

from sparkwright.cli.start_page import MAP_TITLE, plain_map
from sparkwright.cli.terminal import STATE_MARKS, headed_by, told_of
from sparkwright.findings import each_once
from sparkwright.plan.mine import Mine
from sparkwright.plan.on_rows import own_cells


def mine_page(result: Mine, width: int, rows: Sequence[Sequence[float]] | None = None) -> Group:
    """Lay out each part of the map, and the merged map.

    Parameters
    ----------
    result : Mine
        A person's map beside the plan, part by part.
    width : int
        Width of the terminal in letters.
    rows : sequence of rows, optional
        Those of the controller, as the job states them: only its own cells are shown.
    """
    lines = []
    of_regions = [each for region in result.regions for each in region.findings]
    for finding in each_once((*of_regions, *result.warnings)):
        mark, style = STATE_MARKS[finding.state]
        said = told_of(finding)
        lines.append(Text.assemble((f"{mark} ", style), f"{said.sentence} {said.action or ''}".rstrip()))
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text(),
        *lines,
        Text(f"\nMerged. {MAP_TITLE}", style="bold"),
        *plain_map(own_cells(result.merged, rows), width),
    )
