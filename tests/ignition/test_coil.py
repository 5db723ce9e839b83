"""The inductive coil.

Sources: circuit theory (closed form of a charging inductance; energy balance); Heywood, *Internal
Combustion Engine Fundamentals* (1988), sec. 9.5; IEC 60028 for copper; Denton, *Automobile Electrical and
Electronic Systems*. Independent solvers: ngspice 39 on the circuits under tests/data/circuits, and SciPy.
"""

import math

import numba
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from circuits import SOLVERS, solve
from sparkwright.errors import PhysicsError
from sparkwright.ignition import coil as charging
from sparkwright.ignition import coil_formulas as formulas
from sparkwright.ignition.coil import Coil, CoilCharge, Driver
from sparkwright.ignition.ring import Windings, peaks

# The coil of EL-1 to EL-3: 0.70 ohm at its own temperature, no driver drop.
TEXTBOOK = Coil(primary_ohm=0.7, primary_mh=4.0, turns_ratio=100.0, winding_c=20.0)
PLAIN = Driver(drop_v=0.0, clamp_v=None, capacitance_uf=0.25)
SATURATING = Coil(primary_ohm=0.8, primary_mh=4.0, turns_ratio=100.0, winding_c=20.0, saturation_a=7.0)

coils = st.builds(
    Coil,
    primary_ohm=st.floats(0.3, 3.0),
    primary_mh=st.floats(2.0, 10.0),
    turns_ratio=st.floats(60.0, 120.0),
    saturation_a=st.one_of(st.none(), st.floats(3.0, 15.0)),
    winding_c=st.floats(-20.0, 120.0),
)


def test_el_1_current() -> None:
    """EL-1, circuit theory, 0.1 %: 13.5 V, 0.70 ohm, 4.0 mH, 3.0 ms."""
    assert formulas.charging_current_a(13.5, 0.7, 4.0, 3.0) == pytest.approx(7.87715, rel=1e-3)
    assert CoilCharge(TEXTBOOK, PLAIN, 13.5).current_a(3.0) == pytest.approx(7.87715, rel=1e-6)


def test_el_2_time() -> None:
    """EL-2, circuit theory, 0.1 %: the same circuit to 6 A."""
    assert formulas.charging_time_ms(13.5, 0.7, 4.0, 6.0) == pytest.approx(2.12957, rel=1e-3)
    assert CoilCharge(TEXTBOOK, PLAIN, 13.5).dwell_ms(6.0) == pytest.approx(2.12957, rel=1e-5)


def test_el_3_energy() -> None:
    """EL-3, circuit theory, 0.2 %."""
    assert formulas.stored_energy_mj(4.0, 7.87715) == pytest.approx(124.1, rel=2e-3)


def test_el_6_lossless_peak() -> None:
    """EL-6, energy balance (Heywood 1988, sec. 9.5), 0.5 %."""
    assert formulas.lossless_secondary_kv(4.0, 4.0, 100.0, 0.25, 80.0) == pytest.approx(24.689, rel=5e-3)


def test_el_9_peaks_with_leakage_and_losses() -> None:
    """EL-9, circuit theory, 1 %: 0.25 uF across the switch, k = 0.95, 8 kohm, 1 Mohm load, 6 A."""
    ring = charging.opening(TEXTBOOK, PLAIN, battery_v=13.5, current_a=6.0, load_mohm=1.0)
    assert ring.secondary_kv == pytest.approx(27.14, rel=0.01)
    assert ring.primary_v == pytest.approx(371.3, rel=0.01)


@pytest.mark.parametrize(
    ("ohm", "millihenry", "ratio", "current_a", "energy_mj"),
    [
        pytest.param(2.0, 8.0, 90.0, 3.5, (20.0, 50.0), id="canister coil: 1.5-3 ohm, 6-10 mH, 3-4 A"),
        pytest.param(0.5, 4.0, 85.0, 6.5, (50.0, 120.0), id="electronic coil: 0.3-0.8 ohm, 2-5 mH, 5-9 A"),
    ],
)
def test_el_coil(
    ohm: float, millihenry: float, ratio: float, current_a: float, energy_mj: tuple[float, float]
) -> None:
    """EL-COIL, Heywood (1988) sec. 9.5 and Denton, band: such coils store what they should."""
    coil = Coil(ohm, millihenry, ratio)
    assert energy_mj[0] <= coil.energy_mj(current_a) <= energy_mj[1]
    assert CoilCharge(coil, Driver(), 14.0).dwell_ms(current_a) is not None


