"""A job removed for good: nothing of it is left in any table or file, and nothing else is touched."""

from __future__ import annotations

import io
import sqlite3
import threading
import zipfile
from pathlib import Path

import polars
import pytest
from sqlalchemy import select, text

from databases import BENCH, Here
from seen import light
from sparkwright.desk.case import Entry
from sparkwright.shop import (
    AtPlaceError,
    NotThereError,
    SavedElsewhereError,
    Shop,
    ShopError,
    open_shop,
    tables,
)
from sparkwright.shop.files import Content

SECRET = "Zanzibarquartz"
"""A word that stands in every part of the job that goes, and nowhere else."""
OURS = BENCH.replace("Bench engine", f"{SECRET} engine")
SHARED, ALONE = b"rpm\n800\n", f"rpm, {SECRET}\n900\n".encode()


def full(shop: Shop) -> str:
    """A job with everything that a job can have, and another one beside it; gives the key of the first."""
    other = shop.jobs.create(BENCH, who="B. Example", why="")
    shop.files.attach(other.key, "run.csv", "drive", io.BytesIO(SHARED), who="B. Example")
    shop.job_states.put(other.fingerprint, "done", "Nothing worries.")
    first = shop.jobs.create(OURS, who=SECRET, why=SECRET)
    shop.jobs.save(first.key, f"{OURS}\n# {SECRET}\n", who=SECRET, why=SECRET, based_on=1)
    with pytest.raises(SavedElsewhereError):
        shop.jobs.save(first.key, f"{OURS}\n# {SECRET} 3\n", who=SECRET, why=SECRET, based_on=1)
    shop.jobs.drop_kept(shop.jobs.kept(first.key)[0].id)
    shop.jobs.hand_over(first.key, 2, who=SECRET, acknowledged=[SECRET], signed_for=SECRET)
    shop.evidence.add(first.key, light(note=SECRET), who=SECRET)
    shop.files.attach(first.key, "run.csv", "drive", io.BytesIO(SHARED), who=SECRET)
    asked = shop.cases.open(SECRET, who=SECRET, job=first.key)
    said = shop.cases.add(asked.id, [Entry(0, "words", text=SECRET)], who=SECRET)
    shop.cases.add(asked.id, [Entry(0, "withdrawn", withdraws=said.entries[0].id)], who=SECRET)
    shop.cases.open("Another caller", who="B. Example")
    alone = shop.files.attach(first.key, f"{SECRET}.csv", "drive", io.BytesIO(ALONE), who=SECRET)
    shop.files.put_columns(alone.id, polars.DataFrame({SECRET: [900]}))
    shop.job_states.put(first.fingerprint, "look", f"{SECRET} worries.")
    shop.log.note("download", "192.0.2.7", who="B. Example", key=first.key, about="archive")
    return first.key


def all_rows(shop: Shop) -> str:
    with shop.database.reading() as connection:
        return str([connection.execute(select(table)).all() for table in tables.metadata.sorted_tables])


