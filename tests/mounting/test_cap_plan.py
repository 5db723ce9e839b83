"""Cap plan and rotor phasing: where the tip stands, which leads part, what a move of the tip gains.

Sources: geometry; the pairs that a V8 keeps apart are common practice, no source.
"""

import math
from dataclasses import replace
from itertools import pairwise, permutations

import pytest

from invented_results import invented_plan
from planning_jobs import BOOSTED_SIX, OLD_FOUR, PUMP_HOUSE
from sparkwright.check.hardware import check_hardware
from sparkwright.ignition.rotor import Rotation, RotorCap
from sparkwright.job import Job
from sparkwright.mounting.cap_plan import cap_plan, loom, looms, stations
from sparkwright.mounting.phasing import rotor_phasing
from sparkwright.sheets.phasing import phasing_sheet, tips_picture
from sparkwright.words.rotor_phasing import proof, steps
from sparkwright.words.ways import way_of
from telling import action_of, sentence_of, sentences_of

V8_ORDER = (1, 5, 7, 2, 6, 3, 4, 8)


def successive(order: tuple[int, ...], firing: tuple[int, ...]) -> int:
    """Count neighbours in a loom that fire one after the other; written out anew."""
    count = 0
    for one, other in pairwise(order):
        apart = (firing.index(one) - firing.index(other)) % len(firing)
        count += apart in (1, len(firing) - 1)
    return count


def test_the_bank_of_four_parts_3_and_4() -> None:
    """By head: of cylinders 1 to 4 only 3 and 4 fire one after the other."""
    found = loom("bank 1 to 4", [1, 2, 3, 4], V8_ORDER)
    assert abs(found.leads.index(3) - found.leads.index(4)) > 1
    assert found.still_together == ()


def test_four_in_a_row_keep_one_pair_together() -> None:
    """By head: of 1-3-4-2 only 1, 4 and 2, 3 don't follow one another; four leads need one pair more."""
    found = loom("the row", [1, 2, 3, 4], [1, 3, 4, 2])
    assert len(found.still_together) == 1


@pytest.mark.parametrize(
    ("leads", "firing"),
    [
        ((1, 2, 3, 4), V8_ORDER),
        ((5, 6, 7, 8), V8_ORDER),
        ((2, 4, 6, 8), (1, 3, 7, 2, 6, 5, 4, 8)),
        ((1, 2, 3, 4, 5, 6), (1, 5, 3, 6, 2, 4)),
        ((1, 2, 3, 4), (1, 2, 4, 3)),
    ],
)
def test_no_other_order_parts_them_better(leads: tuple[int, ...], firing: tuple[int, ...]) -> None:
    found = loom("row", leads, firing)
    assert sorted(found.leads) == list(leads)
    assert len(found.still_together) == successive(found.leads, firing)
    assert successive(found.leads, firing) == min(successive(each, firing) for each in permutations(leads))


def test_natural_order_is_kept_where_it_is_as_good() -> None:
    assert loom("row", [1, 2, 3, 4, 5, 6], [1, 5, 3, 6, 2, 4]).leads == (1, 2, 3, 4, 5, 6)


def test_pairs_that_were_seen_tell_the_numbering() -> None:
    v4 = PUMP_HOUSE.changed("engine", cylinders=4, firing_order=[1, 3, 4, 2], bank_numbering=None)
    assert len(looms(v4.changed("plugs", leads_adjacent=[]))) == 4, "this order fits either way of counting"
    odd = looms(v4.changed("plugs", leads_adjacent=[[1, 3]]))
    assert [each.name for each in odd] == ["odd bank", "even bank"]
    by_bank = looms(v4.changed("plugs", leads_adjacent=[[3, 4]]))
    assert [each.name for each in by_bank] == ["bank 1 to 2", "bank 3 to 4"]


def test_a_firing_order_that_fits_one_numbering_tells_the_banks() -> None:
    """By hand: 1-5-7-2-6-3-4-8 needs cylinders 1 to 4 in one bank, whatever pairs were seen."""
    silent = PUMP_HOUSE.changed("engine", bank_numbering=None)
    assert [each.name for each in looms(silent)] == ["bank 1 to 4", "bank 5 to 8"]


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_stations_by_hand(rotation: Rotation) -> None:
    """20 crank deg over base are 10 of the distributor short of the post: 29.2 mm x 10 pi/180 = 5.096 mm."""
    cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    base, cruise = stations(cap, rotation, [("base", 10.0), ("cruise", 30.0)])
    assert (base.ahead_deg, base.covers) == (0.0, True)
    assert (cruise.ahead_deg, cruise.covers) == (-10.0, False)
    assert cruise.ahead_mm == pytest.approx(-29.2 * math.pi / 18.0)
    assert cruise.bearing_deg == (-10.0 if rotation == "clockwise" else 10.0)


@pytest.mark.parametrize("job", [PUMP_HOUSE, BOOSTED_SIX, OLD_FOUR], ids=lambda job: job.name)
def test_every_job_has_a_cap_plan(job: Job) -> None:
    hardware = check_hardware(job)
    found = cap_plan(job, hardware, invented_plan())
    assert [post.cylinder for post in found.posts] == list(job.engine.firing_order)
    names = [each.name for each in found.stations]
    rows = found.looms if job.engine.layout == "inline" else found.looms[:2]
    assert sorted(lead for row in rows for lead in row.leads) == sorted(job.engine.firing_order)
    assert names[:5] == ["cranking", "base", "idle", "cruise", "full load"]