@pytest.mark.parametrize("solver", SOLVERS)
def test_charging_against_ngspice(solver: str) -> None:
    """Tolerance: what ngspice's own steps of 1 us leave open."""
    circuit = solve("charging", solver)
    charge = CoilCharge(TEXTBOOK, PLAIN, 13.5)
    assert charge.current_a(3.0) == pytest.approx(circuit["current_a"], rel=1e-5)
    assert charge.dwell_ms(6.0) == pytest.approx(1e3 * circuit["time_s"], rel=1e-5)


@pytest.mark.parametrize("solver", SOLVERS)
def test_saturating_charge_against_ngspice(solver: str) -> None:
    circuit = solve("saturating", solver)
    charge = CoilCharge(SATURATING, PLAIN, 13.5)
    assert charge.current_a(3.0) == pytest.approx(circuit["current_a"], rel=1e-4)
    assert charge.dwell_ms(9.0) == pytest.approx(1e3 * circuit["time_s"], rel=1e-4)


@pytest.mark.parametrize("solver", SOLVERS)
def test_opening_with_a_condenser_against_ngspice(solver: str) -> None:
    """The circuit of EL-9, 0.1 %."""
    circuit = solve("opening_condenser", solver)
    ring = charging.opening(TEXTBOOK, PLAIN, battery_v=13.5, current_a=6.0, load_mohm=1.0)
    assert ring.secondary_kv == pytest.approx(-1e-3 * circuit["secondary_low_v"], rel=1e-3)
    assert ring.primary_v == pytest.approx(circuit["primary_v"], rel=1e-3)


@pytest.mark.parametrize("solver", SOLVERS)
def test_opening_of_a_clamping_driver_against_ngspice(solver: str) -> None:
    """0.2 %: ngspice's clamp is a sharp diode onto 400 V, ours an exact bound."""
    circuit = solve("opening_clamped", solver)
    warm = Coil(primary_ohm=0.7, primary_mh=4.0, turns_ratio=100.0, winding_c=80.0)
    driver = Driver(drop_v=0.0, clamp_v=400.0, capacitance_uf=0.01)
    ring = charging.opening(warm, driver, battery_v=13.5, current_a=6.0, load_mohm=1.0)
    assert ring.secondary_kv == pytest.approx(-1e-3 * circuit["secondary_low_v"], rel=2e-3)
    assert ring.primary_v == pytest.approx(circuit["primary_v"], rel=1e-3)


def test_the_ring_against_scipy() -> None:
    """The same four states through SciPy's solver at tight tolerance; 0.1 % for peaks read off steps."""
    circuit = Windings(4e-3, 85.0, 0.93, 0.9, 9e3, 0.05e-6, 60e-12, 2e6)
    span_s = 2e-4
    rates, source = circuit.rates(), circuit.source(12.0)
    answer = solve_ivp(
        lambda _, state: rates @ state + source,
        (0.0, span_s),
        [5.0, 0.0, 0.0, 0.0],
        method="DOP853",
        rtol=1e-9,
        atol=1e-9,
        max_step=2e-7,
    )
    ring = peaks(circuit, source_v=12.0, current_a=5.0, primary_v=0.0, span_s=span_s)
    assert ring.secondary_kv == pytest.approx(1e-3 * np.max(np.abs(answer.y[3])), rel=1e-3)
    assert ring.primary_v == pytest.approx(np.max(np.abs(answer.y[2])), rel=1e-3)


def test_a_ring_without_loss_keeps_its_energy() -> None:
    """Nearly ideal coupling, no loss: the peak of EL-6; 1 %, as the ring of the leakage rides on it."""
    circuit = Windings(4e-3, 100.0, 0.9999, 0.0, 0.0, 0.25e-6, 80e-12, 1e12)
    ring = peaks(circuit, source_v=0.0, current_a=4.0, primary_v=0.0, span_s=2e-4)
    assert ring.secondary_kv == pytest.approx(24.689, rel=0.01)


@given(coils, st.floats(8.0, 16.0), st.floats(0.05, 0.95))
def test_saturating_dwell_against_scipy(coil: Coil, battery_v: float, share: float) -> None:
    """The charging time as `integral of L(i) / (V - R i) di`, by SciPy's adaptive quadrature."""
    charge = CoilCharge(coil, Driver(), battery_v)
    current = share * charge.most_current_a
    time_ms, _ = quad(
        lambda amperes: float(coil.inductance_mh(amperes)) / (charge.drive_v - charge.loop_ohm * amperes),
        0.0,
        current,
        epsabs=0.0,
        epsrel=1e-10,
    )
    dwell_ms = charge.dwell_ms(current)
    assert dwell_ms == pytest.approx(time_ms, rel=1e-6)


