"""The reference cycles: rows PH-1 to PH-9 and PH-22.

Sources: Wiebe function with a = 5 and m = 2, Heywood, Internal Combustion Engine Fundamentals (1988), ch. 9;
the finite-heat-release problem of Ferguson and Kirkpatrick, Internal Combustion Engines: Applied
Thermosciences; Woschni, SAE 670931 (1967). Tolerances: those of the rows. SciPy integrates each cycle too.
"""

from collections.abc import Callable
from itertools import pairwise
from math import exp, log, pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import simpson, solve_ivp

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import wiebe
from sparkwright.cycle.kinematics import SliderCrank
from sparkwright.cycle.wiebe import ClosedCharge, HeatRelease, ideal_cycle, wall_loss_cycle
from sparkwright.errors import PhysicsError

FORMULAS: list[Case] = [
    (wiebe.wiebe_burned_fraction, (0.4, 5.0, 2.0)),
    (wiebe.wiebe_burn_rate, (0.4, 5.0, 2.0)),
    (wiebe.wiebe_progress, (0.4, 5.0, 2.0)),
]

CYLINDER = SliderCrank(bore_m=0.0996, stroke_m=0.0919, rod_m=0.154, compression_ratio=9.5)
CHARGE = ClosedCharge(
    pressure_kpa=100.0,
    temperature_k=350.0,
    heat_j_kg=2.5e6,
    speed_rpm=2000.0,
    wall_k=450.0,
    gamma=1.33,
    gas_constant_j_kg_k=287.0,
)


def highest(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """Place of the highest point of a smooth curve: the summit of a quartic through the samples."""
    slope_roots = np.roots(np.polyder(np.polyfit(x, y, 4)))
    inside = [float(root.real) for root in slope_roots if x[0] < root.real < x[-1] and root.imag == 0.0]
    assert len(inside) == 1
    return inside[0]


@pytest.mark.parametrize(
    ("progress", "expected"), [(0.25, 0.07515), (0.5, 0.46474), (0.75, 0.87869)], ids=lambda _: "PH-1"
)
def test_burned_fraction(progress: float, expected: float) -> None:
    assert wiebe.wiebe_burned_fraction(progress) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("burned", "expected"), [(0.10, 0.27621), (0.50, 0.51755), (0.90, 0.77223)], ids=lambda _: "PH-2"
)
def test_share_of_the_duration(burned: float, expected: float) -> None:
    assert wiebe.wiebe_progress(burned) == pytest.approx(expected, abs=1e-4)


@given(burned=st.floats(0.0, 0.999), factor=st.floats(1.0, 10.0), form=st.floats(0.5, 5.0))
def test_progress_is_the_inverse(burned: float, factor: float, form: float) -> None:
    progress = wiebe.wiebe_progress(burned, factor, form)
    assert wiebe.wiebe_burned_fraction(progress, factor, form) == pytest.approx(burned, abs=1e-9)


@pytest.mark.parametrize("progress", [0.1, 0.5, 0.9, 1.3])
def test_rate_is_the_derivative(progress: float) -> None:
    """Central difference; 1e-6: step of 1e-4, squared."""
    rise = wiebe.wiebe_burned_fraction(progress + 1e-4) - wiebe.wiebe_burned_fraction(progress - 1e-4)
    assert wiebe.wiebe_burn_rate(progress) == pytest.approx(rise / 2e-4, abs=1e-6)


def test_nothing_burns_before_the_start_or_after_the_end() -> None:
    release = HeatRelease(-20.0, 40.0)
    assert release.burned_fraction(-20.0) == 0.0
    assert release.burned_fraction(-90.0) == 0.0
    assert release.rate_per_deg(-90.0) == 0.0
    assert release.rate_per_deg(20.1) == 0.0
    assert release.burned_fraction(90.0) == pytest.approx(1.0 - exp(-5.0), rel=1e-12)


