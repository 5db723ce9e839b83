"""The map as a plain grid of cells, whose letter forms say what holds them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil

from sparkwright.drawing.look import advance_colour, text_colour_on
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, paragraph, text_width_px, triangle, words
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.words.loads import down_words, own_text
from sparkwright.words.map import (
    MAP_COLUMNS,
    cell_texts,
    letter_form_sentence,
    map_description,
    map_rows,
)

ROW_PX = 27.0
APART_PX = 8.0
"""Room between the numbers of neighbouring cells, so that a row of them isn't read as one number."""
_FORM_CLASSES = {"knock": "strong", "reserve": "slanted"}


@dataclass(frozen=True)
class Grid:
    """A drawn grid of cells with its axes."""

    drawn: str
    width_px: float
    height_px: float


def grid_of(
    spark_map: SparkMap,
    heading: str,
    texts: list[list[str]],
    width_px: float,
    cell: Callable[[int, int, CellBox], str],
    loads: Loads = ABSOLUTE,
    *,
    folded: bool = False,
) -> Grid:
    """Lay out one cell for each load and speed, most load on top, wider where its numbers need it.

    Parameters
    ----------
    spark_map : SparkMap
        Gives the axes.
    heading : str
        Stands above.
    texts : list of list of str
        What the cells will say, which sets their width.
    width_px : float
        Wanted width [px].
    cell : callable
        Draws the cell of a row and a column at its place.
    loads : Loads, optional
        In what the rows are headed, with kPa absolute beside where that is something else.
    folded : bool, optional
        Whether speeds that find no room stand below, under their own heads, in place of a wider drawing.
    """
    heads = [_row_heads(kpa, loads) for kpa in spark_map.kpa.tolist()]
    widths = [max(map(text_width_px, column)) for column in zip(*heads, strict=True)]
    left_px = 20 + sum(widths) + 10 * (len(widths) - 1)
    least_px = max(text_width_px(text) for row in texts for text in row) + APART_PX
    speeds = spark_map.rpm.size
    within = max(2, int((width_px - left_px - 8) / least_px)) if folded else speeds
    blocks = ceil(speeds / within)
    across = ceil(speeds / blocks)
    cell_px = max(least_px, min(46.0, (width_px - left_px - 8) / across))
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    for first in range(0, speeds, across):
        columns = range(first, min(first + across, speeds))
        head, top_px = _speeds([grouped(spark_map.rpm[j]) for j in columns], left_px, cell_px, top_px)
        drawn += head
        for rank, i in enumerate(reversed(range(spark_map.kpa.size))):
            y_px = top_px + rank * ROW_PX
            drawn += _row_head(heads[i], widths, y_px)
            for at, j in enumerate(columns):
                drawn += cell(i, j, CellBox(left_px + at * cell_px, y_px, cell_px))
        top_px += spark_map.kpa.size * ROW_PX + 12
    return Grid(drawn, max(width_px, left_px + cell_px * across + 8), top_px)


def _row_heads(kpa: float, loads: Loads) -> tuple[str, ...]:
    """Give what heads a row: its load in the given terms, and in kPa where that is something else."""
    beside = () if loads.term == "kPa absolute" else (f"{kpa:.0f}",)
    return (own_text(kpa, loads), *beside)


def _row_head(heads: tuple[str, ...], widths: list[float], y_px: float) -> str:
    drawn, right_px = "", 10.0
    for rank, (text, width) in enumerate(zip(heads, widths, strict=True)):
        right_px += width + 10 * (rank > 0)
        drawn += words(right_px, y_px + 19, text, "soft" if rank or len(heads) == 1 else "", "end")
    return drawn


def _speeds(texts: list[str], left_px: float, cell_px: float, top_px: float) -> tuple[str, float]:
    """Head the columns with their speeds, upright where they find no room; rows begin below [px]."""
    drawn = ""
    upright = max(text_width_px(text) for text in texts) + 4 > cell_px
    top_px += 56 if upright else 12
    for j, text in enumerate(texts):
        x_px = left_px + (j + 0.5) * cell_px
        if upright:
            turn = f"rotate(-90 {x_px + 5:.2f} {top_px - 8:.2f})"
            drawn += words(x_px + 5, top_px - 8, text, "soft", transform=turn)
        else:
            drawn += words(x_px, top_px - 10, text, "soft", "middle")
    return drawn, top_px


