"""The phasing sheet: the tip before and after its move, how far, and how a drilled cap proves it."""

from __future__ import annotations

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, words
from sparkwright.drawing.true_scale import (
    PAPER_MM,
    PairsPart,
    Sheet,
    TablePart,
    TextsPart,
    picture_part,
    room_mm,
)
from sparkwright.findings import Sentence
from sparkwright.ignition.rotor import Reach, RotorCap
from sparkwright.mounting.cap_plan import Station
from sparkwright.mounting.phasing import RotorPhasing
from sparkwright.pictures.cap import (
    POST_DEPTH_MM,
    Centre,
    draw_posts,
    draw_rotation,
    draw_strip,
    draw_tips,
    tip_span_mm,
)
from sparkwright.pictures.numbers import in_units_of
from sparkwright.sheets.cap_plan import parts_rows, stations_table, tip_rows
from sparkwright.units import System
from sparkwright.words import rotor_phasing
from sparkwright.words.parts import in_units, length
from sparkwright.words.told import sentences, told
from sparkwright.words.ways import way_of

_SIDE_MM = 84.0
_STRIP_WIDTH_PX, _NARROW_STRIP_PX = 660.0, 366.0
_GAP_PX = 14.0


def tips_picture(phasing: RotorPhasing, *, narrow: bool = False, system: System = "metric") -> Picture:
    """Draw the upper half of the cap at true scale, before on the left and after on the right.

    Where two don't fit beside one another, after stands below before; where it is `narrow`, as on a phone,
    each as a whole. Without a move the tip is drawn once.

    Parameters
    ----------
    phasing : RotorPhasing
        Where the tip stands now, and moved as advised.
    narrow : bool, optional
        Whether it is drawn for a narrow screen.
    system : System, optional
        Units that the person reads.
    """
    radius_mm = phasing.cap_before.post_radius_mm + 12.0
    side_mm = max(_SIDE_MM, 2 * radius_mm)
    states = _states(phasing)
    beside = not narrow and len(states) * side_mm <= min(room_mm(each)[0] for each in PAPER_MM)
    side_px = side_mm * PX_PER_MM
    below_mm = phasing.cap_before.post_radius_mm + 4.0 if narrow else 0.7 * phasing.cap_before.tip_radius_mm
    height_px = (radius_mm + below_mm) * PX_PER_MM
    drawn = ""
    for place, (name, cap, seen) in enumerate(states):
        x, y = (place * side_px, 0.0) if beside else (0.0, place * height_px)
        half = _half_cap(phasing, cap, seen, Centre(0.5 * side_px, radius_mm * PX_PER_MM))
        # A window of its own, since what lies below the half would run into the one below it.
        drawn += element("svg", half, x=x, y=y, width=side_px, height=height_px)
        drawn += words(x + 2, y + 16, name, "heading")
    columns, rows = in_units_of(
        system,
        ("state", "spark", "advance [deg]", "tip ahead of post [mm]", "covers"),
        [
            (state, each.name, each.advance_deg, each.ahead_mm, "yes" if each.covers else "no")
            for state, seen in _seen(phasing)
            for each in seen
        ],
    )
    return Picture(
        name="phasing-narrow" if narrow else "phasing",
        title="The tip at post 1, now and moved, true scale",
        description=str(told(phasing.headline, system).sentence),
        sentence=f"{'From' if narrow else 'The upper half of the cap from'} above, true scale. "
        "Grey: tip at base. Blue: tip at most advance. It must face post 1 at both.",
        columns=columns,
        rows=rows,
        width_px=len(states) * side_px if beside else side_px,
        height_px=height_px if beside else len(states) * height_px,
        body=drawn,
        in_mm=True,
    )


def _states(phasing: RotorPhasing) -> list[tuple[str, RotorCap, tuple[Station, ...]]]:
    """Give how the tip stands now, and after the move where there is one."""
    now = ("Now", phasing.cap_before, phasing.before)
    return [now, (_then(phasing), phasing.cap_after, phasing.after)] if phasing.moves else [now]


def _seen(phasing: RotorPhasing) -> list[tuple[str, tuple[Station, ...]]]:
    return [("now", phasing.before), *([("moved", phasing.after)] if phasing.moves else [])]


def _half_cap(phasing: RotorPhasing, cap: RotorCap, seen: tuple[Station, ...], centre: Centre) -> str:
    """Draw post 1 with its neighbours, unnumbered: only their places count here."""
    drawn = draw_posts(cap, [(1, 0.0)], centre)
    face_mm = cap.post_radius_mm
    for bearing in (-cap.pitch_distributor_deg, cap.pitch_distributor_deg):
        sector = centre.sector(face_mm, face_mm + POST_DEPTH_MM, bearing, cap.post_distributor_deg)
        drawn += element("path", d=sector, class_="solid")
    drawn += draw_tips(cap, phasing.rotation, tip_rows(seen), centre)
    return drawn + draw_rotation(phasing.rotation, cap.tip_radius_mm, centre)