def test_a_wrong_order_in_the_cap_leads() -> None:
    wrong = [1, 5, 7, 2, 6, 3, 8, 4]
    job = PUMP_HOUSE.changed("distributor", cap_order=wrong)
    found = cap_plan(job, check_hardware(job), invented_plan())
    assert sentence_of(found.headline) == (
        "The leads stand wrong in the cap: clockwise from post 1 they must be 1-5-7-2-6-3-4-8."
    )


# Phasing


def test_the_move_in_all_its_measures_is_one_move() -> None:
    found = rotor_phasing(PUMP_HOUSE, check_hardware(PUMP_HOUSE), invented_plan())
    cap = found.cap_before
    assert found.move_crank_deg == pytest.approx(2.0 * found.move_distributor_deg)
    assert found.move_mm == pytest.approx(cap.tip_radius_mm * math.radians(found.move_distributor_deg))
    assert found.move_tip_fraction == pytest.approx(found.move_mm / cap.tip_width_mm)
    for before, after in zip(found.before, found.after, strict=True):
        assert after.ahead_mm - before.ahead_mm == pytest.approx(found.move_mm)
    # Two crank degrees of reach for each degree of the tip; geometry.
    gained = found.reach_after.most_deg - found.reach_before.most_deg
    assert gained == pytest.approx(found.move_crank_deg)


def test_what_the_phasing_sheet_says() -> None:
    found = rotor_phasing(PUMP_HOUSE, check_hardware(PUMP_HOUSE), invented_plan())
    assert found.state == "problem"
    assert sentence_of(found.headline).startswith("Move the tip ")
    assert sentence_of(found.headline).endswith(" mm clockwise seen from above, the way the rotor turns.")
    assert "of the tip's width" in action_of(found.headline)
    assert "Move the tip on the shaft, not the body" in str(steps(found)[2])
    assert "drill" in str(proof(found)[0]).lower()
    places = str(proof(found)[3])
    for seen in found.after:
        assert (f"{seen.name} ({seen.advance_deg:.0f} deg)" in places) == seen.covers


def test_a_rotor_that_covers_all_is_left_alone() -> None:
    hardware = check_hardware(PUMP_HOUSE.changed("distributor", tip_width="16 mm", rotor_phase_deg=8))
    hardware = replace(hardware, rotor=replace(hardware.rotor, least_deg=8.0, most_deg=30.0))
    found = rotor_phasing(PUMP_HOUSE, hardware, invented_plan())
    assert found.state == "good"
    assert (
        sentence_of(found.headline)
        == "Leave the tip: it covers its post over all that is asked, 8 to 30 deg."
    )
    assert (found.advised, steps(found)) == (False, ())
    assert f"base (10 deg): {found.before[1].ahead_mm:.1f} mm past it" in str(proof(found)[3])


def test_a_tip_in_the_middle_gets_no_sheet_for_a_move_of_nothing() -> None:
    """Moved into the middle by what the advice itself asked, so that 0.0 mm are left."""
    hardware = check_hardware(PUMP_HOUSE.changed("distributor", tip_width="16 mm", rotor_phase_deg=8))
    rotor = replace(hardware.rotor, least_deg=8.0, most_deg=30.0)
    still = replace(rotor.advice, move_mm=0.02, move_distributor_deg=0.04)
    found = rotor_phasing(PUMP_HOUSE, replace(hardware, rotor=replace(rotor, advice=still)), invented_plan())
    assert not found.moves
    assert "0.0 mm" not in action_of(found.headline)
    sheet = phasing_sheet(found, "x", True, "0" * 64)
    titles = [part.title for row in sheet.rows for part in row]
    assert "To the middle" not in titles
    assert "What it covers" in titles
    assert len(tips_picture(found).rows) == len(found.before)


@pytest.mark.parametrize("way", ["clockwise", "anticlockwise"])
def test_which_way_to_move_is_said_as_the_eye_sees_it(way: Rotation) -> None:
    """By hand: against a clockwise rotor is anticlockwise, and the other way round."""
    other = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}[way]
    assert way_of(way, 1.0) == f"{way} seen from above, the way the rotor turns"
    assert way_of(way, -1.0) == f"{other} seen from above, against the rotor"


def test_what_was_not_measured_is_told() -> None:
    job = PUMP_HOUSE.changed("distributor", tip_width=None, post_width=None)
    found = cap_plan(job, check_hardware(job), invented_plan())
    assert [part.name for part in found.parts if not part.measured] == ["tip width", "post width"]
    (said,) = found.warnings
    assert sentence_of(said).startswith(
        "Not measured, so drawn as a cap of this size usually is: tip width, post width."
    )
    assert cap_plan(PUMP_HOUSE, check_hardware(PUMP_HOUSE), invented_plan()).warnings == ()


def test_an_advance_that_still_moves_is_told() -> None:
    job = PUMP_HOUSE.changed("distributor", advance="free", vacuum_advance="connected")
    said = sentences_of(rotor_phasing(job, check_hardware(job), invented_plan()).warnings)
    assert said[0].startswith("The mechanical advance is still free")
    assert said[1].startswith("The vacuum advance is still connected")
