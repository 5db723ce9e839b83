"""Jobs and their revisions, in SQLite and in PostgreSQL alike."""

from __future__ import annotations

import os
import pickle
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import event, text
from sqlalchemy.exc import DBAPIError

from databases import BENCH, Here
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import Job
from sparkwright.shop import NotThereError, Revision, SavedElsewhereError, Shop, ShopError, open_shop

CAUTIONS = ("High voltage can kill.", "Prove every value with a light.")


def named(name: str) -> str:
    return BENCH.replace('"Bench engine"', f'"{name}"')


def started(shop: Shop) -> Revision:
    return shop.jobs.create(BENCH, who="A. Example", why="engine came in")


def said(refusal: pytest.ExceptionInfo[Exception]) -> str:
    problem = refusal.value
    return problem.on_this_machine if isinstance(problem, SparkwrightError) else str(problem)


# Start, save, read


def test_a_job_is_kept_to_the_letter(shop: Shop) -> None:
    given = BENCH + "\r\n# µ, ü and 点火\r\n"
    before = datetime.now(UTC)
    first = shop.jobs.create(given, who=" A. Example ", why=" engine came in ")
    assert (first.key, first.number, first.name) == ("bench-engine", 1, "Bench engine")
    assert (first.text, first.who, first.why) == (given, "A. Example", "engine came in")
    assert first.fingerprint == Job.from_toml(given).fingerprint
    assert first.when.tzinfo is UTC
    assert before <= first.when <= datetime.now(UTC)
    assert (first.handed_over, first.handed_over_by, first.acknowledged) == (False, None, ())
    assert shop.jobs.latest("bench-engine") == first
    assert shop.jobs.revision("bench-engine", 1) == first


def test_a_revision_gives_its_job_and_reads_it_once(shop: Shop) -> None:
    first = started(shop)
    assert first.job == Job.from_toml(BENCH)
    assert shop.jobs.latest(first.key).job is first.job


def test_what_was_saved_is_there_for_the_next_who_opens(here: Here) -> None:
    with here.open() as shop:
        key = started(shop).key
    with here.open() as shop:
        assert shop.jobs.latest(key).text == BENCH


def test_every_change_is_a_revision_and_none_is_overwritten(shop: Shop) -> None:
    key = started(shop).key
    texts = [BENCH + f"# change {number}\n" for number in range(2, 6)]
    for number, changed in enumerate(texts, 2):
        saved = shop.jobs.save(key, changed, who="B. Example", why=f"change {number}", based_on=number - 1)
        assert saved.number == number
    assert [line.number for line in shop.jobs.history(key)] == [5, 4, 3, 2, 1]
    assert shop.jobs.history(key)[0].why == "change 5"
    assert [shop.jobs.revision(key, number).text for number in range(1, 6)] == [BENCH, *texts]


def test_a_job_keeps_its_key_when_its_name_changes(shop: Shop) -> None:
    key = started(shop).key
    changed = shop.jobs.save(key, named("Pump engine"), who="A. Example", why="renamed", based_on=1)
    assert (changed.key, changed.name) == (key, "Pump engine")
    (line,) = shop.jobs.lines()
    assert (line.key, line.name, line.number) == (key, "Pump engine", 2)


def test_two_jobs_of_one_name_get_two_keys(shop: Shop) -> None:
    names = ["Bench engine", "Bench engine 2", "Bench engine", "bench  ENGINE!", "点火", "???"]
    keys = [shop.jobs.create(named(name), who="A. Example", why="").key for name in names]
    assert keys == ["bench-engine", "bench-engine-2", "bench-engine-3", "bench-engine-4", "job", "job-2"]


def test_an_old_revision_is_brought_back_as_a_new_one(shop: Shop) -> None:
    key = started(shop).key
    shop.jobs.save(key, BENCH + "# worse\n", who="A. Example", why="tried", based_on=1)
    back = shop.jobs.bring_back(key, 1, who="B. Example", why="it was better", based_on=2)
    assert (back.number, back.text, back.who) == (3, BENCH, "B. Example")
    assert shop.jobs.revision(key, 2).text == BENCH + "# worse\n"


