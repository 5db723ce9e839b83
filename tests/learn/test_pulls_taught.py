"""Pulls at full throttle as evidence: what they teach, how they are kept, and that they can be taken back."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from invented_engines import InventedEngine, invented_engine
from planning_jobs import on_axes
from sparkwright.cli import GOOD, main
from sparkwright.dyno.pull_points import as_run, points_of_pulls
from sparkwright.dyno.pull_table import read_pulls
from sparkwright.dyno.pulls import Pull
from sparkwright.evidence.kinds import MOST_READINGS
from sparkwright.evidence.pulls import pull_seen, pulls_in, taught_by
from sparkwright.job import Job, JobText
from sparkwright.learn.belief import LearnedBelief, belief_of
from sparkwright.plan.hooks import one_hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.shop import open_shop
from workbench import PUMP_HOUSE

FULL_KPA = 95.0
RPM = np.arange(1500.0, 5501.0, 100.0)


@cache
def engine() -> InventedEngine:
    return invented_engine(3)


@cache
def job() -> Job:
    return on_axes(engine().job, (800, 1600, 3000, 4500, 6000), (45, 60, 80, 95))


@cache
def pulls() -> tuple[Pull, ...]:
    """Two pulls at each of three timings; each reads off by some 0.7 % as a whole and scatters by 0.5 %."""
    draw = np.random.default_rng(17)
    hooks = engine().hooks(RPM, np.full(RPM.size, FULL_KPA))
    found = []
    for advance in (22.0, 28.0, 34.0):
        true = np.array([each.torque_at(advance) for each in hooks])
        for k in range(2):
            read = true * (1.0 + 0.007 * draw.standard_normal() + 0.005 * draw.standard_normal(RPM.size))
            name, at = f"{advance:g} {k}", np.full(RPM.size, advance)
            found.append(Pull(name, f"{advance:g} deg", RPM, read, at, FULL_KPA))
    return tuple(found)


@cache
def learned(count: int) -> LearnedBelief:
    return belief_of(job(), points_of_pulls(pulls()[:count]))


def spread_deg(belief: LearnedBelief, rpm: float) -> float:
    return float(belief.correction(rpm, FULL_KPA).best_sigma_deg)


def off(belief: LearnedBelief, rpm: float) -> tuple[float, float]:
    """How far best [deg] and its torque [%] lie from the truth at full throttle."""
    true = engine().hooks(np.array([rpm]), np.array([FULL_KPA]))[0]
    best, torque = one_hook_at(physics_of(job(), belief), rpm, FULL_KPA).best(28.0)
    return best - true.best_deg, 100.0 * (torque / float(true.torque_nm.max()) - 1.0)


def test_pulls_at_several_timings_teach_where_best_lies_at_full_throttle() -> None:
    """Against an invented engine, whose laws are not the cycle's."""
    for rpm in (2000.0, 3000.0, 4500.0):
        before, after = spread_deg(learned(0), rpm), spread_deg(learned(6), rpm)
        assert after < 0.75 * before
        assert abs(off(learned(6), rpm)[0]) < 3.0 * after


def test_pulls_teach_how_torque_runs_over_speed() -> None:
    """Against an invented engine: the torque of the map at full throttle, some ten percent off
    before."""
    before = [abs(off(learned(0), rpm)[1]) for rpm in (2000.0, 3000.0, 4500.0)]
    after = [abs(off(learned(6), rpm)[1]) for rpm in (2000.0, 3000.0, 4500.0)]
    assert min(before) > 5.0
    assert max(after) < 5.0


def test_one_timing_alone_teaches_torque_and_hardly_where_best_lies() -> None:
    one = learned(2)
    assert abs(off(one, 3000.0)[1]) < 5.0
    assert spread_deg(one, 3000.0) > spread_deg(learned(6), 3000.0)


def test_what_one_pull_reads_too_high_is_not_taken_for_timing() -> None:
    """All of one pull 2 % up: were its speeds taken as independent, best would move by much more."""
    high = replace(pulls()[5], torque_nm=1.02 * pulls()[5].torque_nm)
    moved = belief_of(job(), points_of_pulls((*pulls()[:5], high)))
    by = off(moved, 3000.0)[0] - off(learned(6), 3000.0)[0]
    assert abs(by) < 2.0 * spread_deg(learned(6), 3000.0)


def test_the_order_of_pulls_changes_no_digit() -> None:
    there, back = points_of_pulls(pulls()), points_of_pulls(pulls()[::-1])
    assert there == back
    one, other = belief_of(job(), there), belief_of(job(), there[::-1])
    assert one.fingerprint == other.fingerprint


def test_the_slopes_of_what_is_predicted_of_pulls_are_those_of_differences() -> None:
    """Central differences, one unknown after another, the pulls' own levels among them."""
    problem = learned(6).posterior.problem
    x = learned(6).posterior.middle + 0.01
    by = problem.predicted(x, 2)[2]
    assert problem.layout.size - problem.layout.first_run == 6
    for k, step in enumerate(1e-5 * np.eye(x.size)):
        more, less = problem.predicted(x + step, 2)[0], problem.predicted(x - step, 2)[0]
        np.testing.assert_allclose(by[:, k], (more - less) / 2e-5, rtol=2e-3, atol=2e-3)


