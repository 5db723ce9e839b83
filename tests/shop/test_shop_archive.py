"""One job as an archive: out and in again the same, and nothing else gets in."""

from __future__ import annotations

import io
import json
import struct
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from databases import BENCH
from seen import light
from sparkwright.desk.case import Entry
from sparkwright.errors import SparkwrightError
from sparkwright.evidence.kinds import SweepReadings, SweepRow
from sparkwright.evidence.records import Unreadable
from sparkwright.shop import NotThereError, SavedElsewhereError, Shop, ShopError, open_shop
from sparkwright.shop import package as packages

LOG = b"rpm,kpa\n" + b"800,40\n" * 500
HISTORY = "history.json"
LOG_FILE = f"attachments/{sha256(LOG).hexdigest()}"
Json = Any


def eventful(shop: Shop) -> str:
    """A job to which everything has happened that can."""
    key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
    shop.jobs.save(key, BENCH + "# gap µ\r\n", who="B. Example", why="gap measured", based_on=1)
    shop.jobs.hand_over(
        key, 2, who="A. Example", acknowledged=["High voltage."], signed_for="Example workshop"
    )
    shop.jobs.save(key, BENCH + "# back\n", who="A. Example", why="", based_on=2)
    with pytest.raises(SavedElsewhereError):
        shop.jobs.save(key, BENCH + "# at the same time\n", who="B. Example", why="coil", based_on=2)
    for number in range(3):
        shop.evidence.add(key, light(800.5 + number, note="µ '\"{"), who="A. Example")
    shop.evidence.add(key, SweepReadings(3000.0, 95.0, (SweepRow(24.0, 310.0, "none"),)), who="A. Example")
    shop.evidence.withdraw(key, shop.evidence.of_job(key)[1].id, who="B. Example", why="slipped")
    shop.files.attach(key, "run 3.csv", "drive", io.BytesIO(LOG), who="A. Example")
    shop.files.attach(key, "again.csv", "readings", io.BytesIO(LOG), who="B. Example")
    shop.files.attach(key, "empty", "other", io.BytesIO(b""), who="B. Example")
    call = shop.cases.open("Caller from the quarry", who="B. Example", job=key)
    said = [
        Entry(0, "answer", "changed", "gap"),
        Entry(0, "cannot", "smell"),
        Entry(0, "words", text="µ clicks"),
    ]
    call = shop.cases.add(call.id, said, who="B. Example")
    shop.cases.add(call.id, [Entry(0, "withdrawn", withdraws=call.entries[0].id)], who="A. Example")
    shop.cases.add(call.id, [Entry(0, "closed", answer="cap-track")], who="A. Example")
    return key


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[Shop]:
    """Another shop's store."""
    with open_shop(tmp_path / "elsewhere") as shop:
        yield shop


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The members of a good archive, without its manifest."""
    folder = tmp_path_factory.mktemp("good")
    with open_shop(folder / "store") as shop:
        shop.archives.write(eventful(shop), folder / "job.zip")
    with zipfile.ZipFile(folder / "job.zip") as file:
        return {name: file.read(name) for name in file.namelist() if name != packages.MANIFEST}


def listed(contents: dict[str, bytes]) -> dict[str, Json]:
    return {name: {"sha256": sha256(each).hexdigest(), "size": len(each)} for name, each in contents.items()}


def packed(contents: dict[str, bytes], **manifest: Json) -> bytes:
    """Pack members with a manifest that is true of them, but for what is given."""
    whole = {
        "schema": "urn:sparkwright:job-archive:3",
        "version": "0",
        "members": listed(contents),
        **manifest,
    }
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in {**contents, packages.MANIFEST: json.dumps(whole).encode()}.items():
            file.writestr(name, content)
    return buffer.getvalue()


def refusal_of(shop: Shop, archive: bytes, folder: Path) -> str:
    """What a person hears of an archive; and nothing of it may have come in."""
    path = folder / "job.zip"
    path.write_bytes(archive)
    with pytest.raises(ShopError) as refusal:
        shop.archives.bring_in(path, who="A. Example")
    assert shop.jobs.count() == 0
    assert shop.check() == []
    assert [path for path in shop.database.files.folder.rglob("*") if path.is_file()] == []
    return str(refusal.value)


# Out and in


def test_a_job_comes_in_as_it_went_out(shop: Shop, elsewhere: Shop, tmp_path: Path) -> None:
    key = eventful(shop)
    shop.archives.write(key, tmp_path / "job.zip")
    assert elsewhere.archives.bring_in(tmp_path / "job.zip", who="C. Example") == key
    assert elsewhere.jobs.history(key) == shop.jobs.history(key)
    numbers = range(1, 4)
    assert [elsewhere.jobs.revision(key, each) for each in numbers] == [
        shop.jobs.revision(key, each) for each in numbers
    ]

    def apart_from_numbers(store: Shop) -> list[object]:
        kept = [(each.text, each.who, each.why, each.when, each.based_on) for each in store.jobs.kept(key)]
        seen = [
            (each.kind, each.version, each.data, each.when, each.who, each.withdrawn)
            for each in store.evidence.of_job(key, also_withdrawn=True)
        ]
        files = [
            (each.name, each.kind, each.size, each.sha256, each.when, each.who)
            for each in store.files.of_job(key)
        ]
        calls = []
        for case in store.cases.newest(job=key):
            place = {each.id: number for number, each in enumerate(case.entries)}
            said = [
                replace(each, id=place[each.id], withdraws=place.get(each.withdraws or 0))
                for each in case.entries
            ]
            calls.append(replace(case, id=0, entries=tuple(said)))
        return [kept, seen, files, calls]

    assert apart_from_numbers(elsewhere) == apart_from_numbers(shop)
    for attachment in elsewhere.files.of_job(key):
        with elsewhere.files.open(attachment.id) as stream:
            assert sha256(stream.read()).hexdigest() == attachment.sha256
    (line,) = elsewhere.jobs.lines()
    assert (line.number, line.who, line.handed_over, line.imported_by) == (
        3,
        "A. Example",
        False,
        "C. Example",
    )
    assert elsewhere.check() == []


def test_an_archive_of_what_came_in_is_the_same_to_the_byte(
    shop: Shop, elsewhere: Shop, tmp_path: Path
) -> None:
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    shop.archives.write(eventful(shop), first)
    elsewhere.archives.write(elsewhere.archives.bring_in(first, who="C. Example"), second)
    assert first.read_bytes() == second.read_bytes()


def test_an_archive_of_the_first_form_brings_its_readings_in_as_evidence(
    good: dict[str, bytes], elsewhere: Shop, tmp_path: Path
) -> None:
    """As it was written before there was evidence of other kinds: rows, and who took one back."""
    whole = json.loads(good[HISTORY])
    del whole["evidence"], whole["cases"]
    row = {"commanded_deg": 20, "speed_rpm": 900, "seen_deg": 19.5, "set": 2}
    told = {"row": row, "when": "2030-05-01T12:30:00Z", "who": "A. Example"}
    back = {"taken_back_when": "2030-05-01T12:31:00Z", "taken_back_by": "B. Example"}
    stays = told | dict.fromkeys(back)
    whole["readings"] = [stays, told | back, stays | {"row": {"rpm": 1}}]
    first = {**good, HISTORY: json.dumps(whole).encode()}
    (tmp_path / "job.zip").write_bytes(packed(first, schema="urn:sparkwright:job-archive:1"))
    key = elsewhere.archives.bring_in(tmp_path / "job.zip", who="C. Example")
    counts, gone, odd = elsewhere.evidence.of_job(key, also_withdrawn=True)
    assert (counts.data, counts.withdrawn) == (light(900, 19.5, number=2), None)
    assert gone.withdrawn is not None
    assert (gone.data, gone.withdrawn.who) == (counts.data, "B. Example")
    assert isinstance(odd.data, Unreadable), "kept, and never counted"
    assert elsewhere.check() == []


def test_an_archive_written_before_it_carried_cases_comes_in_without_them(
    good: dict[str, bytes], elsewhere: Shop, tmp_path: Path
) -> None:
    whole = json.loads(good[HISTORY])
    del whole["cases"]
    second = {**good, HISTORY: json.dumps(whole).encode()}
    (tmp_path / "job.zip").write_bytes(packed(second, schema="urn:sparkwright:job-archive:2"))
    key = elsewhere.archives.bring_in(tmp_path / "job.zip", who="C. Example")
    assert len(elsewhere.evidence.of_job(key, also_withdrawn=True)) == 4
    assert elsewhere.cases.newest() == []


@pytest.mark.parametrize(
    ("entry", "change", "said"),
    [
        (0, {"withdraws": 1}, "entry 1: a withdrawal, and nothing else, names what it withdraws"),
        (3, {"withdraws": None}, "entry 4: a withdrawal, and nothing else, names what it withdraws"),
        (3, {"withdraws": 5}, "entry 4: nothing stands under 5 to be withdrawn"),
        (4, {"kind": "withdrawn", "withdraws": 1}, "entry 5: nothing stands under 1 to be withdrawn"),
        (0, {"answer": "Gap <b>"}, "cases.0.entries.0.answer can't be read"),
    ],
)
def test_a_case_that_can_not_have_been_said_so_is_refused(
    good: dict[str, bytes], shop: Shop, tmp_path: Path, entry: int, change: dict[str, Json], said: str
) -> None:
    whole = json.loads(good[HISTORY])
    whole["cases"][0]["entries"][entry] |= change
    assert said in refusal_of(shop, packed({**good, HISTORY: json.dumps(whole).encode()}), tmp_path)


def test_a_job_that_is_here_already_comes_in_beside_it(shop: Shop, tmp_path: Path) -> None:
    key = eventful(shop)
    shop.archives.write(key, tmp_path / "job.zip")
    assert shop.archives.bring_in(tmp_path / "job.zip", who="A. Example") == f"{key}-2"
    assert [line.key for line in shop.jobs.lines()] == [f"{key}-2", key]
    assert shop.check() == []


def test_a_job_goes_on_where_it_came_in(shop: Shop, elsewhere: Shop, tmp_path: Path) -> None:
    shop.archives.write(eventful(shop), tmp_path / "job.zip")
    key = elsewhere.archives.bring_in(tmp_path / "job.zip", who="C. Example")
    assert elsewhere.jobs.save(key, BENCH, who="C. Example", why="", based_on=3).number == 4
    with pytest.raises(ShopError, match=r"was handed over by A\. Example and is fixed"):
        elsewhere.jobs.hand_over(key, 2, who="C. Example", acknowledged=())


def test_what_is_in_an_archive_is_what_its_page_says(good: dict[str, bytes]) -> None:
    log, empty = sha256(LOG).hexdigest(), sha256(b"").hexdigest()
    assert set(good) == {
        HISTORY,
        "revisions/0001.toml",
        "revisions/0002.toml",
        "revisions/0003.toml",
        "kept/0001.toml",
        f"attachments/{log}",
        f"attachments/{empty}",
    }
    assert good["revisions/0002.toml"].decode() == BENCH + "# gap µ\r\n"
    assert good[f"attachments/{log}"] == LOG
    told = Path(__file__).parents[2].joinpath("docs", "store.md").read_text(encoding="utf-8")
    history = json.loads(good[HISTORY])
    for key in [*history, *(inner for part in list(history.values())[1:] for inner in part[0])]:
        assert f"`{key}`" in told, key


def test_an_archive_never_takes_the_place_of_a_file(shop: Shop, tmp_path: Path) -> None:
    target = tmp_path / "job.zip"
    target.write_bytes(b"precious")
    with pytest.raises(ShopError) as refusal:
        shop.archives.write(eventful(shop), target)
    assert str(refusal.value) == (f"{target}: is there already and was left as it is; choose another name")
    assert target.read_bytes() == b"precious"
    (tmp_path / "link.zip").symlink_to(tmp_path / "elsewhere.zip")
    with pytest.raises(ShopError, match=r"link\.zip: is there already and was left as it is"):
        shop.archives.write("bench-engine", tmp_path / "link.zip")
    assert not (tmp_path / "elsewhere.zip").exists()
    with pytest.raises(ShopError, match="its folder is not there; make it first"):
        shop.archives.write("bench-engine", tmp_path / "nowhere" / "job.zip")
    assert list(tmp_path.glob(".job*")) == []


def test_no_archive_is_written_of_a_damaged_file(shop: Shop, tmp_path: Path) -> None:
    key = eventful(shop)
    shop.database.files.path(sha256(LOG).hexdigest()).write_bytes(LOG[:-1])
    with pytest.raises(ShopError, match=r"run 3\.csv: its file is damaged, and no archive was written"):
        shop.archives.write(key, tmp_path / "job.zip")
    assert list(tmp_path.glob("*.zip")) == []
    with pytest.raises(NotThereError, match="there is no job"):
        shop.archives.write("nothing", tmp_path / "job.zip")


# What doesn't get in


def test_what_is_no_archive(elsewhere: Shop, tmp_path: Path) -> None:
    for path, sentence in (
        (tmp_path / "none.zip", "none.zip: is not there; check the name"),
        (tmp_path, f"{tmp_path.name}: can't be read (is a directory)"),
    ):
        with pytest.raises(ShopError) as refusal:
            elsewhere.archives.bring_in(path, who="A. Example")
        assert str(refusal.value) == sentence
    assert refusal_of(elsewhere, b"", tmp_path) == "job.zip: is not a ZIP file, or was cut short"
    assert refusal_of(elsewhere, b"PK\3\4" * 30, tmp_path) == "job.zip: is not a ZIP file, or was cut short"


def changed(history: Callable[[Json], object]) -> Callable[[dict[str, bytes]], bytes]:
    """An archive whose history was changed by somebody who also made the manifest fit."""

    def archive(members: dict[str, bytes]) -> bytes:
        whole = json.loads(members[HISTORY])
        history(whole)
        return packed({**members, HISTORY: json.dumps(whole).encode()})

    return archive


def replaced(name: str, content: bytes) -> Callable[[dict[str, bytes]], bytes]:
    return lambda members: packed({**members, name: content})


def encrypted(members: dict[str, bytes]) -> bytes:
    """Set the flag of a password in every header; PKWARE's APPNOTE, 4.4.4, bit 0."""
    archive = bytearray(packed(members))
    for mark, flags in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        at = -1
        while (at := archive.find(mark, at + 1)) >= 0:
            archive[at + flags] |= 1
    return bytes(archive)


