"""The stated uncertainty, held against plain drawing of the same spreads."""

from dataclasses import replace

import numpy as np
import pytest

from planning_jobs import ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.cycle.hook import best_spark, knock_limit_deg
from sparkwright.ignition.rotor import CAP_SIZES
from sparkwright.job import Job
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.point import trace_at
from sparkwright.plan.uncertainty import (
    COARSE_NODES,
    SPREADS,
    coarse_points,
    reach_sigma_deg,
    sigma_at,
    spread_over,
)

PHYSICS = physics_of(ORDINARY_V8)


def drawn_engine(physics: Physics, z: list[float]) -> Physics:
    """The engine off by `z` standard deviations of each spread, written out apart from the program's own."""
    constants, engine, fuel = physics.constants, physics.engine, physics.fuel
    # Overlap is wider or narrower through the seats; 1 + 0.4 z may not go below nothing. The job states
    # neither lifts, plug nor swirl: their wider spreads are drawn.
    seats = max(0.1, 1.0 + 0.40 * z[6])
    plug_m = min(
        abs(engine.chamber.plug_m + 0.05 * engine.chamber.bore_m * z[8]), 0.45 * engine.chamber.bore_m
    )
    return replace(
        physics,
        constants=replace(
            constants,
            turbulence=constants.turbulence * (1.0 + 0.08 * z[0]),
            burn_up=constants.burn_up * max(0.1, 1.0 + 0.15 * z[1]),
            knock_factor=constants.knock_factor * (1.0 + 0.10 * z[2]),
        ),
        fuel=replace(fuel, octane=fuel.octane + z[3]),
        mixture_lambda=tuple(each + 0.03 * z[7] for each in physics.mixture_lambda),
        idle_lambda=None if physics.idle_lambda is None else physics.idle_lambda + 0.03 * z[7],
        intake_k=physics.intake_k + 8.0 * z[4],
        boosted_k=physics.boosted_k + 8.0 * z[4],
        engine=replace(
            engine,
            chamber=replace(
                engine.chamber,
                compression_ratio=engine.chamber.compression_ratio * (1.0 + 0.03 * z[5]),
                plug_offset_m=plug_m,
            ),
            swirl=engine.swirl * (1.0 + 0.06 * z[9]),
            intake_seat_m=engine.intake_seat_m * seats,
            exhaust_seat_m=engine.exhaust_seat_m * seats,
        ),
    )


def test_the_spreads_are_those_that_are_drawn_here() -> None:
    taken = [each.taken(PHYSICS) for each in SPREADS]
    assert [each.amount for each in taken] == [
        "8 %",
        "15 %",
        "10 %",
        "1",
        "8 K",
        "3 %",
        "40 %",
        "0.03",
        "5 % of bore",
        "6 %",
    ]
    assert [each.name for each in taken if not each.stated] == ["valve overlap", "plug offset", "swirl"]
    assert all(each.origin for each in taken)


def test_what_a_job_leaves_open_may_be_off_by_more() -> None:
    """Each fact taken away widens what depends on it, and nothing else."""

    def amounts(job: Job) -> dict[str, float]:
        physics = physics_of(job)
        return {each.name: each.amount(physics) for each in SPREADS}

    stated = (
        ORDINARY_V8.changed("engine", swirl=1, plug_offset="25 mm")
        .changed("cam", intake_lift="10 mm", exhaust_lift="10 mm")
        .changed("fuel", lambda_cruise=1.0)
    )
    all_stated = amounts(stated)
    for section, keys, name in (
        ("engine", ["swirl"], "swirl"),
        ("engine", ["plug_offset"], "plug offset"),
        ("cam", ["intake_lift"], "valve overlap"),
        ("cam", ["exhaust_valve"], "valve overlap"),
        ("fuel", ["lambda_full"], "mixture, lambda"),
        ("fuel", ["mon"], "octane number"),
        ("induction", ["intake_temperature"], "intake air"),
    ):
        without = amounts(stated.changed(section, **dict.fromkeys(keys)))
        assert {each for each in without if without[each] != all_stated[each]} == {name}
        assert without[name] > all_stated[name]
    physics = [physics_of(job) for job in (stated, stated.changed("engine", swirl=None, plug_offset=None))]
    assert sigma_at(physics[1], 3000.0, 80.0)[0] > sigma_at(physics[0], 3000.0, 80.0)[0] + 0.3


def test_the_spread_of_the_reach_is_that_of_its_parts() -> None:
    """By hand: an arc of w at radius r spans w / r, and half of each counts, twice in crank degrees.

    0.3 mm on a tip at 29.2 mm and on a post at 30 mm are 0.589 and 0.573 deg; half a distributor degree of
    phase is 1 deg.
    """
    job = PUMP_HOUSE.changed(
        "distributor",
        tip_radius="29.2 mm",
        tip_width="6 mm",
        post_radius="30 mm",
        post_width="2.5 mm",
        rotor_phase_deg=0,
    )
    assert reach_sigma_deg(job) == pytest.approx((0.589**2 + 0.573**2 + 1.0**2) ** 0.5, abs=0.01)
    # Not measured: 15 % of 6 mm are 0.9 mm.
    unmeasured = job.changed("distributor", tip_width=None)
    tip_mm = CAP_SIZES["large"].tip_width_mm
    wider = 0.15 * tip_mm / 29.2 * 180.0 / np.pi
    assert reach_sigma_deg(unmeasured.changed("distributor", cap_size="large")) == pytest.approx(
        (wider**2 + 0.573**2 + 1.0**2) ** 0.5, rel=0.02
    )
    assert reach_sigma_deg(job.changed("distributor", rotor_phase_deg=None)) > 4.0


def test_a_plan_says_what_its_spreads_are_made_of() -> None:
    job = on_axes(PUMP_HOUSE, [700, 2000], [40, 85])
    said = plan(job).spreads
    assert [each.name for each in said] == [
        *(each.name for each in SPREADS),
        "tip width",
        "post width",
        "rotor phase",
    ]
    assert {each.name for each in said if not each.stated} == {"swirl"}


@pytest.mark.parametrize(("rpm", "kpa"), [(1500.0, 90.0), (1100.0, 80.0)])
def test_small_changes_give_the_spread_that_drawing_gives(rpm: float, kpa: float) -> None:
    """By Monte Carlo, 200 draws of independent normal spreads: within 20 % (draws alone are sure to 5)."""
    random = np.random.default_rng(20)
    advance_deg = np.linspace(-6.0, 60.0, 34)
    best, knock = [], []
    for z in random.standard_normal((200, 10)).tolist():
        trace = trace_at(drawn_engine(PHYSICS, z), rpm, kpa, advance_deg)
        best.append(best_spark(trace.advance_deg, trace.torque_nm).best_deg)
        knock.append(knock_limit_deg(trace.advance_deg, trace.knock_integral))
    assert np.isfinite(best).all()
    # A draw in a hundred may put the plug so near the middle that nothing knocks.
    known = np.isfinite(knock)
    assert known.mean() >= 0.99
    best_sigma, knock_sigma = sigma_at(PHYSICS, rpm, kpa)
    assert best_sigma == pytest.approx(float(np.std(best)), rel=0.20)
    assert knock_sigma == pytest.approx(float(np.std(np.array(knock)[known])), rel=0.20)


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
