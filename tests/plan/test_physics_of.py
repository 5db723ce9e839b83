"""From a job to what the cycle computes with: units, site, mixture, and nothing assumed unsaid."""

import runpy
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planning_jobs import BOOSTED_SIX, BOOSTED_V8, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, RADICAL_V8
from sparkwright.cycle.belief import PRIOR
from sparkwright.job import Job
from sparkwright.plan.physics import idle_share, physics_of

REFERENCE = runpy.run_path(str(Path(__file__).parents[2] / "scripts" / "reference_engines.py"))
BENCH = Job.load(Path(__file__).parents[1] / "data" / "bench.toml")
CELSIUS_K = 273.15


@pytest.mark.parametrize(("job", "cam"), [(ORDINARY_V8, "MILD_CAM"), (RADICAL_V8, "RADICAL_CAM")])
def test_a_job_becomes_the_reference_engine_that_the_constants_are_fitted_to(job: Job, cam: str) -> None:
    wanted, found = REFERENCE["wedge_v8"](REFERENCE[cam]), physics_of(job).engine
    for name in ("bore_m", "stroke_m", "compression_ratio", "shape"):
        assert getattr(found.chamber, name) == pytest.approx(getattr(wanted.chamber, name))
    assert (found.cylinders, found.head, found.swirl) == (wanted.cylinders, wanted.head, wanted.swirl)
    assert found.rocker_ratio == pytest.approx(wanted.rocker_ratio)
    assert found.rod_m == pytest.approx(wanted.rod_m)
    assert found.events == wanted.events
    assert found.intake_seat_m == pytest.approx(wanted.intake_seat_m)
    assert found.exhaust_seat_m == pytest.approx(wanted.exhaust_seat_m)
    assert physics_of(job).fuel == REFERENCE["PREMIUM"]


def test_inches_are_metres_inside() -> None:
    """By hand: 3.921, 3.618 and 6.063 in; seats nine tenths of 1.89 and 1.535 in."""
    engine = physics_of(PUMP_HOUSE).engine
    assert engine.chamber.bore_m == pytest.approx(0.0995934)
    assert engine.chamber.stroke_m == pytest.approx(0.0918972)
    assert engine.rod_m == pytest.approx(0.1540002)
    assert engine.chamber.plug_offset_m == pytest.approx(0.020)
    assert engine.intake_seat_m == pytest.approx(0.9 * 0.048006)
    assert engine.exhaust_seat_m == pytest.approx(0.9 * 0.038989)


def test_the_air_of_the_site() -> None:
    """85.08 kPa at 1450 m (ISO 2533, 1975). Humidity at 20 degC and 40 %: saturated vapour has 2.339 kPa
    (steam tables), so 0.622 * 0.9356 / (85.08 - 0.9356) = 0.00692 kg/kg.
    """
    physics = physics_of(PUMP_HOUSE)
    assert physics.ambient_kpa == pytest.approx(85.08, abs=0.03)
    assert physics.top_kpa == physics.ambient_kpa
    assert physics.intake_k == pytest.approx(40.0 + CELSIUS_K)  # 104 degF
    assert physics.humidity == pytest.approx(0.00692, rel=0.01)


def test_a_stated_pressure_stands_for_the_altitude() -> None:
    """29.6 inHg of 3.386389 kPa (NIST SP 811, 2008, appendix B.8) are 100.24 kPa."""
    assert physics_of(OLD_FOUR).ambient_kpa == pytest.approx(100.237, abs=0.001)


def test_charge_warms_in_a_straight_line_under_boost() -> None:
    """Stated: 32 degC at the site's 100 kPa, 65 degC at 180; half way 48.5. Never warmer than stated."""
    physics = physics_of(BOOSTED_V8)
    assert physics.top_kpa == pytest.approx(180.0)
    for kpa, celsius in ((40.0, 32.0), (100.0, 32.0), (140.0, 48.5), (180.0, 65.0), (200.0, 65.0)):
        assert physics.air_at(kpa).intake_k == pytest.approx(celsius + CELSIUS_K)
        assert physics.air_at(kpa).ambient_kpa == 100.0
    assert physics_of(ORDINARY_V8).air_at(120.0).intake_k == pytest.approx(32.0 + CELSIUS_K)


def test_boost_without_a_stated_temperature_is_taken_as_uncooled_and_said() -> None:
    """Warmer than isentropic compression of air, which is (p2/p1)^0.2857, and below half as much again."""
    job = BOOSTED_V8.changed("induction", charge_temperature=None)
    physics = physics_of(job)
    isentropic_k = physics.intake_k * (1.8**0.2857 - 1.0)
    assert isentropic_k < physics.boosted_k - physics.intake_k < 1.5 * isentropic_k
    assert "induction.charge_temperature" in {each.field for each in physics.assumed}


def test_mixture_from_its_three_names() -> None:
    """Nodes at 75 and 92 % of 100 kPa; between them a straight line."""
    physics = physics_of(ORDINARY_V8)
    for kpa, wanted in ((40.0, 1.0), (75.0, 1.0), (83.5, 0.935), (92.0, 0.87), (100.0, 0.87)):
        assert physics.lambda_at(3000.0, kpa) == pytest.approx(wanted, abs=1e-12)
    assert physics.lambda_at(700.0, 38.0) == 0.97


