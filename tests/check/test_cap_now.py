"""The cap at one spark: held against plane geometry done with complex numbers, and formulas written out here.

Breakdown of air: Kuffel and Zaengl, *High Voltage Engineering*, uniform field, 6.72 sqrt(pd) + 24.36 pd with
p in bar referred to 20 C and d in cm (coefficients recalled). The examples are invented.
"""

import cmath
import math
from dataclasses import replace
from pathlib import Path

import pytest

from sparkwright.check.cap_now import CapNow, asked_of, cap_now
from sparkwright.check.demand import compression_demand, site_pressure_kpa
from sparkwright.check.hardware import check_hardware
from sparkwright.ignition.gap import CORNER_FIELD_FACTOR
from sparkwright.job import Job
from sparkwright.pictures.cap_live import cap_live_picture
from sparkwright.words.cap import said, said_first

EXAMPLES = Path(__file__).parents[2] / "examples"
PUMP_HOUSE = Job.load(EXAMPLES / "pump-house-v8.toml")
JOBS = [Job.load(path) for path in sorted(EXAMPLES.glob("*.toml"))]


def moved(job: Job, phase_deg: float, base_deg: float) -> Job:
    return job.changed("distributor", rotor_phase_deg=phase_deg, base_deg=base_deg)


def corners(middle_deg: float, width_mm: float, radius_mm: float) -> tuple[complex, complex]:
    """The two ends of a chord of a width whose ends lie on a circle, about a direction from the shaft."""
    half = math.asin(width_mm / 2 / radius_mm)
    middle = math.radians(middle_deg)
    return cmath.rect(radius_mm, middle - half), cmath.rect(radius_mm, middle + half)


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
@pytest.mark.parametrize("phase_deg", [-4.0, 0.0, 6.0])
@pytest.mark.parametrize("advance_deg", [0.0, 12.0, 48.0])
def test_gaps_are_those_of_plane_geometry(job: Job, phase_deg: float, advance_deg: float) -> None:
    tried = moved(job, phase_deg, 10)
    now = cap_now(tried, advance_deg)
    cap = now.cap
    # The shaft turns at half crank speed: an earlier spark finds the tip half as many degrees further back.
    stands_deg = phase_deg - (advance_deg - 10) / 2
    tip = corners(stands_deg, cap.tip_width_mm, cap.tip_radius_mm)
    gaps = {
        post: min(
            abs(one - other) for one in tip for other in corners(post, cap.post_width_mm, cap.post_radius_mm)
        )
        for post in (0.0, 360 / job.engine.cylinders, -360 / job.engine.cylinders)
    }
    apart_deg = abs(stands_deg)
    touch_deg = sum(
        math.degrees(math.asin(width / 2 / radius))
        for width, radius in ((cap.tip_width_mm, cap.tip_radius_mm), (cap.post_width_mm, cap.post_radius_mm))
    )
    assert now.covers == (apart_deg <= touch_deg)
    if now.covers:
        assert now.right_gap_mm == pytest.approx(cap.post_radius_mm - cap.tip_radius_mm, abs=1e-9)
    else:
        assert now.right_gap_mm == pytest.approx(gaps[0.0], abs=1e-9)
    side = 360 / job.engine.cylinders * (1 if now.neighbour == "next" else -1)
    assert now.neighbour_gap_mm == pytest.approx(gaps[side], abs=1e-9)
    assert now.offset_mm == pytest.approx(math.radians(stands_deg) * cap.tip_radius_mm, abs=1e-9)


def test_at_base_the_tip_stands_at_its_phase_whatever_base_is() -> None:
    # Turning the distributor carries cap and trigger together.
    for base_deg in (4.0, 10.0, 18.0):
        assert cap_now(moved(PUMP_HOUSE, 3.0, base_deg), base_deg).offset_distributor_deg == 3.0


def test_wrong_way_is_the_same_air_as_corners_and_as_plates() -> None:
    now = cap_now(PUMP_HOUSE, 30.0)
    kelvin = PUMP_HOUSE.distributor.cap_air_temperature_c + 273.15
    bar_cm = site_pressure_kpa(PUMP_HOUSE) / 100 * 293 / kelvin * now.neighbour_gap_mm / 10
    plates_kv = 6.72 * math.sqrt(bar_cm) + 24.36 * bar_cm
    corner_share = 1 - CORNER_FIELD_FACTOR
    assert now.ways.wrong_high_kv - now.ways.wrong_low_kv == pytest.approx(corner_share * plates_kv, rel=1e-9)


def test_the_move_counts_from_the_job_as_it_stands() -> None:
    today = moved(PUMP_HOUSE, 2.0, 10.0)
    now = cap_now(moved(PUMP_HOUSE, 6.5, 12.0), 30.0, from_job=today)
    # 4.5 of 360 degrees of the tip's circle.
    along_mm = 4.5 / 360 * 2 * math.pi * now.cap.tip_radius_mm
    assert now.move_distributor_deg == pytest.approx(4.5)
    assert now.move_mm == pytest.approx(along_mm)
    assert now.move_tip_fraction == pytest.approx(along_mm / now.cap.tip_width_mm)
    assert now.base_change_deg == pytest.approx(2.0)


