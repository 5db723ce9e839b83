"""A measured sweep: its points, the hook through them, and where its best lies."""

from __future__ import annotations

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, line, paragraph, words
from sparkwright.dyno.hook_fit import SweepFit
from sparkwright.dyno.sweep import Sweep
from sparkwright.units import System
from sparkwright.words.parts import in_own_units, own_unit

_DOT_PX = 5.0


def sweep_picture(
    sweep: Sweep,
    fit: SweepFit | None,
    name: str = "sweep",
    width_px: float = 560.0,
    system: System = "metric",
) -> Picture:
    """Draw torque against advance as measured, with the fitted hook and the 90 % interval of best.

    Parameters
    ----------
    sweep : Sweep
        With torque at one point at least.
    fit : SweepFit or None
        What it says; None while its points are too few.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].
    system : System, optional
        Units that the person reads.
    """
    unit, per_nm = own_unit("torque", system), in_own_units(1.0, "torque", system)
    heading = f"{grouped(sweep.rpm)} rpm, {sweep.kpa:.0f} kPa: torque in {unit} against advance in deg"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    advance, torque = sweep.advance_deg, per_nm * sweep.torque_nm
    room = max(0.15 * float(np.ptp(torque)), 0.02 * float(np.abs(torque).max()), 1.0)
    frame = Frame(
        left=56,
        top=top_px + 16,
        right=width_px - 24,
        bottom=top_px + min(300.0, 0.7 * width_px),
        x_span=(float(advance.min()) - 4.0, float(advance.max()) + 4.0),
        y_span=(float(torque.min()) - room, float(torque.max()) + room),
    )
    order = np.argsort(advance, kind="stable")
    if fit is not None:
        low, high = np.clip([fit.best_low_deg, fit.best_high_deg], *frame.x_span)
        edge = np.array([low, high])
        drawn += frame.band(edge, np.full(2, frame.y_span[0]), np.full(2, frame.y_span[1]), "band")
    drawn += frame.scales(even_ticks(*frame.x_span, at_most=7), even_ticks(*frame.y_span, at_most=6))
    if fit is not None:
        drawn += frame.curve(advance[order], per_nm * fit.fitted_nm[order], "curve")
        if frame.x_span[0] < fit.best_deg < frame.x_span[1]:
            x = float(frame.x(fit.best_deg))
            drawn += line(x, frame.top, x, frame.bottom, "mark")
            drawn += words(x + 4, frame.top + 14, f"best {fit.best_deg:.1f}", "accent halo")
    for each in sweep.points:
        x, y = float(frame.x(each.advance_deg)), float(frame.y(per_nm * each.torque_nm))
        drawn += element("circle", cx=x, cy=y, r=_DOT_PX, class_="dot")
        if each.knock in ("trace", "heavy"):
            drawn += words(x, y - 10, "knock", "warn halo", "middle")
    return Picture(
        name=name,
        title=heading,
        description=f"{heading}. {_sentence(fit)}",
        sentence=_sentence(fit),
        columns=("advance [deg]", f"torque [{unit}]", f"fitted [{unit}]", "heard"),
        rows=tuple(
            (
                each.advance_deg,
                per_nm * each.torque_nm,
                float("nan") if fit is None else per_nm * float(fit.fitted_nm[place]),
                each.knock or "",
            )
            for place, each in enumerate(sweep.points)
        ),
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _sentence(fit: SweepFit | None) -> str:
    if fit is None:
        return "Dots: what was measured. Three advances place a top."
    return (
        f"Dots: what was measured; line: the hook through them, drift with it; band: best lies within "
        f"{fit.best_low_deg:.1f} to {fit.best_high_deg:.1f} deg with 90 %."
    )
