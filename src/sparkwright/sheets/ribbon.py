"""The ribbon: one load row of the map along speed, the plan under its ceilings."""

from __future__ import annotations

import numpy as np

from sparkwright.plan.result import FloatArray, Line
from sparkwright.sheets.picture import Picture
from sparkwright.sheets.svg import (
    LINE_PX,
    Frame,
    degrees,
    even_ticks,
    grouped,
    paragraph,
    text_width_px,
    words,
)

_CURVES = (
    ("old_deg", "old", "old curve", "soft"),
    ("reach_deg", "reach", "reach", "ink"),
    ("best_deg", "best", "best", "soft"),
    ("knock_deg", "knock", "knock", "warn"),
    ("plan_deg", "plan", "plan", "accent strong"),
)
"""Attribute of the line, class of its stroke, its label and the class of the label; the plan last, on top."""

_SIGMA_COLUMN = "standard deviation of best [deg]"


def ribbon_picture(line: Line, name: str = "ribbon", width_px: float = 720.0) -> Picture:
    """Draw the plan as the one thick line under its thin ceilings.

    Parameters
    ----------
    line : Line
        A load row of the plan with its ceilings.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].

    Examples
    --------
    >>> import numpy as np
    >>> rpm = np.array([1000.0, 4000.0])
    >>> best, none = rpm / 190, rpm * np.nan
    >>> row = Line("Full load", 95.0, rpm, rpm / 200, best, rpm * 0 + 2, none, rpm * 0 + 34, None)
    >>> ribbon_picture(row).columns[:3]
    ('speed [rpm]', 'old curve [deg]', 'reach [deg]')
    """
    heading = f"{line.title}: degrees before top dead centre against rpm"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    curves = {attribute: _values(line, attribute) for attribute, *_ in _CURVES}
    label_px = max(text_width_px(_label(text, curves[key])) for key, _, text, _ in _CURVES) + 12
    band = line.best_deg - line.best_sigma_deg, line.best_deg + line.best_sigma_deg
    low, high = _span_deg([*curves.values(), *band])
    frame = Frame(
        left=44,
        top=top_px + 4,
        right=width_px - label_px,
        bottom=top_px + 4 + min(320.0, 0.75 * width_px),
        x_span=(float(line.rpm[0]), float(line.rpm[-1])),
        y_span=(low, high),
    )
    ticks_rpm = even_ticks(*frame.x_span, at_most=max(3, int((frame.right - frame.left) / 50)))
    drawn += frame.band(line.rpm, *band, "band")
    drawn += frame.scales(ticks_rpm, even_ticks(low, high, 7))
    drawn += "".join(frame.curve(line.rpm, curves[key], stroke) for key, stroke, _, _ in _CURVES)
    drawn += _labels(frame, line.rpm, curves)
    return Picture(
        name=name,
        title=heading,
        description=_description(line),
        sentence="The thick line is the plan; it stays under the lowest of its ceilings. "
        "The band is best, give or take one standard deviation.",
        columns=("speed [rpm]", *(f"{text} [deg]" for _, _, text, _ in _CURVES), _SIGMA_COLUMN),
        rows=tuple(
            (float(rpm), *(float(curves[key][i]) for key, *_ in _CURVES), float(line.best_sigma_deg[i]))
            for i, rpm in enumerate(line.rpm)
        ),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _values(line: Line, attribute: str) -> FloatArray:
    values: FloatArray | None = getattr(line, attribute)
    return np.full_like(line.rpm, np.nan) if values is None else np.asarray(values, dtype=float)


def _span_deg(curves: list[FloatArray]) -> tuple[float, float]:
    known = np.concatenate([values[np.isfinite(values)] for values in curves])
    return float(np.floor(known.min() / 10) * 10), float(np.ceil((known.max() + 1) / 10) * 10)


def _label(text: str, values: FloatArray) -> str:
    known = values[np.isfinite(values)]
    level = known.size and text == "reach" and np.ptp(known) < 0.05
    return f"{text} {degrees(float(known[0]))}" if level else text


def _labels(frame: Frame, rpm: FloatArray, curves: dict[str, FloatArray]) -> str:
    """Each line is named at its end: beside the frame, or inside it where the line ends sooner."""
    at_edge, drawn = [], ""
    for key, _, text, class_ in _CURVES:
        known = np.flatnonzero(np.isfinite(curves[key]))
        if not np.any(np.diff(known) == 1):  # no two points in a row: no line to name
            continue
        last = int(known[-1])
        label = _label(text, curves[key])
        if last == rpm.size - 1:
            at_edge.append((float(curves[key][last]), label, class_))
        else:
            x_px, y_px = float(frame.x(rpm[last])), float(frame.y(curves[key][last]))
            inside = x_px + 10 + text_width_px(label) < frame.right
            drawn += words(
                x_px + (10 if inside else -10),
                max(y_px + 5, frame.top + LINE_PX - 5),
                label,
                f"{class_} halo",
                "start" if inside else "end",
            )
    return drawn + frame.end_labels(at_edge)


def _description(line: Line) -> str:
    return (
        f"At {line.kpa:g} kPa the plan goes from {line.plan_deg[0]:g} degrees at {grouped(line.rpm[0])} rpm "
        f"to {line.plan_deg[-1]:g} degrees at {grouped(line.rpm[-1])} rpm. "
        "Its ceilings are drawn above it; their numbers are in the table."
    )