# The list of jobs


def test_the_list_shows_the_job_changed_last_first(shop: Shop) -> None:
    for name in ("One", "Two", "Three"):
        shop.jobs.create(named(name), who="A. Example", why="")
    shop.jobs.save("one", named("One") + "#\n", who="B. Example", why="", based_on=1)
    assert [line.name for line in shop.jobs.lines()] == ["One", "Three", "Two"]
    first = shop.jobs.lines()[0]
    assert (first.number, first.who, first.engine) == (2, "B. Example", "5.7 l V8, 9:1")
    assert (first.invented, first.handed_over, first.imported_by) == (True, False, None)
    assert first.when == shop.jobs.latest("one").when


def test_the_list_comes_in_pages(shop: Shop) -> None:
    for number in range(7):
        shop.jobs.create(named(f"Job {number}"), who="A. Example", why="")
    pages, after = [], None
    while page := shop.jobs.lines(limit=3, after=after):
        pages.append([line.name for line in page])
        after = page[-1].key
    assert pages == [["Job 6", "Job 5", "Job 4"], ["Job 3", "Job 2", "Job 1"], ["Job 0"]]
    assert shop.jobs.lines(limit=0) == []
    assert shop.jobs.lines(after="no-such-job") == []


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("", 3),
        ("PUMP", 2),
        ("pump ladder", 1),
        ("ladder pump", 1),
        ("example 1", 1),
        ("ZÜNDUNG", 1),
        ("v8", 3),
        ("100%", 1),
        ("%", 1),
        ("_", 0),
        ("\\", 0),
        ("\0", 0),
        ("\ud800", 0),
        ("nowhere", 0),
    ],
)
def test_a_search_finds_jobs_with_all_its_words(shop: Shop, search: str, found: int) -> None:
    customer = '\n[customer]\nname = "Example brigade"\nvehicle = "Ladder"\nplate = "EXAMPLE 1"\n'
    shop.jobs.create(named("Pump engine") + customer, who="A. Example", why="")
    shop.jobs.create(named("Pump, 100% spare"), who="A. Example", why="")
    shop.jobs.create(named("Zündung"), who="A. Example", why="")
    assert len(shop.jobs.lines(search=search)) == shop.jobs.count(search) == found


@pytest.mark.parametrize("limit", [-1, 10_001, 10**30])
def test_a_page_has_a_size_that_can_be(shop: Shop, limit: int) -> None:
    with pytest.raises(Refusal, match="must be 0 to 10000; ask for the next page with after"):
        shop.jobs.lines(limit=limit)


# Two people at once


def test_who_saves_second_is_told_and_loses_nothing(shop: Shop) -> None:
    key = started(shop).key
    theirs = shop.jobs.save(key, BENCH + "# theirs\n", who="A. Example", why="gap", based_on=1)
    with pytest.raises(SavedElsewhereError) as refusal:
        shop.jobs.save(key, BENCH + "# mine\n", who="B. Example", why="coil", based_on=1)
    assert said(refusal) == (
        "A. Example saved revision 2 of this job while you worked on revision 1; yours is kept beside it, "
        "nothing is lost; compare the two and save again"
    )
    assert refusal.value.theirs == theirs == shop.jobs.latest(key)
    (kept,) = shop.jobs.kept(key)
    assert refusal.value.kept == kept
    assert (kept.text, kept.who, kept.why, kept.based_on) == (BENCH + "# mine\n", "B. Example", "coil", 1)
    assert pickle.loads(pickle.dumps(refusal.value)).kept == kept


