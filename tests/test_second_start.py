"""The second start: commands run the kernel without the compiler that made it, and get the same numbers."""

import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import llvmlite.binding as llvm
import numpy as np
import pytest
from numpy.typing import NDArray

from sparkwright.cycle import chamber, gas, jit, kept, kernel, machine_code
from sparkwright.cycle.cam import ValveEvents
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.compile import compile_kernel
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel, charge_at

FloatArray = NDArray[np.float64]
JOB = str(Path(__file__).parents[1] / "examples" / "pump-house-v8.toml")
SHAPES = ("wedge", "open", "hemispherical", "pent-roof", "side-valve", "flat-disc")

RUN = """
import json, sys
from sparkwright.cli import main
main(sys.argv[1:])
heavy = sorted({"numba", "scipy"} & set(sys.modules))
print(json.dumps(heavy), file=sys.stderr)
"""

proven = pytest.mark.usefixtures("kernel_kept")


class Place(NamedTuple):
    """A record with another in it, of numbers and arrays, as a charge is."""

    height: float
    inner: tuple[float, FloatArray]
    turns: int
    table: FloatArray


def _weigh(factor: float, place: Place, out: FloatArray) -> None:
    """Depends on the order, the shape and the strides of everything."""
    for i in range(place.table.shape[0]):
        for j in range(place.table.shape[1]):
            out[i] += factor * place.table[i, j] * place.inner[1][j] + place.turns
        out[i] += place.height - 2.0 * place.inner[0]


def _third(value: float) -> float:
    return value / 3.0


@pytest.fixture(scope="module")
def kernel_kept() -> None:
    compile_kernel()


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder for what is kept."""
    folder = tmp_path / "kept"
    monkeypatch.setattr(kept, "cache_folder", lambda: folder)
    return folder


def without_numba(*arguments: str) -> tuple[str, list[str]]:
    run = subprocess.run([sys.executable, "-c", RUN, *arguments], capture_output=True, text=True, check=True)
    heavy: list[str] = json.loads(run.stderr.splitlines()[-1])
    return run.stdout, heavy


@proven
@pytest.mark.parametrize(
    "command", [("plan", JOB), ("check", JOB), ("point", JOB, "--rpm", "3000", "--kpa", "95")]
)
def test_a_command_needs_no_compiler(command: tuple[str, ...]) -> None:
    printed, heavy = without_numba(*command)
    assert "Pump-house V8" in printed
    assert heavy == []


@proven
def test_the_card_needs_no_compiler(tmp_path: Path) -> None:
    pages = ("--pdf", str(tmp_path / "card.pdf"), "--html", str(tmp_path / "card.html"))
    assert without_numba("card", JOB, *pages)[1] == []


def drawn_charge(random: np.random.Generator) -> kernel.Charge:
    events = ValveEvents(-5.0, 29.0, 44.0, -10.0, 1.27)
    shape = SHAPES[random.integers(len(SHAPES))]
    engine = Engine(
        Chamber(shape, random.uniform(0.07, 0.11), 0.09, random.uniform(6.0, 12.0)),  # type: ignore[arg-type]
        8,
        0.15,
        events,
        0.04,
        0.034,
    )
    return charge_at(
        engine,
        Air(100.0, 300.0),
        Fuel(91.0),
        Constants(),
        speed_rpm=random.uniform(600.0, 6500.0),
        map_kpa=random.uniform(20.0, 180.0),
        mixture_lambda=random.uniform(0.75, 1.35),
    )[0]


@proven
def test_the_kept_kernel_and_numba_agree_to_the_last_bit() -> None:
    """On forty drawn charges, weak ones that misfire among them."""
    random = np.random.default_rng(20)
    falling = np.linspace(60.0, -4.0, 41)
    for _ in range(40):
        charge = drawn_charge(random)
        numbas = np.empty((falling.size, len(kernel.RESULTS)))
        kernel._fill_hook_compiled._dispatcher(charge, falling, 1.2, numbas)  # type: ignore[attr-defined]
        ours = kernel.run_hook(charge, falling, 1.2)
        assert ours.tobytes() == numbas.tobytes()


@pytest.mark.parametrize("shape", SHAPES)
def test_kept_chambers_and_numba_agree_to_the_last_bit(shape: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    made = Chamber(shape, 0.0996, 0.0919, 9.5)
    table = chamber.flame_table.__wrapped__.__wrapped__  # type: ignore[attr-defined]
    ours = table(made)
    for name in ("_roof_compiled", "_roof_volume_compiled", "_add_flame_volumes_compiled"):
        monkeypatch.setattr(chamber, name, getattr(chamber, name)._dispatcher)
    assert ours.tobytes() == table(made).tobytes()


def test_arguments_of_every_kind_arrive(elsewhere: Path) -> None:
    """Against the same function as plain Python."""
    random = np.random.default_rng(3)
    place = Place(0.7, (1.1, random.random(3)), 5, random.random((4, 3)))
    ours, plain = np.zeros(4), np.zeros(4)
    kept_function = jit.compiled_and_kept(_weigh)
    kept_function(2.5, place, ours)
    _weigh(2.5, place, plain)
    assert ours == pytest.approx(plain, rel=1e-14)
    assert [path.suffix for path in elsewhere.glob("weigh*")] == [".machine"]
    (call,) = kept_function._calls.values()  # type: ignore[attr-defined]
    assert call is not None


def test_what_the_kept_code_was_not_made_for_goes_to_numba(elsewhere: Path) -> None:
    third = jit.compiled_and_kept(_third)
    singles = np.array([1.0], dtype=np.float32)
    assert third(singles[0]) == pytest.approx(1.0 / 3.0)
    assert list(elsewhere.glob("third*")) == []
    table = np.arange(6.0).reshape(2, 3)
    table.flags.writeable = False
    for value in (table, table.copy().T, table.astype(np.float32), True, None, "1", (1.0, None)):
        assert machine_code.kinds_of(value) is None


@pytest.mark.parametrize(
    "spoil", [lambda whole: whole[:-7], lambda whole: whole[:40] + b"?" + whole[41:], lambda _: b""]
)
def test_a_torn_file_is_made_again(elsewhere: Path, spoil: Any) -> None:
    assert jit.compiled_and_kept(_third)(3.0) == 1.0
    (path,) = elsewhere.glob("*.machine")
    path.write_bytes(spoil(path.read_bytes()))
    assert machine_code.read("_third", "(f)") is None
    assert jit.compiled_and_kept(_third)(6.0) == 2.0
    assert machine_code.read("_third", "(f)") is not None


def test_another_processor_gets_code_of_its_own(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    jit.compiled_and_kept(_third)(3.0)
    monkeypatch.setattr(llvm, "get_host_cpu_name", lambda: "another")
    assert machine_code.read("_third", "(f)") is None


def test_code_that_needs_more_than_the_c_library_is_not_loaded() -> None:
    """LLVM would end the process on it."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = llvm.Target.from_default_triple().create_target_machine()
    module = llvm.parse_assembly(
        "declare void @nobody_has_this()\n"
        "define i32 @lost(ptr %result, ptr %problem) {\n"
        "  call void @nobody_has_this()\n"
        "  ret i32 0\n"
        "}\n"
    )
    assert (
        machine_code.load(machine_code.MachineCode("lost", "none", machine.emit_object(module)), "()") is None
    )