def strips_picture(phasing: RotorPhasing, *, narrow: bool = False, system: System = "metric") -> Picture:
    """Draw the tip against its post at each spark, enlarged, now and moved under one another.

    Parameters
    ----------
    phasing : RotorPhasing
        Where the tip stands now, and moved as advised.
    narrow : bool, optional
        Whether it is drawn for a narrow screen.
    system : System, optional
        Units that the person reads.
    """
    width_px = _NARROW_STRIP_PX if narrow else _STRIP_WIDTH_PX
    y, drawn = 16.0, ""
    states = [
        (f"{name}: the tip against its post", cap, tip_rows(seen)) for name, cap, seen in _states(phasing)
    ]
    lows, highs = zip(*(tip_span_mm(cap, rows) for _, cap, rows in states), strict=True)
    span_mm = min(lows), max(highs)
    for what, cap, tips in states:
        strip, y = draw_strip(cap, tips, y, width_px, what=what, span_mm=span_mm, system=system)
        drawn += strip
        y += _GAP_PX
    columns, rows = in_units_of(
        system,
        ("state", "spark", "advance [deg]", "tip ahead of post [mm]"),
        [
            (state, each.name, each.advance_deg, each.ahead_mm)
            for state, seen in _seen(phasing)
            for each in seen
        ],
    )
    return Picture(
        name="phasing-strips-narrow" if narrow else "phasing-strips",
        title="The tip against its post, now and moved",
        description=str(told(phasing.headline, system).action),
        sentence="",
        columns=columns,
        rows=rows,
        width_px=width_px,
        height_px=y,
        body=drawn,
        in_mm=True,
    )


def phasing_sheet(
    phasing: RotorPhasing, title: str, invented: bool, fingerprint: str, system: System = "metric"
) -> Sheet:
    """Lay the phasing sheet out.

    Parameters
    ----------
    phasing : RotorPhasing
        Where the tip stands now, and moved as advised.
    title : str
        Name of the job.
    invented : bool
        Whether the job is invented; the sheet then says so.
    fingerprint : str
        Fingerprint of the job; "" leaves it out.
    system : System, optional
        Units that the person reads.
    """
    lead = told(phasing.headline, system)
    return Sheet(
        kind="Rotor phasing",
        title=title,
        invented=invented,
        headline=str(lead.sentence),
        action=str(lead.action),
        problems=tuple(map(str, sentences(phasing.warnings, system))),
        rows=(
            (picture_part(tips_picture(phasing, system=system)),),
            (picture_part(strips_picture(phasing, system=system), note=""),),
            *_move_and_gain(phasing, system),
            (TextsPart("Cautions", rotor_phasing.CAUTIONS, "cautions"),),
            *(
                ((TextsPart("Moving it", _written(rotor_phasing.steps(phasing), system), "steps"),),)
                if phasing.advised
                else ()
            ),
            (
                TextsPart(
                    "Proving it with a drilled cap and the light",
                    _written(rotor_phasing.proof(phasing), system),
                    "steps",
                ),
            ),
            (_places(phasing, system),),
        ),
        fingerprint=fingerprint,
    )


def _move_and_gain(phasing: RotorPhasing, system: System) -> tuple[tuple[PairsPart, ...], ...]:
    """Give the rows that say what the move is, what it gains, and what both were reckoned from."""
    reckoned_from = PairsPart("Reckoned from", parts_rows(phasing.parts, system))
    if not phasing.moves:
        return ((PairsPart("What it covers", _gain(phasing), label_mm=24.0), reckoned_from),)
    return (
        (
            PairsPart("The move" if phasing.advised else "To the middle", _move(phasing, system)),
            PairsPart("What it gains", _gain(phasing), label_mm=24.0),
        ),
        (reckoned_from,),
    )


def _then(phasing: RotorPhasing) -> str:
    return "Moved" if phasing.advised else "Centred"


def _written(sentences: tuple[Sentence, ...], system: System) -> tuple[str, ...]:
    return tuple(in_units(each, system) for each in sentences)


def _places(phasing: RotorPhasing, system: System) -> TablePart:
    if phasing.advised:
        return stations_table(
            "Where the moved tip stands, from the middle of its post", phasing.after, system
        )
    return stations_table("Where the tip stands, from the middle of its post", phasing.before, system)


def _move(phasing: RotorPhasing, system: System) -> tuple[tuple[str, str], ...]:
    return (
        ("Way", way_of(phasing.rotation, phasing.move_mm)),
        ("At the tip's end", f"{length(abs(phasing.move_mm), system, '.2f')} along its circle"),
        ("At the distributor", f"{abs(phasing.move_distributor_deg):.2f} deg"),
        ("At the crank", f"{abs(phasing.move_crank_deg):.2f} deg"),
        ("Of the tip's width", f"{abs(phasing.move_tip_fraction):.2f}"),
        ("Rotor phase then", f"{phasing.phase_distributor_deg:.1f} distributor deg"),
    )


def _gain(phasing: RotorPhasing) -> tuple[tuple[str, str], ...]:
    return (
        ("Asked", f"{phasing.least_deg:.1f} to {phasing.most_deg:.1f} deg"),
        ("Now", _reach(phasing.reach_before)),
        *([(_then(phasing), _reach(phasing.reach_after))] if phasing.moves else []),
        ("Known to", f"{phasing.reach_spread_deg:.0f} deg" if phasing.reach_spread_deg else "as measured"),
        ("Then missing", f"{phasing.missing_deg:.1f} deg" if phasing.missing_deg > 0.0 else "nothing"),
    )


def _reach(reach: Reach) -> str:
    return f"{reach.least_deg:.1f} to {reach.most_deg:.1f} deg"