def test_a_kept_text_stays_until_somebody_drops_it(shop: Shop) -> None:
    key = started(shop).key
    shop.jobs.save(key, BENCH + "#\n", who="A. Example", why="", based_on=1)
    for mine in ("# one\n", "# two\n"):
        with pytest.raises(SavedElsewhereError):
            shop.jobs.save(key, BENCH + mine, who="B. Example", why="", based_on=1)
    first, second = shop.jobs.kept(key)
    shop.jobs.save(key, first.text, who="B. Example", why="after all", based_on=2)
    assert shop.jobs.kept(key) == [first, second]
    shop.jobs.drop_kept(first.id)
    assert shop.jobs.kept(key) == [second]
    with pytest.raises(NotThereError, match=f"there is no kept text {first.id}; it may have been dropped"):
        shop.jobs.drop_kept(first.id)


@pytest.mark.parametrize("same_store", [True, False], ids=["threads of one", "two that opened it"])
def test_of_many_who_save_at_once_one_wins_and_all_is_kept(here: Here, same_store: bool) -> None:
    people = 8
    with here.open() as shop:
        key = started(shop).key
        stores = [shop if same_store else here.open() for _ in range(people)]
        ready = threading.Barrier(people)

        def save(number: int) -> str:
            ready.wait()
            try:
                mine = BENCH + f"# {number}\n"
                stores[number].jobs.save(key, mine, who=f"P{number}", why="", based_on=1)
            except SavedElsewhereError as refusal:
                return f"kept {refusal.kept.text[-3:-1]}"
            return "saved"

        with ThreadPoolExecutor(people) as pool:
            outcomes = list(pool.map(save, range(people)))
        assert outcomes.count("saved") == 1
        winner = outcomes.index("saved")
        assert shop.jobs.latest(key).text == BENCH + f"# {winner}\n"
        assert len(shop.jobs.history(key)) == 2
        kept = {each.text for each in shop.jobs.kept(key)}
        assert kept == {BENCH + f"# {number}\n" for number in range(people) if number != winner}
        assert shop.check() == []
        for each in stores:
            each.close()


def test_many_who_start_jobs_of_one_name_all_get_one(here: Here) -> None:
    with here.open() as shop, ThreadPoolExecutor(8) as pool:
        keys = list(pool.map(lambda _: started(shop).key, range(24)))
        assert len(set(keys)) == shop.jobs.count() == 24


def test_who_reads_sees_whole_changes_only(shop: Shop) -> None:
    """The list and the history of a job agree at every moment while somebody else saves."""
    key = started(shop).key
    over = threading.Event()

    def save() -> None:
        for number in range(1, 40):
            shop.jobs.save(key, BENCH + f"# {number}\n", who="A. Example", why="", based_on=number)
        over.set()

    writer = threading.Thread(target=save)
    writer.start()
    seen = 0
    while not over.is_set():
        latest = shop.jobs.latest(key)
        assert latest.number >= seen
        assert latest.number == 1 or latest.text.endswith(f"# {latest.number - 1}\n")
        seen = latest.number
    writer.join()
    assert shop.jobs.latest(key).number == 40


# Handing over


def test_a_hand_over_says_who_signed_what_and_when(shop: Shop) -> None:
    key = started(shop).key
    signed = shop.jobs.hand_over(
        key, 1, who="A. Example", acknowledged=CAUTIONS, signed_for="Example workshop"
    )
    assert (signed.handed_over, signed.handed_over_by) == (True, "A. Example")
    assert (signed.acknowledged, signed.signed_for) == (CAUTIONS, "Example workshop")
    assert signed.handed_over_when is not None
    assert timedelta(0) <= signed.handed_over_when - signed.when < timedelta(minutes=1)
    assert shop.jobs.history(key)[0].acknowledged == CAUTIONS
    assert shop.jobs.lines()[0].handed_over


def test_a_change_after_the_hand_over_is_a_new_revision(shop: Shop) -> None:
    key = started(shop).key
    signed = shop.jobs.hand_over(key, 1, who="A. Example", acknowledged=CAUTIONS)
    changed = shop.jobs.save(key, BENCH + "#\n", who="A. Example", why="came back", based_on=1)
    assert not changed.handed_over
    assert not shop.jobs.lines()[0].handed_over
    assert shop.jobs.revision(key, 1) == signed


