"""Pulls of another engine are told from those of this one, named and set aside; those of this one are not."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from invented_engines import FIVE_PLACES, InventedEngine, invented_engine
from planning_jobs import on_axes
from sparkwright.cycle.belief import PRIOR
from sparkwright.dyno.pull_points import points_of_pulls
from sparkwright.dyno.pulls import Pull
from sparkwright.dyno.sweep import Sweep
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.learn.belief import belief_of
from sparkwright.learn.moves import moved, moves_of
from sparkwright.learn.response import Place, hook_of
from sparkwright.learn.result import evidence_of
from sparkwright.plan.hooks import one_hook_at
from sparkwright.plan.physics import physics_of
from telling import action_of, sentence_of

FULL_KPA = 95.0
RPM = np.arange(1500.0, 5501.0, 100.0)
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


def measured(name: str, true: np.ndarray, advance: float, seed: int, rpm: np.ndarray = RPM) -> Pull:
    """What is read of a pull: off by some 0.7 % as a whole, scattering by 0.5 %."""
    draw = np.random.default_rng(seed)
    read = true * (1.0 + 0.007 * draw.standard_normal() + 0.005 * draw.standard_normal(rpm.size))
    return Pull(name, f"{advance:g} deg", rpm, read, np.full(rpm.size, advance), FULL_KPA)


def job_of(engine: InventedEngine) -> Job:
    return on_axes(engine.job, (800, 1600, 3000, 4500, 6000), (45, 60, 80, 95))


def pulls_of(engine: InventedEngine, advances: tuple[float, ...]) -> list[Pull]:
    hooks = engine.hooks(RPM, np.full(RPM.size, FULL_KPA))
    return [
        measured(f"{advance:g}", np.array([each.torque_at(advance) for each in hooks]), advance, int(advance))
        for advance in advances
    ]


@cache
def engine() -> InventedEngine:
    return invented_engine(3)


@cache
def own() -> tuple[Pull, ...]:
    return tuple(pulls_of(engine(), (22.0, 28.0, 34.0)))


@cache
def sweeps() -> tuple[Sweep, ...]:
    found = []
    for k, place in enumerate(FIVE_PLACES[:3]):
        best = one_hook_at(physics_of(job_of(engine())), *place).best(28.0)[0]
        found.append(engine().sweep(*place, np.linspace(best - 18.0, best + 10.0, 7), 100 + k))
    return tuple(found)


def times(factor: float | np.ndarray) -> Pull:
    """A pull of an engine that gives so many times this one's torque."""
    return replace(own()[1], name="strange", torque_nm=factor * own()[1].torque_nm)


def set_aside(*pulls: Pull, beside: tuple[Sweep, ...] = ()) -> tuple[tuple[str, ...], list[Finding]]:
    found = evidence_of(job_of(engine()), (*beside, *points_of_pulls(pulls)))
    return found.pulls_aside, [each for each in found.findings if each.kind.startswith("pull.")]


@pytest.mark.parametrize("factor", [0.6, 1.5])
def test_a_pull_of_an_engine_of_another_size_is_set_aside_by_what_sweeps_say(factor: float) -> None:
    aside, (finding,) = set_aside(own()[1], times(factor), beside=sweeps())
    assert aside == ("strange",)
    assert finding.numbers["torque_ratio"] == pytest.approx(factor, rel=0.2)
    told = f"Pull strange seems to be of another engine: its torque is {finding.numbers['torque_ratio']:.2f} "
    assert sentence_of(finding) == f"{told}times what the sweeps would have it."
    assert action_of(finding).startswith("It is set aside; check file, unit, load and advance, or the job")


@pytest.mark.parametrize("factor", [0.6, 1.5])
def test_without_sweeps_it_is_set_aside_by_what_the_other_pulls_say(factor: float) -> None:
    aside, (finding,) = set_aside(*own(), times(factor))
    assert aside == ("strange",)
    assert sentence_of(finding).endswith("times what the other pulls would have it.")


def test_alone_it_is_set_aside_where_the_job_can_not_give_such_torque() -> None:
    aside, (finding,) = set_aside(times(0.4))
    assert aside == ("strange",)
    assert sentence_of(finding).endswith("times what the job would have it.")


def test_torque_that_runs_otherwise_over_speed_is_another_engines() -> None:
    """A torque that rises by nine tenths from 1,500 to 5,500 rpm beside this engine's own."""
    aside, (finding,) = set_aside(*own(), times((RPM / 3000.0) ** 0.5))
    assert aside == ("strange",)
    assert finding.kind == "pull.other-shape"
    assert "runs otherwise over speed than the job would have it" in sentence_of(finding)


def test_what_is_set_aside_teaches_nothing() -> None:
    job = job_of(engine())
    used = evidence_of(job, points_of_pulls((*own(), times(1.5)))).used
    assert belief_of(job, used).fingerprint == belief_of(job, points_of_pulls(own())).fingerprint


def test_the_same_pull_kept_twice_counts_once_and_is_named() -> None:
    aside, (finding,) = set_aside(*own(), replace(own()[0], name="22 again"))
    assert aside == ("22 again",)
    assert sentence_of(finding) == "Pull 22 again has the same torque as 22 at every speed; it counts once."


def test_a_reversed_brake_and_a_stuck_load_cell_are_named() -> None:
    stuck = replace(own()[0], name="stuck", torque_nm=np.full(RPM.size, 250.0))
    aside, found = set_aside(*own(), times(-1.0), stuck)
    assert aside == ("strange", "stuck")
    assert [sentence_of(each) for each in sorted(found, key=lambda each: each.kind)] == [
        "Pull stuck has the same torque, 250 N m, at every speed: the sensor seems stuck.",
        "Pull strange has torque of 0 or less: the brake's sign seems reversed, or the engine was dragged.",
    ]


@pytest.mark.parametrize("seed", [0, 1, 316, 320])
def test_no_pull_of_an_engine_whose_laws_are_not_the_cycles_is_taken_for_anothers(seed: int) -> None:
    """Engines 316 and 320 are those whose torque the cycle foretells worst; of 48 none gave an alarm."""
    engine = invented_engine(seed)
    pulls = pulls_of(engine, (12.0, 22.0, 28.0, 34.0, 42.0))
    assert evidence_of(job_of(engine), points_of_pulls(pulls)).pulls_aside == ()
    assert evidence_of(job_of(engine), points_of_pulls(pulls[2:3])).pulls_aside == ()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_pull_of_an_example_engine_is_taken_for_anothers(path: Path) -> None:
    """The cycle itself, with its constants and facts moved by one draw of what is not known."""
    job = Job.load(path)
    physics = physics_of(job, PRIOR)
    moves = moves_of(physics)
    kpa = physics.ambient_kpa
    rpm = np.linspace(1200.0, 0.9 * (job.engine.redline_rpm or 5000.0), 30)
    there = moved(physics, moves, np.random.default_rng(5).standard_normal(len(moves)))
    hooks = [hook_of(there, Place(float(each), kpa)) for each in rpm[::5]]
    pulls = []
    for k, advance in enumerate((18.0, 24.0, 30.0)):
        coarse = [each.at(advance)[0] for each in hooks]
        pull = measured(f"{advance:g}", np.interp(rpm, rpm[::5], coarse), advance, k, rpm)
        pulls.append(replace(pull, map_kpa=kpa))
    assert evidence_of(job, points_of_pulls(pulls)).pulls_aside == ()
