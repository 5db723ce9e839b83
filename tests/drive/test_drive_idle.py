"""The idle: simulated as linear theory has it, and judged in a drive by what was put into it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import signal

from invented_drives import PUMP_HOUSE, Columns, csv_file
from planned import plan_of
from sparkwright.cli import main
from sparkwright.drive.asked import asked_of
from sparkwright.drive.drives import drive_of
from sparkwright.drive.idle import Idle
from sparkwright.drive.result import DriveResult
from sparkwright.drive.simulated_idle import (
    IdleLoop,
    IdlePlant,
    margin_of,
    plant_of,
    sigma_rpm_of,
    simulated,
    try_idle,
)
from sparkwright.errors import Refusal
from sparkwright.findings import Finding
from sparkwright.plan.physics import physics_of
from telling import action_of, sentence_of

PLAN = plan_of(PUMP_HOUSE)
PLANT, ASSUMED = plant_of(PUMP_HOUSE, physics_of(PUMP_HOUSE), PLAN)
ENDLESS = {"most_deg": 1e9, "least_deg": -1e9}


def straight(plant: IdlePlant) -> IdlePlant:
    """The same with a hook that is a straight line."""
    hook_deg = np.array([-1e6, 1e6])
    return replace(plant, hook_deg=hook_deg, hook_nm=plant.torque_by_deg * (hook_deg - plant.advance_deg))


def test_the_idle_of_a_job_is_an_idle() -> None:
    """Signs by head: more pressure and more advance short of best give torque; the usual facts are told."""
    assert PLANT.torque_by_kpa > 0
    assert PLANT.torque_by_deg > 0
    assert (PLANT.rpm, PLANT.kpa) == (700.0, 38.0)
    assert {each.field for each in ASSUMED} == {
        "engine.inertia_kg_m2",
        "induction.manifold_litres",
        "controller.idle_delay_ms",
    }
    assert straight(PLANT).torque_by_deg == pytest.approx(PLANT.torque_by_deg)


def test_facts_of_the_job_stand_in_place_of_what_is_usual() -> None:
    job = PUMP_HOUSE.changed("engine", inertia_kg_m2=0.5).changed("controller", idle_delay_ms=80)
    plant, assumed = plant_of(job, physics_of(job), PLAN)
    assert (plant.inertia_kg_m2, plant.loop_delay_s) == (0.5, 0.08)
    assert [each.field for each in assumed] == ["induction.manifold_litres"]


def test_a_simulated_idle_without_delays_is_the_linear_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    """scipy.signal's exact solution of the two equations, from 20 rpm off."""
    monkeypatch.setattr(IdlePlant, "drawn_to_torque_s", 0.0)
    monkeypatch.setattr(IdlePlant, "pickup_delay_s", 0.0)
    plant, gain = replace(straight(PLANT), loop_delay_s=0.0), 20.0
    run = simulated(plant, IdleLoop(gain, **ENDLESS), 10.0, scatter=0.0, start_rpm=20.0)
    per_rpm = (plant.torque_by_rpm - 0.01 * gain * plant.torque_by_deg) * (30 / np.pi) / plant.inertia_kg_m2
    per_kpa = plant.torque_by_kpa * (30 / np.pi) / plant.inertia_kg_m2
    matrix = [[per_rpm, per_kpa], [-plant.filling_by_rpm, -plant.emptying_per_s]]
    system: Any = signal.StateSpace(matrix, np.zeros((2, 1)), [[1.0, 0.0]], [[0.0]])
    _, exact, _ = signal.lsim(system, np.zeros(run.time_s.size), run.time_s, X0=[20.0, 0.0])
    np.testing.assert_allclose(run.rpm - plant.rpm, exact, atol=0.15)
    assert np.abs(exact).max() == pytest.approx(20.0)


@pytest.mark.parametrize("loop", [IdleLoop(10.0), IdleLoop(0.0, 20.0), IdleLoop(20.0, 5.0)], ids=str)
def test_an_idle_hunts_just_past_its_margin_and_settles_short_of_it(loop: IdleLoop) -> None:
    """Two independent ways: the margin by frequency, and steps of a millisecond."""
    plant = straight(PLANT)
    margin = margin_of(plant, loop)
    assert margin.stable
    sizes = []
    for times in (0.85, 1.15):
        tried = IdleLoop(
            loop.gain_deg_per_100rpm * margin.gain_margin * times,
            loop.slope_deg_per_100rpm * margin.gain_margin * times,
            **ENDLESS,
        )
        assert margin_of(plant, tried).stable == (times < 1)
        run = simulated(plant, tried, 4.0, scatter=0.0, start_rpm=1.0)
        sizes.append(np.nanmax(np.abs(run.rpm[-1000:] - plant.rpm)) if np.isfinite(run.rpm[-1]) else np.inf)
    assert sizes[0] < 0.5 < 2.0 < sizes[1]


