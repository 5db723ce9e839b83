"""Which firing orders an engine can have: its crank says when each piston comes to its top.

Every piston comes to its top once a turn and fires at every second of its tops. In an even-firing engine of
n cylinders one fires each 720/n degrees, so that two cylinders share each top: they move together, and each
fires half an order after the other. Throws, bank angle and splayed pins say which two, and in which order
the pairs follow; which of a pair fires first is the camshaft's choice. Hence, for a given crank, 2 to the
power of n/2 - 1 orders counted from cylinder 1.

Three things may be one way or the other and don't show from outside: the crank may be mirrored, either bank
may come first, and the cylinders are numbered in one of two usual ways. Whatever fits in one of these ways
can be built. Which of it was usual is common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Literal

Layout = Literal["inline", "v", "flat"]
BankNumbering = Literal["odd-even", "by-bank"]
NUMBERINGS: tuple[BankNumbering, ...] = ("odd-even", "by-bank")
Rarity = Literal["usual", "rare-crank", "mirrored", "neighbours", "same-bank"]


@dataclass(frozen=True)
class Crank:
    """A crank and the banks that stand on it; angles in crank degrees.

    ``throws_deg`` are the throws of the row, or of the first bank, front to back and counted from the first.
    The cylinder beside it in the second bank comes to its top ``bank_deg`` plus ``splay_deg`` later: the
    angle between the banks, and between the two pins of a throw. ``rare`` marks a crank that few such engines
    have, ``one_hand`` one that is as good as never mirrored.
    """

    name: str
    throws_deg: tuple[int, ...]
    bank_deg: int | None = None
    splay_deg: int = 0
    rare: bool = False
    one_hand: bool = False

    @property
    def cylinders(self) -> int:
        """How many it carries."""
        return len(self.throws_deg) * (1 if self.bank_deg is None else 2)


CRANKS: dict[tuple[int, Layout], tuple[Crank, ...]] = {
    (4, "inline"): (Crank("flat crank", (0, 180, 180, 0)),),
    (6, "inline"): (Crank("crank of three pairs of throws", (0, 120, 240, 240, 120, 0)),),
    (8, "inline"): (
        Crank("crank of a four with another between its halves", (0, 180, 90, 270, 270, 90, 180, 0)),
        Crank("crank of two fours end to end", (0, 180, 180, 0, 90, 270, 270, 90), rare=True),
    ),
    (4, "v"): (
        Crank("crank with pins splayed to half a turn", (0, 180), 60, 120),
        Crank("crank on which opposite pistons move together", (0, 180), 60, -60, rare=True),
    ),
    (6, "v"): (
        # As well 90 deg of bank and pins split by 30, or 120 deg and shared pins: the sum counts.
        Crank("crank with pins splayed to a third of a turn", (0, 120, 240), 60, 60),
    ),
    (8, "v"): (
        Crank("cross-plane crank", (0, 270, 90, 180), 90, one_hand=True),
        Crank("flat-plane crank", (0, 180, 180, 0), 90, rare=True),
    ),
    (4, "flat"): (
        Crank("crank on which opposite pistons move together", (0, 180), 180, 180),
        Crank("crank with shared pins", (0, 180), 180, rare=True),
    ),
    (6, "flat"): (Crank("crank on which opposite pistons move together", (0, 120, 240), 180, 180),),
    (8, "flat"): (
        Crank("cross-plane crank on which opposite pistons move together", (0, 270, 90, 180), 180, 180),
        Crank("cross-plane crank with shared pins", (0, 270, 90, 180), 180, rare=True),
    ),
}
"""Even-firing cranks by number and layout of the cylinders.

