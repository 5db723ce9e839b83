"""Logs of any dialect are one drive: what is read is what was written, and what was left out is told."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from invented_drives import EXAMPLES, PUMP_HOUSE, Columns, Written, short_drive
from sparkwright.cli import main
from sparkwright.drive import tally
from sparkwright.drive.asked import DriveAsked, asked_of
from sparkwright.drive.drives import drive_of
from sparkwright.drive.result import ChannelSeen, DriveResult
from sparkwright.errors import Refusal
from sparkwright.findings import Finding

JOB = str(EXAMPLES / "pump-house-v8.toml")

DIALECTS = {
    "commas": Written(),
    "semicolons": Written(mark=";"),
    "tabs": Written(mark="\t"),
    "decimal commas": Written(mark=";", decimal=","),
    "tabs, decimal commas": Written(mark="\t", decimal=","),
    "commas, quoted decimal commas": Written(decimal=","),
    "line ends of another system": Written(end="\r\n"),
    "old line ends": Written(end="\r"),
    "lines before": Written(before=("log of the 3rd", "firmware 1.2, serial 0001", "")),
    "line of units": Written(units=("s", "rpm", "kPa", "deg", "degC")),
    "lines before and units": Written(
        mark=";", before=("# rig",), units=("[s]", "[1/min]", "[kPa]", "[deg]", "[C]")
    ),
    "trailing separators": Written(trailing=True),
    "trailing semicolons and units": Written(mark=";", trailing=True, units=("s", "rpm", "kPa", "deg", "C")),
    "names again": Written(names_again_every=37),
    "UTF-8 with its mark": Written(encoding="utf-8-sig"),
    "UTF-16": Written(encoding="utf-16"),
    "UTF-16 of big machines, unmarked": Written(encoding="utf-16-be"),
    "all at once": Written(
        mark=";", decimal=",", end="\r\n", before=("rig;7",), units=("s", "rpm", "kPa", "deg", "C"),
        trailing=True, names_again_every=50, encoding="utf-16",
    ),
}  # fmt: skip


def drive(path: Path, **asked: object) -> DriveResult:
    return drive_of(PUMP_HOUSE, [path], asked_of(**asked))  # type: ignore[arg-type]


def channel(result: DriveResult, name: str) -> ChannelSeen:
    return next(each for each in result.channels if each.name == name)


def noted(result: DriveResult, kind: str) -> list[Finding]:
    return [each for each in result.read if each.kind == kind]


def write(path: Path, content: bytes | str) -> Path:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@pytest.mark.parametrize("written", DIALECTS.values(), ids=DIALECTS.keys())
def test_a_drive_is_the_same_in_every_dialect(tmp_path: Path, written: Written) -> None:
    columns = short_drive()
    plain = drive(write(tmp_path / "plain.csv", Written().bytes(columns)))
    other = drive(write(tmp_path / "other.csv", written.bytes(columns)))
    assert (other.rows, other.running_rows) == (400, int(np.sum(columns["rpm"] > 400)))
    assert [each.cells for each in other.channels] == [each.cells for each in plain.channels]
    assert [each.quantity for each in other.channels] == ["rpm", "map_kpa", "advance_deg", "coolant_c"]


def by_duckdb(path: Path, rpm: list[float], kpa: list[float], name: str) -> list[tuple[float, ...]]:
    """The same by another engine: nearest cell, the lower where midway, straight lines between neighbours."""
    nearest = "list_transform([{0}], lambda x: abs(x - {1}))"
    speeds, loads = (", ".join(map(repr, axis)) for axis in (rpm, kpa))
    at_rpm, at_kpa = nearest.format(speeds, '"rpm"'), nearest.format(loads, '"map"')
    found = duckdb.sql(
        f"""
        select [{speeds}][list_position(d, list_min(d))] r, [{loads}][list_position(e, list_min(e))] k,
            count(v), avg(v), quantile_cont(v, 0.25), quantile_cont(v, 0.5), quantile_cont(v, 0.75)
        from (select {at_rpm} d, {at_kpa} e, "{name}"::double v from read_csv('{path}') where "rpm" > 400)
        group by 1, 2 having count(v) > 0 order by k, r
        """
    )
    assert found is not None
    return [tuple(map(float, row)) for row in found.fetchall()]


@pytest.mark.parametrize("name", ["advance", "coolant", "rpm"])
def test_cells_are_those_that_another_engine_gives(tmp_path: Path, name: str) -> None:
    """DuckDB on the same file."""
    path = write(tmp_path / "drive.csv", Written().bytes(short_drive(6000)))
    result = drive(path)
    theirs = by_duckdb(path, result.rpm.tolist(), result.kpa.tolist(), name)
    ours = [(c.rpm, c.kpa, c.count, c.mean, c.q25, c.q50, c.q75) for c in channel(result, name).cells]
    assert len(ours) == len(theirs) > 150
    np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-9)
    assert channel(result, name).quantile_error == 0.0
    assert sum(each.count for each in channel(result, name).cells) == result.running_rows


def test_quantiles_past_what_is_kept_stay_within_their_stated_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DuckDB on the same file; counts and means stay exact."""
    monkeypatch.setattr(tally, "MOST_KEPT", 1000)
    monkeypatch.setattr("sparkwright.drive.text.PIECE_BYTES", 20_000)
    path = write(tmp_path / "drive.csv", Written().bytes(short_drive(6000)))
    result = drive(path)
    seen = channel(result, "advance")
    theirs = by_duckdb(path, result.rpm.tolist(), result.kpa.tolist(), "advance")
    assert 0 < seen.quantile_error < 0.05
    np.testing.assert_allclose(
        [(c.count, c.mean) for c in seen.cells], [row[2:4] for row in theirs], rtol=1e-12
    )
    gaps = [
        abs(ours - their)
        for c, row in zip(seen.cells, theirs, strict=True)
        for ours, their in zip((c.q25, c.q50, c.q75), row[4:], strict=True)
    ]
    assert max(gaps) <= seen.quantile_error


