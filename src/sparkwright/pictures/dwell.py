"""Dwell against battery voltage, for the energy the coil is wanted to hold."""

from __future__ import annotations

import numpy as np

from sparkwright.check.result import DwellTable, HardwareResult
from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, paragraph, text_width_px, words
from sparkwright.errors import Refusal


def dwell_picture(hardware: HardwareResult, name: str = "dwell", width_px: float = 720.0) -> Picture:
    """Draw the dwell that reaches the wanted energy over battery voltage.

    Parameters
    ----------
    hardware : HardwareResult
        An inductive ignition.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].

    Raises
    ------
    Refusal
        If the ignition has no dwell (a capacitive driver).
    """
    table = hardware.dwell
    if table is None:
        raise Refusal.at("driver.kind", "capacitive", "must be inductive for a dwell picture")
    heading = f"Dwell for {table.energy_mj:.0f} mJ ({table.current_a:.1f} A): ms against battery volts"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    known = np.isfinite(table.dwell_ms)
    most = float(table.dwell_ms[known].max()) if known.any() else 1.0
    least = float(table.dwell_ms[known].min()) if known.any() else 0.0
    room = max(0.15 * (most - least), 0.1)
    frame = Frame(
        left=48,
        top=top_px + 4,
        right=width_px - 28,
        bottom=top_px + 4 + min(300.0, 0.7 * width_px),
        x_span=(float(table.battery_v[0]), float(table.battery_v[-1])),
        y_span=(max(0.0, least - room), most + room),
    )
    ticks_ms = even_ticks(*frame.y_span, at_most=6)
    whole = all(abs(tick - round(tick)) < 1e-9 for tick in ticks_ms)
    drawn += _out_of_reach(frame, table)
    drawn += frame.scales(
        even_ticks(*frame.x_span, at_most=9),
        ticks_ms,
        write_y=lambda ms: f"{ms:.0f}" if whole else f"{ms:.1f}",
    )
    drawn += frame.curve(table.battery_v, table.dwell_ms, "plan") + _points(frame, table)
    return Picture(
        name=name,
        title=heading,
        description=_description(table),
        sentence=_sentence(table),
        columns=("battery [V]", "dwell [ms]"),
        rows=tuple(
            (float(volts), float(ms)) for volts, ms in zip(table.battery_v, table.dwell_ms, strict=True)
        ),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _points(frame: Frame, table: DwellTable) -> str:
    """Draw a dot for each row of the table, and its value where there is room beside the last one."""
    drawn, free_px = "", 0.0
    for volts, ms in zip(table.battery_v, table.dwell_ms, strict=True):
        if not np.isfinite(ms):
            continue
        x, y, text = float(frame.x(volts)), float(frame.y(ms)), f"{ms:.1f}"
        left_px = min(x + 6, frame.right + 20 - text_width_px(text))
        drawn += element("circle", cx=x, cy=y, r=4.5, class_="dot")
        if left_px > free_px:
            drawn += words(left_px, y - 9, text, "halo")
            free_px = left_px + text_width_px(text) + 6
    return drawn


def _out_of_reach(frame: Frame, table: DwellTable) -> str:
    """Shade the voltages at which the coil never holds the wanted energy."""
    reached = table.battery_v[np.isfinite(table.dwell_ms)]
    right = float(frame.x(reached[0])) if reached.size else frame.right
    if right <= frame.left + 1:
        return ""
    height = frame.bottom - frame.top
    shade = element("rect", x=frame.left, y=frame.top, width=right - frame.left, height=height, class_="band")
    if right - frame.left < text_width_px("not reached") + 12:
        return shade
    return shade + words((frame.left + right) / 2, frame.top + 22, "not reached", "warn", "middle")


def _sentence(table: DwellTable) -> str:
    reached = np.isfinite(table.dwell_ms)
    if not reached.any():
        return f"The coil does not hold {table.energy_mj:.0f} mJ at any of these voltages."
    missing = "" if reached.all() else f" Below {table.battery_v[reached][0]:g} V it is not reached."
    return f"The lower the battery, the longer the coil must charge for the same spark.{missing}"


def _description(table: DwellTable) -> str:
    reached = np.isfinite(table.dwell_ms)
    if not reached.any():
        return _sentence(table)
    volts, ms = table.battery_v[reached], table.dwell_ms[reached]
    return (
        f"Dwell falls from {ms[0]:.1f} milliseconds at {volts[0]:g} volts to {ms[-1]:.1f} milliseconds "
        f"at {volts[-1]:g} volts. {_sentence(table)}"
    )
