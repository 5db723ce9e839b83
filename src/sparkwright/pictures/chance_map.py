"""The chance of knock over a map, as a grid of cells."""

from __future__ import annotations

import math

from sparkwright.drawing.look import advance_colour
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import triangle
from sparkwright.pictures.map_grid import CellBox, grid_of
from sparkwright.plan.driven import Driven
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.units import System
from sparkwright.words.loads import down_words
from sparkwright.words.told import told

COLUMNS = ("speed [rpm]", "load [kPa]", "advance [deg]", "chance of knock [%]", "more than allowed")


def chance_map_picture(
    driven: Driven,
    name: str = "chance-map",
    width_px: float = 720.0,
    system: System = "metric",
    loads: Loads = ABSOLUTE,
    *,
    folded: bool = False,
) -> Picture:
    """Draw the chance of knock in each cell; a triangle marks what is more than the job allows.

    Parameters
    ----------
    driven : Driven
        The map under other conditions.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Wanted width; a map of many columns is drawn wider [px].
    system : System, optional
        Units that the person reads.
    loads : Loads, optional
        In what the rows are headed.
    folded : bool, optional
        Whether speeds that find no room stand below the others.
    """
    heading = f"Chance of knock, percent; rpm across, {down_words(loads)}"
    chance, over = driven.knock_chance_percent, driven.over
    texts = [["-" if math.isnan(each) else f"{each:.0f}" for each in row] for row in chance]

    def cell(i: int, j: int, box: CellBox) -> str:
        if math.isnan(chance[i, j]):
            return box.written(texts[i][j], "soft")
        drawn = box.filled(advance_colour(float(chance[i, j])), texts[i][j], "strong" if over[i, j] else "")
        return drawn + triangle(box.x_px + 5, box.y_px + 5, 3.5) if over[i, j] else drawn

    grid = grid_of(driven.spark_map, heading, texts, width_px, cell, loads, folded=folded)
    spark_map = driven.spark_map
    return Picture(
        name=name,
        title=heading,
        description=f"{told(driven.headline, system).sentence} A dash stands where the engine doesn't come.",
        sentence="With a triangle: more chance than the job allows. A dash: the engine doesn't come there.",
        columns=COLUMNS,
        rows=tuple(
            (
                float(rpm),
                float(kpa),
                float(spark_map.advance_deg[i, j]),
                float(chance[i, j]),
                "yes" if over[i, j] else "",
            )
            for i, kpa in enumerate(spark_map.kpa)
            for j, rpm in enumerate(spark_map.rpm)
        ),
        width_px=grid.width_px,
        height_px=grid.height_px,
        body=grid.drawn,
    )