@given(coils, st.floats(8.0, 16.0), st.floats(0.02, 0.98))
def test_current_and_dwell_undo_each_other(coil: Coil, battery_v: float, share: float) -> None:
    charge = CoilCharge(coil, Driver(), battery_v)
    current = share * charge.most_current_a
    dwell_ms = charge.dwell_ms(current)
    assert dwell_ms is not None
    assert charge.current_a(dwell_ms) == pytest.approx(current, rel=1e-8)


@given(coils, st.floats(1.0, 200.0))
def test_energy_and_current_undo_each_other(coil: Coil, energy_mj: float) -> None:
    assert coil.energy_mj(coil.current_for_energy_a(energy_mj)) == pytest.approx(energy_mj, rel=1e-9)


@given(coils, st.floats(0.5, 15.0))
def test_stored_energy_is_the_integral_of_current_over_flux(coil: Coil, current_a: float) -> None:
    energy_mj, _ = quad(lambda amperes: amperes * float(coil.inductance_mh(amperes)), 0.0, current_a)
    assert coil.energy_mj(current_a) == pytest.approx(energy_mj, rel=1e-6)


@given(coils, st.floats(8.0, 15.0), st.floats(0.1, 20.0))
def test_the_supply_pays_for_everything(coil: Coil, battery_v: float, dwell_ms: float) -> None:
    """Energy from the battery = heat in coil, ballast and driver + energy stored, which pays the clamp."""
    driver = Driver(drop_v=1.2, ballast_ohm=0.4, current_limit_a=6.0)
    charge = CoilCharge(coil, driver, battery_v)
    heat = charge.heat(dwell_ms)
    stored_mj = coil.energy_mj(charge.current_a(dwell_ms))
    clamp_mj = (1.0 - coil.coupling**2) * stored_mj
    spent_mj = heat.coil_mj + heat.ballast_mj + heat.driver_mj - clamp_mj + stored_mj
    assert spent_mj == pytest.approx(heat.supply_mj, rel=1e-5)


@given(coils, st.floats(8.0, 15.0), st.floats(1.01, 1.5))
def test_more_voltage_never_needs_more_dwell(coil: Coil, battery_v: float, factor: float) -> None:
    table = charging.dwell_for_energy_ms(coil, Driver(), 20.0, np.array([battery_v, battery_v * factor]))
    if not math.isnan(table[0]):
        assert table[1] < table[0]


def test_saturation_charges_faster_and_stores_less() -> None:
    linear = Coil(0.8, 4.0, 100.0, winding_c=20.0)
    assert SATURATING.energy_mj(9.0) < linear.energy_mj(9.0)
    saturated_ms = CoilCharge(SATURATING, PLAIN, 13.5).dwell_ms(9.0)
    linear_ms = CoilCharge(linear, PLAIN, 13.5).dwell_ms(9.0)
    assert saturated_ms is not None
    assert linear_ms is not None
    assert saturated_ms < linear_ms


def test_a_far_saturation_is_no_saturation() -> None:
    far = Coil(0.7, 4.0, 100.0, winding_c=20.0, saturation_a=500.0)
    assert CoilCharge(far, PLAIN, 13.5).dwell_ms(6.0) == pytest.approx(2.12957, rel=1e-5)


def test_warm_copper() -> None:
    """IEC 60028: 0.393 % a kelvin from 20 C; hand solution for 80 C."""
    assert formulas.warm_resistance_ohm(0.70, 80.0) == pytest.approx(0.70 * 1.2358)
    assert formulas.warm_resistance_ohm(0.70, 20.0) == 0.70


def test_a_current_limit_holds() -> None:
    limited = CoilCharge(TEXTBOOK, Driver(drop_v=0.0, current_limit_a=6.0), 13.5)
    assert limited.current_a(50.0) == 6.0
    assert limited.dwell_ms(6.5) is None
    # Hand solution: 1 ms of holding puts (13.5 - 6 x 0.7) x 6 = 55.8 mJ into the driver.
    more = limited.heat(11.0).driver_mj - limited.heat(10.0).driver_mj
    assert more == pytest.approx(55.8, rel=1e-6)


def test_what_a_voltage_cannot_reach_is_not_a_number() -> None:
    table = charging.dwell_for_energy_ms(TEXTBOOK, Driver(drop_v=1.5), 100.0, np.array([4.0, 6.0, 14.0]))
    assert np.isnan(table).tolist() == [True, True, False]


