"""How much charge an engine takes in: pressure at intake closing against speed, valve and cam.

Sources: Taylor, The Internal-Combustion Engine in Theory and Practice 1 (1985), ch. 6, and Livengood and
Stanitz, NACA TN 915 (1943): volumetric efficiency falls off beyond an inlet Mach index of 0.5 to 0.6 (both
recalled); Kolodziej and Wallner, Combustion Engines 171(4) (2017) 164 (second-hand).
"""

import numpy as np
import pytest

from calibrate import OCTANE_RUN, Bench, Run
from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from reference_engines import MILD_CAM, RADICAL_CAM, cfr, wedge_v8
from sparkwright.cycle import filling, fuel_air
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.engine import Engine, charge_at

BENCH = Bench(PRIOR.constants)
RPM = np.arange(500.0, 7001.0, 250.0)
FORMULAS: list[Case] = [
    (filling.mach_index, (0.1, 0.045, 12.0, 194.0)),
    (filling.closing_pressure_ratio, (0.4, 24.0, 0.08, 1.4, 0.87)),
    (filling.compressed_k, (330.0, 1.1)),
]


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)


def mach(engine: Engine, rpm: float) -> float:
    """Mach index by its definition, written out."""
    piston_m_s = 2.0 * engine.chamber.stroke_m * rpm / 60.0
    duration_deg = engine.events.at_lift(1.27).intake_duration_deg
    flow = 0.32 * duration_deg / 194.0
    return (engine.chamber.bore_m / engine.intake_seat_m) ** 2 * piston_m_s / (flow * 350.0)


def filled(engine: Engine, rpm: float) -> float:
    """Pressure at closing over the manifold's."""
    return float(engine.closing_pressure_ratio(rpm, PRIOR.constants))


def test_the_mach_index_by_head() -> None:
    """Taylor: (B/D)^2 S/(a C); a valve of half the bore at 14 m/s, C 0.32, a 350 m/s: 4 x 14/112 = 0.5."""
    assert filling.mach_index(0.1, 0.05, 14.0, 194.0) == pytest.approx(0.5, rel=1e-12)
    assert filling.mach_index(0.1, 0.05, 14.0, 388.0) == pytest.approx(0.25, rel=1e-12)


def test_filling_is_best_near_a_mach_index_of_a_half_and_falls_beyond() -> None:
    """Taylor; Livengood and Stanitz: the top between 0.4 and 0.65, a fifth or more lost by 1.0."""
    for engine in (wedge_v8(), wedge_v8(RADICAL_CAM), cfr()):
        rpm = np.arange(500.0, 15001.0, 50.0)
        index = np.array([mach(engine, n) for n in rpm])
        ratio = np.array([filled(engine, n) for n in rpm])
        top = int(np.argmax(ratio))
        assert 0.40 <= index[top] <= 0.65
        assert np.all(np.diff(ratio[top:]) < 0.0)
        assert float(np.interp(1.0, index, ratio)) < 0.8 * ratio[top]


def test_pressure_at_closing_stays_near_the_manifolds() -> None:
    """Up to a Mach index of 0.6, 0.85 to 1.15 of it on a short cam (common practice, no source)."""
    for rpm in RPM:
        if mach(wedge_v8(), rpm) <= 0.6:
            assert 0.85 < filled(wedge_v8(), rpm) < 1.15


def test_a_long_cam_loses_filling_when_slow_and_gains_when_fast() -> None:
    """Taylor (recalled): late closing pushes charge back out at low speed and catches more at high."""
    long, mild = wedge_v8(RADICAL_CAM), wedge_v8(MILD_CAM)
    gained = np.array([BENCH.filling(Run(long, rpm)) - BENCH.filling(Run(mild, rpm)) for rpm in RPM])
    slow, fast = RPM <= 2000.0, RPM >= 5000.0
    assert np.all(gained[slow] < 0.0)
    assert np.all(gained[fast] > 0.0)
    assert int(np.sum(np.diff(np.sign(gained)) != 0)) == 1  # one speed at which they are alike


def test_a_cam_that_closes_before_bottom_has_no_ram() -> None:
    """By its definition: psi is then 1 - loss over the fall, whatever the ram."""
    for ram in (0.5, 2.0):
        assert filling.closing_pressure_ratio(0.4, -5.0, 0.08, ram, 0.87) == pytest.approx(
            0.92 / (1.0 + (0.4 / 0.87) ** 4), rel=1e-12
        )


def test_charge_pressed_together_warms_as_an_isentrope() -> None:
    """By head: exponent 0.27 = 1 - 1/1.37; 1.1 in pressure warms 330 K by 8.6 K."""
    assert filling.compressed_k(330.0, 1.1) == pytest.approx(330.0 * 1.1 ** (0.37 / 1.37), rel=2e-4)


def test_filling_of_the_octane_engine() -> None:
    """Kolodziej and Wallner (2017), second-hand: volumetric efficiency 0.835 at 52 degC; 0.02 allowed.

    And the air itself, with the charge at 41 degC: 0.555 g a cycle, 4 %.
    """
    assert BENCH.filling(OCTANE_RUN) == pytest.approx(0.835, abs=0.02)
    run = OCTANE_RUN
    air = type(run.air)(run.air.ambient_kpa, 314.0, run.air.humidity_ratio)
    charge, share = charge_at(
        run.engine, air, run.fuel, PRIOR.constants, speed_rpm=600.0, map_kpa=98.0, mixture_lambda=0.886
    )
    air_fuel = 0.886 * fuel_air.stoichiometric_air_fuel_ratio(0.0)
    air_g = 1e3 * charge.mass_kg * (1.0 - share) * air_fuel / (1.0 + air_fuel)
    assert air_g == pytest.approx(0.555, rel=0.04)
