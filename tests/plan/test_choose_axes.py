"""Axes chosen for a controller: never worse than even ones, on its steps, with what is fixed; and use."""

import json
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planning_jobs import BOOSTED_SIX, EXAMPLES, OLD_FOUR, PUMP_HOUSE
from sparkwright.check.demand import highest_rpm
from sparkwright.errors import Refusal
from sparkwright.job import Job, LoadTerm
from sparkwright.numeric import FloatArray
from sparkwright.plan.choose_axes import AxesChoice, choose_axes
from sparkwright.plan.hooks import sparse_at
from sparkwright.plan.nodes import AxisName, Nodes
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.use import LEAST_USE, use_of
from sparkwright.words.axes import axes_sentence

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
    assert found.kept == ("rpm", "load")


def test_what_keeping_ones_own_axes_costs_is_what_choosing_them_anew_gains() -> None:
    """Asked anew, with as many nodes between the same ends, exactly the torque that was foretold is lost."""
    own_rpm, own_kpa = [700.0, 800.0, 900.0, 6000.0], [25.0, 30.0, 35.0, 168.0]
    job = BOOSTED_SIX.changed("controller", rpm=own_rpm, kpa=own_kpa)
    kept = choose_axes(job, Nodes(9, 50.0), Nodes(9, 1.0))
    anew = choose_axes(job, Nodes(4, 50.0), Nodes(4, 1.0), keep=False)
    assert anew.kept == ()
    assert np.isnan(anew.anew_lost_percent)
    assert (anew.rpm[[0, -1]].tolist(), anew.kpa[[0, -1]].tolist()) == ([700.0, 6000.0], [25.0, 168.0])
    assert anew.lost_percent == kept.anew_lost_percent < kept.lost_percent
    assert axes_sentence(kept) == (
        f"Your own speeds and loads are kept, and nothing was chosen: they give away {kept.lost_percent:.2f} "
        f"% of torque, weighed for road use. As many of each, chosen between the same ends, would give away "
        f"{anew.lost_percent:.2f} %."
    )


def judged(kept: tuple[AxisName, ...], lost: float, even: float, anew: float) -> AxesChoice:
    some = np.array([1.0, 2.0])
    return AxesChoice(some, some, lost, some, some, even, "road", "kPa absolute", some, some, kept, anew)


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (
            judged((), 0.4, 0.6, np.nan),
            "These axes give away 0.40 % of torque, even ones 0.60 %, weighed for road use.",
        ),
        (
            judged((), 0.4, 0.4, np.nan),
            "Even axes are as good as any found: they give away 0.40 % of torque.",
        ),
        (
            judged(("rpm", "load"), 0.4, 0.4, 0.4),
            "Your own speeds and loads are kept, and nothing was chosen: they give away 0.40 % of torque, "
            "weighed for road use. As many of each, chosen between the same ends, would gain nothing.",
        ),
        (
            judged(("load",), 0.4, 0.6, 0.25),
            "These axes give away 0.40 % of torque, even ones 0.60 %, weighed for road use. Your own loads "
            "are kept. As many, chosen too, would give away 0.25 %.",
        ),
        (
            judged(("rpm",), 0.4, 0.4, 0.4),
            "Even axes are as good as any found: they give away 0.40 % of torque. Your own speeds are kept. "
            "As many, chosen too, would gain nothing.",
        ),
    ],
)
def test_kept_axes_are_never_called_even_or_chosen(found: AxesChoice, said: str) -> None:
    assert axes_sentence(found) == said


IN_TERMS: dict[LoadTerm, tuple[float, tuple[float, ...]]] = {
    "inHg vacuum": (0.5, (14.0, 0.0)),
    "kPa boost": (1.0, (-40.0, 0.0)),
    "psi boost": (0.25, (-6.5, 0.0)),
    "percent of full load": (1.0, (50.0, 100.0)),
}
"""A step and fixed loads for each of a controller's terms."""


@pytest.mark.parametrize("term", IN_TERMS)
def test_loads_are_chosen_on_the_steps_that_a_controller_has_in_its_own_terms(term: LoadTerm) -> None:
    """By hand: an inch of mercury is 3.386389 kPa and a psi 6.894757 kPa (NIST SP 811, appendix B.8)."""
    step, fixed = IN_TERMS[term]
    job = PUMP_HOUSE.changed("site", pressure="90 kPa", altitude=None).changed("controller", load=term)
    found = choose_axes(job, Nodes(6, 100.0), Nodes(6, step, fixed))
    kpa_of: dict[LoadTerm, Callable[[FloatArray], FloatArray]] = {
        "inHg vacuum": lambda load: 90.0 - 3.386389 * load,
        "kPa boost": lambda load: 90.0 + load,
        "psi boost": lambda load: 90.0 + 6.894757 * load,
        "percent of full load": lambda load: 0.9 * load,
    }
    assert found.load_term == term
    for load, kpa in ((found.load, found.kpa), (found.even_load, found.even_kpa)):
        assert set(fixed) <= set(load.tolist())
        assert np.all(np.diff(kpa) > 0.0)
        assert np.abs(load / step - np.round(load / step)).max() < 1e-9
        assert kpa == pytest.approx(kpa_of[term](load), abs=1e-4)
    # The last row is the air outside, whatever it is in whole kilopascals.
    assert found.kpa[-1] == pytest.approx(90.0)


