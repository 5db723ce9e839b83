"""The map's cells as a page shows them: text, colour, letter form and what a screen reader says."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from sparkwright.drawing.look import ADVANCE_SCALE_DEG, advance_colour, text_colour_on
from sparkwright.drawing.svg import grouped
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.result import PlanResult
from sparkwright.words.loads import load_words
from sparkwright.words.map import HELD_WORDS
from sparkwright.words.plan import over_words
from sparkwright.words.why import slope_words


@dataclass(frozen=True)
class MapCell:
    """One cell: ``classes`` name its colour, what holds it and its mark; ``label`` is it said aloud."""

    row: int
    column: int
    rpm: float
    kpa: float
    advance_deg: float
    text: str
    classes: str
    label: str
    by_hand: bool
    over: bool


def map_cell(plan: PlanResult, row: int, column: int, loads: Loads = ABSOLUTE) -> MapCell:
    """Give one cell of a plan's map.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    row : int
        Which load, from 0 for the lowest.
    column : int
        Which speed, from 0 for the lowest.
    loads : Loads, optional
        In what loads are said, kPa absolute beside.
    """
    spark_map = plan.cells.spark_map
    value, held = float(spark_map.advance_deg[row, column]), plan.cells.held_by[row][column]
    rpm, kpa = float(spark_map.rpm[column]), float(spark_map.kpa[row])
    by_hand, over = bool(plan.cells.by_hand[row, column]), bool(plan.cells.over_ceiling[row, column])
    holder = (
        HELD_WORDS["by hand"] if by_hand else f"held by {_slope(plan, row, column, loads)}{_holder(held)}"
    )
    return MapCell(
        row=row,
        column=column,
        rpm=rpm,
        kpa=kpa,
        advance_deg=value,
        text=cell_text(round(value, 1) if held == "rows" else value),
        classes=f"{colour_class(value)} {held.replace(' ', '-')}{' over' if over else ''}",
        label=f"{cell_name(rpm, kpa, loads)}: {value:.4g} deg, {holder}"
        + (_over(plan, rpm, kpa) if over else ""),
        by_hand=by_hand,
        over=over,
    )


def _slope(plan: PlanResult, row: int, column: int, loads: Loads) -> str:
    """Say from which cell a slope lowers this one, before what holds that cell; "" where none does."""
    from_rpm, from_kpa = (
        float(plan.cells.slope_from_rpm[row, column]),
        float(plan.cells.slope_from_kpa[row, column]),
    )
    if isnan(from_rpm):
        return ""
    rpm, kpa = float(plan.cells.spark_map.rpm[column]), float(plan.cells.spark_map.kpa[row])
    slope = slope_words(
        None if from_rpm == rpm else from_rpm, "" if from_kpa == kpa else load_words(from_kpa, loads)
    )
    return f"a {slope}, there "


def _over(plan: PlanResult, rpm: float, kpa: float) -> str:
    """Say over what a cell stands, the worst ceiling first."""
    return "".join(f", {over_words(each)}" for each in plan.over if (each.rpm, each.kpa) == (rpm, kpa))


def map_cells(plan: PlanResult, loads: Loads = ABSOLUTE) -> list[list[MapCell]]:
    """Give all cells as the map stands on a page: the most load first.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    loads : Loads, optional
        In what loads are said, kPa absolute beside.
    """
    rows, columns = plan.cells.spark_map.advance_deg.shape
    return [[map_cell(plan, i, j, loads) for j in range(columns)] for i in reversed(range(rows))]


def cell_name(rpm: float, kpa: float, loads: Loads = ABSOLUTE) -> str:
    """Name a cell.

    Parameters
    ----------
    rpm : float
        Speed of the cell [rpm].
    kpa : float
        Load of the cell [kPa absolute].
    loads : Loads, optional
        In what the load is said, kPa absolute beside.

    Examples
    --------
    >>> cell_name(2800.0, 55.0), cell_name(2800.0, 55.0, Loads("kPa boost", site_kpa=100.0))
    ('2,800 rpm, 55 kPa', '2,800 rpm, -45 kPa boost (55 kPa)')
    """
    return f"{grouped(rpm)} rpm, {load_words(kpa, loads)}"


def cell_text(advance_deg: float) -> str:
    """Write a cell's value with the decimals it has, two at most.

    Parameters
    ----------
    advance_deg : float
        Value of the cell [deg before top dead centre].

    Examples
    --------
    >>> cell_text(34.0), cell_text(34.5), cell_text(34.25)
    ('34', '34.5', '34.25')
    """
    decimals = next((n for n in (0, 1) if abs(advance_deg - round(advance_deg, n)) < 1e-6), 2)
    return grouped(advance_deg, decimals)


def _holder(held: str) -> str:
    return "a limit or peg" if held == "limit" else HELD_WORDS[held]


def colour_class(advance_deg: float) -> str:
    """Name the class of `colours_css` whose colour is that of an advance, to the nearest degree.

    Parameters
    ----------
    advance_deg : float
        Value of the cell [deg before top dead centre].

    Examples
    --------
    >>> colour_class(33.6), colour_class(-4.0), colour_class(80.0)
    ('a34', 'a0', 'a50')
    """
    low, high = ADVANCE_SCALE_DEG
    return f"a{round(min(max(advance_deg, low), high))}"


def colours_css() -> str:
    """Write the colours of advance as a style sheet: one class a degree, with the ink that reads on it.

    A page under a strict content-security policy can carry no colour in its markup.
    """
    low, high = (int(end) for end in ADVANCE_SCALE_DEG)
    rules = []
    for advance_deg in range(low, high + 1):
        colour = advance_colour(float(advance_deg))
        rules.append(
            f".{colour_class(advance_deg)} {{ background: {colour}; color: {text_colour_on(colour)} }}"
        )
    return "\n".join(rules) + "\n"
