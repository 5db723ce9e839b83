"""The timing tape as pictures at true scale, one a piece, and the sheet that holds them."""

from __future__ import annotations

from math import ceil, floor
from typing import NamedTuple

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, line, path, words
from sparkwright.drawing.true_scale import (
    PairsPart,
    Paper,
    Sheet,
    TextsPart,
    one_row_each,
    picture_part,
    room_mm,
)
from sparkwright.mounting.tape import Tape, TapeMark, TapePiece
from sparkwright.units import System, show
from sparkwright.words.parts import in_own_units, length, own_unit
from sparkwright.words.told import sentences

_EDGE_MM = 10.0  # room left and right of a piece, for its tab and the end of its numbers
_END_MM = 6.0  # bare paper beyond the last mark
_TOP_MM = 5.0
_BELOW_MM = 11.0
PEN_MM = {"zero": 0.5, "ten": 0.35, "five": 0.28, "small": 0.2}
_LENGTH = {"zero": 1.0, "ten": 0.55, "five": 0.42, "small": 0.28}  # shares of the tape's width


class _Ruler(NamedTuple):
    """How a ruler is divided: its step, and after how many of them a longer and a numbered line stand."""

    step_mm: float
    longer: int
    numbered: int
    each: int
    """What a number counts on by, in `unit`."""
    unit: str


_RULERS: dict[System, _Ruler] = {
    "metric": _Ruler(1.0, 5, 10, 10, "mm"),
    "inch": _Ruler(25.4 / 16, 4, 16, 1, "in"),
}

