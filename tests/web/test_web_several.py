"""Several processes behind one address serve the same shop, through the end of one and of the database."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

from databases import BENCH, Here, new_database, postgresql, programs, restart
from processes import end_whole
from sparkwright.cli import REFUSED, main
from sparkwright.web.sessions import set_passphrase

if TYPE_CHECKING:
    from real_workbench import Served

PEOPLE, EACH = 6, 12
ANSWERS_WITHIN_S = 60.0


@contextmanager
def several(here: Here, *arguments: str) -> Iterator[Served]:
    from real_workbench import served

    log_in = Path(here.address if here.files is None else here.files).parent
    place = here.address if here.files is None else f"{here.address}&files={here.files}"
    with served(place, "--workers", "2", *arguments, log_in=log_in) as bench:
        yield bench


def children(process: int) -> list[int]:
    """Give the processes that a process has begun (Linux)."""
    return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def asked(bench: Served, method: str, path: str, sent: object = None) -> tuple[int, Any]:
    connection = http.client.HTTPConnection(urlsplit(bench.address).netloc, timeout=ANSWERS_WITHIN_S)
    try:
        body = None if sent is None else json.dumps(sent)
        connection.request(method, path, body, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read() or b"{}")
    finally:
        connection.close()


def patiently(bench: Served, path: str, sent: dict[str, object]) -> tuple[int, list[int]]:
    """Send until an answer says that it is kept; give it and what was said before."""
    said: list[int] = []
    ends = time.monotonic() + ANSWERS_WITHIN_S
    while time.monotonic() < ends:
        try:
            status, _ = asked(bench, "POST", path, sent)
        except OSError:
            time.sleep(0.05)
            continue
        except http.client.HTTPException:
            continue
        if status < 400:
            return status, said
        said.append(status)
        time.sleep(0.1)
    raise AssertionError(f"no answer in {ANSWERS_WITHIN_S} s; told {said}")


def readings_from_many(bench: Served, key: str, meanwhile: Callable[[], None]) -> list[int]:
    """Send readings from several people at once while something happens; give every refusal heard."""
    heard: list[int] = []

    def person(number: int) -> None:
        for each in range(EACH):
            word = f"{number}-{each}"
            seen = {"commanded_deg": 20, "speed_rpm": 1500, "seen_deg": 20, "note": word}
            reading = {"who": f"Person {number}", "sent_as": word, **seen}
            _, said = patiently(bench, f"/api/v1/jobs/{key}/readings", reading)
            heard.extend(said)

    people = [threading.Thread(target=person, args=(number,)) for number in range(PEOPLE)]
    for each in people:
        each.start()
    meanwhile()
    for each in people:
        each.join()
    return heard


def notes_kept(here: Here, key: str) -> Counter[str]:
    with here.open() as shop:
        return Counter(str(each.fields["note"]) for each in shop.evidence.of_job(key))


EVERY_NOTE = Counter(f"{number}-{each}" for number in range(PEOPLE) for each in range(EACH))


def test_one_of_two_processes_killed_loses_nothing_and_is_begun_anew(here: Here) -> None:
    with here.open() as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
    with several(here) as bench:
        first = children(bench.process.pid)
        assert len(first) == 2

        def kill_one() -> None:
            time.sleep(0.3)
            os.kill(first[0], signal.SIGKILL)

        readings_from_many(bench, key, kill_one)
        ends = time.monotonic() + 20.0
        while len(set(children(bench.process.pid)) - {first[0]}) < 2 and time.monotonic() < ends:
            time.sleep(0.1)
        now = children(bench.process.pid)
        assert len(now) == 2
        assert first[0] not in now
        assert asked(bench, "GET", "/api/v1/jobs")[0] == 200
    assert notes_kept(here, key) == EVERY_NOTE


def test_two_who_save_at_once_in_two_processes_are_both_told_the_truth(here: Here) -> None:
    with here.open() as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
    with several(here) as bench:
        statuses: list[int] = []

        def save(who: str) -> None:
            sent = {"who": who, "why": who, "text": BENCH + f"# {who}\n", "based_on": 1}
            statuses.append(asked(bench, "PUT", f"/api/v1/jobs/{key}", sent)[0])

        people = [threading.Thread(target=save, args=(f"Person {number}",)) for number in range(8)]
        for each in people:
            each.start()
        for each in people:
            each.join()
    assert sorted(statuses) == [200] + [409] * 7
    with here.open() as shop:
        assert shop.jobs.latest(key).number == 2


def test_a_sign_in_holds_in_every_process(here: Here) -> None:
    with here.open() as shop:
        set_passphrase(shop, "four words in order")
    with several(here, "--name", "bench.example") as bench:
        place = urlsplit(bench.address).netloc
        connection = http.client.HTTPConnection(place, timeout=ANSWERS_WITHIN_S)
        connection.request(
            "POST",
            "/sign-in",
            "who=A.+Example&passphrase=four+words+in+order&back=%2F",
            {"Content-Type": "application/x-www-form-urlencoded", "Origin": bench.address},
        )
        answer = connection.getresponse()
        cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        connection.close()
        assert answer.status == 303
        for _ in range(20):  # a connection each, so that both processes are asked
            connection = http.client.HTTPConnection(place, timeout=ANSWERS_WITHIN_S)
            connection.request("GET", "/", headers={"Cookie": cookie})
            assert connection.getresponse().status == 200
            connection.close()


def test_the_database_restarted_in_the_middle_loses_nothing_and_people_are_told(tmp_path: Path) -> None:
    bin_folder = programs()
    if bin_folder is None:
        pytest.skip("PostgreSQL is not installed; Debian's package is postgresql")
    with postgresql(bin_folder) as server:
        here = Here(new_database(server), tmp_path / "files")
        with here.open() as shop:
            key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
        with several(here) as bench:

            def restart_it() -> None:
                time.sleep(0.3)
                restart(server)

            heard = readings_from_many(bench, key, restart_it)
            assert set(heard) <= {503}, "told as something else than that the store can't be used now"
            assert asked(bench, "GET", f"/api/v1/jobs/{key}")[0] == 200
        assert notes_kept(here, key) == EVERY_NOTE


def test_ctrl_c_ends_every_process(tmp_path: Path) -> None:
    here = Here(str(tmp_path / "shop"), None)
    with several(here) as bench:
        begun = children(bench.process.pid)
        bench.process.send_signal(signal.SIGINT)
        bench.process.wait(ANSWERS_WITHIN_S)
        assert not any(Path(f"/proc/{each}").exists() for each in begun)
        bench.stop()
        bench.again()


def test_no_process_outlives_the_one_that_began_it_and_was_killed(tmp_path: Path) -> None:
    with several(Here(str(tmp_path / "shop"), None)) as bench:
        begun = children(bench.process.pid)
        assert len(begun) == 2
        bench.process.kill()
        ends = time.monotonic() + ANSWERS_WITHIN_S
        while any(Path(f"/proc/{each}").exists() for each in begun) and time.monotonic() < ends:
            time.sleep(0.05)
        assert not any(Path(f"/proc/{each}").exists() for each in begun)


TOLD_EARLY = """
import os, signal, sys, time
from sparkwright.web.several import keep_serving

