"""Old stores open, all steps end in the tables the program knows, and nobody gets in another's way."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import MetaData, Table, create_engine, insert, inspect, text

from databases import BENCH, Here, new_database
from sparkwright.evidence.kinds import LightReading
from sparkwright.evidence.records import Unreadable
from sparkwright.light.readings import Reading
from sparkwright.shop import ShopError, open_shop, tables
from sparkwright.shop.database import Database
from sparkwright.shop.migrate import is_known
from sparkwright.shop.place import place_of

FIRST = Path(__file__).parents[1] / "data" / "shop-1.db"
"""A store as the first version of the tables left it, with everything in it that they could hold."""

BENCH_THEN = BENCH.replace('at_lift = "0.050 in"\n', "")
"""The bench job as it was kept: nobody asked then for the lift at which a cam is stated."""

THIRD = FIRST.with_name("shop-3.db")
"""A store as the third version left it, with a row or more in each of these tables."""
KEPT_BY_THIRD = ("jobs", "revisions", "hand_overs", "kept_texts", "standings", "settings")

FOURTH = FIRST.with_name("shop-4.db")
"""A store as the fourth version left it, with a row or more in each of these tables; its file is below."""
KEPT_BY_FOURTH = (*KEPT_BY_THIRD, "attachments", "tries")
ATTACHED_BY_FOURTH = b"rpm\n800\n"

SIXTH = FIRST.with_name("shop-6.db")
"""A store as version 6 of the tables left it: the fourth's, brought there by its own steps."""
KEPT_BY_SIXTH = (*KEPT_BY_FOURTH, "evidence", "log")


@pytest.fixture
def first(tmp_path: Path) -> Path:
    return Path(shutil.copy(FIRST, tmp_path / "shop-1.db"))


def rows_of(place: Path, version: str, names: tuple[str, ...]) -> dict[str, list[tuple[object, ...]]]:
    """All rows of an old store's tables, each with the columns that it had."""
    old = sqlite3.connect(place)
    assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [(version,)]
    kept = {name: old.execute(f"SELECT * FROM {name}").fetchall() for name in names}
    old.close()
    return kept


def rows_now(place: Path, kept: dict[str, list[tuple[object, ...]]]) -> dict[str, list[tuple[object, ...]]]:
    """The same once it was opened; columns that came since stand behind the old ones and are left out."""
    new = sqlite3.connect(place)
    rows = {name: new.execute(f"SELECT * FROM {name}").fetchall() for name in kept}
    new.close()
    return {name: [row[: len(kept[name][0])] for row in rows[name]] for name in kept}


def differences(database: Database) -> list[object]:
    """What the tables in a database have other than those the program knows."""
    with database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, tables.metadata))


def test_all_steps_end_in_the_tables_that_the_program_knows(here: Here) -> None:
    with here.open() as shop:
        assert shop.database.version() == tables.NEWEST
        assert differences(shop.database) == []
        with shop.database.reading() as connection:
            assert set(inspect(connection).get_table_names()) == {*tables.metadata.tables, "alembic_version"}


def test_a_store_of_the_first_version_opens_with_all_that_was_in_it(first: Path) -> None:
    with sqlite3.connect(first) as old:
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
    old.close()
    with open_shop(first) as shop:
        assert [line.key for line in shop.jobs.lines()] == ["second-bench-engine", "bench-engine"]
        bench = shop.jobs.revision("bench-engine", 1)
        assert bench.text == BENCH_THEN
        (asked,) = bench.job.open_questions()
        assert (asked.place, asked.value) == ("cam.at_lift", None), "asked since, and readable still"
        signed = shop.jobs.revision("bench-engine", 2)
        assert (signed.why, signed.handed_over_by, signed.signed_for) == (
            "gap measured again",
            "A. Example",
            "Example workshop",
        )
        assert signed.acknowledged == ("High voltage can kill.", "Prove the timing with a light.")
        assert [line.number for line in shop.jobs.history("bench-engine")] == [3, 2, 1]
        (kept,) = shop.jobs.kept("bench-engine")
        assert (kept.based_on, kept.text) == (2, BENCH_THEN + "\n# typed at the same time\n")
        assert shop.settings.get("invented") == "yes"
        assert shop.database.version() == tables.NEWEST
        assert differences(shop.database) == []
        assert shop.check() == []


def test_a_store_of_the_third_version_opens_with_all_that_was_in_it(tmp_path: Path) -> None:
    """The fourth step adds a table in which tries of the pass-phrase are counted, and touches no other."""
    place = Path(shutil.copy(THIRD, tmp_path / "shop-3.db"))
    kept = rows_of(place, "0003", KEPT_BY_THIRD)
    assert all(kept.values())
    with open_shop(place) as shop:
        assert [line.number for line in shop.jobs.history("bench-engine")] == [2, 1]
        assert (shop.jobs.latest("bench-engine").signed_for, shop.settings.get("invented")) == (
            "Example workshop",
            "yes",
        )
        assert [each.fields["seen_deg"] for each in shop.evidence.of_job("bench-engine")] == [29.0]
        assert shop.database.version() == tables.NEWEST
        assert differences(shop.database) == []
        assert shop.check() == []
    assert rows_now(place, kept) == kept


