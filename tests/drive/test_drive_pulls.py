"""Accelerations on the road as pulls: a torque that is known, driven, logged, and found again."""

from __future__ import annotations

import io
import json
from html import unescape
from math import pi
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from invented_drives import EXAMPLES, PUMP_HOUSE, Columns, csv_file, map_at
from planned import plan_of
from sparkwright.cli import main
from sparkwright.drive.asked import asked_of
from sparkwright.drive.drives import drive_of
from sparkwright.drive.result import DriveResult
from sparkwright.dyno.pull_table import load_pulls
from sparkwright.errors import Refusal
from sparkwright.evidence.pulls import pulls_in, taught_by
from sparkwright.evidence.pulls_of_drives import (
    by_gear,
    kept_road_findings,
    kept_road_pulls,
    pull_findings,
    road_pulls_of,
)
from sparkwright.findings import Finding
from sparkwright.shop import open_shop
from sparkwright.words.evidence import road_words
from telling import sentence_of
from workbench import PUMP_HOUSE as PUMP_HOUSE_TEXT
from workbench import workbench

MAP = plan_of(PUMP_HOUSE).cells.spark_map
ROAD_M_TURN = 0.62
"""How far it goes in a turn of the crank in the gear that is held [m]."""
MASS_KG, DRAG_M2, ROLLING = 1500.0, 0.8, 0.014
STEP_S = 0.05


def torque_nm(rpm: float) -> float:
    """An invented engine's torque at full throttle."""
    return 260.0 - 18.0 * ((rpm - 2600.0) / 1000.0) ** 2


def acceleration(
    share: float, grade: float = 0.0, turn_m: float = ROAD_M_TURN
) -> tuple[np.ndarray, np.ndarray]:
    """Time and engine speed of one pull, by a general solver; the road's force is written out anew."""

    def rises(_: float, state: np.ndarray) -> list[float]:
        rpm = float(state[0])
        speed = rpm / 60.0 * turn_m
        force = share * torque_nm(rpm) * 2.0 * pi / turn_m
        force -= MASS_KG * 9.80665 * (ROLLING + grade) + 0.5 * 1.1457 * DRAG_M2 * speed**2
        return [force / (1.06 * MASS_KG) / turn_m * 60.0]

    def reached(_: float, state: np.ndarray) -> float:
        return float(state[0]) - 4200.0

    reached.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(rises, (0.0, 60.0), [1600.0], events=reached, max_step=0.1, dense_output=True)
    assert solved.sol is not None
    times = np.arange(0.0, solved.t[-1], STEP_S)
    return times, solved.sol(times)[0]


def drive_with(
    runs: list[tuple[float, float]], seed: int = 1, turn_m: float = ROAD_M_TURN, **road: float
) -> Columns:
    """Pulls at some offsets from the map, each with its share of torque; cruising between them."""
    rng = np.random.default_rng(seed)
    parts = []
    for off_deg, share in runs:
        _, rpm = acceleration(share, turn_m=turn_m, **road)
        full = np.r_[np.zeros(200, bool), np.ones(rpm.size, bool), np.zeros(100, bool)]
        speeds = np.r_[np.full(200, rpm[0]), rpm, np.linspace(rpm[-1], 1600.0, 100)]
        kpa = np.where(full, 84.0, 45.0) + rng.normal(0, 0.3, full.size)
        advance = map_at(MAP, speeds, kpa) + np.where(full, off_deg, 0.0)
        speed = speeds / 60.0 * turn_m * 3.6
        parts.append((speeds + rng.normal(0, 4, full.size), kpa, advance, np.where(full, 100.0, 20.0), speed))
    rpm, kpa, advance, throttle, speed = (np.concatenate(each) for each in zip(*parts, strict=True))
    return {
        "time": np.arange(rpm.size) * STEP_S,
        "rpm": rpm.round(1),
        "map": kpa.round(1),
        "advance": (advance + rng.normal(0, 0.1, rpm.size)).round(2),
        "throttle": throttle,
        "speed [km/h]": speed.round(1),
    }


def driven(tmp_path: Path, columns: Columns, **asked: str) -> DriveResult:
    return drive_of(PUMP_HOUSE, [csv_file(tmp_path / "road-pulls.csv", columns)], asked_of(**asked))  # type: ignore[arg-type]


