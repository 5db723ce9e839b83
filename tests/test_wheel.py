"""The wheel, installed where nothing of this folder is: its commands run, with all that they bring along."""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tomllib
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
UV = ROOT / ".tools" / "bin" / "uv"
EXAMPLE = ROOT / "examples" / "old-four.toml"

pytestmark = pytest.mark.proof


def ran(*command: str | Path, folder: Path, status: int = 0) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == status, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., str]:
    """Give what runs the installed command, in a folder that holds nothing else."""
    folder = tmp_path_factory.mktemp("wheel")
    ran(UV, "build", "--quiet", "--wheel", "--out-dir", folder, ROOT, folder=folder)
    (wheel,) = folder.glob("*.whl")
    ran(UV, "venv", "--quiet", "--python", sys.executable, folder / "venv", folder=folder)
    python = folder / "venv" / "bin" / "python"
    locked = ROOT / "requirements.lock"
    ran(UV, "pip", "install", "--quiet", "--python", python, "-c", locked, wheel, folder=folder)
    work = folder / "work"
    work.mkdir()

    def command(*arguments: str | Path, status: int = 0) -> str:
        return ran(python.with_name("sparkwright"), *arguments, folder=work, status=status)

    return command


def test_the_help_is_there(installed: Callable[..., str]) -> None:
    assert "Usage: sparkwright" in installed("--help")


def test_an_example_is_planned(installed: Callable[..., str]) -> None:
    """Its ignition isn't ready for the plan, hence the status."""
    assert "Old four" in installed("plan", EXAMPLE, status=1)


def test_a_card_is_printed_with_its_letters(installed: Callable[..., str], tmp_path: Path) -> None:
    pdf, page = tmp_path / "card.pdf", tmp_path / "card.html"
    installed("card", EXAMPLE, "--pdf", pdf, "--html", page, status=1)
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert "Old four" in page.read_text(encoding="utf-8")


def test_wheel_and_source_carry_every_licence(tmp_path: Path) -> None:
    """The core metadata keep them under `licenses/` (PEP 639)."""
    ran(UV, "build", "--quiet", "--out-dir", tmp_path, ROOT, folder=tmp_path)
    (wheel,), (source,) = tmp_path.glob("*.whl"), tmp_path.glob("*.tar.gz")
    named = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["license-files"]
    with zipfile.ZipFile(wheel) as packed:
        carried = {name.partition(".dist-info/licenses/")[2] for name in packed.namelist()} - {""}
    assert carried == set(named)
    with tarfile.open(source) as packed_source:
        there = {name.partition("/")[2] for name in packed_source.getnames()}
    assert set(named) <= there
