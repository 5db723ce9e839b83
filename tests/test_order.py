"""Firing order, cap order and leads to keep apart. Firing orders in use: common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import PhysicsError
from sparkwright.ignition import order
from sparkwright.ignition.rotor import Rotation

EIGHT = [1, 8, 4, 3, 6, 5, 7, 2]


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
    swapped = [1, 8, 4, 3, 6, 7, 5, 2]
    assert not order.cap_order(EIGHT, "clockwise", swapped).agrees
    reversed_order = EIGHT[:1] + EIGHT[:0:-1]
    assert not order.cap_order(EIGHT, "clockwise", reversed_order).agrees


def test_the_pair_every_eight_of_this_order_must_keep_apart() -> None:
    """Common practice, no source: 5 and 7, side by side with odd numbers in one bank, 7 right after 5."""
    found = order.leads_to_keep_apart(EIGHT, "v")
    odd_even = [(pair.first, pair.second) for pair in found if pair.numbering == "odd and even banks"]
    assert odd_even == [(5, 7)]


def test_bank_by_bank_numbering() -> None:
    """Common practice, no source: 1-5-4-2-6-3-7-8 counted 1-4 and 5-8 keeps 7 and 8 apart."""
    found = order.leads_to_keep_apart([1, 5, 4, 2, 6, 3, 7, 8], "v")
    assert (7, 8) in [(pair.first, pair.second) for pair in found if pair.numbering == "bank by bank"]


def test_an_inline_six_has_none() -> None:
    """By head: 1-5-3-6-2-4 never fires two neighbours in the row one after the other."""
    assert order.leads_to_keep_apart([1, 5, 3, 6, 2, 4], "inline") == ()


def test_an_inline_four_has_two() -> None:
    """By head: in 1-3-4-2 the pairs 3-4 and 2-1 sit side by side."""
    found = order.leads_to_keep_apart([1, 3, 4, 2], "inline")
    assert [(pair.first, pair.second) for pair in found] == [(3, 4), (2, 1)]


def test_what_somebody_saw_counts_more() -> None:
    found = order.leads_to_keep_apart(EIGHT, "v", [(1, 8), (2, 3)])
    assert found == (order.LeadPair(1, 8, "as stated"),)
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
