"""Guessing the pass-phrase: what is counted, for whom, and that it holds over all serving processes."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi import Request
from fastapi.testclient import TestClient

from databases import Here
from sparkwright.shop import Shop
from sparkwright.web import sessions as sessions_module
from sparkwright.web.sessions import Sessions, TooManyTriesError, place_of, set_passphrase
from sparkwright.web.settings import Settings
from workbench import HOST, PUMP_HOUSE, workbench

pytestmark = pytest.mark.security

PASSPHRASE = "seven brass kettles"
WAIT = "Too many wrong pass-phrases were tried; wait half a minute and try again."


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[TestClient]:
    with workbench(tmp_path, Settings(hosts=(HOST,), shared=True)) as (client, shop):
        set_passphrase(shop, PASSPHRASE)
        yield client


def guessed(sessions: Sessions, place: str, now_s: float, guess: str = "a guess") -> str:
    try:
        return "right" if sessions.opens(guess, place, now_s) else "wrong"
    except TooManyTriesError:
        return "wait"


def test_guessing_has_to_wait(shop: Shop) -> None:
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=12.0)
    assert [guessed(sessions, "10.0.0.7", 100.0) for _ in range(6)] == ["wrong"] * 5 + ["wait"]
    assert guessed(sessions, "10.0.0.8", 101.0, PASSPHRASE) == "right"
    assert guessed(sessions, "10.0.0.7", 129.0, PASSPHRASE) == "wait"
    assert guessed(sessions, "10.0.0.7", 131.0, PASSPHRASE) == "right"


def test_guessing_has_to_wait_after_somebody_has_signed_in(shop: Shop) -> None:
    """A pass-phrase that was right before is known again at once; who waits learns nothing from that."""
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=12.0)
    assert guessed(sessions, "10.0.0.8", 100.0, PASSPHRASE) == "right"
    tried = [guessed(sessions, "10.0.0.7", 101.0) for _ in range(5)]
    assert tried == ["wrong"] * 5
    assert guessed(sessions, "10.0.0.7", 102.0, PASSPHRASE) == "wait"


def test_guessing_from_many_addresses_has_to_wait(shop: Shop) -> None:
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=12.0)
    assert guessed(sessions, "10.1.0.1", 100.0, PASSPHRASE) == "right"
    tried = [guessed(sessions, f"10.0.0.{each}", 100.0) for each in range(25)]
    assert Counter(tried) == {"wrong": 20, "wait": 5}
    assert guessed(sessions, "10.1.0.1", 101.0, PASSPHRASE) == "wait"
    assert guessed(sessions, "10.1.0.1", 131.0, PASSPHRASE) == "right"


def test_the_wait_holds_over_all_serving_processes(here: Here) -> None:
    with here.open() as first, here.open() as second:
        set_passphrase(first, PASSPHRASE)
        serving = [Sessions(each, hours=12.0) for each in (first, second)]
        tried = [guessed(serving[each % 2], "10.0.0.7", 100.0) for each in range(6)]
        assert tried == ["wrong"] * 5 + ["wait"]
        assert guessed(serving[1], "10.0.0.7", 101.0, PASSPHRASE) == "wait"


def test_guessing_all_at_once_is_counted_too(here: Here) -> None:
    with here.open() as shop, ThreadPoolExecutor(12) as pool:
        set_passphrase(shop, PASSPHRASE)
        sessions = Sessions(shop, hours=12.0)
        tried = pool.map(lambda _: guessed(sessions, "10.0.0.7", 100.0), range(24))
        assert Counter(tried) == {"wrong": 5, "wait": 19}


def test_the_right_passphrase_is_no_guess(shop: Shop) -> None:
    set_passphrase(shop, PASSPHRASE)
    assert [guessed(Sessions(shop, 12.0), "10.0.0.7", 100.0, PASSPHRASE) for _ in range(7)] == ["right"] * 7


def test_tries_are_forgotten_when_their_time_is_over(shop: Shop) -> None:
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=12.0)
    for now_s in (100.0, 200.0):
        assert guessed(sessions, "10.0.0.7", now_s) == "wrong"
    with shop.database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM tries").scalar() == 1


def test_who_has_to_wait_is_told_how_long(asked: TestClient) -> None:
    assert asked.get("/api/v1/jobs", auth=("dyno", PASSPHRASE)).status_code == 200
    for _ in range(5):
        assert asked.get("/api/v1/jobs", auth=("dyno", "a guess")).status_code == 401
    program = asked.get("/api/v1/jobs", auth=("dyno", PASSPHRASE))
    assert (program.status_code, program.headers["retry-after"]) == (429, "30")
    assert program.json() == {"schema": "urn:sparkwright:refusal:1", "problems": [WAIT]}
    person = asked.post("/sign-in", data={"who": "A. B.", "passphrase": PASSPHRASE, "back": "/jobs/some"})
    assert (person.status_code, person.headers["retry-after"]) == (429, "30")
    assert WAIT in person.text
    assert 'value="/jobs/some"' in person.text
    assert 'value="A. B."' in person.text


def test_a_passphrase_is_never_hashed_where_everybody_waits_for_it(
    asked: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The event loop serves all; hashing takes some 50 ms and belongs in a thread of its own."""
    hashed = sessions_module._hashed
    loops: list[object] = []

    def watched(passphrase: str, salt: bytes) -> bytes:
        try:
            loops.append(asyncio.get_running_loop())
        except RuntimeError:
            loops.append(None)
        return hashed(passphrase, salt)

    monkeypatch.setattr(sessions_module, "_hashed", watched)
    asked.get("/api/v1/jobs", auth=("dyno", PASSPHRASE))
    asked.post("/sign-in", data={"who": "A. B.", "passphrase": "another guess"})
    assert loops == [None, None]


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("192.168.1.20", "192.168.1.20"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2:ffff::1", "2001:db8:1:2::/64"),
        ("::ffff:192.168.1.20", "192.168.1.20"),
        ("unknown", "elsewhere"),
        ("'; DROP TABLE tries", "elsewhere"),
        ("x" * 10_000, "elsewhere"),
    ],
)
def test_a_machine_can_not_be_many_places(address: str, place: str) -> None:
    """A machine may take any address of its network (RFC 4291, section 2.5.1); 2001:db8:: is for examples."""
    assert place_of(Request({"type": "http", "headers": [], "client": (address, 1)})) == place
    assert len(place) <= 64