Each crank of a row is the same from either end, or the engine rocks; in a V8 the outer throws stand opposite
one another as the inner two do, for the same reason.
"""


@dataclass(frozen=True)
class Built:
    """One way in which an engine may be built: its crank, numbering, and when each piston is at its top.

    ``numbering`` is None for one row. ``top_deg`` counts from the top of cylinder 1, within one turn.
    """

    crank: Crank
    numbering: BankNumbering | None
    mirrored: bool
    top_deg: dict[int, int]

    def together(self) -> tuple[tuple[int, int], ...]:
        """Give the pairs of cylinders that move together.

        Examples
        --------
        >>> next(ways_to_build(4, "inline")).together()
        ((1, 4), (2, 3))
        """
        cylinders = sorted(self.top_deg)
        return tuple(
            (one, other)
            for one in cylinders
            for other in cylinders
            if one < other and self.top_deg[one] == self.top_deg[other]
        )

    def fires_in_time(self, firing_order: Sequence[int]) -> frozenset[int]:
        """Give the cylinders that fire, counted from cylinder 1, at one of their tops.

        Parameters
        ----------
        firing_order : sequence of int
            Each cylinder once.
        """
        interval_deg = 720 // len(firing_order)
        return frozenset(
            cylinder
            for place, cylinder in enumerate(firing_order)
            if (place * interval_deg - self.top_deg[cylinder]) % 360 == 0
        )


@dataclass(frozen=True)
class Contradiction:
    """Why no crank gives a firing order, held against the crank that comes nearest to giving it.

    ``first`` and ``second`` must fire ``must_places`` apart in the order (or that and half the order) and
    fire ``places`` apart, counted from the first. They move together where ``must_places`` is half the order.
    """

    crank: Crank
    numbering: BankNumbering | None
    first: int
    second: int
    must_places: int
    places: int


def banks(cylinders: int, numbering: BankNumbering) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Give the cylinders of both banks, front to back.

    Parameters
    ----------
    cylinders : int
        How many there are.
    numbering : {"odd-even", "by-bank"}
        How they are numbered.

    Examples
    --------
    >>> banks(6, "odd-even"), banks(6, "by-bank")
    (((1, 3, 5), (2, 4, 6)), ((1, 2, 3), (4, 5, 6)))
    """
    if numbering == "odd-even":
        return tuple(range(1, cylinders + 1, 2)), tuple(range(2, cylinders + 1, 2))
    half = cylinders // 2
    return tuple(range(1, half + 1)), tuple(range(half + 1, cylinders + 1))


def ways_to_build(cylinders: int, layout: Layout, numbering: BankNumbering | None = None) -> Iterator[Built]:
    """Give each way in which an even-firing engine may be built; every usual numbering where none is stated.

    Parameters
    ----------
    cylinders : int
        How many there are.
    layout : {"inline", "v", "flat"}
        How they lie.
    numbering : {"odd-even", "by-bank"}, optional
        How the banks are numbered.

    Examples
    --------
    >>> len(list(ways_to_build(8, "v", "odd-even")))
    6
    """
    numberings = (None,) if layout == "inline" else NUMBERINGS if numbering is None else (numbering,)
    seen: list[tuple[BankNumbering | None, dict[int, int]]] = []
    for crank, counted, mirrored, second_first in product(
        CRANKS.get((cylinders, layout), ()), numberings, (False, True), (False, True)
    ):
        top_deg = _tops(crank, counted, -1 if mirrored else 1, -1 if second_first else 1)
        if (counted, top_deg) not in seen:
            seen.append((counted, top_deg))
            yield Built(crank, counted, mirrored, top_deg)


def _tops(crank: Crank, numbering: BankNumbering | None, hand: int, first_bank: int) -> dict[int, int]:
    throws = [hand * throw % 360 for throw in crank.throws_deg]
    if crank.bank_deg is None or numbering is None:
        return dict(enumerate(throws, start=1))
    later_deg = first_bank * (crank.bank_deg + crank.splay_deg)
    first, second = banks(crank.cylinders, numbering)
    return dict(zip(first, throws, strict=True)) | {
        cylinder: (throw + later_deg) % 360 for cylinder, throw in zip(second, throws, strict=True)
    }


def ways_that_fit(
    firing_order: Sequence[int], layout: Layout, numbering: BankNumbering | None = None
) -> tuple[Built, ...]:
    """Give the ways to build an engine of this firing order; none where no even-firing crank gives it.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once, from cylinder 1.
    layout : {"inline", "v", "flat"}
        How the cylinders stand.
    numbering : {"odd-even", "by-bank"}, optional
        How the cylinders of a V or flat engine are numbered; either where it is not stated.

    Examples
    --------
    >>> [(each.crank.name, each.numbering) for each in ways_that_fit([1, 5, 7, 2, 6, 3, 4, 8], "v")]
    [('cross-plane crank', 'by-bank')]
    >>> ways_that_fit([1, 2, 3, 4], "inline")
    ()
    """
    return tuple(
        built
        for built in ways_to_build(len(firing_order), layout, numbering)
        if len(built.fires_in_time(firing_order)) == len(firing_order)
    )


