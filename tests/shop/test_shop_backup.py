"""The whole store in one file while people work, a new store made from it, and the check of a store."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import stat
import threading
import zipfile
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import polars
import pytest

from databases import BENCH, Here, new_database
from seen import light
from sparkwright.shop import Shop, ShopError, open_shop, restore, tables
from sparkwright.web.sessions import Sessions, set_passphrase
from test_shop_archive import eventful, listed

SCHEMA = "urn:sparkwright:backup:1"


def everything(shop: Shop) -> dict[str, object]:
    """All rows that a store holds, by table."""
    from sqlalchemy import select

    with shop.database.reading() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(select(table).order_by(*table.primary_key))
                if "session_secret" not in row  # which each store has of its own
            ]
            for table in tables.metadata.sorted_tables
        }


def filled(shop: Shop) -> str:
    key = eventful(shop)
    shop.files.put_columns(shop.files.of_job(key)[0].id, polars.DataFrame({"rpm": [800, 900]}))
    shop.settings.set("passphrase", "hashed")
    return key


# There and back


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_store_made_from_a_backup_is_the_same(
    shop: Shop, to: str, postgresql_server: str, tmp_path: Path
) -> None:
    """From either database to either, with numbers, times and files."""
    key = filled(shop)
    shop.backup(tmp_path / "all.backup")
    place = str(tmp_path / "new") if to == "sqlite" else new_database(postgresql_server)
    restore(tmp_path / "all.backup", place, files=tmp_path / "new.files")
    with open_shop(place, files=tmp_path / "new.files") as new:
        assert everything(new) == everything(shop)
        assert new.check() == []
        assert new.files.columns(new.files.of_job(key)[0].id).equals(polars.DataFrame({"rpm": [800, 900]}))
        # New rows go on behind those that came, and what was saved is as fixed as before.
        assert new.jobs.create(BENCH, who="A. Example", why="").key == f"{key}-2"
        assert new.jobs.save(key, BENCH, who="A. Example", why="", based_on=3).number == 4
        assert new.evidence.add(key, light(), who="A. Example").id > shop.evidence.of_job(key)[-1].id


def test_an_empty_store_can_be_backed_up_too(shop: Shop, tmp_path: Path) -> None:
    shop.backup(tmp_path / "all.backup")
    restore(tmp_path / "all.backup", tmp_path / "new")
    with open_shop(tmp_path / "new") as new:
        assert new.jobs.count() == 0
        new.jobs.create(BENCH, who="A. Example", why="")


def test_a_backup_while_others_write_is_one_moment_of_the_store(shop: Shop, tmp_path: Path) -> None:
    key = shop.jobs.create(BENCH, who="A. Example", why="").key
    over = threading.Event()
    trouble: list[BaseException] = []

    def work() -> None:
        try:
            number = 1
            while not over.is_set():
                number = shop.jobs.save(key, BENCH + f"# {number}\n", who="A", why="", based_on=number).number
                shop.evidence.add(key, light(600 + number), who="A")
                shop.files.attach(key, f"{number}", "drive", io.BytesIO(str(number).encode()), who="A")
        except BaseException as problem:
            trouble.append(problem)
            raise

    writer = threading.Thread(target=work)
    writer.start()
    try:
        for number in range(5):
            acknowledged = shop.jobs.latest(key).number
            shop.backup(tmp_path / f"{number}.backup")
            after = shop.jobs.latest(key).number
            restore(tmp_path / f"{number}.backup", tmp_path / f"{number}")
            with open_shop(tmp_path / f"{number}") as new:
                assert new.check() == []
                found = new.jobs.latest(key).number
                assert acknowledged <= found <= after
                # Each reading and file came after its revision, so that none can be there before it.
                assert found - 2 <= len(new.evidence.of_job(key)) <= found - 1
                assert (
                    len(new.evidence.of_job(key)) - 1
                    <= len(new.files.of_job(key))
                    <= len(new.evidence.of_job(key))
                )
    finally:
        over.set()
        writer.join()
    assert trouble == []
    assert shop.jobs.latest(key).number > 5


def test_a_backup_of_the_first_version_of_the_tables_is_restored_and_brought_up(tmp_path: Path) -> None:
    """As the first version would have written it; its rows are read from the store kept in tests/data."""
    first = sqlite3.connect(Path(__file__).parents[1] / "data" / "shop-1.db")
    first.row_factory = sqlite3.Row
    contents = {"tables/version": b"0001"}
    for name in ("jobs", "revisions", "hand_overs", "kept_texts", "settings"):
        lines = []
        for row in map(dict, first.execute(f"SELECT * FROM {name}")):
            for key in row:
                if key in ("invented", "handed_over"):
                    row[key] = bool(row[key])
            lines.append(json.dumps(row).encode() + b"\n")
        contents[f"tables/{name}.jsonl"] = b"".join(lines)
    first.close()
    write_package(tmp_path / "old.backup", contents)
    restore(tmp_path / "old.backup", tmp_path / "new")
    with open_shop(tmp_path / "new") as new:
        assert [line.number for line in new.jobs.history("bench-engine")] == [3, 2, 1]
        assert new.check() == []


# Never over anything


def test_a_backup_is_never_restored_over_a_store(here: Here, tmp_path: Path) -> None:
    with here.open() as shop:
        filled(shop)
        shop.backup(tmp_path / "all.backup")
        before = everything(shop)
        with pytest.raises(ShopError, match=r"choose another place"):
            restore(tmp_path / "all.backup", here.address, files=tmp_path / "others")
        assert everything(shop) == before
        assert shop.check() == []
    files = tmp_path / "files"
    files.mkdir()
    (files / "precious").write_bytes(b"x")
    with pytest.raises(ShopError, match="holds files already; choose another place"):
        restore(tmp_path / "all.backup", tmp_path / "new", files=files)
    assert (files / "precious").read_bytes() == b"x"
    assert not (tmp_path / "new" / "shop.db").exists()


def test_a_backup_never_takes_the_place_of_a_file(shop: Shop, tmp_path: Path) -> None:
    target = tmp_path / "all.backup"
    target.write_bytes(b"precious")
    with pytest.raises(ShopError, match="is there already and was left as it is; choose another name"):
        shop.backup(target)
    assert target.read_bytes() == b"precious"


def test_no_backup_is_written_of_a_damaged_file(shop: Shop, tmp_path: Path) -> None:
    key = filled(shop)
    path = shop.database.files.path(shop.files.of_job(key)[0].sha256)
    path.write_bytes(b"damaged")
    with pytest.raises(ShopError, match="no longer holds what was given; no backup was written"):
        shop.backup(tmp_path / "all.backup")
    assert not (tmp_path / "all.backup").exists()


def test_a_backup_is_for_its_user_alone(shop: Shop, tmp_path: Path) -> None:
    filled(shop)
    shop.backup(tmp_path / "all.backup")
    assert stat.S_IMODE((tmp_path / "all.backup").stat().st_mode) == 0o600


def test_a_backup_lets_nobody_sign_in(shop: Shop, tmp_path: Path) -> None:
    """Neither to the store it came from nor to the one made from it."""
    set_passphrase(shop, "seven brass kettles")
    sessions = Sessions(shop, 12.0)
    token, ended = sessions.begin(), sessions.begin()
    sessions.end(ended)
    shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as file:
        held = b"".join(file.read(each) for each in file.namelist()).decode()
    assert (shop.settings.get("session_secret") or "") not in held
    assert ended.partition(".")[0] not in held
    restore(tmp_path / "all.backup", tmp_path / "new")
    with open_shop(tmp_path / "new") as new:
        restored = Sessions(new, 12.0)
        assert restored.opens("seven brass kettles", "here")
        assert not restored.holds(token)
        assert restored.holds(restored.begin())


def test_a_secret_in_an_old_backup_is_not_taken_over(shop: Shop, tmp_path: Path) -> None:
    set_passphrase(shop, "seven brass kettles")
    shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as file:
        contents = {each: file.read(each) for each in file.namelist() if each != "manifest.json"}
    secret = "ab" * 32
    contents["tables/settings.jsonl"] += (
        json.dumps({"name": "session_secret", "value": secret}).encode() + b"\n"
    )
    write_package(tmp_path / "old.backup", contents)
    restore(tmp_path / "old.backup", tmp_path / "new")
    with open_shop(tmp_path / "new") as new:
        found = new.settings.get("session_secret")
        assert found is not None
        assert found not in (secret, shop.settings.get("session_secret"))


# What can't be restored


def write_package(path: Path, contents: dict[str, bytes], schema: str = SCHEMA) -> None:
    manifest = {"schema": schema, "version": "0", "members": listed(contents)}
    with zipfile.ZipFile(path, "w") as file:
        for name, content in {**contents, "manifest.json": json.dumps(manifest).encode()}.items():
            file.writestr(name, content)


def with_line(table: str, **values: object) -> Callable[[dict[str, bytes]], None]:
    def spoil(contents: dict[str, bytes]) -> None:
        name = f"tables/{table}.jsonl"
        first, *rest = contents[name].splitlines(keepends=True)
        contents[name] = json.dumps({**json.loads(first), **values}).encode() + b"\n" + b"".join(rest)

    return spoil


SPOILED: dict[str, tuple[Callable[[dict[str, bytes]], object], str]] = {
    "newer": (
        lambda contents: contents.update({"tables/version": b"9999"}),
        "was written by a newer version of Sparkwright; bring the program up to date",
    ),
    "no table": (
        lambda contents: contents.pop("tables/evidence.jsonl"),
        "tables/evidence.jsonl is not in it",
    ),
    "no version": (lambda contents: contents.pop("tables/version"), "tables/version is not in it"),
    "half a line": (
        lambda contents: contents.update({"tables/jobs.jsonl": contents["tables/jobs.jsonl"][:-20]}),
        "tables/jobs.jsonl, line 1: can't be read as a row of that table",
    ),
    "other column": (with_line("evidence", more=1), "line 1: can't be read as a row of that table"),
    "word for a number": (with_line("evidence", job_id="1"), "line 1: can't be read as a row of that table"),
    "too large a number": (
        with_line("evidence", job_id=2**70),
        "line 1: can't be read as a row of that table",
    ),
    "nothing where something must be": (
        with_line("evidence", fields=None),
        "line 1: can't be read as a row of that table",
    ),
    "no time": (with_line("evidence", taken_at="yesterday"), "line 1: can't be read as a row of that table"),
    "a list": (with_line("evidence", fields=[1]), "line 1: can't be read as a row of that table"),
    "a row of nothing": (with_line("evidence", job_id=77), "rows refer to rows that are not there"),
    "one line of thirty million letters": (
        lambda contents: contents.update({"tables/evidence.jsonl": b"[" * 30_000_000}),
        "tables/evidence.jsonl: holds a line longer than 20,000,000 bytes, which is no row",
    ),
    "file of another name": (
        lambda contents: contents.update({f"files/{'0' * 64}": b"x"}),
        "does not hold what its name says",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_backup_that_can_not_stand_makes_no_store(
    name: str, to: str, postgresql_server: str, tmp_path: Path
) -> None:
    with open_shop(tmp_path / "store") as shop:
        filled(shop)
        shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as file:
        contents = {each: file.read(each) for each in file.namelist() if each != "manifest.json"}
    spoil, sentence = SPOILED[name]
    spoil(contents)
    write_package(tmp_path / "spoiled.backup", contents)
    place = str(tmp_path / "new") if to == "sqlite" else new_database(postgresql_server)
    with pytest.raises(ShopError) as refusal:
        restore(tmp_path / "spoiled.backup", place, files=tmp_path / "new.files")
    assert sentence in str(refusal.value)
    assert not (tmp_path / "new" / "shop.db").exists()
    assert not (tmp_path / "new.files").exists()
    # And the place is as good as before.
    restore(tmp_path / "all.backup", place, files=tmp_path / "new.files")


def test_an_archive_of_a_job_is_no_backup(shop: Shop, tmp_path: Path) -> None:
    shop.archives.write(eventful(shop), tmp_path / "job.zip")
    with pytest.raises(ShopError) as refusal:
        restore(tmp_path / "job.zip", tmp_path / "new")
    assert str(refusal.value) == (
        "job.zip: is urn:sparkwright:job-archive:3; what is read here is urn:sparkwright:backup:1"
    )
    assert not (tmp_path / "new" / "shop.db").exists()


# The check


def test_a_good_store_has_no_problems(shop: Shop) -> None:
    filled(shop)
    assert shop.check() == []


@pytest.mark.parametrize(
    ("statements", "found"),
    [
        (
            [
                "DROP TRIGGER revisions_fixed_update",
                "UPDATE revisions SET text = text || '#' WHERE number = 2",
            ],
            ["bench-engine, revision 2: its text is not what was saved"],
        ),
        (
            ["DROP TRIGGER revisions_fixed_delete", "DELETE FROM revisions WHERE number = 1"],
            ["bench-engine: revision 1 is not there"],
        ),
        (
            ["UPDATE jobs SET number = 4"],
            ["bench-engine: the list shows revision 4, the newest there is 3"],
        ),
        (
            ["UPDATE jobs SET name = 'Other'"],
            ["bench-engine: the list of jobs shows something else than its newest revision"],
        ),
        (
            ["UPDATE jobs SET handed_over = 1"],
            ["bench-engine: the list of jobs shows something else than its newest revision"],
        ),
        (
            ["UPDATE evidence SET job_id = 9 WHERE id = 1"],
            ["evidence: 1 rows refer to jobs that are not there"],
        ),
        (["UPDATE evidence SET fields = '{' WHERE id = 2"], ["evidence 2: what it holds can't be read"]),
    ],
)
def test_what_somebody_changed_behind_the_program_is_found(
    statements: list[str], found: list[str], tmp_path: Path
) -> None:
    with open_shop(tmp_path / "store") as shop:
        filled(shop)
        with sqlite3.connect(tmp_path / "store" / "shop.db") as behind:
            for statement in statements:
                behind.execute(statement)
        behind.close()
        assert shop.check() == found


def test_a_damaged_database_file_is_found(tmp_path: Path) -> None:
    """A page in the middle is overwritten, as a failing disk would."""
    with open_shop(tmp_path / "store") as shop:
        filled(shop)
    path = tmp_path / "store" / "shop.db"
    content = bytearray(path.read_bytes())
    page = int.from_bytes(content[16:18], "big")  # SQLite's file format, 1.3: the size of a page
    with sqlite3.connect(path) as behind:
        (root,) = behind.execute("SELECT rootpage FROM sqlite_master WHERE name = 'evidence'").fetchone()
    behind.close()
    content[(root - 1) * page : root * page] = b"\x55" * page
    path.write_bytes(content)
    with open_shop(tmp_path / "store") as shop:
        (told,) = shop.check()
    assert told == f"{path}: is damaged; bring back the newest backup with `sparkwright shop restore`"


def test_a_file_that_lost_a_byte_is_found(shop: Shop) -> None:
    key = filled(shop)
    path = shop.database.files.path(shop.files.of_job(key)[0].sha256)
    path.write_bytes(path.read_bytes()[:-1])
    assert shop.check() == [
        f"bench-engine, run 3.csv: its file {path} no longer holds what was given",
        f"bench-engine, again.csv: its file {path} no longer holds what was given",
    ]


def test_all_files_gone_is_a_sentence_each(shop: Shop) -> None:
    filled(shop)
    shutil.rmtree(shop.database.files.folder)
    assert len(shop.check()) == 4
    assert all("is not there" in each for each in shop.check())


def test_the_backup_holds_what_its_page_says(shop: Shop, tmp_path: Path) -> None:
    filled(shop)
    shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as file:
        names = set(file.namelist())
        assert file.testzip() is None
        for name in names:
            if name.startswith("files/"):
                assert sha256(file.read(name)).hexdigest() == name.removeprefix("files/")
    wanted = {f"tables/{name}.jsonl" for name in tables.metadata.tables} | {"tables/version", "manifest.json"}
    assert {name for name in names if not name.startswith("files/")} == wanted
