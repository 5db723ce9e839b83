"""The cap from above at true scale, and the tip against its post, enlarged, at each spark that matters."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Cell, Picture
from sparkwright.drawing.svg import (
    LINE_PX,
    degrees,
    element,
    grouped,
    line,
    number,
    paragraph,
    path,
    text_width_px,
    words,
)
from sparkwright.ignition.rotor import Rotation, RotorCap, tip_bearing_deg
from sparkwright.pictures.numbers import in_units_of
from sparkwright.plan.result import PlanResult
from sparkwright.units import System
from sparkwright.words.parts import length

POST_DEPTH_MM = 3.0
"""How deep posts and tip are drawn [mm]; nobody measures it and no result uses it."""

NUMBER_MM = 7.5
"""From a post's face to the number outside it [mm]."""

LEAST_WIDTH_MM = 96.0
"""Least width of a picture of a cap, for the words in it [mm]."""

_ROW_PX = 28.0
_ENLARGEMENTS = (6.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0)
_RULERS: dict[System, tuple[float, str]] = {"metric": (20.0, "20 mm"), "inch": (25.4, "1 in")}


@dataclass(frozen=True)
class TipPosition:
    """A spark that matters: its name, its advance [crank deg] and how the tip is drawn there."""

    name: str
    advance_deg: float
    class_: str = "thin"


POSITION_COLUMNS = (
    "spark",
    "advance [deg]",
    "tip ahead of its post [distributor deg]",
    "tip covers its post",
    "gap to its post [mm]",
    "gap to the next post [mm]",
    "gap to the previous post [mm]",
)


def position_row(cap: RotorCap, position: TipPosition) -> tuple[Cell, ...]:
    """Give the numbers of one spark, in the order of `POSITION_COLUMNS`.

    Parameters
    ----------
    cap : RotorCap
        The cap with its posts and tip.
    position : TipPosition
        Where the tip stands at the spark.
    """
    return (
        position.name.rsplit(" ", 1)[0],
        position.advance_deg,
        float(cap.offset_distributor_deg(position.advance_deg)),
        "yes" if cap.covers(position.advance_deg) else "no",
        float(cap.right_gap_mm(position.advance_deg)),
        float(cap.next_gap_mm(position.advance_deg)),
        float(cap.previous_gap_mm(position.advance_deg)),
    )


