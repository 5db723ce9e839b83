"""How firmly best and knock are known, held against plain drawing of the same spreads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planning_jobs import ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.job.usual import TIMING_SPREAD_DEG
from sparkwright.plan.firmness import (
    COARSE_NODES,
    chance_allowed_percent,
    firmness_of,
    knock_chance_percent,
    knock_level,
)
from sparkwright.plan.hooks import sparse_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.point import point
from sparkwright.plan.why import why
from telling import sentences_of

PHYSICS = physics_of(ORDINARY_V8)


def drawn_engine(random: np.random.Generator) -> Physics:
    """The engine off by drawn amounts of each spread, written out apart from the program's own."""
    belief, engine, fuel = PHYSICS.belief, PHYSICS.engine, PHYSICS.fuel
    logarithms = random.multivariate_normal(np.zeros(len(belief.uncertain)), belief.covariance)
    values = {
        name: getattr(belief.constants, name) * float(np.exp(by))
        for name, by in zip(belief.uncertain, logarithms, strict=True)
    }
    octane, kelvin, ratio, overlap, mixture, plug = random.standard_normal(6).tolist()
    plug_m = min(
        abs(engine.chamber.plug_m + 0.05 * engine.chamber.bore_m * plug), 0.45 * engine.chamber.bore_m
    )
    return replace(
        PHYSICS,
        belief=replace(belief, constants=replace(belief.constants, **values)),
        fuel=replace(fuel, octane=fuel.octane + octane),
        mixture_lambda=tuple(each + 0.03 * mixture for each in PHYSICS.mixture_lambda),
        intake_k=PHYSICS.intake_k + 8.0 * kelvin,
        boosted_k=PHYSICS.boosted_k + 8.0 * kelvin,
        engine=replace(
            engine,
            chamber=replace(
                engine.chamber,
                compression_ratio=engine.chamber.compression_ratio * (1.0 + 0.03 * ratio),
                plug_offset_m=plug_m,
            ),
            rocker_ratio=engine.rocker_ratio * max(0.1, 1.0 + 0.40 * overlap),
        ),
    )


def test_small_changes_give_the_spread_that_drawing_gives() -> None:
    """By Monte Carlo, 300 draws of the spreads: within 20 % (draws alone are sure to 4)."""
    rpm, kpa = 2000.0, 95.0
    base = sparse_at(PHYSICS, rpm, kpa)
    best_deg, _ = base.best(28.0)
    stands = min(best_deg, base.knock(0.0))
    random = np.random.default_rng(5)
    best, logarithms = [], []
    for _ in range(300):
        hook = sparse_at(drawn_engine(random), rpm, kpa)
        timing, engine_best, engine_knock = random.standard_normal(3).tolist()
        best.append(hook.best(28.0)[0] + PHYSICS.belief.engine_best_deg * engine_best)
        logarithms.append(
            hook.at(stands + TIMING_SPREAD_DEG[False] * timing)[1]
            + PHYSICS.belief.engine_ln_knock * engine_knock
        )
    axes = np.array([rpm, rpm + 1.0]), np.array([kpa, kpa + 0.1])
    best_sigma, ln_sigma, _ = firmness_of(
        ORDINARY_V8.changed("light", mark_proved=None), PHYSICS, *axes
    ).over(*axes)
    assert best_sigma[0, 0] == pytest.approx(float(np.std(best)), rel=0.20)
    assert ln_sigma[0, 0] == pytest.approx(float(np.std(logarithms)), rel=0.20)


def test_a_chance_and_its_level_are_each_others_inverse() -> None:
    """Normal distribution, tables of any handbook: 10 % lies 1.2816 standard deviations down, 2 % 2.0537."""
    assert knock_level(1.0, 10.0) == pytest.approx(-1.2816, abs=5e-5)
    assert knock_level(1.0, 2.0) == pytest.approx(-2.0537, abs=5e-5)
    for chance in (0.5, 2.0, 10.0, 50.0):
        assert knock_chance_percent(float(knock_level(0.2, chance)), 0.2) == pytest.approx(chance)
    assert np.isnan(knock_chance_percent(float("nan"), 0.2))


def test_a_proved_mark_and_a_measured_spread_let_the_map_come_nearer_to_the_limit() -> None:
    job = on_axes(ORDINARY_V8, [1500, 3000], [60, 95])
    wide, proved, measured = (
        plan(each).cells.ceilings.knock_deg[1, 0]
        for each in (
            job.changed("light", mark_proved=False),
            job.changed("light", mark_proved=True),
            job.changed("light", timing_spread_deg=0.3),
        )
    )
    assert wide < proved < measured


def test_a_ceiling_has_the_chance_that_the_job_allows() -> None:
    """Up to the site's air 10 %, above it 2 %, or what the person asked for."""
    boosted = ORDINARY_V8.changed("induction", kind="boosted", max_boost="50 kPa")
    boosted = boosted.changed("controller", step_deg=0.05)
    # Loads so close together that nothing between them holds a cell.
    job = on_axes(boosted, [1500, 1600], [94, 95])
    below, above = plan(job), plan(on_axes(boosted, [1500, 1600], [139, 140]))
    assert below.cells.held_by[0][0] == above.cells.held_by[0][0] == "knock"
    # A step of 0.05 deg below the ceiling takes off a twentieth of the chance at most.
    assert 9.3 <= below.cells.knock_chance_percent[0, 0] <= 10.0
    assert 1.8 <= above.cells.knock_chance_percent[0, 0] <= 2.0
    braver = boosted.changed("limits", knock_chance_percent=30)
    low, high = plan(on_axes(braver, [1500, 1600], [94, 95])), plan(on_axes(braver, [1500, 1600], [139, 140]))
    assert low.cells.ceilings.knock_deg[0, 0] > below.cells.ceilings.knock_deg[0, 0] + 1.0
    assert high.cells.ceilings.knock_deg[0, 0] == above.cells.ceilings.knock_deg[0, 0]
    physics = physics_of(job)
    assert chance_allowed_percent(job, physics, physics.ambient_kpa) == 10.0
    assert chance_allowed_percent(job, physics, physics.ambient_kpa + 1.0) == 2.0


