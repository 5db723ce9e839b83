"""What a drive says of knock is kept with its job, learned from, and unlearned when it is withdrawn."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from drive_faults import knock_by_retard
from invented_drives import EXAMPLES, PUMP_HOUSE, Road, clean_drive, csv_file
from planned import plan_of
from sparkwright.cli import main
from sparkwright.evidence.kinds import KnockMark
from sparkwright.evidence.sweeps import sweeps_in
from sparkwright.learn.belief import belief_of
from sparkwright.learn.result import evidence_of
from sparkwright.shop import Shop, open_shop
from sparkwright.shop.loggers import remembered_of
from sparkwright.web.drives import read_of_job

KEY = "pump-house-v8"
MARKS = (
    KnockMark(2000.0, 95.0, 22.0, "none", note="from monday.csv, quiet for 40 s"),
    KnockMark(2000.0, 95.0, 31.0, "trace", note="from monday.csv"),
    KnockMark(3000.0, 95.0, 26.0, "none", note="from monday.csv, quiet for 25 s"),
)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    text = (EXAMPLES / "pump-house-v8.toml").read_text(encoding="utf-8")
    with open_shop(tmp_path / "store") as shop:
        assert shop.jobs.create(text, who="A. Example", why="came in").key == KEY
    return tmp_path / "store"


def test_a_drive_kept_by_the_command_counts_once_and_with_its_file(
    place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clean = clean_drive(plan_of(PUMP_HOUSE).cells.spark_map, Road(hours=0.5, seed=11))
    path = csv_file(tmp_path / "monday.csv", knock_by_retard(clean, np.random.default_rng(5)))
    asked = ["drive", KEY, str(path), "--keep", "--who", "A. Example", "--shop", str(place)]
    assert main(asked) == 1
    assert "Kept with pump-house-v8: 1 knock mark and 12 quiet places." in capsys.readouterr().out
    with open_shop(place) as shop:
        first = [each.data for each in shop.evidence.of_job(KEY)]
        assert [each.name for each in shop.files.of_job(KEY)] == ["monday.csv"]
    heard = [each.knock for each in first if isinstance(each, KnockMark)]
    assert heard == ["trace", *["none"] * 12]
    assert main(asked) == 1
    with open_shop(place) as shop:
        assert [each.data for each in shop.evidence.of_job(KEY)] == first


def test_a_drive_of_a_job_file_is_not_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["drive", str(EXAMPLES / "pump-house-v8.toml"), str(tmp_path / "monday.csv"), "--keep"]
    assert main(asked) == 2
    assert "must come with a job in the store" in capsys.readouterr().err


def learned_from(shop: Shop) -> str:
    """Give the fingerprint of what is learned: it covers every digit of middle and covariance."""
    return belief_of(
        PUMP_HOUSE, evidence_of(PUMP_HOUSE, sweeps_in(shop.evidence.of_job(KEY))).used
    ).fingerprint


def test_marks_of_a_drive_are_learned_in_any_order_and_unlearned_to_the_digit(place: Path) -> None:
    with open_shop(place) as shop:
        before = learned_from(shop)
        kept = [shop.evidence.add(KEY, each, who="A. Example") for each in MARKS]
        there = learned_from(shop)
        assert there != before
        for record in kept:
            shop.evidence.withdraw(KEY, record.id, who="A. Example", why="another fuel")
        assert learned_from(shop) == before
        for each in reversed(MARKS):
            shop.evidence.add(KEY, each, who="A. Example")
        assert learned_from(shop) == there


def test_what_is_said_of_a_logger_is_remembered_with_a_job_in_the_store(
    place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, asked = tmp_path / "drive.csv", ["--shop", str(place)]
    path.write_text("a,b,c\n" + "".join(f"{k / 10},{900 + k},0.4\n" for k in range(20)))
    drive = ["drive", KEY, str(path), *asked]
    assert main([*drive, "--channel", "rpm=b", "--channel", "map_kpa=nowhere"]) == 2
    assert main(drive) == 2
    capsys.readouterr()
    assert main([*drive, "--channel", "rpm=b", "--channel", "map_kpa=c", "--unit", "c=bar"]) == 0
    assert main([*drive, "--json"]) == 0
    out = capsys.readouterr().out
    results = json.loads(out[out.index("\n{\n") :])["results"]
    assert {each["name"]: each["why"] for each in results["channels"]}["b"] == ["remembered"]
    with open_shop(place) as shop, path.open("rb") as content:
        file = shop.files.attach(KEY, "drive.csv", "drive", content, who="A. Example")
        read = read_of_job(shop, PUMP_HOUSE, file)
        assert read.result.running_rows == 20
        assert read_of_job(shop, PUMP_HOUSE, file) is read
        remembered_of(shop.settings, ["a", "b", "c"]).keep({"rpm": "b", "map_kpa": "c"}, {"c": "kPa"})
        assert read_of_job(shop, PUMP_HOUSE, file).result.channels[1].read_in == ""
