"""`sparkwright shop ...`: what it prints, what it writes, and its exit codes."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import click
import pytest

from databases import BENCH, new_database
from sparkwright import cli
from sparkwright.cli.shop_commands import shop as group
from sparkwright.shop import SavedElsewhereError, open_shop, usual_place

ROOT = Path(__file__).parents[2]
COMMANDS = sorted(group.commands)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store with two jobs, named by the environment."""
    monkeypatch.setenv("SPARKWRIGHT_SHOP", str(tmp_path / "store"))
    with open_shop(tmp_path / "store") as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
        shop.jobs.save(key, BENCH + "# 2\n", who="B. Example", why="gap measured", based_on=1)
        with pytest.raises(SavedElsewhereError):
            shop.jobs.save(key, BENCH + "# 3\n", who="C. Example", why="", based_on=1)
        shop.jobs.hand_over(key, 2, who="A. Example", acknowledged=["High voltage."])
        shop.files.attach(key, "run.csv", "drive", io.BytesIO(b"rpm\n800\n"), who="A. Example")
        shop.jobs.create(BENCH.replace("Bench engine", "Old four"), who="A. Example", why="")
    return tmp_path / "store"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main(["shop", *(str(each) for each in arguments)])
    out, err = capsys.readouterr()
    return code, out, err


def printed(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> dict[str, Any]:
    _, out, err = run(capsys, *arguments, "--json")
    assert err == ""
    found: dict[str, Any] = json.loads(out)
    assert found["schema"] == f"urn:sparkwright:shop-{arguments[0]}:1"
    results: dict[str, Any] = found["results"]
    return results


# What they are


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_is_explained(name: str) -> None:
    command = group.commands[name]
    assert command.help
    told = {
        page: (ROOT / "docs" / f"{page}.md").read_text(encoding="utf-8") for page in ("commands", "store")
    }
    assert f"`sparkwright shop {name}" in told["commands"]
    assert f"`sparkwright shop {name}" in told["store"]
    (row,) = [line for line in told["store"].splitlines() if line.startswith(f"| `sparkwright shop {name}")]
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help
            assert parameter.opts[0] in row or parameter.opts[0] in ("--shop", "--json"), parameter.opts
        else:
            assert parameter.make_metavar(click.Context(command)) in row


def test_alone_it_shows_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys)
    assert (code, err) == (0, "")
    assert all(f"\n  {name}" in out for name in COMMANDS)


def test_help_loads_no_database(capsys: pytest.CaptureFixture[str]) -> None:
    import subprocess
    import sys

    code = "import sys, sparkwright.cli; sparkwright.cli.main(['shop', '--help']); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"sqlalchemy", "pydantic", "polars", "rich"} & set(done.stdout.split())


# list and history


def test_list_tells_of_each_job(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "list")
    assert (code, err) == (0, "")
    four, bench = out.split("bench-engine\n")
    assert four.startswith("old-four\n  Old four, 5.7 l V8, 9:1\n  revision 1, ")
    assert four.endswith(", A. Example, not handed over\n")
    assert bench.startswith("  Bench engine, 5.7 l V8, 9:1\n  revision 2, ")
    assert bench.endswith(", B. Example, handed over\n")


def test_list_says_when_there_is_more_or_nothing(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "list", "--limit", "1")[1].endswith(
        "1 of 2 jobs; --limit shows more, --find WORDS fewer.\n"
    )
    assert run(capsys, "list", "--find", "four")[1].startswith("old-four\n")
    assert run(capsys, "list", "--find", "nowhere")[1] == "No job has these words.\n"
    open_shop(place.parent / "empty").close()
    assert run(capsys, "list", "--shop", place.parent / "empty")[1] == "There is no job yet.\n"
    assert run(capsys, "list", "--limit", "-1") == (
        2,
        "",
        "limit = -1: must be 0 to 10000; ask for the next page with after\n",
    )


