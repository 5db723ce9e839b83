"""Timing tapes and degree rings: which mark stands where, in mm of paper, before anything is drawn.

Angles are crank degrees, positive before top dead centre. Places along a tape are mm of flat paper from its
zero mark, positive to the right with the numbers upright.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sparkwright.errors import Refusal
from sparkwright.findings import Finding
from sparkwright.mounting.questions import EVERY_DEG, RING, TAPE
from sparkwright.units import show_both

CrankRotation = Literal["clockwise", "anticlockwise"]
ScaleOn = Literal["damper", "cover"]
ReadFrom = Literal["front", "rear"]
Rank = Literal["zero", "ten", "five", "small"]

CLOSEST_MARKS_MM = 0.7
"""Distance below which two marks run together by eye and in print [mm]. Common practice, no source."""

MARK_ERROR_MM = 0.5
"""How well a tape is laid on its mark by hand [mm]. Common practice, no source."""


@dataclass(frozen=True)
class TapeMark:
    """One mark: its angle, its place on the flat paper, how long it is drawn, its number ("" for none)."""

    advance_deg: float
    place_mm: float
    rank: Rank
    label: str


@dataclass(frozen=True)
class TapePiece:
    """A stretch of tape that fits a sheet: from and to on the paper [mm], with the pieces it meets."""

    number: int
    left_mm: float
    right_mm: float
    meets_left: int | None
    meets_right: int | None


@dataclass(frozen=True)
class Tape:
    """A timing tape, computed and not yet drawn.

    ``mm_per_deg`` is on the flat paper, ``advance_side`` on which side of zero the degrees before top dead
    centre stand with the numbers upright, ``laid_doubt_deg`` what half a millimetre in laying it is worth.
    """

    diameter_mm: float
    thickness_mm: float
    width_mm: float
    most_before_deg: float
    most_after_deg: float
    every_deg: float
    rotation: CrankRotation
    scale_on: ScaleOn
    read_from: ReadFrom
    mm_per_deg: float
    advance_side: Literal["right", "left"]
    left_mm: float
    right_mm: float
    marks: tuple[TapeMark, ...]
    laid_doubt_deg: float
    warnings: tuple[Finding, ...]

    def pieces(self, room_mm: float) -> tuple[TapePiece, ...]:
        """Cut the tape into stretches no longer than a sheet has room for.

        It is cut midway between numbered marks, where a five-degree mark helps to join it again.

        Parameters
        ----------
        room_mm : float
            Longest stretch [mm].

        Examples
        --------
        >>> [round(piece.right_mm - piece.left_mm) for piece in tape(168.0, 180.0, 180.0).pieces(250.0)]
        [242, 249, 37]
        """
        ends = [self.left_mm]
        while self.right_mm - ends[-1] > room_mm:
            cuts = [place for place in self._cuts() if ends[-1] < place <= ends[-1] + room_mm]
            ends.append(max(cuts))
        ends.append(self.right_mm)
        last = len(ends) - 2
        return tuple(
            TapePiece(
                number=rank + 1,
                left_mm=ends[rank],
                right_mm=ends[rank + 1],
                meets_left=rank if rank else None,
                meets_right=rank + 2 if rank < last else None,
            )
            for rank in range(last + 1)
        )

    def _cuts(self) -> list[float]:
        way = 1.0 if self.advance_side == "right" else -1.0
        return [way * self.mm_per_deg * (10.0 * ten + 5.0) for ten in range(-19, 19)]


@dataclass(frozen=True)
class RingMark:
    """One mark of a degree ring: its angle, its bearing seen by the reader (clockwise from the top)."""

    advance_deg: float
    bearing_deg: float
    rank: Rank
    label: str


@dataclass(frozen=True)
class RingTile:
    """The part of a ring that one sheet shows: its left and lower edge from the ring's centre [mm]."""

    row: int
    column: int
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class DegreeRing:
    """A degree ring for the face of a pulley, computed and not yet drawn.

    ``advance_way`` is the way in which degrees before top dead centre run, as the reader sees them;
    ``off_centre_deg`` what 1 mm off centre makes it read wrong [crank deg].
    """

    outer_diameter_mm: float
    inner_diameter_mm: float
    every_deg: float
    rotation: CrankRotation
    scale_on: ScaleOn
    read_from: ReadFrom
    advance_way: CrankRotation
    mm_per_deg: float
    off_centre_deg: float
    marks: tuple[RingMark, ...]
    warnings: tuple[Finding, ...]

    def tiles(
        self, room_width_mm: float, room_height_mm: float, overlap_mm: float = 10.0
    ) -> tuple[RingTile, ...]:
        """Share the ring among sheets that overlap.

        Parameters
        ----------
        room_width_mm, room_height_mm : float
            What one sheet has room for [mm].
        overlap_mm : float
            What a sheet repeats of its neighbour [mm].

        Examples
        --------
        >>> [len(degree_ring(outer_mm, 60.0).tiles(180.0, 180.0)) for outer_mm in (150.0, 300.0)]
        [1, 4]
        """
        whole_mm = self.outer_diameter_mm + 2.0
        columns = _tiles_along(whole_mm, room_width_mm, overlap_mm)
        rows = _tiles_along(whole_mm, room_height_mm, overlap_mm)
        width_mm = (whole_mm + (columns - 1) * overlap_mm) / columns
        height_mm = (whole_mm + (rows - 1) * overlap_mm) / rows
        return tuple(
            RingTile(
                row=row,
                column=column,
                left_mm=-whole_mm / 2 + column * (width_mm - overlap_mm),
                top_mm=-whole_mm / 2 + row * (height_mm - overlap_mm),
                width_mm=width_mm,
                height_mm=height_mm,
            )
            for row in range(rows)
            for column in range(columns)
        )