def test_a_store_of_the_fourth_version_opens_with_all_that_was_in_it(tmp_path: Path) -> None:
    """The fifth step adds the log and lets a job be removed; what was saved is as fixed as before."""
    place = Path(shutil.copy(FOURTH, tmp_path / "shop-4.db"))
    kept = rows_of(place, "0004", KEPT_BY_FOURTH)
    read = [json.loads(str(row[2])) for row in rows_of(place, "0004", ("readings",))["readings"]]
    assert read
    assert all(kept.values())
    with open_shop(place) as shop:
        assert [each.fields for each in shop.evidence.of_job("bench-engine", also_withdrawn=True)] == read
        shop.database.files.put([ATTACHED_BY_FOURTH], most_bytes=100, called="run.csv")
        assert shop.check() == []
        assert shop.log.lines() == []
        assert differences(shop.database) == []
    assert rows_now(place, kept) == kept
    changed = sqlite3.connect(place)
    for table in ("revisions", "hand_overs", "attachments"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            changed.execute(f"DELETE FROM {table}")
    changed.close()
    with open_shop(place) as shop:
        assert shop.removal.remove(
            shop.removal.holding("bench-engine"), who="A. Example", also_handed_over=True
        )
        assert shop.jobs.count() == 0


def test_a_store_of_the_sixth_version_opens_with_all_that_was_in_it(tmp_path: Path) -> None:
    """Later steps add the cases of the desk and the runs of learning, and touch nothing else."""
    place = Path(shutil.copy(SIXTH, tmp_path / "shop-6.db"))
    kept = rows_of(place, "0006", KEPT_BY_SIXTH)
    assert kept["evidence"]
    assert kept["revisions"]
    with open_shop(place) as shop:
        assert shop.cases.newest() == []
        assert shop.learning_runs.of("any job") is None
        opened = shop.cases.open("Caller", who="A. Example", job="bench-engine")
        assert shop.cases.newest(job="bench-engine") == [opened]
        assert differences(shop.database) == []
    assert rows_now(place, kept) == kept


READ: list[dict[str, object]] = [
    {"id": 3, "row": '{"commanded_deg": 30, "speed_rpm": 2000, "seen_deg": 29.5, "set": 2}'},
    {
        "id": 5,
        "row": '{"commanded_deg": 30, "speed_rpm": 4000, "seen_deg": 12}',
        "taken_back_by": "B. Example",
    },
    {"id": 9, "row": '{"lambda": 1.0}'},
]
"""Readings as they were kept: of the second set, one that was taken back, and one of something else."""


def insert_rows(database: Database, table: str, rows: list[dict[str, object]]) -> None:
    """Put rows into a table of an old version: what it has no column for is left out."""
    with database.writing() as connection:
        there = Table(table, MetaData(), autoload_with=connection)
        for row in rows:
            values = {name: value for name, value in row.items() if name in there.c}
            connection.execute(insert(there).values(values))


@pytest.mark.parametrize("version", ["0002", "0003", "0004", "0005"])
def test_readings_of_an_old_store_become_evidence_and_keep_their_numbers(here: Here, version: str) -> None:
    moment = datetime(2030, 5, 1, 12, 30)
    place = place_of(here.address, here.files)
    old = Database(place, to=version)
    job = {
        "id": 1,
        "key": "bench-engine",
        "turn": 1,
        "number": 1,
        "name": "Bench engine",
        "engine": "V8",
        "invented": True,
    }
    job |= {"search": "bench engine", "saved_at": moment, "saved_by": "A. Example", "handed_over": False}
    insert_rows(old, "jobs", [job])
    first = {
        "job_id": 1,
        "number": 1,
        "text": BENCH,
        "name": "Bench engine",
        "fingerprint": "f",
        "saved_at": moment,
    }
    first |= {"saved_by": "A. Example", "why": "", "sha256": sha256(BENCH.encode()).hexdigest()}
    insert_rows(old, "revisions", [first])
    common = {"job_id": 1, "read_at": moment, "read_by": "A. Example", "sent_as": "w"}
    gone = [row | ({"taken_back_at": moment} if "taken_back_by" in row else {}) for row in READ]
    insert_rows(old, "readings", [common | row for row in gone])
    old.close()
    with here.open() as shop:
        records = shop.evidence.of_job("bench-engine", also_withdrawn=True)
        assert [(each.id, each.fields) for each in records] == [
            (row["id"], json.loads(str(row["row"]))) for row in READ
        ]
        good, back, odd = records
        assert good.data == LightReading(Reading(30.0, 2000.0, 29.5), 2)
        assert (good.who, good.withdrawn) == ("A. Example", None)
        assert back.withdrawn is not None
        assert (back.withdrawn.who, back.withdrawn.why) == ("B. Example", "")
        assert isinstance(odd.data, Unreadable)
        assert [each.id for each in shop.evidence.of_job("bench-engine")] == [3, 9]
        new = shop.evidence.add("bench-engine", LightReading(Reading(30.0, 900.0, 30.0)), who="A. Example")
        assert new.id == 10
        assert (shop.check(), differences(shop.database)) == ([], [])


def test_a_step_over_full_tables_keeps_them_fixed(first: Path) -> None:
    """The second step makes the table of revisions anew; its rows get their hash, and are fixed as before."""
    with open_shop(first) as shop, shop.database.reading() as connection:
        rows = connection.execute(text("SELECT text, sha256 FROM revisions")).all()
        assert len(rows) == 4
        assert all(sha256(content.encode()).hexdigest() == digest for content, digest in rows)
    with sqlite3.connect(first) as changed, pytest.raises(sqlite3.IntegrityError, match="never changed"):
        changed.execute("UPDATE revisions SET why = 'other'")
    changed.close()


def test_a_postgresql_of_the_first_version_is_brought_up_with_its_rows(postgresql_server: str) -> None:
    place = place_of(new_database(postgresql_server))
    old = Database(place, to="0001")
    with old.writing() as connection:
        connection.execute(
            text(
                "INSERT INTO jobs (key, turn, number, name, engine, invented, search, saved_at, saved_by, "
                "handed_over) VALUES ('bench-engine', 1, 1, 'Bench engine', 'V8', true, 'bench engine', "
                "now(), 'A. Example', false)"
            )
        )
        connection.execute(
            text(
                "INSERT INTO revisions (job_id, number, text, name, fingerprint, saved_at, saved_by, why) "
                "SELECT id, 1, :text, name, 'f', saved_at, saved_by, '' FROM jobs"
            ),
            {"text": BENCH},
        )
    old.close()
    with open_shop(str(place.url.render_as_string(hide_password=False))) as shop:
        assert shop.jobs.latest("bench-engine").text == BENCH
        assert differences(shop.database) == []
        assert shop.check() == []


def test_a_store_that_is_up_to_date_opens_without_the_machinery_of_steps(tmp_path: Path) -> None:
    open_shop(tmp_path / "store").close()
    code = "import sys; from sparkwright.shop import open_shop; open_shop(sys.argv[1]); print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "store")], capture_output=True, text=True, check=True
    )
    assert not {"alembic", "polars", "numba"} & set(done.stdout.split())


