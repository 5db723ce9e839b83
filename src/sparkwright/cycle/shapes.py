"""The kinds of combustion chamber: for each, one record of everything in which it differs from the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

Shape = Literal["wedge", "open", "hemispherical", "pent-roof", "side-valve", "flat-disc"]


class Roof(NamedTuple):
    """How high a roof stands over each place, as numbers that compiled code takes.

    Over the bore, at ``u`` bore radii from its axis towards the plug and ``r`` from it altogether, the roof
    stands at ``max(0, level + slope u + ridge |u| + dome r**2) / highest`` of its greatest height, or, with
    ``is_cap``, as a cap of a sphere with its rim at the deck. In a pocket beside the bore, an ellipse about
    the line through axis and plug, it has its greatest height everywhere; no pocket has length 0. It must
    end within 2.3 bore radii on the plug's side and 1.1 on the other.
    """

    level: float = 0.0
    slope: float = 0.0
    ridge: float = 0.0
    dome: float = 0.0
    highest: float = 1.0
    is_cap: bool = False
    pocket_at: float = 0.0
    """Of its middle, in bore radii from the bore's axis."""
    pocket_half_length: float = 0.0
    """In bore radii, along the line through axis and plug."""
    pocket_half_width: float = 0.0
    """In bore radii, across that line."""


@dataclass(frozen=True)
class LimitDoubt:
    """Why best and knock limit of a chamber are less firm than those that the program was held against.

    Parameters
    ----------
    kind
        "fast-burn": a plug amid a compact chamber, where the law asks for fewer octane numbers than such
        engines need. "side-valve": the law was never held against knock in one.
    octane_numbers
        By how many it asks for too few [-]; None where not determined.
    best_deg, ln_knock
        Standard deviations of best [crank deg] and of ln of the knock integral [-], on top of those of any
        engine.
    origin
        Where these come from.

    Notes
    -----
    A pent-roof and a wedge on the same metal, 9.5 to 1 at 2,500 rpm and full load, get by at best with 81 and
    94 octane in the program. Engines in use ask for about as much with the one head as with the other (common
    practice, no source), so that the difference is taken for the law's error.
    """

    kind: Literal["fast-burn", "side-valve"]
    octane_numbers: float | None
    best_deg: float
    ln_knock: float
    origin: str


@dataclass(frozen=True)
class ChamberShape:
    """Everything in which one kind of chamber differs from the others.

    Parameters
    ----------
    roof
        Its form.
    plug_offset_bores
        Distance of the plug from the bore axis, where it was not measured [bores]; recalled, no source.
    head_area
        Area of the roof over that of the piston [-]; recalled, from the usual shapes.
    reach_bores
        How far it extends from the bore axis on the plug's side [bores].
    rocker_ratio
        Valve lift over tappet lift, where nothing else is known [-]; common practice, no source.
    limit_doubt
        Why its knock limit is less firm than that of others; None where there is no such reason.
    """

    roof: Roof
    plug_offset_bores: float
    head_area: float
    reach_bores: float = 0.5
    rocker_ratio: float = 1.5
    limit_doubt: LimitDoubt | None = None


SHAPES: Final[dict[Shape, ChamberShape]] = {
    # A quench flat on the far side, then a slope that rises past the plug.
    "wedge": ChamberShape(Roof(level=0.45, slope=1.0, highest=1.45), 0.22, 1.25),
    # A shallow dome over the whole bore.
    "open": ChamberShape(Roof(level=1.0, dome=-0.5), 0.15, 1.15),
    "hemispherical": ChamberShape(Roof(is_cap=True), 0.12, 1.3),
    # Two slopes that meet over the axis.
    "pent-roof": ChamberShape(
        Roof(level=1.0, ridge=-1.0),
        0.0,
        1.2,
        limit_doubt=LimitDoubt(
            "fast-burn", 13.0, 4.0, 0.47, "13 octane numbers by which the knock law falls short of practice"
        ),
    ),
    # A quench flat over the bore, and a pocket over the valves beside it.
    "side-valve": ChamberShape(
        Roof(pocket_at=0.95, pocket_half_length=1.15, pocket_half_width=0.95),
        0.50,
        1.8,
        reach_bores=1.05,
        rocker_ratio=1.0,
        limit_doubt=LimitDoubt(
            "side-valve", None, 6.0, 0.35, "a slow engine of 1923, and no knock ever measured to compare"
        ),
    ),
    "flat-disc": ChamberShape(Roof(level=1.0), 0.0, 1.0),
}
"""By name, in the order in which a job offers them."""