def tell():
    os.kill(os.getpid(), signal.SIGINT)

def slow_fork(fork=os.fork):
    number = fork()
    if number == 0 and sys.argv[1] == "while it begins":
        time.sleep(1.0)
    if number and sys.argv[1] == "before it is known":
        tell()
    return number

os.fork = slow_fork
keep_serving(2, lambda: time.sleep(600), tell)
"""


@pytest.mark.parametrize("moment", ["while it begins", "before it is known"])
def test_ctrl_c_ends_a_process_that_has_hardly_begun(moment: str) -> None:
    """A fork that takes long, as on a busy machine; what is told in that moment must not be lost."""
    process = subprocess.Popen([sys.executable, "-c", TOLD_EARLY, moment], process_group=0, text=True)
    try:
        assert process.wait(ANSWERS_WITHIN_S) == 0
    finally:
        end_whole(process, signal.SIGKILL)


@pytest.mark.parametrize("given", ["0", "65"])
def test_a_number_of_processes_that_cannot_be_had_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], given: str
) -> None:
    assert main(["serve", "--shop", str(tmp_path / "shop"), "--workers", given, "--no-browser"]) == REFUSED
    assert f"--workers = {given}: must be 1 to 64" in capsys.readouterr().err
    assert not (tmp_path / "shop").exists()
