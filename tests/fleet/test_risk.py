"""The risk of one engine's unknowns: by draws what the plan reckons by small changes."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from fleet_jobs import InThisProcess
from planning_jobs import EXAMPLES
from sparkwright.cli import main
from sparkwright.fleet import risk as risk_module
from sparkwright.fleet.draws import drawn, outcome
from sparkwright.fleet.risk import Risk, risk_of
from sparkwright.fleet.workers import Here
from sparkwright.job import Job
from sparkwright.plan.physics import physics_of
from sparkwright.sheets.record import plain


@pytest.fixture(scope="module")
def job() -> Job:
    facts = Job.load(EXAMPLES / "old-four.toml").facts()
    facts["controller"] = {
        **facts.get("controller", {}),
        "rpm": [700, 1200, 2000, 3000, 4500],
        "kpa": [30, 50, 70, 90, 100],
    }
    return Job.from_facts(facts)


@pytest.fixture(scope="module")
def risk(job: Job, tmp_path_factory: pytest.TempPathFactory) -> Risk:
    return risk_of(job, tmp_path_factory.mktemp("draws") / "out", Here(2), draws=400)


@pytest.mark.slow
def test_draws_knock_as_often_as_the_plan_says(risk: Risk) -> None:
    """The plan adds small straight changes; all moved at once by the whole cycle they may differ a little."""
    found = np.array([each.chance_percent for each in risk.cells])
    said = np.array([each.plan_chance_percent for each in risk.cells])
    known = ~np.isnan(said)
    assert np.count_nonzero(said[known] > 3.0) > 3
    assert np.abs(found - said)[known].max() < 6.0
    assert abs((found - said)[known].mean()) < 2.0


@pytest.mark.slow
def test_the_interval_of_a_chance_is_wilsons(risk: Risk) -> None:
    for cell in risk.cells[:10]:
        hits = round(0.01 * cell.chance_percent * risk.draws)
        low, high = proportion_confint(hits, risk.draws, alpha=0.05, method="wilson")
        assert cell.chance_low_percent == pytest.approx(100.0 * low, abs=0.01)
        assert cell.chance_high_percent == pytest.approx(100.0 * high, abs=0.01)


@pytest.mark.slow
def test_the_kept_map_is_never_over_the_plans_and_keeps_the_chance(risk: Risk) -> None:
    for cell in risk.cells:
        assert cell.kept_deg <= cell.advance_deg + 1e-9
        if cell.chance_percent <= cell.allowed_percent:
            continue
        assert cell.kept_deg < cell.advance_deg


def test_a_smaller_chance_is_kept_by_less_advance(job: Job, tmp_path: Path) -> None:
    much, little = (
        risk_of(job, tmp_path / f"{chance}", InThisProcess(), draws=40, chance_percent=chance)
        for chance in (50.0, 2.5)
    )
    for one, other in zip(much.cells, little.cells, strict=True):
        assert other.kept_deg <= one.kept_deg
    assert sum(each.kept_deg for each in little.cells) < sum(each.kept_deg for each in much.cells)


def test_the_same_seed_draws_the_same_engines_on_any_number_of_processes(job: Job, tmp_path: Path) -> None:
    one, other, another = (
        risk_of(job, tmp_path / name, workers, draws=24, seed=seed)
        for name, seed, workers in (
            ("none", 1, InThisProcess()),
            ("three", 1, Here(3)),
            ("other", 2, InThisProcess()),
        )
    )
    assert plain(one) == plain(other)
    assert plain(one) != plain(another)


def test_a_run_that_was_stopped_draws_only_what_is_missing(
    job: Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(risk_module, "DRAWS_A_PART", 5)

    class StopError(Exception):
        pass

    seen: list[int] = []

    def stop(done: int, total: int) -> None:
        if done == 12:
            raise StopError

    with pytest.raises(StopError):
        risk_of(job, tmp_path / "out", InThisProcess(), draws=20, progress=stop)
    found = risk_of(
        job, tmp_path / "out", InThisProcess(), draws=20, progress=lambda done, total: seen.append(done)
    )
    assert seen[0] >= 5
    assert plain(found) == plain(risk_of(job, tmp_path / "at-once", InThisProcess(), draws=20))


def test_an_engine_drawn_without_any_spread_is_the_plans_own(job: Job) -> None:
    """Where every draw is the middle one the map gives away what its margins give away, and never knocks."""

    class Middle:
        def standard_normal(self, size: int | None = None) -> object:
            return 0.0 if size is None else np.zeros(size)

        def random(self) -> float:
            return 0.9

    physics = physics_of(job)
    engine = drawn(job, physics, Middle())  # type: ignore[arg-type]  # the middle of every draw
    assert engine.physics.constants == physics.constants
    assert (engine.timing_deg, engine.best_deg, engine.ln_knock) == (0.0, 0.0, 0.0)
    rpm, kpa = np.array([2000.0, 3000.0]), np.array([60.0, 100.0])
    found = outcome(engine, rpm, kpa, np.array([20.0, 5.0]))
    assert found.knocks.tolist() == [0.0, 0.0]
    assert np.all(found.lost_percent > 0.0)


def test_the_command_lists_the_cells_most_likely_to_knock(
    job: Job, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "job.toml").write_text(job.to_toml())
    asked = ["fleet", "risk", str(tmp_path / "job.toml"), "--draws", "20", "--to", str(tmp_path / "out")]
    main(asked)
    said = capsys.readouterr().out
    assert "20 engines were drawn as this one may be, and the plan's map run on each." in said
    assert "listen for knock" in " ".join(said.split())
    main([*asked, "--json"])
    results = json.loads(capsys.readouterr().out)["results"]
    assert results["draws"] == 20
    assert {"rpm", "kpa", "advance_deg", "chance_percent", "lost_percent", "kept_deg"} <= set(
        results["cells"][0]
    )
