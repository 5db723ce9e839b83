"""The desk's files: what ships is whole, and what a shop adds is refused where it can't be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from sparkwright.check.result import HardwareResult
from sparkwright.desk.knowledge import SOMETHING_ELSE, Knowledge
from sparkwright.desk.knowledge_files import read_knowledge, shipped_knowledge
from sparkwright.errors import Refusal
from sparkwright.words.told import WRITERS

GOOD = """
[[test]]
id = "sniff"
name = "Smell at the vent"
right = "fresh"
minutes = 1
at = ["cap"]
tools = ["nose"]
how = ["Engine off. Smell at the cap's vent."]
expected = "No smell of ozone."
cautions = ["high-voltage"]
answers = [{ id = "fresh", words = "Fresh", usual = 0.9 }, { id = "ozone", words = "Ozone", usual = 0.1 }]

[[cause]]
id = "vent-shut"
name = "The cap's vent is shut"
prior = 1.0
origin = "this shop's own count"
prove = "With the vent drilled open the miss is gone."
proof = { question = "sniff", answer = "ozone" }
mend = "Open the vent."
cautions = ["high-voltage"]
[cause.predicts]
complaint = { misfire-speed = 0.5 }
sniff = { ozone = 0.8 }
"""


def left_out(tmp_path: Path, text: str) -> tuple[Knowledge, str]:
    """Read a file of the shop's own, and give what is known then and what is told of it."""
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    known = read_knowledge(file)
    return known, "\n".join(str(each) for each in known.left_out)


def test_what_ships_covers_every_symptom_and_every_cause_has_a_proof() -> None:
    known = shipped_knowledge()
    complaints = {each.id for each in known.askable["complaint"].answers}
    told_of = {each for cause in known.causes for each in cause.predicts["complaint"]}
    assert complaints == told_of
    assert len(known.causes) >= 40
    for cause in known.causes:
        proof = known.askable[cause.proof.question]
        assert cause.prove
        assert cause.mend
        assert cause.predicts[proof.id][cause.proof.answer] >= 0.3
        assert cause.origin


def test_every_test_that_touches_high_voltage_says_so() -> None:
    for test in shipped_knowledge().tests:
        if {"coil", "coil-lead", "plug-leads", "cap", "plugs"} & set(test.at) and test.id not in (
            "coil-feed",
            "dwell-read",
        ):
            assert "high-voltage" in test.cautions, test.id


def test_every_kind_of_finding_that_counts_is_one_that_the_program_makes() -> None:
    for each in shipped_knowledge().findings:
        assert set(each.kinds) <= set(WRITERS), each.id
    assert HardwareResult.__dataclass_fields__["verdicts"]


def test_shares_of_every_question_make_one_with_every_cause() -> None:
    known = shipped_knowledge()
    for question, answers in known.likelihoods.items():
        for place, cause in enumerate(known.cause_ids):
            total = sum(each[place] for each in answers.values())
            assert total == pytest.approx(1.0, abs=1e-9), (question, cause)


