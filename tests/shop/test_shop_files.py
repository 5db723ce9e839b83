"""Files attached to a job, the columns read from them, and readings typed at the engine."""

from __future__ import annotations

import io
import os
import resource
import stat
import sys
from datetime import datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path

import polars
import pytest

from databases import BENCH, Here
from seen import light
from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import DeadCentreReadings, KnockMark, SweepReadings, SweepRow
from sparkwright.mounting.mark_readings import ReadPair
from sparkwright.shop import NotThereError, Shop, ShopError, open_shop
from sparkwright.shop.files import ARRIVING, LEFT_BEHIND_S

LOG = b"rpm,kpa\r\n800,40\r\n\xff\x00 not text\n"


class Slow(io.RawIOBase):
    """A stream that gives a byte at a time and breaks where it is told to."""

    def __init__(self, content: bytes, breaks_after: int | None = None) -> None:
        self._content = iter(content)
        self._left = breaks_after

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        if self._left is not None:
            self._left -= 1
            if self._left < 0:
                raise ConnectionResetError(104, "Connection reset by peer")
        return bytes([each]) if (each := next(self._content, None)) is not None else b""


@pytest.fixture
def key(shop: Shop) -> str:
    return shop.jobs.create(BENCH, who="A. Example", why="engine came in").key


def files_below(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def attached(shop: Shop, key: str, content: bytes = LOG, name: str = "run 3.csv") -> int:
    return shop.files.attach(key, name, "drive", io.BytesIO(content), who="A. Example").id


# Files


@pytest.mark.parametrize("content", [b"", LOG, os.urandom(3_000_000)], ids=["empty", "log", "3 MB"])
def test_a_file_is_kept_byte_for_byte_with_its_hash(shop: Shop, key: str, content: bytes) -> None:
    kept = shop.files.attach(key, "run 3.csv", "drive", io.BytesIO(content), who="A. Example")
    assert (kept.key, kept.name, kept.kind, kept.who) == (key, "run 3.csv", "drive", "A. Example")
    assert (kept.size, kept.sha256) == (len(content), sha256(content).hexdigest())
    assert not kept.has_columns
    assert shop.files.of_job(key) == [kept] == [shop.files.one(kept.id)]
    with shop.files.open(kept.id) as stream:
        assert stream.read() == content
    assert shop.check() == []


def test_a_stream_is_read_to_its_end_however_slowly_it_gives(shop: Shop, key: str) -> None:
    kept = shop.files.attach(key, "a.csv", "readings", Slow(LOG), who="A. Example")  # type: ignore[arg-type]
    assert kept.size == len(LOG)


def test_the_same_file_is_kept_once_and_listed_for_each(shop: Shop, key: str) -> None:
    other = shop.jobs.create(BENCH, who="A. Example", why="").key
    attached(shop, key)
    attached(shop, other, name="same.csv")
    assert len(files_below(shop.database.files.folder)) == 1
    assert [shop.files.of_job(each)[0].name for each in (key, other)] == ["run 3.csv", "same.csv"]


def test_a_damaged_file_is_healed_by_giving_it_again(shop: Shop, key: str) -> None:
    number = attached(shop, key)
    shop.database.files.path(shop.files.one(number).sha256).write_bytes(b"damaged")
    attached(shop, key)
    assert shop.check() == []


def test_too_long_a_file_is_refused_and_nothing_of_it_stays(here: Here) -> None:
    with open_shop(here.address, files=here.files, most_attached_bytes=10) as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="").key
        with pytest.raises(ShopError, match=r"run 3\.csv: is longer than 10 bytes, the most that is kept"):
            attached(shop, key, b"12345678901")
        assert shop.files.of_job(key) == []
        assert files_below(shop.database.files.folder) == []
        assert attached(shop, key, b"1234567890") > 0


def test_a_file_that_stops_halfway_is_not_kept(shop: Shop, key: str) -> None:
    with pytest.raises(ShopError, match="connection reset by peer"):
        shop.files.attach(key, "a.csv", "drive", Slow(LOG, 5), who="A. Example")  # type: ignore[arg-type]
    assert shop.files.of_job(key) == []
    assert files_below(shop.database.files.folder) == []


