"""The ribbon: one line of the map along speed or load, the plan under its ceilings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import (
    LINE_PX,
    degrees,
    element,
    grouped,
    paragraph,
    text_width_px,
    triangle,
    words,
)
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import Line, LoadLine
from sparkwright.words.loads import load_text

_CURVES = (
    ("old_deg", "old", "old curve", "soft"),
    ("limit_deg", "ceiling", "limit", "ink"),
    ("reach_deg", "reach", "reach", "ink"),
    ("best_deg", "best", "best", "soft"),
    ("knock_deg", "knock", "knock", "warn"),
    ("plan_deg", "plan", "plan", "accent strong"),
)
"""Attribute of the line, class of its stroke, its label and the class of the label; the plan last, on top."""

_SIGMA_COLUMN = "standard deviation of best [deg]"


@dataclass(frozen=True)
class _Axis:
    """What runs along the line: its values, its name with the unit, and how to write one of them."""

    values: FloatArray
    column: str
    unit: str
    where: str

    def say(self, place: int) -> str:
        return f"{grouped(float(self.values[place]))} {self.unit}"


def _axis(line: Line | LoadLine) -> _Axis:
    if isinstance(line, Line):
        return _Axis(line.rpm, "speed [rpm]", "rpm", f"At {load_text(line.kpa)} kPa")
    return _Axis(line.kpa, "load [kPa]", "kPa", f"At {grouped(line.rpm)} rpm")


def ribbon_picture(line: Line | LoadLine, name: str = "ribbon", width_px: float = 720.0) -> Picture:
    """Draw the plan as the one thick line under its thin ceilings.

    Parameters
    ----------
    line : Line or LoadLine
        A load row or a speed column of the plan with its ceilings.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].

    Examples
    --------
    >>> import numpy as np
    >>> rpm = np.array([1000.0, 4000.0])
    >>> none, no = rpm * np.nan, rpm < 0
    >>> row = Line(
    ...     title="Full load", kpa=95.0, rpm=rpm, plan_deg=rpm / 200, best_deg=rpm / 190,
    ...     best_sigma_deg=rpm * 0 + 2, knock_deg=none, reach_deg=rpm * 0 + 34, limit_deg=rpm * 0 + 60,
    ...     old_deg=None, by_hand=no, over_ceiling=no, not_asked=no,
    ... )
    >>> ribbon_picture(row).columns[:3]
    ('speed [rpm]', 'old curve [deg]', 'limit [deg]')
    """
    axis = _axis(line)
    heading = f"{line.title}: degrees before top dead centre against {axis.unit}"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    curves = {attribute: _values(line, attribute, axis.values) for attribute, *_ in _CURVES}
    band = line.best_deg - line.best_sigma_deg, line.best_deg + line.best_sigma_deg
    low, high = _span_deg([*(curves[key] for key in curves if key != "limit_deg"), *band])
    shown = curves | {"limit_deg": _where_it_matters(curves, high)}
    label_px = max(text_width_px(_label(text, shown[key])) for key, _, text, _ in _CURVES) + 12
    frame = Frame(
        left=44,
        top=top_px + 4,
        right=width_px - label_px,
        bottom=top_px + 4 + min(320.0, 0.55 * width_px),
        x_span=(float(axis.values[0]), float(axis.values[-1])),
        y_span=(low, high),
    )
    ticks = even_ticks(*frame.x_span, at_most=max(3, int((frame.right - frame.left) / 50)))
    drawn += frame.band(axis.values, *band, "band")
    drawn += frame.scales(ticks, even_ticks(low, high, 7))
    drawn += "".join(frame.curve(axis.values, shown[key], stroke) for key, stroke, _, _ in _CURVES)
    drawn += _labels(frame, axis.values, shown) + _marks(frame, axis.values, line)
    return Picture(
        name=name,
        title=heading,
        description=_description(line, axis),
        sentence=_sentence(line),
        columns=(axis.column, *(f"{text} [deg]" for _, _, text, _ in _CURVES), _SIGMA_COLUMN),
        rows=tuple(
            (float(each), *(float(curves[key][i]) for key, *_ in _CURVES), float(line.best_sigma_deg[i]))
            for i, each in enumerate(axis.values)
        ),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _where_it_matters(curves: dict[str, FloatArray], high: float) -> FloatArray:
    """Give limits and pegs where they lie below the top of the plot; above it they hold nothing."""
    limit = curves["limit_deg"]
    return np.where(limit < high, limit, np.nan)


def _marks(frame: Frame, along: FloatArray, line: Line | LoadLine) -> str:
    """Mark the cells that a person set: a dot, and a triangle over it where it stands over a ceiling."""
    drawn = ""
    for place in np.flatnonzero(line.by_hand):
        x_px, y_px = float(frame.x(along[place])), float(frame.y(line.plan_deg[place]))
        drawn += element("circle", cx=x_px, cy=y_px, r=4.0, class_="solid")
        if line.over_ceiling[place]:
            drawn += triangle(x_px, y_px - 13)
    return drawn


def _sentence(line: Line | LoadLine) -> str:
    plan = "The thick line is the plan; it stays under the lowest of its ceilings"
    marks = ""
    if line.by_hand.any():
        plan += ", but for cells set by hand"
        marks = " A dot is a cell set by hand"
        marks += "; a triangle marks one over a ceiling." if line.over_ceiling.any() else "."
    if line.not_asked.any():
        plan += ", but beyond the ends of a row where no engine comes"
    return f"{plan}. The band is best, give or take one standard deviation.{marks}"


def _values(line: Line | LoadLine, attribute: str, along: FloatArray) -> FloatArray:
    values: FloatArray | None = getattr(line, attribute)
    return np.full_like(along, np.nan) if values is None else np.asarray(values, dtype=float)


def _span_deg(curves: list[FloatArray]) -> tuple[float, float]:
    known = np.concatenate([values[np.isfinite(values)] for values in curves])
    return float(np.floor(known.min() / 10) * 10), float(np.ceil((known.max() + 1) / 10) * 10)


def _label(text: str, values: FloatArray) -> str:
    known = values[np.isfinite(values)]
    level = known.size and text in ("reach", "limit") and np.ptp(known) < 0.05
    return f"{text} {degrees(float(known[0]))}" if level else text


def _labels(frame: Frame, along: FloatArray, curves: dict[str, FloatArray]) -> str:
    """Each line is named at its end: beside the frame, or inside it where the line ends sooner."""
    at_edge, drawn = [], ""
    for key, _, text, class_ in _CURVES:
        known = np.flatnonzero(np.isfinite(curves[key]))
        if not np.any(np.diff(known) == 1):  # no two points in a row: no line to name
            continue
        last = int(known[-1])
        label = _label(text, curves[key])
        if last == along.size - 1:
            at_edge.append((float(curves[key][last]), label, class_))
        else:
            x_px, y_px = float(frame.x(along[last])), float(frame.y(curves[key][last]))
            inside = x_px + 10 + text_width_px(label) < frame.right
            drawn += words(
                x_px + (10 if inside else -10),
                max(y_px + 5, frame.top + LINE_PX - 5),
                label,
                f"{class_} halo",
                "start" if inside else "end",
            )
    return drawn + frame.end_labels(at_edge)


def _description(line: Line | LoadLine, axis: _Axis) -> str:
    return (
        f"{axis.where} the plan goes from {line.plan_deg[0]:g} degrees at {axis.say(0)} "
        f"to {line.plan_deg[-1]:g} degrees at {axis.say(-1)}. "
        "Its ceilings are drawn above it; their numbers are in the table."
    )