def test_an_older_revision_can_be_handed_over(shop: Shop) -> None:
    key = started(shop).key
    shop.jobs.save(key, BENCH + "#\n", who="A. Example", why="", based_on=1)
    assert shop.jobs.hand_over(key, 1, who="A. Example", acknowledged=CAUTIONS).handed_over
    assert not shop.jobs.lines()[0].handed_over


def test_nobody_hands_over_twice(shop: Shop) -> None:
    key = started(shop).key
    signed = shop.jobs.hand_over(key, 1, who="A. Example", acknowledged=CAUTIONS)
    with pytest.raises(ShopError) as refusal:
        shop.jobs.hand_over(key, 1, who="B. Example", acknowledged=CAUTIONS)
    assert said(refusal) == (
        "revision 1 of bench-engine was handed over by A. Example and is fixed; "
        "save a change as a new revision and hand that over"
    )
    assert shop.jobs.latest(key) == signed


@pytest.mark.parametrize(
    "attempt",
    [
        "UPDATE revisions SET text = 'name = 1'",
        "UPDATE revisions SET saved_by = 'X'",
        "DELETE FROM revisions",
        "UPDATE hand_overs SET signed_by = 'X'",
        "DELETE FROM hand_overs",
        "UPDATE attachments SET name = 'x'",
        "DELETE FROM attachments",
    ],
)
def test_the_database_itself_refuses_to_change_what_was_saved(
    here: Here, attempt: str, tmp_path: Path
) -> None:
    given = tmp_path / "run.csv"
    given.write_bytes(b"rpm\n800\n")
    with here.open() as shop:
        key = started(shop).key
        with given.open("rb") as stream:
            shop.files.attach(key, given.name, "drive", stream, who="A. Example")
        signed = shop.jobs.hand_over(key, 1, who="A. Example", acknowledged=CAUTIONS)
        never = pytest.raises(DBAPIError, match="what was saved is never changed")
        with never, shop.database._engine.begin() as connection:
            connection.execute(text(attempt))
        assert shop.jobs.latest(key) == signed
        assert len(shop.files.of_job(key)) == 1


# What can't stand


def test_a_text_that_is_no_job_is_refused_in_the_words_of_the_job_file(shop: Shop) -> None:
    wrong = BENCH.replace('"3.921 in"', "3.921")
    with pytest.raises(Refusal) as refusal:
        shop.jobs.create(wrong, who="A. Example", why="")
    assert said(refusal).startswith("engine.bore = 3.921: must have a unit, in quotes")
    assert shop.jobs.count() == 0
    key = started(shop).key
    with pytest.raises(Refusal):
        shop.jobs.save(key, wrong, who="A. Example", why="", based_on=1)
    assert len(shop.jobs.history(key)) == 1
    assert shop.jobs.kept(key) == []


