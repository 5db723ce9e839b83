"""The engines of a fleet: files, folders and grids, and what is said of those that can't be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from planning_jobs import EXAMPLES
from sparkwright.errors import Refusal
from sparkwright.fleet.members import files_of, grid_of

BASE = EXAMPLES / "old-four.toml"
RISE = "must rise from a number to a number by a step above 0"


def grid_file(folder: Path, over: str, base: Path = BASE) -> Path:
    place = folder / "grid.toml"
    place.write_text(f'base = "{base}"\n[over]\n{over}\n')
    return place


def refused(folder: Path, over: str) -> str:
    with pytest.raises(Refusal) as refusal:
        grid_of(grid_file(folder, over))
    return str(refusal.value)


def test_a_folder_stands_for_every_job_file_below_it_once(tmp_path: Path) -> None:
    for name in ("b.toml", "a.toml", "more/c.toml", "notes.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(BASE.read_text())
    found = files_of([tmp_path, tmp_path / "a.toml"])
    assert [each.name for each in found.paths] == ["a.toml", "b.toml", "c.toml"]


def test_an_empty_folder_and_a_path_to_nothing_are_named_together(tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refusal:
        files_of([tmp_path, tmp_path / "gone.toml"])
    assert refusal.value.sentences == (
        f"{tmp_path}: has no job file in it; a job file ends in .toml",
        f"{tmp_path / 'gone.toml'}: is not there; name a job file or a folder of them",
    )


def test_a_grid_gives_every_value_with_every_other_the_last_running_fastest(tmp_path: Path) -> None:
    over = 'engine.compression_ratio = {from = 8, to = 9, step = 0.5}\n"fuel.ron" = [91, 95]'
    grid = grid_of(grid_file(tmp_path, over))
    jobs = [grid.member(number).job() for number in range(len(grid))]
    pairs = [(job.engine.compression_ratio, job.fuel.ron) for job in jobs]
    assert pairs == [(8.0, 91), (8.0, 95), (8.5, 91), (8.5, 95), (9.0, 91), (9.0, 95)]
    assert grid.member(1).source.endswith("engine.compression_ratio = 8.0, fuel.ron = 95")


def test_values_of_a_grid_carry_their_unit(tmp_path: Path) -> None:
    grid = grid_of(grid_file(tmp_path, 'engine.bore = ["80 mm", "3.25 in"]'))
    assert [grid.member(n).job().engine.bore_mm for n in (0, 1)] == pytest.approx([80.0, 82.55])


@pytest.mark.parametrize(
    ("over", "sentence"),
    [
        ("engine.compression_ratio = [8, 99]", "engine.compression_ratio = 99: must be"),
        ("engine.horsepower = [1, 2]", "engine.horsepower"),
        ("fuel.ron = 95", "fuel.ron = 95: must be a list of values or a range; write [91, 95] or {from"),
        ("fuel.ron = []", "must be a list of values or a range"),
        ("fuel.ron = [91, 91]", "fuel.ron = [91, 91]: must name each value once"),
        (
            "fuel.ron = {from = 95, to = 91, step = 1}",
            RISE,
        ),
        (
            "fuel.ron = {from = 91, to = 95, step = 0}",
            RISE,
        ),
        ("", "over (not given): must give at least one key of the job with its values"),
        (
            "site.altitude = {from = 0, to = 999, step = 1}\nfuel.ron = {from = 80, to = 99, step = 0.01}",
            "engines: must be at most 1,000,000",
        ),
    ],
)
def test_a_grid_that_cannot_be_used_is_refused_before_any_work(
    tmp_path: Path, over: str, sentence: str
) -> None:
    assert sentence in refused(tmp_path, over)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("base = 3\n", "base = 3: must name the job file that the grid starts from"),
        ("bases = 3\n", "bases: is not known in a grid file; known are base and over"),
        ("base = \n", "is no TOML"),
    ],
)
def test_a_grid_file_that_is_none_is_refused(tmp_path: Path, text: str, sentence: str) -> None:
    (tmp_path / "grid.toml").write_text(text)
    with pytest.raises(Refusal, match=r"grid\.toml|base") as refusal:
        grid_of(tmp_path / "grid.toml")
    assert sentence in str(refusal.value)
    with pytest.raises(Refusal, match="is not there; give the grid file"):
        grid_of(tmp_path / "no.toml")