HOW_TO_LAY_IT = (
    "Measure both control lines. Cut along the thin frame; join pieces edge to edge at their joint, on the "
    "tab.",
    "Find true top dead centre first and put the zero line there; the old mark may be wrong.",
    "Clean the rim of grease and rust, lay the tape from zero outwards without pulling it, and seal it.",
    "Check one place: measure from zero along the rim to the last number and compare with the scale under "
    "the tape.",
)
CAUTIONS = (
    "Engine off, key out, battery disconnected while hands are at the damper. Nothing loose stays on it: a "
    "tape or a label that flies off at speed takes a hand or an eye with it.",
    "Read it from beside the fan's plane, never in line with it; sleeves, hair and the light's leads clear "
    "of fan and belts.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


def tape_picture(tape: Tape, piece: TapePiece, of: int, system: System = "metric") -> Picture:
    """Draw one piece of a tape at true scale, with the ruler from zero under it.

    Parameters
    ----------
    tape : Tape
        The whole tape.
    piece : TapePiece
        Which part of it.
    of : int
        How many pieces there are.
    system : System, optional
        Units that the person reads.
    """
    draw = _Piece(tape, piece, _RULERS[system])
    width_px = (piece.right_mm - piece.left_mm + 2 * _EDGE_MM) * PX_PER_MM
    marks = [mark for mark in tape.marks if piece.left_mm - 1e-6 <= mark.place_mm <= piece.right_mm + 1e-6]
    return Picture(
        name=f"tape-{piece.number}",
        title=f"Timing tape, piece {piece.number} of {of}",
        description=f"Marks from {grouped(marks[0].advance_deg)} to {grouped(marks[-1].advance_deg)} deg, "
        f"{on_paper(tape.mm_per_deg, system, '.4f')} a degree, degrees before top dead centre to the "
        f"{tape.advance_side}.",
        sentence="",
        columns=("advance [deg]", f"from zero [{own_unit('length', system)}]"),
        rows=tuple((mark.advance_deg, in_own_units(mark.place_mm, "length", system)) for mark in marks),
        width_px=width_px,
        height_px=(_TOP_MM + tape.width_mm + _BELOW_MM) * PX_PER_MM,
        body=draw.frame()
        + draw.sides()
        + draw.joints()
        + "".join(draw.mark(mark) for mark in marks)
        + draw.ruler(),
        in_mm=True,
    )


class _Piece:
    """Draws one piece; places are mm from the tape's zero, and down from its upper edge."""

    def __init__(self, tape: Tape, piece: TapePiece, divided: _Ruler) -> None:
        self.tape, self.piece, self.divided = tape, piece, divided

    def x(self, place_mm: float) -> float:
        return (place_mm - self.piece.left_mm + _EDGE_MM) * PX_PER_MM

    def y(self, down_mm: float) -> float:
        return (_TOP_MM + down_mm) * PX_PER_MM

    def stroke(self, place_mm: float, from_mm: float, to_mm: float, pen_mm: float) -> str:
        """Draw an upright mark as a filled bar, whose middle is the place."""
        return element(
            "rect",
            x=self.x(place_mm - pen_mm / 2),
            y=self.y(from_mm),
            width=pen_mm * PX_PER_MM,
            height=(to_mm - from_mm) * PX_PER_MM,
            class_="solid",
        )

    def mark(self, mark: TapeMark) -> str:
        length_mm = _LENGTH[mark.rank] * self.tape.width_mm
        drawn = self.stroke(mark.place_mm, 0.0, length_mm, PEN_MM[mark.rank])
        if mark.label and self._has_room(mark):
            class_ = "strong" if mark.advance_deg >= 0.0 else "slanted"
            text = grouped(mark.advance_deg)
            shift_mm = 2.2 if mark.rank == "zero" else 0.0
            drawn += words(
                self.x(mark.place_mm + shift_mm), self.y(self.tape.width_mm) - 4, text, class_, "middle"
            )
        return drawn

    def _has_room(self, mark: TapeMark) -> bool:
        """Numbers of a joint's ends and of narrow scales would run into one another."""
        return 10.0 * self.tape.mm_per_deg >= 6.0 or mark.advance_deg % 20.0 == 0.0

    def frame(self) -> str:
        """Draw where to cut, with bare paper beyond the last marks for the ends of their numbers."""
        left = self.x(self.piece.left_mm - (_END_MM if self.piece.meets_left is None else 0.0))
        right = self.x(self.piece.right_mm + (_END_MM if self.piece.meets_right is None else 0.0))
        top, bottom = self.y(0.0), self.y(self.tape.width_mm)
        return path([(left, top), (right, top), (right, bottom), (left, bottom)], "thin", closed=True)

    def sides(self) -> str:
        """Say above zero which side is which."""
        if not self.piece.left_mm <= 0.0 <= self.piece.right_mm:
            return ""
        right, left = ("before", "after") if self.tape.advance_side == "right" else ("after", "before")
        return self._side(right, 1.0, "start") + self._side(left, -1.0, "end")

    def _side(self, text: str, way: float, anchor: str) -> str:
        """Write a side's name above the tape, with an arrow away from zero."""
        y = self.y(0.0) - 5
        tail, head = self.x(way * 15.0), self.x(way * 20.0)
        shaft = line(tail, y - 4, head, y - 4, "thin")
        point = [(head + way * 6, y - 4), (head, y - 7), (head, y - 1)]
        name = words(self.x(way * 1.5), y, text, "soft", anchor)
        return name + shaft + path(point, "grey", closed=True)

    def joints(self) -> str:
        """Draw the tab under which the neighbour goes, and arrows that must meet at the joint."""
        drawn = ""
        top, bottom = self.y(0.0), self.y(self.tape.width_mm)
        if self.piece.meets_left is not None:
            joint, end = self.x(self.piece.left_mm), self.x(self.piece.left_mm - 8.0)
            drawn += path([(joint, top), (end, top + 4), (end, bottom - 4), (joint, bottom)], "thin")
            drawn += words((joint + end) / 2, (top + bottom) / 2 + 5, "tab", "soft", "middle")
            drawn += self._arrows(joint, f"to piece {self.piece.meets_left}", "start")
        if self.piece.meets_right is not None:
            drawn += self._arrows(self.x(self.piece.right_mm), f"to piece {self.piece.meets_right}", "end")
        return drawn

    def _arrows(self, joint: float, text: str, anchor: str) -> str:
        top, bottom = self.y(0.0), self.y(self.tape.width_mm)
        above = path([(joint, top), (joint - 4, top - 8), (joint + 4, top - 8)], "solid", closed=True)
        below = path(
            [(joint, bottom), (joint - 4, bottom + 8), (joint + 4, bottom + 8)], "solid", closed=True
        )
        aside = 8.0 if anchor == "start" else -8.0
        return above + below + words(joint + aside, top - 4, text, "soft", anchor)

    def ruler(self) -> str:
        """Draw lengths from zero under the tape, to hold the person's ruler against."""
        top_mm, divided = self.tape.width_mm + 2.5, self.divided
        first, last = ceil(self.piece.left_mm / divided.step_mm), floor(self.piece.right_mm / divided.step_mm)
        drawn = line(
            self.x(self.piece.left_mm), self.y(top_mm), self.x(self.piece.right_mm), self.y(top_mm), "thin"
        )
        for step in range(first, last + 1):
            place_mm, numbered = step * divided.step_mm, step % divided.numbered == 0
            long_mm = 2.4 if numbered else 1.6 if step % divided.longer == 0 else 0.9
            drawn += self.stroke(place_mm, top_mm, top_mm + long_mm, 0.13)
            if numbered:
                text = f"{abs(step) // divided.numbered * divided.each}"
                said = text if step else f"0 {divided.unit}"
                drawn += words(self.x(place_mm), self.y(top_mm + 6.6), said, "soft", "middle")
        return drawn


def tape_pictures(tape: Tape, paper: Paper = "a4", system: System = "metric") -> tuple[Picture, ...]:
    """Draw a tape in the pieces that sheets of a paper, across, have room for.

    Parameters
    ----------
    tape : Tape
        The tape with its marks and its length.
    paper : Paper, optional
        Paper whose room across counts.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> from sparkwright.mounting.tape import tape
    >>> [picture.name for picture in tape_pictures(tape(168.0, 180.0, 20.0))]
    ['tape-1', 'tape-2']
    """
    pieces = tape.pieces(room_mm(paper, "across")[0] - 2 * _EDGE_MM)
    return tuple(tape_picture(tape, piece, len(pieces), system) for piece in pieces)


def tape_sheet(
    tape: Tape,
    *,
    paper: Paper = "a4",
    title: str = "Any engine",
    invented: bool = False,
    fingerprint: str = "",
    system: System = "metric",
) -> Sheet:
    """Lay a tape out on sheets of paper, across, as many pieces as it takes.

    Parameters
    ----------
    tape : Tape
        The tape.
    paper : {"a4", "letter"}
        Sheet size.
    title, fingerprint : str
        Of the job, where there is one.
    invented : bool
        Whether its data are invented.
    system : {"metric", "inch"}
        Which units the person reads.
    """
    strips = [picture_part(picture) for picture in tape_pictures(tape, paper, system)]
    ahead = "ahead of" if tape.scale_on == "damper" else "behind"
    return Sheet(
        kind="Timing tape",
        title=title,
        invented=invented,
        headline=f"For a rim of {show(tape.diameter_mm, 'length', system)}: "
        f"{tape.most_before_deg:g} deg before to {tape.most_after_deg:g} after top dead centre.",
        action=f"Degrees before stand {tape.advance_side} of zero, {ahead} it in rotation. "
        "Those after carry a minus.",
        problems=tuple(map(str, sentences(tape.warnings, system))),
        rows=one_row_each(
            [
                *strips,
                PairsPart("Made for", _made_for(tape, len(strips), system)),
                TextsPart("Laying it", HOW_TO_LAY_IT, "steps"),
                TextsPart("Cautions", CAUTIONS, "cautions"),
            ]
        ),
        fingerprint=fingerprint,
        way="across",
    )


def _made_for(tape: Tape, pieces: int, system: System) -> tuple[tuple[str, str], ...]:
    where = "on the damper, past a fixed pointer" if tape.scale_on == "damper" else "fixed, a mark passes it"
    return (
        ("Crank turns", f"{tape.rotation}, seen from the front of the engine"),
        ("The tape is", f"{where}; numbers upright from the {tape.read_from}"),
        (
            "Scale",
            f"{on_paper(tape.mm_per_deg, system, '.4f')} of paper for 1 crank deg; "
            f"{on_paper(10 * tape.mm_per_deg, system, '.2f')} for 10; "
            f"tape {on_paper(tape.thickness_mm, system, 'g')} thick, counted at its middle",
        ),
        (
            "Whole length",
            f"{length(tape.right_mm - tape.left_mm, system)} in {pieces} piece{'s' if pieces > 1 else ''}",
        ),
        (f"Laid {length(0.5, system)} off", f"reads {tape.laid_doubt_deg:.2f} deg wrong"),
    )


def on_paper(length_mm: float, system: System, form: str) -> str:
    """Say a length on paper as finely as it is drawn.

    Parameters
    ----------
    length_mm : float
        The length [mm].
    system : System
        Units that the person reads.
    form : str
        How millimetres are written, as a format of Python.
    """
    if system == "metric":
        return f"{length_mm:{form}} mm"
    return f"{in_own_units(length_mm, 'length', system):.4f} in"