def test_list_as_json_is_the_list(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results = printed(capsys, "list", "--find", "bench")
    with open_shop(place) as shop:
        (line,) = shop.jobs.lines(search="bench")
    assert results["count"] == 1
    assert results["jobs"] == [{**vars(line), "when": line.when.isoformat()}]


def test_history_tells_who_changed_what_and_why(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "history", "bench-engine")
    assert (code, err) == (0, "")
    title, second, signed, first, _, kept = out.splitlines()
    assert title == "Bench engine (bench-engine)"
    assert second.startswith("revision 2, ")
    assert second.endswith(", B. Example: gap measured")
    assert ", handed over " in signed
    assert signed.endswith(" by A. Example")
    assert first.endswith(", A. Example: engine came in")
    assert kept.startswith("Kept beside it: what C. Example typed on revision 1 at ")
    results = printed(capsys, "history", "bench-engine")
    assert [each["number"] for each in results["revisions"]] == [2, 1]
    assert results["revisions"][0]["acknowledged"] == ["High voltage."]
    assert results["kept"][0]["who"] == "C. Example"


# export and import


def test_a_job_goes_out_and_comes_in(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(capsys, "export", "bench-engine") == (0, "bench-engine.zip is written.\n", "")
    other = tmp_path / "other"
    assert run(capsys, "import", "bench-engine.zip", "--who", "C. Example", "--shop", other) == (
        0,
        "bench-engine is in the store.\n",
        "",
    )
    assert printed(capsys, "import", "bench-engine.zip", "--shop", other) == {"key": "bench-engine-2"}
    with open_shop(other) as shop, open_shop(place) as first:
        assert shop.jobs.history("bench-engine") == first.jobs.history("bench-engine")
        assert shop.jobs.lines()[1].imported_by == "C. Example"
    target = tmp_path / "named.zip"
    assert run(capsys, "export", "bench-engine", "--to", target)[0] == 0
    assert run(capsys, "export", "bench-engine", "--to", target) == (
        2,
        "",
        f"{target}: is there already and was left as it is; choose another name\n",
    )


def test_what_is_no_archive_is_told(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "import", ROOT / "README.md") == (
        2,
        "",
        "README.md: is not a ZIP file, or was cut short\n",
    )


# backup, restore, check


def test_a_backup_is_restored_elsewhere(
    place: Path, tmp_path: Path, postgresql_server: str, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "all.backup"
    assert run(capsys, "backup", target) == (0, f"{target} is written.\n", "")
    address = f"{new_database(postgresql_server)}&files={tmp_path / 'new.files'}"
    assert run(capsys, "restore", target, "--shop", address) == (0, "The store is there again.\n", "")
    assert run(capsys, "check", "--shop", address)[:2] == (
        0,
        "All is well: 2 jobs with every revision and file.\n",
    )
    code, out, err = run(capsys, "restore", target)
    assert (code, out) == (2, "")
    assert err == f"{place / 'shop.db'}: is there already and was left as it is; choose another place\n"


def test_check_tells_each_problem_and_that_there_is_something_to_see(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(capsys, "check") == (0, "All is well: 2 jobs with every revision and file.\n", "")
    assert printed(capsys, "check") == {"jobs": 2, "problems": []}
    (path,) = [path for path in place.joinpath("shop.files").rglob("*") if path.is_file()]
    path.write_bytes(b"")
    code, out, err = run(capsys, "check")
    problem = f"bench-engine, run.csv: its file {path} no longer holds what was given"
    assert (code, out, err) == (1, f"Look here: {problem}\n", "")
    assert printed(capsys, "check")["problems"] == [problem]


# Which store


@pytest.mark.parametrize(
    "arguments", [["list"], ["check"], ["history", "x"], ["export", "x"], ["backup", "x"]]
)
def test_no_store_is_made_by_asking_for_one(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nowhere = tmp_path / "nowhere"
    code, out, err = run(capsys, *arguments, "--shop", nowhere)
    assert (code, out) == (2, "")
    assert err == (
        f"{nowhere / 'shop.db'}: there is no store here; name the place with --shop, "
        "or start one with `sparkwright serve`\n"
    )
    assert not nowhere.exists()


def test_an_empty_postgresql_is_no_store_either(
    postgresql_server: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(capsys, "list", "--shop", new_database(postgresql_server))
    assert code == 2
    assert "there is no store here" in err


def test_the_usual_place_is_the_users_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification 0.8: data in $XDG_DATA_HOME, else in ~/.local/share."""
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.delenv("SPARKWRIGHT_SHOP", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", "")
    assert usual_place() == str(tmp_path / ".local" / "share" / "sparkwright")
    monkeypatch.setenv("XDG_DATA_HOME", "/data")
    assert usual_place() == "/data/sparkwright"
    monkeypatch.setenv("SPARKWRIGHT_SHOP", "postgresql://host/shop")
    assert usual_place() == "postgresql://host/shop"


def test_a_job_that_is_not_there(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sentence = 'there is no job "nope" in this store; `sparkwright shop list` shows what there is\n'
    for command in ("history", "export"):
        assert run(capsys, command, "nope") == (2, "", sentence)


# Removing a job, and the record


def test_a_job_is_removed_once_its_name_is_typed(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("Old for\n"))
    code, _, err = run(capsys, "remove", "old-four", "--who", "A. Example")
    assert (code, err) == (2, 'name = "Old for": must be "Old four"; nothing was removed\n')
    monkeypatch.setattr("sys.stdin", io.StringIO("Old four\n"))
    code, out, err = run(capsys, "remove", "old-four", "--who", "A. Example")
    assert (code, err) == (0, "")
    assert out == (
        "Old four (old-four): 1 revision, 0 texts kept beside it, 0 records of evidence, 0 files, "
        "0 cases of the desk. "
        "Nothing brings them back.\n"
        "Type the job's name to remove it for good: "
        "It is removed. Backups and archives made before still hold it: delete those too.\n"
    )
    assert "old-four" not in run(capsys, "list")[1]
    assert run(capsys, "check")[0] == 0


def test_a_job_that_was_handed_over_is_removed_only_when_that_is_said(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "remove", "bench-engine", "--yes", "--who", "A. Example")
    assert code == 2
    assert (
        "2 revisions, 1 of them handed over, 1 text kept beside it, 0 records of evidence, 1 file, 0 cases"
        in out
    )
    assert "say --also-handed-over if it may go all the same" in err
    code, _, err = run(capsys, "remove", "bench-engine", "--yes", "--also-handed-over", "--who", "A. Example")
    assert (code, err) == (0, "")
    with open_shop(place) as shop:
        assert [line.key for line in shop.jobs.lines()] == ["old-four"]


def test_the_log_tells_what_left_and_what_came_in(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("LOGNAME", "owner")
    assert run(capsys, "log")[1] == "Nothing has happened yet.\n"
    run(capsys, "export", "old-four", "--to", tmp_path / "old.zip")
    run(capsys, "import", tmp_path / "old.zip", "--who", "B. Example")
    run(capsys, "backup", tmp_path / "all.backup")
    run(capsys, "remove", "old-four", "--yes", "--who", "A. Example")
    told = [line[18:] for line in run(capsys, "log")[1].splitlines()]
    assert told == [
        "removal: revisions: 1, evidence: 0, files: 0, by A. Example, from this machine",
        "backup: by owner, from this machine",
        "import: old-four-2, by B. Example, from this machine",
        "download: archive, by owner, from this machine",
    ]
    lines = printed(capsys, "log", "--limit", "1")["lines"]
    assert [(each["kind"], each["who"], each["key"]) for each in lines] == [("removal", "A. Example", None)]
    assert run(capsys, "log", "--limit", "0")[0] == 2