def tip_positions(hardware: HardwareResult, plan: PlanResult | None = None) -> tuple[TipPosition, ...]:
    """List the sparks to draw: cranking, base, idle and cruise where there is a plan, most advance.

    Parameters
    ----------
    hardware : HardwareResult
        Gives cranking (its first spark), base and the most advance that is needed.
    plan : PlanResult, optional
        Gives the idle's set value and the middle of the cruise row.
    """
    cap = hardware.rotor.cap
    positions = [
        TipPosition(f"cranking {degrees(spark.advance_deg)}", spark.advance_deg)
        for spark in hardware.cranking[:1]
    ]
    positions.append(TipPosition(f"base {degrees(cap.base_deg)}", cap.base_deg, "grey"))
    if plan is not None:
        cruise_deg = float(plan.cruise.plan_deg[plan.cruise.plan_deg.size // 2])
        positions.append(TipPosition(f"idle {degrees(plan.idle.set_deg)}", plan.idle.set_deg))
        positions.append(TipPosition(f"cruise {degrees(cruise_deg)}", cruise_deg))
    most_deg = hardware.rotor.most_deg
    positions.append(TipPosition(f"most {degrees(most_deg)}", most_deg, "dot"))
    return tuple(positions)


def cap_picture(
    hardware: HardwareResult,
    plan: PlanResult | None = None,
    name: str = "cap",
    strip: bool = True,
    system: System = "metric",
) -> Picture:
    """Draw the cap from above at true scale.

    Parameters
    ----------
    hardware : HardwareResult
        The rotor, its cap and the order of the leads.
    plan : PlanResult, optional
        Adds the tip at idle and at cruise.
    name : str
        Short name of the picture, used for files.
    strip : bool
        Draw, below the cap, the tip against its post at each spark, enlarged.
    system : {"metric", "inch"}
        Which units the person reads.

    Returns
    -------
    Picture
        Sized in millimetres: printed at its own size, the cap is as large as the real one.
    """
    cap, rotation = hardware.rotor.cap, hardware.rotor.rotation
    positions = tip_positions(hardware, plan)
    radius_mm = cap.post_radius_mm + NUMBER_MM + 4.0
    width_px = max(LEAST_WIDTH_MM, 2 * radius_mm + 4.0) * PX_PER_MM
    heading = "Cap from above, true scale"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    centre = Centre(width_px / 2, top_px - 12 + radius_mm * PX_PER_MM)
    drawn += draw_posts(cap, _posts(hardware), centre) + draw_tips(cap, rotation, positions, centre)
    drawn += draw_neighbour_gap(cap, rotation, hardware.rotor.most_deg, centre, system)
    drawn += draw_rotation(rotation, cap.tip_radius_mm, centre)
    bottom_px = centre.y + radius_mm * PX_PER_MM + 4
    drawn += _ruler(12, bottom_px + 8, system)
    bottom_px += 34
    if strip:
        below, bottom_px = draw_strip(cap, positions, bottom_px + 24, width_px, system=system)
        drawn += below
    columns, rows = in_units_of(
        system, POSITION_COLUMNS, [position_row(cap, position) for position in positions]
    )
    return Picture(
        name=name,
        title=heading,
        description=_description(hardware, positions),
        sentence=_sentence(hardware),
        columns=columns,
        rows=rows,
        width_px=width_px,
        height_px=bottom_px,
        body=drawn,
        in_mm=True,
    )


@dataclass(frozen=True)
class Centre:
    """The shaft's place; turns radius [mm] and bearing (clockwise from the top) into places [px]."""

    x: float
    y: float

    def at(self, radius_mm: float, bearing_deg: float) -> tuple[float, float]:
        """Place of a point at a radius and a bearing [px].

        Parameters
        ----------
        radius_mm : float
            Radius about the middle [mm].
        bearing_deg : float
            Bearing [deg], clockwise from the top.
        """
        angle = math.radians(bearing_deg)
        return (
            self.x + radius_mm * PX_PER_MM * math.sin(angle),
            self.y - radius_mm * PX_PER_MM * math.cos(angle),
        )

    def arc(self, radius_mm: float, start_deg: float, stop_deg: float) -> str:
        """Path data of an arc, clockwise where ``stop_deg`` is larger.

        Parameters
        ----------
        radius_mm : float
            Radius about the middle [mm].
        start_deg : float
            Bearing at which the arc begins [deg].
        stop_deg : float
            Bearing at which it ends [deg].
        """
        x, y = self.at(radius_mm, stop_deg)
        radius = number(radius_mm * PX_PER_MM)
        return f"A{radius} {radius} 0 0 {int(stop_deg > start_deg)} {number(x)} {number(y)}"

    def sector(self, inner_mm: float, outer_mm: float, bearing_deg: float, angle_deg: float) -> str:
        """Path data of a piece of a ring that covers ``angle_deg`` about a bearing.

        Parameters
        ----------
        inner_mm : float
            Inner radius of the ring [mm].
        outer_mm : float
            Outer radius of the ring [mm].
        bearing_deg : float
            Bearing of the piece's middle [deg].
        angle_deg : float
            Angle that the piece covers [deg].
        """
        start, stop = bearing_deg - angle_deg / 2, bearing_deg + angle_deg / 2
        x, y = self.at(outer_mm, start)
        turn_x, turn_y = self.at(inner_mm, stop)
        return (
            f"M{number(x)} {number(y)}{self.arc(outer_mm, start, stop)}"
            f"L{number(turn_x)} {number(turn_y)}{self.arc(inner_mm, stop, start)}Z"
        )


def _posts(hardware: HardwareResult) -> list[tuple[int, float]]:
    order = hardware.cap_order
    return list(zip(order.cylinders, order.bearings_deg, strict=True))


def draw_posts(cap: RotorCap, posts: Iterable[tuple[int, float]], centre: Centre) -> str:
    """Draw the posts at true scale, each with its cylinder outside; a post is (cylinder, bearing).

    Parameters
    ----------
    cap : RotorCap
        The cap, for the circle that the posts stand on.
    posts : iterable of tuple of int and float
        Cylinder and bearing [deg] of each post.
    centre : Centre
        Middle of the drawing, with its scale.
    """
    face_mm, back_mm = cap.post_radius_mm, cap.post_radius_mm + POST_DEPTH_MM
    drawn = element("circle", cx=centre.x, cy=centre.y, r=(back_mm + 1.0) * PX_PER_MM, class_="grid")
    for cylinder, bearing_deg in posts:
        sector = centre.sector(face_mm, back_mm, bearing_deg, cap.post_distributor_deg)
        x, y = centre.at(face_mm + NUMBER_MM, bearing_deg)
        drawn += element("path", d=sector, class_="solid") + words(
            x, y + 5, str(cylinder), "strong", "middle"
        )
    return drawn


def draw_tips(cap: RotorCap, rotation: Rotation, positions: tuple[TipPosition, ...], centre: Centre) -> str:
    """Draw the tip at each spark for the post at the top; filled where base and most advance are.

    Parameters
    ----------
    cap : RotorCap
        The cap with its posts and tip.
    rotation : Rotation
        Which way the rotor turns, as the eye sees it from above.
    positions : tuple of TipPosition
        Where the tip stands at each spark.
    centre : Centre
        Middle of the drawing, with its scale.
    """
    drawn = ""
    for position in sorted(positions, key=lambda one: one.class_ != "thin"):
        bearing = tip_bearing_deg(cap, position.advance_deg, rotation)
        inner_mm = cap.tip_radius_mm - POST_DEPTH_MM
        sector = centre.sector(inner_mm, cap.tip_radius_mm, bearing, cap.tip_distributor_deg)
        drawn += element("path", d=sector, class_=position.class_)
        if position.class_ != "thin":
            spoke = "mark" if position.class_ == "dot" else "thin"
            drawn += line(centre.x, centre.y, *centre.at(inner_mm, bearing), spoke)
    return drawn + element("circle", cx=centre.x, cy=centre.y, r=1.6 * PX_PER_MM, class_="solid")


GAP_LABEL_MM = 4.0
"""How far outside the posts the length of the air beside the tip stands [mm]."""


def draw_neighbour_gap(
    cap: RotorCap, rotation: Rotation, advance_deg: float, centre: Centre, system: System = "metric"
) -> str:
    """Draw the air between the tip and the nearer neighbour's post, with its length.

    Parameters
    ----------
    cap : RotorCap
        The cap with its posts and tip.
    rotation : Rotation
        Which way the rotor turns, as the eye sees it from above.
    advance_deg : float
        Advance of the spark [crank deg].
    centre : Centre
        Middle of the drawing, with its scale.
    system : System, optional
        Units that the person reads.
    """
    gaps = {1: float(cap.next_gap_mm(advance_deg)), -1: float(cap.previous_gap_mm(advance_deg))}
    along = min(gaps, key=lambda way: gaps[way])
    side = along if rotation == "clockwise" else -along
    tip = tip_bearing_deg(cap, advance_deg, rotation) + side * cap.tip_distributor_deg / 2
    post = side * (cap.pitch_distributor_deg - cap.post_distributor_deg / 2)
    # Outside the posts no other line runs that the length could be taken to belong to.
    x, y = centre.at(cap.post_radius_mm + POST_DEPTH_MM + GAP_LABEL_MM, tip + 0.5 * (post - tip))
    ends = [centre.at(cap.tip_radius_mm, tip), centre.at(cap.post_radius_mm, post)]
    return path(ends, "knock") + words(x, y, length(gaps[along], system), "warn halo", "middle")


def draw_rotation(rotation: Rotation, tip_radius_mm: float, centre: Centre) -> str:
    """Draw the arrow of rotation, inside the tip's circle.

    Parameters
    ----------
    rotation : Rotation
        Which way the rotor turns, as the eye sees it from above.
    tip_radius_mm : float
        Radius of the tip's circle [mm].
    centre : Centre
        Middle of the drawing, with its scale.
    """
    way = 1 if rotation == "clockwise" else -1
    radius_mm, start, stop = 0.45 * tip_radius_mm, 180 - way * 40, 180 + way * 40
    x, y = centre.at(radius_mm, start)
    shaft = element("path", d=f"M{number(x)} {number(y)}{centre.arc(radius_mm, start, stop)}", class_="edge")
    head = [
        centre.at(radius_mm - 1.3, stop - way * 2),
        centre.at(radius_mm, stop + way * 10),
        centre.at(radius_mm + 1.3, stop - way * 2),
    ]
    text_x, text_y = centre.at(radius_mm, 180)
    return shaft + path(head, "solid", closed=True) + words(text_x, text_y + 20, "turns", "soft", "middle")


def _ruler(x: float, y: float, system: System) -> str:
    """Draw a length to lay a ruler on, so that a print at the wrong size shows."""
    ruler_mm, said = _RULERS[system]
    end = x + ruler_mm * PX_PER_MM
    bar = line(x, y, end, y, "edge") + line(x, y - 5, x, y + 5, "edge") + line(end, y - 5, end, y + 5, "edge")
    return bar + words(end + 8, y + 5, f"{said}; print at 100 %", "soft")


def tip_span_mm(cap: RotorCap, positions: Iterable[TipPosition]) -> tuple[float, float]:
    """How far the tip comes on either side of the middle of its post [mm], for strips that compare.

    Parameters
    ----------
    cap : RotorCap
        The cap with its posts and tip.
    positions : iterable of TipPosition
        Where the tip stands at each spark.
    """
    half_tip = cap.tip_arc_mm(cap.tip_distributor_deg) / 2
    offsets = [cap.tip_arc_mm(float(cap.offset_distributor_deg(one.advance_deg))) for one in positions]
    return min(*offsets, 0.0) - half_tip, max(*offsets, 0.0) + half_tip


def draw_strip(
    cap: RotorCap,
    positions: tuple[TipPosition, ...],
    top_px: float,
    width_px: float,
    *,
    what: str = "The tip against its post",
    span_mm: tuple[float, float] | None = None,
    system: System = "metric",
) -> tuple[str, float]:
    """One row a spark: the tip, unrolled and enlarged, against its post; the drawing and where it ends.

    Parameters
    ----------
    cap : RotorCap
        The cap with its posts and tip.
    positions : tuple of TipPosition
        Where the tip stands at each spark, a row for each.
    top_px : float
        Where the first row begins [px].
    width_px : float
        Width of the strip [px].
    what : str, optional
        What stands above it.
    span_mm : tuple of float, optional
        How far the strip reaches to either side of the post [mm]; None for what these sparks need.
    system : System, optional
        Units that the person reads.
    """
    mm_per_deg = cap.tip_radius_mm * math.pi / 180.0
    half_tip, half_post = (
        angle * mm_per_deg / 2 for angle in (cap.tip_distributor_deg, cap.post_distributor_deg)
    )
    offsets = [float(cap.offset_distributor_deg(one.advance_deg)) * mm_per_deg for one in positions]
    low, high = span_mm or tip_span_mm(cap, positions)
    names = [_name_with_air(cap, one, system) for one in positions]
    left_px = 12 + max(text_width_px(name) for name in names)
    room_mm = (width_px - left_px - 16) / PX_PER_MM
    times = next((times for times in _ENLARGEMENTS if times * (high - low) <= room_mm), 1.0)
    scale = times * PX_PER_MM
    post_px = left_px + 8 - low * scale
    heading = f"{what}, {f'{times:g} times as large' if times > 1.0 else 'at its own size'}"
    drawn, y = paragraph(12, top_px, heading, width_px - 24, "heading")
    rows_px = y + 8
    height = len(positions) * _ROW_PX
    band = {"x": post_px - half_post * scale, "width": 2 * half_post * scale}
    drawn += element("rect", y=rows_px - 8, height=height + 10, class_="band", **band)
    drawn += element("rect", y=rows_px - 16, height=10.0, class_="solid", **band)
    for rank, (position, offset) in enumerate(zip(positions, offsets, strict=True)):
        y = rows_px + rank * _ROW_PX
        class_ = "" if cap.covers(position.advance_deg) else "warn"
        drawn += words(12, y + 15, names[rank], class_)
        bar = {"x": post_px + (offset - half_tip) * scale, "width": 2 * half_tip * scale}
        drawn += element("rect", y=y + 3, height=_ROW_PX - 12, class_=position.class_, **bar)
        drawn += _air((offset, half_tip, half_post), (post_px, y + 11), scale)
    y = rows_px + height + LINE_PX
    arrow = [(width_px - 12, y - 5), (width_px - 22, y - 10), (width_px - 22, y)]
    drawn += line(width_px - 60, y - 5, width_px - 22, y - 5, "edge") + path(arrow, "solid", closed=True)
    return drawn + words(width_px - 66, y, "turns", "soft", "end"), y + 16


def _name_with_air(cap: RotorCap, position: TipPosition, system: System) -> str:
    if cap.covers(position.advance_deg):
        return position.name
    return f"{position.name}, {length(float(cap.right_gap_mm(position.advance_deg)), system)} off"


def _air(tip_mm: tuple[float, float, float], post_px: tuple[float, float], scale: float) -> str:
    """Draw the air between the tip and its post, where the tip has left it."""
    offset, half_tip, half_post = tip_mm
    if abs(offset) <= half_tip + half_post:
        return ""
    x, y = post_px
    way = math.copysign(1.0, offset)
    return line(x + (offset - way * half_tip) * scale, y, x + way * half_post * scale, y, "knock")


def _sentence(hardware: HardwareResult) -> str:
    rotor = hardware.rotor
    reach, turn = rotor.today, hardware.spark_turn
    return (
        f"The tip covers its post from {grouped(reach.least_deg)} to {grouped(reach.most_deg)} deg; "
        f"the engine asks for {grouped(rotor.least_deg)} to {grouped(rotor.most_deg)}. "
        f"While a spark burns at {grouped(turn.rpm)} rpm it turns {turn.turn_distributor_deg:.0f} deg of its "
        "own toward the late end. "
        "Grey: tip at base. Blue: tip at most advance."
    )


def _description(hardware: HardwareResult, positions: tuple[TipPosition, ...]) -> str:
    cap = hardware.rotor.cap
    off = [one.name for one in positions if not cap.covers(one.advance_deg)]
    stands = f"The tip has left its post at: {', '.join(off)}." if off else "The tip covers its post at each."
    order = ", ".join(str(cylinder) for cylinder in hardware.cap_order.cylinders)
    return (
        f"A cap of {cap.cylinders} posts, seen from above, the rotor turning {hardware.rotor.rotation}. "
        f"Posts in the direction of rotation: {order}. "
        f"Tip drawn at {', '.join(one.name for one in positions)}. {stands}"
    )
