"""The chamber: rows TE-8, TE-9 and TE-11, and what a flame table must be whatever the shape.

Sources: geometry. TE-8 and TE-9 are closed forms of a sphere about a plug in the roof of a disc; TE-11
was found by quadrature outside this project. Tolerances: those of the rows.
"""

import ast
from math import acos, pi, sqrt
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from scipy.integrate import quad

from sparkwright.cycle import chamber as chamber_module
from sparkwright.cycle.chamber import (
    PISTON_NODES,
    SHARE_NODES,
    Chamber,
    flame_table,
    flame_volume_and_area,
    roof_height_m,
)
from sparkwright.cycle.shapes import SHAPES, Shape
from sparkwright.errors import PhysicsError

BORE_M, STROKE_M, HEIGHT_M = 0.0996, 0.0919, 0.010
SPHERE_FACTOR = (36.0 * pi) ** (1.0 / 3.0)


def disc(plug_offset_m: float = 0.0) -> Chamber:
    """Disc 10 mm high at top dead centre."""
    return Chamber("flat-disc", BORE_M, STROKE_M, 1.0 + STROKE_M / HEIGHT_M, plug_offset_m)


@pytest.mark.parametrize(
    ("radius_mm", "offset_mm", "volume_mm3", "area_mm2", "tolerance"),
    [
        pytest.param(6.0, 0.0, 452.389, 226.195, 0.001, id="TE-8"),
        pytest.param(25.0, 0.0, 18587.8, 1570.8, 0.001, id="TE-9"),
        pytest.param(40.0, 25.0, 39548.0, 1373.8, 0.005, id="TE-11"),
    ],
)
def test_flame_in_a_disc(
    radius_mm: float, offset_mm: float, volume_mm3: float, area_mm2: float, tolerance: float
) -> None:
    volume, area = flame_volume_and_area(disc(1e-3 * offset_mm), 0.0, 1e-3 * radius_mm, plug_at_roof=True)
    assert volume * 1e9 == pytest.approx(volume_mm3, rel=tolerance)
    assert area * 1e6 == pytest.approx(area_mm2, rel=tolerance)


def test_a_lowered_piston_makes_the_disc_higher() -> None:
    """The closed form of TE-9 with h = 10 mm + 8 mm of piston drop, r = 30 mm."""
    radius, height = 0.030, 0.018
    volume, area = flame_volume_and_area(disc(), 0.008, radius, plug_at_roof=True)
    assert volume == pytest.approx(pi * (radius**2 * height - height**3 / 3.0), rel=0.001)
    assert area == pytest.approx(2.0 * pi * radius * height, rel=0.001)


@pytest.mark.parametrize("offset_m", [0.012, 0.030])
def test_a_wall_cuts_the_flame_off(offset_m: float) -> None:
    """Area by Archimedes: a band of a sphere, dz high, has the area 2 pi r dz; here the free part of it."""
    radius, bore_radius = 0.036, BORE_M / 2

    def free_area(depth: float) -> float:
        circle = sqrt(radius**2 - depth**2)
        cosine = (bore_radius**2 - offset_m**2 - circle**2) / (2.0 * offset_m * circle)
        return 2.0 * radius * (pi - acos(min(max(cosine, -1.0), 1.0)))

    wanted, _ = quad(free_area, 0.0, HEIGHT_M)
    _, area = flame_volume_and_area(disc(offset_m), 0.0, radius, plug_at_roof=True)
    assert area == pytest.approx(wanted, rel=0.005)


def test_every_shape_that_may_be_named_has_a_record() -> None:
    assert tuple(SHAPES) == get_args(Shape)


def test_nothing_asks_for_a_shape_by_its_name() -> None:
    """What depends on the shape stands in its record, so that a new shape needs nothing else."""
    names = SHAPES.keys() - {"open"}  # a word that much else has too
    source = Path(chamber_module.__file__).parents[1]
    asked = [
        f"{file.name}:{node.lineno}"
        for file in source.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Compare)
        for side in (node.left, *node.comparators)
        if isinstance(side, ast.Constant) and side.value in names
    ]
    assert asked == []


