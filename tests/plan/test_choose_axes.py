"""Axes chosen for a controller: never worse than even ones, on its steps, with what is fixed; and use."""

import json
import subprocess
import sys
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning_jobs import BOOSTED_SIX, EXAMPLES, OLD_FOUR, PUMP_HOUSE
from sparkwright.check.demand import highest_rpm
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.choose_axes import AxesChoice, Nodes, choose_axes
from sparkwright.plan.hooks import sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.use import LEAST_USE, use_of

FEW = settings(deadline=None, max_examples=4)


@FEW
@given(
    job=st.sampled_from([PUMP_HOUSE, BOOSTED_SIX, OLD_FOUR]),
    speeds=st.integers(2, 12),
    loads=st.integers(2, 12),
    use=st.sampled_from(["road", "stationary", "competition"]),
)
def test_chosen_axes_give_away_no_more_torque_than_even_ones(
    job: Job, speeds: int, loads: int, use: str
) -> None:
    found = choose_axes(job.changed("engine", use=use), Nodes(speeds, 50.0), Nodes(loads, 1.0))
    assert found.lost_percent <= found.even_lost_percent
    assert found.use == use
    for axis, even, count in ((found.rpm, found.even_rpm, speeds), (found.kpa, found.even_kpa, loads)):
        assert axis.size == even.size == count
        assert np.all(np.diff(axis) > 0.0)
        assert np.all(np.diff(even) > 0.0)
    assert np.all(found.rpm % 50.0 == 0.0)
    assert np.all(found.kpa % 1.0 == 0.0)


def few_on_boost(**fixed: tuple[float, ...]) -> AxesChoice:
    speeds, loads = Nodes(6, 50.0, fixed.get("rpm", ())), Nodes(6, 1.0, fixed.get("kpa", ()))
    return choose_axes(BOOSTED_SIX, speeds, loads)


def test_with_few_nodes_a_choice_gains_torque_by_the_cycle_itself() -> None:
    """The plans on both pairs of axes, burned at points of neither, weighed by use."""
    found = few_on_boost()
    assert found.lost_percent < 0.8 * found.even_lost_percent
    physics = physics_of(BOOSTED_SIX)
    rpm, kpa = np.linspace(2010.0, 6100.0, 14), np.linspace(46.0, 167.0, 13)
    use = use_of("road", rpm, kpa, highest_rpm(BOOSTED_SIX), float(found.kpa[-1]))
    hooks = sparse_at(physics, np.tile(rpm, kpa.size), np.repeat(kpa, rpm.size))

    def torque_nm(own_rpm: FloatArray, own_kpa: FloatArray) -> float:
        job = BOOSTED_SIX.changed("controller", rpm=own_rpm.tolist(), kpa=own_kpa.tolist())
        made_deg = plan(job).cells.spark_map.carried_to(rpm, kpa)
        return float(use.ravel() @ hooks.at(made_deg.ravel())[0])

    assert torque_nm(found.rpm, found.kpa) > torque_nm(found.even_rpm, found.even_kpa)


def test_an_axis_that_the_person_states_is_kept_and_only_the_other_chosen() -> None:
    own_rpm = [700.0, 1500.0, 3100.0, 6000.0]
    found = choose_axes(BOOSTED_SIX.changed("controller", rpm=own_rpm), Nodes(6, 50.0), Nodes(5, 1.0))
    assert found.rpm.tolist() == found.even_rpm.tolist() == own_rpm
    assert found.kpa.size == found.even_kpa.size == 5
    assert found.lost_percent <= found.even_lost_percent


def test_with_loads_stated_only_speeds_are_chosen() -> None:
    own_kpa = [25.0, 61.0, 96.0, 131.0, 168.0]
    found = choose_axes(BOOSTED_SIX.changed("controller", kpa=own_kpa), Nodes(5, 50.0), Nodes(6, 1.0))
    assert found.kpa.tolist() == found.even_kpa.tolist() == own_kpa
    assert found.rpm.size == 5
    assert np.all(found.rpm % 50.0 == 0.0)
    assert found.lost_percent <= found.even_lost_percent


