"""What a person hears who gives a job file that can't be used: every sentence, to the letter."""

import ast
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import Job, sections
from sparkwright.job.names import FIELDS

DATA = Path(__file__).parents[1] / "data"
SECTIONS = Path(sections.__file__).parent
BENCH = (DATA / "bench.toml").read_text(encoding="utf-8")


@dataclass
class Spoiled:
    """One way to spoil the bench job, and what must be said."""

    name: str
    changes: list[tuple[list[str], list[str]]] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)

    def text(self) -> str:
        text = f"\n{BENCH}"
        for old_lines, new_lines in self.changes:
            old = "\n" + "".join(f"{line}\n" for line in old_lines)
            assert text.count(old) == 1, f"{self.name}: {old_lines} must stand exactly once in bench.toml"
            text = text.replace(old, "\n" + "".join(f"{line}\n" for line in new_lines))
        return text.removeprefix("\n")


def read_cases() -> list[Spoiled]:
    cases: list[Spoiled] = []
    for line in (DATA / "bad_jobs.txt").read_text(encoding="utf-8").split("\n"):
        mark, rest = line[:1], line[2:]
        if line.startswith("## "):
            cases.append(Spoiled(line[3:]))
        elif mark == "-":
            if not cases[-1].changes or cases[-1].changes[-1][1]:
                cases[-1].changes.append(([], []))
            cases[-1].changes[-1][0].append(rest)
        elif mark == "+":
            cases[-1].changes[-1][1].append(rest)
        elif mark == ">":
            cases[-1].sentences.append(rest)
    return cases


CASES = read_cases()


def test_the_bench_job_itself_is_good() -> None:
    assert Job.from_toml(BENCH).name == "Bench engine"


def test_the_table_is_long_enough_and_no_case_stands_twice() -> None:
    assert len(CASES) >= 60
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_each_spoiled_job_is_refused_in_these_words(case: Spoiled) -> None:
    with pytest.raises(Refusal) as refusal:
        Job.from_toml(case.text(), "bench.toml")
    assert list(refusal.value.sentences) == case.sentences


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_no_sentence_shouts_or_breaks_a_line(case: Spoiled) -> None:
    for sentence in case.sentences:
        assert sentence.isprintable()
        assert not {"error", "invalid", "oops"} & set(sentence.lower().replace(":", " ").split())


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "bench.toml: is empty; `sparkwright new` writes a starter file to fill in"),
        (
            b"# nothing but a comment\n",
            "bench.toml: is empty; `sparkwright new` writes a starter file to fill in",
        ),
        (
            b"\x89PNG\r\n\x1a\n\xff\xfe",
            "bench.toml: is not UTF-8 text; a job file is plain text, saved by an editor as UTF-8",
        ),
        (
            'name = "x"'.encode("utf-16-le"),
            "bench.toml: is not a text file; a job file is plain text, saved as UTF-8",
        ),
        (
            BENCH[: BENCH.index("4, 8]")].encode(),
            "bench.toml: ends in the middle of a line or list; it may have been cut short",
        ),
        (
            BENCH[: BENCH.index("21 in")].encode(),
            "bench.toml: ends in the middle of a line or list; it may have been cut short",
        ),
        (b"name = " + b"[" * 20000, "bench.toml: has brackets within brackets too deep to read"),
        (
            b"a." * 300_000 + b"a = 1",
            "bench.toml: has a key of more than 50 parts; a section and a key is all a job needs",
        ),
        (
            b"name = 2026-02-30\n",
            "bench.toml, line 1, column 8: can't be read; "
            "look for a missing quote, bracket or equals sign, or text without quotes",
        ),
        (
            b"#" * 1_000_001,
            "bench.toml: is longer than 1,000,000 bytes; a job file is a few pages of text",
        ),
    ],
    ids=[
        "empty",
        "comment",
        "picture",
        "utf-16",
        "cut in a list",
        "cut in a text",
        "deep",
        "long key",
        "date",
        "big",
    ],
)
def test_files_that_hold_no_job(tmp_path: Path, content: bytes, sentence: str) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(content)
    with pytest.raises(Refusal) as refusal:
        Job.load(path)
    assert refusal.value.sentences == (sentence,)
    assert path.read_bytes() == content


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refusal:
        Job.load(tmp_path / "none.toml")
    assert str(refusal.value) == (
        "none.toml: is not there; check the name, or start one with `sparkwright new none.toml`"
    )


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(Refusal) as refusal:
        Job.load(tmp_path)
    assert str(refusal.value) == f"{tmp_path.name}: is a folder; give the job file in it"


def test_a_job_cut_off_anywhere_is_read_or_refused_in_words() -> None:
    """Half a file must never end in anything but a job or sentences."""
    for length in range(0, len(BENCH), 7):
        outcome = read_or_refusal(BENCH[:length])
        assert isinstance(outcome, Job) or outcome


def read_or_refusal(text: str) -> Job | str:
    try:
        return Job.from_toml(text)
    except SparkwrightError as refusal:
        return str(refusal)


def test_a_hundred_and_one_pegs_are_too_many() -> None:
    peg = '\n[[pegs]]\nrpm = 3000\nkpa = 45\nadvance_deg = 36\nreason = "habit"\n'
    with pytest.raises(Refusal) as refusal:
        Job.from_toml(BENCH + peg * 101)
    assert str(refusal.value) == "pegs = 101 sections: must be at most 100"


def test_what_is_wrong_in_a_thousand_places_is_told_up_to_there() -> None:
    with pytest.raises(Refusal) as refused:
        Job.from_toml(BENCH + "\n".join(f"x{number} = 1" for number in range(3000)))
    assert refused.value.sentences[-1] == "the job: 2,000 more places in it can't be used either"
    assert len(refused.value.sentences) == 1001


@pytest.mark.parametrize("digits", [30, 5000, 900_000])
def test_a_number_of_any_length_is_told_what_its_field_takes(digits: int) -> None:
    with pytest.raises(Refusal) as refusal:
        Job.from_toml(BENCH.replace("cylinders = 8", f"cylinders = {'9' * digits}"))
    assert refusal.value.sentences == (
        "engine.cylinders = a number of more than 18 digits: must be 4, 6 or 8; engines of other counts are "
        "not supported",
    )


def test_keys_in_what_a_section_refuses_are_parts_and_not_text() -> None:
    """A key that stands there as text could not be called by its label on a page."""
    keys = {name.rpartition(".")[2] for name in FIELDS}
    found = []
    for path in sorted(SECTIONS.glob("*.py")):
        calls = [
            each
            for each in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(each, ast.Call) and getattr(each.func, "id", "") == "Conflict"
        ]
        for words in (word for call in calls for argument in call.args[1:] for word in _words(argument)):
            found += [
                f"{path.name}: {word}" for word in words.split() if "_" in word and word.strip(".,;") in keys
            ]
    assert found == []


def _words(argument: ast.expr) -> list[str]:
    """Give the texts of an argument that stand in it as text: not those of a key."""
    if isinstance(argument, ast.Call) and getattr(argument.func, "id", "") in ("Key", "Stated"):
        return []
    if isinstance(argument, ast.Constant):
        return [str(argument.value)]
    parts = [each for each in ast.iter_child_nodes(argument) if isinstance(each, ast.expr)]
    return [text for each in parts for text in _words(each)]