def all_files(folder: Path) -> bytes:
    return b"".join(path.name.encode() + path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_nothing_of_a_removed_job_is_left_in_any_table(shop: Shop) -> None:
    key = full(shop)
    assert all_rows(shop).lower().count(SECRET.lower()) > 15
    assert shop.removal.remove(shop.removal.holding(key), who="A. Example", also_handed_over=True)
    assert SECRET.lower() not in all_rows(shop).lower()
    with pytest.raises(NotThereError, match="there is no job"):
        shop.jobs.latest(key)
    # The other job has all that it had, also the file that both were given.
    (left,) = shop.jobs.lines()
    assert (left.key, left.words) == ("bench-engine", "Nothing worries.")
    with shop.files.open(shop.files.of_job(left.key)[0].id) as file:
        assert file.read() == SHARED
    assert shop.check() == []
    # Its key is free again, and the record says that something was removed and not what.
    assert shop.jobs.create(OURS, who="A. Example", why="").key == key
    removal, download = shop.log.lines()
    assert (removal.kind, removal.who, removal.place, removal.key, removal.about) == (
        "removal",
        "A. Example",
        "this machine",
        None,
        "revisions: 2, evidence: 1, files: 2",
    )
    assert (download.kind, download.key, download.about) == ("download", None, "archive")


def test_nothing_of_a_removed_job_is_left_in_any_file_of_the_store(tmp_path: Path) -> None:
    """SQLite keeps what was deleted in free parts of its file and in its log until both are cleared."""
    with open_shop(tmp_path / "store") as shop:
        key = full(shop)
        before = all_files(tmp_path / "store")
        assert SECRET.encode() in before
        assert key.encode() in before
        assert shop.removal.remove(shop.removal.holding(key), who="A. Example", also_handed_over=True)
        # While the store is still open.
        after = all_files(tmp_path / "store").lower()
        assert SECRET.lower().encode() not in after
        assert b"bench-engine" in after
        assert len([path for path in (tmp_path / "store" / "shop.files").rglob("*") if path.is_file()]) == 1


def test_a_reader_who_holds_on_is_told_of_and_nothing_is_left_when_all_have_closed(tmp_path: Path) -> None:
    with open_shop(tmp_path / "store") as shop:
        key = full(shop)
        reader = sqlite3.connect(tmp_path / "store" / "shop.db")
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM jobs").fetchone()
        with shop.database.reading() as connection:
            connection.exec_driver_sql("PRAGMA busy_timeout = 100")
        assert not shop.removal.remove(shop.removal.holding(key), who="A. Example", also_handed_over=True)
        assert shop.jobs.count() == 1
        reader.close()
    assert SECRET.lower().encode() not in all_files(tmp_path / "store").lower()


def tried(shop: Shop, *acts: str) -> None:
    with shop.database.writing() as connection:
        for act in acts:
            connection.execute(text(act))


@pytest.mark.parametrize(
    "act",
    [
        "DELETE FROM revisions",
        "DELETE FROM hand_overs",
        "DELETE FROM attachments",
        "UPDATE revisions SET why = 'other'",
        "UPDATE hand_overs SET signed_by = 'other'",
        "UPDATE attachments SET name = 'other'",
    ],
)
def test_what_was_saved_can_still_not_be_changed_or_deleted(shop: Shop, act: str) -> None:
    """Also not that of one job while another one is being removed."""
    key = full(shop)
    naming = "INSERT INTO removing SELECT id FROM jobs WHERE key = 'bench-engine'"
    for acts in ([act], [naming, act]):
        with pytest.raises(ShopError, match="what was saved is never changed"):
            tried(shop, "DELETE FROM columns", *acts)
    assert len(shop.jobs.history(key)) == 2
    assert shop.check() == []


def test_a_job_that_changed_while_it_was_looked_at_stays(shop: Shop) -> None:
    key = full(shop)
    seen = shop.removal.holding(key)
    shop.evidence.add(key, light(note="in the same moment"), who="B. Example")
    with pytest.raises(ShopError) as refusal:
        shop.removal.remove(seen, who="A. Example", also_handed_over=True)
    assert str(refusal.value) == f"{key}: was changed by somebody meanwhile and stays; look at it again first"
    assert shop.check() == []
    assert len(shop.evidence.of_job(key)) == 2


def test_a_job_that_was_handed_over_goes_only_when_that_is_said(shop: Shop) -> None:
    key = full(shop)
    with pytest.raises(ShopError) as refusal:
        shop.removal.remove(shop.removal.holding(key), who="A. Example")
    assert str(refusal.value) == (
        f"{key}: was handed over, and its signed record is the shop's proof of what it did; "
        "say --also-handed-over if it may go all the same"
    )
    assert shop.jobs.count() == 2


def test_a_removal_that_breaks_off_leaves_all_of_the_job(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    key = full(shop)
    rows = all_rows(shop)

    def fail(*anything: object, **more: object) -> None:
        raise AtPlaceError("here", "the disk is full")

    monkeypatch.setattr("sparkwright.shop.removal.add_line", fail)
    with pytest.raises(AtPlaceError):
        shop.removal.remove(shop.removal.holding(key), who="A. Example", also_handed_over=True)
    assert all_rows(shop) == rows
    assert shop.check() == []


def test_a_file_given_to_another_job_in_the_same_moment_stays(here: Here) -> None:
    """A removal that comes between a file and the row that names it waits its turn, and then sees the row."""
    with here.open() as shop, here.open() as other:
        key = full(shop)
        seen = other.removal.holding(key)
        removal = threading.Thread(
            target=other.removal.remove,
            args=(seen,),
            kwargs={"who": "A. Example", "also_handed_over": True},
        )
        adopt = shop.database.files.adopt

        def adopt_and_wait(path: Path, content: Content) -> Content:
            adopt(path, content)
            removal.start()
            removal.join(0.5)
            return content

        shop.database.files.adopt = adopt_and_wait  # type: ignore[method-assign]
        given = shop.files.attach("bench-engine", "again.csv", "drive", io.BytesIO(ALONE), who="B. Example")
        removal.join()
        assert shop.jobs.count() == 1
        with shop.files.open(given.id) as file:
            assert file.read() == ALONE
        assert shop.check() == []


# The record


def test_the_record_keeps_the_newest_of_each_kind(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sparkwright.shop.log.MOST_LINES_OF_A_KIND", 3)
    shop.log.note("sign-in", "192.0.2.1", who="A. Example")
    for number in range(10):
        shop.log.note("wrong try", f"192.0.2.{number}")
    lines = shop.log.lines()
    assert [(line.kind, line.place) for line in lines] == [
        ("wrong try", "192.0.2.9"),
        ("wrong try", "192.0.2.8"),
        ("wrong try", "192.0.2.7"),
        ("sign-in", "192.0.2.1"),
    ]
    assert [line.place for line in shop.log.lines(limit=1)] == ["192.0.2.9"]


def test_a_record_that_can_not_be_written_keeps_nobody_from_work(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with open_shop(tmp_path / "store") as shop:
        with shop.database.writing() as connection:
            connection.execute(text("DROP TABLE log"))
        shop.log.note("download", "192.0.2.1")
    assert "download from 192.0.2.1 could not be noted" in caplog.text


def test_the_record_is_in_no_backup(shop: Shop, tmp_path: Path) -> None:
    shop.log.note("sign-in", "192.0.2.1", who=SECRET)
    shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as pack:
        assert pack.read("tables/log.jsonl") == b""
        assert all(SECRET.encode() not in pack.read(name) for name in pack.namelist())
