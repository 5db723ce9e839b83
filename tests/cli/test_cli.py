"""The command line: what it prints, what it writes, and its exit codes."""

import json
import re
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest

from invented_results import with_other_cells
from sparkwright import __version__, cli
from sparkwright.cli.terminal import map_blocks
from sparkwright.job import Job, job_schema, starter_text
from sparkwright.plan.exchange import load_map, write_map
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.sheets.record import plain

ROOT = Path(__file__).parents[2]
BENCH = (Path(__file__).parents[1] / "data" / "bench.toml").read_text(encoding="utf-8")
SMALL_AXES = "\n[controller]\nrpm = [800, 2000, 3500]\nkpa = [40, 70, 95]\n"
COMMANDS = sorted(cli.commands.commands)
ENVELOPE = ["schema", "version", "job", "results", "assumed", "warnings"]


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    """A small job whose rotor reaches far enough, so that nothing is wrong with its plan."""
    path = tmp_path / "bench.toml"
    phased = BENCH.replace("base_deg = 10\n", 'base_deg = 10\nrotor_phase_deg = 10\ntip_width = "11 mm"\n')
    path.write_text(phased + SMALL_AXES, encoding="utf-8")
    return path


@pytest.fixture
def short_job_file(tmp_path: Path) -> Path:
    """The same with an unphased rotor of an ordinary tip, which runs out."""
    path = tmp_path / "short.toml"
    path.write_text(BENCH + SMALL_AXES, encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main([str(each) for each in arguments])
    out, err = capsys.readouterr()
    return code, out, err


def files_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


# Starting


def test_help_answers_at_once() -> None:
    """Under half a second, as promised to the person; the quickest of three, for the machine may be busy."""
    spent = []
    for _ in range(3):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "sparkwright.cli", "--help"], capture_output=True, text=True, check=True
        )
        spent.append(time.perf_counter() - start)
        assert "Plan and prove the ignition timing" in done.stdout
    assert min(spent) < 0.5


def test_help_loads_nothing_heavy() -> None:
    code = "import sys, sparkwright.cli; sparkwright.cli.main(['--help']); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "numba", "pydantic", "rich", "typst"} & set(done.stdout.split())


def test_help_lists_every_command_in_the_order_of_the_work_and_cuts_none(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert cli.main(["--help"]) == cli.GOOD
    said = capsys.readouterr().out.partition("Ask and plan:")[2]
    listed = re.findall(r"^  ([a-z]+) {2,}\S", said, re.MULTILINE)
    assert sorted(listed) == COMMANDS
    work = ["new", "check", "plan", "settings", "start", "light", "card", "learn"]
    assert [name for name in listed if name in work] == work
    assert "..." not in said


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys)
    assert code == 0
    assert all(name in out for name in COMMANDS)


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "--version") == (0, f"sparkwright {__version__}\n", "")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_explained(name: str) -> None:
    command = cli.commands.commands[name]
    assert command.help
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, f"{name} {option.name}"
    described = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert f"sparkwright {name}" in described
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.opts[0] in described


# new and schema


