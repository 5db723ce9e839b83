"""Learning held against what others measured or certified; each source is named beside its check."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from planning_jobs import ORDINARY_V8
from sparkwright.cycle.belief import PRIOR
from sparkwright.dyno.fits import fit_of
from sparkwright.dyno.sweep import Sweep, SweepPoint
from sparkwright.learn.belief import belief_of
from sparkwright.learn.moves import moves_of
from sparkwright.learn.response import answer_of
from sparkwright.plan.hooks import one_hook_at
from sparkwright.plan.physics import Physics, physics_of


@cache
def physics() -> Physics:
    return physics_of(ORDINARY_V8, PRIOR)


def test_a_sweep_of_six_points_has_the_top_that_its_parabola_has() -> None:
    """Constructed data: torque 389.0 to 410.9 at 20 to 40 deg; its least-squares parabola, worked out apart,
    has its top at 31.739 deg and 411.01. The fit's hook isn't a parabola, and leans."""
    advance, torque = (20, 24, 28, 32, 36, 40), (389.0, 401.5, 408.8, 410.9, 408.2, 400.1)
    points = tuple(SweepPoint(3000.0, 80.0, *each) for each in zip(advance, torque, strict=True))
    fit = fit_of(physics(), Sweep("constructed", points))
    assert fit.best_deg == pytest.approx(31.739, abs=0.7)
    assert fit.best_low_deg < 31.739 < fit.best_high_deg
    assert float(np.max(fit.fitted_nm)) == pytest.approx(411.01, rel=0.005)


@pytest.mark.parametrize("rpm", [1500.0, 2000.0, 3000.0])
def test_an_octane_number_is_worth_about_a_degree_of_spark_at_full_load(rpm: float) -> None:
    """Russ, SAE 960497 (1996), a review of borderline knock: one octane number for a degree of spark at full
    load, 0.7 to 1.3 over his engines. By this learning turns a heard limit into octane."""
    moves = moves_of(physics())
    place = next(k for k, each in enumerate(moves) if each.name == "octane number")
    answer = answer_of(physics(), moves, rpm, 95.0)
    deg = abs(float(answer.ln_knock_by[place])) / moves[place].sigma / answer.ln_slope
    assert 0.7 <= 1.0 / deg <= 1.3


def test_an_engine_whose_best_was_published_is_learned_there_from_a_sweep_about_it() -> None:
    """Zareei and Kakaee, Eur. Transp. Res. Rev. 5 (2013): 31 +- 3 deg at 3,400 rpm and full load, of four
    cylinders (abstract read). Their hook stands in no table, so a parabola that loses 1 % at 7 deg (common
    practice, no source) takes its place; the learned best must lie where it was published."""
    points = tuple(
        SweepPoint(3400.0, 98.0, float(a), 300.0 * (1.0 - 0.01 * ((a - 31.0) / 7.0) ** 2))
        for a in range(11, 42, 5)
    )
    belief = belief_of(ORDINARY_V8, [Sweep("published", points)])
    engine = physics_of(ORDINARY_V8, belief)
    assert one_hook_at(engine, 3400.0, 98.0).best(28.0)[0] == pytest.approx(31.0, abs=3.0)