@pytest.mark.parametrize("shape", SHAPES)
def test_a_chamber_ends_where_its_record_says(shape: Shape) -> None:
    """Along the line through axis and plug: just within there is a roof, just beyond there is none."""
    roof, end_m = SHAPES[shape].roof, Chamber(shape, BORE_M, STROKE_M, 8.0).footprint_reach_m
    assert chamber_module._roof(roof, 0.01, BORE_M / 2, 0.999 * end_m, 0.0) > 0.0
    assert chamber_module._roof(roof, 0.01, BORE_M / 2, 1.001 * end_m, 0.0) == 0.0


@pytest.mark.parametrize("shape", SHAPES)
def test_a_flame_that_fills_the_chamber_holds_its_clearance_volume(shape: Shape) -> None:
    chamber = Chamber(shape, BORE_M, STROKE_M, 8.0)
    volume, area = flame_volume_and_area(chamber, 0.0, 0.4)
    assert volume == pytest.approx(chamber.clearance_m3, rel=0.01)
    assert area < 1e-4 * BORE_M**2  # the side valve's outline is found to a column's width


@pytest.mark.parametrize("shape", SHAPES)
def test_flame_table_from_a_sphere_to_nothing(shape: Shape) -> None:
    table = flame_table(Chamber(shape, BORE_M, STROKE_M, 9.0))
    assert table.shape == (PISTON_NODES, SHARE_NODES)
    np.testing.assert_allclose(table[:, 0], SPHERE_FACTOR, rtol=1e-12)
    assert np.all(table[:, -1] == 0.0)
    assert np.all(table[:, 1:-1] > 0.0)
    # No body of a given volume has less surface than a sphere, but walls only take free surface away.
    assert np.all(table <= SPHERE_FACTOR * 1.01)


@pytest.mark.parametrize("shape", SHAPES)
def test_flame_table_answers_like_the_flame_itself(shape: Shape) -> None:
    """At top dead centre, the row of clearance over volume 1, half way along the flame."""
    chamber = Chamber(shape, BORE_M, STROKE_M, 9.0)
    radii = 0.45 * BORE_M * np.linspace(0.3, 1.0, 4)
    flames = [flame_volume_and_area(chamber, 0.0, float(radius)) for radius in radii]
    shares = [np.cbrt(volume / chamber.clearance_m3) for volume, _ in flames]
    found = np.interp(shares, np.linspace(0.0, 1.0, SHARE_NODES), flame_table(chamber)[-1])
    np.testing.assert_allclose(found, [area / volume ** (2 / 3) for volume, area in flames], rtol=0.03)


def test_centred_plug_has_more_free_flame_than_one_in_the_wall() -> None:
    """Late in the burn: common knowledge of chamber design (Heywood 1988, ch. 15; recalled)."""
    middle, wall = (flame_table(disc(offset))[-1] for offset in (0.0, 0.045))
    assert np.all(middle[10:34] > wall[10:34])


def test_roof_height_of_a_disc() -> None:
    assert roof_height_m(disc()) == pytest.approx(HEIGHT_M - 0.001, rel=0.002)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"bore_m": 0.0}, "chamber.bore_m = 0.0: must be above 0"),
        ({"stroke_m": -0.08}, "chamber.stroke_m = -0.08: must be above 0"),
        ({"bore_m": float("nan")}, "chamber.bore_m = nan: must be above 0"),
        ({"compression_ratio": 1.0}, "chamber.compression_ratio = 1.0: must be above 1"),
        (
            {"plug_offset_m": 0.05},
            "chamber.plug_offset_m = 0.05: must be from 0 to 0.05, inside the chamber",
        ),
        (
            {"plug_offset_m": -0.001},
            "chamber.plug_offset_m = -0.001: must be from 0 to 0.05, inside the chamber",
        ),
    ],
)
def test_refusals_say_what_must_be(change: dict[str, float], message: str) -> None:
    facts = {"bore_m": 0.1, "stroke_m": 0.08, "compression_ratio": 9.0} | change
    with pytest.raises(PhysicsError) as refusal:
        Chamber("wedge", **facts)
    assert str(refusal.value) == message