def test_with_both_axes_stated_they_are_judged_and_kept() -> None:
    own_rpm, own_kpa = [700.0, 2000.0, 6000.0], [25.0, 96.0, 168.0]
    job = BOOSTED_SIX.changed("controller", rpm=own_rpm, kpa=own_kpa)
    found = choose_axes(job, Nodes(6, 50.0), Nodes(6, 1.0))
    assert (found.rpm.tolist(), found.kpa.tolist()) == (own_rpm, own_kpa)
    assert found.lost_percent == found.even_lost_percent > 0.0


def test_fixed_nodes_stand_in_chosen_and_in_even_axes() -> None:
    found = few_on_boost(rpm=(850.0, 3333.0), kpa=(99.5,))
    for axis in (found.rpm, found.even_rpm):
        assert {850.0, 3333.0} <= set(axis.tolist())
    for axis in (found.kpa, found.even_kpa):
        assert 99.5 in axis


@pytest.mark.parametrize(
    ("speeds", "loads", "said"),
    [
        (Nodes(1, 50), Nodes(6, 1), "axes.rpm = 1: must be 2 to 40 nodes"),
        (Nodes(6, 50), Nodes(41, 1), "axes.kpa = 41: must be 2 to 40 nodes"),
        (Nodes(6, 0), Nodes(6, 1), "axes.rpm_step = 0: must be above 0"),
        (
            Nodes(6, 50, (900, 900)),
            Nodes(6, 1),
            "axes.fixed_rpm = 900 stands twice: must rise; give each node once",
        ),
        (
            Nodes(6, 50),
            Nodes(6, 1, (60, 40)),
            "axes.fixed_kpa = 40 falls after 60: must rise; give each node once",
        ),
        (
            Nodes(2, 50, (900, 1000, 1100)),
            Nodes(6, 1),
            "axes.fixed_rpm = 3 nodes: must be at most 2, what there is",
        ),
        (
            Nodes(6, 2000),
            Nodes(6, 1),
            "axes.rpm = 6 nodes: must fit between 500 and 5000 in steps of 2000; take fewer, or a finer step",
        ),
        (
            Nodes(6, 50),
            Nodes(6, 1, (200,)),
            "axes.fixed_kpa = 200: must be 23 to 85, what this engine meets; leave it out",
        ),
        (Nodes(6, 50, (20000,)), Nodes(6, 1), "axes.fixed_rpm = 20000: must be 100 to 12000"),
    ],
)
def test_axes_that_cannot_be_had_are_refused_in_a_sentence(speeds: Nodes, loads: Nodes, said: str) -> None:
    with pytest.raises(Refusal) as refusal:
        choose_axes(PUMP_HOUSE, speeds, loads)
    assert str(refusal.value) == said


def test_sixteen_by_sixteen_are_chosen_while_a_person_waits() -> None:
    """The aim is 3 s on a quiet machine; this bound only tells of a slip in kind."""
    choose_axes(PUMP_HOUSE, Nodes(16, 50), Nodes(16, 1))
    start = time.perf_counter()
    choose_axes(PUMP_HOUSE, Nodes(16, 50), Nodes(16, 1))
    assert time.perf_counter() - start < 30.0


def test_the_command_prints_axes_that_a_job_takes() -> None:
    asked = ["axes", str(EXAMPLES / "pump-house-v8.toml"), "--speeds", "6", "--loads", "5", "--json"]
    said = subprocess.run(
        [sys.executable, "-m", "sparkwright.cli", *asked], capture_output=True, text=True, check=True
    )
    results = json.loads(said.stdout)["results"]
    taken = PUMP_HOUSE.changed("controller", rpm=results["rpm"], kpa=results["kpa"])
    assert taken.controller.rpm is not None
    assert (len(results["rpm"]), len(results["kpa"])) == (6, 5)


def test_each_use_counts_most_where_such_engines_run() -> None:
    rpm, kpa = np.array([600.0, 2100.0, 3600.0, 4800.0]), np.array([20.0, 45.0, 80.0, 100.0])
    road, stationary, competition = (
        use_of(use, rpm, kpa, 6000.0, 100.0) for use in ("road", "stationary", "competition")
    )
    assert road[1, 1] == road.max()
    assert stationary[2, 2] == stationary.max()
    assert competition[3, 3] == competition.max()
    for each in (road, stationary, competition):
        assert each.min() >= LEAST_USE
        assert each.max() <= 1.0