def test_rows_beyond_the_axes_count_in_the_cell_at_the_edge_and_are_told_apart(tmp_path: Path) -> None:
    columns: Columns = {
        "time": np.arange(3.0),
        "rpm": np.array([7000.0, 2250.0, 390.0]),
        "map": np.full(3, 120.0),
    }
    result = drive(write(tmp_path / "drive.csv", Written().bytes(columns)))
    assert [(each.rpm, each.kpa, each.count) for each in result.beyond] == [
        (2250.0, 85.0, 1),
        (5000.0, 85.0, 1),
    ]
    assert sum(each.count for each in channel(result, "rpm").cells) == 2
    assert result.running_rows == 2


def test_what_runs_is_what_the_person_says(tmp_path: Path) -> None:
    path = write(tmp_path / "drive.csv", Written().bytes(short_drive()))
    assert drive(path, running="1000 rpm").running_rows < drive(path).running_rows
    assert drive(path, running="0").running_rows == 400


def test_the_command_prints_cells_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "drive.csv", Written().bytes(short_drive()))
    main(["drive", JOB, str(path), "--json"])
    results = json.loads(capsys.readouterr().out)["results"]
    assert results["rows"] == 400
    assert {each["name"] for each in results["channels"]} == {"rpm", "map", "advance", "coolant"}
    assert set(results["channels"][0]["cells"][0]) == {"rpm", "kpa", "count", "mean", "q25", "q50", "q75"}


TIMES = {
    "seconds": ("time", lambda t: f"{t:.3f}"),
    "seconds of the epoch": ("time", lambda t: f"{1.8e9 + t:.3f}"),
    "milliseconds, said": ("time (ms)", lambda t: f"{1000 * t:.0f}"),
    "milliseconds, unsaid": ("time", lambda t: f"{1000 * t:.0f}"),
    "minutes": ("time [min]", lambda t: f"{t / 60:.9f}"),
    "clock": ("time", lambda t: f"13:{int(t // 60):02d}:{t % 60:06.3f}"),
    "clock without hours": ("time", lambda t: f"{int(t // 60):02d}:{t % 60:06.3f}"),
    "clock with a comma": ("time", lambda t: f'"13:{int(t // 60):02d}:{t % 60:06.3f}"'.replace(".", ",")),
    "date and clock": ("timestamp", lambda t: f"2026-05-02 23:{int(t // 60):02d}:{t % 60:06.3f}"),
    "date and clock of ISO 8601": (
        "timestamp",
        lambda t: f"2026-05-02T23:{int(t // 60):02d}:{t % 60:06.3f}Z",
    ),
    "day first": ("date", lambda t: f"02.05.2026 23:{int(t // 60):02d}:{t % 60:06.3f}"),
}


