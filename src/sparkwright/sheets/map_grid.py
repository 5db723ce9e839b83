"""The map as a plain grid of cells, whose letter forms say what holds them."""

from __future__ import annotations

from sparkwright.plan.result import PlanResult
from sparkwright.sheets.look import advance_colour, text_colour_on
from sparkwright.sheets.map_words import (
    MAP_COLUMNS,
    cell_texts,
    letter_form_sentence,
    map_description,
    map_rows,
)
from sparkwright.sheets.picture import Picture
from sparkwright.sheets.svg import element, grouped, paragraph, text_width_px, triangle, words

_ROW_PX = 27.0
_FORM_CLASSES = {"knock": " strong", "reserve": " slanted"}


def map_grid_picture(plan: PlanResult, name: str = "map-grid", width_px: float = 720.0) -> Picture:
    """Draw the map's cells as numbers whose letter form says what holds them; most load on top.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Wanted width; a map of many columns is drawn wider, so that its numbers stay readable [px].
    """
    heading = "Spark map: degrees before top dead centre, rpm across, kPa down"
    spark_map = plan.spark_map
    cells = cell_texts(plan)
    left_px = 20 + max(text_width_px(f"{kpa:g}") for kpa in spark_map.kpa)
    least_px = max(text_width_px(text) for row in cells for text in row)
    cell_px = max(least_px, min(46.0, (width_px - left_px - 8) / spark_map.rpm.size))
    full_px = max(width_px, left_px + cell_px * spark_map.rpm.size + 8)
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    speeds = [grouped(rpm) for rpm in spark_map.rpm]
    upright = max(text_width_px(text) for text in speeds) + 4 > cell_px
    top_px += 56 if upright else 12
    for j, text in enumerate(speeds):
        x_px = left_px + (j + 0.5) * cell_px
        if upright:
            turn = f"rotate(-90 {x_px + 5:.2f} {top_px - 8:.2f})"
            drawn += words(x_px + 5, top_px - 8, text, "soft", transform=turn)
        else:
            drawn += words(x_px, top_px - 10, text, "soft", "middle")
    for rank, i in enumerate(reversed(range(spark_map.kpa.size))):
        y_px = top_px + rank * _ROW_PX
        drawn += words(left_px - 10, y_px + 19, f"{spark_map.kpa[i]:g}", "soft", "end")
        for j, text in enumerate(cells[i]):
            colour = advance_colour(float(spark_map.advance_deg[i, j]))
            x_px = left_px + j * cell_px
            drawn += _cell(x_px, y_px, cell_px, colour, text, plan.held_by[i][j])
            if plan.over_ceiling[i, j]:
                drawn += triangle(x_px + 5, y_px + 5, 3.5)
    bottom_px = top_px + spark_map.kpa.size * _ROW_PX + 12
    return Picture(
        name=name,
        title=heading,
        description=map_description(plan),
        sentence=letter_form_sentence(plan),
        columns=MAP_COLUMNS,
        rows=map_rows(plan),
        width_px=full_px,
        height_px=bottom_px,
        body=drawn,
    )


def _cell(x_px: float, y_px: float, width_px: float, colour: str, text: str, held_by: str) -> str:
    ink = "on-dark" if text_colour_on(colour) == "#ffffff" else "on-light"
    middle_px, baseline_px = x_px + width_px / 2, y_px + 18.5
    box = {"x": x_px + 1, "y": y_px + 1, "width": width_px - 2, "height": _ROW_PX - 2}
    drawn = element("rect", **box, rx=2.0, fill=colour)
    drawn += words(middle_px, baseline_px, text, ink + _FORM_CLASSES.get(held_by, ""), "middle")
    if held_by == "reach":
        half_px = text_width_px(text) / 2 - 2
        bar = {"x": middle_px - half_px, "y": baseline_px + 2.5, "width": 2 * half_px, "height": 1.6}
        return drawn + element("rect", **bar, class_=ink)
    if held_by == "hand":
        return drawn + element("circle", cx=x_px + width_px - 4, cy=y_px + 4, r=2.2, class_=ink)
    return drawn
