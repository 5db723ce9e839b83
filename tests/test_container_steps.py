"""The steps of the container file, gone through in a folder, since no container daemon is needed for them."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from packed import PREFIX, ROOT, asked_for_health, said, started, steps

UV = ROOT / ".tools" / "bin" / "uv"
LOCKED = ROOT / "requirements.lock"
STEP_S = 600

pytestmark = pytest.mark.proof


def ran(*command: str | Path, folder: Path, env: dict[str, str] | None = None) -> str:
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, timeout=STEP_S, check=False, env=env
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_what_the_container_copies_is_enough_to_install_compile_serve_and_be_found_well(
    tmp_path: Path,
) -> None:
    made, prefix, shop = tmp_path / "made", tmp_path / "program", tmp_path / "shop"
    made.mkdir()
    for copied in said("COPY"):
        if copied.startswith("--from="):
            continue
        *names, _ = copied.split()
        for name in names:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, made / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(ROOT / name, made / name)

    def here(words: list[str]) -> list[str]:
        return [each.replace(PREFIX, str(prefix)) for each in words]

    # uv installs as pip does, the locked versions from what was fetched before.
    ran(UV, "venv", "--quiet", "--python", sys.executable, prefix, folder=made)
    python = prefix / "bin" / "python"
    (install,) = (each for each in steps() if "pip" in each[0])
    ran(UV, "pip", "install", "--quiet", "--python", python, "-c", LOCKED, install[-1], folder=made)
    shutil.rmtree(made)
    own = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL"))}
    env = own | {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    for step in steps():
        if step[1:2] == ["-m"] and "venv" not in step:
            ran(*here(step), folder=tmp_path, env=env)
    spoken = "import sys; from sparkwright.shop import open_shop; from sparkwright.web.sessions import *\n"
    spoken += "with open_shop(sys.argv[1]) as shop: set_passphrase(shop, 'four words in order')"
    ran(python, "-c", spoken, shop, folder=tmp_path, env=env)
    words = here(started())
    words[words.index("--shop") + 1] = str(shop)
    words[words.index("--listen") + 1] = "127.0.0.1"
    words += ["--port", "0"]
    with (
        (tmp_path / "log").open("w") as log,
        subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=log, text=True, cwd=tmp_path, env=env
        ) as process,
    ):
        try:
            assert process.stdout is not None
            address = (
                next(line for line in process.stdout if "http://" in line).split("http://")[1].split()[0]
            )
            port = address.rstrip("/").rpartition(":")[2]
            (exposed,) = said("EXPOSE")
            *asking, question = here(asked_for_health())
            ran(*asking, question.replace(f":{exposed}/", f":{port}/"), folder=tmp_path, env=env)
        finally:
            (stop,) = said("STOPSIGNAL")
            process.send_signal(signal.Signals[stop])
            assert process.wait(60) == 0
