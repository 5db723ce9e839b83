"""Firing order, cap order and leads to keep apart. Firing orders in use: common practice, no source."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import PhysicsError
from sparkwright.ignition import order
from sparkwright.ignition.rotor import Rotation
from sparkwright.job import Job

PUMP_HOUSE = Path(__file__).parents[2] / "examples" / "pump-house-v8.toml"

EIGHT = [1, 5, 7, 2, 6, 3, 4, 8]
"""Of the invented eight of the examples: from the front, 1 to 4 in one bank and 5 to 8 in the other."""

THROWS = ((1, 5), (2, 6), (3, 7), (4, 8))
"""Cylinders that share a crank throw of that eight, front to back: one of each bank."""


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_the_cap_follows_the_firing_order_in_rotation(rotation: Rotation) -> None:
    cap = order.cap_order(EIGHT, rotation)
    assert cap.cylinders == tuple(EIGHT)
    assert cap.agrees is None
    way = 1 if rotation == "clockwise" else -1
    assert cap.bearings_deg == tuple(way * 45.0 * post % 360.0 for post in range(8))


@given(st.permutations(range(1, 7)), st.integers(0, 5))
def test_a_stated_order_may_begin_anywhere(firing: list[int], start: int) -> None:
    turned = firing[start:] + firing[:start]
    assert order.cap_order(firing, "clockwise", turned).agrees


@given(st.permutations(range(1, 9)))
def test_left_and_right_are_mirror_images(firing: list[int]) -> None:
    right, left = order.cap_order(firing, "clockwise"), order.cap_order(firing, "anticlockwise")
    assert right.cylinders == left.cylinders
    turned = zip(right.bearings_deg, left.bearings_deg, strict=True)
    assert all((one + other) % 360.0 == 0.0 for one, other in turned)


def test_two_leads_changed_over_are_found() -> None:
    swapped = [1, 5, 7, 2, 6, 4, 3, 8]
    assert not order.cap_order(EIGHT, "clockwise", swapped).agrees
    reversed_order = EIGHT[:1] + EIGHT[:0:-1]
    assert not order.cap_order(EIGHT, "clockwise", reversed_order).agrees


def test_the_order_of_the_demo_engine_is_one_that_a_crank_can_give() -> None:
    """Derived: an even-firing eight with its throws a quarter turn apart, the usual cross of a V8.

    Sparks come every 90 deg of the crank. Throw and bank angle put a cylinder at its top, and the banks stand
    90 deg apart, so the two cylinders of one throw come to their tops 90 deg apart, the same bank first on
    every throw. Each fires at every second of its tops: 90 or 450 deg after the other, so 90 deg but for
    whole turns (270 with the other bank first). What is left are the throws: all four quarters, and the outer
    two opposite one another as the inner two are, so that the crank is the same from either end.
    """
    assert tuple(EIGHT) == Job.load(PUMP_HOUSE).engine.firing_order
    fires_deg = {cylinder: 90 * place for place, cylinder in enumerate(EIGHT)}
    apart_deg = {(fires_deg[right] - fires_deg[left]) % 360 for left, right in THROWS}
    assert apart_deg == {90}
    throws_deg = [fires_deg[left] % 360 for left, _ in THROWS]
    assert sorted(throws_deg) == [0, 90, 180, 270]
    assert (throws_deg[3] - throws_deg[0]) % 360 == 180
    assert (throws_deg[2] - throws_deg[1]) % 360 == 180


def test_the_pair_that_the_demo_engine_must_keep_apart() -> None:
    """By head: of the neighbours in a bank, 1-2-3-4 and 5-6-7-8, only 3 and 4 fire one after the other.

    Counted with odd numbers in one bank it would be 5 and 7, but no crank gives it so.
    """
    assert order.leads_to_keep_apart(EIGHT, "v") == (order.LeadPair(3, 4, "by-bank"),)
    assert Job.load(PUMP_HOUSE).plugs.leads_adjacent == ((3, 4),)


def test_leads_are_kept_apart_for_the_one_numbering_there_is_or_not_determined() -> None:
    """By hand: of a V4 that fires 1-3-4-2, 3-4 and 2-1 share a bank counted by bank, 1-3 and 4-2 else."""
    firing = [1, 3, 4, 2]
    assert order.leads_to_keep_apart(firing, "v") is None
    by_bank = order.leads_to_keep_apart(firing, "v", numbering="by-bank")
    odd_even = order.leads_to_keep_apart(firing, "v", numbering="odd-even")
    assert [(each.first, each.second) for each in by_bank or ()] == [(3, 4), (2, 1)]
    assert [(each.first, each.second) for each in odd_even or ()] == [(1, 3), (4, 2)]


def test_bank_by_bank_numbering() -> None:
    """Common practice, no source: 1-5-4-2-6-3-7-8 counted 1-4 and 5-8 keeps 7 and 8 apart."""
    found = order.leads_to_keep_apart([1, 5, 4, 2, 6, 3, 7, 8], "v")
    assert found == (order.LeadPair(7, 8, "by-bank"),)


def test_an_inline_six_has_none() -> None:
    """By head: 1-5-3-6-2-4 never fires two neighbours in the row one after the other."""
    assert order.leads_to_keep_apart([1, 5, 3, 6, 2, 4], "inline") == ()


def test_an_inline_four_has_two() -> None:
    """By head: in 1-3-4-2 the pairs 3-4 and 2-1 sit side by side."""
    found = order.leads_to_keep_apart([1, 3, 4, 2], "inline")
    assert found is not None
    assert [(pair.first, pair.second) for pair in found] == [(3, 4), (2, 1)]


def test_what_somebody_saw_counts_more() -> None:
    found = order.leads_to_keep_apart(EIGHT, "v", [(8, 4), (2, 3)])
    assert found == (order.LeadPair(4, 8, "as stated"),)
    assert order.leads_to_keep_apart(EIGHT, "v", []) == ()


@pytest.mark.parametrize(
    ("firing", "message"),
    [
        ([1, 2, 3], "firing_order = [1, 2, 3]: must name 4, 6 or 8 cylinders"),
        ([1, 3, 3, 2], "firing_order = [1, 3, 3, 2]: must name each cylinder 1 to 4 once"),
        ([1, 3, 5, 2], "firing_order = [1, 3, 5, 2]: must name each cylinder 1 to 4 once"),
    ],
)
def test_impossible_orders_are_refused(firing: list[int], message: str) -> None:
    with pytest.raises(PhysicsError) as refused:
        order.cap_order(firing, "clockwise")
    assert str(refused.value) == message


def test_a_pair_with_a_foreign_cylinder_is_refused() -> None:
    expected = r"^leads_adjacent = \[1, 9\]: must be two different cylinders of this engine$"
    with pytest.raises(PhysicsError, match=expected):
        order.leads_to_keep_apart(EIGHT, "v", [(1, 9)])
