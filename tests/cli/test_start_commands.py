"""The commands between plan and engine: what they print, what they write, and their exit codes."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from sparkwright import cli
from sparkwright.plan.exchange import load_map

ROOT = Path(__file__).parents[2]
PUMP_HOUSE = ROOT / "examples" / "pump-house-v8.toml"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main([str(each) for each in arguments])
    out, err = capsys.readouterr()
    return code, out, err


def printed(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> dict[str, object]:
    """Give the results that a command prints with --json; each of their keys is documented."""
    _, out, _ = run(capsys, *arguments, "--json")
    whole = json.loads(out)
    assert list(whole) == ["schema", "version", "job", "results", "assumed", "warnings"]
    assert whole["schema"] == f"urn:sparkwright:{arguments[0]}:1"
    described = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    for key in whole["results"]:
        assert f"`{key}`" in described, f"docs/json.md leaves out {key}"
    results: dict[str, object] = whole["results"]
    return results


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_the_first_start_writes_a_map_for_each_step(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(
        capsys, "start", PUMP_HOUSE, "--to", tmp_path / "maps", "--pdf", tmp_path / "start.pdf"
    )
    assert code == 0
    assert "Start on it, and come to the plan in" in " ".join(out.split())
    first = load_map(tmp_path / "maps" / "first-map.csv")
    steps = sorted((tmp_path / "maps").glob("step-*.csv"))
    assert steps
    assert np.all(load_map(steps[-1]).advance_deg >= first.advance_deg)
    words = text_of((tmp_path / "start.pdf").read_bytes())
    for said in ("First start", "kicks the starter back", "At every step", "Before: at idle the light shows"):
        assert said in words


def test_the_first_start_as_json_holds_every_step(capsys: pytest.CaptureFixture[str]) -> None:
    results = printed(capsys, "start", PUMP_HOUSE)
    steps = results["steps"]
    assert isinstance(steps, list)
    assert {"number", "region", "spark_map", "chance_percent", "finding"} <= set(steps[0])
    assert steps[0]["finding"]["action"].startswith("Before: ")


def test_the_first_start_writes_over_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = tmp_path / "first-map.csv"
    there.write_text("mine", encoding="utf-8")
    code, _, err = run(capsys, "start", PUMP_HOUSE, "--to", tmp_path)
    assert code == 2
    assert "was left as it is" in err
    assert there.read_text(encoding="utf-8") == "mine"
    assert [each.name for each in tmp_path.iterdir()] == ["first-map.csv"]


def test_a_second_opinion_says_what_the_trade_expects(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "opinion", PUMP_HOUSE)
    assert code == 1
    assert "common practice, no source" in out
    assert "the rotor reaches no further there" in " ".join(out.split())
    results = printed(capsys, "opinion", PUMP_HOUSE)
    assert isinstance(results["rules"], list)
    assert len(results["rules"]) >= 12


@pytest.fixture
def hot_job(tmp_path: Path) -> Path:
    """A small job that states a hot day."""
    path = tmp_path / "hot.toml"
    text = PUMP_HOUSE.read_text(encoding="utf-8").replace(
        "[controller]\n", "[controller]\nrpm = [700, 1500, 3000, 5000]\nkpa = [38, 60, 85]\n"
    )
    path.write_text(f'{text}\n[conditions]\nhottest_air = "42 degC"\n', encoding="utf-8")
    return path


def test_trims_are_printed_with_what_they_were_held_against(
    hot_job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "trims", hot_job)
    assert code == 0
    for said in ("Trim by air temperature", "sensor reads", "Held against the plan there"):
        assert said in out
    results = printed(capsys, "trims", hot_job)
    assert isinstance(results["trims"], list)
    assert results["trims"][0]["values"][-1] == 42.0


def test_trims_ask_for_conditions(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "trims", PUMP_HOUSE)
    assert (code, out) == (2, "")
    assert "conditions (not given): must state at least one day" in err


def test_the_wrong_fuel_must_be_seen(hot_job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "whatif", hot_job, "--ron", "80")
    assert code == 1
    assert "80 RON in the tank by mistake" in out
    assert run(capsys, "whatif", hot_job, "--air", "42 degC")[0] == 0
    assert printed(capsys, "whatif", hot_job, "--no-trims", "--altitude", "2500 m")["cells_over"] == 0
    code, _, err = run(capsys, "whatif", hot_job, "--air", "forty")
    assert code == 2
    assert err.startswith("air")


def test_the_settings_are_listed_and_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = tmp_path / "settings.pdf"
    code, out, _ = run(capsys, "settings", PUMP_HOUSE, "--pdf", pdf)
    assert code == 1, "the rotor of this one runs out"
    assert "Idle block: " in out
    assert "Dwell by battery" in text_of(pdf.read_bytes())
    assert printed(capsys, "settings", PUMP_HOUSE)["delay_us"] is None
    code, _, err = run(capsys, "settings", PUMP_HOUSE, "--pdf", PUMP_HOUSE)
    assert code == 2
    assert "must not be the job itself" in err


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('load = "inHg vacuum"', ["inHg vacuum", " to 11 inHg vacuum; read back"]),
        (
            'load = "percent of throttle"\nthrottle_rpm = [500, 5000]\n'
            "throttle_kpa = [[0, 25, 25], [90, 88, 88]]",
            ["has its loads by throttle, and this map stands over pressure"],
        ),
    ],
)
def test_settings_are_listed_in_the_controllers_own_terms(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], keys: str, said: list[str]
) -> None:
    job, pdf = tmp_path / "job.toml", tmp_path / "settings.pdf"
    text = PUMP_HOUSE.read_text(encoding="utf-8").replace("[controller]\n", f"[controller]\n{keys}\n")
    job.write_text(text, encoding="utf-8")
    _, out, _ = run(capsys, "settings", job, "--pdf", pdf)
    for printed_text in (out, text_of(pdf.read_bytes())):
        for each in said:
            assert each in " ".join(printed_text.split())


def test_ones_own_map_is_told_part_by_part_and_merged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own, merged = tmp_path / "own.csv", tmp_path / "merged.csv"
    run(capsys, "export", PUMP_HOUSE, "--to", own)
    code, out, _ = run(capsys, "mine", PUMP_HOUSE, own, "--merged", merged)
    assert code == 0
    assert "Your map may stay" in out
    assert np.array_equal(load_map(merged).advance_deg, load_map(own).advance_deg)
    assert isinstance(printed(capsys, "mine", PUMP_HOUSE, own)["regions"], list)
    lines = own.read_text(encoding="utf-8").splitlines()
    own.write_text("\n".join(line.partition(",")[2] for line in lines[1:]), encoding="utf-8")
    code, _, err = run(capsys, "mine", PUMP_HOUSE, own)
    assert code == 2
    assert "looks axes lost" in err
    assert run(capsys, "mine", PUMP_HOUSE, own, "--read-as", "axes lost")[0] == 0
