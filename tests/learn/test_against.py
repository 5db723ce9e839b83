"""Measured held against foretold: swept places with the plan's best before and after learning."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from invented_engines import FIVE_PLACES, InventedEngine, invented_engine
from planning_jobs import on_axes
from sparkwright.dyno.sweep import Heard, Sweep, SweepPoint
from sparkwright.job import Job
from sparkwright.learn.against import Against, against_of
from sparkwright.plan.hooks import one_hook_at
from sparkwright.plan.physics import physics_of

MARK = Sweep("mark", (SweepPoint(3000.0, 95.0, 24.0, float("nan"), "none"),))


@cache
def engine() -> InventedEngine:
    return invented_engine(3)


@cache
def job() -> Job:
    return on_axes(engine().job, (800, 1600, 3000, 4500, 6000), (45, 60, 80, 95))


@cache
def sweeps() -> tuple[Sweep, ...]:
    """Seven points about the untaught best, at five places of the map."""
    found = []
    for k, place in enumerate(FIVE_PLACES):
        best = one_hook_at(physics_of(job()), *place).best(28.0)[0]
        found.append(engine().sweep(*place, np.linspace(best - 18.0, best + 10.0, 7), 100 + k))
    return tuple(found)


@cache
def found() -> Against:
    two = tuple(replace(each, knock=None) for each in sweeps()[3].points[:2])
    strange = replace(sweeps()[3], name="strange", points=two)
    return against_of(job(), (*sweeps(), MARK, strange))


def test_each_swept_place_stands_beside_what_was_foretold_and_what_was_learned() -> None:
    """Against the truth of an invented engine, whose laws are not the cycle's."""
    swept = [each for each in found().places if each.sweep != "mark"]
    assert [(each.rpm, each.kpa) for each in swept] == [(each.rpm, each.kpa) for each in sweeps()]
    hooks = engine().hooks(np.array([each.rpm for each in swept]), np.array([each.kpa for each in swept]))
    true = np.array([each.best_deg for each in hooks])
    untaught, taught = (
        np.sqrt(np.mean((np.array(bests) - true) ** 2))
        for bests in ([each.untaught_deg for each in swept], [each.taught_deg for each in swept])
    )
    assert taught < 0.5 * untaught


def test_what_nobody_heard_or_measured_is_not_determined() -> None:
    (mark,) = (each for each in found().places if each.sweep == "mark")
    assert np.isnan([mark.best_deg, mark.best_low_deg, mark.best_high_deg]).all()
    assert not mark.crossed_top
    assert (mark.heard, mark.heard_deg) == ("none", 24.0)
    deaf = replace(sweeps()[2], points=tuple(replace(each, knock=None) for each in sweeps()[2].points))
    (place,) = against_of(job(), [deaf]).places
    assert place.heard is None
    assert np.isnan(place.heard_deg)


def test_the_loudest_that_was_heard_is_told_with_its_least_advance() -> None:
    words: tuple[Heard, ...] = ("none", "none", "trace", "heavy", "heavy")
    points = tuple(SweepPoint(3000.0, 95.0, 10.0 + 5.0 * k, 300.0 + k, word) for k, word in enumerate(words))
    (place,) = against_of(job(), [Sweep("loud", points)]).places
    assert (place.heard, place.heard_deg) == ("heavy", 25.0)


def test_cells_far_from_every_measurement_are_foretold_only() -> None:
    """By hand: near 3,000 rpm and 72 kPa lies the cell of 3,000 rpm and 80 kPa alone."""
    near = [each for each in against_of(job(), [sweeps()[2]]).cells if each.measured_near]
    assert (sweeps()[2].rpm, sweeps()[2].kpa) == pytest.approx((3000.0, 72.0), abs=1.0)
    assert [(each.rpm, each.kpa) for each in near] == [(3000.0, 80.0)]


def test_what_was_set_aside_is_no_place_and_is_named() -> None:
    assert found().set_aside == ("strange",)
    assert "strange" not in [each.sweep for each in found().places]
