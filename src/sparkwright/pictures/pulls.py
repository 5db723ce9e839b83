"""Two timings held against each other over speed: the difference, and the interval in which it lies."""

from __future__ import annotations

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import line, paragraph
from sparkwright.dyno.pulls import CONFIDENCE, Compared
from sparkwright.units import System
from sparkwright.words.parts import in_own_units, own_unit


def compared_picture(
    found: Compared, name: str = "pulls", width_px: float = 560.0, system: System = "metric"
) -> Picture:
    """Draw the difference of two timings over speed, with its interval where repeats give one.

    Parameters
    ----------
    found : Compared
        Pulls at a second timing less those at a first.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].
    system : System, optional
        Units that the person reads.
    """
    unit = own_unit("torque", system)
    difference, low, high = (
        in_own_units(1.0, "torque", system) * each
        for each in (found.difference_nm, found.low_nm, found.high_nm)
    )
    heading = f"{found.second} less {found.first}: torque in {unit} against speed in rpm"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    known = bool(np.isfinite(low).all())
    edges = np.concatenate([difference, low, high, [0.0]])
    edges = edges[np.isfinite(edges)]
    room = max(0.1 * float(np.ptp(edges)), 1.0)
    frame = Frame(
        left=56,
        top=top_px + 16,
        right=width_px - 24,
        bottom=top_px + min(300.0, 0.7 * width_px),
        x_span=(float(found.rpm[0]), float(found.rpm[-1])),
        y_span=(float(edges.min()) - room, float(edges.max()) + room),
    )
    if known:
        drawn += frame.band(found.rpm, low, high, "band")
    drawn += frame.scales(even_ticks(*frame.x_span, at_most=6), even_ticks(*frame.y_span, at_most=6))
    zero = float(frame.y(0.0))
    drawn += line(frame.left, zero, frame.right, zero, "mark")
    drawn += frame.curve(found.rpm, difference, "curve")
    sentence = (
        f"The band holds the difference at all speeds together with {100 * CONFIDENCE:.0f} %; it is real"
        " where the band leaves 0 out."
        if known
        else "Without a repeat there is no band: how real the difference is isn't determined."
    )
    return Picture(
        name=name,
        title=heading,
        description=f"{heading}. {sentence}",
        sentence=sentence,
        columns=("speed [rpm]", *(f"{name} [{unit}]" for name in ("difference", "low", "high"))),
        rows=tuple(zip(found.rpm.tolist(), difference.tolist(), low.tolist(), high.tolist(), strict=True)),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )
