"""The service and the container name only what is there, and start the workbench as it can be started.

No container daemon is needed: the file is read, and `make proof` goes through the same steps in a folder.
"""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from packed import PREFIX, ROOT, UNIT, asked_for_health, said, started, steps, unit
from sparkwright.cli import commands
from sparkwright.shop import open_shop
from sparkwright.web.sessions import set_passphrase

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
PROGRAM = f"{PREFIX}/bin/sparkwright"


def test_the_licence_of_everything_that_is_brought_along_is_named() -> None:
    """What others wrote lies beside its licence: the typeface's OFL.txt, and NAME.LICENSE of each script."""
    brought = ("*LICENSE*", "OFL*")
    found = {path.relative_to(ROOT).as_posix() for name in brought for path in (ROOT / "src").rglob(name)}
    assert len(found) == 3
    assert set(PROJECT["license-files"]) == {"LICENSE"} | found


def require_known(words: list[str]) -> None:
    """Hold that `serve` takes the options with which it is started."""
    program, command, *arguments = words
    assert (program, command) == (PROGRAM, "serve")
    commands.commands["serve"].make_context("serve", arguments)


def extras(requirement: str) -> set[str]:
    assert requirement.startswith(".[")
    return set(requirement.removeprefix(".[").removesuffix("]").split(","))


def test_the_service_starts_the_workbench_with_options_that_it_knows() -> None:
    (line,) = unit()["ExecStart"]
    require_known(shlex.split(line.replace("${SPARKWRIGHT_SHOP}", unit_shop())))


def unit_shop() -> str:
    (shop,) = (each for each in unit()["Environment"] if each.startswith("SPARKWRIGHT_SHOP="))
    return shop.partition("=")[2]


def test_the_service_may_write_where_it_keeps_its_shop_and_its_compiled_kernel() -> None:
    said_by = unit()
    assert unit_shop().startswith(f"/var/lib/{said_by['StateDirectory'][0]}/")
    assert f"XDG_CACHE_HOME=/var/cache/{said_by['CacheDirectory'][0]}" in said_by["Environment"]
    assert "MemoryDenyWriteExecute" not in said_by, "the compiled kernel couldn't run"


def test_the_service_is_installed_with_extras_that_exist() -> None:
    (line,) = (each for each in UNIT.read_text().splitlines() if "pip install" in each)
    assert extras(shlex.split(line)[-1]) <= set(PROJECT["optional-dependencies"])


def test_the_container_starts_the_workbench_with_options_that_it_knows() -> None:
    require_known(started())


def test_the_container_copies_what_is_there_and_all_that_the_wheel_is_built_from() -> None:
    copied = [each.split()[:-1] for each in said("COPY") if not each.startswith("--from=")]
    names = {name for each in copied for name in each}
    assert all((ROOT / name).exists() for name in names)
    assert names >= {"pyproject.toml", PROJECT["readme"], "src"}


def test_the_container_runs_a_python_that_the_program_runs_on() -> None:
    pictures = {each.partition(" ")[0] for each in said("FROM")}
    (picture,) = pictures  # built and run on the same one
    wanted = PROJECT["requires-python"].removeprefix(">=").split(".")
    assert [*map(int, picture.removeprefix("python:").removesuffix("-slim").split("."))] >= [
        *map(int, wanted)
    ]


def test_the_container_installs_extras_that_exist() -> None:
    (install,) = (each for each in steps() if "pip" in each[0])
    assert extras(install[-1]) <= set(PROJECT["optional-dependencies"])
    assert PROJECT["scripts"]["sparkwright"] == "sparkwright.cli:main"


def test_the_container_compiles_whatever_set_up_compiles() -> None:
    set_up = {each.split()[-1] for each in (ROOT / "Makefile").read_text().splitlines() if ".compile" in each}
    compiled = {each[-1] for each in steps() if each[1:2] == ["-m"] and "venv" not in each}
    assert compiled == set_up
    assert all(find_spec(each) is not None for each in compiled)


def test_the_container_serves_as_a_user_who_owns_the_shop() -> None:
    (user,) = said("USER")
    assert any(each[0] == "useradd" and each[-1] == user for each in steps())
    (shop,) = said("VOLUME")
    assert ["install", "-d", "-o", user, "-g", user, "-m", "0700", shop] in steps()
    assert started()[started().index("--shop") + 1] == shop


def test_the_container_is_asked_for_its_health_at_the_port_it_serves() -> None:
    (port,) = said("EXPOSE")
    serve = commands.commands["serve"]
    (default,) = (each.default for each in serve.params if each.name == "port")
    assert "--port" not in started()
    assert f"'http://127.0.0.1:{port}/sign-in'" in asked_for_health()[-1]
    assert default == int(port)


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[list[str]]:
    """Serve as the container does, but on loopback and a free port; gives how it is asked for its health."""
    from real_workbench import served

    with open_shop(tmp_path / "shop") as shop:
        set_passphrase(shop, "four words in order")
    arguments = started()[2:]
    for option in ("--shop", "--listen"):
        place = arguments.index(option)
        del arguments[place : place + 2]
    arguments.remove("--no-browser")
    with served(tmp_path / "shop", *arguments) as bench:
        *_, question = asked_for_health()
        (expected,) = said("EXPOSE")
        port = urlsplit(bench.address).port
        yield [sys.executable, "-c", question.replace(f":{expected}/", f":{port}/")]


@pytest.mark.slow
def test_the_question_for_health_is_answered_by_two_processes_of_a_shop_with_a_pass_phrase(
    asked: list[str],
) -> None:
    done = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stderr) == (0, "")


def test_systemd_finds_no_fault_in_the_service(tmp_path: Path) -> None:
    verify = shutil.which("systemd-analyze")
    if verify is None:
        pytest.skip("systemd-analyze is not installed")
    # It wants the program to be there.
    there = tmp_path / "sparkwright.service"
    there.write_text(UNIT.read_text().replace(PROGRAM, "/bin/true"))
    done = subprocess.run([verify, "verify", there], capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stdout) == (0, "")
    assert "sparkwright.service" not in done.stderr
