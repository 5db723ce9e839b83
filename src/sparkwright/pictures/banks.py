"""How the cylinders of two banks may be numbered, seen from above with the front of the engine at the top."""

from __future__ import annotations

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, words
from sparkwright.ignition.crank import NUMBERINGS, BankNumbering, banks

NUMBERING_WORDS: dict[BankNumbering, str] = {"odd-even": "odd and even", "by-bank": "bank by bank"}

_CYLINDER_PX, _PITCH_PX, _BANKS_PX = 13.0, 34.0, 56.0
_ENGINE_PX, _TOP_PX = 170.0, 66.0


def banks_picture(cylinders: int, told: BankNumbering | None = None) -> Picture:
    """Draw both ways in which two banks are numbered, beside one another.

    Parameters
    ----------
    cylinders : int
        How many there are in both banks.
    told : {"odd-even", "by-bank"}, optional
        The way of this engine, which is drawn as such.
    """
    rows = []
    drawn = ""
    for place, numbering in enumerate(NUMBERINGS):
        both = banks(cylinders, numbering)
        drawn += _engine(place * _ENGINE_PX, both, numbering, numbering == told)
        rows += [
            (NUMBERING_WORDS[numbering], bank, ", ".join(map(str, numbers)))
            for bank, numbers in zip(("one", "the other"), both, strict=True)
        ]
    own = "" if told is None else f" This engine's is {NUMBERING_WORDS[told]}."
    return Picture(
        name="banks",
        title="How two banks are numbered",
        description=f"From above, the front of the engine at the top; two ways of numbering.{own}",
        sentence=f"From above, front at the top. Either bank may be the left one.{own}",
        columns=("numbering", "bank", "cylinders, front to back"),
        rows=tuple(rows),
        width_px=2 * _ENGINE_PX,
        height_px=_TOP_PX + _PITCH_PX * (cylinders // 2),
        body=drawn,
    )


def _engine(left_px: float, both: tuple[tuple[int, ...], ...], numbering: BankNumbering, own: bool) -> str:
    middle_px = left_px + _ENGINE_PX / 2
    drawn = words(middle_px, 18, NUMBERING_WORDS[numbering], "accent strong" if own else "", "middle")
    drawn += words(middle_px, 40, "front", "soft", "middle")
    bottom_px = _TOP_PX + _PITCH_PX * len(both[0]) - _PITCH_PX / 2
    drawn += line(middle_px, _TOP_PX - 18, middle_px, bottom_px, "thin")
    for side, bank in zip((-0.5, 0.5), both, strict=True):
        for rank, cylinder in enumerate(bank):
            x, y = middle_px + side * _BANKS_PX, _TOP_PX + rank * _PITCH_PX
            drawn += element("circle", cx=x, cy=y, r=_CYLINDER_PX, class_="mark" if own else "thin")
            drawn += words(x, y + 5, str(cylinder), "strong" if own else "", "middle")
    return drawn