def _tiles_along(whole_mm: float, room_mm: float, overlap_mm: float) -> int:
    return max(1, math.ceil((whole_mm - overlap_mm) / (room_mm - overlap_mm) - 1e-9))


def paper_mm_per_deg(diameter_mm: float, thickness_mm: float) -> float:
    """Give the length of flat paper that one crank degree takes when it lies round a rim.

    Parameters
    ----------
    diameter_mm : float
        Diameter of the bare rim where the tape goes [mm].
    thickness_mm : float
        Thickness of the tape with its glue [mm].

    Returns
    -------
    float
        ``pi (D + t)/360``: bent, the middle of the tape keeps its length, and lies half its thickness off
        the rim [mm per crank deg].

    Notes
    -----
    Geometry of the circle; the middle keeping its length is thin-strip bending (any text on strength of
    materials).

    Examples
    --------
    >>> round(paper_mm_per_deg(203.2, 0.0), 5)
    1.77325
    """
    return math.pi * (diameter_mm + thickness_mm) / 360.0


def advance_side(
    rotation: CrankRotation, scale_on: ScaleOn = "damper", read_from: ReadFrom = "front"
) -> Literal["right", "left"]:
    """Give the side of zero on which the degrees before top dead centre stand, numbers upright.

    Seen from outside with the engine's front below, a rim that turns clockwise (from the front) runs to the
    right, wherever on the rim the pointer stands. On the damper a mark that passes the pointer early has run
    ahead, so degrees before stand in the direction of rotation; on a fixed cover they stand against it. Read
    from the rear, everything stands on its head.

    Parameters
    ----------
    rotation : {"clockwise", "anticlockwise"}
        Which way the crank turns, seen from the front of the engine.
    scale_on : {"damper", "cover"}
        What turns: the scale, or a mark that passes it.
    read_from : {"front", "rear"}
        From which end of the engine it is read.

    Examples
    --------
    >>> advance_side("clockwise"), advance_side("anticlockwise"), advance_side("clockwise", "cover")
    ('right', 'left', 'left')
    """
    turned = (rotation == "anticlockwise") + (scale_on == "cover") + (read_from == "rear")
    return "right" if turned % 2 == 0 else "left"


def tape(
    diameter_mm: float,
    most_before_deg: float,
    most_after_deg: float,
    *,
    every_deg: float = 1.0,
    thickness_mm: float = 0.1,
    width_mm: float = 12.0,
    rotation: CrankRotation = "clockwise",
    scale_on: ScaleOn = "damper",
    read_from: ReadFrom = "front",
) -> Tape:
    """Compute a timing tape.

    Parameters
    ----------
    diameter_mm : float
        Diameter of the rim where the tape goes [mm], 30 to 1000.
    most_before_deg, most_after_deg : float
        How far it reads to either side of zero [crank deg], 0 to 180 each.
    every_deg : {0.5, 1, 2, 5, 10}
        Step of the small marks [crank deg].
    thickness_mm : float
        Thickness of the tape with its glue [mm], 0 to 2.
    width_mm : float
        Width of the tape [mm], 8 to 60.
    rotation : {"clockwise", "anticlockwise"}
        Which way the crank turns, seen from the front of the engine.
    scale_on : {"damper", "cover"}
        Whether the tape turns past a fixed pointer, or is fixed and a mark passes it.
    read_from : {"front", "rear"}
        From which end of the engine the numbers stand upright.

    Raises
    ------
    Refusal
        For a value outside its range.

    Examples
    --------
    >>> strip = tape(203.2, 60.0, 10.0, thickness_mm=0.0)
    >>> round(strip.right_mm, 2), round(strip.left_mm, 2), len(strip.marks)
    (106.4, -17.73, 71)
    """
    TAPE["diameter"].require(diameter_mm)
    TAPE["before"].require(most_before_deg)
    TAPE["after"].require(most_after_deg)
    TAPE["thickness"].require(thickness_mm)
    TAPE["width"].require(width_mm)
    if most_before_deg + most_after_deg < 10.0:
        raise Refusal.at(
            "before, after", f"{most_before_deg:g} and {most_after_deg:g}", "must span 10 deg or more"
        )
    _known_step(every_deg)
    mm_per_deg = paper_mm_per_deg(diameter_mm, thickness_mm)
    side = advance_side(rotation, scale_on, read_from)
    way = 1.0 if side == "right" else -1.0
    ends_mm = sorted((-way * most_after_deg * mm_per_deg, way * most_before_deg * mm_per_deg))
    marks = tuple(
        TapeMark(angle, way * angle * mm_per_deg, _rank(angle), _label(angle))
        for angle in _angles(-most_after_deg, most_before_deg, every_deg)
    )
    return Tape(
        diameter_mm=diameter_mm,
        thickness_mm=thickness_mm,
        width_mm=width_mm,
        most_before_deg=most_before_deg,
        most_after_deg=most_after_deg,
        every_deg=every_deg,
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
        mm_per_deg=mm_per_deg,
        advance_side=side,
        left_mm=ends_mm[0],
        right_mm=ends_mm[1],
        marks=marks,
        laid_doubt_deg=MARK_ERROR_MM / mm_per_deg,
        warnings=_crowded(every_deg, mm_per_deg),
    )


