"""The cap from above at true scale at one spark, so drawn that a page can turn the tip at once."""

from __future__ import annotations

import math

from sparkwright.check.cap_now import CapNow
from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import degrees, element, grouped, line, number, paragraph, path
from sparkwright.ignition.rotor import tip_bearing_deg
from sparkwright.pictures.cap import (
    LEAST_WIDTH_MM,
    NUMBER_MM,
    POSITION_COLUMNS,
    POST_DEPTH_MM,
    Centre,
    TipPosition,
    draw_neighbour_gap,
    draw_posts,
    draw_rotation,
    draw_strip,
    position_row,
)
from sparkwright.pictures.numbers import in_units_of
from sparkwright.units import System
from sparkwright.words.cap import said_first

_BAND_MM = 2.0  # how broad the span that is reached is drawn, inside the tip's path


def cap_live_picture(now: CapNow, name: str = "cap-now", system: System = "metric") -> Picture:
    """Draw the cap from above at one spark, with the span that is reached and the one that is asked.

    The tip stands in a group of the class ``tip-now`` that says its bearing, which way bearings count and
    where the shaft is.

    Parameters
    ----------
    now : CapNow
        The spark.
    name : str
        Short name of the picture, used within the page.
    system : {"metric", "inch"}
        Which units the person reads.
    """
    cap = now.cap
    radius_mm = cap.post_radius_mm + NUMBER_MM + 4.0
    width_px = max(LEAST_WIDTH_MM, 2 * radius_mm + 4.0) * PX_PER_MM
    heading = f"Cap from above, the spark at {degrees(now.advance_deg, 1)}"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    centre = Centre(width_px / 2, top_px - 12 + radius_mm * PX_PER_MM)
    posts = zip(now.order.cylinders, now.order.bearings_deg, strict=True)
    drawn += draw_posts(cap, posts, centre) + _spans(now, centre) + _tip(now, centre)
    drawn += _gaps(now, centre, system) + draw_rotation(now.rotation, cap.tip_radius_mm, centre)
    positions = (
        TipPosition(f"least {degrees(now.asked.least_deg)}", now.asked.least_deg),
        TipPosition(f"now {degrees(now.advance_deg)}", now.advance_deg, "dot"),
        TipPosition(f"most {degrees(now.asked.most_deg)}", now.asked.most_deg),
    )
    below, bottom_px = draw_strip(
        cap, positions, centre.y + radius_mm * PX_PER_MM + 28, width_px, what="Tip on post", system=system
    )
    columns, rows = in_units_of(
        system, POSITION_COLUMNS, [position_row(cap, position) for position in positions]
    )
    return Picture(
        name=name,
        title=heading,
        description=(
            f"A cap of {cap.cylinders} posts, seen from above, the rotor turning {now.rotation}. "
            f"{said_first(now)} It reaches from {now.reach.least_deg:.0f} to {now.reach.most_deg:.0f} deg."
        ),
        sentence=(
            f"Blue: the tip now. Grey band: where its middle may stand, {grouped(now.reach.least_deg)} to "
            f"{grouped(now.reach.most_deg)} deg. Dark line: what is asked, {grouped(now.asked.least_deg)} to "
            f"{grouped(now.asked.most_deg)}. Drawn to scale."
        ),
        columns=columns,
        rows=rows,
        width_px=width_px,
        height_px=bottom_px,
        body=drawn + below,
        in_mm=True,
    )


def _spans(now: CapNow, centre: Centre) -> str:
    """Draw where the middle of the tip may stand, and where the plan wants it to."""
    cap, rotation = now.cap, now.rotation
    outer_mm = cap.tip_radius_mm - POST_DEPTH_MM - 1.0
    ends = [tip_bearing_deg(cap, one, rotation) for one in (now.reach.least_deg, now.reach.most_deg)]
    band = centre.sector(outer_mm - _BAND_MM, outer_mm, (ends[0] + ends[1]) / 2, abs(ends[1] - ends[0]))
    drawn = element("path", d=band, class_="band") + element("path", d=band, class_="thin")
    asked = sorted(tip_bearing_deg(cap, one, rotation) for one in (now.asked.least_deg, now.asked.most_deg))
    radius_mm = outer_mm - _BAND_MM - 1.2
    x, y = centre.at(radius_mm, asked[0])
    arc = f"M{number(x)} {number(y)}{centre.arc(radius_mm, asked[0], asked[1])}"
    drawn += element("path", d=arc, class_="edge")
    for bearing in asked:
        drawn += line(*centre.at(radius_mm - 0.8, bearing), *centre.at(radius_mm + 0.8, bearing), "edge")
    return drawn


def _tip(now: CapNow, centre: Centre) -> str:
    cap = now.cap
    bearing = tip_bearing_deg(cap, now.advance_deg, now.rotation)
    inner_mm = cap.tip_radius_mm - POST_DEPTH_MM
    sector = centre.sector(inner_mm, cap.tip_radius_mm, bearing, cap.tip_distributor_deg)
    return element(
        "g",
        line(centre.x, centre.y, *centre.at(inner_mm, bearing), "mark"),
        element("path", d=sector, class_="dot"),
        element("circle", cx=centre.x, cy=centre.y, r=1.6 * PX_PER_MM, class_="solid"),
        class_="tip-now",
        data_bearing=bearing,
        data_way="1" if now.rotation == "clockwise" else "-1",
        data_x=centre.x,
        data_y=centre.y,
    )


def _gaps(now: CapNow, centre: Centre, system: System) -> str:
    """Draw the air to the neighbour, and to the tip's own post where the tip has left it."""
    cap = now.cap
    drawn = draw_neighbour_gap(cap, now.rotation, now.advance_deg, centre, system)
    if not now.covers:
        bearing = tip_bearing_deg(cap, now.advance_deg, now.rotation)
        way = math.copysign(1.0, bearing)
        ends = (
            centre.at(cap.tip_radius_mm, bearing - way * cap.tip_distributor_deg / 2),
            centre.at(cap.post_radius_mm, way * cap.post_distributor_deg / 2),
        )
        drawn += path(ends, "knock")
    return element("g", drawn, class_="gaps-now")
