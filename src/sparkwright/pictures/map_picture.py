"""The map as filled contours over speed and load, hatched and labelled by what holds each region."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.drawing.contours import Points, areas_between, lines_at
from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.look import advance_colour, text_colour_on
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import (
    LINE_PX,
    degrees,
    element,
    grouped,
    outline,
    paragraph,
    path,
    text_width_px,
    triangle,
    words,
)
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.result import PlanResult
from sparkwright.words.loads import load_text
from sparkwright.words.map import (
    HELD_WORDS,
    LETTER_FORMS,
    MAP_COLUMNS,
    OVER_WORDS,
    held_kinds,
    held_sentence,
    map_description,
    map_rows,
)

BAND_STEP_DEG = 5.0
"""Width of one contour band."""

_TILE_PX = 14.0
_HATCHINGS = {
    "knock": "M0 0L14 14M14 0L0 14",
    "reach": "M-2 2L2 -2M0 14L14 0M12 16L16 12",
    "reserve": "M0 7L14 7",
    "limit": "M7 0L7 14",
    "between": "M0 3L7 10L14 3",
    "rows": "M2 7L5 7M9 7L12 7",
    "by hand": "M4 7L10 7M7 4L7 10",
}
"""Strokes of one tile; cells held by best stay plain."""


@dataclass(frozen=True)
class _Box:
    """The place that a label takes, by its middle."""

    x: float
    y: float
    width: float

    def plate(self, height_px: float, **look: str) -> str:
        """Draw the ground on which the label stands."""
        box = {"x": self.x - self.width / 2, "y": self.y - height_px / 2, "width": self.width}
        return element("rect", **box, height=height_px, rx=4.0, **look)

    def within(self, frame: Frame) -> bool:
        fits_across = frame.left + self.width / 2 < self.x < frame.right - self.width / 2
        return fits_across and frame.top + 12 < self.y < frame.bottom - 12

    def clear_of(self, other: _Box) -> bool:
        apart_px = (self.width + other.width) / 2 + 6
        return abs(self.x - other.x) > apart_px or abs(self.y - other.y) > LINE_PX + 4


def map_picture(
    plan: PlanResult, name: str = "map", width_px: float = 720.0, loads: Loads = ABSOLUTE
) -> Picture:
    """Draw the map as filled contours, hatched by what holds each region.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].
    loads : Loads, optional
        In what the loads stand at the left; kPa absolute then stand at the right.
    """
    absolute = loads.term == "kPa absolute"
    of_loads = "kPa" if absolute else f"{loads.unit}, kPa at the right"
    heading = f"Spark map: degrees before top dead centre over rpm and {of_loads}"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    spark_map = plan.cells.spark_map
    frame = Frame(
        left=48,
        top=top_px + 4,
        right=width_px - (28 if absolute else 44),
        bottom=top_px + 4 + min(400.0, 0.9 * width_px),
        x_span=(float(spark_map.rpm[0]), float(spark_map.rpm[-1])),
        y_span=(float(spark_map.kpa[0]), float(spark_map.kpa[-1])),
    )
    levels = _levels(plan, frame)
    drawn += _hatching_patterns(name) + _bands(plan, frame)
    drawn += "".join(path(points, "level") for contours in levels.values() for points in contours)
    drawn += "".join(_region(plan, kind, frame, name) for kind in held_kinds(plan))
    drawn += _labels(plan, frame, levels) + _over_marks(plan, frame)
    ticks_rpm = even_ticks(*frame.x_span, at_most=max(3, int((frame.right - frame.left) / 55)))
    drawn += _outer_scales(frame, ticks_rpm, loads)
    key, bottom_px = _key(plan, name, frame.bottom + 56, width_px)
    return Picture(
        name=name,
        title=heading,
        description=map_description(plan),
        sentence=held_sentence(plan),
        columns=MAP_COLUMNS,
        rows=map_rows(plan),
        width_px=width_px,
        height_px=bottom_px,
        body=drawn + key,
    )


def _bands(plan: PlanResult, frame: Frame) -> str:
    spark_map = plan.cells.spark_map
    advance = spark_map.advance_deg
    first = np.floor(advance.min() / BAND_STEP_DEG) * BAND_STEP_DEG
    drawn = ""
    for low in np.arange(first, advance.max() + 1e-6, BAND_STEP_DEG):
        colour = advance_colour(float(low) + BAND_STEP_DEG / 2)
        areas = areas_between(spark_map.rpm, spark_map.kpa, advance, low, low + BAND_STEP_DEG)
        drawn += _filled(areas, frame, fill=colour, stroke=colour)
    return drawn


def _filled(areas: list[list[Points]], frame: Frame, **look: str) -> str:
    drawn = ""
    for rings in areas:
        data = "".join(outline(frame.points(ring[:, 0], ring[:, 1]), closed=True) for ring in rings)
        drawn += element("path", d=data, fill_rule="evenodd", **look)
    return drawn


def _hatching(name: str, kind: str) -> str:
    """Name a hatching within the drawing."""
    return f"{name}-{kind.replace(' ', '-')}"


def _held(plan: PlanResult, kind: str) -> NDArray[np.bool_]:
    return np.array([[held == kind for held in row] for row in plan.cells.held_by])


def _hatching_patterns(name: str) -> str:
    """Two-tone hatching, a light stroke beside a dark one, shows on every colour of the scale."""
    patterns = ""
    for kind, strokes in _HATCHINGS.items():
        light = element("path", d=strokes, class_="hatch-light")
        dark = element("path", d=strokes, class_="hatch-dark", transform="translate(0.8 0.8)")
        tile = {"width": _TILE_PX, "height": _TILE_PX}
        patterns += element(
            "pattern", light, dark, id=_hatching(name, kind), patternUnits="userSpaceOnUse", **tile
        )
    return element("defs", patterns)


def _region(plan: PlanResult, kind: str, frame: Frame, name: str) -> str:
    """Hatch where one thing holds the map and draw the border of it."""
    if kind not in _HATCHINGS:
        return ""
    axes = plan.cells.spark_map.rpm, plan.cells.spark_map.kpa
    held = _held(plan, kind)
    drawn = _filled(areas_between(*axes, held, 0.5, 2.0), frame, fill=f"url(#{_hatching(name, kind)})")
    for border in lines_at(*axes, held, 0.5):
        points = frame.points(border[:, 0], border[:, 1])
        drawn += path(points, "casing") + path(points, "edge")
    return drawn


def _over_marks(plan: PlanResult, frame: Frame) -> str:
    rows, columns = np.nonzero(plan.cells.over_ceiling)
    points = frame.points(plan.cells.spark_map.rpm[columns], plan.cells.spark_map.kpa[rows])
    return "".join(triangle(float(x_px), float(y_px)) for x_px, y_px in points)


def _levels(plan: PlanResult, frame: Frame) -> dict[float, list[Points]]:
    """Places of the lines between the bands, by their advance [px]."""
    spark_map = plan.cells.spark_map
    advance = spark_map.advance_deg
    first = np.ceil(advance.min() / BAND_STEP_DEG + 1e-9) * BAND_STEP_DEG
    return {
        float(level): [
            frame.points(found[:, 0], found[:, 1])
            for found in lines_at(spark_map.rpm, spark_map.kpa, advance, level)
        ]
        for level in np.arange(first, advance.max(), BAND_STEP_DEG)
    }


def _labels(plan: PlanResult, frame: Frame, levels: dict[float, list[Points]]) -> str:
    """Name the regions that have room for it, then the level lines where they stay clear of names."""
    taken: list[_Box] = []
    drawn = ""
    for kind in held_kinds(plan):
        text = HELD_WORDS[kind]
        box = _place_inside(_held(plan, kind), plan, frame, text_width_px(text) + 14)
        if box is not None:
            taken.append(box)
            drawn += box.plate(24.0, class_="background") + words(box.x, box.y + 5, text, "", "middle")
    for level, contours in levels.items():
        text = degrees(level)
        place = _place_on(contours, text_width_px(text) + 8, frame, taken)
        if place is not None:
            taken.append(place)
            colour = advance_colour(level)
            ink = "on-dark" if text_colour_on(colour) == "#ffffff" else "on-light"
            drawn += place.plate(20.0, fill=colour) + words(place.x, place.y + 5, text, ink, "middle")
    return drawn


def _place_on(contours: list[Points], width_px: float, frame: Frame, taken: list[_Box]) -> _Box | None:
    """Find the place on the longest line, nearest to its middle, that is clear of other labels."""
    for points in sorted(contours, key=len, reverse=True):
        middle = points[len(points) // 2]
        for x_px, y_px in sorted(points, key=lambda point: float(np.hypot(*(point - middle)))):
            box = _Box(float(x_px), float(y_px), width_px)
            if box.within(frame) and all(box.clear_of(other) for other in taken):
                return box
    return None


def _place_inside(inside: NDArray[np.bool_], plan: PlanResult, frame: Frame, width_px: float) -> _Box | None:
    """Find a place for a name in a region, clear of its border and near its middle; None if none fits."""
    x_px, y_px = np.meshgrid(
        np.linspace(frame.left + width_px / 2 + 8, frame.right - width_px / 2 - 8, 60),
        np.linspace(frame.top + 20, frame.bottom - 20, 40),
    )
    nodes_x, nodes_y = np.meshgrid(frame.x(plan.cells.spark_map.rpm), frame.y(plan.cells.spark_map.kpa))
    outside = areas_between(plan.cells.spark_map.rpm, plan.cells.spark_map.kpa, ~inside, 0.5, 2.0)
    borders = [frame.points(ring[:, 0], ring[:, 1]) for rings in outside for ring in rings]
    others = np.vstack([*borders, np.column_stack((nodes_x[~inside], nodes_y[~inside]))])
    # A name is wide and low, so room to its sides counts by its own proportions.
    sideways = np.abs(x_px[..., None] - others[:, 0]) / (width_px / 2 + 6)
    upwards = np.abs(y_px[..., None] - others[:, 1]) / (LINE_PX / 2 + 6)
    room = np.maximum(sideways, upwards).min(axis=-1, initial=np.inf)
    fits = (room > 1.0) & _inside_at(inside, plan, frame, x_px, y_px)
    if not fits.any():
        return None
    from_middle = np.hypot(x_px - nodes_x[inside].mean(), y_px - nodes_y[inside].mean())
    cost = np.where(fits, from_middle - LINE_PX * np.minimum(room, 3.0), np.inf)
    place = np.unravel_index(int(cost.argmin()), cost.shape)
    return _Box(float(x_px[place]), float(y_px[place]), width_px)


def _inside_at(
    inside: NDArray[np.bool_],
    plan: PlanResult,
    frame: Frame,
    x_px: NDArray[np.float64],
    y_px: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Say for each place whether the cell nearest to it belongs to the region."""
    j = np.abs(x_px[..., None] - frame.x(plan.cells.spark_map.rpm)).argmin(axis=-1)
    i = np.abs(y_px[..., None] - frame.y(plan.cells.spark_map.kpa)).argmin(axis=-1)
    nearest: NDArray[np.bool_] = inside[i, j]
    return nearest