@pytest.mark.parametrize(
    ("start_deg", "duration_deg", "peak", "peak_deg", "work", "efficiency", "over_otto"),
    [
        pytest.param(-20.0, 40.0, 87.78, 10.8, 11.840, 0.5920, 0.9836, id="PH-4"),
        pytest.param(0.0, 40.0, 53.53, 27.7, 11.036, 0.5518, 0.9168, id="PH-5"),
        pytest.param(-20.0, 60.0, 63.66, 18.4, 11.480, 0.5740, 0.9536, id="PH-7"),
    ],
)
def test_ideal_cycle(
    start_deg: float,
    duration_deg: float,
    peak: float,
    peak_deg: float,
    work: float,
    efficiency: float,
    over_otto: float,
) -> None:
    cycle = ideal_cycle(HeatRelease(start_deg, duration_deg), 10.0, 1.4, 20.0)
    otto = 1.0 - 10.0**-0.4
    assert cycle.peak_pressure_ratio == pytest.approx(peak, rel=0.003)
    assert cycle.peak_deg == pytest.approx(peak_deg, abs=0.3)
    assert cycle.work_ratio == pytest.approx(work, rel=0.002)
    assert cycle.efficiency == pytest.approx(efficiency, rel=0.002)
    assert float(cycle.efficiency) / otto == pytest.approx(over_otto, rel=0.002)


def test_ph_9_best_start_and_the_price_of_being_late() -> None:
    starts_deg = np.arange(-24.0, -17.0, 0.25)
    best_deg = highest(starts_deg, ideal_cycle(HeatRelease(starts_deg, 40.0), 10.0, 1.4, 20.0).work_ratio)
    assert best_deg == pytest.approx(-20.73, abs=0.3)
    assert best_deg + 40.0 * float(wiebe.wiebe_progress(0.5)) == pytest.approx(-0.03, abs=0.3)
    late = HeatRelease(best_deg + np.array([0.0, 5.0, 10.0, 15.0, 20.0]), 40.0)
    work = ideal_cycle(late, 10.0, 1.4, 20.0).work_ratio
    np.testing.assert_allclose(100.0 * (1.0 - work[1:] / work[0]), [0.42, 1.68, 3.69, 6.36], atol=0.05)


def test_ph_22_best_start_with_wall_loss() -> None:
    starts_deg = np.arange(-18.0, -13.0, 0.25)
    best_deg = highest(
        starts_deg, wall_loss_cycle(HeatRelease(starts_deg, 50.0), CYLINDER, CHARGE).mean_pressure_bar
    )
    assert best_deg == pytest.approx(-15.8, abs=0.5)
    assert best_deg + 50.0 * float(wiebe.wiebe_progress(0.5)) == pytest.approx(10.1, abs=0.5)
    late = HeatRelease(best_deg + np.array([0.0, 5.0, 10.0, 15.0, 20.0]), 50.0)
    cycle = wall_loss_cycle(late, CYLINDER, CHARGE)
    mean_bar = cycle.mean_pressure_bar
    assert mean_bar[0] == pytest.approx(12.249, rel=0.003)
    assert cycle.peak_pressure_bar[0] == pytest.approx(58.28, rel=0.003)
    assert cycle.peak_deg[0] == pytest.approx(17.1, abs=0.5)
    assert 100.0 * cycle.heat_loss_share[0] == pytest.approx(16.3, rel=0.005)
    np.testing.assert_allclose(
        100.0 * (1.0 - mean_bar[1:] / mean_bar[0]), [0.76, 2.88, 6.11, 10.18], atol=0.1
    )


def ideal_pressure_by_scipy(start_deg: float, duration_deg: float) -> tuple[float, float]:
    """PH-4's equations written again for SciPy: pressure and work at 180 deg, split at the burn's ends."""
    ratio, gamma, heat = 10.0, 1.4, 20.0

    def slopes(crank_deg: float, state: NDArray[np.float64]) -> list[float]:
        angle = crank_deg * pi / 180.0
        volume = (1.0 + (ratio - 1.0) * (1.0 - np.cos(angle)) / 2.0) / ratio
        volume_slope = (ratio - 1.0) / (2.0 * ratio) * np.sin(angle) * pi / 180.0
        y = (crank_deg - start_deg) / duration_deg
        burning = 15.0 * y**2 * np.exp(-5.0 * y**3) / duration_deg if 0.0 < y < 1.0 else 0.0
        return [
            -gamma * state[0] / volume * volume_slope + (gamma - 1.0) * heat / volume * burning,
            state[0] * volume_slope,
        ]

    state = np.array([1.0, 0.0])
    stations = (-180.0, start_deg, start_deg + duration_deg, 180.0)
    for left, right in pairwise(stations):
        state = solve_ivp(slopes, (left, right), state, rtol=1e-10, atol=1e-12, max_step=2.0).y[:, -1]
    return float(state[0]), float(state[1])


