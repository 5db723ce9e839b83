"""Turbulent burning: rows TE-1 to TE-6, and the viscosity of air.

Sources: Blizard and Keck, SAE 740191 (1974); Tabaczynski, Ferguson and Radhakrishnan, SAE 770647 (1977);
Keck, 19th Symposium (International) on Combustion (1982) 1451; Heywood, Internal Combustion Engine
Fundamentals (1988), ch. 14; ISO 2533:1975. Tolerances are those of the rows.
"""

import cantera as ct
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import turbulence
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.published import turbulence as published

FORMULAS: list[Case] = [
    (published.sutherland_viscosity_pa_s, (700.0,)),
    (turbulence.kinematic_viscosity_m2_s, (700.0, 8.0)),
    (turbulence.intake_intensity_m_s, (9.0, 1.2)),
    (turbulence.between_walls_length_m, (0.1, 0.012)),
    (turbulence.growing_entrainment_m_s, (0.8, 4.0, 0.02, 4e-6, 3.0, 0.15)),
    (published.turbulent_reynolds, (4.0, 0.003, 5e-6)),
    (published.taylor_microscale_m, (4.0, 0.003, 5e-6)),
    (published.burn_up_time_s, (2.4e-4, 0.6)),
    (published.entrainment_rate_kg_s, (8.0, 0.0015, 4.0, 0.6)),
    (published.burn_rate_kg_s, (3e-4, 2e-4, 5e-4)),
    (published.steady_entrainment_burned_kg, (0.002, 0.2, 0.0008)),
    (published.keck_entrainment_speed_m_s, (45.0, 8.0)),
    (published.keck_eddy_length_m, (0.011, 8.0)),
]


def test_te_1_constant_entrainment() -> None:
    burned_kg = published.steady_entrainment_burned_kg(0.002, 0.20, 0.0008)
    assert burned_kg * 1e6 == pytest.approx(253.134, rel=0.001)


def test_te_1_against_the_rate_equations_integrated() -> None:
    """The two rate equations, integrated by SciPy, give the closed form."""

    def rates(_: float, masses_kg: NDArray[np.float64]) -> list[float]:
        entrained_kg, burned_kg = masses_kg
        return [0.20, float(published.burn_rate_kg_s(entrained_kg, burned_kg, 0.0008))]

    run = solve_ivp(rates, (0.0, 0.002), [0.0, 0.0], rtol=1e-10, atol=1e-15)
    closed_kg = published.steady_entrainment_burned_kg(0.002, 0.20, 0.0008)
    assert run.y[1, -1] == pytest.approx(closed_kg, rel=1e-8)


def test_te_3_taylor_microscale() -> None:
    found_m = published.taylor_microscale_m(4.0, 0.003, 5.0e-6)
    assert found_m * 1000.0 == pytest.approx(0.23717, rel=0.001)


def test_te_3_from_the_reynolds_number() -> None:
    """By head: Re_t = 4 x 0.003/5e-6 = 2400, and lambda = L sqrt(15/Re_t)."""
    assert published.turbulent_reynolds(4.0, 0.003, 5.0e-6) == pytest.approx(2400.0, rel=1e-12)
    assert published.taylor_microscale_m(4.0, 0.003, 5.0e-6) == pytest.approx(
        0.003 * (15.0 / 2400.0) ** 0.5, rel=1e-12
    )


def test_te_4_burn_up_time() -> None:
    microscale_m = published.taylor_microscale_m(4.0, 0.003, 5.0e-6)
    assert published.burn_up_time_s(microscale_m, 0.60) * 1000.0 == pytest.approx(0.39528, rel=0.001)


def test_te_6_keck_fits() -> None:
    assert published.keck_entrainment_speed_m_s(45.0, 8.0) == pytest.approx(10.182, rel=0.001)
    assert published.keck_eddy_length_m(0.011, 8.0) * 1000.0 == pytest.approx(1.850, rel=0.001)


