"""What moved between two maps, as a grid of differences: brown for less advance, blue for more."""

from __future__ import annotations

import math

from sparkwright.drawing.look import difference_colour, text_colour_on
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, line, paragraph, text_width_px, words
from sparkwright.edit.difference import SAME_DEG, Moved
from sparkwright.words.told import told

ROW_PX = 26.0

MOVED_COLUMNS = (
    "speed [rpm]",
    "load [kPa]",
    "old [deg]",
    "new [deg]",
    "moved [deg]",
    "was held by",
    "held by",
)

SENTENCE = (
    "Blue with a plus sign: more advance than before. Brown with a minus sign: less. "
    "The deeper the colour the further it moved; plain cells stayed."
)


def moved_picture(moved: Moved, name: str = "moved", width_px: float = 720.0) -> Picture:
    """Draw the difference of two maps, the most load on top; its numbers are the cells that moved.

    Parameters
    ----------
    moved : Moved
        What moved.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; where its cells are too narrow for numbers they carry the sign alone [px].
    """
    heading = "What moved: degrees more or less than before, rpm across, kPa down"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    rpm, kpa = moved.spark_map.rpm, moved.spark_map.kpa
    left_px = 20 + max(text_width_px(f"{load:g}") for load in kpa)
    cell_px = min(52.0, (width_px - left_px - 8) / rpm.size)
    top_px += 56
    drawn += _speeds([grouped(speed) for speed in rpm], left_px, cell_px, top_px)
    texts = [[difference_text(float(value)) for value in row] for row in moved.difference_deg]
    signs_only = max((text_width_px(text) for row in texts for text in row), default=0.0) > cell_px
    for rank, i in enumerate(reversed(range(kpa.size))):
        y_px = top_px + rank * ROW_PX
        drawn += words(left_px - 10, y_px + 18, f"{kpa[i]:g}", "soft", "end")
        for j in range(rpm.size):
            text = texts[i][j][:1] if signs_only else texts[i][j]
            drawn += _cell(left_px + j * cell_px, y_px, cell_px, float(moved.difference_deg[i, j]), text)
    return Picture(
        name=name,
        title=heading,
        description=f"{told(moved.headline).sentence} The cells that moved are in the table.",
        sentence=SENTENCE,
        columns=MOVED_COLUMNS,
        rows=tuple(
            (
                cell.rpm,
                cell.kpa,
                cell.old_deg,
                cell.new_deg,
                cell.moved_deg,
                cell.old_held_by,
                cell.new_held_by,
            )
            for cell in moved.cells
        ),
        width_px=max(width_px, left_px + cell_px * rpm.size + 8),
        height_px=top_px + kpa.size * ROW_PX + 8,
        body=drawn,
    )


def difference_text(difference_deg: float) -> str:
    r"""Write a difference with its sign, whole from 10 on; nothing where nothing moved or nothing is known.

    Parameters
    ----------
    difference_deg : float
        The difference [crank deg]; nan where it isn't known.

    Examples
    --------
    >>> difference_text(2.5), difference_text(-1.0) == "\N{MINUS SIGN}1", difference_text(0.0)
    ('+2.5', True, '')
    >>> difference_text(12.5)
    '+12'
    """
    if math.isnan(difference_deg) or abs(difference_deg) <= SAME_DEG:
        return ""
    whole = abs(difference_deg) >= 10.0 or abs(difference_deg - round(difference_deg)) < 0.05
    decimals = 0 if whole else 1
    text = grouped(difference_deg, decimals)
    return text if difference_deg < 0 else f"+{text}"


def _speeds(texts: list[str], left_px: float, cell_px: float, top_px: float) -> str:
    """Write every speed upright over its column; each second one where the columns are narrow."""
    step = 1 if cell_px >= 20 else 2
    drawn = ""
    for j in range(0, len(texts), step):
        x_px = left_px + (j + 0.5) * cell_px + 5
        turn = f"rotate(-90 {x_px:.2f} {top_px - 8:.2f})"
        drawn += words(x_px, top_px - 8, texts[j], "soft", transform=turn)
    return drawn


def _cell(x_px: float, y_px: float, width_px: float, difference_deg: float, text: str) -> str:
    if math.isnan(difference_deg):  # the old map had no such cell
        return line(x_px + 4, y_px + ROW_PX / 2, x_px + width_px - 4, y_px + ROW_PX / 2, "grid")
    colour = difference_colour(difference_deg)
    ink = "on-dark" if text_colour_on(colour) == "#ffffff" else "on-light"
    box = {"x": x_px + 1, "y": y_px + 1, "width": width_px - 2, "height": ROW_PX - 2}
    drawn = element("rect", **box, rx=2.0, fill=colour)
    return drawn + (words(x_px + width_px / 2, y_px + 18, text, ink, "middle") if text else "")
