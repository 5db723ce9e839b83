"""What a plan says first: the greatest danger, else the greatest gain, and nothing that nobody can measure.

The rule stands in docs/decisions.md. Engines are invented; what is held against the headline is read off the
cells of the plan here, not taken from the numbers of its findings.
"""

import random
from collections.abc import Iterator

import numpy as np
import pytest

from planned import plan_of
from planning_jobs import BOOSTED_SIX, BOOSTED_V8, OLD_FOUR, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import HardwareResult
from sparkwright.cycle.shapes import SHAPES
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.plan.findings import worries
from sparkwright.plan.planned_demand import hook_demand
from sparkwright.plan.result import PlanResult
from sparkwright.plan.summary import advance_asked
from telling import action_of, sentence_of, sentences_of
from test_thin_jobs import JOBS

MEASURED_DEG, MEASURED_PERCENT, MEASURED_MM = 0.5, 0.5, 0.5
"""What a light, a brake and a hand at a rotor tip can tell apart: common practice, no source."""

KNOWN = {"Pump house": PUMP_HOUSE, "Boosted six": BOOSTED_SIX, "Old four": OLD_FOUR} | {
    name: Job.from_toml(text) for name, text in JOBS.items()
}

DANGERS = ("knock.at-any-advance", "controller.takes-no-less", "over.set-by-hand", "reach.left-late")


def drawn_jobs(count: int) -> Iterator[Job]:
    """Jobs about as people have them, the same ones every time, on maps of 4 x 4."""
    rng = random.Random(1)
    for _ in range(count):
        boosted = rng.random() < 0.5
        kpa = [40, 70, 100, 160] if boosted else [35, 55, 75, 95]
        drawn = (
            (BOOSTED_V8 if boosted else ORDINARY_V8)
            .changed(
                "engine",
                compression_ratio=round(rng.uniform(6.0, 11.0), 1),
                chamber=rng.choice(sorted(SHAPES)),
            )
            .changed("fuel", ron=round(rng.uniform(75.0, 102.0), 1), mon=None)
            .changed(
                "distributor",
                base_deg=round(rng.uniform(0.0, 20.0), 1),
                rotor_phase_deg=round(rng.uniform(-2.0, 14.0), 1),
                tip_width=f"{rng.uniform(4.0, 14.0):.1f} mm",
            )
            .changed("limits", max_advance_deg=rng.choice([None, 20, 34.5]))
            .changed("controller", step_deg=rng.choice([0.1, 0.5, 1.0]))
        )
        yield on_axes(drawn, [700, 1800, 3200, 4800], kpa)


def check_of(job: Job, plan: PlanResult) -> HardwareResult:
    """The check against what the plan asks of the rotor; of the coil, which it has no say in, nothing."""
    wanted = None if plan.reach_cost is None else plan.reach_cost.most_wanted_deg
    return check_hardware(job, hook_demand(job, (), *advance_asked(plan.cells, wanted)))


def has_a_place(finding: Finding, plan: PlanResult) -> bool:
    """Whether the sentence names a cell of the map that a running engine meets."""
    rpm, kpa = plan.cells.spark_map.rpm.tolist(), plan.cells.spark_map.kpa.tolist()
    row, column = kpa.index(finding.numbers["kpa"]), rpm.index(finding.numbers["rpm"])
    said = sentence_of(finding)
    place = f"{rpm[column]:,.0f} rpm" in said and f"{kpa[row]:.0f} kPa" in said
    return place and bool(plan.cells.met[row, column])


def holds_the_rule(job: Job) -> None:
    plan = plan_of(job)
    first, check = plan.headline, check_of(job, plan)
    value, floor_deg = plan.cells.spark_map.advance_deg, plan.cells.ceilings.floor_deg
    hopeless = bool((np.isneginf(plan.cells.ceilings.knock_deg) & plan.cells.met).any())
    late = bool((plan.cells.met & (value <= floor_deg - MEASURED_DEG)).any())
    if hopeless:
        assert first.kind == "knock.at-any-advance"
    elif late:
        assert first.kind in ("controller.takes-no-less", "reach.left-late")
    if first.kind in DANGERS:
        assert has_a_place(first, plan)
    if first.kind == "reach.runs-out":
        held = (
            (np.array(plan.cells.held_by) == "reach")
            & plan.cells.met
            & np.isfinite(plan.cells.torque_lost_percent)
        )
        wanted = np.fmin(
            np.fmin(plan.cells.ceilings.best_deg, plan.cells.ceilings.knock_deg),
            plan.cells.ceilings.limit_deg,
        )
        assert np.nanmax(plan.cells.torque_lost_percent[held]) >= MEASURED_PERCENT
        assert np.nanmax((wanted - plan.cells.ceilings.reach_deg)[held]) >= MEASURED_DEG
        assert "take 0 more" not in sentence_of(first)
        assert "rpm and" in action_of(first), "where it costs most"
    if plan.reach_cost is not None and plan.reach_cost.phase_move_mm < MEASURED_MM:
        assert "Move the rotor tip" not in action_of(first)
    agrees(plan, check)


def agrees(plan: PlanResult, check: HardwareResult) -> None:
    """Nothing on the first screen, on the card or in the check says the opposite of another thing."""
    first = plan.headline
    told = [sentence_of(first), action_of(first), *sentences_of(plan.problems)]
    assert not any("sentence above" in each for each in told)
    kinds = {each.kind for each in check.verdicts}
    assert (first.kind in ("plan.fits", "reach.off-at-base")) == (not plan.problems)
    if first.kind == "plan.fits":
        assert check.cranking[0].under_post, "a plan fits only where the engine starts on its post"
    assert (plan.reach_cost is not None) == ("rotor.runs-out" in kinds)
    if first.kind == "plan.fits":
        assert "reach.holds" not in {each.kind for each in worries(plan, check)}
    if "reach.left-late" in {each.kind for each in plan.problems}:
        assert {"rotor.leaves-late", "rotor.runs-out"} & kinds
    if "rotor.leaves-late" in kinds and check.rotor.least_deg >= check.rotor.cap.base_deg:
        assert not check.cranking[0].under_post


@pytest.mark.parametrize("name", list(KNOWN))
def test_what_is_said_first_is_what_matters_most(name: str) -> None:
    holds_the_rule(KNOWN[name])


def test_what_is_said_first_of_drawn_jobs_is_what_matters_most() -> None:
    for job in drawn_jobs(25):
        holds_the_rule(job)


@pytest.mark.proof
def test_what_is_said_first_of_two_hundred_drawn_jobs_is_what_matters_most() -> None:
    for job in drawn_jobs(200):
        holds_the_rule(job)


def test_a_free_advance_is_not_lost_beside_a_rotor_that_runs_out() -> None:
    plan = plan_of(OLD_FOUR)
    assert plan.reach_cost is not None
    assert "rotor.advance-free" in {each.kind for each in worries(plan, check_of(OLD_FOUR, plan))}