def test_degrees_that_a_person_wants_on_top_stay_on_top() -> None:
    job = on_axes(ORDINARY_V8, [1500, 3000], [60, 84])
    none, three = plan(job), plan(job.changed("limits", knock_margin_deg=3))
    assert none.cells.ceilings.knock_deg[1, 0] - three.cells.ceilings.knock_deg[1, 0] == pytest.approx(3.0)


def test_what_a_job_leaves_open_lowers_the_knock_ceiling() -> None:
    job = on_axes(ORDINARY_V8, [1500, 3000], [60, 95])
    stated = job.changed("fuel", ron=95, mon=87)
    open_fuel = job.changed("fuel", ron=95, mon=None)
    assert plan(open_fuel).cells.ln_knock_sigma[1, 0] > plan(stated).cells.ln_knock_sigma[1, 0]


def test_a_plane_is_carried_to_the_cells_as_a_plane() -> None:
    rpm, kpa = np.array([800.0, 1300.0, 4000.0]), np.array([30.0, 77.0])
    firmness = firmness_of(PUMP_HOUSE, physics_of(PUMP_HOUSE), rpm, kpa)
    assert firmness.rpm.size == firmness.kpa.size == COARSE_NODES
    plane = 0.001 * firmness.rpm[None, :] + 0.05 * firmness.kpa[:, None]
    carried, _, _ = replace(firmness, best_sigma_deg=plane).over(rpm, kpa)
    np.testing.assert_allclose(carried, 0.001 * rpm[None, :] + 0.05 * kpa[:, None], rtol=1e-12)


def test_a_point_says_the_ceiling_that_its_cell_has_in_the_map() -> None:
    job = on_axes(ORDINARY_V8, [1500, 2200, 3000], [60, 80, 95])
    planned = plan(job)
    hook = point(job, 2200.0, 95.0)
    assert hook.best_deg == planned.cells.ceilings.best_deg[2, 1]
    assert hook.knock_ceiling_deg == planned.cells.ceilings.knock_deg[2, 1]
    assert hook.knock_chance_allowed_percent == 10.0
    assert hook.knock_chance_percent is not None
    at_ceiling = float(np.interp(hook.knock_ceiling_deg, hook.advance_deg, hook.knock_chance_percent))
    assert at_ceiling == pytest.approx(10.0, abs=0.5)
    at_limit = float(np.interp(hook.knock_limit_deg, hook.advance_deg, hook.knock_chance_percent))
    assert at_limit == pytest.approx(50.0, abs=2.0), "the limit itself is an even chance"


def test_a_chamber_that_the_program_was_never_held_against_is_known_less_and_said_so() -> None:
    job = on_axes(ORDINARY_V8, [1500, 3000], [60, 95])
    wedge, pent, side = (
        plan(job.changed("engine", chamber=shape, compression_ratio=ratio))
        for shape, ratio in (("wedge", 9.5), ("pent-roof", 9.5), ("side-valve", 6.5))
    )
    assert pent.cells.ln_knock_sigma.min() > 0.47
    assert np.nanmin(side.cells.best_sigma_deg) > 6.0
    assert wedge.cells.ln_knock_sigma.max() < 0.3
    assert any(
        said.startswith(
            "No knock limit of a pent-roof head is firm here: the program asks for some 13 octane"
        )
        for said in sentences_of(pent.warnings)
    )
    assert any(
        said.startswith("Best and knock limit of a side-valve engine are not firm")
        for said in sentences_of(side.warnings)
    )
    assert not any("not firm" in said or "is firm here" in said for said in sentences_of(wedge.warnings))
    assert "chamber of its kind" in {each.name for each in pent.spreads}


def test_the_spread_of_best_is_told_as_the_torque_that_it_can_cost() -> None:
    """By hand from the whole hook: torque one spread off best, on the dearer side."""
    job = on_axes(ORDINARY_V8, [1500, 3000], [60, 95])
    planned = plan(job)
    hook = point(job, 3000.0, 60.0)
    off = planned.cells.best_sigma_deg[0, 1]
    worse = min(np.interp([hook.best_deg - off, hook.best_deg + off], hook.advance_deg, hook.torque_nm))
    wanted = 100.0 * (1.0 - worse / hook.best_torque_nm)
    assert planned.cells.best_sigma_cost_percent[0, 1] == pytest.approx(wanted, abs=0.05)
    said = f"Best is known to {off:.0f} deg; to be so far off costs {wanted:.1f} % of torque."
    assert said in sentences_of(why(planned, job, 0, 1).findings)


def test_the_why_of_a_cell_says_the_chance_in_words() -> None:
    job = on_axes(ORDINARY_V8, [1500, 2000, 3000], [60, 75, 85, 90, 95])
    planned = plan(job)
    sentences = sentences_of(why(planned, job, 4, 0).findings)
    assert sentences[0] == "Knock holds: its ceiling is where knock has a chance of about 1 in 10."
    assert any(each.startswith("Chance of knock at this value: about 1 in 1") for each in sentences)
    kept = job.changed("limits", knock_margin_deg=2)
    assert sentences_of(why(plan(kept), kept, 4, 0).findings)[0] == (
        "Knock holds: its ceiling is where knock has a chance of about 1 in 10, less 2 deg."
    )
    assert "Chance of knock at this value: next to none." in sentences_of(why(planned, job, 0, 2).findings)