def found(result: DriveResult) -> list[Finding]:
    return list(pull_findings(result.accelerations))


TWO_TIMINGS = [(0.0, 1.0), (-4.0, 0.97), (0.0, 1.004), (-4.0, 0.974), (0.0, 0.997), (-4.0, 0.967)]


def test_torque_over_speed_is_found_from_how_the_vehicle_speeds_up(tmp_path: Path) -> None:
    """Held against the curve that the solver drove."""
    result = driven(tmp_path, drive_with([(0.0, 1.0)]))
    (pull,) = result.accelerations
    inside = (pull.rpm > 1900) & (pull.rpm < 3900)
    wanted = np.array([torque_nm(rpm) for rpm in pull.rpm.tolist()])
    assert np.abs(pull.torque_nm / wanted - 1.0)[inside].max() < 0.04
    assert pull.gear == pytest.approx(1000.0 / 60.0 / ROAD_M_TURN, rel=0.01)
    assert {each.field for each in result.assumed} >= {"vehicle.mass_kg", "vehicle.rolling_resistance"}


def test_what_another_timing_is_worth_is_found_with_its_interval(tmp_path: Path) -> None:
    """Known truth: 3 % less torque at 4 deg less."""
    result = driven(tmp_path, drive_with(TWO_TIMINGS))
    assert [each.timing for each in result.accelerations] == ["the map", "map -4 deg"] * 3
    (told,) = found(result)
    numbers = told.numbers
    assert told.kind == "road-pulls.compared"
    assert float(str(numbers["percent"])) == pytest.approx(-3.0, abs=0.6)
    assert float(str(numbers["low_percent"])) < -3.0 < float(str(numbers["high_percent"])) < 0.0
    assert numbers["needed"] is not None
    assert sentence_of(told).startswith("Torque at map -4 deg against the map: -3")


@pytest.mark.parametrize(("grade", "wind"), [(3.0, 0.0), (0.0, 25.0)])
def test_what_is_not_known_of_the_road_moves_the_ratio_little(
    tmp_path: Path, grade: float, wind: float
) -> None:
    """Read with another road, torque moves by several percent, and the ratio by a few tenths."""
    columns = drive_with(TWO_TIMINGS)
    plain, other = driven(tmp_path, columns), driven(tmp_path, columns, road=f"{grade},{wind}")
    moved = np.mean(other.accelerations[0].torque_nm) / np.mean(plain.accelerations[0].torque_nm) - 1.0
    assert moved > 0.03
    (one,), (two,) = found(plain), found(other)
    assert float(str(two.numbers["percent"])) == pytest.approx(float(str(one.numbers["percent"])), abs=0.6)


def test_a_grade_that_is_said_is_taken_out(tmp_path: Path) -> None:
    level = driven(tmp_path, drive_with([(0.0, 1.0)])).accelerations[0]
    hill = driven(tmp_path, drive_with([(0.0, 1.0)], grade=0.02), road="2").accelerations[0]
    assert np.mean(hill.torque_nm) == pytest.approx(np.mean(level.torque_nm), rel=0.01)


def test_one_timing_alone_says_what_to_run_next(tmp_path: Path) -> None:
    (told,) = found(driven(tmp_path, drive_with([(0.0, 1.0), (0.0, 1.0)])))
    assert sentence_of(told) == "2 pulls at full throttle in one gear, all at one timing (the map)."


def test_gears_are_not_held_against_each_other(tmp_path: Path) -> None:
    low, high = drive_with([(0.0, 1.0)], turn_m=0.5), drive_with([(-3.0, 1.0)], turn_m=0.8)
    high = high | {"time": high["time"] + low["time"][-1] + STEP_S}
    both = {name: np.concatenate([low[name], high[name]]) for name in low}
    result = driven(tmp_path, both)
    assert [len(group) for group in by_gear(result.accelerations)] == [1, 1]
    assert [each.kind for each in found(result)] == ["road-pulls.one-timing"] * 2