def test_what_never_arrived_whole_is_taken_away_after_a_day(shop: Shop, key: str) -> None:
    attached(shop, key)
    arriving = shop.database.files.folder / ARRIVING
    old, young = arriving / "old", arriving / "young"
    for path in (old, young):
        path.write_bytes(b"half")
    day_ago = young.stat().st_mtime - LEFT_BEHIND_S - 60
    os.utime(old, (day_ago, day_ago))
    attached(shop, key, b"another")
    assert (old.exists(), young.exists()) == (False, True)
    assert shop.check() == []


@pytest.mark.parametrize("name", ["../../etc/passwd", "/x", "a/b.csv", "a\\b.csv", "..", "C:x.csv", ""])
def test_a_name_never_leads_into_folders(shop: Shop, key: str, name: str) -> None:
    with pytest.raises(Refusal, match="file name = "):
        attached(shop, key, name=name)
    assert shop.files.of_job(key) == []


@pytest.mark.parametrize("name", ["...", "run 3 (warm).csv", "ü.csv", "x" * 200, "<b>.csv", "con"])
def test_any_other_name_is_kept_as_it_was(shop: Shop, key: str, name: str) -> None:
    assert shop.files.one(attached(shop, key, name=name)).name == name


def test_a_kind_must_be_known(shop: Shop, key: str) -> None:
    with pytest.raises(Refusal) as refusal:
        shop.files.attach(key, "a", "film", io.BytesIO(), who="A. Example")  # type: ignore[arg-type]
    assert str(refusal.value) == 'kind = "film": must be one of readings, drive, other'


@pytest.mark.parametrize("number", [0, -1, 99, 2**31, 2**70])
def test_an_attachment_that_is_not_there(shop: Shop, key: str, number: int) -> None:
    for act in (
        lambda: shop.files.open(number),
        lambda: shop.files.columns(number),
        lambda: shop.files.put_columns(number, polars.DataFrame()),
        lambda: shop.files.one(number),
    ):
        with pytest.raises(NotThereError, match=f"there is no attachment {number}"):
            act()


def test_a_file_that_was_taken_away_is_missed(shop: Shop, key: str) -> None:
    number = attached(shop, key)
    path = shop.database.files.path(shop.files.one(number).sha256)
    path.unlink()
    with pytest.raises(NotThereError) as refusal:
        shop.files.open(number)
    assert str(refusal.value) == (
        "run 3.csv: its file is not beside the store; `sparkwright shop check` looks through all of them"
    )
    assert shop.check() == [f"bench-engine, run 3.csv: its file {path} is not there"]


def test_with_postgresql_somebody_must_say_where_files_go(postgresql_server: str) -> None:
    from databases import new_database

    with open_shop(new_database(postgresql_server)) as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="").key
        with pytest.raises(ShopError, match="nobody said where attached files go"):
            attached(shop, key)


def test_a_file_for_which_there_is_no_room_is_not_kept(shop: Shop, key: str) -> None:
    """The system refuses to let a file grow, as a full disk would."""
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (3_000_000, limits[1]))
    try:
        with pytest.raises(ShopError) as refusal:
            attached(shop, key, bytes(5_000_000))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert refusal.value.on_this_machine == (
        f"{shop.database.files.folder}: can't be written (file too large); nothing of this file was kept"
    )
    assert shop.files.of_job(key) == []
    assert files_below(shop.database.files.folder) == []


# Columns


def test_columns_come_back_as_they_were(shop: Shop, key: str) -> None:
    number = attached(shop, key)
    frame = polars.DataFrame(
        {"t_s": [0.0, 0.1, None], "rpm": [800.0, float("nan"), 3000.0], "note": ["a", None, "ü"]}
    )
    with pytest.raises(NotThereError, match=r"run 3\.csv: no columns are kept of it; read the file again"):
        shop.files.columns(number)
    shop.files.put_columns(number, frame.head(1))
    shop.files.put_columns(number, frame)
    assert shop.files.columns(number).equals(frame, null_equal=True)
    assert shop.files.one(number).has_columns