@pytest.mark.parametrize(("start_deg", "duration_deg"), [(-20.0, 40.0), (0.0, 40.0), (-33.3, 61.7)])
def test_ideal_cycle_against_scipy(start_deg: float, duration_deg: float) -> None:
    """1e-5: the burn's abrupt end may fall inside a step."""
    cycle = ideal_cycle(HeatRelease(start_deg, duration_deg), 10.0, 1.4, 20.0)
    pressure, work = ideal_pressure_by_scipy(start_deg, duration_deg)
    assert cycle.pressure_ratio[-1] == pytest.approx(pressure, rel=1e-5)
    assert cycle.work_ratio == pytest.approx(work, rel=1e-5)


def test_wall_loss_cycle_against_scipy() -> None:
    """The same equations with geometry and Woschni's coefficient written out again; 1e-5 as above."""
    bore, crank, rod, ratio, speed = 0.0996, 0.04595, 0.154, 9.5, 2000.0
    area = pi * bore**2 / 4.0
    displaced = area * 2.0 * crank
    clearance = displaced / (ratio - 1.0)
    first = displaced + clearance
    mass = 1e5 * first / (287.0 * 350.0)
    start_deg, duration_deg = -16.0, 50.0

    def volume_at(angle: float) -> float:
        height = crank * np.cos(angle) + np.sqrt(rod**2 - (crank * np.sin(angle)) ** 2)
        return float(clearance + area * (crank + rod - height))

    def slopes(crank_deg: float, state: NDArray[np.float64]) -> list[float]:
        pressure = state[0]
        angle = crank_deg * pi / 180.0
        volume = volume_at(angle)
        volume_slope = (volume_at(angle + 1e-5) - volume_at(angle - 1e-5)) / 2e-5 * pi / 180.0
        y = (crank_deg - start_deg) / duration_deg
        burning = 15.0 * y**2 * np.exp(-5.0 * y**3) / duration_deg if 0.0 < y < 1.0 else 0.0
        velocity = 2.28 * 4.0 * crank * speed / 60.0
        if y > 0.0:
            rise_kpa = (pressure - 1e5 * (first / volume) ** 1.33) / 1000.0
            velocity += 3.24e-3 * displaced * 350.0 / (100.0 * first) * rise_kpa
        temperature = pressure * volume / (mass * 287.0)
        coefficient = 3.26 * bore**-0.2 * (pressure / 1000.0) ** 0.8 * temperature**-0.55 * velocity**0.8
        loss = coefficient * (2.0 * area + 4.0 * volume / bore) * (temperature - 450.0) / (6.0 * speed)
        pressure_slope = (-1.33 * pressure * volume_slope + 0.33 * (2.5e6 * mass * burning - loss)) / volume
        return [pressure_slope, pressure * volume_slope, loss]

    state = np.array([1e5, 0.0, 0.0])
    stations = (-180.0, start_deg, start_deg + duration_deg, 180.0)
    for left, right in pairwise(stations):
        state = solve_ivp(slopes, (left, right), state, rtol=1e-9, atol=1e-9, max_step=2.0).y[:, -1]
    cycle = wall_loss_cycle(HeatRelease(start_deg, duration_deg), CYLINDER, CHARGE)
    assert cycle.pressure_kpa[-1] == pytest.approx(state[0] / 1000.0, rel=1e-5)
    assert cycle.mean_pressure_bar == pytest.approx(state[1] / displaced / 1e5, rel=1e-5)
    assert cycle.heat_loss_share == pytest.approx(state[2] / (2.5e6 * mass), rel=1e-5)


@pytest.mark.parametrize("start_deg", [-30.0, -15.7, 5.0])
def test_energy_closes(start_deg: float) -> None:
    """Heat less wall loss less work, with the work taken from the trace (Simpson); 1e-4 of the heat."""
    cycle = wall_loss_cycle(HeatRelease(start_deg, 50.0), CYLINDER, CHARGE)
    volume_m3 = float(CYLINDER.volume_m3(-180.0))
    mass_kg = 1e5 * volume_m3 / (287.0 * 350.0)
    heat_j = 2.5e6 * mass_kg
    slope_m3_per_rad = np.asarray(CYLINDER.volume_slope_m3_per_rad(cycle.crank_deg))
    work_j = simpson(1000.0 * cycle.pressure_kpa * slope_m3_per_rad, x=np.deg2rad(cycle.crank_deg))
    assert work_j == pytest.approx(
        float(cycle.mean_pressure_bar) * 1e5 * CYLINDER.displaced_volume_m3, rel=1e-4
    )
    gain_j = (float(cycle.pressure_kpa[-1]) - 100.0) * 1000.0 * volume_m3 / 0.33
    released_j = heat_j * (1.0 - exp(-5.0))
    assert released_j - heat_j * float(cycle.heat_loss_share) - work_j == pytest.approx(
        gain_j, abs=1e-4 * heat_j
    )