@pytest.mark.parametrize("broken", ["read", "load", "calls_so"])
def test_numba_takes_over_where_machine_code_fails(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise AttributeError("of another version")

    monkeypatch.setattr(machine_code, broken, fail)
    assert jit.compiled_and_kept(_third)(3.0) == 1.0


def test_other_systems_take_numba(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine_code, "PROVEN", False)
    assert jit.compiled_and_kept(_third)(3.0) == 1.0
    assert list(elsewhere.glob("*.machine")) == []


def test_a_folder_that_cannot_be_written_costs_time_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(kept, "cache_folder", lambda: tmp_path / "file" / "kept")
    assert jit.compiled_and_kept(_third)(3.0) == 1.0
    assert jit.compiled(_third)(6.0) == 2.0
    assert kept.kept_table(_counted)(2.0).tolist() == [0.0, 1.0]


def test_threads_that_ask_at_once_get_one_function(elsewhere: Path) -> None:
    third = jit.compiled_and_kept(_third)
    with ThreadPoolExecutor(max_workers=8) as pool:
        assert list(pool.map(third, np.arange(0.0, 300.0, 3.0).tolist())) == list(range(100))
    assert len(third._calls) == 1  # type: ignore[attr-defined]


def _counted(up_to: float) -> FloatArray:
    return np.arange(up_to)


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
    for size in range(6):
        kept.kept_table(_counted)(float(size))
    assert len(list(elsewhere.glob("*.table"))) == 3


def test_an_argument_that_does_not_tell_itself_is_refused(elsewhere: Path) -> None:
    with pytest.raises(TypeError, match="can't be told apart"):
        kept.kept_table(_counted)(np.array(3.0))  # type: ignore[arg-type]


def test_a_kept_burned_surface_is_the_same_to_the_last_bit(elsewhere: Path) -> None:
    surface = gas.burned_surface.__wrapped__
    made, read = surface(1.07, 0.1, 0.006), surface(1.07, 0.1, 0.006)
    assert made.pv_coefficients.tobytes() == read.pv_coefficients.tobytes()
    assert made.temperature_coefficients.tobytes() == read.temperature_coefficients.tobytes()
    assert machine_code.kinds_of(read.pv_coefficients) == "a2"
    assert len(list(elsewhere.glob("*.table"))) == 1
