"""Tapes and rings as numbers. Source of the lengths: geometry of the circle, rows KI-D6 to KI-D8."""

import math
import re
from itertools import pairwise

import numpy as np
import pytest

from sparkwright.errors import Refusal
from sparkwright.mounting.tape import (
    CrankRotation,
    ReadFrom,
    ScaleOn,
    advance_side,
    degree_ring,
    paper_mm_per_deg,
    tape,
)
from telling import sentences_of


@pytest.mark.parametrize(
    ("inches", "ten_deg_mm"),
    [
        pytest.param(6.0, 13.2994, id="KI-D6"),
        pytest.param(6.5, 14.4077, id="KI-D6.5"),
        pytest.param(7.25, 16.0701, id="KI-D7.25"),
        pytest.param(8.0, 17.7325, id="KI-D8"),
    ],
)
def test_ten_degrees_on_the_rim(inches: float, ten_deg_mm: float) -> None:
    strip = tape(inches * 25.4, 60.0, 20.0, thickness_mm=0.0)
    (ten,) = [mark for mark in strip.marks if mark.advance_deg == 10.0]
    assert ten.place_mm == pytest.approx(ten_deg_mm, rel=1e-4)


def test_a_bent_strip_keeps_the_length_of_its_middle() -> None:
    """A whole turn closes: its middle runs half its thickness off the rim. By head: pi (100 + 1)."""
    assert 360.0 * paper_mm_per_deg(100.0, 1.0) == pytest.approx(math.pi * 101.0)


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
@pytest.mark.parametrize("scale_on", ["damper", "cover"])
@pytest.mark.parametrize("read_from", ["front", "rear"])
@pytest.mark.parametrize("pointer_deg", [0.0, 70.0, 200.0])
def test_the_side_of_advance_by_vectors(
    rotation: CrankRotation, scale_on: ScaleOn, read_from: ReadFrom, pointer_deg: float
) -> None:
    """Turn a real rim in space: the mark that is at the pointer early, seen by an eye outside the rim."""
    front = np.array([1.0, 0.0, 0.0])
    spin = -front if rotation == "clockwise" else front  # right-hand rule, seen from the front
    out = np.array([0.0, math.sin(math.radians(pointer_deg)), math.cos(math.radians(pointer_deg))])
    moving = np.cross(spin, out)
    # On the damper, 10 before is at the pointer while zero has still to come: it lies where the rim moves to.
    # On the cover, 10 before is where the moving mark is while it has still to come to zero.
    towards_before = moving if scale_on == "damper" else -moving
    up = -front if read_from == "front" else front
    right = np.cross(up, out)
    expected = "right" if float(np.dot(towards_before, right)) > 0.0 else "left"
    assert advance_side(rotation, scale_on, read_from) == expected


def test_marks_stand_in_order_and_mirror() -> None:
    plain, turned = tape(168.0, 60.0, 20.0), tape(168.0, 60.0, 20.0, rotation="anticlockwise")
    assert [mark.advance_deg for mark in plain.marks] == list(range(-20, 61))
    assert all(b.place_mm > a.place_mm for a, b in pairwise(plain.marks))
    assert [mark.place_mm for mark in turned.marks] == [-mark.place_mm for mark in plain.marks]
    assert (turned.left_mm, turned.right_mm) == (-plain.right_mm, -plain.left_mm)
    labels = [int(mark.label) for mark in plain.marks if mark.label]
    assert labels == [20, 10, 0, 10, 20, 30, 40, 50, 60]


@pytest.mark.parametrize(("every_deg", "count"), [(0.5, 161), (1.0, 81), (2.0, 41), (5.0, 17), (10.0, 9)])
def test_steps(every_deg: float, count: int) -> None:
    assert len(tape(168.0, 60.0, 20.0, every_deg=every_deg).marks) == count


@pytest.mark.parametrize("room_mm", [100.0, 170.0, 243.0])
@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_pieces_make_the_whole(room_mm: float, rotation: CrankRotation) -> None:
    strip = tape(300.0, 180.0, 180.0, rotation=rotation)
    pieces = strip.pieces(room_mm)
    assert (pieces[0].left_mm, pieces[-1].right_mm) == (strip.left_mm, strip.right_mm)
    assert all(before.right_mm == after.left_mm for before, after in pairwise(pieces))
    assert all(piece.right_mm - piece.left_mm <= room_mm for piece in pieces)
    for piece in pieces[1:]:
        joint_deg = piece.left_mm / strip.mm_per_deg
        assert abs(joint_deg) % 10.0 == pytest.approx(5.0)
    assert [piece.meets_left for piece in pieces] == [None, *range(1, len(pieces))]


