"""People go on working while others send half a request, ask for plans and hang up, or take no answer.

The workbench is served at a port of this machine and asked over sockets, since what is tested lies below
what a client in the same process sees. All 127.x.x.x are this machine, so each stands for somebody else.
"""

from __future__ import annotations

import http.client
import logging
import os
import re
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi import FastAPI

from planned import planned_once
from processes import end_whole
from real_workbench import COMMAND
from sparkwright.cycle.belief import Belief
from sparkwright.job import Job
from sparkwright.plan.result import PlanResult
from sparkwright.shop import Shop, open_shop
from sparkwright.web import reckoning
from sparkwright.web.app import create_app
from sparkwright.web.connections import Limits, most_open
from sparkwright.web.log import OnceAMinute
from sparkwright.web.reckoning import Planner
from sparkwright.web.serve import listen_on, server_of
from sparkwright.web.settings import Settings
from workbench import PUMP_HOUSE, workbench

ELSEWHERE = "127.0.0.2"
HALF_A_HEADER = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
HALF_A_BODY = (
    b"POST /api/v1/jobs HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
    b"Content-Length: 1000\r\n\r\n{"
)


@contextmanager
def serving(
    place: Path,
    limits: Limits | None = None,
    settings: Settings | None = None,
    planner: Planner = planned_once,
) -> Iterator[tuple[int, Shop, FastAPI]]:
    """Serve a store from a thread; give its port, the store and the application."""
    settings = settings or Settings()
    with open_shop(place / "shop") as shop, listen_on("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        app = create_app(shop, settings, planner=planner)
        server = server_of(app, limits or Limits(), settings)
        thread = threading.Thread(target=server.run, args=([taken],))
        thread.start()
        try:
            until(lambda: server.started)
            yield port, shop, app
        finally:
            server.should_exit = True
            thread.join(30)
            assert not thread.is_alive()


ENDS_S = 6.0
"""Three seconds are promised; as many more are left to a machine that runs other tests beside [s]."""


def until(true: Callable[[], bool], within_s: float = 20.0) -> None:
    """Wait for something to become true."""
    end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end_s, "it did not come"
        time.sleep(0.01)


@contextmanager
def sent(port: int, count: int, what: bytes, address: str = ELSEWHERE) -> Iterator[list[socket.socket]]:
    """Hold connections from an address on which so much was sent and no more."""
    with ExitStack() as held:
        lines = []
        for _ in range(count):
            line = held.enter_context(
                socket.create_connection(("127.0.0.1", port), timeout=20, source_address=(address, 0))
            )
            line.sendall(what)
            lines.append(line)
        yield lines


@contextmanager
def busy(port: int, count: int, address: str = ELSEWHERE) -> Iterator[None]:
    """Hold connections in the middle of a body; each has been told that it may go on."""
    expecting = HALF_A_BODY.replace(b"\r\n\r\n", b"\r\nExpect: 100-continue\r\n\r\n")
    with sent(port, count, expecting, address) as lines:
        for line in lines:
            assert line.recv(1000).startswith(b"HTTP/1.1 100 ")
        yield


def asked(port: int, path: str = "/", address: str = "127.0.0.1") -> tuple[int, http.client.HTTPMessage, str]:
    """Ask once, on a connection of its own; status, header and text of the answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20, source_address=(address, 0))
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read().decode()
    finally:
        connection.close()


def heard(line: socket.socket) -> str:
    """Read what comes until the connection is closed."""
    parts = []
    while part := line.recv(65536):
        parts.append(part)
    return b"".join(parts).decode()


# Half-sent requests


@pytest.mark.parametrize("address", [ELSEWHERE, "127.0.0.1"])
def test_half_sent_requests_shut_nobody_out(tmp_path: Path, address: str) -> None:
    limits = Limits(most=40, most_from_one=20)
    with serving(tmp_path, limits) as (port, *_), sent(port, 100, HALF_A_HEADER, address):
        for _ in range(5):
            assert asked(port)[0] == 200


def test_who_says_nothing_more_is_told_so_and_let_go(tmp_path: Path) -> None:
    with serving(tmp_path, Limits(header_s=0.3, body_s=0.3)) as (port, *_):
        with sent(port, 1, HALF_A_HEADER) as [line]:
            answer = heard(line)
        assert answer.startswith("HTTP/1.1 408 ")
        assert answer.endswith("The request's header didn't come within 0.3 seconds.\n")
        with sent(port, 1, HALF_A_BODY) as [line]:
            answer = heard(line)
        assert answer.startswith("HTTP/1.1 408 ")
        assert answer.endswith(
            "What you sent came too slowly and was not taken. Nothing was saved; send it again.\n"
        )
        with sent(port, 1, b"") as [line]:
            assert heard(line) == ""


def test_a_header_sent_a_letter_at_a_time_has_no_longer(tmp_path: Path) -> None:
    with serving(tmp_path, Limits(header_s=0.5)) as (port, *_), sent(port, 1, HALF_A_HEADER) as [line]:
        begun_s = time.monotonic()
        line.settimeout(0.05)
        answer = b""
        while not answer and time.monotonic() < begun_s + 10.0:
            try:
                line.sendall(b"x")
                answer = line.recv(1000)
            except TimeoutError:
                continue
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert time.monotonic() - begun_s < 5.0


@pytest.mark.parametrize("at_once", [True, False])
def test_the_second_request_on_a_connection_has_its_deadline_too(tmp_path: Path, at_once: bool) -> None:
    whole = b"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    first = whole + HALF_A_HEADER if at_once else whole
    with serving(tmp_path, Limits(header_s=0.4)) as (port, *_), sent(port, 1, first) as [line]:
        assert line.recv(65536).startswith(b"HTTP/1.1 ")
        if not at_once:
            line.sendall(HALF_A_HEADER)
        assert "HTTP/1.1 408 " in heard(line)


def test_a_slow_phone_can_send_a_photograph(tmp_path: Path) -> None:
    """As long as its bytes come at the least rate a body may take far longer than one that stops."""
    limits = Limits(body_s=0.4, least_bytes_s=1000.0)
    boundary, content = b"x-x", b"0123456789" * 400
    body = (
        b'--x-x\r\nContent-Disposition: form-data; name="file"; filename="coil.jpg"\r\n\r\n'
        + content
        + b"\r\n--x-x--\r\n"
    )
    with serving(tmp_path, limits) as (port, shop, _):
        key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
        head = (
            f"POST /api/v1/jobs/{key}/files?who=A.%20Example HTTP/1.1\r\nHost: 127.0.0.1\r\n"
            f"Content-Type: multipart/form-data; boundary={boundary.decode()}\r\n"
            f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        with sent(port, 1, head.encode()) as [line]:
            for begin in range(0, len(body), 200):
                line.sendall(body[begin : begin + 200])
                time.sleep(0.1)
            assert heard(line).startswith("HTTP/1.1 201 ")
        assert [each.size for each in shop.files.of_job(key)] == [len(content)]


def test_a_browser_keeps_eight_connections_open(tmp_path: Path) -> None:
    with serving(tmp_path) as (port, *_), ExitStack() as held:
        lines = [http.client.HTTPConnection("127.0.0.1", port, timeout=20) for _ in range(8)]
        for line in lines:
            held.callback(line.close)
        for _ in range(3):
            for line in lines:
                line.request("GET", "/")
            for line in lines:
                answer = line.getresponse()
                assert (answer.status, bool(answer.read())) == (200, True)
                assert not answer.will_close


def test_one_address_that_fills_its_places_is_told_so_and_others_come_in(tmp_path: Path) -> None:
    with serving(tmp_path, Limits(most_from_one=10)) as (port, *_), busy(port, 10):
        status, _, text = asked(port, address=ELSEWHERE)
        assert (status, text) == (
            429,
            "10 connections from your address are open; close some first.\n",
        )
        assert asked(port)[0] == 200


def test_fifty_people_come_through_one_proxy(tmp_path: Path) -> None:
    limits, settings = Limits(most_from_one=10), Settings(behind_proxy=ELSEWHERE)
    with serving(tmp_path, limits, settings) as (port, *_), busy(port, 50):
        assert asked(port, address=ELSEWHERE)[0] == 200


def test_when_all_places_are_taken_the_next_is_told_so(tmp_path: Path) -> None:
    with serving(tmp_path, Limits(most=16, most_from_one=10)) as (port, *_):
        with busy(port, 8, "127.0.0.3"), busy(port, 8, "127.0.0.4"):
            status, header, text = asked(port)
            assert (status, text) == (503, "Too many people are connected; try again in a few seconds.\n")
            assert header["retry-after"] == "5"
        until(lambda: asked(port)[0] == 200)


def test_who_takes_nothing_of_an_answer_is_let_go(tmp_path: Path) -> None:
    with serving(tmp_path, Limits(taking_s=0.3)) as (port, shop, _):
        key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
        with (tmp_path / "long.bin").open("wb+") as file:
            file.truncate(40_000_000)
            kept = shop.files.attach(key, "long.bin", "other", file, who="A. Example")
        asks = f"GET /jobs/{key}/files/{kept.id} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode()
        with sent(port, 1, asks) as [line]:
            time.sleep(2.0)
            assert taken_until_closed(line) < 40_000_000


def taken_until_closed(line: socket.socket) -> int:
    """Read until the connection is closed in whatever way; give the count of bytes."""
    taken = 0
    try:
        while part := line.recv(1_000_000):
            taken += len(part)
    except ConnectionResetError:
        pass
    return taken


def served_with_few_files(place: Path, log: Path, files: int) -> subprocess.Popen[str]:
    """Serve in a process that may open only so many files."""
    serve = f"{COMMAND} serve --shop {place} --port 0 --no-browser"
    with log.open("w") as written:
        return subprocess.Popen(
            ["sh", "-c", f"ulimit -n {files}; exec {serve}"],
            stdout=subprocess.PIPE,
            stderr=written,
            text=True,
            process_group=0,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )


def port_said(process: subprocess.Popen[str]) -> int:
    assert process.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:(\d+)/", process.stdout.readline())
    assert found is not None
    return int(found[1])


@contextmanager
def ending(process: subprocess.Popen[str]) -> Iterator[None]:
    try:
        yield
    finally:
        end_whole(process, signal.SIGKILL)


def test_more_half_sent_requests_than_files_leave_the_log_short(tmp_path: Path) -> None:
    process = served_with_few_files(tmp_path / "shop", tmp_path / "log", 200)
    with ending(process):
        port = port_said(process)
        assert asked(port)[0] == 200
        with sent(port, 400, HALF_A_HEADER):
            for _ in range(3):
                begun_s = time.monotonic()
                assert asked(port)[0] == 200
                assert time.monotonic() - begun_s < 2.0
    log = (tmp_path / "log").read_text()
    assert "to make room for others" in log
    assert "Too many open files" not in log
    assert len(log) < 5000


def test_connections_leave_half_the_files_to_everything_else() -> None:
    assert most_open() <= 512
    import resource

    files, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (300, most))
        assert most_open() == 150
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (files, most))


# The log


def test_the_log_says_a_repeated_thing_once_with_its_count(caplog: pytest.LogCaptureFixture) -> None:
    now_s = 0.0
    caplog.handler.addFilter(once := OnceAMinute(lambda: now_s))
    log = logging.getLogger("crowd")
    try:
        for number in range(5000):
            now_s = 0.01 * number
            log.warning("%s: refused", f"127.0.0.{number}")
        now_s = 61.0
        log.warning("%s: refused", "127.0.1.0")
    finally:
        caplog.handler.removeFilter(once)
    assert caplog.messages == [
        "127.0.0.0: refused",
        "127.0.1.0: refused (and 4,999 more like it before)",
    ]


def test_the_log_tells_at_the_end_what_it_held_back(caplog: pytest.LogCaptureFixture) -> None:
    once = OnceAMinute()
    for _ in range(4):
        once.filter(logging.makeLogRecord({"name": "crowd", "msg": "%s: refused", "args": ("127.0.0.9",)}))
    once.tell_the_rest()
    assert caplog.messages == ["3 more like this: %s: refused"]


def test_each_fault_keeps_its_number_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    caplog.handler.addFilter(once := OnceAMinute())
    try:
        for number in ("a1", "b2"):
            try:
                raise ZeroDivisionError
            except ZeroDivisionError:
                logging.getLogger("crowd").exception("fault %s", number)
    finally:
        caplog.handler.removeFilter(once)
    assert caplog.messages == ["fault a1", "fault b2"]
    assert caplog.text.count("Traceback") == 1


# Much of what isn't known


def test_a_post_of_a_hundred_thousand_unknown_keys_gets_one_sentence(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, _):
        answer = client.post("/api/v1/jobs", json={f"key{number}": 0 for number in range(100_000)})
        assert answer.status_code == 422
        [sentence] = answer.json()["problems"]
        assert sentence.startswith("what was sent = ")
        assert sentence.endswith(": must have at most 100 keys")


def test_of_very_many_mistakes_the_first_are_told_and_the_rest_counted(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, _):
        sent = {"number": 1, "hand": [["x", "x", "x", 0]] * 1000}
        answer = client.post("/jobs/none/map/try", json=sent, headers={"hx-request": "true"})
        assert answer.status_code == 422
        assert len(answer.text.splitlines()) == 51
        assert answer.text.endswith("And 3,950 more that can't be used.")


# Plans


class SlowPlanner:
    """Plans in as much time as a test wants: as long as its gate is shut."""

    def __init__(self, plan: PlanResult) -> None:
        self.gate, self.begun, self._plan = threading.Event(), list[str](), plan

    def __call__(
        self, job: Job, belief: Belief, *, run: object, progress: Callable[[int, int], None]
    ) -> PlanResult:
        self.begun.append(job.name)
        while not self.gate.wait(0.01):
            progress(1, 100)
        return replace(self._plan, fingerprint=job.without_hand().fingerprint)


@pytest.fixture(scope="module")
def pump_house_plan() -> PlanResult:
    return planned_once(Job.from_toml(PUMP_HOUSE))


@pytest.fixture
def planner(pump_house_plan: PlanResult) -> SlowPlanner:
    return SlowPlanner(pump_house_plan)


def jobs(shop: Shop, count: int) -> list[str]:
    """Keep jobs of which each has a plan of its own."""
    return [
        shop.jobs.create(
            PUMP_HOUSE.replace('name = "Pump-house V8"', f'name = "Number {number}"'),
            who="A. Example",
            why="came in",
        ).key
        for number in range(count)
    ]


def plan_wanted(key: str) -> bytes:
    return f"GET /api/v1/jobs/{key}/plan HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode()


def test_plans_of_people_who_hung_up_are_not_worked_out(tmp_path: Path, planner: SlowPlanner) -> None:
    with serving(tmp_path, Limits(most_from_one=200), planner=planner) as (port, shop, _):
        *dropped, wanted = jobs(shop, 31)
        with ExitStack() as waiting:
            for _ in range(4):
                for key in dropped:
                    waiting.enter_context(sent(port, 1, plan_wanted(key)))
            until(lambda: len(planner.begun) == 1)
            assert asked(port)[0] == 200  # the pages are there meanwhile
        with sent(port, 1, plan_wanted(wanted)) as [line]:
            until(lambda: planner.begun[-1] == "Number 30", 5.0)
            planner.gate.set()
            assert line.recv(65536).startswith(b"HTTP/1.1 200 ")
        # One ran; another may have begun before all had hung up, and was let go of at once.
        assert len(planner.begun) <= 5


def test_a_plan_that_one_still_waits_for_is_not_lost_when_another_hangs_up(
    tmp_path: Path, planner: SlowPlanner
) -> None:
    with serving(tmp_path, planner=planner) as (port, shop, _):
        [key] = jobs(shop, 1)
        with sent(port, 1, plan_wanted(key)) as [stays]:
            with sent(port, 3, plan_wanted(key)):
                until(lambda: planner.begun == ["Number 0"])
                time.sleep(0.2)
            time.sleep(0.2)
            planner.gate.set()
            assert stays.recv(65536).startswith(b"HTTP/1.1 200 ")
        assert planner.begun == ["Number 0"]


def test_when_too_many_plans_are_wanted_the_next_is_told_when_to_ask_again(
    tmp_path: Path, planner: SlowPlanner
) -> None:
    most = reckoning.MOST_WORKS
    with serving(tmp_path, planner=planner) as (port, shop, app):
        *first, next_one = jobs(shop, most + 1)
        with ExitStack() as waiting:
            for number, key in enumerate(first):
                waiting.enter_context(sent(port, 1, plan_wanted(key), f"127.0.1.{number}"))
            fingerprints = [shop.jobs.latest(key).fingerprint for key in first]
            until(lambda: all(app.state.reckoner.work(each) for each in fingerprints))
            status, header, text = asked(port, f"/api/v1/jobs/{next_one}/plan")
            assert (status, header["retry-after"]) == (503, "5")
            assert (
                f"{most} plans are being worked out already, as many as wait here at a time. "
                "Nothing was lost; ask again in 5 seconds."
            ) in text
            # What needs no plan of its own is shown: the list, the facts, the readings; and many at a time.
            for path in ("/", f"/jobs/{next_one}/engine", f"/jobs/{next_one}/light") * 5:
                assert asked(port, path)[0] == 200
            status, header, text = asked(port, f"/jobs/{next_one}/map")
            assert (status, header["retry-after"]) == (503, "5")
            assert "ask again in 5 seconds" in text


def test_who_asks_for_very_many_plans_keeps_nobody_from_theirs(tmp_path: Path, planner: SlowPlanner) -> None:
    with serving(tmp_path, planner=planner) as (port, shop, app):
        *many, wanted = jobs(shop, 51)
        with ExitStack() as waiting:
            for key in many:
                waiting.enter_context(sent(port, 1, plan_wanted(key)))
            [line] = waiting.enter_context(sent(port, 1, plan_wanted(wanted), "127.0.0.3"))
            until(lambda: app.state.reckoner.work(shop.jobs.latest(wanted).fingerprint) is not None)
            begun_s = time.monotonic()
            assert asked(port, address="127.0.0.3")[0] == 200
            assert time.monotonic() - begun_s < 2.0
            planner.gate.set()
            assert line.recv(65536).startswith(b"HTTP/1.1 200 ")


def test_a_page_finds_its_plan_though_no_request_stayed_for_it(
    tmp_path: Path, planner: SlowPlanner, monkeypatch: pytest.MonkeyPatch
) -> None:
    with serving(tmp_path, planner=planner) as (port, shop, _):
        first, second = jobs(shop, 2)
        assert "being worked out" in asked(port, f"/jobs/{first}/map")[2]
        planner.gate.set()
        until(lambda: asked(port, f"/jobs/{first}/reckoning")[0] == 204)
        planner.gate.clear()
        monkeypatch.setattr(reckoning, "WANTED_S", 0.3)
        assert "being worked out" in asked(port, f"/jobs/{second}/map")[2]
        until(lambda: planner.begun == ["Number 0", "Number 1"])
        time.sleep(0.6)  # nobody looks any more
        assert "being worked out" in asked(port, f"/jobs/{second}/map")[2]
        until(lambda: planner.begun == ["Number 0", "Number 1", "Number 1"])


def test_the_server_ends_soon_though_plans_are_waited_for(tmp_path: Path) -> None:
    with open_shop(tmp_path / "shop") as shop:
        keys = jobs(shop, 35)
    process = served_with_few_files(tmp_path / "shop", tmp_path / "log", 1000)
    with ending(process):
        port = port_said(process)
        assert asked(port)[0] == 200
        with ExitStack() as waiting:
            lines = [waiting.enter_context(sent(port, 1, plan_wanted(key)))[0] for key in keys]
            waiting.enter_context(sent(port, 10, HALF_A_BODY))
            time.sleep(0.5)
            begun_s = time.monotonic()
            process.send_signal(signal.SIGTERM)
            process.wait(30)
            assert time.monotonic() - begun_s < ENDS_S
            last = lines[-1].recv(65536).decode()
        assert last.startswith("HTTP/1.1 503 ")
        assert "The workbench is being stopped. What was saved is safe; ask again when it is open." in last
    assert "Traceback" not in (tmp_path / "log").read_text()