def bomb(members: dict[str, bytes]) -> bytes:
    """Say of an attached file that it unpacks to four billion bytes, in both headers and the manifest."""
    name = f"attachments/{sha256(LOG).hexdigest()}"
    large = 4_000_000_000
    archive = packed(members, members={**listed(members), name: {"sha256": "0" * 64, "size": large}})
    return archive.replace(struct.pack("<L", len(LOG)), struct.pack("<L", large))


def twice(members: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO(packed(members))
    with zipfile.ZipFile(buffer, "a") as file, pytest.warns(UserWarning, match="Duplicate name"):
        file.writestr(HISTORY, b"{}")
    return buffer.getvalue()


def squeezed(members: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_LZMA) as file:
        for name, content in members.items():
            file.writestr(name, content)
    return buffer.getvalue()


REFUSED: dict[str, tuple[Callable[[dict[str, bytes]], bytes], str]] = {
    "password": (encrypted, "is locked with a password; give it without"),
    "bomb": (bomb, "would unpack to 4,0"),
    "two of one name": (twice, "holds two files of one name"),
    "other packing": (squeezed, "is packed in a way that is not read; pack it as plain ZIP"),
    "other schema": (
        lambda members: packed(members, schema="urn:other:1"),
        "is urn:other:1; what is read here is urn:sparkwright:job-archive:3 or urn:sparkwright:",
    ),
    "later schema": (
        lambda members: packed(members, schema="urn:sparkwright:job-archive:4"),
        "is urn:sparkwright:job-archive:4; what is read here is urn:sparkwright:job-archive:3 or ",
    ),
    "not listed": (
        lambda members: packed(members, members={}),
        "does not hold the files that its manifest.json lists",
    ),
    "no history": (
        lambda members: packed({name: each for name, each in members.items() if name != HISTORY}),
        "history.json is not in it",
    ),
    "other hash": (
        lambda members: packed(
            members,
            members={name: {"sha256": "0" * 64, "size": len(each)} for name, each in members.items()},
        ),
        "history.json is not what was packed; it was changed or damaged",
    ),
    "path in the history": (
        changed(lambda whole: whole["revisions"][0].update(file="../../etc/passwd")),
        "revisions.0.file can't be read; string should match pattern",
    ),
    "path of a member": (
        changed(lambda whole: whole["attachments"][0].update(file="/etc/passwd")),
        "attachments.0.file can't be read",
    ),
    "path as a name": (
        changed(lambda whole: whole["attachments"][0].update(name="../x")),
        'file name = "../x": must be a name without folders; give its last part only',
    ),
    "file of another name": (
        lambda members: changed(lambda whole: whole["attachments"][0].update(file=f"attachments/{'0' * 64}"))(
            {**members, f"attachments/{'0' * 64}": b"other"}
        ),
        f"attachments/{'0' * 64} does not hold what its name says",
    ),
    "member that is not there": (
        changed(lambda whole: whole["revisions"][0].update(file="revisions/0099.toml")),
        "revisions/0099.toml is not in it",
    ),
    "numbers with a hole": (
        changed(lambda whole: whole["revisions"].pop(1)),
        "its revisions are not numbered 1, 2, 3 and so on",
    ),
    "no revision": (changed(lambda whole: whole["revisions"].clear()), "revisions can't be read"),
    "no time zone": (
        changed(lambda whole: whole["revisions"][0].update(when="2026-01-01T00:00:00")),
        "revisions.0.when can't be read",
    ),
    "before any calendar here": (
        changed(lambda whole: whole["revisions"][0].update(when="0001-01-01T00:00:00+14:00")),
        "revisions.0.when can't be read",
    ),
    "after any calendar here": (
        changed(lambda whole: whole["evidence"][0].update(when="9999-12-31T23:59:59Z")),
        "evidence.0.when can't be read",
    ),
    "unknown key": (changed(lambda whole: whole.update(more=1)), "more can't be read"),
    "half handed over": (
        changed(lambda whole: whole["revisions"][0].update(handed_over_by="A")),
        "revision 1 is handed over only by halves",
    ),
    "no name": (
        changed(lambda whole: whole["revisions"][0].update(who=" ")),
        'who = "": must be 1 to 80 characters; write a name',
    ),
    "name that acts on a terminal": (
        changed(lambda whole: whole["evidence"][0].update(who="\x1b[2J")),
        "must hold only characters that print",
    ),
    "based on nothing": (
        changed(lambda whole: whole["kept"][0].update(based_on=9)),
        "a kept text is based on revision 9, which is not there",
    ),
    "no job": (replaced("revisions/0003.toml", b"x = 1"), "x = 1: is not a key of a job"),
    "no text": (replaced("revisions/0003.toml", b"\xff"), "revisions/0003.toml is not UTF-8 text"),
    "kept is no job": (replaced("kept/0001.toml", b""), "is empty"),
    "long text": (
        replaced("revisions/0001.toml", b"#" * 1_000_001),
        "revisions/0001.toml is longer than 1,000,000 bytes",
    ),
    "history is no JSON": (replaced(HISTORY, b"{"), "history.json: the text can't be read"),
    "history is a list": (replaced(HISTORY, b"[]"), "history.json: the text can't be read"),
    "history too deep": (
        replaced(HISTORY, b'{"key":' + b"[" * 100_000 + b"]" * 100_000 + b"}"),
        "history.json: the text can't be read",
    ),
    "one text for two revisions": (
        changed(lambda whole: whole["revisions"][1].update(file="revisions/0001.toml")),
        "revisions/0001.toml stands for more than one text; each has its own",
    ),
    "more evidence than a job takes": (
        changed(lambda whole: whole.update(evidence=whole["evidence"] * 6667)),
        "evidence can't be read; tuple should have at most 20000 items",
    ),
    "thirty thousand bytes that become thirty million": (
        lambda members: packed({**members, "attachments/blank": bytes(30_000_000)}),
        "; 20,000,000 is the most that a file of this size may",
    ),
    "file that is damaged after a good one": (
        lambda members: packed({**members, LOG_FILE: LOG[:-1] + b"?"}, members=listed(members)),
        "is not what was packed; it was changed or damaged",
    ),
    **{
        f"unused member {name}": (
            replaced(name, b"x"),
            f"holds {name}, a name that leads out of it",
        )
        for name in ("../evil", "/evil", "a/../../evil", "c:evil", "a\\..\\evil")
    },
}


@pytest.mark.parametrize("name", REFUSED)
def test_an_archive_that_can_not_stand_is_refused_in_a_sentence(
    name: str, good: dict[str, bytes], elsewhere: Shop, tmp_path: Path
) -> None:
    spoil, sentence = REFUSED[name]
    said = refusal_of(elsewhere, spoil(good), tmp_path)
    assert said.startswith("job.zip")
    assert sentence in said


def test_a_file_longer_than_the_shop_takes_does_not_come_in(good: dict[str, bytes], tmp_path: Path) -> None:
    (tmp_path / "job.zip").write_bytes(packed(good))
    with open_shop(tmp_path / "small", most_attached_bytes=len(LOG) - 1) as small:
        with pytest.raises(ShopError, match=r"run 3\.csv: is longer than"):
            small.archives.bring_in(tmp_path / "job.zip", who="A. Example")
        assert small.jobs.count() == 0


def test_job_files_that_are_too_much_together_are_not_read(
    good: dict[str, bytes], elsewhere: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sparkwright.shop.archive.MOST_TEXT_BYTES", 1000)
    said = refusal_of(elsewhere, packed(good), tmp_path)
    assert said.startswith("job.zip: its job files hold ")
    assert said.endswith(" bytes, and 1,000 is the most")


# Whatever else there may be in a file


def refusal_or_none(archive: bytes) -> str | None:
    """Bring an archive into a new store: give the sentences that refused it, None where it came in whole."""
    with tempfile.TemporaryDirectory() as folder, open_shop(Path(folder) / "store") as shop:
        path = Path(folder) / "job.zip"
        path.write_bytes(archive)
        told = None
        try:
            shop.archives.bring_in(path, who="A. Example")
        except SparkwrightError as refusal:
            told = str(refusal)
        if told is None:
            assert shop.jobs.latest(shop.jobs.lines()[0].key).job
        else:
            assert shop.jobs.count() == 0
        assert shop.check() == []
        assert {each.name for each in Path(folder).iterdir()} <= {"store", "job.zip"}
        return told


def is_calm(told: str | None) -> bool:
    """Whether it came in, or every line of what was told names the file and can be printed."""
    return told is None or (told.startswith("job.zip") and all(map(str.isprintable, told.splitlines())))


FUZZ = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@FUZZ
@given(data=st.data())
def test_a_damaged_archive_is_told_in_a_sentence(good: dict[str, bytes], data: st.DataObject) -> None:
    archive = bytearray(packed(good))
    places = st.integers(0, len(archive) - 1)
    for place, value in data.draw(st.lists(st.tuples(places, st.integers(0, 255)), max_size=12)):
        archive[place] = value
    start, end = data.draw(st.tuples(st.just(0) | places, st.just(len(archive)) | places))
    assert is_calm(refusal_or_none(bytes(archive[start:end])))


WORDS = st.text(max_size=20) | st.sampled_from(
    ["", "\0", "../x", "A. Example", "9" * 30, "2026-01-01T00:00:00Z"]
)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=6,
)


def places_in(value: Json, before: tuple[int | str, ...] = ()) -> Iterator[tuple[int | str, ...]]:
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, inner in steps:
        yield (*before, step)
        yield from places_in(inner, (*before, step))


@FUZZ
@given(data=st.data())
def test_a_history_made_up_by_somebody_is_told_in_a_sentence(
    good: dict[str, bytes], data: st.DataObject
) -> None:
    """The manifest fits, so that what is read is the history itself."""
    history = json.loads(good[HISTORY])
    for _ in range(data.draw(st.integers(1, 3))):
        *way, last = data.draw(st.sampled_from(list(places_in(history))))
        part = history
        for step in way:
            part = part[step]
        if data.draw(st.booleans()):
            part[last] = data.draw(VALUES)
        else:
            del part[last]
    assert is_calm(refusal_or_none(packed({**good, HISTORY: json.dumps(history).encode()})))


@FUZZ
@given(text=st.text(max_size=200), name=st.sampled_from(["revisions/0001.toml", "kept/0001.toml"]))
def test_texts_made_up_by_somebody_are_told_in_a_sentence(
    good: dict[str, bytes], text: str, name: str
) -> None:
    spoiled = BENCH + text if len(text) % 2 else text
    assert is_calm(refusal_or_none(packed({**good, name: spoiled.encode(errors="surrogatepass")})))