@pytest.mark.parametrize(("name", "form"), TIMES.values(), ids=TIMES.keys())
def test_time_is_read_in_every_form(tmp_path: Path, name: str, form: object) -> None:
    assert callable(form)
    lines = [f"{name},rpm,map"] + [f"{form(0.1 * k)},{800 + k % 7},{35 + k % 3}" for k in range(900)]
    result = drive(write(tmp_path / "drive.csv", "\n".join(lines) + "\n"))
    (file,) = result.files
    assert file.rows == 900
    assert file.seconds == pytest.approx(89.9, abs=2e-3)
    assert file.step_s == pytest.approx(0.1, abs=1e-3)


def timed(times: Iterable[float]) -> str:
    return "time,rpm,map\n" + "".join(f"{each:.3f},{900 + k % 5},40\n" for k, each in enumerate(times))


def test_a_counter_that_turns_over_runs_on(tmp_path: Path) -> None:
    """16 bits of milliseconds begin again after 65.536 s."""
    times = np.arange(0, 200, 0.1) % 65.536
    result = drive(write(tmp_path / "drive.csv", timed(times)))
    assert result.files[0].seconds == pytest.approx(199.9, abs=0.05)
    assert noted(result, "log.clock-turned-over")[0].numbers["count"] == 3


def test_a_clock_that_passes_midnight_runs_on(tmp_path: Path) -> None:
    lines = ["time,rpm,map"]
    lines += [
        f"{(86395 + k) % 86400 // 3600:02d}:{(86395 + k) % 3600 // 60:02d}:{(86395 + k) % 60:02d},900,40"
        for k in range(20)
    ]
    result = drive(write(tmp_path / "drive.csv", "\n".join(lines)))
    assert result.files[0].seconds == pytest.approx(19.0)


def test_a_time_that_jumps_back_goes_on_by_one_step_and_is_told(tmp_path: Path) -> None:
    times = [0.0, 0.1, 0.2, 0.3, 0.1, 0.2, 0.3, 0.4]
    result = drive(write(tmp_path / "drive.csv", timed(times)))
    assert result.files[0].seconds == pytest.approx(0.7)
    assert noted(result, "log.clock-jumped-back")[0].numbers["count"] == 1


def test_a_pause_is_told_with_its_length(tmp_path: Path) -> None:
    result = drive(write(tmp_path / "drive.csv", timed([*np.arange(0, 5, 0.1), *np.arange(65, 70, 0.1)])))
    (gap,) = noted(result, "log.gaps")
    assert gap.numbers["seconds"] == pytest.approx(60.1, abs=0.01)


def test_a_file_that_is_cut_off_gives_all_it_has_and_says_where_it_ends(tmp_path: Path) -> None:
    whole = Written().bytes(short_drive(100))
    torn = whole[: whole.rfind(b",", 0, -30)]
    result = drive(write(tmp_path / "drive.csv", torn))
    assert result.rows == torn.count(b"\n") - 1
    (note,) = noted(result, "log.cut-off")
    assert note.numbers["line"] == torn.count(b"\n") + 1
    assert result.files[0].cut_off


def test_zeros_after_a_loss_of_power_end_the_file(tmp_path: Path) -> None:
    whole = Written().bytes(short_drive(100))
    result = drive(write(tmp_path / "drive.csv", whole + b"\0" * 5000))
    assert result.rows == 100
    assert noted(result, "log.cut-off")[0].numbers["zeros"] is True


def test_values_are_turned_into_the_units_inside_and_counted(tmp_path: Path) -> None:
    """By hand: 10 psi are 68.95 kPa, 194 degF are 90 degC, an air-fuel ratio of 14.7 is lambda 1."""
    text = "time,rpm,map (psi),coolant degF,AFR\n" + "".join(
        f"{k / 10},2000,10,194,14.7\n" for k in range(20)
    )
    result = drive(write(tmp_path / "drive.csv", text))
    means = {each.name: each.cells[0].mean for each in result.channels}
    assert means["map (psi)"] == pytest.approx(68.9476, abs=1e-3)
    assert means["coolant degF"] == pytest.approx(90.0)
    assert means["AFR"] == pytest.approx(1.0)
    assert {each.numbers["count"] for each in noted(result, "log.converted")} == {20}