def test_the_phase_that_suits_centres_a_span_that_fits() -> None:
    # 14 to 34 about base 10 has its middle 14 crank degrees above base: 7 distributor degrees.
    job = PUMP_HOUSE.changed("limits", max_advance_deg=34).changed("distributor", base_deg=14)
    now = cap_now(job, 20.0)
    assert (now.asked.least_deg, now.asked.most_deg) == (14.0, 34.0)
    assert now.suiting_phase_distributor_deg == pytest.approx((14 + 34) / 2 / 2 - 14 / 2)
    suited = cap_now(moved(job, now.suiting_phase_distributor_deg, 14.0), 20.0)
    assert suited.missing_above_deg == pytest.approx(suited.missing_below_deg)
    assert suited.missing_above_deg < 0


def test_the_plan_asks_where_there_is_one_and_cranking_follows_base() -> None:
    check = check_hardware(PUMP_HOUSE, compression_demand(PUMP_HOUSE, 10.0, 36.0))
    assert asked_of(PUMP_HOUSE, check).most_deg == 36.0
    raised = moved(PUMP_HOUSE, 0.0, 14.0)
    assert asked_of(raised, check).least_deg == 14.0
    below = check_hardware(PUMP_HOUSE, compression_demand(PUMP_HOUSE, 4.0, 36.0))
    assert asked_of(raised, below).least_deg == 4.0


def sentences(job: Job, advance_deg: float, from_job: Job | None = None) -> str:
    now = cap_now(job, advance_deg, from_job=from_job)
    return " ".join(map(str, (said_first(now), *said(now))))


def test_says_where_the_tip_stands_and_that_nothing_moves() -> None:
    words = sentences(moved(PUMP_HOUSE, 0.0, 10.0), 10.0)
    assert words.startswith(
        "At 10.0 deg the arc goes to its own post. The middle of the tip stands over the middle "
    )
    assert "of its post: it covers the post, and the arc has 0.80 mm to jump." in words
    assert words.endswith("This is how rotor and base stand in the job: nothing to move.")


def test_says_what_is_missing_and_at_which_end() -> None:
    words = sentences(PUMP_HOUSE, 40.0)
    assert words.startswith("At 40.0 deg the tip has left its post.")
    assert "short of the middle of its post: it has left the post" in words
    assert "Usual advances ask for 10.0 to 38.0" in words
    assert "deg are missing at the top." in words
    words = sentences(moved(PUMP_HOUSE, 12.0, 10.0), 10.0)
    assert "past the middle of its post: it has left the post" in words
    assert "deg are missing at the lower end, where the engine is cranked." in words


def test_says_the_move_both_ways_in_either_system() -> None:
    now = cap_now(moved(PUMP_HOUSE, 6.0, 12.0), 30.0, from_job=moved(PUMP_HOUSE, 0.0, 10.0))
    inches = now.cap.tip_radius_mm * math.radians(6) / 25.4  # international inch, 1959
    assert f"move the tip {inches:.3f} in with rotation (6.0 distributor deg, " in str(said(now, "inch")[-1])
    assert str(said(now, "inch")[-1]).endswith("until base is 2.0 crank deg earlier, at 12.0 deg.")
    back = cap_now(moved(PUMP_HOUSE, -6.0, 8.0), 30.0, from_job=moved(PUMP_HOUSE, 0.0, 10.0))
    assert "against rotation" in str(said(back)[-1])
    assert "2.0 crank deg later, at 8.0 deg" in str(said(back)[-1])


def with_way(now: CapNow, wrong_low_kv: float, wrong_high_kv: float) -> CapNow:
    return replace(now, ways=replace(now.ways, wrong_low_kv=wrong_low_kv, wrong_high_kv=wrong_high_kv))


def test_a_way_that_is_nearer_than_the_right_one_is_said_first() -> None:
    now = cap_now(moved(PUMP_HOUSE, 6.0, 10.0), 24.0)
    right_kv = now.ways.right_kv
    stray = with_way(now, 0.3 * right_kv, 0.9 * right_kv)
    assert stray.state == "problem"
    assert str(said_first(stray)) == "At 24.0 deg the spark can go to the wrong cylinder."
    assert f"{0.7 * right_kv:.1f} kV short by the careful count" in str(said(stray)[2])
    near = with_way(now, 1.05 * right_kv, 2 * right_kv)
    assert near.state == "look"
    assert str(said_first(near)).endswith("with little margin to the neighbour's.")


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_picture_says_where_its_tip_stands_so_that_a_page_can_turn_it(rotation: str) -> None:
    job = PUMP_HOUSE.changed("distributor", rotation=rotation, rotor_phase_deg=3, base_deg=10)
    picture = cap_live_picture(cap_now(job, 30.0))
    way = 1 if rotation == "clockwise" else -1
    assert f'data-way="{way}"' in picture.body
    assert f'data-bearing="{way * (3 - (30 - 10) / 2):g}"' in picture.body
    assert "style=" not in picture.within_page()
    assert len(picture.rows) == 3
