"""The cap plan: posts, leads and rotor at true scale, and which leads to keep apart."""

from __future__ import annotations

import math

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import degrees, element, number, text_width_px, words
from sparkwright.drawing.true_scale import PairsPart, PicturePart, Sheet, TablePart, TextsPart, picture_part
from sparkwright.mounting.cap_plan import CapPlan, Loom, Part, Station
from sparkwright.pictures.cap import (
    NUMBER_MM,
    Centre,
    TipPosition,
    draw_posts,
    draw_rotation,
    draw_strip,
    draw_tips,
)
from sparkwright.pictures.numbers import in_units_of
from sparkwright.units import System
from sparkwright.words.parts import length
from sparkwright.words.told import sentences, told

_ARC_MM = NUMBER_MM + 5.0  # from a post's face to the arc that joins leads to keep apart
_PLAN_WIDTH_MM = 98.0
_STRIP_WIDTH_PX = 660.0
_HOLE_MM = 8.0
_HOLE_PITCH_MM = 14.0

LEADS = (
    "Leads in the order of the holders below keep those that fire one after the other from lying side by "
    "side. Where two still do, cross them or leave a thumb's width of air: one spark can fire the other "
    "cylinder early, on its compression. Common practice, no source.",
    "Pickup wires stay a hand's breadth from every lead.",
)
CAUTIONS = (
    "Key off and battery disconnected before a hand goes near cap, leads or coil: the voltage can kill. "
    "Never pull or hold a lead of a running engine.",
    "Number the leads before they come off. A lead on the wrong post fires a cylinder on its intake stroke: "
    "flames in the intake, broken pistons.",
)
"""Cautions and practice of the trade, in our words. Common practice, no source."""


def tip_rows(stations: tuple[Station, ...]) -> tuple[TipPosition, ...]:
    """Name stations as the strip draws them: base grey, the most advance in the accent.

    Parameters
    ----------
    stations : tuple of Station
        Where the tip stands at each spark.
    """
    most = max(station.advance_deg for station in stations)
    rows = []
    for each in stations:
        class_ = "grey" if each.name == "base" else "dot" if each.advance_deg == most else "thin"
        rows.append(TipPosition(f"{each.name} {degrees(each.advance_deg)}", each.advance_deg, class_))
    return tuple(rows)


def cap_plan_picture(plan: CapPlan, system: System = "metric") -> Picture:
    """Draw the cap from above at true scale, with leads that must be kept apart joined outside it.

    Parameters
    ----------
    plan : CapPlan
        The cap with its posts, leads and tip.
    system : System, optional
        Units that the person reads.
    """
    cap, lead = plan.cap, told(plan.headline, system)
    radius_mm = cap.post_radius_mm + _ARC_MM + 8.0
    width_px = max(_PLAN_WIDTH_MM, 2 * radius_mm) * PX_PER_MM
    centre = Centre(width_px / 2, radius_mm * PX_PER_MM)
    drawn = draw_posts(cap, [(post.cylinder, post.bearing_deg) for post in plan.posts], centre)
    drawn += draw_tips(cap, plan.rotation, tip_rows(plan.stations), centre)
    drawn += draw_rotation(plan.rotation, cap.tip_radius_mm, centre) + _joined(plan, centre)
    return Picture(
        name="cap-plan",
        title="Cap from above, true scale",
        description=f"{lead.sentence} {lead.action}",
        sentence="From above, true scale, post 1 at the top. Grey: tip at base. Blue: tip at most advance."
        + (" Brown arcs join leads to keep apart." if plan.kept_apart else ""),
        columns=("post of cylinder", "bearing, clockwise from post 1 [deg]"),
        rows=tuple((post.cylinder, post.bearing_deg) for post in plan.posts),
        width_px=width_px,
        height_px=2 * radius_mm * PX_PER_MM,
        body=drawn,
        in_mm=True,
    )


