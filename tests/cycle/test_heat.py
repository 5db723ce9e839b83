"""Heat transfer: rows HT-1 to HT-6.

Sources: Woschni, SAE 670931 (1967); Heywood, Internal Combustion Engine Fundamentals (1988), ch. 12;
Hohenberg, SAE 790825 (1979). Tolerances are those of the rows (rounding of the printed inputs).
"""

from math import pi

import numpy as np
import pytest

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import heat
from sparkwright.cycle.published import heat as published

FORMULAS: list[Case] = [
    (heat.woschni_gas_velocity, (9.19, 1500.0, 7.1602e-4, 340.0, 90.0, 8e-4, 2.28, 3.24e-3)),
    (heat.woschni_heat_transfer_w_m2_k, (0.0996, 3000.0, 2000.0, 37.4)),
    (heat.woschni_original_heat_transfer_w_m2_k, (0.0996, 3000.0, 2000.0, 37.4)),
    (heat.huber_gas_velocity, (9.19, 0.8, 8.0)),
    (published.hohenberg_heat_transfer_w_m2_k, (1.5e-4, 30.0, 2000.0, 9.19)),
    (heat.wall_area_m2, (0.0996, 3e-4)),
]


def combustion_velocity_m_s() -> float:
    """HT-1's inputs: 91.9 mm stroke at 3000 rpm, charge of 340 K and 90 kPa in 800 cm3."""
    return float(
        heat.woschni_gas_velocity(
            mean_piston_speed_m_s=9.19,
            pressure_rise_kpa=3000.0 - 1500.0,
            displaced_volume_m3=716.02e-6,
            reference_temperature_k=340.0,
            reference_pressure_kpa=90.0,
            reference_volume_m3=800e-6,
        )
    )


def test_ht_1_gas_velocity_during_combustion() -> None:
    assert combustion_velocity_m_s() == pytest.approx(37.386, rel=0.002)


def test_ht_2_woschni_during_combustion() -> None:
    found = heat.woschni_heat_transfer_w_m2_k(0.0996, 3000.0, 2000.0, combustion_velocity_m_s())
    assert found == pytest.approx(866.69, rel=0.003)


def test_ht_3_woschni_during_compression() -> None:
    velocity_m_s = heat.woschni_gas_velocity(9.19, 0.0, 716.02e-6, 340.0, 90.0, 800e-6)
    assert velocity_m_s == pytest.approx(2.28 * 9.19, rel=1e-12)
    found = heat.woschni_heat_transfer_w_m2_k(0.0996, 1000.0, 600.0, velocity_m_s)
    assert found == pytest.approx(439.12, rel=0.003)


def test_ht_4_woschni_with_the_original_exponent() -> None:
    found = heat.woschni_original_heat_transfer_w_m2_k(0.0996, 3000.0, 2000.0, combustion_velocity_m_s())
    assert found == pytest.approx(1008.98, rel=0.003)


def test_ht_6_hohenberg() -> None:
    found = published.hohenberg_heat_transfer_w_m2_k(1.5e-4, 30.0, 2000.0, 9.19)
    assert found == pytest.approx(1058.2, rel=0.003)


def test_gas_exchange_stirs_more_than_the_closed_cylinder() -> None:
    """By head: without combustion the velocity is C1 times the piston speed."""
    velocity_m_s = heat.woschni_gas_velocity(
        10.0, 0.0, 1.0, 300.0, 100.0, 1.0, heat.WOSCHNI_GAS_EXCHANGE_FACTOR
    )
    assert velocity_m_s == pytest.approx(61.8, rel=1e-12)


def test_the_velocity_of_a_nearly_shut_cylinder_by_hand() -> None:
    """Huber, Woschni and Zeilinger (1990), recalled: threefold at the top at 1 bar, 2 % more far off."""
    at_rest = 2.28 * 10.0
    assert heat.huber_gas_velocity(10.0, 1.0, 1.0) == pytest.approx(3.0 * at_rest, rel=1e-12)
    assert heat.huber_gas_velocity(10.0, 0.5, 32.0) == pytest.approx(1.25 * at_rest, rel=1e-12)
    assert heat.huber_gas_velocity(10.0, 0.1, 1.0) == pytest.approx(1.02 * at_rest, rel=1e-12)


@pytest.mark.parametrize("pressure_bar", [10.0, 30.0, 60.0])
@pytest.mark.parametrize("temperature_k", [800.0, 2000.0])
def test_the_original_exponent_agrees_with_hohenberg(pressure_bar: float, temperature_k: float) -> None:
    """Two correlations, fitted by different people: within 25 %; with the velocity of HT-1."""
    volume_m3, velocity_m_s = 1.5e-4, combustion_velocity_m_s()
    woschni = heat.woschni_original_heat_transfer_w_m2_k(
        0.0996, 100.0 * pressure_bar, temperature_k, velocity_m_s
    )
    hohenberg = published.hohenberg_heat_transfer_w_m2_k(volume_m3, pressure_bar, temperature_k, 9.19)
    assert woschni == pytest.approx(hohenberg, rel=0.25)


def test_wall_area_by_head() -> None:
    """Two discs and a wall of the height at which the piston stands below the head."""
    bore_m, height_m = 0.1, 0.03
    volume_m3 = pi * bore_m**2 / 4.0 * height_m
    expected_m2 = 2.0 * pi * bore_m**2 / 4.0 + pi * bore_m * height_m
    assert heat.wall_area_m2(bore_m, volume_m3) == pytest.approx(expected_m2, rel=1e-12)


@pytest.mark.parametrize("temperature_k", [400.0, 1000.0, 2500.0])
def test_the_two_printed_exponents_differ_by_a_known_power(temperature_k: float) -> None:
    arguments = (0.09, 2000.0, temperature_k, 25.0)
    ratio = heat.woschni_original_heat_transfer_w_m2_k(*arguments) / heat.woschni_heat_transfer_w_m2_k(
        *arguments
    )
    np.testing.assert_allclose(ratio, temperature_k**0.02, rtol=1e-12)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