@pytest.mark.parametrize("gain", [0.0, 10.0, 20.0])
def test_how_steady_an_idle_is_follows_from_its_spectrum(gain: float) -> None:
    """Closed form against 200 s of steps, half of a tenth of scatter of the estimate allowed."""
    plant = straight(PLANT)
    run = simulated(plant, IdleLoop(gain, **ENDLESS), 200.0, seed=3)
    assert run.rpm_sigma == pytest.approx(sigma_rpm_of(plant, IdleLoop(gain)), rel=0.1)


def test_more_delay_leaves_less_margin_and_more_gain_a_steadier_idle() -> None:
    late = replace(PLANT, loop_delay_s=0.15)
    assert margin_of(late, IdleLoop(10.0)).gain_margin < margin_of(PLANT, IdleLoop(10.0)).gain_margin
    tries = [try_idle(PLANT, 6.0, IdleLoop(each)) for each in (0.0, 10.0, 20.0)]
    assert tries[0].sigma_rpm > tries[1].sigma_rpm > tries[2].sigma_rpm


def idle_drive(columns: Columns, tmp_path: Path, **asked: Any) -> DriveResult:
    return drive_of(PUMP_HOUSE, [csv_file(tmp_path / "idle.csv", columns)], asked_of(**asked))


def idling(plant: IdlePlant, loop: IdleLoop, seconds: float = 240.0) -> Columns:
    """What a logger of 20 rows a second sees of a simulated idle."""
    run = simulated(plant, loop, seconds, seed=7)
    rows = slice(None, None, 50)
    return {
        "time": run.time_s[rows],
        "rpm": run.rpm[rows].round(1),
        "map": np.full(run.time_s[rows].size, 38.0),
        "advance": run.advance_deg[rows].round(2),
    }


def of_idle(result: DriveResult) -> list[Finding]:
    return [each for each in result.findings if each.subject == "idle"]


def idle_of(result: DriveResult) -> Idle:
    assert result.idle is not None
    return result.idle


def test_a_steady_idle_is_told_with_its_reserve(tmp_path: Path) -> None:
    result = idle_drive(idling(PLANT, IdleLoop(20.0)), tmp_path)
    (found,) = of_idle(result)
    assert found.kind == "idle.steady"
    idle = idle_of(result)
    assert idle.seconds == pytest.approx(237, abs=2)
    assert idle.reserve_up_deg == pytest.approx(PLAN.idle.best_deg - PLAN.idle.set_deg, abs=0.6)
    assert "deg are left up to best" in sentence_of(found)
    assert len(result.idle_tries) == 5


def test_a_loop_of_too_much_gain_is_found_by_its_rhythm(tmp_path: Path) -> None:
    """Known truth: the simulation hunts at the frequency that the loop's margin says."""
    late = replace(PLANT, loop_delay_s=0.35)
    margin = margin_of(late, IdleLoop(10.0))
    loop = IdleLoop(10.0 * margin.gain_margin * 1.5)
    result = idle_drive(idling(late, loop), tmp_path)
    (found,) = [each for each in of_idle(result) if each.kind == "idle.hunts"]
    assert 1.0 / float(str(found.numbers["period_s"])) == pytest.approx(margin.hunts_hz, rel=0.25)
    assert found.numbers["loop"] == "timing"
    assert action_of(found) == "Its timing loop feeds it: less gain, or less delay."


def test_an_idle_that_hunts_with_its_timing_held_hangs_on_air_or_mixture(tmp_path: Path) -> None:
    columns = idling(PLANT, IdleLoop(20.0))
    swing = 40.0 * np.sin(2 * np.pi * 0.4 * columns["time"])
    held = np.full(swing.size, 12.0)
    (found,) = of_idle(idle_drive(columns | {"rpm": columns["rpm"] + swing, "advance": held}, tmp_path))
    assert (found.kind, found.numbers["loop"]) == ("idle.hunts", "air or mixture")
    assert float(str(found.numbers["period_s"])) == pytest.approx(2.5, rel=0.1)


def test_a_way_to_time_the_idle_can_be_tried(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    result = idle_drive(idling(PLANT, IdleLoop(20.0), 30.0), tmp_path, idle="15, 2, 8")
    (tried,) = result.idle_tries
    assert (tried.gain_deg_per_100rpm, tried.slope_deg_per_100rpm, tried.reserve_deg) == (15.0, 2.0, 8.0)
    with pytest.raises(Refusal, match=r'--idle = "1,2,3,4": must be GAIN, GAIN,SLOPE or GAIN,SLOPE,RESERVE'):
        asked_of(idle="1,2,3,4")
    job = str(Path(__file__).parents[2] / "examples" / "pump-house-v8.toml")
    main(["drive", job, str(tmp_path / "idle.csv"), "--idle", "15"])
    assert "Idle, simulated" in capsys.readouterr().out
