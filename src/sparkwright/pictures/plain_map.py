"""Any spark map as a plain grid of cells."""

from __future__ import annotations

from math import isnan

import numpy as np
from numpy.typing import NDArray

from sparkwright.drawing.look import PX_PER_MM, advance_colour
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import grouped
from sparkwright.drawing.true_scale import PicturePart, picture_part
from sparkwright.pictures.map_grid import CellBox, grid_of
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.spark_map import SparkMap
from sparkwright.words.loads import absolute_down_words
from sparkwright.words.map import advance_texts

LEFT_EMPTY = "A place is left empty where its row has no such speed."
COLUMNS = ("speed [rpm]", "load [kPa]", "advance [deg]")


def plain_map_picture(
    spark_map: SparkMap,
    heading: str,
    name: str = "map",
    width_px: float = 660.0,
    outlined: NDArray[np.bool_] | None = None,
    loads: Loads = ABSOLUTE,
    *,
    folded: bool = False,
) -> Picture:
    """Draw the cells of a map as numbers on the colour of their advance; most load on top.

    Cells that are nan, at speeds that their row doesn't have, are left out.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    heading : str
        Stands above it.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Wanted width; a map of many columns is drawn wider, or folded [px].
    outlined : array of bool, optional
        Cells to draw an outline about.
    loads : Loads, optional
        In what the rows are headed.
    folded : bool, optional
        Whether speeds that find no room stand below the others, in full size on a narrow screen.
    """
    texts = advance_texts(spark_map.advance_deg)

    def cell(i: int, j: int, box: CellBox) -> str:
        if isnan(spark_map.advance_deg[i, j]):
            return ""
        drawn = box.filled(advance_colour(float(spark_map.advance_deg[i, j])), texts[i][j])
        return drawn + box.outlined() if outlined is not None and outlined[i, j] else drawn

    grid = grid_of(spark_map, heading, texts, width_px, cell, loads, folded=folded)
    low, high = np.nanmin(spark_map.advance_deg), np.nanmax(spark_map.advance_deg)
    return Picture(
        name=name,
        title=heading,
        description=f"Advance from {low:g} to {high:g} degrees over {grouped(spark_map.rpm[0])} to "
        f"{grouped(spark_map.rpm[-1])} rpm and {spark_map.kpa[0]:g} to {spark_map.kpa[-1]:g} kPa.",
        sentence=_in_what(spark_map, loads),
        columns=COLUMNS,
        rows=tuple(
            (float(rpm), float(kpa), float(spark_map.advance_deg[i, j]))
            for i, kpa in enumerate(spark_map.kpa)
            for j, rpm in enumerate(spark_map.rpm)
            if not isnan(spark_map.advance_deg[i, j])
        ),
        width_px=grid.width_px,
        height_px=grid.height_px,
        body=grid.drawn,
    )


def _in_what(spark_map: SparkMap, loads: Loads) -> str:
    said = f"Crank degrees before top dead centre; rpm across, {absolute_down_words(loads)}."
    return said if np.isfinite(spark_map.advance_deg).all() else f"{said} {LEFT_EMPTY}"


WIDE_PX, NARROW_PX = 720.0, 360.0
"""Widths for a desk and for a phone [px]."""


def plain_map_pictures(
    spark_map: SparkMap,
    heading: str,
    name: str,
    outlined: NDArray[np.bool_] | None = None,
    loads: Loads = ABSOLUTE,
) -> tuple[Picture, Picture]:
    """Draw a map for a wide screen, and folded for a phone, so that its numbers are read on either.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    heading : str
        Stands above it.
    name : str
        Short name of the picture, used for files.
    outlined : array of bool, optional
        Cells to draw an outline about.
    loads : Loads, optional
        In what the rows are headed.
    """
    return (
        plain_map_picture(spark_map, heading, name, WIDE_PX, outlined, loads),
        plain_map_picture(spark_map, heading, f"{name}-narrow", NARROW_PX, outlined, loads, folded=True),
    )


def map_part(
    spark_map: SparkMap,
    heading: str,
    room_mm: float,
    outlined: NDArray[np.bool_] | None = None,
    loads: Loads = ABSOLUTE,
) -> PicturePart:
    """Put a map on a sheet, made smaller where it is wider than the room [mm].

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    heading : str
        What stands above it.
    room_mm : float
        Width that the sheet leaves [mm].
    outlined : array of bool, optional
        Which cells stand in a frame, shape (loads, speeds); None for none.
    loads : Loads, optional
        In what the rows are headed.
    """
    picture = plain_map_picture(
        spark_map, heading, width_px=room_mm * PX_PER_MM, outlined=outlined, loads=loads
    )
    part = picture_part(picture)
    share = min(1.0, room_mm / part.width_mm)
    return PicturePart(part.svg, share * part.width_mm, share * part.height_mm, part.alt, part.note)