def test_a_controller_by_throttle_has_its_pressures_chosen() -> None:
    table = {"throttle_rpm": [1000, 5000], "throttle_kpa": [[0, 25, 20], [100, 84, 80]]}
    job = PUMP_HOUSE.changed("controller", load="percent of throttle", **table)
    found = choose_axes(job, Nodes(4, 100.0), Nodes(4, 1.0, (60.0,)))
    assert found.load_term == "kPa absolute"
    assert found.load.tolist() == found.kpa.tolist()
    assert 60.0 in found.kpa


@pytest.mark.parametrize(
    ("term", "loads", "said"),
    [
        ("inHg vacuum", Nodes(6, 0.5, (12, 12)), "axes.fixed_load = 12 stands twice: must rise"),
        ("inHg vacuum", Nodes(6, 0.5, (12, 5, 8)), "axes.fixed_load = 5 falls after 8: must rise"),
        ("inHg vacuum", Nodes(6, 0.5, (22,)), "= 22: must be 0 to 20 inHg vacuum, what this engine meets"),
        (
            "inHg vacuum",
            Nodes(6, 10),
            "axes.load = 6 nodes: must fit between 0 and 20 inHg vacuum",
        ),
        ("inHg vacuum", Nodes(6, 0), "axes.load_step = 0: must be above 0"),
        ("kPa boost", Nodes(6, 1, (0, -40)), "axes.fixed_load = -40 falls after 0: must rise"),
        ("kPa boost", Nodes(6, 1, (40,)), "= 40: must be -67 to 0 kPa boost, what this engine meets"),
        ("kPa boost", Nodes(6, 1e-9), "axes.load_step = 1e-09: must be at least 0.0039"),
        ("psi boost", Nodes(6, 0.25, (-3, -3)), "axes.fixed_load = -3 stands twice: must rise"),
        ("psi boost", Nodes(6, 0.25, (8,)), "= 8: must be -9.75 to 0 psi boost, what this engine meets"),
        ("percent of full load", Nodes(6, 1, (90, 40)), "axes.fixed_load = 40 falls after 90: must rise"),
        ("percent of full load", Nodes(6, 1, (101,)), "= 101: must be 25 to 100 % of full load"),
        ("percent of full load", Nodes(1, 1), "axes.load = 1: must be 2 to 40 nodes"),
    ],
)
def test_axes_in_a_controllers_terms_that_cannot_be_had_are_refused_in_them(
    term: LoadTerm, loads: Nodes, said: str
) -> None:
    """Its loads begin at 22.8 kPa, to a step of the terms, under air of 90."""
    job = PUMP_HOUSE.changed("site", pressure="90 kPa", altitude=None).changed("controller", load=term)
    with pytest.raises(Refusal) as refusal:
        choose_axes(job, Nodes(6, 100.0), loads)
    assert said in str(refusal.value)


def test_vacuum_is_typed_either_way_round() -> None:
    job = PUMP_HOUSE.changed("controller", load="inHg vacuum")
    rising, falling = (
        choose_axes(job, Nodes(4, 100.0), Nodes(5, 0.5, fixed)) for fixed in ((5.0, 12.0), (12.0, 5.0))
    )
    assert rising.load.tolist() == falling.load.tolist()
    assert {5.0, 12.0} <= set(rising.load.tolist())


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
        (Nodes(6, 50), Nodes(41, 1), "axes.load = 41: must be 2 to 40 nodes"),
        (Nodes(6, 0), Nodes(6, 1), "axes.rpm_step = 0: must be above 0"),
        (
            Nodes(6, 50, (900, 900)),
            Nodes(6, 1),
            "axes.fixed_rpm = 900 stands twice: must rise; give each node once",
        ),
        (
            Nodes(6, 50),
            Nodes(6, 1, (60, 40)),
            "axes.fixed_load = 40 falls after 60: must rise; give each node once",
        ),
        (
            Nodes(2, 50, (900, 1000, 1100)),
            Nodes(6, 1),
            "axes.fixed_rpm = 3 nodes: must be at most 2, what there is",
        ),
        (
            Nodes(6, 2000),
            Nodes(6, 1),
            "axes.rpm = 6 nodes: must fit between 500 and 5000 rpm in steps of 2000; take fewer, or a finer "
            "step",
        ),
        (
            Nodes(6, 50),
            Nodes(6, 1, (200,)),
            "axes.fixed_load = 200: must be 23 to 85 kPa, what this engine meets; leave it out",
        ),
        (Nodes(6, 50, (20000,)), Nodes(6, 1), "axes.fixed_rpm = 20000: must be 100 to 12000 rpm"),
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
