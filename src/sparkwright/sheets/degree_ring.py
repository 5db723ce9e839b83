"""The degree ring for the face of a pulley, at true scale, on as many sheets as it takes."""

from __future__ import annotations

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, number, path, words
from sparkwright.drawing.true_scale import (
    PairsPart,
    Paper,
    Sheet,
    TextsPart,
    one_row_each,
    picture_part,
    room_mm,
)
from sparkwright.findings import Length, Sentence
from sparkwright.mounting.tape import DegreeRing, RingMark, RingTile
from sparkwright.pictures.cap import Centre
from sparkwright.sheets.tape import PEN_MM, on_paper
from sparkwright.units import System, show
from sparkwright.words.parts import in_units, length
from sparkwright.words.told import sentences

_LENGTH_MM = {"zero": 11.0, "ten": 6.0, "five": 4.5, "small": 3.0}
_NUMBER_MM = 8.6  # from the ring's edge to the middle of a number
_HEAD_MM = 30.0  # what the sentences over the first tile take
_LABEL_MM = 6.0

HOW_TO_FIX_IT = (
    Sentence(
        "Measure both control lines on every sheet. Cut each sheet along its dashed lines and butt the "
        "sheets there: the crosses on the lines must meet."
    ),
    Sentence(
        "Cut out ring and hole, glue it to a flat card or sheet, and centre it on the shaft: {0} off centre "
        "reads up to the degrees wrong that are told below.",
        (Length(1.0, "g"),),
    ),
    Sentence(
        "Bend a stiff wire to its edge as a pointer, find true top dead centre with a stop, and turn the "
        "ring or bend the wire until it shows zero there."
    ),
    Sentence("It is for turning the engine by hand. Take it off before the engine is started."),
)
CAUTIONS = (
    "Key off, battery disconnected, plugs out while hands are at the pulley: turn the engine at the crank's "
    "bolt, bar off again before anything else.",
    "A ring of paper or card must not be on the engine when it runs: it flies off and takes an eye with it.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


def ring_picture(ring: DegreeRing, tile: RingTile, of: int, system: System = "metric") -> Picture:
    """Draw the part of a ring that one sheet shows, at true scale.

    Parameters
    ----------
    ring : DegreeRing
        The whole ring.
    tile : RingTile
        Which part of it.
    of : int
        How many parts there are.
    system : System, optional
        Units that the person reads.
    """
    centre = Centre(-tile.left_mm * PX_PER_MM, (_LABEL_MM - tile.top_mm) * PX_PER_MM)
    body = (
        _circles(ring, centre)
        + "".join(_mark(ring, mark, centre) for mark in ring.marks)
        + _hub(ring, centre)
    )
    place = f"row {tile.row + 1}, column {tile.column + 1}" if of > 1 else "whole"
    return Picture(
        name=f"degree-ring-{tile.row + 1}-{tile.column + 1}",
        title=f"Degree ring, {place}",
        description=f"A ring of {length(ring.outer_diameter_mm, system)}, degrees before top dead centre "
        f"running {ring.advance_way} from zero at the top.",
        sentence="",
        columns=("advance [deg]", "bearing, clockwise from the top [deg]"),
        rows=tuple((mark.advance_deg, mark.bearing_deg) for mark in ring.marks),
        width_px=tile.width_mm * PX_PER_MM,
        height_px=(tile.height_mm + _LABEL_MM) * PX_PER_MM,
        body=body + _joints(ring, tile, centre, of),
        in_mm=True,
    )


def _circles(ring: DegreeRing, centre: Centre) -> str:
    radii = (ring.outer_diameter_mm / 2, ring.inner_diameter_mm / 2)
    return "".join(
        element("circle", cx=centre.x, cy=centre.y, r=radius * PX_PER_MM, class_="thin") for radius in radii
    )


def _mark(ring: DegreeRing, mark: RingMark, centre: Centre) -> str:
    """Draw a mark as a bar of even width, and its number turned to be read from outside."""
    edge_mm, half_mm = ring.outer_diameter_mm / 2, PEN_MM[mark.rank] / 2
    bar = element(
        "rect",
        x=centre.x - half_mm * PX_PER_MM,
        y=centre.y - edge_mm * PX_PER_MM,
        width=2 * half_mm * PX_PER_MM,
        height=_LENGTH_MM[mark.rank] * PX_PER_MM,
        class_="solid",
        transform=_turn(mark.bearing_deg, centre),
    )
    crowded = 10.0 * ring.mm_per_deg < 7.0 and mark.advance_deg % 20.0
    if not mark.label or crowded or mark.rank == "zero":
        return bar
    text = words(
        centre.x,
        centre.y - (edge_mm - _NUMBER_MM - 1.6) * PX_PER_MM,
        grouped(mark.advance_deg),
        "strong" if mark.advance_deg >= 0.0 else "slanted",
        "middle",
        transform=_turn(mark.bearing_deg, centre),
    )
    return bar + text


def _turn(bearing_deg: float, centre: Centre) -> str:
    return f"rotate({bearing_deg:.6g} {number(centre.x)} {number(centre.y)})"


def _hub(ring: DegreeRing, centre: Centre) -> str:
    """Draw zero's name, which way is before, and the cross of the centre."""
    edge_mm = ring.outer_diameter_mm / 2
    drawn = words(centre.x, centre.y - (edge_mm - 15.4) * PX_PER_MM, "0", "strong", "middle")
    for end in ([(-4.0, 0.0), (4.0, 0.0)], [(0.0, -4.0), (0.0, 4.0)]):
        points = [(centre.x + x * PX_PER_MM, centre.y + y * PX_PER_MM) for x, y in end]
        drawn += path(points, "thin")
    return drawn


def _joints(ring: DegreeRing, tile: RingTile, centre: Centre, of: int) -> str:
    """Draw where sheets meet, in the middle of what they share, with crosses that must lie on one another."""
    if of == 1:
        return ""
    label = f"row {tile.row + 1}, column {tile.column + 1}; cut along the dashed lines"
    strip = element(
        "rect", width=tile.width_mm * PX_PER_MM, height=_LABEL_MM * PX_PER_MM, class_="background"
    )
    drawn = strip + words(2, 14, label, "soft")
    reach_mm = ring.outer_diameter_mm / 2 + 2.0
    half_mm = 5.0
    for along_mm in (tile.left_mm + half_mm, tile.left_mm + tile.width_mm - half_mm):
        if abs(along_mm) < reach_mm - 2 * half_mm:
            drawn += _cut(centre, [(along_mm, -reach_mm), (along_mm, reach_mm)])
    for down_mm in (tile.top_mm + half_mm, tile.top_mm + tile.height_mm - half_mm):
        if abs(down_mm) < reach_mm - 2 * half_mm:
            drawn += _cut(centre, [(-reach_mm, down_mm), (reach_mm, down_mm)])
    return drawn


def _cut(centre: Centre, ends_mm: list[tuple[float, float]]) -> str:
    (left, top), (right, bottom) = [(centre.x + x * PX_PER_MM, centre.y + y * PX_PER_MM) for x, y in ends_mm]
    drawn = path([(left, top), (right, bottom)], "old")
    for share in (0.12, 0.25, 0.38, 0.62, 0.75, 0.88):
        x, y = left + share * (right - left), top + share * (bottom - top)
        drawn += path([(x - 7, y - 7), (x + 7, y + 7)], "thin") + path(
            [(x - 7, y + 7), (x + 7, y - 7)], "thin"
        )
    return drawn


def ring_pictures(ring: DegreeRing, paper: Paper = "a4", system: System = "metric") -> tuple[Picture, ...]:
    """Draw a ring in the parts that sheets of a paper have room for.

    Parameters
    ----------
    ring : DegreeRing
        The ring with its marks and its diameter.
    paper : Paper, optional
        Paper whose room counts.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> from sparkwright.mounting.tape import degree_ring
    >>> [picture.name for picture in ring_pictures(degree_ring(150.0, 40.0))]
    ['degree-ring-1-1']
    """
    width_mm, height_mm = room_mm(paper)
    tiles = ring.tiles(width_mm, height_mm - _HEAD_MM - _LABEL_MM)
    return tuple(ring_picture(ring, tile, len(tiles), system) for tile in tiles)


def ring_sheet(
    ring: DegreeRing,
    *,
    paper: Paper = "a4",
    title: str = "Any engine",
    invented: bool = False,
    fingerprint: str = "",
    system: System = "metric",
) -> Sheet:
    """Lay a degree ring out on sheets of paper, as many as it takes.

    Parameters
    ----------
    ring : DegreeRing
        The ring.
    paper : {"a4", "letter"}
        Sheet size.
    title, fingerprint : str
        Of the job, where there is one.
    invented : bool
        Whether its data are invented.
    system : {"metric", "inch"}
        Which units the person reads.
    """
    tiles = ring_pictures(ring, paper, system)
    return Sheet(
        kind="Degree ring",
        title=title,
        invented=invented,
        headline=f"A ring of {show(ring.outer_diameter_mm, 'length', system)} with a hole of "
        f"{show(ring.inner_diameter_mm, 'length', system)}.",
        action=f"Degrees before top dead centre run {ring.advance_way} from zero; those after carry a minus.",
        problems=tuple(map(str, sentences(ring.warnings, system))),
        rows=one_row_each(
            [
                *(picture_part(tile) for tile in tiles),
                PairsPart("Made for", _made_for(ring, len(tiles), system)),
                TextsPart("Fixing it", tuple(in_units(each, system) for each in HOW_TO_FIX_IT), "steps"),
                TextsPart("Cautions", CAUTIONS, "cautions"),
            ]
        ),
        fingerprint=fingerprint,
    )


def _made_for(ring: DegreeRing, tiles: int, system: System) -> tuple[tuple[str, str], ...]:
    where = "turns past a fixed pointer" if ring.scale_on == "damper" else "is fixed, a mark passes it"
    return (
        ("Crank turns", f"{ring.rotation}, seen from the front of the engine"),
        ("The ring", f"{where}, and is looked at from the {ring.read_from}"),
        ("Scale at its edge", f"{on_paper(ring.mm_per_deg, system, '.4f')} for 1 crank deg"),
        (f"{length(1.0, system, 'g')} off centre", f"reads up to {ring.off_centre_deg:.2f} deg wrong"),
        ("Sheets", "1" if tiles == 1 else f"{tiles}, numbered by row and column"),
    )
