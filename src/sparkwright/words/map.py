"""The map in words: cell texts, what holds the cells, and how to read the letter forms."""

from __future__ import annotations

import numpy as np

from sparkwright.drawing.svg import grouped
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import HELD_BY, PlanResult

HELD_WORDS = {
    "best": "best",
    "knock": "knock",
    "reach": "reach",
    "reserve": "idle reserve",
    "limit": "limit",
    "between": "between cells",
    "rows": "its row's own cells",
    "by hand": "set by hand",
}

LETTER_FORMS = {
    "best": "plain",
    "knock": "bold",
    "reach": "underlined",
    "reserve": "italic",
    "limit": "with a bar above",
    "between": "with a broken line below",
    "rows": "without colour",
    "by hand": "with a dot",
}
"""How a cell's number is set, by what holds it; the form survives grey print."""

MAP_COLUMNS = ("speed [rpm]", "load [kPa]", "advance [deg]", "held by", "set over a ceiling")
OVER_WORDS = "set over a ceiling"
ROWS_MADE = (
    "Numbers without colour stand at speeds that their row doesn't have: the controller makes them of the "
    "row's own cells, and only those are typed in."
)


def map_rows(plan: PlanResult) -> tuple[tuple[str | float, ...], ...]:
    """List the map cell by cell, in the order of ``MAP_COLUMNS``.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    """
    spark_map = plan.cells.spark_map
    return tuple(
        (
            float(rpm),
            float(kpa),
            float(spark_map.advance_deg[i, j]),
            plan.cells.held_by[i][j],
            _yes(plan, i, j),
        )
        for i, kpa in enumerate(spark_map.kpa)
        for j, rpm in enumerate(spark_map.rpm)
    )


def _yes(plan: PlanResult, i: int, j: int) -> str:
    return "yes" if plan.cells.over_ceiling[i, j] else ""


def cell_texts(plan: PlanResult) -> list[list[str]]:
    """Write every cell with the decimals that the controller's step needs, two at most.

    What a controller makes at speeds that a row doesn't have is in no steps; one decimal is enough there.

    Parameters
    ----------
    plan : PlanResult
        The plan, for its map and the controller's step.
    """
    value_deg = plan.cells.spark_map.advance_deg
    if plan.cells.rows is None:
        return advance_texts(value_deg)
    nodes = plan.cells.rows.nodes
    own, made = advance_texts(np.where(nodes, value_deg, np.nan)), advance_texts(np.round(value_deg, 1))
    return [
        [one if typed else other for one, other, typed in zip(*row, strict=True)]
        for row in zip(own, made, nodes.tolist(), strict=True)
    ]


def advance_texts(advance_deg: FloatArray) -> list[list[str]]:
    """Write degrees cell by cell with the decimals that they need, two at most.

    Parameters
    ----------
    advance_deg : array
        Degrees, shape (loads, speeds).
    """
    off = (np.nanmax(np.abs(advance_deg - np.round(advance_deg, n))) for n in (0, 1))
    decimals = next((n for n, most in enumerate(off) if most < 1e-6), 2)
    return [[grouped(float(value), decimals) for value in row] for row in advance_deg]


def held_kinds(plan: PlanResult) -> list[str]:
    """Name what holds at least one cell, in the order of the design.

    Parameters
    ----------
    plan : PlanResult
        The plan, with what holds each cell.
    """
    present = {kind for row in plan.cells.held_by for kind in row}
    return [kind for kind in HELD_BY if kind in present]


def held_sentence(plan: PlanResult) -> str:
    """Say how many cells each ceiling of their own holds, and how many a slope from another cell.

    Parameters
    ----------
    plan : PlanResult
        The plan, with what holds each cell.
    """
    sloped = np.isfinite(plan.cells.slope_from_rpm)
    own = np.array(plan.cells.held_by)[~sloped]
    by = {kind: kind if kind == "by hand" else f"by {HELD_WORDS[kind]}" for kind in held_kinds(plan)}
    counts = [f"{count} {words}" for kind, words in by.items() if (count := int((own == kind).sum()))]
    if sloped.any():
        counts.append(f"{int(sloped.sum())} by a slope from such a cell")
    return f"Of {sloped.size} cells, {', '.join(counts)}."


def letter_form_sentence(plan: PlanResult) -> str:
    """Say how to read the letter forms that this map uses.

    Parameters
    ----------
    plan : PlanResult
        The plan, with what holds each cell.
    """
    forms = [f"{LETTER_FORMS[kind]}, {HELD_WORDS[kind]}" for kind in held_kinds(plan)]
    if plan.cells.over_ceiling.any():
        forms.append(f"with a triangle, {OVER_WORDS}")
    of_slope = (
        ", or the cell that its slope comes from" if np.isfinite(plan.cells.slope_from_rpm).any() else ""
    )
    said = f"The letter form tells what holds a cell{of_slope}: {'; '.join(forms)}."
    return f"{said} {ROWS_MADE}" if "rows" in held_kinds(plan) else said


def map_description(plan: PlanResult) -> str:
    """Describe the map for someone who cannot see it.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    """
    spark_map = plan.cells.spark_map
    return (
        f"Advance from {spark_map.advance_deg.min():g} to {spark_map.advance_deg.max():g} degrees over "
        f"{grouped(spark_map.rpm[0])} to {grouped(spark_map.rpm[-1])} rpm and {spark_map.kpa[0]:g} to "
        f"{spark_map.kpa[-1]:g} kPa. {held_sentence(plan)} The numbers are in the table."
    )