def test_the_largest_rim_can_still_be_cut() -> None:
    assert len(tape(1000.0, 180.0, 180.0).pieces(225.0)) == 18


def test_marks_that_run_together_are_told() -> None:
    assert tape(168.0, 60.0, 20.0).warnings == ()
    assert sentences_of(tape(60.0, 60.0, 20.0).warnings) == (
        "The marks stand 0.52 mm apart and run together in print; every 2 deg can be read.",
    )


def test_what_a_poorly_laid_tape_is_worth() -> None:
    """KI-R1: half a millimetre on 8 in is 0.2820 deg."""
    assert tape(203.2, 60.0, 20.0, thickness_mm=0.0).laid_doubt_deg == pytest.approx(0.2820, rel=0.005)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"diameter_mm": 5.0},
            "diameter = 5 mm (0.197 in): must be 30 mm to 1000 mm (1.182 in to 39.370 in)",
        ),
        ({"most_before_deg": 200.0}, "before = 200 deg: must be 0 to 180 deg"),
        ({"most_after_deg": -1.0}, "after = -1 deg: must be 0 to 180 deg"),
        ({"most_before_deg": 2.0, "most_after_deg": 2.0}, "must span 10 deg or more"),
        ({"every_deg": 3.0}, "every = 3 deg: must be one of 0.5, 1, 2, 5, 10 deg"),
        ({"thickness_mm": 9.0}, "thickness = 9 mm"),
        ({"width_mm": 2.0}, "width = 2 mm"),
        ({"diameter_mm": math.nan}, "diameter = nan mm"),
    ],
)
def test_a_tape_that_cannot_be(change: dict[str, float], said: str) -> None:
    given = {"diameter_mm": 168.0, "most_before_deg": 60.0, "most_after_deg": 20.0} | change
    with pytest.raises(Refusal, match=re.escape(said)):
        tape(**given)  # type: ignore[arg-type]


def test_a_ring_has_every_degree_once() -> None:
    ring = degree_ring(250.0, 100.0)
    assert sorted(mark.bearing_deg for mark in ring.marks) == list(range(360))
    by_angle = {mark.advance_deg: mark.bearing_deg for mark in ring.marks}
    assert (by_angle[0.0], by_angle[10.0], by_angle[-10.0], by_angle[180.0]) == (0.0, 10.0, 350.0, 180.0)
    turned = degree_ring(250.0, 100.0, rotation="anticlockwise")
    assert {mark.advance_deg: mark.bearing_deg for mark in turned.marks}[10.0] == 350.0


@pytest.mark.parametrize("outer_mm", [150.0, 300.0, 520.0])
def test_tiles_cover_the_ring_and_fit_the_sheet(outer_mm: float) -> None:
    tiles = degree_ring(outer_mm, 60.0).tiles(176.0, 230.0)
    assert all(tile.width_mm <= 176.0 and tile.height_mm <= 230.0 for tile in tiles)
    assert min(tile.left_mm for tile in tiles) <= -outer_mm / 2
    assert max(tile.left_mm + tile.width_mm for tile in tiles) >= outer_mm / 2
    assert max(tile.top_mm + tile.height_mm for tile in tiles) >= outer_mm / 2
    first_row = [tile for tile in tiles if tile.row == 0]
    for one, other in pairwise(first_row):
        assert one.left_mm + one.width_mm - other.left_mm == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("outer_mm", "hole_mm", "said"),
    [
        (10.0, 0.0, "diameter = 10 mm (0.394 in): must be 60 mm to 1000 mm (2.363 in to 39.370 in)"),
        (
            200.0,
            190.0,
            "hole = 190 mm (7.480 in): must leave 15 mm (0.591 in) of ring all round, "
            "so at most 170 mm (6.693 in)",
        ),
        (200.0, -1.0, "hole = -1 mm"),
    ],
)
def test_a_ring_that_cannot_be(outer_mm: float, hole_mm: float, said: str) -> None:
    with pytest.raises(Refusal, match=re.escape(said)):
        degree_ring(outer_mm, hole_mm)
