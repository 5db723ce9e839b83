"""Findings are told by one writer, in the person's units, from kind and numbers alone."""

from __future__ import annotations

import ast
import pickle
import re
from pathlib import Path
from typing import get_args

import pytest

from sparkwright.check.hardware import check_hardware
from sparkwright.findings import WORST_FIRST, Finding, State, Value, each_once, worst
from sparkwright.job import Job
from sparkwright.job.names import FIELDS
from sparkwright.words.told import STATE_WORDS, WRITERS, told
from telling import action_of, sentence_of

SOURCE = Path(__file__).parents[2] / "src" / "sparkwright"
EXAMPLES = Path(__file__).parents[2] / "examples"
PUMP_HOUSE = Job.load(EXAMPLES / "pump-house-v8.toml")


def test_a_length_is_told_in_the_persons_units() -> None:
    """By hand: 3.81 mm are 0.150 in."""
    move = {"move_distributor_deg": 7.4, "move_mm": 3.81, "move_tip_fraction": 0.6}
    needed = {"least_needed_deg": 10.0, "most_needed_deg": 34.0}
    short = {"reach_deg": 26.0, "above_base_deg": 16.0, "missing_deg": 8.0}
    then = {"phased_from_deg": 6.0, "phased_to_deg": 38.0}
    found = Finding("rotor.runs-out", "problem", {**short, **move, **needed, **then})
    assert "ahead, in the direction of rotation, 3.8 mm at the tip" in action_of(found)
    assert "ahead, in the direction of rotation, 0.150 in at the tip" in action_of(found, "inch")
    assert sentence_of(found) == sentence_of(found, "inch"), "angles stay as they are"


def test_the_worst_leads_and_the_first_of_two_alike() -> None:
    good = Finding("wiring.done", "good")
    look, other = Finding("rotor.advance-free", "look"), Finding("rotor.vacuum-connected", "look")
    assert worst([good, look, other]) is look
    assert worst([good]) is good


def test_equal_findings_are_one_and_their_numbers_tell_them_apart() -> None:
    one, same = (Finding("coil.never-full", "problem", {"current_a": 7.0}) for _ in range(2))
    other = Finding("coil.never-full", "problem", {"current_a": 8.0})
    assert each_once([one, same, other]) == (one, other)


def test_a_finding_crosses_to_another_process_whole() -> None:
    found = check_hardware(PUMP_HOUSE).verdicts
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_finding_without_a_number_that_it_needs_is_not_told() -> None:
    with pytest.raises(TypeError, match="most_w"):
        told(Finding("coil.heat-not-stated", "look"))


def test_the_subject_of_a_kind_is_its_topic() -> None:
    turn = {"rpm": 5000.0, "burning_ms": 1.0, "turn_distributor_deg": 15.0, "ends_over_post_from_deg": None}
    assert told(Finding("late-end.turns-on", "good", turn)).topic == "late end"
    assert all(kind.count(".") == 1 for kind in WRITERS)


def test_the_way_at_the_rim_is_told_in_the_persons_units() -> None:
    """By hand: 2.54 mm at a rim of 63.5 mm are 0.100 in and 2.500 in."""
    size: dict[str, Value] = {
        "value": 4.6,
        "low": 4.0,
        "high": 5.2,
        "mark_proved": True,
        "rotation": "clockwise",
    }
    found = Finding("offset.to-turn", "problem", {**size, "rim_mm": 2.54, "rim_diameter_mm": 63.5})
    assert "2.5 mm at its rim of 63.5 mm; tighten" in action_of(found)
    assert "0.100 in at its rim of 2.500 in; tighten" in action_of(found, "inch")


def test_what_is_settled_or_unsure_asks_for_no_hand() -> None:
    size: dict[str, Value] = {"real": True, "value": 0.6, "low": 0.4, "high": 0.8}
    settled = Finding("offset.small", "good", {**size, "settled": True})
    assert sentence_of(settled).endswith("too small to matter. It is within what is wanted.")
    assert action_of(settled) == ""


ROOMS = ("check", "plan", "edit", "light", "mounting", "dyno", "drive", "learn", "desk", "web")
KIND = re.compile(r"[a-z]+(?:-[a-z]+)*\.[a-z]+(?:-[a-z]+)*")
MAKERS = {"Finding", "_look", "_said", "_seen", "_put_right", "_the_most"}


def kinds_made() -> set[str]:
    """Every kind that a room names where it makes a finding; one that is put together there is left out."""
    found = set()
    for room in ROOMS:
        for path in (SOURCE / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS:
                    named = ast.walk(node.args[0]) if node.args else ()
                    found |= {each.value for each in named if isinstance(each, ast.Constant)}
    return {each for each in found if isinstance(each, str) and KIND.fullmatch(each)}


def test_every_finding_that_is_made_can_be_told() -> None:
    made = kinds_made()
    assert len(made) > 80
    assert made <= WRITERS.keys()


def test_no_room_below_the_words_reads_or_imports_them() -> None:
    for room in ("check", "plan", "edit", "light", "mounting", "dyno", "drive", "learn", "desk"):
        for path in (SOURCE / room).rglob("*.py"):
            assert "sparkwright.words" not in path.read_text(encoding="utf-8"), path


def test_every_state_has_one_word_for_people() -> None:
    assert set(get_args(State)) == set(WORST_FIRST) == set(STATE_WORDS)
    assert len(set(STATE_WORDS.values())) == 4


def texts_of(source: Path) -> list[str]:
    """Give the texts of a module that are no docstring and no key of a dictionary."""
    tree = ast.parse(source.read_text(encoding="utf-8"))
    keys = {id(key) for node in ast.walk(tree) if isinstance(node, ast.Dict) for key in node.keys}
    docs = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and " " in node.value
        and id(node) not in keys | docs
    ]


@pytest.mark.parametrize("room", ["dyno", "learn"])
def test_what_was_measured_and_learned_is_data_until_it_is_told(room: str) -> None:
    """Of whole sentences none stands in these rooms; what refuses a file is fragments without a full stop."""
    texts = [text for source in sorted((SOURCE / room).glob("*.py")) for text in texts_of(source)]
    assert [text for text in texts if text.endswith(".")] == []


@pytest.mark.parametrize("room", ["words", "sheets"])
def test_no_sentence_for_a_person_names_a_key_of_the_file(room: str) -> None:
    """A key with an underscore is no word of any language; its label is."""
    keys = {key for name in FIELDS if "_" in (key := name.rpartition(".")[2])}
    found = [
        (source.name, text)
        for source in sorted((SOURCE / room).glob("*.py"))
        for text in texts_of(source)
        if keys & set(re.findall(r"[a-z][a-z_0-9]+", text))
    ]
    assert found == []
