"""What a person must have read before they sign."""

from dataclasses import replace

from planned import plan_of
from planning_jobs import PUMP_HOUSE, on_axes
from sparkwright.check.hardware import check_hardware
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import check_light
from sparkwright.words.hand_over import firm, still_to_prove, worries_of
from telling import sentences_of

SMALL = on_axes(PUMP_HOUSE, [700, 2000, 4000], [38, 60, 85])


def told_of(job: Job) -> str:
    return " ".join(sentences_of(worries_of(plan_of(job), check_hardware(job), job, None)))


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
    best_deg = float(plan.cells.ceilings.best_deg[2, 2])
    past = roomy.with_hand([{"rpm": 4000, "kpa": 85, "advance_deg": round(best_deg + 2.0)}])
    assert "past best" in told_of(past)
    assert "past best" not in told_of(roomy)


def test_who_signs_reads_how_many_points_of_the_wiring_are_open_beside_wrong_ones() -> None:
    plan, check = plan_of(SMALL), check_hardware(SMALL)
    items = tuple(replace(each, state="open" if k else "look") for k, each in enumerate(check.wiring))
    wrong = Finding("wiring.otherwise", "look", {"points": len(items), "count": 1, "first": items[0].key})
    mixed = replace(check, wiring=items, verdicts=(wrong,))
    said = " ".join(sentences_of(worries_of(plan, mixed, SMALL, None)))
    assert f"nobody has said how {len(items) - 1} points of the wiring list stand." in said


def test_what_is_firm_is_never_among_what_is_to_prove() -> None:
    proved = SMALL.changed("light", mark_proved=True)
    check = check_hardware(proved)
    light = check_light(proved, [Reading(20, rpm, 20) for rpm in (1000, 1500, 2000, 2500, 3000, 3500, 4000)])
    found, to_prove = firm(check, proved, light), still_to_prove(check, proved, light)
    assert "The balancer's mark is proved at the piston." in sentences_of(found)
    assert light.state == "good"
    assert light.headline in found
    assert not {each.kind for each in found} & {each.kind for each in to_prove}
    assert "hand-over.no-light" in {each.kind for each in still_to_prove(check, proved, None)}