def test_a_shop_adds_a_cause_and_a_test_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text(GOOD, encoding="utf-8")
    known = read_knowledge(tmp_path)
    assert "vent-shut" in known.cause_ids
    assert known.cause_ids[-1] == SOMETHING_ELSE
    assert known.askable["sniff"].ask == "Smell at the vent"
    assert known.by_id["vent-shut"].origin_of("sniff") == "this shop's own count"


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "ozone = 0.8",
            "ozone = 1.2",
            "own.toml, cause vent-shut, predicts.sniff.ozone = 1.2: must be above 0 and below 1; "
            "it is the share of engines with this cause that answer so",
        ),
        (
            'prove = "With the vent drilled open the miss is gone."',
            "",
            "own.toml, cause vent-shut, prove (not given): must be given; nobody mends what can't be proved",
        ),
        (
            'proof = { question = "sniff", answer = "ozone" }',
            "",
            "own.toml, cause vent-shut, proof (not given): must be given; nobody mends what can't be proved",
        ),
        (
            "sniff = { ozone = 0.8 }",
            "snif = { ozone = 0.8 }",
            "own.toml, cause vent-shut, predicts.snif: is no question, test or finding that the desk knows; "
            "correct the name, or add the test",
        ),
        (
            "misfire-speed = 0.5",
            "misfires = 0.5",
            "own.toml, cause vent-shut, predicts.complaint = misfires: must be one of no-start, kick-back",
        ),
        (
            "misfire-speed = 0.5",
            "misfire-speed = 0.6, hunts = 0.6",
            "own.toml, cause vent-shut, predicts.complaint = 1.2 in all: must leave something to the others",
        ),
        (
            'id = "vent-shut"',
            'id = "cap-track"',
            "own.toml, cause cap-track: has the id of one in causes-cap.toml; give it an id of its own",
        ),
        (
            "usual = 0.9 }",
            "usual = 0.8 }",
            "own.toml, test sniff, usual = 0.9 in all: must make 1 over its answers",
        ),
        (
            'right = "fresh"',
            'right = "sweet"',
            "own.toml, test sniff, right = sweet: must be one of fresh, ozone",
        ),
        (
            'right = "fresh"',
            'right = "fresh"\nstates = ["cap.vent"]',
            "own.toml, test sniff, states = cap.vent: must be a key of the job, such as plugs.gap",
        ),
        (
            'cautions = ["high-voltage"]\n[cause',
            'cautions = ["volts"]\n[cause',
            "own.toml, cause vent-shut, cautions.1 = volts: must be 'high-voltage', 'moving-parts'",
        ),
        ("prior = 1.0", "prior = 1.0\nprio = 2", "own.toml, cause vent-shut, prio = 2: is not known here"),
        ("prior = 1.0", "prior = ", "own.toml: is not TOML: "),
    ],
)
def test_an_entry_that_cannot_be_used_is_told_with_place_and_what_to_do_and_all_else_counts(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    assert GOOD.count(old) == 1
    known, told = left_out(tmp_path, GOOD.replace(old, new))
    assert sentence in told
    assert "vent-shut" not in known.cause_ids
    assert set(shipped_knowledge().cause_ids) <= set(known.cause_ids)
    assert set(shipped_knowledge().askable) <= set(known.askable)


def test_a_cause_is_used_though_the_one_before_it_in_the_file_is_left_out(tmp_path: Path) -> None:
    other = GOOD[GOOD.index("[[cause]]") :].replace("vent-shut", "vent-wet").replace("= 0.5", "= 1.2")
    known, told = left_out(tmp_path, other + GOOD)
    assert [each.partition(",")[2].partition(" =")[0] for each in told.splitlines()] == [
        " cause vent-wet, predicts.complaint.misfire-speed"
    ]
    assert "vent-shut" in known.cause_ids
    assert "vent-wet" not in known.cause_ids


def test_every_slip_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("ozone = 0.8", "ozone = 1.2").replace('prove = "With', 'proved = "With')
    _, told = left_out(tmp_path, text + "\n[[couse]]\nid = 'a'\n")
    assert len(told.splitlines()) == 4
    assert "own.toml, couse: must be one of question, test, finding, cause, contradiction" in told


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('[cause]\nid = "worn"\n', "own.toml, cause: must be written [[cause]], in two brackets"),
        ('cause = ["worn"]\n', "own.toml, cause 1 = worn: can't be used (input should be a valid dictionary"),
        (
            '[[cause]]\nid = "Worn Out"\n',
            "own.toml, cause Worn Out, id = Worn Out: can't be used (string",
        ),
        ('[[cause]]\nname = "Worn"\n', "own.toml, cause 1, id (not given): must be given"),
    ],
)
def test_an_entry_written_in_another_form_is_told(tmp_path: Path, text: str, sentence: str) -> None:
    known, told = left_out(tmp_path, text)
    assert sentence in told
    assert known.causes == shipped_knowledge().causes


def test_a_cause_may_not_call_itself_something_else(tmp_path: Path) -> None:
    known, told = left_out(tmp_path, GOOD.replace('id = "vent-shut"', f'id = "{SOMETHING_ELSE}"'))
    assert told.startswith("own.toml, cause something-else: has the id of all that the desk doesn't know")
    assert known.cause_ids == shipped_knowledge().cause_ids


def test_what_the_documentation_writes_as_a_file_of_a_shop_can_be_used(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "docs" / "desk.md").read_text(encoding="utf-8")
    known, told = left_out(tmp_path, text.split("```toml\n")[1].split("```")[0])
    assert told == ""
    assert "vent-shut" in known.cause_ids


def test_all_that_ships_can_be_used() -> None:
    assert shipped_knowledge().left_out == ()


def test_a_folder_without_files_and_a_file_that_is_not_there_are_told(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"has no file ending in \.toml"):
        read_knowledge(tmp_path)
    with pytest.raises(Refusal, match="can't be read"):
        read_knowledge(tmp_path / "away.toml")


@pytest.mark.parametrize(
    ("question", "answer", "sentence"),
    [
        ("colour", "red", 'question = "colour": must be one that the desk asks; known are: complaint, when'),
        ("when", "often", 'when = "often": must be one of always, cranking, cold'),
    ],
)
def test_an_answer_that_nobody_could_give_is_refused(question: str, answer: str, sentence: str) -> None:
    with pytest.raises(Refusal) as told:
        shipped_knowledge().require_known(question, answer)
    assert sentence in str(told.value)