def _joined(plan: CapPlan, centre: Centre) -> str:
    """Join, outside the numbers, the posts of leads to keep apart; they are neighbours in the cap."""
    bearings = {post.cylinder: post.bearing_deg for post in plan.posts}
    way = 1.0 if plan.rotation == "clockwise" else -1.0
    pitch_deg = plan.cap.pitch_distributor_deg
    radius_mm = plan.cap.post_radius_mm + _ARC_MM
    drawn = ""
    for first in dict.fromkeys(pair.first for pair in plan.kept_apart or ()):
        start = bearings[first]
        x, y = centre.at(radius_mm, start)
        arc = centre.arc(radius_mm, start, start + way * pitch_deg)
        drawn += element("path", d=f"M{number(x)} {number(y)}{arc}", class_="knock")
    return drawn


def tip_strip_picture(plan: CapPlan, system: System = "metric") -> Picture:
    """Draw the tip against its post at each spark, unrolled and enlarged.

    Parameters
    ----------
    plan : CapPlan
        The cap with its posts, leads and tip.
    system : System, optional
        Units that the person reads.
    """
    drawn, bottom_px = draw_strip(plan.cap, tip_rows(plan.stations), 18.0, _STRIP_WIDTH_PX, system=system)
    columns, rows = in_units_of(
        system,
        ("spark", "advance [deg]", "tip ahead of post [mm]"),
        [(each.name, each.advance_deg, each.ahead_mm) for each in plan.stations],
    )
    return Picture(
        name="tip-strip",
        title="The tip against its post",
        description=str(told(plan.headline, system).sentence),
        sentence="",
        columns=columns,
        rows=rows,
        width_px=_STRIP_WIDTH_PX,
        height_px=bottom_px,
        body=drawn,
        in_mm=True,
    )


def loom_picture(looms: tuple[Loom, ...]) -> Picture:
    """Draw each loom's holders as a row of holes, with a gap between leads that no order can part.

    Parameters
    ----------
    looms : tuple of Loom
        Holders of leads, each in the order of its holes.
    """
    name_px = max(text_width_px(loom.name) for loom in looms) + 16
    most = max(len(loom.leads) for loom in looms)
    gaps = max(len(loom.still_together) for loom in looms)
    width_px = name_px + (most * _HOLE_PITCH_MM + gaps * _HOLE_PITCH_MM) * PX_PER_MM
    drawn = "".join(_holders(loom, name_px, row) for row, loom in enumerate(looms))
    return Picture(
        name="looms",
        title="Order of the leads in their holders",
        description="; ".join(f"{loom.name}: {'-'.join(map(str, loom.leads))}" for loom in looms),
        sentence="",
        columns=("loom", "leads in order", "leave air between"),
        rows=tuple(
            (
                loom.name,
                " ".join(map(str, loom.leads)),
                ", ".join(f"{one} and {other}" for one, other in loom.still_together),
            )
            for loom in looms
        ),
        width_px=width_px,
        height_px=len(looms) * (_HOLE_MM + 3.0) * PX_PER_MM,
        body=drawn,
        in_mm=True,
    )


def _holders(loom: Loom, left_px: float, row: int) -> str:
    radius_px = _HOLE_MM / 2 * PX_PER_MM
    y = (row * (_HOLE_MM + 3.0) + _HOLE_MM / 2 + 0.5) * PX_PER_MM
    drawn = words(0, y + 5, loom.name, "soft")
    x = left_px + radius_px
    for before, lead in zip((None, *loom.leads), loom.leads, strict=False):
        if (before, lead) in loom.still_together:
            drawn += words(x, y + 5, "air", "warn", "middle")
            x += _HOLE_PITCH_MM * PX_PER_MM
        drawn += element("circle", cx=x, cy=y, r=radius_px, class_="edge")
        drawn += words(x, y + 5, str(lead), "strong", "middle")
        x += _HOLE_PITCH_MM * PX_PER_MM
    return drawn