def test_a_pull_that_does_not_say_its_advance_is_compared_and_teaches_nothing() -> None:
    silent = replace(pulls()[0], advance_deg=None)
    assert points_of_pulls([silent]) == ()
    stated = as_run(replace(silent, timing="as it was"), 22.0, None)
    assert stated.timing == "22 deg"
    assert points_of_pulls([stated]) == points_of_pulls([pulls()[0]])


# Read and kept.


def table(some: tuple[Pull, ...]) -> str:
    lines = ["pull,advance_deg,map_kpa,speed_rpm,torque_nm"]
    lines += [
        f"{each.name},{each.advance_deg[k] if each.advance_deg is not None else ''},{each.map_kpa},"
        f"{each.rpm[k]},{each.torque_nm[k]:.3f}"
        for each in some
        for k in range(each.rpm.size)
    ]
    return "\n".join(lines) + "\n"


def test_a_table_says_at_which_advance_and_load_its_pulls_were_run() -> None:
    (read,) = read_pulls(table(pulls()[:1]), "monday", None, 100.0)
    assert read.timing == "22 deg"
    assert read.map_kpa == FULL_KPA
    assert read.advance_deg is not None
    assert set(read.advance_deg.tolist()) == {22.0}


def test_a_pull_comes_back_from_what_is_kept_of_it() -> None:
    rising = replace(pulls()[0], advance_deg=np.linspace(18.0, 30.0, RPM.size), mixture_lambda=0.88)
    seen = pull_seen(rising)
    assert seen.advance_deg is None
    assert [each.advance_deg for each in seen.rows][::40] == [18.0, 30.0]
    assert seen.rows[3].torque_nm == pytest.approx(rising.torque_nm[3], abs=1e-4)


def test_a_long_log_is_thinned_and_tells_the_same() -> None:
    rpm = np.linspace(1500.0, 5500.0, 15_000)
    true = 300.0 - 4e-6 * (rpm - 3500.0) ** 2
    log = Pull("log", "", rpm, true, np.full(rpm.size, 28.0), FULL_KPA)
    seen = pull_seen(log)
    assert len(seen.rows) <= MOST_READINGS
    speeds, torque = (
        np.array([getattr(each, name) for each in seen.rows]) for name in ("speed_rpm", "torque_nm")
    )
    np.testing.assert_allclose(torque, np.interp(speeds, rpm, true), atol=0.02)


KEY = "pump-house-v8"


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPARKWRIGHT_SHOP", str(tmp_path / "store"))
    with open_shop(tmp_path / "store") as shop:
        shop.jobs.create(JobText(PUMP_HOUSE).text, who="A. Example", why="engine came in")
    (tmp_path / "pulls.csv").write_text(table(pulls()), encoding="utf-8")
    return tmp_path / "store"


def results(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    main([*arguments, "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)["results"]
    return found


def test_a_kept_pull_is_learned_from_and_unlearned_to_the_digit_when_withdrawn(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def belief() -> str:
        with open_shop(store) as shop:
            return belief_of(job(), taught_by(shop.evidence.of_job(KEY))).fingerprint

    before = belief()
    assert main(["pulls", "pulls.csv", "--job", KEY, "--keep", "--who", "A. Example"]) == GOOD
    assert "Kept with pump-house-v8: 6 pulls." in capsys.readouterr().out
    assert belief() != before
    with open_shop(store) as shop:
        for each in shop.evidence.of_job(KEY):
            shop.evidence.withdraw(KEY, each.id, who="A. Example", why="brake was off")
    assert belief() == before


@pytest.mark.slow
def test_the_learn_command_counts_kept_pulls_beside_sweeps(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["pulls", "pulls.csv", "--job", KEY, "--keep", "--who", "A. Example"])
    capsys.readouterr()
    assert results(capsys, "learn", KEY)["headline"].startswith("Learned from 0 sweeps and 6 pulls: ")


def test_kept_pulls_are_shown_and_held_against_each_other_without_their_file(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["pulls", "pulls.csv", "--job", KEY, "--keep", "--who", "A. Example"])
    capsys.readouterr()
    assert main(["pulls", "--job", KEY]) == GOOD
    assert "28 deg less 22 deg" in capsys.readouterr().out
    with open_shop(store) as shop:
        records = shop.evidence.of_job(KEY)
        assert [each.timing for each in pulls_in(records)][::2] == ["22 deg", "28 deg", "34 deg"]
        assert taught_by(records)[0].pulls[0].startswith("22 0 (")


def test_the_same_file_of_pulls_is_kept_once(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for told in ("6 pulls.", "0 pulls; 6 kept already."):
        main(["pulls", "pulls.csv", "--job", KEY, "--keep", "--who", "A. Example"])
        assert capsys.readouterr().out.endswith(f"Kept with pump-house-v8: {told}\n")


def test_pulls_kept_without_advance_are_said_to_teach_nothing(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = "speed_rpm,torque_nm\n" + "".join(f"{rpm},{300 - 0.01 * rpm}\n" for rpm in range(2000, 5000, 100))
    Path("bare.csv").write_text(bare, encoding="utf-8")
    main(["pulls", "bare.csv", "--job", KEY, "--keep", "--who", "A. Example"])
    assert "1 teach nothing, for want of advance_deg or map_kpa" in capsys.readouterr().out
    main(
        ["pulls", "bare.csv", "--job", KEY, "--keep", "--who", "A. Example", "--advance", "28", "--map", "98"]
    )
    assert capsys.readouterr().out.endswith("Kept with pump-house-v8: 1 pull.\n")
