"""Firing order, the order of the leads in the cap, and leads that must be kept apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from sparkwright.errors import PhysicsError
from sparkwright.ignition.crank import BankNumbering, Layout, banks, numbering_of
from sparkwright.ignition.rotor import SUPPORTED_CYLINDERS, Rotation, post_bearing_deg


@dataclass(frozen=True)
class CapOrder:
    """Which cylinder stands at each post, counted in the direction of rotation from cylinder 1's post.

    ``bearings_deg`` are those posts' places seen from above, clockwise from the first [distributor deg].
    ``agrees`` says whether the stated cap order is what firing order and rotation ask; None where none is
    stated.
    """

    cylinders: tuple[int, ...]
    bearings_deg: tuple[float, ...]
    stated: tuple[int, ...] | None
    agrees: bool | None


@dataclass(frozen=True)
class LeadPair:
    """Two cylinders that fire one after the other, so neighbours in the cap, and sit side by side.

    A lead of the first that lies along the lead of the second can fire it early, in its compression.
    ``numbering`` says how the cylinders are counted where they sit side by side: "along the row",
    "odd-even", "by-bank", or "as stated" where somebody looked.
    """

    first: int
    second: int
    numbering: str


def _checked(firing_order: Sequence[int]) -> tuple[int, ...]:
    order = tuple(firing_order)
    if len(order) not in SUPPORTED_CYLINDERS:
        raise PhysicsError("firing_order", list(order), "must name 4, 6 or 8 cylinders")
    if sorted(order) != list(range(1, len(order) + 1)):
        raise PhysicsError("firing_order", list(order), f"must name each cylinder 1 to {len(order)} once")
    return order


def _from_cylinder_one(order: tuple[int, ...]) -> tuple[int, ...]:
    start = order.index(1)
    return order[start:] + order[:start]


def cap_order(
    firing_order: Sequence[int], rotation: Rotation, stated: Sequence[int] | None = None
) -> CapOrder:
    """Cylinder at each post: the firing order, laid out the way the rotor turns.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.
    rotation : {"clockwise", "anticlockwise"}
        Which way the rotor turns, seen from above.
    stated : sequence of int, optional
        What stands in the cap today, post by post in the direction of rotation.

    Returns
    -------
    CapOrder
        From cylinder 1; a stated order may begin at any post.

    Raises
    ------
    PhysicsError
        For an order that doesn't name each of 4, 6 or 8 cylinders once.

    Examples
    --------
    >>> cap_order([1, 3, 4, 2], "anticlockwise").cylinders
    (1, 3, 4, 2)
    >>> cap_order([1, 3, 4, 2], "anticlockwise").bearings_deg
    (0.0, 270.0, 180.0, 90.0)
    """
    wanted = _from_cylinder_one(_checked(firing_order))
    found = _checked(stated) if stated is not None else None
    return CapOrder(
        cylinders=wanted,
        bearings_deg=tuple(post_bearing_deg(post, len(wanted), rotation) for post in range(len(wanted))),
        stated=found,
        agrees=None if found is None else _from_cylinder_one(found) == wanted,
    )


def fires_after(firing_order: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Each cylinder with the one that fires next; these are the neighbours in the cap.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.

    Examples
    --------
    >>> fires_after([1, 3, 4, 2])
    ((1, 3), (3, 4), (4, 2), (2, 1))
    """
    order = _checked(firing_order)
    return tuple(zip(order, order[1:] + order[:1], strict=True))


def side_by_side(
    cylinders: int, layout: Layout, numbering: BankNumbering | None
) -> frozenset[frozenset[int]] | None:
    """Pairs that sit side by side in the engine; None where the numbering of its banks isn't known.

    Parameters
    ----------
    cylinders : int
        How many there are.
    layout : {"inline", "v", "flat"}
        How they lie.
    numbering : {"odd-even", "by-bank"} or None
        How the banks are numbered; None where nobody knows.

    Examples
    --------
    >>> sorted(sorted(pair) for pair in side_by_side(4, "inline", None) or ())
    [[1, 2], [2, 3], [3, 4]]
    >>> sorted(sorted(pair) for pair in side_by_side(6, "v", "odd-even") or ())
    [[1, 3], [2, 4], [3, 5], [4, 6]]
    """
    if layout != "inline" and numbering is None:
        return None
    rows = [tuple(range(1, cylinders + 1))] if numbering is None else banks(cylinders, numbering)
    return frozenset(frozenset(pair) for row in rows for pair in pairwise(row))


def leads_to_keep_apart(
    firing_order: Sequence[int],
    layout: Layout,
    stated_pairs: Sequence[Sequence[int]] | None = None,
    numbering: BankNumbering | None = None,
) -> tuple[LeadPair, ...] | None:
    """Cylinders that fire one after the other and sit side by side in the engine.

    Parameters
    ----------
    firing_order : sequence of int
        Each cylinder once.
    layout : {"inline", "v", "flat"}
        How the cylinders stand; used where no pairs are stated.
    stated_pairs : sequence of pairs, optional
        Cylinders whose leads really lie side by side, where somebody looked.
    numbering : {"odd-even", "by-bank"}, optional
        How the cylinders of a V or flat engine are counted; else the way that the firing order fits.

    Returns
    -------
    tuple of LeadPair, or None
        In firing order; None, not determined, where no pairs are stated and the firing order doesn't tell the
        numbering.

    Raises
    ------
    PhysicsError
        For a wrong firing order, or a stated pair that names a cylinder the engine hasn't got.

    Examples
    --------
    >>> leads_to_keep_apart([1, 5, 7, 2, 6, 3, 4, 8], "v")
    (LeadPair(first=3, second=4, numbering='by-bank'),)
    """
    order = _checked(firing_order)
    if stated_pairs is not None:
        for pair in stated_pairs:
            if len(set(pair)) != 2 or not set(pair) <= set(order):
                raise PhysicsError(
                    "leads_adjacent", list(pair), "must be two different cylinders of this engine"
                )
        return _in_succession(order, frozenset(frozenset(pair) for pair in stated_pairs), "as stated")
    counted = numbering_of(_from_cylinder_one(order), layout, numbering)
    neighbours = side_by_side(len(order), layout, counted)
    return None if neighbours is None else _in_succession(order, neighbours, counted or "along the row")


def _in_succession(
    order: tuple[int, ...], neighbours: frozenset[frozenset[int]], numbering: str
) -> tuple[LeadPair, ...]:
    return tuple(
        LeadPair(first, second, numbering)
        for first, second in fires_after(order)
        if frozenset((first, second)) in neighbours
    )