def test_halving_the_step_changes_little() -> None:
    """Mean pressure within 0.1 % is required; 0.002 % holds."""
    release = HeatRelease(np.array([-25.3, -15.7, -2.1]), 50.0)
    coarse = wall_loss_cycle(release, CYLINDER, CHARGE, steps_per_deg=2)
    fine = wall_loss_cycle(release, CYLINDER, CHARGE, steps_per_deg=4)
    np.testing.assert_allclose(coarse.mean_pressure_bar, fine.mean_pressure_bar, rtol=2e-5)
    np.testing.assert_allclose(coarse.heat_loss_share, fine.heat_loss_share, rtol=2e-5)


def test_many_starts_at_once_are_each_their_own_cycle() -> None:
    starts_deg = np.array([-30.0, -10.0, 10.0])
    together = wall_loss_cycle(HeatRelease(starts_deg, 50.0), CYLINDER, CHARGE, steps_per_deg=1)
    for index, start_deg in enumerate(starts_deg):
        alone = wall_loss_cycle(HeatRelease(float(start_deg), 50.0), CYLINDER, CHARGE, steps_per_deg=1)
        np.testing.assert_allclose(together.pressure_kpa[:, index], alone.pressure_kpa, rtol=1e-12)
        assert together.peak_deg[index] == alone.peak_deg


def test_a_sudden_burn_at_the_top_is_the_otto_cycle() -> None:
    """Limit: heat all at top dead centre has the Otto efficiency of what burned; 0.2 % for 2 deg of burn."""
    cycle = ideal_cycle(HeatRelease(-1.0, 2.0), 10.0, 1.4, 20.0, steps_per_deg=20)
    burned = 1.0 - exp(-5.0)
    assert float(cycle.efficiency) == pytest.approx(burned * (1.0 - 10.0**-0.4), rel=0.002)


def test_half_burned_lies_at_a_known_share() -> None:
    """By head: y = (ln 2/5)^(1/3)."""
    assert wiebe.wiebe_progress(0.5) == pytest.approx((log(2.0) / 5.0) ** (1.0 / 3.0), rel=1e-12)


def test_numbers_that_make_no_cycle_are_refused() -> None:
    release = HeatRelease(-20.0, 40.0)
    facts = {"pressure_kpa": 100.0, "temperature_k": 350.0, "heat_j_kg": 2.5e6, "speed_rpm": 2000.0}
    rest = {"wall_k": 450.0, "gamma": 1.33, "gas_constant_j_kg_k": 287.0}
    cases: list[tuple[Callable[[], object], str]] = [
        (lambda: HeatRelease(-20.0, 0.0), "duration_deg = 0.0: must be above 0"),
        (lambda: HeatRelease(-20.0, 40.0, float("nan")), "efficiency_factor = nan: must be above 0"),
        (lambda: ideal_cycle(release, 1.0, 1.4, 20.0), "compression_ratio = 1.0: must be above 1"),
        (lambda: ideal_cycle(release, 9.0, 1.0, 20.0), "gamma = 1.0: must be above 1"),
        (lambda: ideal_cycle(release, 9.0, 1.4, -1.0), "heat_ratio = -1.0: must be above 0"),
        (lambda: ideal_cycle(release, 9.0, 1.4, 20.0, 0), "steps_per_deg = 0: must be 1 or more"),
        (lambda: ClosedCharge(**facts | rest | {"wall_k": 0.0}), "wall_k = 0.0: must be above 0"),
        (lambda: ClosedCharge(**facts | rest | {"gamma": 0.9}), "gamma = 0.9: must be above 1"),
    ]
    for attempt, message in cases:
        with pytest.raises(PhysicsError) as refused:
            attempt()
        assert str(refused.value) == message


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