@pytest.mark.parametrize(
    "credentials",
    [b"Basic \xff\xfe", b"Basic \xe4\xf6", b"Basic //79", b"Basic", b"\xff \xff", b"Basic AAAA\x80"],
)
def test_credentials_that_are_no_text_are_refused(asked: TestClient, credentials: bytes) -> None:
    """`//79` is base64 of bytes that are no UTF-8 (RFC 4648, section 4; RFC 3629, section 3)."""
    answer = asked.get("/api/v1/jobs", headers=[(b"authorization", credentials)])
    assert answer.status_code == 401
    assert answer.json()["problems"] == ["The shop's pass-phrase is needed, as the password of HTTP Basic."]


def test_a_sign_in_lasts_no_longer_than_sign_ins_last_now(shop: Shop) -> None:
    """A token from days of longer sign-ins, or from whoever knows the secret, ends with the stated hours."""
    set_passphrase(shop, PASSPHRASE)
    long_lived = Sessions(shop, hours=720.0).begin(now_s=0.0)
    assert Sessions(shop, hours=720.0).holds(long_lived, now_s=10.0)
    assert not Sessions(shop, hours=1.0).holds(long_lived, now_s=10.0)


# The record of who came


def test_sign_ins_wrong_tries_and_downloads_are_kept_for_the_owner(tmp_path: Path) -> None:
    with workbench(tmp_path, Settings(hosts=(HOST,), shared=True)) as (client, shop):
        set_passphrase(shop, PASSPHRASE)
        shop.jobs.create(PUMP_HOUSE, who="A. Example")
        basic = ("any", PASSPHRASE)
        client.post("/sign-in", data={"who": "A. Example", "passphrase": "wrong brass kettles"})
        for _ in range(3):
            assert client.get("/api/v1/jobs", auth=basic).status_code == 200
        client.post("/sign-in", data={"who": "A. Example", "passphrase": PASSPHRASE})
        archive = client.get("/jobs/pump-house-v8/archive").content
        client.post("/import", data={"who": "A. Example"}, files={"archive": ("job.zip", archive)})
        lines = [(each.kind, each.who, each.key, each.about) for each in reversed(shop.log.lines())]
        assert lines == [
            ("wrong try", None, None, ""),
            ("sign-in", None, None, "a program"),
            ("sign-in", "A. Example", None, ""),
            ("download", "A. Example", "pump-house-v8", "archive"),
            ("import", "A. Example", "pump-house-v8-2", ""),
        ]
        assert {each.place for each in shop.log.lines()} == {"elsewhere"}
        # Neither what was tried nor what was right, and no address of the workbench shows it.
        assert "kettles" not in str(shop.log.lines())
        assert [path for path in client.get("/api/v1/openapi.json").json()["paths"] if "log" in path] == []
