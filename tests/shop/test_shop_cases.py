"""Cases of the desk in the store: nothing is lost, and what is withdrawn counts as if never said."""

from __future__ import annotations

from pathlib import Path

import pytest

from databases import BENCH, Here
from sparkwright.desk.advice import advise
from sparkwright.desk.case import Entry, closed_counts
from sparkwright.desk.knowledge_files import shipped_knowledge
from sparkwright.errors import Refusal
from sparkwright.shop import NotThereError, open_shop


def answer(question: str, words: str) -> Entry:
    return Entry(0, "answer", question, words)


def test_a_case_keeps_questions_answers_and_words_in_their_order(here: Here) -> None:
    with here.open() as shop:
        job = shop.jobs.create(BENCH, who="A. Example", why="")
        opened = shop.cases.open(" A caller with a four ", who="A. Example", job=job.key)
        said = [
            answer("complaint", "no-start"),
            Entry(0, "cannot", "changed"),
            Entry(0, "words", text="It smells of pears"),
        ]
        shop.cases.add(opened.id, said, who="A. Example")
    with here.open() as shop:
        kept = shop.cases.case(opened.id)
        assert (kept.name, kept.job) == ("A caller with a four", job.key)
        assert [(each.kind, each.question, each.answer, each.text, each.who) for each in kept.entries] == [
            ("answer", "complaint", "no-start", "", "A. Example"),
            ("cannot", "changed", "", "", "A. Example"),
            ("words", "", "", "It smells of pears", "A. Example"),
        ]
        assert kept.own_words == ("It smells of pears",)
        assert shop.check() == []


def test_a_withdrawn_answer_stays_to_be_read_and_ranks_as_if_never_given(tmp_path: Path) -> None:
    known = shipped_knowledge()
    with open_shop(tmp_path) as shop:
        opened = shop.cases.open("Caller", who="A. Example")
        before = shop.cases.add(opened.id, [answer("complaint", "hunts")], who="A. Example")
        more = shop.cases.add(opened.id, [answer("when", "idle")], who="A. Example")
        back = [Entry(0, "withdrawn", withdraws=more.entries[-1].id)]
        after = shop.cases.add(opened.id, back, who="A. Example")
        assert len(after.entries) == 3
        assert advise(known, after).causes == advise(known, before).causes
        assert advise(known, more).causes != advise(known, before).causes
        with pytest.raises(NotThereError, match=f"nothing stands under the number {more.entries[-1].id}"):
            shop.cases.add(opened.id, back, who="A. Example")


def test_closed_cases_count_and_an_outcome_taken_back_counts_no_more(here: Here) -> None:
    with here.open() as shop:
        for _ in range(2):
            opened = shop.cases.open("Caller", who="A. Example")
            closed = shop.cases.add(opened.id, [Entry(0, "closed", answer="cap-track")], who="A. Example")
        assert shop.cases.closed() == {"cap-track": 2} == closed_counts(shop.cases.newest())
        again = shop.cases.add(opened.id, [Entry(0, "closed", answer="coil-hot")], who="A. Example")
        assert again.closed_as == "coil-hot"
        assert shop.cases.closed() == {"cap-track": 1, "coil-hot": 1} == closed_counts(shop.cases.newest())
        back = [Entry(0, "withdrawn", withdraws=each.id) for each in (*closed.entries, *again.entries[-1:])]
        undone = shop.cases.add(opened.id, back, who="A. Example")
        assert undone.closed_as is None
        assert shop.cases.closed() == {"cap-track": 1} == closed_counts(shop.cases.newest())


def test_the_newest_come_first_page_by_page_and_by_job(tmp_path: Path) -> None:
    with open_shop(tmp_path) as shop:
        job = shop.jobs.create(BENCH, who="A. Example", why="")
        numbers = [
            shop.cases.open(f"Caller {each}", who="A. Example", job=job.key if each == 1 else None).id
            for each in range(3)
        ]
        assert [each.id for each in shop.cases.newest(2)] == numbers[:0:-1]
        assert [each.id for each in shop.cases.newest(2, before=numbers[1])] == [numbers[0]]
        assert [each.id for each in shop.cases.newest(job=job.key)] == [numbers[1]]


def test_what_cannot_be_kept_is_told_and_nothing_of_it_is_kept(tmp_path: Path) -> None:
    with open_shop(tmp_path) as shop:
        with pytest.raises(Refusal, match="must be 1 to 120 characters"):
            shop.cases.open(" ", who="A. Example")
        with pytest.raises(NotThereError, match="there is no case 7"):
            shop.cases.case(7)
        opened = shop.cases.open("Caller", who="A. Example")
        long = Entry(0, "words", text="x" * 501)
        with pytest.raises(Refusal, match="must be at most 500 characters"):
            shop.cases.add(opened.id, [answer("when", "hot"), long], who="A. Example")
        assert shop.cases.case(opened.id).entries == ()


def test_a_case_comes_back_with_the_backup(tmp_path: Path) -> None:
    from sparkwright.shop.backup import restore

    with open_shop(tmp_path / "shop") as shop:
        opened = shop.cases.open("Caller", who="A. Example")
        said = shop.cases.add(opened.id, [answer("when", "hot")], who="A. Example")
        gone = [Entry(0, "withdrawn", withdraws=said.entries[0].id)]
        kept = shop.cases.add(opened.id, gone, who="A. Example")
        shop.backup(tmp_path / "all.zip")
    restore(tmp_path / "all.zip", tmp_path / "again")
    with open_shop(tmp_path / "again") as shop:
        assert shop.cases.case(opened.id) == kept
