"""Readings of a timing light over speed, with the fit, its band, and what is left over."""

from __future__ import annotations

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Cell, Picture
from sparkwright.drawing.svg import element, grouped, line, paragraph, words
from sparkwright.errors import Refusal
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import LightResult
from sparkwright.words.told import told

_LEFT_PX, _RIGHT_PX = 48.0, 28.0
_REST_PX = 90.0
_DOT_PX = 5.0


def light_picture(result: LightResult, name: str = "light", width_px: float = 720.0) -> Picture:
    """Draw seen less commanded over speed, the fitted line in its band, and the residuals under it.

    Parameters
    ----------
    result : LightResult
        With at least one reading.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].

    Raises
    ------
    Refusal
        If there is no reading to draw.
    """
    if not result.readings:
        raise Refusal.at("readings", "none", "must be at least one for a picture", "read the light first")
    heading = "Seen less commanded: crank degrees against rpm"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    bottom_px = top_px + min(300.0, 0.7 * width_px)
    frame = Frame(
        left=_LEFT_PX,
        top=top_px + 4,
        right=width_px - _RIGHT_PX,
        bottom=bottom_px,
        x_span=_speed_span(result.readings),
        y_span=_difference_span(result),
    )
    drawn += _fit(result, frame)
    drawn += _readings(result, frame)
    if result.fit is not None and result.fit.degrees_of_freedom > 0:
        rest, bottom_px = _rest(result, frame)
        drawn += rest
    return Picture(
        name=name,
        title=heading,
        description=_description(result),
        sentence=_sentence(result),
        columns=(
            "line",
            "speed [rpm]",
            "commanded [deg]",
            "seen [deg]",
            "seen less commanded [deg]",
            "reading error, one standard deviation [deg]",
            "fit [deg]",
            "used",
        ),
        rows=_rows(result),
        width_px=width_px,
        height_px=bottom_px + 36,
        body=drawn,
    )


def _speed_span(readings: tuple[Reading, ...]) -> tuple[float, float]:
    speeds = [each.speed_rpm for each in readings]
    room = max(0.06 * (max(speeds) - min(speeds)), 100.0)
    return max(0.0, min(speeds) - room), max(speeds) + room


def _difference_span(result: LightResult) -> tuple[float, float]:
    values = [each.difference_deg for each in result.readings] + [-1.0, 1.0]
    if result.fit is not None:
        values += [float(result.fit.band_low_deg.min()), float(result.fit.band_high_deg.max())]
    room = 0.08 * (max(values) - min(values))
    return min(values) - room, max(values) + room


def _fit(result: LightResult, frame: Frame) -> str:
    fit = result.fit
    drawn = ""
    single = fit is not None and fit.highest_rpm == fit.lowest_rpm
    if fit is not None and not single:
        drawn += frame.band(fit.band_rpm, fit.band_low_deg, fit.band_high_deg, "band")
    ticks_deg = even_ticks(*frame.y_span, at_most=7)
    whole = all(deg == round(deg) for deg in ticks_deg)
    drawn += frame.scales(
        even_ticks(*frame.x_span, at_most=5 if frame.right < 500 else 8),
        ticks_deg,
        write_y=lambda deg: grouped(deg, 0 if whole else 1),
    )
    zero = float(frame.y(0.0))
    drawn += line(frame.left, zero, frame.right, zero, "edge")
    if fit is not None and not single:
        drawn += frame.curve(fit.band_rpm, fit.band_deg, "plan")
    return drawn + words(frame.right, zero - 6, "as commanded", "soft halo", "end")


def _used(result: LightResult) -> dict[Reading, tuple[str, float, float]]:
    """For each reading of the fit whether it was used, its error and what the fit expects."""
    fit = result.fit
    if fit is None:
        return {}
    return {
        reading: (
            "left out" if place == fit.left_out else "in doubt" if place in fit.suspects else "yes",
            float(fit.sigma_deg[place]),
            float(fit.fitted_difference_deg[place]),
        )
        for place, reading in enumerate(fit.readings)
    }


def _readings(result: LightResult, frame: Frame) -> str:
    used = _used(result)
    drawn = ""
    for reading in result.readings:
        state, sigma, _ = used.get(reading, ("left out", float("nan"), float("nan")))
        x, y = float(frame.x(reading.speed_rpm)), float(frame.y(reading.difference_deg))
        if np.isfinite(sigma):
            ends = frame.y([reading.difference_deg - 2.0 * sigma, reading.difference_deg + 2.0 * sigma])
            low, high = np.clip(ends, frame.top, frame.bottom).tolist()
            drawn += line(x, low, x, high, "thin")
        drawn += _mark(x, y, state)
    return drawn


def _mark(x: float, y: float, state: str) -> str:
    """Draw a dot for a reading used, a ring for one in doubt, a cross for one left out."""
    if state == "yes":
        return element("circle", cx=x, cy=y, r=_DOT_PX, class_="dot")
    if state == "in doubt":
        return element("circle", cx=x, cy=y, r=_DOT_PX + 1, class_="mark")
    size = _DOT_PX
    return line(x - size, y - size, x + size, y + size, "edge") + line(
        x - size, y + size, x + size, y - size, "edge"
    )


def _rest(result: LightResult, above: Frame) -> tuple[str, float]:
    """Residuals on a scale of their own; those beyond it stand at its edge."""
    used = _used(result)
    most = max(2.5 * max(sigma for _, sigma, _ in used.values()), 0.5)
    drawn, top_px = paragraph(12, above.bottom + 54, "What the fit leaves over", above.right - 12, "strong")
    frame = Frame(above.left, top_px - 8, above.right, top_px - 8 + _REST_PX, above.x_span, (-most, most))
    drawn += frame.scales([], even_ticks(-most, most, at_most=3), write_y=lambda deg: grouped(deg, 1))
    zero = float(frame.y(0.0))
    drawn += line(frame.left, zero, frame.right, zero, "thin")
    for reading, (state, _, fitted) in used.items():
        over = float(np.clip(reading.difference_deg - fitted, -most, most))
        drawn += _mark(float(frame.x(reading.speed_rpm)), float(frame.y(over)), state)
    return drawn, frame.bottom - 16


def _rows(result: LightResult) -> tuple[tuple[Cell, ...], ...]:
    used = _used(result)
    rows = []
    for reading in result.readings:
        state, sigma, fitted = used.get(reading, ("no", float("nan"), float("nan")))
        rows.append(
            (
                reading.line,
                reading.speed_rpm,
                reading.commanded_deg,
                reading.seen_deg,
                reading.difference_deg,
                sigma,
                fitted,
                state,
            )
        )
    return tuple(rows)


def _sentence(result: LightResult) -> str:
    said = str(told(result.proof.finding).sentence)
    fit = result.fit
    if fit is None:
        return said
    lines = [said, "Bars: two standard deviations of a reading either way."]
    if fit.highest_rpm > fit.lowest_rpm:
        lines.append("Band: 95 % for all of the line.")
    if fit.left_out is not None or any(each not in fit.readings for each in result.readings):
        lines.append("A cross was left out.")
    if fit.suspects:
        lines.append("A ring is in doubt.")
    return " ".join(lines).replace(" %", "\N{NO-BREAK SPACE}%")


def _description(result: LightResult) -> str:
    return f"{len(result.readings)} readings of a timing light over speed. {told(result.headline).sentence}"
