"""A drive to look at: where on the map it ran, its findings as numbered marks, and how it went over time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import LINE_PX, element, grouped, paragraph, words
from sparkwright.drive.moments import Mark
from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.result import DriveResult
from sparkwright.drive.rows import Stretch, Track
from sparkwright.numeric import FloatArray
from sparkwright.words.log import time_words

MARK_PX = 12.0
"""Radius of a numbered mark: wide enough for a finger."""
DRAWN = ("rpm", "map_kpa", "advance_deg", "commanded_deg")
"""Channels that a page without its script shows over time."""


def drive_map_picture(result: DriveResult, width_px: float = 720.0) -> Picture:
    """Draw where the engine ran: more time in a cell is a stronger colour; findings stand where seen.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    width_px : float, optional
        Width of the picture [px].
    """
    heading = "Time in each cell, rpm across, kPa up"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    frame = Frame(
        left=56,
        top=top_px + 8,
        right=width_px - 24,
        bottom=top_px + 8 + min(380.0, 0.75 * width_px),
        x_span=(float(result.rpm[0]), float(result.rpm[-1])),
        y_span=(float(result.kpa[0]), float(result.kpa[-1])),
    )
    drawn += frame.scales(even_ticks(*frame.x_span, at_most=7), even_ticks(*frame.y_span, 6))
    most = max((each.share for each in result.where.cells), default=1.0)
    for each in result.where.cells:
        left, right = _edges(result.rpm, each.rpm)
        low, high = _edges(result.kpa, each.kpa)
        x, y = float(frame.x(left)), float(frame.y(high))
        size = {"width": float(frame.x(right)) - x, "height": float(frame.y(low)) - y}
        shade = {"fill-opacity": 0.08 + 0.72 * float(np.sqrt(each.share / most))}
        drawn += element("rect", x=x, y=y, **size, **shade, **{"class": "dot"})
    drawn += "".join(_map_marks(result.marks, frame))
    # Where the engine is at the moment that the plot over time points at; moved by the page.
    ends = {"left": frame.left, "right": frame.right, "top": frame.top, "bottom": frame.bottom}
    scale = {"from_rpm": frame.x_span[0], "to_rpm": frame.x_span[1]}
    scale |= {"from_kpa": frame.y_span[0], "to_kpa": frame.y_span[1]}
    data = {f"data_{name}": value for name, value in (ends | scale).items()}
    drawn += element("circle", cx=0.0, cy=0.0, r=7.0, class_="mark here", visibility="hidden", **data)
    where = result.where
    return Picture(
        name="drive-map",
        title=heading,
        description=f"{where.inside_percent:.0f} % of the driving lies in {where.inside_cells} cells.",
        sentence="Numbers stand where the finding of that number is; the stronger the colour, the more time.",
        columns=("speed [rpm]", "load [kPa]", "time [s]", "share [%]", "sparks [-]"),
        rows=tuple(
            (each.rpm, each.kpa, each.seconds, 100.0 * each.share, each.sparks) for each in where.cells
        ),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _map_marks(marks: Sequence[Mark], frame: Frame) -> Iterator[str]:
    """Draw the numbered marks, side by side where several stand in one place."""
    taken: Counter[tuple[float, float]] = Counter()
    for mark in marks:
        if mark.at.rpm is None or mark.at.kpa is None:
            continue
        place = mark.at.rpm, mark.at.kpa
        x = min(float(frame.x(place[0])) + 2.0 * MARK_PX * taken[place], frame.right)
        y = float(frame.y(place[1]))
        taken[place] += 1
        drawn = element("circle", cx=x, cy=y, r=MARK_PX, class_="over")
        drawn += words(x, y + 5, str(mark.number), "strong", "middle")
        # A picture holds no links for those who can't see it; the list under it leads to the same moments.
        yield element("g", drawn, data_finding=str(mark.number))


def _edges(axis: FloatArray, value: float) -> tuple[float, float]:
    """Give the ends of a cell along one axis, held within the axis."""
    place = int(np.argmin(np.abs(axis - value)))
    low = axis[0] if place == 0 else 0.5 * (axis[place - 1] + axis[place])
    high = axis[-1] if place == axis.size - 1 else 0.5 * (axis[place] + axis[place + 1])
    return float(low), float(high)


def drive_time_picture(stretch: Stretch, width_px: float = 720.0) -> Picture:
    """Draw a stretch of a drive over time: speed, load and advance, each with its own scale.

    Parameters
    ----------
    stretch : Stretch
        The stretch of the drive.
    width_px : float, optional
        Width of the picture [px].
    """
    minutes = stretch.time_s / 60.0
    heading = f"{time_words(stretch.to_s - stretch.from_s)} of {time_words(stretch.whole_s)}, over minutes"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    span = (stretch.from_s / 60.0, max(stretch.to_s, stretch.from_s + 1.0) / 60.0)
    tracks = [each for each in stretch.tracks if each.quantity in DRAWN and np.isfinite(each.high).any()]
    bottom = top_px
    for each in tracks:
        ends = _span(each.low, each.high)
        drawn += words(12, bottom + LINE_PX, _called(each), "soft")
        frame = Frame(
            left=56,
            top=bottom + LINE_PX + 8,
            right=width_px - 24,
            bottom=bottom + LINE_PX + 118,
            x_span=span,
            y_span=ends,
        )
        drawn += frame.scales(even_ticks(*span, at_most=7), even_ticks(*ends, 3))
        drawn += frame.band(minutes, each.low, each.high, "band") + frame.curve(minutes, each.high, "mark")
        bottom = frame.bottom + 28
    ends_of = [values.tolist() for each in tracks for values in (each.low, each.high)]
    return Picture(
        name="drive-time",
        title=heading,
        description=f"{grouped(minutes.size)} parts, each with its least and most.",
        sentence="Each part shows its least and most, so that nothing short is lost.",
        columns=(
            "time [min]",
            *(f"{word} {_called(each)}" for each in tracks for word in ("least", "most")),
        ),
        rows=tuple(zip(minutes.tolist(), *ends_of, strict=True)),
        width_px=width_px,
        height_px=bottom + 8,
        body=drawn,
    )


def _called(track: Track) -> str:
    known = BY_NAME[track.quantity]
    return f"{known.called} [{known.unit}]" if known.unit not in ("", known.called) else known.called


def _span(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    least, most = float(np.nanmin(low)), float(np.nanmax(high))
    room = max(0.05 * (most - least), 0.5)
    return least - room, most + room
