"""The desk on the command line: asked on a terminal, given at once, as data, as a sheet, kept in a store."""

from __future__ import annotations

import json
from pathlib import Path

import click
import numpy as np
import pytest
from pypdf import PdfReader

from drive_faults import arcing
from invented_drives import PUMP_HOUSE, Road, clean_drive, csv_file
from planned import plan_of
from sparkwright.cli import GOOD, REFUSED, main
from sparkwright.desk.knowledge_files import shipped_knowledge
from sparkwright.shop import open_shop

ROOT = Path(__file__).parents[2]
JOB = str(ROOT / "examples" / "pump-house-v8.toml")


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["desk", *arguments]) == GOOD
    return " ".join(capsys.readouterr().out.split())


def as_data(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    assert main(["desk", *arguments, "--json"]) == GOOD
    found: dict[str, object] = json.loads(capsys.readouterr().out)["results"]
    return found


def typing(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    left = list(lines)
    monkeypatch.setattr(click, "prompt", lambda *about, **more: left.pop(0))


def test_with_answers_it_ranks_and_names_the_next_test(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "--answer", "complaint=no-start", "--answer", "when=always", "--cannot", "changed")
    assert (
        "Not settled: first “The pickup gives no signal: open, unplugged, or without its feed”, 24 %, then"
        in text
    )
    assert "Next test: Speed that the controller shows" in text
    assert "After it, or where it can't be done Pulse at the coil's minus" in text
    assert "Moving parts: before cranking or running, hands, hair, sleeves and tools clear of fan" in text
    assert "licensed hands" in text


def test_a_proved_pattern_says_how_to_prove_and_mend(capsys: pytest.CaptureFixture[str]) -> None:
    given = ("complaint=misfire-advance", "when=speed", "changed=distributor", "rotor-meets-post=off")
    text = told(capsys, *(each for answer in given for each in ("--answer", answer)))
    assert "The rotor has left its post when the spark comes: 99 %." in text
    assert "Prove it before anything is changed" in text
    assert "To mend it, once proved" in text


def test_words_that_nobody_foresaw_are_kept_and_answered_kindly(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "--words", "It sings like a kettle")
    assert "In the caller's own words It sings like a kettle" in text
    assert "The desk doesn't know these words yet" in text
    assert "What does the engine do?" in text


def test_the_dialogue_asks_one_thing_at_a_time_and_goes_back(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, "10", "1", "back", "6", "skip", "causes", "it sings", "end")
    text = told(capsys, "--ask")
    assert text.index("What does the engine do?") < text.index("When is it worst?")
    assert "That is no answer of the list. It is kept with the case" in text
    last = text[text.rindex("Counts") :]
    assert "What does the engine do? Idle hunts up and down" in last
    assert "When is it worst? At idle or light throttle" in last
    assert "Always the same" not in last
    assert "In the caller's own words it sings" in last


def test_what_was_measured_already_is_typed_by_name_at_any_time(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, "tests", "coil-feed=low", "coil-feed=warm", "end")
    text = told(capsys, "--ask")
    assert "coil-feed=falls-cranking" in text
    assert 'coil-feed = "warm": must be one of full, falls-cranking' in text
    last = text[text.rindex("Counts") :]
    assert "Voltage at the coil's plus: Volts are missing" in last
    assert "In the caller's own words coil-feed=warm" in last, "nothing typed is lost"


def test_every_test_is_listed_with_what_answer_takes(capsys: pytest.CaptureFixture[str]) -> None:
    listed = told(capsys, "--tests")
    for test in shipped_knowledge().tests:
        for answer in test.answers:
            assert f"{test.id}={answer.id} {answer.words}" in listed


def test_a_slip_in_the_shops_own_file_is_told_and_the_desk_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "own.toml").write_text('[[cause]]\nid = "mouse"\n', encoding="utf-8")
    arguments = ["desk", "--knowledge", str(tmp_path), "--answer", "complaint=hunts"]
    assert main(arguments) == GOOD
    out, err = capsys.readouterr()
    assert "Left out: own.toml, cause mouse, prove (not given): must be given; nobody mends" in err
    assert "The map slopes through the idle" in " ".join(out.split())


def test_a_kept_case_counts_what_is_found_on_its_job_as_its_page_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_shop(tmp_path) as shop:
        job = shop.jobs.create(Path(JOB).read_text(encoding="utf-8"), who="A. Example", why="")
        case = shop.cases.open("Caller", who="A. Example", job=job.key)
    shop_here = ("--shop", str(tmp_path), "--who", "A. Example", "--answer", "complaint=misfire-speed")
    of_case = as_data(capsys, "--case", str(case.id), *shop_here)
    assert of_case["noticed"]
    assert of_case["causes"] == as_data(capsys, JOB, "--answer", "complaint=misfire-speed")["causes"]


def test_the_reach_of_the_job_counts(capsys: pytest.CaptureFixture[str]) -> None:
    alone = as_data(capsys, "--answer", "complaint=misfire-speed")
    with_job = as_data(capsys, JOB, "--answer", "complaint=misfire-speed")

    def chance(found: dict[str, object]) -> float:
        causes = found["causes"]
        assert isinstance(causes, list)
        return float(next(each["probability"] for each in causes if each["id"] == "dwell-short"))

    assert chance(with_job) > chance(alone)
    noticed = with_job["noticed"]
    assert isinstance(noticed, list)
    assert "coil.full-up-to" in {each["finding"]["kind"] for each in noticed}


def test_sparks_under_the_cap_on_a_drive_count(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An invented drive that stumbles the more, the further the spark is advanced."""
    columns = arcing(
        clean_drive(plan_of(PUMP_HOUSE).cells.spark_map, Road(hours=0.5, seed=11)), np.random.default_rng(5)
    )
    drive = csv_file(tmp_path / "run.csv", columns)
    with_drive = told(capsys, JOB, "--drive", str(drive), "--answer", "complaint=misfire-speed")
    assert "Stumbling on a drive that grows with advance: Noticed (by the program)" in with_drive
    assert "Stumbling on a drive" not in told(capsys, JOB, "--answer", "complaint=misfire-speed")


def test_json_holds_what_the_documentation_names(capsys: pytest.CaptureFixture[str]) -> None:
    found = as_data(capsys, "--answer", "complaint=hunts")
    described = (ROOT / "docs" / "json.md").read_text(encoding="utf-8").split("## `desk`")[1]
    assert set(found) > {"causes", "question", "test"}
    for key in found:
        assert f"`{key}`" in described, f"docs/json.md leaves out {key}"
    test = found["test"]
    assert isinstance(test, dict)
    for key in test:
        assert f"`{key}`" in described, f"docs/json.md leaves out {key} of a test"


def test_the_sheet_to_send_holds_test_expected_reading_and_cautions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, paper = tmp_path / "next.html", tmp_path / "next.pdf"
    given = ("--answer", "complaint=no-start", "--answer", "when=always", "--answer", "changed=coil")
    told(capsys, *given, "--sheet", str(page))
    told(capsys, *given, "--sheet", str(paper))
    text = page.read_text(encoding="utf-8")
    assert "Resistance of the coil" in text
    assert "Expected: The primary within a tenth of what is stated for the coil; secondary" in text
    assert "Stated for this engine" not in text, "no job was given"
    assert "<svg" in text
    assert "<script" not in text
    assert "High voltage: coil, leads and cap carry enough to kill." in text
    assert "It shows what belongs together, not the wiring." in text
    assert paper.read_bytes().startswith(b"%PDF")
    assert main(["desk", *given, "--sheet", str(page)]) == REFUSED
    assert "is there already and was left as it is" in capsys.readouterr().err


def test_the_sheet_to_send_names_what_the_job_states_and_no_command_that_a_caller_has_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The job states 0.7 ohm and 9 kohm."""
    page, paper = tmp_path / "next.html", tmp_path / "next.pdf"
    given = (JOB, "--answer", "complaint=no-start", "--answer", "when=always", "--answer", "changed=coil")
    told(capsys, *given, "--sheet", str(page))
    told(capsys, *given, "--sheet", str(paper))
    printed = " ".join(each.extract_text() for each in PdfReader(paper).pages)
    assert "Measure both before you trust this sheet" not in printed, "nothing on it is to scale"
    for text in (page.read_text(encoding="utf-8"), printed):
        assert "Stated for this engine" in text
        assert "Primary resistance 0.7 ohm" in text
        assert "Secondary resistance 9 kohm" in text
    for test in shipped_knowledge().tests:
        assert "sparkwright" not in " ".join((*test.how, *test.tools, test.expected)), test.id


def test_a_case_is_kept_gone_on_with_closed_and_opened_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = ("--shop", str(tmp_path), "--who", "A. Example")
    first = as_data(capsys, "--keep", "Caller with a four", *shop, "--answer", "complaint=hunts")
    assert first["case"] == 1
    more = as_data(capsys, "--case", "1", *shop, "--answer", "when=idle")
    assert [each["entry"] for each in more["answers"]] == [1, 2]  # type: ignore[attr-defined]
    less = as_data(capsys, "--case", "1", *shop, "--withdraw", "2")
    assert less["causes"] == first["causes"]
    closed = as_data(capsys, "--case", "1", *shop, "--closed-as", "mixture-lean")
    assert closed["closed_as"] == "The mixture is lean, or air gets in unmetered"
    assert closed["causes"] != first["causes"], "the shop's own frequencies moved"
    entry = len((1, 2, "withdrawal", "outcome"))
    opened = as_data(capsys, "--case", "1", *shop, "--withdraw", str(entry))
    assert opened["closed_as"] is None
    assert opened["causes"] == first["causes"], "and are what they were"


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--answer", "hot"], '--answer = "hot": must be QUESTION=ANSWER; such as --answer when=hot'),
        (["--answer", "when=soon"], 'when = "soon": must be one of always, cranking, cold, hot, wet'),
        (["--answer", "colour=red"], 'question = "colour": must be one that the desk asks; known are: comp'),
        (["--cannot", "colour"], 'question = "colour": must be one that the desk asks'),
        (["--withdraw", "3"], "--case (not given): must be given; only a case that is kept can be closed"),
        (["--light", "seen.csv"], "--light = seen.csv: needs a job; give the job file before it"),
        (["--drive", "run.csv"], "--drive = run.csv: needs a job; give the job file before it"),
        ([JOB, "--drive", "away.csv"], "away.csv"),
        (["--sheet", "next.txt"], "--sheet = next.txt: must end in .pdf or .html"),
        (["--knowledge", "away.toml"], "away.toml: can't be read"),
        (["--paper", "a5"], '--paper = "a5": must be'),
    ],
)
def test_what_cannot_be_used_is_told_in_a_sentence(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["desk", *arguments]) == REFUSED
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err


def test_a_case_that_is_not_there_and_a_cause_that_nobody_knows_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = ("--shop", str(tmp_path), "--who", "A. Example")
    assert main(["desk", "--case", "9", *shop, "--answer", "when=hot"]) == REFUSED
    assert "there is no case 9 in this store" in capsys.readouterr().err
    assert main(["desk", "--case", "9", *shop, "--closed-as", "gremlins"]) == REFUSED
    assert 'cause = "gremlins": must be one of' in capsys.readouterr().err


def test_no_sheet_is_written_where_there_is_no_test_to_send(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ("complaint=misfire-advance", "when=speed", "changed=distributor", "rotor-meets-post=off")
    arguments = [each for answer in given for each in ("--answer", answer)]
    assert main(["desk", *arguments, "--sheet", str(tmp_path / "next.pdf")]) == REFUSED
    assert "needs a test to send, and the desk asks for none now" in capsys.readouterr().err