def test_who_has_no_polars_is_told_what_to_install(
    shop: Shop, key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = attached(shop, key)
    shop.files.put_columns(number, polars.DataFrame({"rpm": [800]}))
    monkeypatch.setitem(sys.modules, "polars", None)
    with pytest.raises(ShopError, match=r"run 3\.csv: .* pip install 'sparkwright\[drives\]'"):
        shop.files.columns(number)
    assert shop.check() == []


def test_damaged_columns_are_said_to_be(shop: Shop, key: str) -> None:
    number = attached(shop, key)
    shop.files.put_columns(number, polars.DataFrame({"rpm": [800]}))
    (path,) = set(files_below(shop.database.files.folder)) - {
        shop.database.files.path(shop.files.one(number).sha256)
    }
    path.write_bytes(path.read_bytes()[:-9])
    with pytest.raises(ShopError, match=r"run 3\.csv: its columns are damaged; read the file again"):
        shop.files.columns(number)
    assert shop.check() == [
        f"bench-engine, columns of run 3.csv: its file {path} no longer holds what was given"
    ]


# Evidence


def test_what_was_seen_is_kept_as_it_was_given(shop: Shop, key: str) -> None:
    seen = light(2000, 31.5, number=3, note="µ ✓", sweep="rising", cylinder=2)
    taken = datetime(2030, 5, 1, 14, 30, tzinfo=timezone(timedelta(hours=2)))
    kept = shop.evidence.add(key, seen, who="A. Example", when=taken)
    assert (kept.data, kept.job, kept.who, kept.withdrawn) == (seen, key, "A. Example", None)
    assert (kept.kind, kept.version, kept.when) == ("light-reading", 1, taken)
    assert shop.evidence.of_job(key) == [kept]


def test_evidence_of_every_kind_stands_in_one_order(shop: Shop, key: str) -> None:
    sweep = SweepReadings(3000.0, 95.0, (SweepRow(24.0, 310.0, "none"), SweepRow(28.0, 322.0, "trace")))
    mark = KnockMark(3000.0, 95.0, 30.0, "heavy", coolant_c=85.0)
    tries = DeadCentreReadings((ReadPair(27.0, -31.0),))
    for seen in (light(), sweep, tries, mark, light(3000)):
        shop.evidence.add(key, seen, who="A. Example")
    assert [each.data for each in shop.evidence.of_job(key)] == [light(), sweep, tries, mark, light(3000)]
    assert [each.data for each in shop.evidence.of_job(key, "sweep")] == [sweep]
    assert shop.evidence.count(key, "light-reading") == 2


def test_what_is_withdrawn_is_marked_left_out_and_comes_back(shop: Shop, key: str) -> None:
    first = shop.evidence.add(key, light(800), who="A. Example")
    second = shop.evidence.add(key, light(900), who="A. Example")
    marked = shop.evidence.withdraw(key, first.id, who="B. Example", why="the lamp slipped")
    assert shop.evidence.of_job(key) == [second]
    assert shop.evidence.of_job(key, also_withdrawn=True) == [marked, second]
    assert marked.withdrawn is not None
    assert (marked.data, marked.withdrawn.who, marked.withdrawn.why) == (
        light(800),
        "B. Example",
        "the lamp slipped",
    )
    assert marked.withdrawn.when >= first.when
    with pytest.raises(NotThereError, match=f"there is no reading {first.id} of this job that counts"):
        shop.evidence.withdraw(key, first.id, who="B. Example")
    assert shop.evidence.put_back(key, first.id) == first
    assert shop.evidence.of_job(key) == [first, second]
    with pytest.raises(NotThereError, match="of this job that was taken back"):
        shop.evidence.put_back(key, first.id)


def test_evidence_of_another_job_is_left_alone(shop: Shop, key: str) -> None:
    other = shop.jobs.create(BENCH, who="A. Example").key
    mine = shop.evidence.add(key, light(), who="A. Example")
    with pytest.raises(NotThereError):
        shop.evidence.withdraw(other, mine.id, who="B. Example")
    assert shop.evidence.of_job(key) == [mine]


@pytest.mark.parametrize("number", [0, -1, 77, 2**80])
def test_a_reading_that_is_not_there(shop: Shop, key: str, number: int) -> None:
    with pytest.raises(NotThereError, match=f"there is no reading {number}"):
        shop.evidence.withdraw(key, number, who="A. Example")


def test_a_reading_that_json_can_not_hold(shop: Shop, key: str) -> None:
    """Not made by the door, which refuses them before."""
    for seen in (light(seen_deg=float("nan")), light(float("inf")), light(note="\ud800")):
        with pytest.raises(Refusal) as refusal:
            shop.evidence.add(key, seen, who="A. Example")
        assert str(refusal.value) == (
            "reading = what was given: must hold numbers, words, true or false; null for what is not known"
        )
    assert shop.evidence.of_job(key) == []


def test_too_long_a_reading(shop: Shop, key: str) -> None:
    with pytest.raises(Refusal, match="must be at most 10,000 characters"):
        shop.evidence.add(key, light(note="x" * 100_001), who="A. Example")


def test_several_readings_are_kept_all_or_none(shop: Shop) -> None:
    key = shop.jobs.create(BENCH, who="A. Example").key
    seen = [light(1000 + 100 * number) for number in range(5)]
    shop.evidence.add_all(key, seen, who="A. Example")
    assert [each.data for each in shop.evidence.of_job(key)] == seen
    with pytest.raises(Refusal):
        shop.evidence.add_all(key, [light(), light(seen_deg=float("nan"))], who="A. Example")
    assert len(shop.evidence.of_job(key)) == 5


def test_a_new_database_is_for_its_user_alone(tmp_path: Path) -> None:
    with open_shop(tmp_path / "old" / "shop.db"):
        rights = stat.S_IMODE((tmp_path / "old" / "shop.db").stat().st_mode)
    assert rights == 0o600


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_attached_files_are_for_their_user_alone_where_the_folder_was_there(tmp_path: Path) -> None:
    folder = tmp_path / "store"
    folder.mkdir(mode=0o755)
    with open_shop(folder) as shop:
        key = shop.jobs.create(BENCH, who="A. Example").key
        attached(shop, key)
        below = files_below(shop.database.files.folder)
        assert [rights(path) for path in below] == [0o600] * len(below)
        folders = [
            shop.database.files.folder,
            *(path for path in shop.database.files.folder.rglob("*") if path.is_dir()),
        ]
        assert [rights(path) for path in folders] == [0o700] * 3


def test_a_folder_of_files_that_was_given_to_a_group_stays_open_to_it(tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    (tmp_path / "files").chmod(0o2770)
    with open_shop(tmp_path / "store", files=tmp_path / "files") as shop:
        attached(shop, shop.jobs.create(BENCH, who="A. Example").key)
        assert {rights(path) & 0o777 for path in (tmp_path / "files").rglob("*") if path.is_dir()} == {0o770}
        assert {rights(path) for path in files_below(tmp_path / "files")} == {0o660}


def test_a_job_takes_so_much_evidence_and_no_more(
    shop: Shop, key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sparkwright.shop.evidence.MOST_RECORDS", 3)
    shop.evidence.add_all(key, [light(800), light(900)], who="A. Example")
    with pytest.raises(Refusal) as refusal:
        shop.evidence.add_all(key, [light(1000), light(1100)], who="A. Example")
    assert str(refusal.value) == (
        "readings = 4: must be at most 3 in one job; start another job for this engine"
    )
    shop.evidence.add(key, light(1000), who="A. Example")
    with pytest.raises(Refusal, match="must be at most 3 in one job"):
        shop.evidence.add(key, light(1100), who="A. Example")
    assert [each.data for each in shop.evidence.of_job(key)] == [light(800), light(900), light(1000)]


def test_evidence_comes_a_page_at_a_time(shop: Shop, key: str) -> None:
    shop.evidence.add_all(key, [light(1000 + rpm) for rpm in range(7)], who="A. Example")
    shop.evidence.withdraw(key, shop.evidence.of_job(key)[2].id, who="A. Example")
    seen, after = [], 0
    while page := shop.evidence.of_job(key, "light-reading", after=after, limit=2):
        seen += [each.data for each in page]
        after = page[-1].id
    assert seen == [light(1000 + rpm) for rpm in (0, 1, 3, 4, 5, 6)]
    assert shop.evidence.count(key, "light-reading") == 6
