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