def test_a_change_of_gear_parts_two_pulls(tmp_path: Path) -> None:
    """The throttle stays open: speed falls by 1,700 and rises in the next gear."""
    columns = drive_with([(0.0, 1.0)])
    full = np.flatnonzero(columns["throttle"] > 50)
    next_gear = drive_with([(0.0, 1.0)], seed=2, turn_m=0.85)
    after = np.flatnonzero(next_gear["throttle"] > 50)
    after = after[next_gear["rpm"][after] > 2500]
    both = {name: np.concatenate([columns[name][full], next_gear[name][after]]) for name in columns}
    both["time"] = np.arange(both["rpm"].size) * STEP_S
    assert [round(each.gear / 10) for each in driven(tmp_path, both).accelerations] == [3, 2]


def test_without_road_speed_or_at_part_throttle_there_is_no_pull(tmp_path: Path) -> None:
    columns = drive_with([(0.0, 1.0)])
    without = {name: values for name, values in columns.items() if name != "speed [km/h]"}
    assert driven(tmp_path, without).accelerations == ()
    assert driven(tmp_path, columns | {"throttle": np.full(columns["rpm"].size, 40.0)}).accelerations == ()
    slipping = columns["speed [km/h]"] * np.linspace(0.7, 1.0, columns["rpm"].size)
    assert driven(tmp_path, columns | {"speed [km/h]": slipping}).accelerations == ()


@pytest.mark.parametrize("said", ["steep", "1,2,3", "45"])
def test_a_road_that_can_not_be_is_refused(said: str) -> None:
    with pytest.raises(Refusal, match="--road"):
        asked_of(road=said)


def test_pulls_of_a_drive_are_written_as_the_dyno_reads_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = csv_file(tmp_path / "a.csv", drive_with(TWO_TIMINGS)), tmp_path / "road-pulls.csv"
    job = str(EXAMPLES / "pump-house-v8.toml")
    assert main(["drive", job, str(path), "--pulls", str(out)]) in (0, 1)
    told = capsys.readouterr().out
    assert "6 pulls for `sparkwright pulls`" in told
    assert "Torque at map -4 deg against the map" in told
    assert [each.timing for each in load_pulls(out, None, 100.0)] == ["the map", "map -4 deg"] * 3
    assert out.read_text().startswith("pull,timing,speed_rpm,torque_nm\n1,the map,")
    assert main(["pulls", str(out)]) == 0
    assert main(["drive", job, str(path), "--pulls", str(out)]) == 2, "nothing is written over"


# Kept as evidence, which is compared and teaches nothing.

KEY = "pump-house-v8"
COMPARED = "Torque at map -4 deg against the map: -3"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    with open_shop(tmp_path / "store") as shop:
        shop.jobs.create(
            (EXAMPLES / f"{KEY}.toml").read_text(encoding="utf-8"), who="A. Example", why="came in"
        )
    return tmp_path / "store"