def keys_of_jobs_started_at_once(address: str, people: int = 8) -> list[str]:
    program = Path(__file__).parents[1] / "opened_at_once.py"
    done = subprocess.run(
        [sys.executable, str(program), address, str(people)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.split()


@pytest.mark.parametrize("turn", range(3))
def test_many_processes_may_open_a_store_at_once(here: Here, turn: int) -> None:
    keys = keys_of_jobs_started_at_once(here.address)
    assert len(set(keys)) == 8
    with here.open() as shop:
        assert shop.jobs.count() == 8
        assert shop.check() == []


def test_many_processes_may_open_an_old_store_at_once(first: Path) -> None:
    assert len(set(keys_of_jobs_started_at_once(str(first)))) == 8
    with open_shop(first) as shop:
        assert shop.jobs.count() == 2 + 8
        assert shop.check() == []


def test_a_step_that_fails_leaves_the_store_as_it_was(first: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(connection: object) -> None:
        raise ShopError("stopped on purpose")

    before = Database(place_of(first), to=None)
    with pytest.raises(ShopError, match="stopped on purpose"):
        before.bring_to(tables.NEWEST, fail)
    assert before.version() == "0001"
    with before.reading() as connection:
        assert "attachments" not in inspect(connection).get_table_names()
    before.close()
    with open_shop(first) as shop:
        assert shop.check() == []


def test_rows_that_refer_to_nothing_stop_a_step(first: Path) -> None:
    with sqlite3.connect(first) as spoiled:
        spoiled.execute("DELETE FROM jobs WHERE key = 'second-bench-engine'")
    spoiled.close()
    with pytest.raises(ShopError) as refusal:
        open_shop(first)
    assert refusal.value.on_this_machine == f"{first}: rows refer to rows that are not there"


def test_a_store_of_a_newer_version_is_left_alone(here: Here) -> None:
    with here.open() as shop, shop.database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(ShopError) as refusal:
        here.open()
    assert str(refusal.value) == (
        "this store was written by a newer version of Sparkwright; bring the program up to date"
    )
    assert not is_known("9999")


def test_a_database_of_something_else_is_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "stamps.db"
    with sqlite3.connect(other) as theirs:
        theirs.execute("CREATE TABLE stamps (id INTEGER)")
    theirs.close()
    with pytest.raises(ShopError) as refusal:
        open_shop(other)
    assert str(refusal.value) == (
        "this database holds tables of something else; choose another place for the store"
    )
    engine = create_engine(f"sqlite:///{other}")
    assert inspect(engine).get_table_names() == ["stamps"]
    engine.dispose()


def test_sqlite_writes_to_a_log_and_waits_for_the_disk(tmp_path: Path) -> None:
    """FULL is 2; SQLite's documentation, PRAGMA synchronous."""
    with open_shop(tmp_path / "store") as shop, shop.database.reading() as connection:
        told = {
            pragma: connection.exec_driver_sql(f"PRAGMA {pragma}").scalar()
            for pragma in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert told == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 30_000}
