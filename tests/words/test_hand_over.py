"""What a person must have read before they sign."""

from dataclasses import replace

from planned import plan_of
from planning_jobs import PUMP_HOUSE, on_axes
from sparkwright.check.hardware import check_hardware
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.words.hand_over import worries_told

SMALL = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])


def told_of(job: Job) -> str:
    return " ".join(map(str, worries_told(plan_of(job), check_hardware(job), job, None)))


def test_who_signs_reads_that_the_mark_is_off() -> None:
    off = SMALL.changed("light", mark_error_deg=-4.0)
    assert "The balancer's mark is off: it shows 4" in told_of(off)
    assert "mark is off" not in told_of(SMALL)


def test_who_signs_reads_of_cells_set_past_best() -> None:
    """Set by hand 2 deg earlier than best, where rotor and fuel allow that much."""
    roomy = SMALL.changed("distributor", tip_width="20 mm", rotor_phase_deg=8).changed(
        "fuel", ron=110, mon=None
    )
    plan = plan_of(roomy)
    best_deg = float(plan.ceilings.best_deg[2, 2])
    past = roomy.with_hand([{"rpm": 4000, "kpa": 85, "advance_deg": round(best_deg + 2.0)}])
    assert "past best" in told_of(past)
    assert "past best" not in told_of(roomy)


def test_who_signs_reads_how_many_points_of_the_wiring_are_open_beside_wrong_ones() -> None:
    plan, check = plan_of(SMALL), check_hardware(SMALL)
    items = tuple(replace(each, state="open" if k else "look") for k, each in enumerate(check.wiring))
    wrong = Finding("wiring.otherwise", "look", {"points": len(items), "count": 1, "first": items[0].key})
    mixed = replace(check, wiring=items, verdicts=(wrong,))
    said = " ".join(map(str, worries_told(plan, mixed, SMALL, None)))
    assert f"nobody has said how {len(items) - 1} points of the wiring list stand." in said
