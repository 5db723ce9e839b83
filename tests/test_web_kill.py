"""A serving workbench killed at random moments has everything that it acknowledged.

The store's own test kills 220 writers on each database; here the whole server is killed, with its answers
on the wire, so what counts as acknowledged is what a client has read.
"""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from databases import BENCH
from real_workbench import Served
from sparkwright.shop import open_shop

KILLS = 20
SEED = 7
MOST_WAIT_S = 0.4
"""A server is killed up to so long after it answered for the first time."""
KEY = "bench-engine"


@dataclass
class Acknowledged:
    """What clients have read the answer to, over all lives of the server."""

    revisions: dict[int, str] = field(default_factory=dict)
    readings: dict[int, float] = field(default_factory=dict)
    begun: int = 0


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
        row = {"commanded_deg": 30, "speed_rpm": 1500, "seen_deg": seen_deg, "who": "A. Example"}
        known.begun += 1
        status, answer = asked(address, "POST", f"/jobs/{KEY}/readings", row)
        assert status == 201
        known.readings[int(str(answer["id"]))] = seen_deg


def save_revisions(address: str, known: Acknowledged, mark: Callable[[], float]) -> None:
    """Save revisions until the server is gone."""
    while True:
        latest = asked(address, "GET", f"/jobs/{KEY}")[1]["number"]
        text = f"{BENCH}# {mark()}\n"
        known.begun += 1
        sent = {"text": text, "who": "A. Example", "why": "", "based_on": latest}
        status, answer = asked(address, "PUT", f"/jobs/{KEY}", sent)
        assert status == 200
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
    except AssertionError:
        refused.append(work.__name__)


def test_a_killed_server_has_all_that_it_answered_for(tmp_path: Path) -> None:
    draw, known, refused = random.Random(SEED), Acknowledged(), list[str]()
    marks = iter(range(1_000_000))
    lock = threading.Lock()

    def mark() -> float:
        with lock:
            return 20.0 + next(marks) / 10_000.0

    with open_shop(tmp_path / "shop") as shop:
        assert shop.create(BENCH, who="A. Example", why="engine came in").key == KEY
    server = Served(tmp_path / "shop")
    for _ in range(KILLS):
        asked(server.address, "GET", f"/jobs/{KEY}")
        clients = [
            threading.Thread(target=until_killed, args=(work, server.address, known, mark, refused))
            for work in (post_readings, save_revisions)
        ]
        for client in clients:
            client.start()
        time.sleep(draw.uniform(0.0, MOST_WAIT_S))
        server.kill()
        for client in clients:
            client.join()
        server.again()
    server.stop()
    assert refused == []
    acknowledged = len(known.revisions) + len(known.readings)
    # Most lives ended with a post under way, or the kills came at moments when nothing could be lost.
    assert KILLS // 2 <= known.begun - acknowledged <= 2 * KILLS
    assert min(len(known.revisions), len(known.readings)) >= KILLS
    with open_shop(tmp_path / "shop") as shop:
        assert shop.check() == []
        for number, text in known.revisions.items():
            assert shop.revision(KEY, number).text == text
        kept = {each.id: each.row["seen_deg"] for each in shop.readings(KEY)}
        assert {number: kept[number] for number in known.readings} == known.readings
        there = len(kept) + shop.latest(KEY).number - 1
        assert acknowledged <= there <= known.begun