@pytest.mark.parametrize(
    ("cylinders", "speed_rpm", "interval_ms"), [(8, 6000.0, 2.5), (6, 4000.0, 5.0), (4, 1000.0, 30.0)]
)
def test_time_from_spark_to_spark(cylinders: int, speed_rpm: float, interval_ms: float) -> None:
    """By head: half the cylinders fire in each turn."""
    assert formulas.spark_interval_ms(cylinders, speed_rpm) == pytest.approx(interval_ms)
    assert formulas.highest_full_energy_rpm(cylinders, interval_ms - 1.0, 1.0) == pytest.approx(speed_rpm)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        (
            {"primary_ohm": 0.0},
            "coil.primary_ohm = 0.0: must be above 0; a shorted primary has no charging curve",
        ),
        ({"primary_mh": -1.0}, "coil.primary_mh = -1.0: must be above 0"),
        ({"coupling": 1.0}, "coil.coupling = 1.0: must be between 0 and 1"),
        (
            {"winding_c": 400.0},
            "coil.winding_c = 400.0: must be -60 to 250 C; no winding survives outside that",
        ),
        ({"saturation_a": 0.0}, "coil.saturation_a = 0.0: must be above 0"),
    ],
)
def test_impossible_coils_are_refused(values: dict[str, float], message: str) -> None:
    usual = {"primary_ohm": 0.7, "primary_mh": 4.0, "turns_ratio": 100.0}
    with pytest.raises(PhysicsError) as refused:
        Coil(**{**usual, **values})
    assert str(refused.value) == message


def test_other_refusals() -> None:
    with pytest.raises(PhysicsError, match=r"^driver.drop_v = -1.0: must not be below 0$"):
        Driver(drop_v=-1.0)
    with pytest.raises(PhysicsError, match=r"^battery_v = 1.0: must be above the driver's drop, 1.5 V$"):
        CoilCharge(TEXTBOOK, Driver(), 1.0)
    with pytest.raises(PhysicsError, match=r"^time_ms = -1.0: must not be below 0$"):
        CoilCharge(TEXTBOOK, Driver(), 13.5).current_a(-1.0)
    with pytest.raises(PhysicsError, match=r"^energy_mj = 0.0: must be above 0$"):
        TEXTBOOK.current_for_energy_a(0.0)
    with pytest.raises(PhysicsError, match=r"^load_ohm = 0.0: must be above 0$"):
        charging.opening(TEXTBOOK, PLAIN, battery_v=13.5, current_a=6.0, load_mohm=0.0)


def test_no_current_gives_no_voltage() -> None:
    ring = charging.opening(TEXTBOOK, PLAIN, battery_v=13.5, current_a=0.0, load_mohm=1.0)
    assert (ring.secondary_kv, ring.primary_v) == (0.0, 0.0)


def test_formulas_compile_unchanged() -> None:
    assert numba.njit(formulas.charging_current_a)(13.5, 0.7, 4.0, 3.0) == pytest.approx(7.87715, rel=1e-5)
    assert numba.njit(formulas.charging_time_ms)(13.5, 0.7, 4.0, 6.0) == pytest.approx(2.12957, rel=1e-5)
    assert numba.njit(formulas.stored_energy_mj)(4.0, 7.87715) == pytest.approx(124.1, rel=1e-3)
    peak_kv = numba.njit(formulas.lossless_secondary_kv)(4.0, 4.0, 100.0, 0.25, 80.0)
    assert peak_kv == pytest.approx(24.689, rel=1e-4)
    assert numba.njit(formulas.warm_resistance_ohm)(0.7, 20.0) == pytest.approx(0.7)
    assert numba.njit(formulas.saturating_inductance_mh)(4.0, 8.0, 8.0, 0.2) == pytest.approx(2.4)
    assert numba.njit(formulas.saturating_energy_mj)(4.0, 1.0, 100.0, 0.2) == pytest.approx(2.0, rel=1e-4)


@pytest.mark.parametrize(
    ("energy_mj", "secondary_h", "secondary_kohm", "burning_kv"),
    [(50.0, 30.0, 9.0, 1.5), (30.0, 39.0, 8.0, 1.0), (80.0, 20.0, 3.0, 2.5)],
)
def test_a_spark_burns_until_its_current_has_died(
    energy_mj: float, secondary_h: float, secondary_kohm: float, burning_kv: float
) -> None:
    """Against SciPy's quadrature of dt = L di / (R i + V), the circuit's own equation."""
    current_a = (2e-3 * energy_mj / secondary_h) ** 0.5
    burning_s, _ = quad(
        lambda amperes: secondary_h / (1e3 * secondary_kohm * amperes + 1e3 * burning_kv), 0.0, current_a
    )
    burning_ms = formulas.burning_time_ms(energy_mj, secondary_h, secondary_kohm, burning_kv)
    assert burning_ms == pytest.approx(1e3 * burning_s, rel=1e-9)