def degree_ring(
    outer_diameter_mm: float,
    inner_diameter_mm: float,
    *,
    every_deg: float = 1.0,
    rotation: CrankRotation = "clockwise",
    scale_on: ScaleOn = "damper",
    read_from: ReadFrom = "front",
) -> DegreeRing:
    """Compute a degree ring for the face of a pulley: the whole turn, 0 at the top of the sheet.

    Parameters
    ----------
    outer_diameter_mm, inner_diameter_mm : float
        Edge of the ring and its hole [mm].
    every_deg : {0.5, 1, 2, 5, 10}
        Step of the small marks [crank deg].
    rotation, scale_on, read_from : str
        As for `tape`.

    Raises
    ------
    Refusal
        For a value outside its range, or less than 15 mm between hole and edge.

    Examples
    --------
    >>> ring = degree_ring(250.0, 100.0)
    >>> len(ring.marks), ring.advance_way
    (360, 'clockwise')
    """
    RING["diameter"].require(outer_diameter_mm)
    RING["hole"].require(inner_diameter_mm)
    if inner_diameter_mm > outer_diameter_mm - 30.0:
        raise Refusal.at(
            "hole",
            show_both(inner_diameter_mm, "length"),
            f"must leave {show_both(15.0, 'length')} of ring all round, so at most "
            f"{show_both(outer_diameter_mm - 30.0, 'length')}",
            "the numbers need that room",
        )
    _known_step(every_deg)
    # A face shows no head or foot: read from the rear only mirrors the way it is seen to turn.
    way: CrankRotation = (
        "clockwise" if advance_side(rotation, scale_on, read_from) == "right" else "anticlockwise"
    )
    sign = 1.0 if way == "clockwise" else -1.0
    mm_per_deg = paper_mm_per_deg(outer_diameter_mm, 0.0)
    return DegreeRing(
        outer_diameter_mm=outer_diameter_mm,
        inner_diameter_mm=inner_diameter_mm,
        every_deg=every_deg,
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
        advance_way=way,
        mm_per_deg=mm_per_deg,
        off_centre_deg=1.0 / mm_per_deg,
        marks=tuple(
            RingMark(angle, (sign * angle) % 360.0, _rank(angle), _label(angle))
            for angle in _angles(-180.0, 180.0, every_deg)
            if angle > -180.0
        ),
        warnings=_crowded(every_deg, mm_per_deg),
    )


def _angles(low_deg: float, high_deg: float, every_deg: float) -> list[float]:
    first, last = math.ceil(low_deg / every_deg - 1e-9), math.floor(high_deg / every_deg + 1e-9)
    return [index * every_deg for index in range(first, last + 1)]


def _rank(advance_deg: float) -> Rank:
    if advance_deg == 0.0:
        return "zero"
    if advance_deg % 10.0 == 0.0:
        return "ten"
    return "five" if advance_deg % 5.0 == 0.0 else "small"


def _label(advance_deg: float) -> str:
    return f"{abs(advance_deg):g}" if advance_deg % 10.0 == 0.0 else ""


def _crowded(every_deg: float, mm_per_deg: float) -> tuple[Finding, ...]:
    apart_mm = every_deg * mm_per_deg
    if apart_mm >= CLOSEST_MARKS_MM:
        return ()
    better = next(step for step in (*EVERY_DEG, 30.0) if step * mm_per_deg >= CLOSEST_MARKS_MM)
    return (Finding("scale.crowded", "look", {"apart_mm": apart_mm, "better_deg": better}),)


def _known_step(every_deg: float) -> None:
    if every_deg not in EVERY_DEG:
        allowed = ", ".join(f"{step:g}" for step in EVERY_DEG)
        raise Refusal.at("every", f"{every_deg:g} deg", f"must be one of {allowed} deg")
