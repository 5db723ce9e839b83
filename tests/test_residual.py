"""Burned gas left in the cylinder: rows RG-1 to RG-OF1.

Source: Fox, Cheng and Heywood, SAE 931025 (1993). Tolerances: those of the rows.
"""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import residual

FORMULAS: list[Case] = [
    (residual.fox_residual_fraction, (1.0, 25.0, 0.45, 1.02, 1.0, 9.0)),
    (residual.residual_fraction, (1.0, 25.0, 0.45, 1.02, 1.0, 9.0)),
    (residual.overlap_factor_deg_per_m, (0.04, 0.004, 0.035, 0.004, 5e-4)),
    (residual.ramp_overlap_areas_m_deg, (40.0, 2e-5, 3e-5)),
]

ROWS = [
    pytest.param((1.0, 750.0 / 60.0, 0.35, 1.02, 1.0, 9.0), 0.3652, id="RG-1"),
    pytest.param((1.0, 1500.0 / 60.0, 0.45, 1.02, 1.0, 9.0), 0.2066, id="RG-2"),
    pytest.param((1.0, 3000.0 / 60.0, 0.97, 1.05, 1.1, 9.5), 0.08527, id="RG-3"),
]


@pytest.mark.parametrize(("numbers", "expected"), ROWS)
def test_published_residual(numbers: tuple[float, ...], expected: float) -> None:
    assert residual.fox_residual_fraction(*numbers) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize(("numbers", "expected"), ROWS)
def test_smooth_residual_keeps_the_rows(numbers: tuple[float, ...], expected: float) -> None:
    assert residual.residual_fraction(*numbers) == pytest.approx(expected, abs=0.0005)


def test_rg_of1_symmetric_ramps() -> None:
    intake, exhaust = residual.ramp_overlap_areas_m_deg(40.0, 0.020e-3, 0.020e-3)
    factor = residual.overlap_factor_deg_per_m(0.040, intake, 0.040, exhaust, 716.0e-6)
    assert factor == pytest.approx(0.4469, rel=0.005)


@pytest.mark.parametrize("intake_ramp_mm", [0.01, 0.02, 0.035])
def test_uneven_ramps_against_quadrature(intake_ramp_mm: float) -> None:
    """The meeting point found by root search and the areas by SciPy's quadrature."""
    overlap_deg, exhaust_ramp_mm = 50.0, 0.02

    def intake_lift_m(x: float) -> float:
        return intake_ramp_mm * 1e-3 * x

    def exhaust_lift_m(x: float) -> float:
        return exhaust_ramp_mm * 1e-3 * (overlap_deg - x)

    meeting_deg = brentq(lambda x: intake_lift_m(x) - exhaust_lift_m(x), 0.0, overlap_deg)
    intake, exhaust = residual.ramp_overlap_areas_m_deg(
        overlap_deg, intake_ramp_mm * 1e-3, exhaust_ramp_mm * 1e-3
    )
    assert intake == pytest.approx(quad(intake_lift_m, 0.0, meeting_deg)[0], rel=1e-9)
    assert exhaust == pytest.approx(quad(exhaust_lift_m, meeting_deg, overlap_deg)[0], rel=1e-9)


def test_valves_that_never_overlap_have_no_area() -> None:
    assert residual.ramp_overlap_areas_m_deg(-10.0, 2e-5, 2e-5) == (0.0, 0.0)


def test_without_overlap_only_the_clearance_volume_keeps_gas() -> None:
    """By head: 0.632/9 at equal pressures."""
    assert residual.fox_residual_fraction(0.0, 20.0, 1.0, 1.0, 1.0, 9.0) == pytest.approx(0.632 / 9.0)


@given(
    difference_bar=st.floats(0.05, 0.8),
    factor=st.floats(0.0, 1.5),
    speed_rev_per_s=st.floats(25.0, 100.0),
)
def test_rounding_moves_little_away_from_equal_pressures(
    difference_bar: float, factor: float, speed_rev_per_s: float
) -> None:
    numbers = (factor, speed_rev_per_s, 1.02 - difference_bar, 1.02, 1.0, 9.0)
    published = float(residual.fox_residual_fraction(*numbers))
    assume(published < 0.35)
    assert residual.residual_fraction(*numbers) == pytest.approx(published, abs=0.001)


def test_smooth_through_equal_pressures() -> None:
    """The slope along intake pressure is finite, falls no faster than 2 per bar, and never turns upward."""
    intake_bar = np.linspace(0.9, 1.1, 2001)
    fraction = np.asarray(residual.residual_fraction(1.0, 50.0, intake_bar, 1.0, 1.0, 9.0))
    slope_per_bar = np.diff(fraction) / np.diff(intake_bar)
    assert np.all(slope_per_bar < 0.0)
    assert np.all(slope_per_bar > -2.0)
    assert float(np.max(np.abs(np.diff(slope_per_bar)))) < 0.005


def test_nothing_flows_back_into_a_boosted_intake() -> None:
    """Under boost the overlap adds under 0.2 % of the charge; the trapped part stays."""
    with_overlap = residual.residual_fraction(1.5, 50.0, 1.8, 1.1, 1.0, 8.5)
    without = residual.residual_fraction(0.0, 50.0, 1.8, 1.1, 1.0, 8.5)
    assert 0.0 < float(with_overlap) - float(without) < 0.002


@given(factor=st.floats(0.0, 8.0), speed_rev_per_s=st.floats(5.0, 20.0), intake_bar=st.floats(0.2, 1.0))
def test_the_bound_is_never_passed(factor: float, speed_rev_per_s: float, intake_bar: float) -> None:
    fraction = float(residual.residual_fraction(factor, speed_rev_per_s, intake_bar, 1.0, 1.0, 6.0))
    assert 0.0 < fraction < residual.MOST_RESIDUAL + 1e-12


def test_plausible_range_at_idle_and_full_load() -> None:
    """RG-R, a band (recalled; Heywood 1988 ch. 4 and 6): 0.20-0.35 at idle, 0.03-0.09 wide open."""
    idle = residual.residual_fraction(0.5, 700.0 / 60.0, 0.35, 1.02, 1.0, 9.0)
    full = residual.residual_fraction(0.5, 3000.0 / 60.0, 0.97, 1.05, 1.1, 9.5)
    assert 0.20 < float(idle) < 0.35
    assert 0.03 < float(full) < 0.09


def test_a_stretched_residual_is_reported() -> None:
    assert residual.residual_outside_range(800.0, 0.4, 1.02, 0.25) == []
    assert residual.residual_outside_range(400.0, 1.2, 1.02, 0.42) == [
        "The intake presses harder than the exhaust: the burned gas left behind is a guess there.",
        "At 400 rpm the engine turns slower than the engines whose burned gas was measured.",
        "Burned gas of 42 percent is more than was measured: "
        "expect a rough idle, and a best timing that is a guess.",
    ]


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