def test_road_pulls_are_kept_only_where_the_person_says_so_and_once(
    place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = csv_file(tmp_path / "monday.csv", drive_with(TWO_TIMINGS))
    asked = ["drive", KEY, str(path), "--shop", str(place), "--who", "A. Example"]
    assert main([*asked, "--keep-pulls"]) == 2
    assert "--keep-pulls must come with --keep" in capsys.readouterr().err
    assert main([*asked, "--keep"]) in (0, 1)
    with open_shop(place) as shop:
        assert kept_road_pulls(shop.evidence.of_job(KEY)) == []
    for _ in range(2):
        assert main([*asked, "--keep", "--keep-pulls"]) in (0, 1)
        assert "; 6 pulls on the road, to be compared." in capsys.readouterr().out
    with open_shop(place) as shop:
        kept = kept_road_pulls(shop.evidence.of_job(KEY))
    assert [each.timing for each in kept] == ["the map", "map -4 deg"] * 3
    assert {each.road.drive for each in kept if each.road} == {"monday.csv"}


def test_kept_road_pulls_tell_what_the_drive_told_and_teach_nothing(
    place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Known truth: 3 % less torque at 4 deg less."""
    path = csv_file(tmp_path / "monday.csv", drive_with(TWO_TIMINGS))
    (told,) = found(driven(tmp_path, drive_with(TWO_TIMINGS)))
    main(["drive", KEY, str(path), "--shop", str(place), "--who", "A. Example", "--keep", "--keep-pulls"])
    with open_shop(place) as shop:
        records = [each for each in shop.evidence.of_job(KEY) if each.kind == "pull"]
        (again,) = kept_road_findings(records)
        assert again.file == "monday.csv"
        assert sentence_of(again.finding) == sentence_of(told)
        assert pulls_in(records) == ()
        assert taught_by(records) == ()
        for each in records:
            shop.evidence.withdraw(KEY, each.id, who="A. Example", why="a headwind")
        assert kept_road_findings(shop.evidence.of_job(KEY)) == []
        for each in records:
            shop.evidence.put_back(KEY, each.id)
    capsys.readouterr()
    main(["pulls", "--job", KEY, "--shop", str(place)])
    shown = " ".join(capsys.readouterr().out.split())
    assert "No pull was run at a brake." in shown
    assert COMPARED in shown
    main(["pulls", "--job", KEY, "--shop", str(place), "--json"])
    (as_data,) = json.loads(capsys.readouterr().out)["results"]["road"]
    assert (as_data["kind"], as_data["drive"]) == ("road-pulls.compared", "monday.csv")


def test_without_the_vehicles_mass_they_are_said_to_be_relative(tmp_path: Path) -> None:
    """The example states no mass; a usual one is taken."""
    result = driven(tmp_path, drive_with(TWO_TIMINGS))
    assert "vehicle.mass_kg" in {each.field for each in result.assumed}
    (first, *_) = road_pulls_of(result, "monday.csv")
    assert first.road is not None
    assert not first.road.mass_stated
    assert road_words(first.road) == (
        "on the road (from monday.csv); in shares of torque alone, since the vehicle's mass isn't stated"
    )
    heavy = PUMP_HOUSE.changed("vehicle", mass_kg=1500)
    stated = drive_of(heavy, [csv_file(tmp_path / "a.csv", drive_with(TWO_TIMINGS))], asked_of())
    (first, *_) = road_pulls_of(stated, "a.csv")
    assert first.road is not None
    assert road_words(first.road) == "on the road (from a.csv)"


def test_the_drives_page_and_api_keep_road_pulls_and_the_page_of_pulls_compares_them(tmp_path: Path) -> None:
    content = csv_file(tmp_path / "monday.csv", drive_with(TWO_TIMINGS)).read_bytes()
    with workbench(tmp_path / "bench") as (client, shop):
        key = shop.jobs.create(PUMP_HOUSE_TEXT, who="A. Example", why="came in").key
        shop.files.attach(key, "monday.csv", "drive", io.BytesIO(content), who="A. Example")
        (file,) = shop.files.of_job(key)
        page, api = f"/jobs/{key}/drives/{file.id}", f"/api/v1/jobs/{key}"
        assert "Keep these pulls as evidence" in client.get(page).text
        assert shop.evidence.of_job(key) == []
        client.post(f"{page}/keep-pulls", data={"who": "A. Example"})
        sent = client.post(f"{api}/drives/{file.id}/pulls", json={"who": "A. Example"})
        assert sent.status_code == 201
        assert len(sent.json()["records"]) == len(shop.evidence.of_job(key)) == 6
        shown = unescape(client.get(f"/jobs/{key}/pulls").text)
        assert f"monday.csv: {COMPARED}" in shown
        assert "in percent alone, and teach the engine nothing" in shown
        assert "since the vehicle's mass isn't stated" in shown
        told = client.get(f"{api}/road-pulls").json()
        assert len(told["records"]) == 6
        assert [each["kind"] for each in told["findings"]] == ["road-pulls.compared"]
        assert "Driven: 6 pulls on the road, held against each other; they teach nothing." in unescape(
            client.get(f"/jobs/{key}/card").text
        )


def test_a_drive_without_pulls_has_none_to_keep(tmp_path: Path) -> None:
    columns = {name: values for name, values in drive_with([(0.0, 1.0)]).items() if name != "speed [km/h]"}
    content = csv_file(tmp_path / "monday.csv", columns).read_bytes()
    with workbench(tmp_path / "bench") as (client, shop):
        key = shop.jobs.create(PUMP_HOUSE_TEXT, who="A. Example", why="came in").key
        shop.files.attach(key, "monday.csv", "drive", io.BytesIO(content), who="A. Example")
        (file,) = shop.files.of_job(key)
        sent = client.post(f"/api/v1/jobs/{key}/drives/{file.id}/pulls", json={"who": "A. Example"})
        assert sent.status_code == 422
        assert "must have a pull at full throttle, in one gear, with road speed logged" in sent.text
