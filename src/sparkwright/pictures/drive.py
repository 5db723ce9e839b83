"""A drive to look at: where on the map it ran, its findings as numbered marks, and how it went over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import LINE_PX, element, grouped, paragraph, words
from sparkwright.drive.result import DriveResult
from sparkwright.drive.timeline import Timeline
from sparkwright.findings import Finding
from sparkwright.numeric import FloatArray
from sparkwright.words.log import time_words


def marked(findings: Sequence[Finding]) -> list[tuple[int, Finding]]:
    """Give a number to each thing that must be looked at, as map and list show it.

    Parameters
    ----------
    findings : sequence of Finding
        What the drive told, the worst first.
    """
    return list(enumerate((each for each in findings if each.state in ("problem", "look")), start=1))


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
    for number, found in marked(result.findings):
        rpm, kpa = found.numbers.get("rpm"), found.numbers.get("kpa")
        if isinstance(rpm, float) and isinstance(kpa, float):
            x, y = float(frame.x(rpm)), float(frame.y(kpa))
            drawn += element("circle", cx=x, cy=y, r=11.0, **{"class": "over"})
            drawn += words(x, y + 5, str(number), "strong", "middle")
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


def _edges(axis: FloatArray, value: float) -> tuple[float, float]:
    """Give the ends of a cell along one axis, held within the axis."""
    place = int(np.argmin(np.abs(axis - value)))
    low = axis[0] if place == 0 else 0.5 * (axis[place - 1] + axis[place])
    high = axis[-1] if place == axis.size - 1 else 0.5 * (axis[place] + axis[place + 1])
    return float(low), float(high)


def drive_time_picture(timeline: Timeline, width_px: float = 720.0) -> Picture:
    """Draw a stretch of a drive over time: speed, load and advance, each with its own scale.

    Parameters
    ----------
    timeline : Timeline
        The stretch of the drive.
    width_px : float, optional
        Width of the picture [px].
    """
    minutes = timeline.start_s / 60.0
    heading = f"{time_words(timeline.to_s - timeline.from_s)} of {time_words(timeline.whole_s)}, over minutes"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    span = (timeline.from_s / 60.0, max(timeline.to_s, timeline.from_s + 1.0) / 60.0)
    tracks = (
        ("Engine speed, rpm", timeline.rpm_low, timeline.rpm_high),
        ("Manifold pressure, kPa", timeline.kpa_low, timeline.kpa_high),
        ("Advance, deg", timeline.advance_deg, timeline.advance_deg),
    )
    bottom = top_px
    for name, low, high in tracks:
        if not np.isfinite(high).any():
            continue
        ends = _span(low, high)
        drawn += words(12, bottom + LINE_PX, name, "soft")
        frame = Frame(
            left=56,
            top=bottom + LINE_PX + 8,
            right=width_px - 24,
            bottom=bottom + LINE_PX + 118,
            x_span=span,
            y_span=ends,
        )
        drawn += frame.scales(even_ticks(*span, at_most=7), even_ticks(*ends, 3))
        drawn += frame.band(minutes, low, high, "band") + frame.curve(minutes, high, "mark")
        bottom = frame.bottom + 28
    return Picture(
        name="drive-time",
        title=heading,
        description=f"{grouped(minutes.size)} parts, each with its least and most.",
        sentence="Each part shows its least and most, so that nothing short is lost.",
        columns=(
            "time [min]",
            "least speed [rpm]",
            "most speed [rpm]",
            "least load [kPa]",
            "most load [kPa]",
            "advance [deg]",
        ),
        rows=tuple(
            tuple(float(each) for each in row)
            for row in zip(
                minutes,
                timeline.rpm_low,
                timeline.rpm_high,
                timeline.kpa_low,
                timeline.kpa_high,
                timeline.advance_deg,
                strict=True,
            )
        ),
        width_px=width_px,
        height_px=bottom + 8,
        body=drawn,
    )


def _span(low: FloatArray, high: FloatArray) -> tuple[float, float]:
    least, most = float(np.nanmin(low)), float(np.nanmax(high))
    room = max(0.05 * (most - least), 0.5)
    return least - room, most + room
