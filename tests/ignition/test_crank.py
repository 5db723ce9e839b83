"""Which firing orders a crank gives. Orders in use: common practice of the trade, no source."""

from collections.abc import Iterator
from itertools import permutations
from typing import get_args

import pytest

from sparkwright.ignition.crank import (
    CRANKS,
    BankNumbering,
    Layout,
    Rarity,
    contradiction,
    numbering_of,
    rarity,
    ways_that_fit,
    ways_to_build,
)

IN_USE: tuple[tuple[str, Layout, BankNumbering | None], ...] = (
    ("1-3-4-2", "inline", None),
    ("1-2-4-3", "inline", None),
    ("1-5-3-6-2-4", "inline", None),
    ("1-4-2-6-3-5", "inline", None),
    ("1-6-2-5-8-3-7-4", "inline", None),
    ("1-2-3-4-5-6", "v", "odd-even"),
    ("1-6-5-4-3-2", "v", "odd-even"),
    ("1-4-2-5-3-6", "v", "by-bank"),
    ("1-4-3-6-2-5", "v", "by-bank"),
    ("1-8-4-3-6-5-7-2", "v", "odd-even"),
    ("1-8-7-3-6-5-4-2", "v", "odd-even"),
    ("1-8-7-2-6-5-4-3", "v", "odd-even"),
    ("1-2-7-8-4-5-6-3", "v", "odd-even"),
    ("1-2-7-3-4-5-6-8", "v", "odd-even"),
    ("1-5-6-3-4-2-7-8", "v", "odd-even"),
    ("1-5-4-2-6-3-7-8", "v", "by-bank"),
    ("1-3-7-2-6-5-4-8", "v", "by-bank"),
    ("1-5-7-2-6-3-4-8", "v", "by-bank"),
    ("1-5-4-8-6-3-7-2", "v", "by-bank"),
    ("1-4-3-2", "flat", "by-bank"),
    ("1-3-2-4", "flat", "odd-even"),
    ("1-6-2-4-3-5", "flat", "by-bank"),
    ("1-4-5-2-3-6", "flat", "odd-even"),
)


def order_of(text: str) -> tuple[int, ...]:
    return tuple(int(each) for each in text.split("-"))


def all_orders(cylinders: int) -> Iterator[tuple[int, ...]]:
    return ((1, *rest) for rest in permutations(range(2, cylinders + 1)))


@pytest.mark.parametrize(("order", "layout", "numbering"), IN_USE)
def test_an_order_in_use_passes_and_tells_the_numbering(
    order: str, layout: Layout, numbering: BankNumbering | None
) -> None:
    assert rarity(order_of(order), layout) == "usual"
    assert numbering_of(order_of(order), layout) == numbering
    assert contradiction(order_of(order), layout) is None


@pytest.mark.parametrize(("cylinders", "layout"), list(CRANKS))
def test_every_crank_fires_evenly(cylinders: int, layout: Layout) -> None:
    """By definition: each multiple of 720/n within a turn is the top of exactly two cylinders."""
    tops = sorted(place * 720 // cylinders for place in range(cylinders // 2) for _ in "12")
    for built in ways_to_build(cylinders, layout):
        assert sorted(built.top_deg.values()) == tops


@pytest.mark.parametrize(("cylinders", "layout"), list(CRANKS))
def test_a_crank_gives_as_many_orders_as_can_be_counted(cylinders: int, layout: Layout) -> None:
    """Derived: of each pair that moves together either may fire first, and cylinder 1 counts as first.

    So 2**(n/2 - 1) orders for each way to build, each way its own; found by trying all (n - 1)! orders.
    """
    for numbering in {built.numbering for built in ways_to_build(cylinders, layout)}:
        ways = list(ways_to_build(cylinders, layout, numbering))
        found = [order for order in all_orders(cylinders) if ways_that_fit(order, layout, numbering)]
        assert len(found) == len(ways) * 2 ** (cylinders // 2 - 1)


def test_a_four_in_line_fires_in_two_ways_and_a_six_in_eight() -> None:
    """By hand: 1 and 4 half an order apart leave 2 and 3 two places; a six has 2 x 2 x 2."""
    fours = [order for order in all_orders(4) if ways_that_fit(order, "inline")]
    assert fours == [(1, 2, 4, 3), (1, 3, 4, 2)]
    sixes = [order for order in all_orders(6) if ways_that_fit(order, "inline")]
    assert len(sixes) == 8
    assert all(order[3] == 6 for order in sixes)


def test_no_v8_order_fits_both_numberings() -> None:
    """Found by trying all 5,040: so the order of a V8 always tells how its banks are numbered."""
    for order in all_orders(8):
        assert len({built.numbering for built in ways_that_fit(order, "v")}) <= 1


def test_a_v8_read_backwards_needs_the_mirrored_crank() -> None:
    """Derived: an engine that turns the other way meets the same tops in the opposite order."""
    usual = [order for order in all_orders(8) if rarity(order, "v") == "usual"]
    assert len(usual) == 32
    assert {rarity((1, *order[:0:-1]), "v") for order in usual} == {"mirrored"}


@pytest.mark.parametrize(
    ("order", "layout", "expected"),
    [
        ("1-5-3-7-4-8-2-6", "v", "rare-crank"),
        ("1-2-7-5-6-3-4-8", "v", "mirrored"),
        ("1-2-3-6-5-4", "inline", "neighbours"),
        ("1-2-5-6-4-3", "v", "same-bank"),
        ("1-5-2-6-4-8-3-7", "inline", "rare-crank"),
        ("1-2-3-4", "inline", None),
        ("1-8-4-3-6-5-2-7", "v", None),
        ("1-2-3-4-5-6-7-8", "v", None),
    ],
)
def test_what_is_rare_is_told_from_what_cannot_be(
    order: str, layout: Layout, expected: Rarity | None
) -> None:
    assert expected is None or expected in get_args(Rarity)
    assert rarity(order_of(order), layout) == expected


@pytest.mark.parametrize(("cylinders", "layout"), [*(each for each in CRANKS if each[0] < 8), (8, "v")])
def test_two_cylinders_are_named_for_every_order_that_cannot_be(cylinders: int, layout: Layout) -> None:
    """By definition: the two named fire as far apart as the order says, and no top of theirs allows it."""
    half = cylinders // 2
    for order in all_orders(cylinders):
        found = contradiction(order, layout)
        assert (found is None) == bool(ways_that_fit(order, layout))
        if found is not None:
            assert (order.index(found.second) - order.index(found.first)) % cylinders == found.places
            assert found.places not in (found.must_places, (found.must_places + half) % cylinders) or (
                found.must_places == half and found.places == 0
            )


def test_two_that_move_together_are_named() -> None:
    """By hand: in a four 1 and 4 stand on throws of one plane, so 1-2-3-4 can't be."""
    found = contradiction((1, 2, 3, 4), "inline")
    assert found is not None
    assert (found.first, found.second, found.must_places, found.places) == (1, 4, 2, 3)
