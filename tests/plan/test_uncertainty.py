"""What is not known exactly of an engine, and how far it may be off."""

import numpy as np
import pytest

from planning_jobs import ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.check.assumed import SpreadTaken
from sparkwright.ignition.rotor import CAP_SIZES
from sparkwright.job import Job
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.uncertainty import SPREADS, reach_sigma_deg

PHYSICS = physics_of(ORDINARY_V8)


def test_the_spreads_are_those_that_the_tests_of_firmness_draw() -> None:
    left = PHYSICS.left_to_assumption
    taken = [SpreadTaken.of(spread, left) for spread, _ in SPREADS if spread.amount(left)]
    assert [each.amount for each in taken] == [
        "1",
        "8 K",
        "3 %",
        "40 %",
        "0.03",
        "5 % of bore",
    ]
    assert [each.name for each in taken if not each.stated] == ["valve overlap", "plug offset"]
    assert all(each.origin for each in taken)


def test_what_a_job_leaves_open_may_be_off_by_more() -> None:
    """Each fact taken away widens what depends on it, and nothing else."""

    def amounts(job: Job) -> dict[str, float]:
        physics = physics_of(job)
        return {spread.name: spread.amount(physics.left_to_assumption) for spread, _ in SPREADS}

    stated = (
        ORDINARY_V8.changed("engine", plug_offset="25 mm")
        .changed("cam", intake_lift="10 mm", exhaust_lift="10 mm")
        .changed("fuel", lambda_cruise=1.0)
    )
    all_stated = amounts(stated)
    for section, keys, name in (
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
        "the program's constants",
        "best, from engine to engine",
        "knock, from engine to engine",
        "base, mark and scatter of the spark",
        *(spread.name for spread, _ in SPREADS if spread.stated),
        "tip width",
        "post width",
        "rotor phase",
    ]
    assert {each.name for each in said if not each.stated} == {"base, mark and scatter of the spark"}
    assert next(each.amount for each in said if each.name.startswith("base")) == "2 deg"
    measured = plan(job.changed("light", timing_spread_deg=0.4)).spreads
    assert next(each for each in measured if each.name.startswith("base")).amount == "0.4 deg"
    assert all(each.stated for each in measured)