def test_new_writes_a_starter_that_loads(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    code, out, err = run(capsys, "new", path)
    assert (code, err) == (0, "")
    assert str(path) in out
    assert path.read_text(encoding="utf-8") == starter_text()
    assert Job.load(path).engine.cylinders == 8


def test_new_writes_over_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("precious", encoding="utf-8")
    code, out, err = run(capsys, "new", path)
    assert (code, out) == (2, "")
    assert err == f"{path}: is there already and was left as it is; choose another name\n"
    assert path.read_text(encoding="utf-8") == "precious"


def test_schema_prints_the_schema(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "schema")
    assert code == 0
    assert json.loads(out) == json.loads(json.dumps(job_schema()))


# What can't be used


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["foo"], "No such command 'foo'; `sparkwright --help` says how"),
        (["--foo"], "No such option '--foo'; `sparkwright --help` says how"),
        (["plan"], "JOB must be given; `sparkwright plan --help` says how"),
        (["point", "JOB", "--kpa", "90"], "--rpm must be given; `sparkwright point --help` says how"),
        (
            ["point", "JOB", "--rpm", "fast", "--kpa", "90"],
            '--rpm = "fast": must be a number of rpm',
        ),
        (["point", "JOB", "--rpm", "nan", "--kpa", "90"], '--rpm = "nan": must be a number of rpm'),
        (["point", "JOB", "--rpm", "-3", "--kpa", "90"], "--rpm = -3: must be 100 to 12000"),
        (["point", "JOB", "--rpm", "3000", "--kpa", "9000"], "--kpa = 9000: must be 10 to 400"),
        (["export", "JOB", "--as", "xml"], '--as = "xml": must be one of csv, tsv, json'),
        (["card", "JOB", "--paper", "a5"], '--paper = "a5": must be "a4" or "letter"'),
        (["compare", "JOB", "none.csv"], "map = none.csv: is not there; check the name"),
        (
            ["check", "none.toml"],
            "none.toml: is not there; check the name, or start one with `sparkwright new none.toml`",
        ),
    ],
)
def test_what_can_not_be_used_gets_one_sentence(
    job_file: Path, arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files_in(job_file.parent)
    given = [str(job_file) if each == "JOB" else each for each in arguments]
    assert run(capsys, *given) == (2, "", f"{sentence}\n")
    assert files_in(job_file.parent) == before


@pytest.mark.parametrize(
    "name", [name for name in COMMANDS if name not in ("fleet", "new", "schema", "serve", "shop", "pulls")]
)
def test_every_problem_of_a_job_file_is_told(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(BENCH.replace('"3.921 in"', "3.921").replace("ron = 95", "ron = -1"), encoding="utf-8")
    more = {
        "point": ["--rpm", "3000", "--kpa", "90"],
        "compare": ["map.csv"],
        "mine": ["map.csv"],
        "dyno": ["sweeps.csv"],
        "drive": ["monday.csv"],
        "learn": ["sweeps.csv"],
        "deadcentre": ["--stop", "27 before", "--stop", "31 after"],
        "tape": ["--diameter", "6 in"],
        "ring": ["--diameter", "9 in", "--hole", "1 in"],
        "sheets": ["--to", str(tmp_path / "day")],
    }.get(name, [])
    assert run(capsys, name, path, *more) == (
        2,
        "",
        'engine.bore = 3.921: must have a unit, in quotes; write for example "95.25 mm" or "3.75 in"\n'
        "fuel.ron = -1: must be 40 to 130; outside this lies no fuel for spark-ignition engines\n",
    )
    assert files_in(tmp_path) == {"bad.toml"}


def test_a_folder_that_can_not_be_written(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = job_file.parent / "missing" / "map.csv"
    code, out, err = run(capsys, "export", job_file, "--to", target)
    assert (code, out) == (2, "")
    assert err == f"{target}: its folder is not there; make it first\n"


def test_a_file_in_the_way_of_the_pictures(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "plan", job_file, "--pictures", job_file)
    assert (code, out) == (2, "")
    assert err == f"--pictures = {job_file}: must be a folder; a file of that name is in the way\n"


# Results


def test_a_plan_that_fits_is_good(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "plan", job_file)
    assert (code, err) == (0, "")
    assert "Bench engine" in out
    assert "Assumed" in out


def test_a_rotor_that_runs_out_must_be_seen(short_job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "plan", short_job_file)
    assert code == 1
    assert "The rotor runs out at" in out


def printed(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> dict[str, Any]:
    _, out, err = run(capsys, *arguments, "--json")
    assert err == ""
    found: dict[str, Any] = json.loads(out)
    assert list(found) == ENVELOPE
    number = 2 if arguments[0] in ("plan", "compare", "card") else 1
    assert found["schema"] == f"urn:sparkwright:{arguments[0]}:{number}"
    assert found["version"] == __version__
    return found


def test_json_of_a_plan_is_the_plan(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(capsys, "plan", job_file)
    job = Job.load(job_file)
    result = plan(job)
    assert found["job"]["fingerprint"] == job.fingerprint
    assert Job.model_validate(found["job"]["facts"]) == job
    assert found["results"]["spark_map"]["advance_deg"] == result.cells.spark_map.advance_deg.tolist()
    assert found["results"]["held_by"] == [list(row) for row in result.cells.held_by]
    assert [each["field"] for each in found["assumed"]] == [each.field for each in result.assumed]


@pytest.mark.parametrize(
    ("arguments", "keys"),
    [
        (["check"], {"state", "headline", "verdicts", "rotor", "dwell", "wiring", "problems"}),
        (["point", "--rpm", "3000", "--kpa", "90"], {"best_deg", "torque_nm", "knock_limit_deg"}),
        (["plan"], {"spark_map", "held_by", "ceilings", "sigma_deg", "idle", "problems"}),
    ],
)
def test_json_holds_what_the_documentation_names(
    job_file: Path, arguments: list[str], keys: set[str], capsys: pytest.CaptureFixture[str]
) -> None:
    found = printed(capsys, arguments[0], job_file, *arguments[1:])
    assert keys <= set(found["results"])
    assert found["assumed"]
    described = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    for key in found["results"]:
        assert f"`{key}`" in described, f"docs/json.md leaves out {key}"


def test_json_of_a_comparison_is_documented(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = job_file.parent / "map.csv"
    target.write_text("kPa by rpm,800,3000\n40,20,30\n90,10,25\n", encoding="utf-8")
    found = printed(capsys, "compare", job_file, target)
    described = (ROOT / "docs" / "json.md").read_text(encoding="utf-8").split("## `compare`")[1]
    for key in found["results"]:
        assert f"`{key}`" in described, f"docs/json.md leaves out {key}"


def test_a_person_and_json_see_the_same_check(
    short_job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = printed(capsys, "check", short_job_file)
    code, out, _ = run(capsys, "check", short_job_file)
    flat = " ".join(out.split())
    assert code == 1
    assert found["results"]["headline"] in flat
    for verdict in found["results"]["verdicts"]:
        assert verdict["sentence"] in flat
    for item in found["results"]["wiring"]:
        assert item["what"].split()[0] in flat


def test_point_shows_the_plans_own_value_in_a_row_among_every_fourth_degree(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The value is the cell's, which the map prints; between two degrees its torque is that of neither."""
    cell = printed(capsys, "plan", job_file)["results"]
    found = printed(capsys, "point", job_file, "--rpm", "2000", "--kpa", "70")["results"]
    assert found["plan_deg"] == cell["spark_map"]["advance_deg"][1][1]
    _, out, _ = run(capsys, "point", job_file, "--rpm", "2000", "--kpa", "70")
    table = out[out.index("Hook; angles") : out.index("Knock starts where")]
    advances = [float(found[1]) for found in re.finditer(r"^(?:plan)? *(-?\d+\.\d) ", table, re.MULTILINE)]
    assert sorted({*range(-4, 64, 4), found["plan_deg"]}) == advances
    assert re.search(rf"^plan +{found['plan_deg']:.1f} ", table, re.MULTILINE)


def test_a_second_hook_in_a_folder_takes_no_persons_file(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = job_file.parent / "hooks"
    folder.mkdir()
    (folder / "hook-3000-90.csv").write_text("mine", encoding="utf-8")
    command = ("point", job_file, "--rpm", "3000", "--kpa", "90", "--pictures", folder)
    code, out, _ = run(capsys, *command)
    assert code == 0
    assert f"{folder / 'hook-3000-90-2.svg'} is written" in out
    assert (folder / "hook-3000-90.csv").read_text(encoding="utf-8") == "mine"
    kinds = ("csv", "png", "svg")
    assert files_in(folder) == {"hook-3000-90.csv", *(f"hook-3000-90-2.{kind}" for kind in kinds)}
    assert run(capsys, *command, "--replace")[0] == 0
    assert (folder / "hook-3000-90.csv").read_text(encoding="utf-8") != "mine"


def test_point_as_json_has_every_advance(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed(capsys, "point", job_file, "--rpm", "3000", "--kpa", "90")
    code, out, _ = run(capsys, "point", job_file, "--rpm", "3000", "--kpa", "90")
    assert code == 0
    assert f"best is {found['results']['best_deg']:.1f} deg" in out
    assert found["results"]["advance_deg"] == [float(each) for each in range(-4, 61)]


def test_unknown_is_null_and_never_zero() -> None:
    assert plain({"a": np.array([1.0, np.nan]), "b": None}) == {"a": [1.0, None], "b": None}


def test_knocking_at_any_advance_is_not_the_same_as_no_knock() -> None:
    assert plain({"knocks": float("-inf"), "no limit": float("nan")}) == {"knocks": "-inf", "no limit": None}


def test_a_card_writes_both_files_or_none(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = job_file.parent / "part.pdf"
    nowhere = job_file.parent / "nowhere" / "card.html"
    code, _, told = run(capsys, "card", job_file, "--pdf", pdf, "--html", nowhere)
    assert code == 2
    assert told == f"{nowhere}: its folder is not there; make it first\n"
    assert not pdf.exists()


def test_a_card_as_json_holds_what_plan_and_check_print(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "card", job_file, "--json")
    printed = json.loads(out)
    for command in ("plan", "check"):
        alone = json.loads(run(capsys, command, job_file, "--json")[1])["results"]
        # Inside a card, each also keeps its own name, assumptions and warnings.
        assert {key: printed["results"][command][key] for key in alone} == alone
    assert all(Path(path).exists() for path in printed["results"]["files"])


def test_a_card_never_writes_over_its_job(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = job_file.read_bytes()
    code, _, told = run(capsys, "card", job_file, "--pdf", job_file, "--replace")
    assert code == 2
    assert "must be two files, and neither the job itself" in told
    assert job_file.read_bytes() == before


# Maps out and in


@pytest.mark.parametrize("form", ["csv", "tsv", "json"])
def test_an_exported_map_stands_over_nothing(
    job_file: Path, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    target = job_file.parent / f"map.{form}"
    assert run(capsys, "export", job_file, "--as", form, "--to", target)[0] == 0
    assert np.array_equal(load_map(target).advance_deg, plan(Job.load(job_file)).cells.spark_map.advance_deg)
    code, out, _ = run(capsys, "compare", job_file, target)
    assert code == 0
    assert "No cell stands over a ceiling" in out


@pytest.mark.parametrize("command", ["compare", "mine"])
@pytest.mark.parametrize(("speeds", "plans"), [("800,2000,3500", 1), ("800,2000,3400", 2)])
def test_a_map_on_the_axes_of_its_job_is_judged_by_the_one_plan_of_it(
    command: str,
    speeds: str,
    plans: int,
    job_file: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    planned: list[Job] = []

    def counting(job: Job, **how: Any) -> PlanResult:
        planned.append(job)
        return plan(job, **how)

    monkeypatch.setattr("sparkwright.plan.planner.plan", counting)
    target = job_file.parent / "map.csv"
    target.write_text(f"kPa by rpm,{speeds}\n40,10,20,24\n70,8,16,20\n95,4,10,14\n", encoding="utf-8")
    assert run(capsys, command, job_file, target)[0] == 0
    assert len(planned) == plans


def test_export_prints_the_map_alone(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "export", job_file)
    assert code == 0
    assert out == write_map(plan(Job.load(job_file)).cells.spark_map, "csv")


def test_export_gives_the_map_of_the_settings_sheet_where_that_is_asked(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "export", job_file, "--to-type")
    assert code == 0
    job = Job.load(job_file)
    block = idle_block(job, plan(job))
    assert out == write_map(block.spark_map, "csv")
    assert out != write_map(plan(job).cells.spark_map, "csv")


@pytest.mark.parametrize("told", [(), ("--replace",)])
def test_nothing_is_written_through_a_link_to_nothing(
    job_file: Path, capsys: pytest.CaptureFixture[str], told: tuple[str, ...]
) -> None:
    target, elsewhere = job_file.parent / "map.csv", job_file.parent / "elsewhere.csv"
    target.symlink_to(elsewhere)
    code, out, err = run(capsys, "export", job_file, "--to", target, *told)
    assert (code, out) == (2, "")
    assert err == f"{target}: is a link to nothing; name the file itself, or remove the link\n"
    assert not elsewhere.exists()


def test_a_name_of_a_file_does_not_act_on_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a\x1b[2Jb\x07.toml"
    _, out, _ = run(capsys, "new", path)
    assert "a\\x1b[2Jb\\x07.toml is written. " in out
    _, _, err = run(capsys, "new", path)
    assert "a\\x1b[2Jb\\x07.toml: is there already" in err
    assert not {"\x1b", "\x07"} & set(out + err)


def test_export_writes_over_a_file_only_when_told(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = job_file.parent / "map.csv"
    target.write_text("precious", encoding="utf-8")
    code, out, err = run(capsys, "export", job_file, "--to", target)
    assert (code, out) == (2, "")
    assert err == f"{target}: is there already and was left as it is; choose another name or add --replace\n"
    assert target.read_text(encoding="utf-8") == "precious"
    assert run(capsys, "export", job_file, "--to", target, "--replace")[0] == 0
    assert target.read_text(encoding="utf-8").startswith("kPa by rpm")


def test_a_map_over_a_ceiling_must_be_seen(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spark_map = plan(Job.load(job_file)).cells.spark_map
    raised = spark_map.advance_deg.copy()
    raised[2, 0] += 30.0
    target = job_file.parent / "map.csv"
    target.write_text(write_map(SparkMap(spark_map.rpm, spark_map.kpa, raised), "csv"), encoding="utf-8")
    code, out, _ = run(capsys, "compare", job_file, target)
    assert code == 1
    assert "knock" in out
    found = printed(capsys, "compare", job_file, target)
    worst = next(cell for cell in found["results"]["over"] if cell["ceiling"] == "knock")
    assert (worst["rpm"], worst["kpa"], worst["advance_deg"]) == (800.0, 95.0, raised[2, 0])


# Pictures and the card


def test_pictures_are_drawn_whole_or_not_at_all(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = job_file.parent / "pictures"
    assert run(capsys, "check", job_file, "--pictures", folder)[0] in (0, 1)
    kinds = ("csv", "png", "svg")
    assert files_in(folder) == {f"{name}.{kind}" for name in ("cap", "dwell") for kind in kinds}
    (folder / "dwell.svg").unlink()
    code, out, err = run(capsys, "check", job_file, "--pictures", folder)
    assert (code, out) == (2, "")
    assert "is there already" in err
    assert "dwell.svg" not in files_in(folder)


def test_a_card_of_a_file_says_what_was_measured_in_files_beside_it(
    job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sweeps = tmp_path / "brake.csv"
    sweeps.write_text("speed_rpm,map_kpa,advance_deg,torque_nm\n3000,80,16,300\n3000,80,28,330\n")
    assert run(capsys, "card", job_file, "--sweeps", sweeps)[0] in (0, 1)
    page = job_file.with_suffix(".html").read_text(encoding="utf-8")
    assert "Set aside, and no part of this: sweep brake.csv 1." in page, "two advances place no top"
    assert "Foretold: the map of this card, planned from the stated facts" in page


def test_a_card_holds_each_sweep_of_a_file_against_what_was_foretold(
    job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sweep is a parabola about 26 deg, which loses 1 % at 7 deg (common practice, no source)."""
    lines = ["speed_rpm,map_kpa,advance_deg,torque_nm,knock"]
    lines += [
        f"3000,80,{at},{300 * (1 - 0.01 * ((at - 26) / 7) ** 2):.2f},{'trace' if at > 33 else 'none'}"
        for at in range(16, 37, 4)
    ]
    sweeps = tmp_path / "brake.csv"
    sweeps.write_text("\n".join(lines))
    answer = printed(capsys, "card", job_file, "--sweeps", sweeps)["results"]["measured"]
    (place,) = answer["places"]
    assert place["best_deg"] == pytest.approx(26.0, abs=1.0), "the fit's hook leans, a parabola doesn't"
    assert abs(place["taught_deg"] - 26.0) < abs(place["untaught_deg"] - 26.0)
    page = job_file.with_suffix(".html").read_text(encoding="utf-8")
    shown = f"{place['best_deg']:.1f} ({place['best_low_deg']:.1f} to {place['best_high_deg']:.1f})"
    assert f"<td>3,000</td><td>80</td><td>{shown}</td><td>{place['untaught_deg']:.1f}</td>" in page
    assert "<td>trace at 36</td>" in page


def test_the_card_stands_beside_the_job(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "card", job_file)
    assert code in (0, 1)
    assert err == ""
    pdf, html = job_file.with_suffix(".pdf"), job_file.with_suffix(".html")
    assert str(pdf) in out
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert "Bench engine" in html.read_text(encoding="utf-8")


# The map on a terminal


@pytest.mark.parametrize("width", [40, 80, 200])
def test_the_map_is_as_wide_as_the_terminal_and_whole(width: int, job_file: Path) -> None:
    result = plan(Job.load(job_file))
    wide = SparkMap(
        np.linspace(800, 5000, 16),
        result.cells.spark_map.kpa,
        np.tile(result.cells.spark_map.advance_deg, (1, 6))[:, :16],
    )
    held = tuple(tuple((row * 6)[:16]) for row in result.cells.held_by)
    none = np.zeros(wide.advance_deg.shape, dtype=bool)
    blocks = map_blocks(with_other_cells(result, spark_map=wide, held_by=held, over_ceiling=none), width)
    lines = [line for block in blocks for line in block.plain.splitlines()]
    assert max(len(line) for line in lines) <= width
    assert sum(len(line.split()) - 1 for line in lines if line.split()[0] == "95") == 16


def test_nothing_of_a_customer_acts_on_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Square brackets in a name are a name, not markup."""
    path = tmp_path / "marked.toml"
    path.write_text((BENCH + SMALL_AXES).replace("Bench engine", "[red]Bench[/red]"), encoding="utf-8")
    assert "[red]Bench[/red]" in run(capsys, "plan", path)[1]


def test_the_examples_run(capsys: pytest.CaptureFixture[str]) -> None:
    path = ROOT / "examples" / "pump-house-v8.toml"
    assert tomllib.loads(path.read_text(encoding="utf-8"))["distributor"]["rotor_phase_deg"] == 0
    code, out, _ = run(capsys, "check", path)
    assert code == 1
    assert "The rotor runs out at" in out


def test_a_check_says_its_headline_once(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "check", ROOT / "examples" / "pump-house-v8.toml")
    text = " ".join(out.split())
    assert text.count("The rotor runs out at 26 deg") == 1
    assert "x rotor: as said above" in text


def test_a_reader_that_goes_away_is_neither_good_nor_bad() -> None:
    """As a shell says it of other programs: 128 and 13, the number of a broken pipe's signal (POSIX)."""
    program = [sys.executable, "-m", "sparkwright.cli", "schema"]
    with subprocess.Popen(program, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as cut:
        assert cut.stdout is not None
        assert cut.stderr is not None
        cut.stdout.close()
        assert cut.stderr.read() == b""
    assert cut.returncode == 141
