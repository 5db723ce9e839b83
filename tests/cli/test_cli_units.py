"""One switch of units in the terminal: every command of a job speaks to a person in one system."""

from __future__ import annotations

from pathlib import Path

import pytest

from sparkwright.cli import main
from unit_words import spoken, wrong_units

PUMP_HOUSE = Path(__file__).parent.parent.parent / "examples" / "pump-house-v8.toml"

COMMANDS = (
    ("check",),
    ("point", "--rpm", "2400", "--kpa", "70"),
    ("plan",),
    ("deadcentre", "--stop", "27 before", "--stop", "31 after"),
    ("tape", "--diameter", "7.24 in", "--pdf", "tape.pdf"),
    ("sheets", "--to", "sheets"),
    ("card",),
)


@pytest.fixture
def job_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "engine.toml"
    path.write_bytes(PUMP_HOUSE.read_bytes())
    return path


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_no_command_speaks_in_the_other_units(
    command: tuple[str, ...], job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["--units", "inch", command[0], str(job_file), *command[1:]])
    said = capsys.readouterr()
    assert not said.err
    text = " ".join(said.out.split())
    card = job_file.with_suffix(".html")
    if card.exists():
        text += spoken(card.read_text(encoding="utf-8"))
    assert wrong_units(text, "inch") == []


def test_the_units_are_said_once_for_good(
    job_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """1 lb-ft is 1.3558 N m (NIST SP 811, appendix B.8)."""
    asked = ["point", str(job_file), "--rpm", "2400", "--kpa", "70"]
    main(asked)
    metric = capsys.readouterr().out
    monkeypatch.setenv("SPARKWRIGHT_UNITS", "inch")
    main(asked)
    inch = capsys.readouterr().out
    in_nm = float(metric.partition(" N m)")[0].rpartition("(")[2])
    in_lb_ft = float(inch.partition(" lb-ft)")[0].rpartition("(")[2])
    assert in_lb_ft == pytest.approx(in_nm / 1.3558, abs=1.0)


def test_json_is_the_same_in_either_units(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = []
    for system in ("metric", "inch"):
        main(["--units", system, "plan", str(job_file), "--json"])
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