def _outer_scales(frame: Frame, ticks_rpm: list[float], loads: Loads) -> str:
    """Write speeds along the bottom and loads at the left; at the right kPa, where the loads are other."""
    low, high = sorted(loads.of_kpa(np.array(frame.y_span)).tolist())
    own = even_ticks(low, high, at_most=8)
    places = frame.y(loads.to_kpa(np.array(own))).tolist()
    drawn = "".join(
        words(frame.left - 8, y_px + 5, load_text(load), "soft", "end")
        for load, y_px in zip(own, places, strict=True)
    )
    if loads.term != "kPa absolute":
        drawn += "".join(
            words(frame.right + 8, float(frame.y(kpa)) + 5, grouped(kpa), "soft")
            for kpa in even_ticks(*frame.y_span, at_most=8)
        )
    return drawn + "".join(
        words(float(frame.x(rpm)), frame.bottom + 22, grouped(rpm), "soft", "middle") for rpm in ticks_rpm
    )


def _key(plan: PlanResult, name: str, top_px: float, width_px: float) -> tuple[str, float]:
    """Draw each hatching with its word and letter form, in as many rows as the width asks."""
    drawn, x_px, y_px = "", 12.0, top_px
    for kind in held_kinds(plan):
        text = f"{HELD_WORDS[kind]} ({LETTER_FORMS[kind]})"
        step_px = 40 + text_width_px(text)
        if x_px > 12.0 and x_px + step_px > width_px:
            x_px, y_px = 12.0, y_px + 28
        swatch = _Box(x_px + 13, y_px - 5, 26.0)
        drawn += swatch.plate(20.0, fill=advance_colour(25.0))
        if kind in _HATCHINGS:
            drawn += swatch.plate(20.0, fill=f"url(#{_hatching(name, kind)})")
        drawn += words(x_px + 33, y_px, text, "soft")
        x_px += step_px + 8
    if plan.cells.over_ceiling.any():
        if x_px + 40 + text_width_px(OVER_WORDS) > width_px:
            x_px, y_px = 12.0, y_px + 28
        drawn += triangle(x_px + 13, y_px - 5) + words(x_px + 33, y_px, OVER_WORDS, "soft")
    return drawn, y_px + 16