def test_turbulence_at_the_spark_is_about_half_the_piston_speed() -> None:
    """Heywood (1988), sec. 8.2.2, fig. 8-9 (recalled): u' near top 0.4 to 0.6 of the mean piston speed."""
    for piston_m_s in (2.0, 6.0, 12.0, 18.0):
        assert 0.4 * piston_m_s < turbulence.intake_intensity_m_s(piston_m_s, 1.0) < 0.6 * piston_m_s
    assert turbulence.intake_intensity_m_s(10.0, 1.65) == pytest.approx(8.25, rel=1e-12)


def test_eddies_at_the_spark_are_a_fifth_of_the_gap() -> None:
    """Heywood (1988), sec. 8.2.2 (recalled): the integral length is 0.15 to 0.25 of the height between the
    walls near top; where that height is a tenth of the bore it is just a fifth, and lower down less."""
    assert turbulence.between_walls_length_m(0.1, 0.01) == pytest.approx(0.2 * 0.01, rel=1e-12)
    for height_m in (0.008, 0.012, 0.016):
        assert 0.15 <= turbulence.between_walls_length_m(0.1, height_m) / height_m <= 0.25


def test_a_growing_flame_swallows_faster() -> None:
    """By its definition: u_e - S is C u' at a Reynolds number of 4,000, and grows with the power b of radius,
    laminar speed and 1/viscosity; with b = 0 it is Blizard and Keck's (1974)."""
    at_scale = turbulence.growing_entrainment_m_s(0.8, 4.0, 0.02, 0.8 * 0.02 / 4000.0, 2.5, 0.15)
    assert at_scale == pytest.approx(0.8 + 2.5 * 4.0, rel=1e-12)
    small, large = (
        turbulence.growing_entrainment_m_s(0.8, 4.0, r, 4e-6, 2.5, 0.15) - 0.8 for r in (0.005, 0.04)
    )
    assert large / small == pytest.approx(8.0**0.15, rel=1e-12)
    without = turbulence.growing_entrainment_m_s(0.8, 4.0, 0.005, 4e-6, 1.0, 0.0)
    assert published.entrainment_rate_kg_s(8.0, 0.001, 0.0, without) == pytest.approx(
        published.entrainment_rate_kg_s(8.0, 0.001, 4.0, 0.8), rel=1e-12
    )


def test_the_flames_growth_is_slower_than_in_a_bomb() -> None:
    """Chaudhuri, Wu, Zhu and Law (2012), recalled: an exponent of a half in spherical flames at constant
    pressure; in an engine, where scales of the turbulence are missing, it must lie between that and none."""
    assert 0.0 < PRIOR.constants.flame_growth < 0.5


@pytest.mark.parametrize(
    ("temperature_k", "expected_pa_s"),
    [(288.15, 1.7894e-5), (255.65, 1.6281e-5), (216.65, 1.4216e-5)],
)
def test_viscosity_against_the_standard_atmosphere(temperature_k: float, expected_pa_s: float) -> None:
    """ISO 2533:1975, table of dynamic viscosity (recalled); half the last printed digit and a little."""
    assert published.sutherland_viscosity_pa_s(temperature_k) == pytest.approx(expected_pa_s, abs=1e-9)


@pytest.mark.parametrize("temperature_k", [300.0, 500.0, 700.0, 900.0])
def test_viscosity_against_kinetic_theory(temperature_k: float) -> None:
    """Cantera's mixture-averaged transport of air; 4 %: Sutherland's law runs low when hot."""
    air = ct.Solution("air.yaml")
    air.TP = temperature_k, ct.one_atm
    assert published.sutherland_viscosity_pa_s(temperature_k) == pytest.approx(air.viscosity, rel=0.04)


def test_kinematic_viscosity_at_sea_level() -> None:
    """ISO 2533:1975, table: 1.4607e-5 m2/s at 288.15 K and 1.225 kg/m3 (recalled); the last printed digit."""
    assert turbulence.kinematic_viscosity_m2_s(288.15, 1.225) == pytest.approx(1.4607e-5, abs=1e-9)


def test_entrainment_by_head() -> None:
    assert published.entrainment_rate_kg_s(10.0, 0.001, 3.0, 1.0) == pytest.approx(0.04, rel=1e-12)
    assert published.burn_rate_kg_s(3.0, 1.0, 4.0) == 0.5


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
