"""Rows with speeds of their own from the command line: planned, exported, held against the plan, typed in."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from sparkwright import cli
from workbench import PUMP_HOUSE

ROWS = "[[32, 500, 900], [60, 500, 1500, 3600], [85, 500, 1500, 2600, 3600]]"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "rows.toml"
    path.write_text(PUMP_HOUSE.replace("[controller]\n", f"[controller]\nrows = {ROWS}\n"), encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main([str(each) for each in arguments])
    found = capsys.readouterr()
    return code, " ".join(found.out.split()), found.err


def test_an_exported_map_comes_back_and_stands_over_nothing(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "map.csv"
    run(capsys, "export", job, "--to", table)
    lines = table.read_text(encoding="utf-8").splitlines()
    assert [line.count(",,") > 0 for line in lines] == [False, True, True, True]
    assert "No cell stands over a ceiling of the plan." in run(capsys, "compare", job, table)[1]
    assert "cells is worth changing" in run(capsys, "mine", job, table)[1]


def test_a_file_with_other_rows_is_refused_by_name(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "map.csv"
    table.write_text("kPa by rpm,500,900,1500\n32,20,25,\n60,15,,20\n", encoding="utf-8")
    for command in ("compare", "mine"):
        code, _, said = run(capsys, command, job, table)
        assert code == 2
        assert "the row at 60 kPa with 500, 1500 rpm: must have the speeds of that row: 500, 1500" in said


def test_settings_list_and_print_only_what_is_typed_in(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "settings.pdf"
    _, out, _ = run(capsys, "settings", job, "--pdf", sheet)
    assert "32 " in out
    row = out.split("500 900 1500 2600 3600")[1].split()
    assert [cell == "-" for cell in row[row.index("60") + 1 :][:5]] == [False, True, False, True, False]
    text = PdfReader(sheet).pages[0].extract_text()
    assert "nan" not in text
    assert "left empty where its row has no such speed" in " ".join(text.split())


def test_a_row_without_speeds_is_told_and_nothing_is_planned(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job.write_text(job.read_text(encoding="utf-8").replace("[32, 500, 900]", "[32]"), encoding="utf-8")
    code, _, said = run(capsys, "plan", job)
    assert code == 2
    assert "controller.rows" in said
    assert "must give each row 1 to 40 speeds; row 1, at 32, has none" in " ".join(said.split())


def test_axes_says_that_rows_are_kept(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "axes", job)
    assert code == 0
    assert "rows have speeds of their own and are kept: nothing is chosen." in out
    assert "rpm = [" not in out