def test_mixture_from_a_table() -> None:
    physics = physics_of(BOOSTED_SIX)
    table = ((20.0, 0.96), (30.0, 0.96), (45.0, 0.98), (100.0, 0.915), (140.0, 0.84), (180.0, 0.8))
    for kpa, wanted in table:
        assert physics.lambda_at(850.0, kpa) == pytest.approx(wanted, abs=1e-12)
        assert physics.lambda_at(850.0, kpa) == physics.lambda_at(5000.0, kpa), "a table knows no idle"


def test_the_idle_fades_with_speed_and_load() -> None:
    physics = physics_of(ORDINARY_V8)  # 700 rpm and 38 kPa
    assert idle_share(physics, 700.0, 38.0) == idle_share(physics, 500.0, 25.0) == 1.0
    assert idle_share(physics, 1.6 * 700.0, 38.0) == idle_share(physics, 700.0, 1.6 * 38.0) == 0.0
    # By hand, half way between 1.15 and 1.6, and between 1.2 and 1.6: a half each.
    assert idle_share(physics, 1.375 * 700.0, 38.0) == pytest.approx(0.5)
    assert idle_share(physics, 1.375 * 700.0, 1.4 * 38.0) == pytest.approx(0.25)
    speeds = np.linspace(500.0, 1500.0, 41)
    shares = [idle_share(physics, float(rpm), 38.0) for rpm in speeds]
    assert np.all(np.diff(shares) <= 0.0)


def test_whatever_the_bench_job_leaves_out_is_said() -> None:
    assumed = {each.field: each for each in physics_of(BENCH).assumed}
    assert set(assumed) == {
        "induction.intake_temperature",
        "engine.idle_rpm",
        "engine.idle_kpa",
        "engine.rod",
        "engine.plug_offset",
        "engine.swirl",
        "cam.intake_valve",
        "cam.exhaust_valve",
        "cam.intake_lift",
        "cam.exhaust_lift",
        "fuel.mon",
        "fuel.lambda_idle",
        "fuel.lambda_cruise",
        "fuel.lambda_full",
    }
    assert assumed["engine.rod"].value == "156 mm"  # 1.7 times 3.618 in
    assert assumed["engine.rod"].why == "1.7 strokes is usual"
    assert all(each.value and each.why for each in assumed.values())


def test_a_rod_given_by_its_ratio_is_stated() -> None:
    physics = physics_of(BOOSTED_SIX)
    assert physics.engine.rod_m == pytest.approx(1.65 * 0.084)
    assert "engine.rod" not in {each.field for each in physics.assumed}


def test_cam_by_events_and_by_durations() -> None:
    events = physics_of(BOOSTED_SIX).engine.events
    assert (events.intake_opens_deg, events.intake_closes_deg) == (-8.0, 32.0)
    assert (events.exhaust_opens_deg, events.exhaust_closes_deg) == (38.0, -12.0)
    assert events.at_lift_mm == 1.0
    # By hand: 207 deg about 108 after top opens 4.5 after and closes 31.5 after bottom; 213 about 115 before.
    events = physics_of(PUMP_HOUSE).engine.events
    assert (events.intake_opens_deg, events.intake_closes_deg) == (-4.5, 31.5)
    assert (events.exhaust_opens_deg, events.exhaust_closes_deg) == (41.5, -8.5)


def test_more_lift_over_the_same_events_means_steeper_flanks() -> None:
    """Twice the lift of both valves, twice the flanks' steepness, and the same events."""

    def lifted(mm: float) -> Job:
        return PUMP_HOUSE.changed("cam", intake_lift=f"{mm} mm", exhaust_lift=f"{mm} mm")

    low, high = physics_of(lifted(8.0)).engine, physics_of(lifted(16.0)).engine
    assert high.rocker_ratio == pytest.approx(2.0 * low.rocker_ratio)
    assert high.events == low.events


def test_another_belief_can_be_tried() -> None:
    learned = replace(PRIOR, constants=replace(PRIOR.constants, knock_factor=1.3))
    assert physics_of(PUMP_HOUSE, learned).constants is learned.constants
    assert physics_of(PUMP_HOUSE).belief is PRIOR


def test_the_mixture_grows_richer_under_boost() -> None:
    """0.78 to 0.82 under boost: common practice, no source."""
    assumed = physics_of(BOOSTED_V8.changed("fuel", lambda_full=0.87))
    assert assumed.lambda_at(3000.0, assumed.ambient_kpa) == 0.87
    assert assumed.lambda_at(3000.0, assumed.top_kpa) == 0.80
    assert "fuel.lambda_boost" in {each.field for each in assumed.assumed}
    stated = physics_of(BOOSTED_V8.changed("fuel", lambda_boost=0.78))
    assert stated.lambda_at(3000.0, stated.top_kpa) == 0.78
    assert "fuel.lambda_boost" not in {each.field for each in physics_of(PUMP_HOUSE).assumed}


def test_a_stated_mixture_is_kept_to_the_last_digit() -> None:
    job = PUMP_HOUSE.changed("fuel", lambda_full=0.875, lambda_cruise=1.015, lambda_idle=0.965)
    physics = physics_of(job)
    assert physics.lambda_at(4000.0, physics.ambient_kpa) == 0.875
    assert physics.lambda_at(4000.0, 50.0) == 1.015
    assert physics.lambda_at(physics.idle_rpm, physics.idle_kpa) == 0.965
    halfway = physics.lambda_at(4000.0, 0.835 * physics.ambient_kpa)
    assert halfway == pytest.approx(0.5 * (0.875 + 1.015), abs=1e-12)