def cap_plan_sheet(
    plan: CapPlan, title: str, invented: bool, fingerprint: str, system: System = "metric"
) -> Sheet:
    """Lay the cap plan out on one sheet.

    Parameters
    ----------
    plan : CapPlan
        The cap with its posts, leads and tip.
    title : str
        Name of the job.
    invented : bool
        Whether the job is invented; the sheet then says so.
    fingerprint : str
        Fingerprint of the job; "" leaves it out.
    system : System, optional
        Units that the person reads.
    """
    cap, lead = plan_part(plan, system), told(plan.headline, system)
    return Sheet(
        kind="Cap plan",
        title=title,
        invented=invented,
        headline=str(lead.sentence),
        action=str(lead.action),
        problems=tuple(map(str, sentences(plan.warnings, system))),
        rows=(
            (cap, TextsPart("Leads", (_apart(plan), *LEADS), "words")),
            (
                picture_part(
                    loom_picture(plan.looms),
                    title="Leads in their holders, in this order",
                    note=_rows_note(plan),
                ),
                PairsPart("Drawn from", parts_rows(plan.parts, system)),
            ),
            (TextsPart("Cautions", CAUTIONS, "cautions"),),
            (picture_part(tip_strip_picture(plan, system), note=""),),
            (stations_table("Where the rotor points, for post 1", plan.stations, system),),
        ),
        fingerprint=fingerprint,
    )


def _apart(plan: CapPlan) -> str:
    if plan.kept_apart is None:
        return "Which leads to keep apart is not determined: state how the cylinders are numbered."
    kept = ", ".join(f"{pair.first} and {pair.second}" for pair in plan.kept_apart)
    if not kept:
        return "No leads that fire one after the other run side by side."
    return f"Fire one after the other and run side by side, keep apart: {kept}."


def _rows_note(plan: CapPlan) -> str:
    both_ways = len(plan.looms) > 2
    return "Use the two rows that go with the numbering of this engine's cylinders." if both_ways else ""


def plan_part(plan: CapPlan, system: System = "metric") -> PicturePart:
    """Put the cap on a sheet.

    Parameters
    ----------
    plan : CapPlan
        The cap with its posts, leads and tip.
    system : System, optional
        Units that the person reads.
    """
    return picture_part(cap_plan_picture(plan, system))


def parts_rows(parts: tuple[Part, ...], system: System) -> tuple[tuple[str, str], ...]:
    """Write dimensions, each with whether it was measured.

    Parameters
    ----------
    parts : tuple of Part
        Dimensions of cap and rotor.
    system : System
        Units that the person reads.
    """
    return tuple(
        (
            part.name,
            f"{length(part.size_mm, system, '.2f')}, "
            f"{'measured' if part.measured else 'assumed from the size class'}",
        )
        for part in parts
    )


def stations_table(title: str, stations: tuple[Station, ...], system: System) -> TablePart:
    """Write stations as a table.

    Parameters
    ----------
    title : str
        What stands above the table.
    stations : tuple of Station
        Where the tip stands at each spark.
    system : System
        Units that the person reads.
    """
    return TablePart(
        title,
        (
            "spark",
            "advance",
            "tip past its post",
            "along the tip's circle",
            "tip bears, clockwise",
            "gap",
            "covers",
        ),
        tuple(
            (
                each.name,
                f"{each.advance_deg:.1f} deg",
                f"{_signed(each.ahead_deg)} distributor deg",
                _along(each.ahead_mm, system),
                f"{each.bearing_deg % 360.0:.1f} deg",
                length(each.gap_mm, system),
                "yes" if each.covers else "NO",
            )
            for each in stations
        ),
    )


def _along(value_mm: float, system: System) -> str:
    """Say a place along the tip's circle with its sign, and nought without one."""
    said = length(value_mm, system)
    if math.isclose(value_mm, 0.0, abs_tol=0.05):
        return length(0.0, system)
    return said if value_mm < 0.0 else f"+{said}"


def _signed(value: float) -> str:
    """Write a number with its sign, and nought without one."""
    return "0.0" if math.isclose(value, 0.0, abs_tol=0.05) else f"{value:+.1f}"
