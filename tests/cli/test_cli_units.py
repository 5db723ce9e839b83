"""One switch of units in the terminal: every command of a job speaks to a person in one system."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from sparkwright.cli import IN_ORDER_OF_WORK, main
from unit_words import spoken, wrong_units

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
PUMP_HOUSE, LIGHT = EXAMPLES / "pump-house-v8.toml", EXAMPLES / "pump-house-v8-light.csv"

COMMANDS = (
    ("check", "--pictures", "drawn"),
    ("point", "--rpm", "2400", "--kpa", "70", "--pictures", "drawn"),
    ("plan", "--pictures", "drawn"),
    ("opinion", "--pictures", "drawn"),
    ("whatif", "--air", "100 degF", "--coolant", "220 degF", "--altitude", "5000 ft"),
    ("settings", "--pdf", "settings.pdf"),
    ("start", "--pdf", "start.pdf"),
    ("deadcentre", "--stop", "27 before", "--stop", "31 after"),
    ("tape", "--diameter", "7.24 in", "--pdf", "tape.pdf"),
    ("ring", "--diameter", "9 in", "--hole", "2 in", "--pdf", "ring.pdf"),
    ("sheets", "--to", "sheets"),
    ("light", str(LIGHT), "--housing", "3 in", "--pictures", "drawn"),
    ("card",),
    ("dyno", "sweeps.csv"),
    ("desk", "--answer", "complaint=hunts", "--no-ask"),
)
NOT_WALKED = {
    "new": "writes a file to type in",
    "axes": "gives axes in the controller's own terms",
    "trims": "asks a job that states conditions; held in the tests of its words",
    "mine": "holds maps in the controller's own terms against each other",
    "compare": "holds maps in the controller's own terms against each other",
    "export": "text to paste follows the controller's own terms",
    "next": "learns for some seconds; what it says is held where it is made",
    "learn": "learns for some seconds; what it says is held where it is made",
    "pulls": "reads torque of files in the units that their columns name",
    "drive": "counts shares and degrees",
    "fleet": "writes tables for programs",
    "serve": "is the workbench, whose pages are walked",
    "shop": "tells of files and people",
    "schema": "for programs",
}
"""Commands whose results aren't walked here, each with its reason."""


@pytest.fixture
def job_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "engine.toml"
    path.write_bytes(PUMP_HOUSE.read_bytes())
    rows = ("2400,80,14,300", "2400,80,20,330", "2400,80,26,345", "2400,80,32,350", "2400,80,38,345")
    (tmp_path / "sweeps.csv").write_text("\n".join(("speed_rpm,map_kpa,advance_deg,torque_nm", *rows)))
    return path


def printed_beside(folder: Path) -> Iterator[str]:
    """Give what stands in every sheet, card and picture that a command wrote."""
    for path in folder.rglob("*.pdf"):
        told = subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, check=True)
        yield " ".join(told.stdout.decode().split())
    for path in (*folder.rglob("*.html"), *folder.rglob("*.svg")):
        yield spoken(path.read_text(encoding="utf-8"))
    for path in folder.rglob("drawn/*.csv"):
        yield path.read_text(encoding="utf-8")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: str(command[0]))
def test_no_command_speaks_in_the_other_units(
    command: tuple[str, ...], job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    of_job = () if command[0] == "desk" else (str(job_file),)
    main(["--units", "inch", command[0], *of_job, *command[1:]])
    said = capsys.readouterr()
    assert not said.err
    for text in (" ".join(said.out.split()), *printed_beside(job_file.parent)):
        assert wrong_units(text, "inch") == []


def test_every_command_is_walked_or_named() -> None:
    walked = {command[0] for command in COMMANDS}
    named = {name for _, names in IN_ORDER_OF_WORK for name in names}
    assert named == walked | NOT_WALKED.keys()


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
