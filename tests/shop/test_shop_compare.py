"""Two revisions held against each other: every fact that differs, and no other."""

from __future__ import annotations

import time
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from databases import BENCH
from sparkwright.job import Job
from sparkwright.shop.compare import ChangedFact, changed_facts, changed_lines

PEG = '\n[[pegs]]\nrpm = 3000\nkpa = 45\nadvance_deg = 30\nreason = "surged"\n'
OTHER_PEG = '\n[[pegs]]\nrpm = 2000\nkpa = 45\nadvance_deg = 28\nreason = "pinked"\n'
CELLS = "\n[controller]\nrpm = [1000, 2000]\nkpa = [40, 90]\n"
HAND = "\n[[hand]]\nrpm = 2000\nkpa = 90\nadvance_deg = 20\n"


def changes(old: str, new: str) -> list[ChangedFact]:
    return changed_facts(Job.from_toml(old), Job.from_toml(new))


def one(old: str, new: str) -> tuple[str, str, str, str, str]:
    (fact,) = changes(old, new)
    return fact.section, fact.key, fact.label, str(fact.old), str(fact.new)


def test_nothing_differs_from_itself() -> None:
    assert changes(BENCH + PEG, BENCH + PEG) == []


def test_order_units_and_comments_are_no_facts() -> None:
    same = BENCH.replace('bore = "3.921 in"', 'bore = "99.5934 mm"') + "# seen\n"
    assert changes(BENCH, same) == []
    assert changes(BENCH + PEG + OTHER_PEG, BENCH + OTHER_PEG + PEG) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("ron = 95", "ron = 98", ("fuel", "ron", "Research octane number (RON)", "95", "98")),
        (
            'bore = "3.921 in"',
            'bore = "3.951 in"',
            ("engine", "bore", "Bore", "99.5934 mm", "100.3554 mm"),
        ),
        (
            'name = "Bench engine"',
            'name = "Pump engine"',
            ("", "name", "Name of the job", "Bench engine", "Pump engine"),
        ),
        ("invented = true", "invented = false", ("", "invented", "Invented engine, an example", "yes", "no")),
        ("invented = true\n", "", ("", "invented", "Invented engine, an example", "yes", "no (assumed)")),
        (
            "[pickup]",
            '[battery]\nrunning = "13.8 V"\n\n[pickup]',
            ("battery", "running", "Voltage, engine running", "13.8 V (assumed)", "13.8 V"),
        ),
        (
            "base_deg = 10",
            "base_deg = 10\nrotor_phase_deg = 4",
            ("distributor", "rotor_phase_deg", "Rotor phase, distributor deg", "0 (assumed)", "4"),
        ),
        (
            "[plugs]",
            '[customer]\nname = "Example brigade"\n\n[plugs]',
            ("customer", "name", "Name of the customer", "not given", "Example brigade"),
        ),
    ],
)
def test_a_changed_fact_is_told_both_ways(old: str, new: str, told: tuple[str, str, str, str, str]) -> None:
    changed = BENCH.replace(old, new)
    assert changed != BENCH
    assert one(BENCH, changed) == told
    assert one(changed, BENCH) == (*told[:3], told[4], told[3])


def test_a_peg_is_told_by_its_place_in_the_map() -> None:
    moved = PEG.replace("advance_deg = 30", "advance_deg = 32")
    assert one(BENCH + PEG + OTHER_PEG, BENCH + OTHER_PEG + moved) == (
        "pegs",
        "3000 rpm, 45 kPa",
        "Pegs 3000 rpm, 45 kPa",
        "advance deg 30, reason surged",
        "advance deg 32, reason surged",
    )
    assert one(BENCH, BENCH + PEG)[3:] == ("not given", "advance deg 30, reason surged")
    assert one(BENCH + PEG, BENCH)[3:] == ("advance deg 30, reason surged", "not given")


def test_two_pegs_at_one_place_are_both_told() -> None:
    second = PEG.replace("surged", "again")
    assert one(BENCH + PEG, BENCH + PEG + second)[1] == "3000 rpm, 45 kPa (2)"


def test_a_cell_set_by_hand_is_told_by_its_place_in_the_map() -> None:
    changed = HAND.replace("advance_deg = 20", 'advance_deg = 21\nby = "A. Example"')
    assert one(BENCH + CELLS + HAND, BENCH + CELLS + changed) == (
        "hand",
        "2000 rpm, 90 kPa",
        "Hand 2000 rpm, 90 kPa",
        "advance deg 20",
        "advance deg 21, by A. Example",
    )


def test_changes_come_in_the_order_of_the_job_file() -> None:
    changed = BENCH.replace("ron = 95", "ron = 98").replace("base_deg = 10", "base_deg = 8")
    changed = changed.replace("Bench engine", "Other")
    assert [fact.label for fact in changes(BENCH, changed + PEG)] == [
        "Name of the job",
        "Research octane number (RON)",
        "Base, deg",
        "Pegs 3000 rpm, 45 kPa",
    ]


def said_lines(old: str, new: str) -> list[str]:
    marks = {"out": "-", "in": "+", "beside": " ", "more": "..."}
    return [marks[line.what] + line.text for line in changed_lines(old, new)]


def test_lines_that_differ_come_with_two_beside_them() -> None:
    old = "".join(f"{letter}\n" for letter in "abcdefghijkl")
    assert said_lines(old, old) == []
    assert said_lines(old, old.replace("\n", "\r\n")) == []
    assert said_lines(old, old.replace("f\n", "f # new\n")) == [
        *["...", " d", " e", "-f", "+f # new", " g", " h", "..."]
    ]
    twice = old.replace("b\n", "").replace("j\n", "j\nj2\n")
    assert said_lines(old, twice) == [" a", "-b", " c", " d", "...", " i", " j", "+j2", " k", " l"]
    near = old.replace("b\n", "").replace("g\n", "G\n")
    assert said_lines(old, near) == [" a", "-b", " c", " d", " e", " f", "-g", "+G", " h", " i", "..."]
    assert said_lines("a\n", "") == ["-a"]


@given(old=st.lists(st.sampled_from("abc")), new=st.lists(st.sampled_from("abc")))
def test_lines_taken_out_and_put_in_turn_one_text_into_the_other(old: list[str], new: list[str]) -> None:
    found = changed_lines("\n".join(old), "\n".join(new))
    outs, ins = (Counter(line.text for line in found if line.what == what) for what in ("out", "in"))
    before, after = Counter(old), Counter(new)
    before.subtract(outs)
    after.subtract(ins)
    assert before == after


def test_texts_made_to_take_long_are_compared_at_once() -> None:
    old = "".join(f"# {place % 7} {place}\n" for place in range(60_000))
    new = "".join(f"# {place % 7} {place + place % 2}\n" for place in range(60_000))
    started = time.perf_counter()
    found = changed_lines(old, new)
    assert time.perf_counter() - started < 2.0
    assert [line.text for line in found if line.what == "in"] == new.splitlines()[1:]