@pytest.mark.parametrize(
    ("spoiled", "sentence"),
    [
        (BENCH + "# \ud800\n", "the job: holds half a character; paste the text again"),
        (BENCH + "# \0\n", "the job: is not a text file; a job file is plain text, saved as UTF-8"),
        (BENCH + "#" * 1_000_000, "the job: is longer than 1,000,000 bytes; a job is a few pages of text"),
        ("", "the job: is empty; `sparkwright new` writes a starter file to fill in"),
    ],
    ids=["half a character", "nul", "long", "empty"],
)
def test_a_text_that_no_file_could_hold_is_refused(shop: Shop, spoiled: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refusal:
        shop.jobs.create(spoiled, who="A. Example", why="")
    assert said(refusal) == sentence


@pytest.mark.parametrize(
    ("who", "why", "sentence"),
    [
        ("", "", 'who = "": must be 1 to 80 characters; write a name'),
        (" \t", "", 'who = "": must be 1 to 80 characters; write a name'),
        ("x" * 81, "", f'who = "{"x" * 40}...": must be at most 80 characters; it has 81'),
        ("A\0", "", 'who = "A\\x00": must hold only characters that print'),
        ("A\ud800", "", 'who = "A\\ud800": must hold only characters that print'),
        ("A. Example", "y" * 501, f'why = "{"y" * 40}...": must be at most 500 characters; it has 501'),
        ("A. Example", "one\ntwo", 'why = "one\\ntwo": must hold only characters that print'),
    ],
)
def test_who_and_why_must_be_words(shop: Shop, who: str, why: str, sentence: str) -> None:
    key = started(shop).key
    with pytest.raises(Refusal) as refusal:
        shop.jobs.create(BENCH, who=who, why=why)
    assert said(refusal) == sentence
    with pytest.raises(Refusal) as refusal:
        shop.jobs.save(key, BENCH, who=who, why=why, based_on=1)
    assert said(refusal) == sentence
    assert shop.jobs.count() == 1


def test_the_longest_words_are_taken(shop: Shop) -> None:
    first = shop.jobs.create(BENCH, who="x" * 80, why="y" * 500)
    assert (first.who, first.why) == ("x" * 80, "y" * 500)


@pytest.mark.parametrize(
    "key", ["nothing", "", "../x", "a\0", "A", "a\ud800", "x" * 5000, "a;drop table jobs"]
)
def test_a_job_that_is_not_there(shop: Shop, key: str) -> None:
    acts: tuple[Callable[[], object], ...] = (
        lambda: shop.jobs.latest(key),
        lambda: shop.jobs.revision(key, 1),
        lambda: shop.jobs.history(key),
        lambda: shop.jobs.kept(key),
        lambda: shop.jobs.save(key, BENCH, who="A. Example", why="", based_on=1),
        lambda: shop.jobs.hand_over(key, 1, who="A. Example", acknowledged=()),
        lambda: shop.evidence.of_job(key),
        lambda: shop.files.of_job(key),
    )
    for act in acts:
        with pytest.raises(NotThereError, match="there is no job"):
            act()


@pytest.mark.parametrize("number", [0, -1, 2, 2**31, 10**40])
def test_a_revision_that_is_not_there(shop: Shop, number: int) -> None:
    key = started(shop).key
    with pytest.raises(NotThereError) as refusal:
        shop.jobs.revision(key, number)
    assert said(refusal) == f"bench-engine has no revision {number}; it has 1 to 1"
    with pytest.raises(Refusal, match="must be a revision of bench-engine, 1 to 1"):
        shop.jobs.save(key, BENCH, who="A. Example", why="", based_on=number)
    assert len(shop.jobs.history(key)) == 1


# No room, no turn


def test_when_the_disk_is_full_nothing_is_half_saved(tmp_path: Path) -> None:
    """SQLite is given no more pages, and says what it says on a full disk."""
    with open_shop(tmp_path / "store") as shop:
        key = started(shop).key

        def no_more_pages(connection: sqlite3.Connection, record: object) -> None:
            connection.execute("PRAGMA max_page_count = 60")

        shop.close()
        event.listen(shop.database._engine, "connect", no_more_pages)
        saved = 1

        def save_for_ever() -> None:
            nonlocal saved
            while True:
                saved = shop.jobs.save(
                    key, BENCH + "#" * 9000, who="A. Example", why="", based_on=saved
                ).number

        with pytest.raises(ShopError) as refusal:
            save_for_ever()
        assert said(refusal) == (
            f"{tmp_path / 'store' / 'shop.db'}: the disk is full; nothing of this was saved, "
            "make room and do it again"
        )
        assert saved > 3
        assert shop.jobs.latest(key).number == saved
        assert shop.check() == []


def test_who_waits_too_long_for_the_turn_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sparkwright.shop.database.WAIT_S", 0.05)
    with open_shop(tmp_path / "store") as shop:
        key = started(shop).key
        other = sqlite3.connect(tmp_path / "store" / "shop.db", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(
            ShopError, match="somebody else has been writing for 30 s; nothing of this was saved"
        ):
            shop.jobs.save(key, BENCH, who="A. Example", why="", based_on=1)
        assert shop.jobs.latest(key).number == 1
        other.execute("ROLLBACK")
        other.close()
        assert shop.jobs.save(key, BENCH, who="A. Example", why="", based_on=1).number == 2


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps its own lists of who may do what")
def test_a_folder_that_is_made_is_for_its_user_alone(tmp_path: Path) -> None:
    open_shop(tmp_path / "store").close()
    assert (tmp_path / "store").stat().st_mode & 0o777 == 0o700


# Settings and places


def test_a_setting_is_kept_until_it_is_set_again(here: Here) -> None:
    with here.open() as shop:
        assert shop.settings.get("passphrase") is None
        shop.settings.set("passphrase", "one")
        shop.settings.set("passphrase", "two")
    with here.open() as shop:
        assert shop.settings.get("passphrase") == "two"
        shop.settings.set("passphrase", None)
        assert shop.settings.get("passphrase") is None


@pytest.mark.parametrize(
    ("place", "made"),
    [("a/b", "a/b/shop.db"), ("a/mine.db", "a/mine.db"), ("a/mine.sqlite", "a/mine.sqlite")],
)
def test_a_folder_or_a_file_is_made_where_it_is_not_there(tmp_path: Path, place: str, made: str) -> None:
    with open_shop(tmp_path / place) as shop:
        started(shop)
    assert (tmp_path / made).is_file()
    with open_shop(tmp_path / made) as shop:
        assert shop.jobs.count() == 1


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        ("mysql://x/y", "shop = mysql://: must be a folder, a file or a postgresql:// address"),
        ("postgresql://a:b@c:port/d", "shop = an address: must read postgresql://user@host/name"),
        (" ", 'shop = "": must be a folder, a file or a postgresql:// address'),
    ],
)
def test_a_place_that_can_not_be_read(place: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refusal:
        open_shop(place)
    assert said(refusal) == sentence


def test_a_file_of_something_else_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "letter.db"
    other.write_text("Dear customer, " * 100, encoding="utf-8")
    with pytest.raises(ShopError) as refusal:
        open_shop(other)
    assert said(refusal) == f"{other}: is not a store of Sparkwright; choose another file"
    assert other.read_text(encoding="utf-8").startswith("Dear customer")


def test_a_folder_under_a_file_can_not_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(ShopError, match="its folder can't be made"):
        open_shop(tmp_path / "file" / "below" / "shop.db")


def test_a_postgresql_that_does_not_answer_is_said_without_the_password(tmp_path: Path) -> None:
    with pytest.raises(ShopError) as refusal:
        open_shop(f"postgresql://me:secret@/shop?host={tmp_path}")
    assert said(refusal).endswith("PostgreSQL can't be reached; check the address and that it runs")
    assert "secret" not in said(refusal)


def test_a_save_that_is_sent_again_is_the_same_revision(shop: Shop) -> None:
    """The answer to the first was lost; somebody else who types the same is still somebody else."""
    key = shop.jobs.create(BENCH, who="A. Example").key
    saved = [shop.jobs.save(key, BENCH + "# 2\n", who="A. Example", why="gap", based_on=1) for _ in range(2)]
    assert [each.number for each in saved] == [2, 2]
    assert shop.jobs.kept(key) == []
    with pytest.raises(SavedElsewhereError):
        shop.jobs.save(key, BENCH + "# 2\n", who="B. Example", why="gap", based_on=1)


def test_a_job_sent_again_under_its_word_is_the_same_job(shop: Shop) -> None:
    first, again = (shop.jobs.create(BENCH, who="A. Example", sent_as="w") for _ in range(2))
    assert again == first
    assert shop.jobs.create(BENCH + "# other\n", who="A. Example", sent_as="w").key != first.key
    assert shop.jobs.create(BENCH, who="A. Example").key not in (first.key, again.key)
    assert shop.jobs.count() == 3
