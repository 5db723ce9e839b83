"""The old mechanical and vacuum advance against the plan, cell by cell."""

from __future__ import annotations

import math

from sparkwright.drawing.look import difference_colour
from sparkwright.drawing.picture import Cell, Picture
from sparkwright.drawing.svg import grouped
from sparkwright.pictures.map_grid import CellBox, grid_of
from sparkwright.plan.result import OldCurve, PlanResult
from sparkwright.words.told import sentences

HEADING = "Old system less plan: degrees, rpm across, kPa down"
COLUMNS = (
    "speed [rpm]",
    "load [kPa]",
    "old [deg]",
    "plan [deg]",
    "old less plan [deg]",
    "old over the knock ceiling [deg]",
    "met by a running engine",
)


def old_map_picture(
    plan: PlanResult, old: OldCurve, name: str = "old-map", width_px: float = 720.0
) -> Picture:
    """Draw how much earlier (+) or later the old system fired than the plan, and where it risked knock.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    old : OldCurve
        Its ``old_curve``.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Wanted width; a map of many columns is drawn wider [px].
    """
    difference = old.advance_deg - plan.cells.spark_map.advance_deg
    texts = [[signed(float(value)) for value in row] for row in difference]

    def cell(i: int, j: int, box: CellBox) -> str:
        if not plan.cells.met[i, j]:
            return box.written(texts[i][j], "soft")
        risked = bool(old.over_knock_deg[i, j] > 0)
        colour = difference_colour(float(difference[i, j]))
        drawn = box.filled(colour, texts[i][j], "strong" if risked else "")
        return drawn + (box.marked() if risked else "")

    grid = grid_of(plan.cells.spark_map, HEADING, texts, width_px, cell)
    said = " ".join(map(str, sentences(old.findings)))
    return Picture(
        name=name,
        title=HEADING,
        description="How the old mechanical and vacuum advance differs from the plan. "
        f"{said} The numbers are in the table.",
        sentence=f"{said} With a minus the old system fired later than the plan; bold with a triangle, it "
        "stood over the knock ceiling. Without ground are cells that a running engine does not meet.",
        columns=COLUMNS,
        rows=_rows(plan, old),
        width_px=grid.width_px,
        height_px=grid.height_px,
        body=grid.drawn,
    )


def signed(difference_deg: float) -> str:
    """Write a difference to whole degrees, with its sign.

    Parameters
    ----------
    difference_deg : float
        The difference [crank deg].

    Examples
    --------
    >>> signed(3.6), signed(0.2)
    ('+4', '0')
    """
    text = grouped(difference_deg)
    return f"+{text}" if difference_deg > 0 and text != "0" else text


def _rows(plan: PlanResult, old: OldCurve) -> tuple[tuple[Cell, ...], ...]:
    spark_map = plan.cells.spark_map
    rows: list[tuple[Cell, ...]] = []
    for i, kpa in enumerate(spark_map.kpa):
        for j, rpm in enumerate(spark_map.rpm):
            old_deg, plan_deg = float(old.advance_deg[i, j]), float(spark_map.advance_deg[i, j])
            over = float(old.over_knock_deg[i, j])
            rows.append(
                (
                    float(rpm),
                    float(kpa),
                    old_deg,
                    plan_deg,
                    old_deg - plan_deg,
                    "at any advance" if math.isinf(over) else over,
                    "yes" if plan.cells.met[i, j] else "no",
                )
            )
    return tuple(rows)