def test_a_unit_that_is_not_said_is_guessed_and_told(tmp_path: Path) -> None:
    text = "time,rpm,map\n" + "".join(f"{k / 10},2000,{0.4 + k / 100}\n" for k in range(20))
    result = drive(write(tmp_path / "drive.csv", text))
    assert channel(result, "map").cells[0].kpa == pytest.approx(44.0, abs=5)
    (guess,) = noted(result, "log.guessed")
    assert (guess.numbers["column"], guess.numbers["unit"]) == ("map", "bar")


def test_cells_that_are_no_numbers_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = [
        "0.0,900,40,10",
        "0.1,901,40,fault",
        "0.2,x,40,11",
        "0.3,902,,12",
        "no row at all",
        "",
        "0.4,903,41,13 deg",
    ]
    result = drive(write(tmp_path / "drive.csv", "time,rpm,map,advance\n" + "\n".join(rows) + "\n"))
    assert result.rows == 5
    counts = {each.numbers["column"]: each.numbers["count"] for each in noted(result, "log.unreadable")}
    assert counts == {"rpm": 1, "advance": 1}
    assert noted(result, "log.no-rows")[0].numbers["count"] == 1
    assert sum(each.count for each in channel(result, "advance").cells) == 2


def test_blank_and_frozen_channels_are_told(tmp_path: Path) -> None:
    text = "time,rpm,map,oil,fuel\n" + "".join(f"{k / 10},{900 + k},40.{k % 5},,55\n" for k in range(20))
    result = drive(write(tmp_path / "drive.csv", text))
    assert [each.numbers["column"] for each in noted(result, "log.blank")] == ["oil"]
    assert [each.numbers["column"] for each in noted(result, "log.frozen")] == ["fuel"]


def test_what_no_sensor_reads_is_left_out(tmp_path: Path) -> None:
    text = "time,rpm,map\n" + "".join(f"{k / 10},{65535 if k == 7 else 900},40\n" for k in range(20))
    result = drive(write(tmp_path / "drive.csv", text))
    assert result.running_rows == 19
    assert noted(result, "log.beyond-sense")[0].numbers["count"] == 1


def test_a_person_names_the_columns_where_their_names_say_nothing(tmp_path: Path) -> None:
    text = "a,b,c\n" + "".join(f"{k / 10},{900 + k},40\n" for k in range(20))
    path = write(tmp_path / "drive.csv", text)
    with pytest.raises(
        Refusal, match=r"must have a column of engine speed and manifold pressure; name it with"
    ):
        drive(path)
    assert drive(path, channels=["rpm=b", "map_kpa=c", "time_s=a"]).running_rows == 20


def test_what_was_said_of_a_logger_is_remembered_for_its_next_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "a,b,c\n" + "".join(f"{k / 10},{900 + k},0.4\n" for k in range(20))
    path, store = write(tmp_path / "drive.csv", text), ["--shop", str(tmp_path / "shop")]
    said = ["--channel", "rpm=b", "--channel", "map_kpa=c", "--unit", "c=bar"]
    assert main(["drive", JOB, str(path), *said, "--remember", *store]) == 0
    assert main(["drive", JOB, str(path), "--json", *store]) == 0
    results = json.loads(capsys.readouterr().out.partition("{\n")[2].join(("{\n", "")))["results"]
    assert {each["name"]: each["why"] for each in results["channels"]}["b"] == ["remembered"]
    assert results["channels"][1]["cells"][0]["kpa"] == 39.0


def test_derived_channels_are_made_by_name(tmp_path: Path) -> None:
    text = "time,rpm,map,one,two\n" + "".join(f"{k / 10},2000,40,{10 + k},{5}\n" for k in range(20))
    made = ["less=difference:one,two", "over=ratio:one,two", "grows=rate:one", "lags=slip:one,two"]
    result = drive(write(tmp_path / "drive.csv", text), derive=made)
    means = {each.name: each.cells[0].mean for each in result.channels}
    one = np.arange(10.0, 30.0)
    assert means["less"] == pytest.approx(np.mean(one - 5))
    assert means["over"] == pytest.approx(np.mean(one / 5))
    assert means["grows"] == pytest.approx(10.0)
    assert means["lags"] == pytest.approx(np.mean(100 * (one - 5) / one))