def numbering_of(
    firing_order: Sequence[int], layout: Layout, stated: BankNumbering | None = None
) -> BankNumbering | None:
    """Give the numbering of the banks: the stated one, or the only one that the firing order fits.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.
    layout : {"inline", "v", "flat"}
        How they lie.
    stated : {"odd-even", "by-bank"}, optional
        What somebody said of it.

    Examples
    --------
    >>> numbering_of([1, 5, 7, 2, 6, 3, 4, 8], "v"), numbering_of([1, 3, 2, 4], "flat")
    ('by-bank', 'odd-even')
    """
    if stated is not None or layout == "inline":
        return stated
    fitting = {built.numbering for built in ways_that_fit(firing_order, layout)}
    return fitting.pop() if len(fitting) == 1 else None


def rarity(
    firing_order: Sequence[int], layout: Layout, numbering: BankNumbering | None = None
) -> Rarity | None:
    """Say whether an order that a crank gives is usual, or what is rare about it; None where none gives it.

    It is rare on a crank that few such engines have ("rare-crank") or that is built one way round and would
    have to be mirrored ("mirrored"), in a six in line where neighbours fire one after the other
    ("neighbours"), and in a V6 where two cylinders of a bank do ("same-bank"). Common practice, no source.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.
    layout : {"inline", "v", "flat"}
        How they lie.
    numbering : {"odd-even", "by-bank"}, optional
        How the banks are numbered.

    Examples
    --------
    >>> rarity([1, 5, 3, 6, 2, 4], "inline"), rarity([1, 2, 3, 6, 5, 4], "inline")
    ('usual', 'neighbours')
    """
    found = {_rarity(firing_order, layout, built) for built in ways_that_fit(firing_order, layout, numbering)}
    order: tuple[Rarity, ...] = ("usual", "same-bank", "neighbours", "mirrored", "rare-crank")
    return next((each for each in order if each in found), None)


def _rarity(firing_order: Sequence[int], layout: Layout, built: Built) -> Rarity:
    if built.crank.rare:
        return "rare-crank"
    if built.crank.one_hand and built.mirrored:
        return "mirrored"
    successive = list(pairwise((*firing_order, firing_order[0])))
    if len(firing_order) == 6 and layout == "inline":
        return "neighbours" if any(abs(one - other) == 1 for one, other in successive) else "usual"
    if len(firing_order) == 6 and layout == "v" and built.numbering is not None:
        first, _ = banks(6, built.numbering)
        if any((one in first) == (other in first) for one, other in successive):
            return "same-bank"
    return "usual"


def contradiction(
    firing_order: Sequence[int], layout: Layout, numbering: BankNumbering | None = None
) -> Contradiction | None:
    """Name two cylinders that keep every even-firing crank from giving an order; None where one gives it.

    Of the ways to build such an engine, the one in which most cylinders would fire in time is held against
    the order. Two that move together are named where any do; else one that follows cylinder 1 wrongly.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.
    layout : {"inline", "v", "flat"}
        How they lie.
    numbering : {"odd-even", "by-bank"}, optional
        How the banks are numbered.

    Examples
    --------
    >>> found = contradiction([1, 2, 3, 4], "inline")
    >>> (found.first, found.second, found.must_places, found.places)
    (1, 4, 2, 3)
    """
    ways = tuple(ways_to_build(len(firing_order), layout, numbering))
    if not ways or ways_that_fit(firing_order, layout, numbering):
        return None
    nearest = max(ways, key=lambda built: len(built.fires_in_time(firing_order)))
    count = len(firing_order)
    place = {cylinder: at for at, cylinder in enumerate(firing_order)}
    for first, second in nearest.together():
        apart = (place[second] - place[first]) % count
        if apart != count // 2:
            return Contradiction(nearest.crank, nearest.numbering, first, second, count // 2, apart)
    wrong = min(set(firing_order) - nearest.fires_in_time(firing_order))
    must = nearest.top_deg[wrong] * count // 720
    return Contradiction(nearest.crank, nearest.numbering, 1, wrong, must, place[wrong])