@dataclass(frozen=True)
class CellBox:
    """Where a cell stands on the picture, by its upper left corner [px]."""

    x_px: float
    y_px: float
    width_px: float

    def filled(self, colour: str, text: str, form: str = "") -> str:
        """Draw the cell in a colour, with its text in the ink that reads better and a letter form.

        Parameters
        ----------
        colour : str
            Colour of the cell as ``#rrggbb``.
        text : str
            What stands in it.
        form : str, optional
            Letter form of the text, which says what holds the cell.
        """
        ink = ink_on(colour)
        box = {"x": self.x_px + 1, "y": self.y_px + 1, "width": self.width_px - 2, "height": ROW_PX - 2}
        return element("rect", **box, rx=2.0, fill=colour) + self.written(text, f"{ink} {form}".strip())

    def written(self, text: str, class_: str) -> str:
        """Write in the middle of the cell.

        Parameters
        ----------
        text : str
            What stands in it.
        class_ : str
            Class of the text in the style.
        """
        return words(self.x_px + self.width_px / 2, self.y_px + 18.5, text, class_, "middle")

    def outlined(self) -> str:
        """Draw an outline about the cell."""
        box = {"x": self.x_px + 0.5, "y": self.y_px + 0.5, "width": self.width_px - 1, "height": ROW_PX - 1}
        return element("rect", **box, class_="edge")

    def marked(self) -> str:
        """Draw the mark of what stands over a ceiling."""
        return triangle(self.x_px + 5, self.y_px + 5, 3.5)


def ink_on(colour: str) -> str:
    """Class of a text on a cell of this colour.

    Parameters
    ----------
    colour : str
        Colour of the cell as ``#rrggbb``.
    """
    return "on-dark" if text_colour_on(colour) == "#ffffff" else "on-light"


def map_grid_picture(
    plan: PlanResult, name: str = "map-grid", width_px: float = 720.0, loads: Loads = ABSOLUTE
) -> Picture:
    """Draw the map's cells as numbers whose letter form says what holds them; most load on top.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Wanted width; a map of many columns is drawn wider, so that its numbers stay readable [px].
    loads : Loads, optional
        In what the rows are headed.
    """
    heading = f"Spark map: degrees before top dead centre, rpm across, {down_words(loads)}"
    texts = cell_texts(plan)

    def cell(i: int, j: int, box: CellBox) -> str:
        drawn = _cell(
            box, float(plan.cells.spark_map.advance_deg[i, j]), texts[i][j], plan.cells.held_by[i][j]
        )
        return drawn + (box.marked() if plan.cells.over_ceiling[i, j] else "")

    grid = grid_of(plan.cells.spark_map, heading, texts, width_px, cell, loads)
    return Picture(
        name=name,
        title=heading,
        description=map_description(plan),
        sentence=letter_form_sentence(plan),
        columns=MAP_COLUMNS,
        rows=map_rows(plan),
        width_px=grid.width_px,
        height_px=grid.height_px,
        body=grid.drawn,
    )


def _cell(box: CellBox, advance_deg: float, text: str, held_by: str) -> str:
    if held_by == "rows":
        return box.written(text, "soft")
    colour = advance_colour(advance_deg)
    drawn = box.filled(colour, text, _FORM_CLASSES.get(held_by, ""))
    if held_by in ("reach", "limit"):
        half_px = text_width_px(text) / 2 - 2
        bar_px = 21.0 if held_by == "reach" else 4.5
        bar = {"x": box.x_px + box.width_px / 2 - half_px, "y": box.y_px + bar_px}
        return drawn + element("rect", **bar, width=2 * half_px, height=1.6, class_=ink_on(colour))
    if held_by == "between":
        middle_px = box.x_px + box.width_px / 2
        return drawn + "".join(
            element(
                "rect", x=middle_px + at_px, y=box.y_px + 21.0, width=4.0, height=1.6, class_=ink_on(colour)
            )
            for at_px in (-9.0, -2.0, 5.0)
        )
    if held_by == "by hand":
        dot = {"cx": box.x_px + box.width_px - 4, "cy": box.y_px + 4}
        return drawn + element("circle", **dot, r=2.2, class_=ink_on(colour))
    return drawn
