"""The service and the container start the workbench with options that it knows."""

from __future__ import annotations

import json
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from sparkwright.cli import commands

PACKAGING = Path(__file__).parents[1] / "packaging"
UNIT = PACKAGING / "sparkwright.service"


def options_of(arguments: list[str]) -> set[str]:
    """Give the options in what starts the workbench."""
    assert arguments[0] == "serve"
    return {each for each in arguments[1:] if each.startswith("--")}


def known_options() -> set[str]:
    serve = commands.commands["serve"]
    return {name for each in serve.params for name in (*each.opts, *each.secondary_opts)}


def test_the_service_starts_the_workbench_with_options_that_it_knows() -> None:
    line = next(each for each in UNIT.read_text().splitlines() if each.startswith("ExecStart="))
    program, *arguments = shlex.split(line.partition("=")[2])
    assert program.endswith("/sparkwright")
    assert options_of(arguments) <= known_options()


def test_the_container_starts_the_workbench_with_options_that_it_knows() -> None:
    line = next(
        each for each in (PACKAGING / "Containerfile").read_text().splitlines() if each.startswith("CMD")
    )
    assert options_of(json.loads(line.removeprefix("CMD "))) <= known_options()


def test_systemd_finds_no_fault_in_the_service(tmp_path: Path) -> None:
    verify = shutil.which("systemd-analyze")
    if verify is None:
        pytest.skip("systemd-analyze is not installed")
    # It wants the program to be there.
    there = tmp_path / "sparkwright.service"
    there.write_text(UNIT.read_text().replace("/opt/sparkwright/bin/sparkwright", "/bin/true"))
    done = subprocess.run([verify, "verify", there], capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stdout) == (0, "")
    assert "sparkwright.service" not in done.stderr