def test_a_logger_that_asks_one_channel_after_another_has_its_place_held(tmp_path: Path) -> None:
    """J1979: a row a second or less, one value in each, the first ones stale at speed nought."""
    rows = ["time,engine rpm,intake manifold absolute pressure,timing advance"]
    rows += ["0.0,0,,", "0.3,,101,", "0.6,,,0"]
    for k in range(30):
        at = 1 + k
        rows += [f"{at:.1f},{1650},,", f"{at + 0.3:.1f},,44,", f"{at + 0.6:.1f},,,{20 + k % 2}"]
    result = drive(write(tmp_path / "drive.csv", "\n".join(rows) + "\n"))
    (cell,) = [each for each in channel(result, "timing advance").cells if each.count > 1]
    assert (cell.rpm, cell.kpa, cell.count) == (1650.0, 44.0, 30)
    assert cell.mean == pytest.approx(20.5)
    assert noted(result, "log.carried")


def test_bytes_of_j1979_are_decoded(tmp_path: Path) -> None:
    """By SAE J1979's scalings: 1A F8 is 6904/4 rpm, 26 is 38 kPa, 94 is 148/2 - 64 deg, 7B is 83 degC."""
    one = "".join(
        f"{k:.1f},41 0C 1A F8\n{k + 0.2:.1f},7E8 03 41 0B 26\n{k + 0.4:.1f},410E94\n{k + 0.6:.1f},41 05 7B\n"
        for k in range(20)
    )
    result = drive(write(tmp_path / "replies.csv", "time,reply\n" + one))
    means = {each.quantity: each.cells[0].mean for each in result.channels}
    assert means == {"rpm": 1726.0, "map_kpa": 38.0, "advance_deg": 10.0, "coolant_c": 83.0}
    wide = "time,010C,010B,010E,0105\n" + "".join(f"{k / 2:.1f},1AF8,26,94,7B\n" for k in range(20))
    result = drive(write(tmp_path / "wide.csv", wide))
    assert {each.quantity: each.cells[0].mean for each in result.channels} == means


def test_a_drive_in_parquet_is_the_same(tmp_path: Path) -> None:
    columns = short_drive()
    pl.DataFrame(columns).write_parquet(tmp_path / "drive.parquet")
    plain = drive(write(tmp_path / "plain.csv", Written().bytes(columns)))
    assert [each.cells for each in drive(tmp_path / "drive.parquet").channels] == [
        each.cells for each in plain.channels
    ]


def test_a_drive_in_mdf_is_the_same_written_by_another_library(tmp_path: Path) -> None:
    """asammdf writes the file; channels of two rates stand at their own times."""
    from asammdf import MDF, Signal

    columns = short_drive()
    file = MDF(version="4.10")
    units = {"rpm": "rpm", "map": "kPa", "advance": "deg"}
    file.append(
        [Signal(columns[name], columns["time"], name=name, unit=unit) for name, unit in units.items()]
    )
    file.append([Signal(columns["coolant"][::5], columns["time"][::5], name="coolant", unit="degC")])
    file.save(tmp_path / "drive.mf4")
    file.close()
    result = drive(tmp_path / "drive.mf4")
    plain = drive(write(tmp_path / "plain.csv", Written().bytes(columns)))
    assert (result.rows, result.running_rows) == (plain.rows, plain.running_rows)
    for name in units:
        assert channel(result, name).cells == channel(plain, name).cells
    running = columns["rpm"][::5] > 400
    assert sum(each.count for each in channel(result, "coolant").cells) == int(running.sum())


def test_two_files_are_one_drive(tmp_path: Path) -> None:
    columns = short_drive()
    halves = [
        {name: values[part] for name, values in columns.items()} for part in (slice(200), slice(200, 400))
    ]
    paths = [write(tmp_path / f"{k}.csv", Written().bytes(half)) for k, half in enumerate(halves)]
    both = drive_of(PUMP_HOUSE, paths, DriveAsked())
    whole = drive(write(tmp_path / "whole.csv", Written().bytes(columns)))
    for one, other in zip(both.channels, whole.channels, strict=True):
        assert [each.count for each in one.cells] == [each.count for each in other.cells]


def test_reading_tells_how_far_it_is_and_can_be_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sparkwright.drive.text.PIECE_BYTES", 2000)
    path = write(tmp_path / "drive.csv", Written().bytes(short_drive()))
    shares: list[float] = []
    drive_of(PUMP_HOUSE, [path], progress=shares.append)
    assert len(shares) > 3
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drive_of(PUMP_HOUSE, [path], progress=stop)
