"""The ceilings of one cell as small bars on one scale, with the value as a line through them."""

from __future__ import annotations

import math

from sparkwright.drawing.frame import Frame
from sparkwright.drawing.look import TEXT_PX
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, text_width_px, words
from sparkwright.pictures.map_cells import cell_name
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.why import CeilingHere, CellReasons

ROW_PX = 28.0
BAR_PX = 10.0
MOST_DEG = 60.0
"""End of the scale, the largest advance that is tested [deg]."""


def why_picture(
    reasons: CellReasons, name: str = "why-bars", width_px: float = 300.0, loads: Loads = ABSOLUTE
) -> Picture:
    """Draw the ceilings of one cell as bars from nothing to `MOST_DEG`.

    Parameters
    ----------
    reasons : CellReasons
        Why the cell has its value.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing [px].
    loads : Loads, optional
        In what the load is said, kPa absolute beside.
    """
    texts = [_text(ceiling) for ceiling in reasons.ceilings]
    left = 8 + max(text_width_px(each.name) for each in reasons.ceilings)
    right = width_px - 12 - max(text_width_px(text) for text in texts)
    bottom = 8 + len(texts) * ROW_PX
    frame = Frame(left, 8, max(right, left + 40), bottom, (0.0, MOST_DEG), (0.0, 1.0))
    drawn = ""
    for rank, (ceiling, text) in enumerate(zip(reasons.ceilings, texts, strict=True)):
        y_px = 8 + rank * ROW_PX
        drawn += _row(ceiling, text, frame, y_px)
    x_px = float(frame.x(min(max(reasons.advance_deg, 0.0), MOST_DEG)))
    drawn += line(x_px, 4, x_px, bottom - 6, "mark")
    return Picture(
        name=name,
        title=f"Ceilings at {cell_name(reasons.rpm, reasons.kpa, loads)}",
        description=f"The value is {reasons.advance_deg:g} degrees. " + _said(reasons, texts),
        sentence="The line is the cell's value; each bar ends where that ceiling stands.",
        columns=("ceiling", "at [deg]", "standard deviation [deg]", "left below it [deg]", "holds"),
        rows=tuple(
            (
                each.name,
                each.ceiling_deg,
                each.sigma_deg,
                each.margin_deg,
                "yes" if each.holds else "",
            )
            for each in reasons.ceilings
        ),
        width_px=width_px,
        height_px=bottom,
        body=drawn,
    )


def _row(ceiling: CeilingHere, text: str, frame: Frame, y_px: float) -> str:
    strong = " strong" if ceiling.holds else ""
    length = MOST_DEG if math.isnan(ceiling.ceiling_deg) else ceiling.ceiling_deg
    if math.isnan(ceiling.ceiling_deg) and ceiling.name == "best":
        length = 0.0
    end = float(frame.x(min(max(length, 0.0), MOST_DEG)))
    track = {"x": frame.left, "y": y_px + 5, "height": BAR_PX, "rx": BAR_PX / 2}
    return (
        words(4, y_px + TEXT_PX, ceiling.name, strong.strip())
        + element("rect", **track, width=frame.right - frame.left, class_="band")
        + element(
            "rect", **track, width=max(end - frame.left, 0.0), class_="dot" if ceiling.holds else "grey"
        )
        + words(frame.right + 8, y_px + TEXT_PX, text, strong.strip())
    )


def _text(ceiling: CeilingHere) -> str:
    if math.isnan(ceiling.ceiling_deg):
        return "not determined" if ceiling.name == "best" else "none found"
    if math.isinf(ceiling.ceiling_deg):
        return "at any advance"
    sigma = "" if math.isnan(ceiling.sigma_deg) else f" \N{PLUS-MINUS SIGN} {ceiling.sigma_deg:.0f}"
    return f"{ceiling.ceiling_deg:.1f}{sigma}{' holds' if ceiling.holds else ''}"


def _said(reasons: CellReasons, texts: list[str]) -> str:
    said = [f"{each.name} {text}" for each, text in zip(reasons.ceilings, texts, strict=True)]
    return f"Ceilings: {'; '.join(said)}."
