"""Documents tell what there is: commands, options, links and examples, each held against the program."""

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

import draw_rooms
from sparkwright.cli import CUT_OFF, GOOD, REFUSED, SEE, STOPPED, commands
from sparkwright.job import Job

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/*.md")])
PICTURES = sorted(ROOT.glob("docs/pictures/*.png"))
MOST_PICTURE_BYTES = 200_000
COMMANDS = commands.commands
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"```python\n(.*?)```", re.DOTALL)


def page(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def row_of(command: str) -> str:
    """The line of the table of commands that tells about one of them."""
    return next(
        line for line in page("docs/reference.md").splitlines() if f"| `sparkwright {command}` |" in line
    )


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_every_option_of_a_command_is_in_the_reference(command: str) -> None:
    told = row_of(command)
    for parameter in COMMANDS[command].params:
        if isinstance(parameter, click.Option):
            assert all(re.search(rf"`{option}\b", told) for option in parameter.opts), parameter.opts
        else:
            assert parameter.make_metavar(click.Context(COMMANDS[command])) in told


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_the_reference_tells_of_no_option_that_is_not_there(command: str) -> None:
    parameters = COMMANDS[command].params
    known = {option for each in parameters for option in (*each.opts, *each.secondary_opts)}
    assert set(re.findall(r"--[a-z-]+", row_of(command))) <= known


def test_the_reference_tells_of_no_command_that_is_not_there() -> None:
    told = re.findall(r"\| `sparkwright ([a-z]+)` \|", page("docs/reference.md"))
    assert sorted(told) == sorted(COMMANDS)


@pytest.mark.parametrize("code", [GOOD, SEE, REFUSED, STOPPED, CUT_OFF])
def test_every_exit_code_is_in_the_reference(code: int) -> None:
    assert f"\n| {code} | " in page("docs/reference.md")


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_links_lead_to_files_that_are_there(path: Path) -> None:
    for target in LINK.findall(path.read_text(encoding="utf-8")):
        if not target.startswith(("https://", "#")):
            file = path.parent / target.partition("#")[0]
            assert file.exists(), f"{path.name} links to {target}"


def test_every_page_can_be_reached_from_the_readme() -> None:
    reached, to_read = set[Path](), [ROOT / "README.md"]
    while to_read:
        path = to_read.pop()
        if path in reached or path.suffix != ".md":
            continue
        reached.add(path)
        links = LINK.findall(path.read_text(encoding="utf-8"))
        to_read += [
            (path.parent / link.partition("#")[0]).resolve()
            for link in links
            if not link.startswith(("https://", "#"))
        ]
    assert set(PAGES) - reached == set()


def test_the_readme_names_both_commands_and_the_licence() -> None:
    readme = page("README.md")
    assert "    make demo" in readme
    assert "    make test" in readme
    assert "LICENSE" in readme


def test_the_readme_names_every_command_for_ones_own_engine() -> None:
    readme = page("README.md")
    missing = {name for name in COMMANDS if f"sparkwright {name}" not in readme}
    assert missing == {"schema"}, "only the schema is for editors and not for the person at the engine"


def test_python_in_the_readme_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    (code,) = CODE.findall(page("README.md"))
    exec(compile(code, "README.md", "exec"), {})
    assert capsys.readouterr().out.rstrip().endswith(" deg")


def test_make_knows_what_the_documents_call() -> None:
    targets = set(re.findall(r"^([a-z]+):", page("Makefile"), re.MULTILINE))
    for path in PAGES:
        called = set(re.findall(r"(?:^ {4}|`)make ([a-z]+)", path.read_text(encoding="utf-8"), re.MULTILINE))
        assert called <= targets, path.name


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.name)
def test_pictures_are_small_and_shown_somewhere(path: Path) -> None:
    assert path.stat().st_size < MOST_PICTURE_BYTES
    assert any(f"pictures/{path.name})" in each.read_text(encoding="utf-8") for each in PAGES)


def test_the_refusal_quoted_in_the_guide_is_what_the_program_says() -> None:
    text = (ROOT / "examples" / "pump-house-v8.toml").read_text(encoding="utf-8")
    wrong = text.replace('bore = "3.921 in"', 'bore = "3.921"')
    assert wrong != text
    with pytest.raises(ValueError, match=r"engine\.bore") as refusal:
        Job.from_toml(wrong)
    assert f"    {refusal.value}\n" in page("docs/guide.md")


def test_the_demo_does_the_whole_job_and_ends(tmp_path: Path) -> None:
    demo = subprocess.run(
        [sys.executable, "scripts/demo.py", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert (demo.returncode, demo.stderr) == (0, "")
    for told in ("invented", "Can this ignition deliver it?", "What timing does it want?", "Try next"):
        assert told in demo.stdout
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    for name in ("card.html", "map.csv", "map.tsv", "map.json", "pictures/cap.svg", "pictures/map.png"):
        assert (tmp_path / name).stat().st_size > 0


def test_the_picture_of_the_rooms_is_that_of_the_imports() -> None:
    assert draw_rooms.PICTURE.read_text(encoding="utf-8") == draw_rooms.picture()


def test_the_page_on_architecture_names_every_room() -> None:
    told = page("docs/architecture.md")
    rooms = {room for layer in draw_rooms.layers() for room in layer}
    assert {room for room in rooms if f"`{room}`" not in told} == set()
