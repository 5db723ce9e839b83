"""The stated uncertainty, held against plain drawing of the same spreads."""

from dataclasses import replace

import numpy as np
import pytest

from planning_jobs import ORDINARY_V8
from sparkwright.cycle.hook import best_spark, knock_limit_deg
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.point import trace_at
from sparkwright.plan.uncertainty import COARSE_NODES, SPREADS, coarse_points, sigma_at, spread_over

PHYSICS = physics_of(ORDINARY_V8)


def drawn_engine(physics: Physics, z: list[float]) -> Physics:
    """The engine off by `z` standard deviations of each spread, written out apart from the program's own."""
    constants, engine, fuel = physics.constants, physics.engine, physics.fuel
    # Overlap is wider or narrower through the seats; 1 + 0.3 z may not go below nothing.
    seats = max(0.1, 1.0 + 0.30 * z[6])
    return replace(
        physics,
        constants=replace(
            constants,
            turbulence=constants.turbulence * (1.0 + 0.08 * z[0]),
            burn_up=constants.burn_up * max(0.1, 1.0 + 0.15 * z[1]),
            knock_factor=constants.knock_factor * (1.0 + 0.10 * z[2]),
        ),
        fuel=replace(fuel, octane=fuel.octane + z[3]),
        intake_k=physics.intake_k + 8.0 * z[4],
        boosted_k=physics.boosted_k + 8.0 * z[4],
        engine=replace(
            engine,
            chamber=replace(
                engine.chamber, compression_ratio=engine.chamber.compression_ratio * (1.0 + 0.03 * z[5])
            ),
            intake_seat_m=engine.intake_seat_m * seats,
            exhaust_seat_m=engine.exhaust_seat_m * seats,
        ),
    )


def test_the_spreads_are_those_that_are_drawn_here() -> None:
    assert [each.amount for each in SPREADS] == ["8 %", "15 %", "10 %", "1", "8 K", "3 %", "30 %"]
    assert all(each.origin for each in SPREADS)


@pytest.mark.parametrize(("rpm", "kpa"), [(1500.0, 90.0), (1100.0, 80.0)])
def test_small_changes_give_the_spread_that_drawing_gives(rpm: float, kpa: float) -> None:
    """By Monte Carlo, 200 draws of independent normal spreads: within 20 % (draws alone are sure to 5)."""
    random = np.random.default_rng(20)
    advance_deg = np.linspace(-6.0, 60.0, 34)
    best, knock = [], []
    for z in random.standard_normal((200, 7)).tolist():
        trace = trace_at(drawn_engine(PHYSICS, z), rpm, kpa, advance_deg)
        best.append(best_spark(trace.advance_deg, trace.torque_nm).best_deg)
        knock.append(knock_limit_deg(trace.advance_deg, trace.knock_integral))
    assert np.isfinite(best).all()
    assert np.isfinite(knock).all()
    best_sigma, knock_sigma = sigma_at(PHYSICS, rpm, kpa)
    assert best_sigma == pytest.approx(float(np.std(best)), rel=0.20)
    assert knock_sigma == pytest.approx(float(np.std(knock)), rel=0.20)


def test_a_limit_that_is_not_there_has_no_spread() -> None:
    best_sigma, knock_sigma = sigma_at(PHYSICS, 4000.0, 40.0)
    assert best_sigma > 0.5
    assert np.isnan(knock_sigma)


def test_a_limit_that_a_spread_moves_out_of_sight_still_counts() -> None:
    """Where the limit stands just inside the tested advances, slower burning takes it out of them."""
    advance_deg = np.linspace(-4.0, 60.0, 65)

    def limit_deg(rpm: float) -> float:
        return knock_limit_deg(advance_deg, trace_at(PHYSICS, rpm, 95.0, advance_deg).knock_integral)

    near_edge = next(rpm for rpm in np.arange(2500.0, 5000.0, 50.0).tolist() if limit_deg(rpm) > 55.0)
    assert sigma_at(PHYSICS, near_edge, 95.0)[1] > 3.0


def test_a_plane_is_carried_to_the_cells_as_a_plane() -> None:
    rpm, kpa = np.array([800.0, 1300.0, 4000.0]), np.array([30.0, 77.0])
    coarse_rpm, coarse_kpa = coarse_points(rpm, kpa)
    assert coarse_rpm.size == coarse_kpa.size == COARSE_NODES
    plane = 0.001 * coarse_rpm[None, :] + 0.05 * coarse_kpa[:, None]
    wanted = 0.001 * rpm[None, :] + 0.05 * kpa[:, None]
    np.testing.assert_allclose(spread_over(rpm, kpa, plane), wanted, rtol=1e-12)


def test_what_is_not_known_counts_as_the_largest_known() -> None:
    rpm, kpa = np.array([1000.0, 2000.0]), np.array([40.0, 90.0])
    coarse = np.full((COARSE_NODES, COARSE_NODES), np.nan)
    assert np.isnan(spread_over(rpm, kpa, coarse)).all()
    coarse[0, 0] = 2.5
    assert np.all(spread_over(rpm, kpa, coarse) == 2.5)
