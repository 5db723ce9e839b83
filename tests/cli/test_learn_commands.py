"""`dyno`, `learn` and `next` on a job in the store, which brings what was kept with it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from invented_engines import InventedEngine, invented_engine
from learning_trial import five_sweeps
from sparkwright.cli import GOOD, REFUSED, SEE, main
from sparkwright.evidence.kinds import KnockMark, TorquePoint
from sparkwright.evidence.sweeps import number_for, sweep_seen, sweeps_in
from sparkwright.job import JobText
from sparkwright.learn.belief import belief_of
from sparkwright.plan.planner import plan
from sparkwright.shop import open_shop
from workbench import PUMP_HOUSE

KEY = "pump-house-v8"
HEAD = "speed_rpm,map_kpa,advance_deg,torque_nm,knock,sweep\n"


def table(rpm: float, kpa: float, best: float, name: str) -> str:
    return "".join(
        f"{rpm},{kpa},{advance},{300 * (1 - 3e-4 * (advance - best) ** 2):.2f},none,{name}\n"
        for advance in (12, 18, 24, 30, 36)
    )


FIRST, SECOND = table(2000, 80, 29.0, "a"), table(3200, 60, 33.0, "b")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store with one job, and two files beside it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPARKWRIGHT_SHOP", str(tmp_path / "store"))
    with open_shop(tmp_path / "store") as shop:
        shop.jobs.create(JobText(PUMP_HOUSE).text, who="A. Example", why="engine came in")
    (tmp_path / "monday.csv").write_text(HEAD + FIRST + SECOND, encoding="utf-8")
    (tmp_path / "first.csv").write_text(HEAD + FIRST, encoding="utf-8")
    return tmp_path / "store"


def results(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    main([*arguments, "--json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)["results"]
    return found


def test_a_kept_sweep_is_learned_from_without_its_file_and_unlearned_when_withdrawn(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["dyno", KEY, "monday.csv", "--keep", "--who", "A. Example"]) == GOOD
    assert "Kept with pump-house-v8: 2 sweeps." in capsys.readouterr().out
    both = results(capsys, "learn", KEY)
    assert both["headline"].startswith("Learned from 2 sweeps: ")
    with open_shop(place) as shop:
        assert [each.name for each in shop.files.of_job(KEY)] == ["monday.csv"]
        second = shop.evidence.of_job(KEY, "sweep")[1]
        shop.evidence.withdraw(KEY, second.id, who="A. Example", why="the brake slipped")
    alone = results(capsys, "learn", KEY)["cells"]
    assert alone != both["cells"]
    from_file = results(capsys, "learn", str(job_file(place)), "first.csv")["cells"]
    assert alone == from_file, "to the last digit, as had the other never been there"
    assert "worth" in results(capsys, "next", KEY)["next"][0]


def test_a_job_of_which_nothing_was_measured_answers_all_the_same(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["dyno", KEY]) == GOOD
    assert "No sweep places a top." in capsys.readouterr().out
    assert results(capsys, "dyno", KEY)["sweeps"] == []
    runs = results(capsys, "next", KEY)["next"]
    assert [each["worth"] for each in runs] == sorted((each["worth"] for each in runs), reverse=True)
    assert all({"rpm", "kpa", "advances_deg", "worth"} <= set(each) for each in runs)


def job_file(place: Path) -> Path:
    path = place.parent / "job.toml"
    path.write_text(PUMP_HOUSE, encoding="utf-8")
    return path


def test_a_file_that_is_kept_already_is_told_and_not_kept_again(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["dyno", KEY, "monday.csv", "--keep", "--who", "A. Example"]) == GOOD
    assert main(["dyno", KEY, "monday.csv", "--keep", "--who", "A. Example"]) == SEE
    out = " ".join(capsys.readouterr().out.split())
    assert "Sweep monday.csv a stands there twice with the same points; it counts once." in out
    assert "Kept with pump-house-v8: 0 sweeps; 2 set aside and not kept." in out
    with open_shop(place) as shop:
        assert len(shop.evidence.of_job(KEY, "sweep")) == 2


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ["dyno", "job.toml", "monday.csv", "--keep"],
            "--keep = job.toml: must come with a job in the store; `sparkwright shop list` names them",
        ),
        (["dyno", KEY, "--keep"], "--keep must come with a FILE; `sparkwright dyno --help` says how"),
        (
            ["learn", "job.toml"],
            "FILE must be given where JOB is a file; a job in the store has its own; "
            "`sparkwright learn --help` says how",
        ),
        (["learn", "no-such-engine"], 'there is no job "no-such-engine" in this store'),
    ],
)
def test_what_cannot_be_kept_or_found_is_said(
    arguments: list[str], told: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job_file(place)
    assert main(arguments) == REFUSED
    assert told in capsys.readouterr().err


def test_a_sweep_comes_back_from_the_store_as_its_file_gave_it(place: Path) -> None:
    engine: InventedEngine = invented_engine(3)
    sweeps = five_sweeps(engine, plan(engine.job))
    with open_shop(place) as shop:
        shop.evidence.add_all(KEY, [sweep_seen(each) for each in sweeps], who="A. Example")
        assert sweeps_in(shop.evidence.of_job(KEY)) == tuple(sweeps)


def test_marks_of_knock_that_were_kept_are_learned_from_without_torque(place: Path) -> None:
    """No outside figure: knock heard later than foretold must bring the integral up, knock not heard down."""
    with open_shop(place) as shop:
        job = shop.jobs.latest(KEY).job
        shop.evidence.add(KEY, KnockMark(2400.0, 98.0, 27.0, "heavy"), who="A. Example")
        (heard,) = sweeps_in(shop.evidence.of_job(KEY))
    assert not heard.determines_a_top
    nothing, learned = belief_of(job, []), belief_of(job, [heard])
    before, after = (each.correction(2400.0, 98.0).ln_knock for each in (nothing, learned))
    assert after > before + 0.05
    assert (
        learned.correction(2400.0, 98.0).best_sigma_deg
        < 1.2 * nothing.correction(2400.0, 98.0).best_sigma_deg
    )


def test_points_that_were_typed_one_by_one_are_a_sweep_and_one_taken_back_is_out_of_it(place: Path) -> None:
    points = [TorquePoint(2000.0, 80.0, advance, 290.0, sweep=3) for advance in (12.0, 18.0, 24.0)]
    with open_shop(place) as shop:
        kept = [shop.evidence.add(KEY, each, who="A. Example") for each in points]
        shop.evidence.withdraw(KEY, kept[1].id, who="A. Example", why="typed wrong")
        records = shop.evidence.of_job(KEY, also_withdrawn=True)
    (sweep,) = sweeps_in(records)
    assert (sweep.name, sweep.advance_deg.tolist()) == ("typed 3", [12.0, 24.0])
    assert number_for(records, 2030.0, 81.0) == 3
    assert number_for(records, 3000.0, 80.0) == 4
