"""A serving workbench killed at random moments has everything that it acknowledged.

The store's own test kills 220 writers on each database; here the whole server is killed, with its answers
on the wire, so what counts as acknowledged is what a client has read.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from databases import BENCH
from processes import end_whole
from sparkwright.shop import open_shop

MANY = 200
A_FEW = 30
SEED = 7
MOST_ANSWERED = 3
"""A server is killed after so many posts were answered, or fewer by the draw."""
MOST_WAIT_S = 0.05
"""It is killed up to so long after that; a post or two take that time."""
MOST_ANSWER_S = 30.0
"""No answer takes so long, whatever else the machine does."""
KEY = "bench-engine"


@dataclass
class Acknowledged:
    """What clients have read the answer to, over all lives of the server."""

    revisions: dict[int, str] = field(default_factory=dict)
    readings: dict[int, float] = field(default_factory=dict)
    begun: int = 0

    @property
    def answered(self) -> int:
        """How many posts were answered."""
        return len(self.revisions) + len(self.readings)


class Servers:
    """Servers over one store, forked one after the other from a process that has loaded the program."""

    def __init__(self, place: Path) -> None:
        script = Path(__file__).parents[1] / "forked_servers.py"
        self._process = subprocess.Popen(
            [sys.executable, str(script), str(place)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            process_group=0,
        )

    def begin(self) -> tuple[int, str]:
        """Begin the next one; give its process id and its address."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(file=self._process.stdin, flush=True)
        process, address = self._process.stdout.readline().split()
        return int(process), address

    def end(self) -> None:
        """End the process they were forked from, and a server that is left."""
        end_whole(self._process)


def asked(address: str, method: str, path: str, sent: object = None) -> tuple[int, dict[str, object]]:
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)
    try:
        body = None if sent is None else json.dumps(sent)
        connection.request(method, f"/api/v1{path}", body, {"content-type": "application/json"})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    finally:
        connection.close()


def post_readings(address: str, known: Acknowledged, mark: Callable[[], float]) -> None:
    """Keep readings until the server is gone."""
    while True:
        seen_deg = mark()
        number = 1 + len(known.readings) // 100
        row = {
            "set": number,
            "commanded_deg": 30,
            "speed_rpm": 1500,
            "seen_deg": seen_deg,
            "who": "A. Example",
        }
        known.begun += 1
        status, answer = asked(address, "POST", f"/jobs/{KEY}/readings", row)
        assert status == 201, answer
        known.readings[int(str(answer["id"]))] = seen_deg


def save_revisions(address: str, known: Acknowledged, mark: Callable[[], float]) -> None:
    """Save revisions until the server is gone."""
    while True:
        latest = asked(address, "GET", f"/jobs/{KEY}")[1]["number"]
        text = f"{BENCH}# {mark()}\n"
        known.begun += 1
        sent = {"text": text, "who": "A. Example", "why": "", "based_on": latest}
        status, answer = asked(address, "PUT", f"/jobs/{KEY}", sent)
        assert status == 200, answer
        known.revisions[int(str(answer["number"]))] = text


def until_killed(
    work: Callable[[str, Acknowledged, Callable[[], float]], None],
    address: str,
    known: Acknowledged,
    mark: Callable[[], float],
    refused: list[str],
) -> None:
    try:
        work(address, known, mark)
    except (OSError, http.client.HTTPException):
        return  # the server is dead, as it should be
    except AssertionError as problem:
        refused.append(f"{work.__name__}: {problem}")


def wait_for(known: Acknowledged, answered: int) -> None:
    end_s = time.monotonic() + MOST_ANSWER_S
    while known.answered < answered:
        assert time.monotonic() < end_s, "no post is answered"
        time.sleep(0.001)


@pytest.mark.parametrize("kills", [A_FEW, pytest.param(MANY, marks=pytest.mark.proof)])
def test_a_killed_server_has_all_that_it_answered_for(tmp_path: Path, kills: int) -> None:
    draw, known, refused = random.Random(SEED), Acknowledged(), list[str]()
    marks = iter(range(1_000_000))
    lock = threading.Lock()

    def mark() -> float:
        with lock:
            return 20.0 + next(marks) / 10_000.0

    with open_shop(tmp_path / "shop") as shop:
        assert shop.jobs.create(BENCH, who="A. Example", why="engine came in").key == KEY
    servers = Servers(tmp_path / "shop")
    try:
        for _ in range(kills):
            process, address = servers.begin()
            asked(address, "GET", f"/jobs/{KEY}")
            clients = [
                threading.Thread(target=until_killed, args=(work, address, known, mark, refused))
                for work in (post_readings, save_revisions)
            ]
            for client in clients:
                client.start()
            wait_for(known, known.answered + draw.randint(0, MOST_ANSWERED))
            time.sleep(draw.uniform(0.0, MOST_WAIT_S))
            os.kill(process, signal.SIGKILL)
            for client in clients:
                client.join()
    finally:
        servers.end()
    assert refused == []
    # Most lives ended with a post under way, or the kills came at moments when nothing could be lost.
    assert kills // 2 <= known.begun - known.answered <= 2 * kills
    assert known.answered >= kills
    assert min(len(known.revisions), len(known.readings)) >= kills // 4
    with open_shop(tmp_path / "shop") as shop:
        assert shop.check() == []
        for number, text in known.revisions.items():
            assert shop.jobs.revision(KEY, number).text == text
        kept = {each.id: each.fields["seen_deg"] for each in shop.evidence.of_job(KEY)}
        assert {number: kept[number] for number in known.readings} == known.readings
        there = len(kept) + shop.jobs.latest(KEY).number - 1
        assert known.answered <= there <= known.begun
