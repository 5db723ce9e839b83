"""The second start: what was compiled and tabled is read again, from a folder that is ours alone."""

import logging
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sparkwright.cycle import gas_fits, jit, kept
from sparkwright.cycle.compile import compile_kernel

pytestmark = pytest.mark.slow

FloatArray = NDArray[np.float64]
JOB = str(Path(__file__).parents[2] / "examples" / "pump-house-v8.toml")


def _third(value: float) -> float:
    return value / 3.0


def _counted(up_to: float) -> FloatArray:
    return np.arange(up_to)


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder for what is kept."""
    folder = tmp_path / "kept"
    folder.mkdir(mode=0o700)
    monkeypatch.setattr(kept, "cache_folder", lambda: folder)
    return folder


@pytest.fixture
def base(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the next question for the folder looks."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(kept, "cache_folder", kept.cache_folder.__wrapped__)
    return tmp_path


def made_folder() -> Path:
    folder = kept.cache_folder()
    assert folder is not None
    return folder


def files(folder: Path) -> dict[Path, int]:
    return {path: path.stat().st_mtime_ns for path in folder.rglob("*.nb?")}


@pytest.mark.parametrize("command", [("plan",), ("check",), ("point", "--rpm", "3000", "--kpa", "95")])
def test_a_command_after_set_up_compiles_nothing(command: tuple[str, ...]) -> None:
    compile_kernel()
    before = files(made_folder())
    name, *options = command
    run = subprocess.run(
        [sys.executable, "-m", "sparkwright.cli", name, JOB, *options], capture_output=True, text=True
    )
    assert "Pump-house V8" in run.stdout
    assert before
    assert files(made_folder()) == before


def test_a_command_without_engine_cycle_waits_for_no_compiler(tmp_path: Path) -> None:
    code = "import sys, sparkwright.cli; sparkwright.cli.main(sys.argv[1:]); print(*sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code, "new", str(tmp_path / "job.toml")], capture_output=True, text=True
    )
    assert (tmp_path / "job.toml").exists()
    assert "numba" not in run.stdout.split()


def test_the_folder_is_closed_to_others_and_found_again(base: Path) -> None:
    folder = made_folder()
    assert folder.parent == base.resolve() / "sparkwright"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert kept.cache_folder() == folder


def refused(caplog: pytest.LogCaptureFixture) -> str:
    """What the log says, where nothing is kept and results are the same for all that."""
    with caplog.at_level(logging.WARNING, logger="sparkwright"):
        assert kept.cache_folder() is None
    (record,) = caplog.records
    assert jit.compiled(_third)(3.0) == 1.0
    assert kept.kept_table(_counted)(2.0).tolist() == [0.0, 1.0]
    said = record.getMessage()
    assert said.startswith("nothing is kept on disk, so every start computes anew what takes seconds: ")
    return said


def test_a_folder_that_others_may_write_is_not_used(base: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder = made_folder()
    folder.chmod(0o777)
    assert f"{folder} is open to others, who may have written there; remove it" in refused(caplog)
    assert list(folder.iterdir()) == []


def test_a_folder_of_somebody_else_is_not_used(
    base: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = made_folder()
    found = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: found + 1)
    monkeypatch.setattr(kept, "refuse_others_as_owners", lambda above: None)
    assert f"{folder} is owned by somebody else; remove it" in refused(caplog)


def test_a_link_is_not_followed(base: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder = made_folder()
    folder.rename(base / "away")
    folder.symlink_to(base / "away")
    assert f"{folder} is a link or no folder; remove it" in refused(caplog)
    assert list((base / "away").iterdir()) == []


def test_a_folder_below_one_that_everybody_may_write_is_not_used(
    base: Path, caplog: pytest.LogCaptureFixture
) -> None:
    above = made_folder().parent
    above.chmod(0o777)
    assert f"{above} is owned by somebody else or may be written by everybody" in refused(caplog)


def test_a_folder_that_depends_on_where_one_stands_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification 0.8: a relative path in these variables is invalid and is ignored."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", "near")
    assert kept.cache_base().is_absolute()
    with pytest.raises(ValueError, match="near is not an absolute path"):
        kept.folder_in(Path("near"), "of these sources")
    assert not (tmp_path / "near").exists()


def test_a_folder_that_cannot_be_made_costs_time_only(
    base: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    (base / "file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(base / "file"))
    assert "Not a directory" in refused(caplog)


@pytest.mark.parametrize("changed", ["kernel.py", "constants.py", "published/heat.py"])
def test_a_change_of_any_source_compiles_anew(tmp_path: Path, changed: str) -> None:
    """Of a kernel, of constants that it reads from a neighbour, of a formula in a folder below."""
    sources = [tmp_path / name for name in ("kernel.py", "constants.py", "published/heat.py")]
    (tmp_path / "published").mkdir()
    for source in sources:
        source.write_text("FACTOR = 1.0\n")
    before = kept.source_hash(sources)
    assert kept.source_hash(reversed(sources)) == before
    (tmp_path / changed).write_text("FACTOR = 1.1\n")
    assert kept.source_hash(sources) != before


@pytest.mark.parametrize("name", ["version", "sys.version", "np.__version__"])
def test_another_version_of_what_compiles_compiles_anew(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    before = kept.source_hash([])
    other = (lambda _: "another") if name == "version" else "another"
    monkeypatch.setattr(f"sparkwright.cycle.kept.{name}", other)
    assert kept.source_hash([]) != before


@pytest.mark.parametrize("whole_bytes", [0, 7, 100])
def test_a_torn_cache_is_made_again(elsewhere: Path, whole_bytes: int) -> None:
    assert jit.compiled(_third)(3.0) == 1.0
    torn = list(files(elsewhere))
    assert len(torn) == 2
    for path in torn:
        path.write_bytes(path.read_bytes()[:whole_bytes])
    assert jit.compiled(_third)(6.0) == 2.0
    assert all(path.stat().st_size > 100 for path in files(elsewhere))


def test_an_error_of_the_caller_is_not_hidden(elsewhere: Path) -> None:
    with pytest.raises(TypeError):
        jit.compiled(_third)()  # type: ignore[call-arg]


def test_threads_that_ask_at_once_get_one_answer(elsewhere: Path) -> None:
    third = jit.compiled(_third)
    with ThreadPoolExecutor(max_workers=8) as pool:
        assert list(pool.map(third, np.arange(0.0, 300.0, 3.0).tolist())) == list(range(100))


def test_a_kept_table_is_read_not_made(elsewhere: Path) -> None:
    asked: list[tuple[float, ...]] = []

    def thirds(*parts: float) -> FloatArray:
        asked.append(parts)
        return np.array([parts]) / 3.0

    first, again = kept.kept_table(thirds)(1.0, 0.1), kept.kept_table(thirds)(1.0, 0.1)
    assert first.tobytes() == again.tobytes()
    # A number a rounding step away is another number.
    kept.kept_table(thirds)(1.0, np.nextafter(0.1, 1.0))
    assert len(asked) == 2
    (path, _) = elsewhere.glob("*.table")
    path.write_bytes(path.read_bytes()[:-1])
    kept.kept_table(thirds)(1.0, 0.1)
    kept.kept_table(thirds)(1.0, np.nextafter(0.1, 1.0))
    assert len(asked) == 3


def test_older_tables_go(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "MOST_TABLES", 3)
    monkeypatch.setattr(kept, "WRITTEN_BETWEEN", 4)
    for size in range(23):
        kept.kept_table(_counted)(float(size))
        assert len(list(elsewhere.glob("*.table"))) <= 3 + 4


def test_an_argument_that_does_not_tell_itself_is_refused(elsewhere: Path) -> None:
    with pytest.raises(TypeError, match="can't be told apart"):
        kept.kept_table(_counted)(np.array(3.0))  # type: ignore[arg-type]


def test_a_kept_burned_surface_is_the_same_to_the_last_bit(elsewhere: Path) -> None:
    surface = gas_fits.burned_surface.__wrapped__
    made, read = surface(1.07, 0.1, 0.006), surface(1.07, 0.1, 0.006)
    assert made.pv_coefficients.tobytes() == read.pv_coefficients.tobytes()
    assert made.temperature_coefficients.tobytes() == read.temperature_coefficients.tobytes()
    assert len(list(elsewhere.glob("*.table"))) == 1
