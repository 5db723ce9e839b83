"""Measure what people at work notice while somebody else does harm, one kind of it after another.

Run alone with ``.venv/bin/python benchmarks/strangers.py``, or as a part of ``make bench``. Everything stays
on this machine, and each kind of harm is bounded in count and time.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import socket
import sys
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import httpx2 as httpx
import numpy as np

from real_workbench import Served, served, shop_folder
from rows import Row, show
from sparkwright.shop import open_shop
from sparkwright.shop.archive import SCHEMA
from sparkwright.shop.package import MANIFEST, packing
from web import FIRST_95TH_MS, PEOPLE, THINK_S, Answer, Person, fill

SLOW, DROPPED = 200, 120
CHARSETS = ("punycode", "idna", "unicode_escape", "raw_unicode_escape", "utf-7", "undefined")
FORM_BYTES = 100_000
COLUMNS = 490_000
"""Columns with a name, as many as a file of readings may have bytes for."""
LINE_BYTES = 300_000_000
STRANGER = "127.0.0.2" if sys.platform == "linux" else "127.0.0.1"
"""Where the harm comes from: another address than that of the people, where the machine has one."""
MOST_ROUNDS = 4
"""An attack is made so often at the most, for as long as the people are at work."""
RECOVERS_WITHIN_S = 30.0
NO_ANSWER = 599


@dataclass(frozen=True)
class Ground:
    """What an attack has before it."""

    address: str
    keys: tuple[str, ...]
    """Jobs that nobody is at work on."""
    archive: bytes
    over: threading.Event
    """Set when the people have done their work."""

    def rounds(self, pause_s: float = 1.0) -> Iterator[int]:
        """Count rounds until there were enough or the time is over."""
        for number in range(MOST_ROUNDS):
            if self.over.is_set():
                return
            yield number
            self.over.wait(pause_s)

    def connected(self) -> socket.socket:
        """Connect as anybody does."""
        place = urlsplit(self.address)
        return socket.create_connection((place.hostname or "", place.port or 0), 10, (STRANGER, 0))

    def posted(self, path: str, **sent: object) -> None:
        """Post something and wait for the answer, whatever it is."""
        line = httpx.HTTPTransport(local_address=STRANGER)
        with suppress(httpx.HTTPError), httpx.Client(transport=line, timeout=60.0) as client:
            client.post(f"{self.address}{path}", **sent)  # type: ignore[arg-type]


def slow_connections(ground: Ground) -> None:
    """Hold connections of which a third says nothing, a third half a header and a third half a body."""
    header = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
    beginnings = (b"", header, b"POST /check HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900\r\n\r\na")
    for _ in ground.rounds():
        with ExitStack() as held:
            lines = []
            for number in range(SLOW):
                with suppress(OSError):
                    line = held.enter_context(ground.connected())
                    line.sendall(beginnings[number % 3])
                    lines.append(line)
            for _ in range(10):
                if ground.over.wait(0.5):
                    break
                for line in lines:
                    with suppress(OSError):
                        line.sendall(b"x")


def dropped_plans(ground: Ground) -> None:
    """Ask for many plans and hang up."""
    for _ in ground.rounds():
        with ExitStack() as held:
            for key in ground.keys[:DROPPED]:
                with suppress(OSError):
                    line = held.enter_context(ground.connected())
                    line.sendall(f"GET /api/v1/jobs/{key}/plan HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
            ground.over.wait(0.5)


def odd_charsets(ground: Ground) -> None:
    """Post forms whose text says it is in a charset that takes long to read."""
    for _ in ground.rounds():
        for charset in CHARSETS:
            body = (
                b'--x\r\nContent-Disposition: form-data; name="passphrase"\r\n'
                b"Content-Type: text/plain; charset=" + charset.encode() + b"\r\n\r\n"
                b"a-" + b"a" * FORM_BYTES + b"\r\n--x--\r\n"
            )
            kind = f"multipart/form-data; boundary=x; charset={charset}"
            for path in ("/sign-in", "/check"):
                if not ground.over.is_set():
                    ground.posted(path, content=body, headers={"content-type": kind})


def many_columns(ground: Ground) -> None:
    """Send a file of readings with very many columns."""
    table = b"commanded_deg,speed_rpm,seen_deg" + b",c" * COLUMNS + b"\n20,1500,20\n"
    for number in ground.rounds():
        path = f"/jobs/{ground.keys[number]}/light/files"
        ground.posted(
            path, files={"file": ("readings.csv", table)}, data={"number": "1", "who": "A. Example"}
        )


def long_line(ground: Ground) -> None:
    """Send an archive that is small and holds a job file with one line of 300 MB."""
    for _ in ground.rounds():
        ground.posted("/import", files={"archive": ("job.zip", ground.archive)}, data={"who": "A. Example"})


ATTACKS: tuple[tuple[str, Callable[[Ground], None]], ...] = (
    ("nobody does harm", lambda ground: None),
    (f"{SLOW} slow connections", slow_connections),
    (f"{DROPPED} plans asked for and dropped", dropped_plans),
    ("forms in odd charsets", odd_charsets),
    ("an archive with a line of 300 MB", long_line),
    ("readings with half a million columns", many_columns),
)


def archive_with_long_line(place: Path, key: str) -> bytes:
    """Pack a job of the store whose newest text ends in a remark of 300 MB; it packs to some 300 kB."""
    with tempfile.TemporaryDirectory() as folder:
        plain, long = Path(folder) / "plain.zip", Path(folder) / "long.zip"
        with open_shop(place) as shop:
            shop.archives.write(key, plain)
        with zipfile.ZipFile(plain) as given, packing(long, SCHEMA) as package:
            for name in given.namelist():
                content = given.read(name)
                if name.endswith(".toml"):
                    package.add(name, _with_remark(content))
                elif name != MANIFEST:
                    package.add(name, [content])
        return long.read_bytes()


def _with_remark(content: bytes) -> Iterator[bytes]:
    yield content + b"# "
    for _ in range(LINE_BYTES // 1_000_000):
        yield b"a" * 1_000_000
    yield b"\n"


class Visitor(Person):
    """Somebody at work who changes nothing that a plan depends on, so that no answer waits for one."""

    async def at_work(self, address: str, seconds: float) -> list[Answer]:
        """Ask, look, think and go on; counts the wait for a whole answer, or for none."""
        async with httpx.AsyncClient(base_url=address, timeout=60.0) as client:
            await asyncio.sleep(self.draw.uniform(0.0, THINK_S[0]))
            until = time.perf_counter() + seconds
            while time.perf_counter() < until:
                name, request = self._wish(client)
                begun, status = time.perf_counter(), NO_ANSWER
                with suppress(httpx.HTTPError):
                    answer = await client.send(request)
                    status = answer.status_code
                self.answers.append(Answer(name, 1e3 * (time.perf_counter() - begun), status))
                await asyncio.sleep(self.draw.uniform(*THINK_S))
        return self.answers

    def _wish(self, client: httpx.AsyncClient) -> tuple[str, httpx.Request]:
        name, request = super()._wish(client)
        return self._wish(client) if name == "fact saved" else (name, request)


async def visited(address: str, keys: list[str], seconds: float, seed: int) -> list[Answer]:
    people = (Visitor(key, seed + i).at_work(address, seconds) for i, key in enumerate(keys))
    return [answer for answers in await asyncio.gather(*people) for answer in answers]


def warm(address: str, keys: list[str]) -> None:
    """Have plans there and each page asked for once, as in a shop at work."""
    for key in keys:
        httpx.get(f"{address}/api/v1/jobs/{key}/plan", timeout=60.0).raise_for_status()
        httpx.get(f"{address}/jobs/{key}/map", timeout=60.0).raise_for_status()
    asyncio.run(visited(address, keys, 5.0, -1000))


def recovered(server: Served) -> bool:
    """Whether the server answers again soon."""
    try:
        httpx.get(f"{server.address}/sign-in", timeout=RECOVERS_WITHIN_S)
    except httpx.HTTPError:
        return False
    return True


def row(name: str, answers: list[Answer]) -> Row:
    waits = np.array([answer.first_ms for answer in answers])
    median, high = np.percentile(waits, [50, 95])
    refused = sum(answer.status >= 400 for answer in answers)
    value = f"{median:.0f}, {high:.0f}, {waits.max():.0f} ms"
    if refused:
        value += f", {refused} of {waits.size} not answered"
    met = bool(high <= FIRST_95TH_MS) and not refused
    return Row(f"{name}: median, 95 %, worst", value, f"95 % in {FIRST_95TH_MS:.0f} ms", met)


def waits_under_attack(seconds: float) -> list[Row]:
    """Measure how long people wait while each kind of harm is done."""
    rows = []
    with shop_folder() as place:
        keys = fill(place, PEOPLE)
        archive = archive_with_long_line(place, keys[0])
        with open_shop(place) as shop:
            others = tuple(line.key for line in shop.jobs.lines(limit=200) if line.key not in keys)
        with served(place) as server:
            warm(server.address, keys)
            for number, (name, attack) in enumerate(ATTACKS):
                over = threading.Event()
                ground = Ground(server.address, others, archive, over)
                attacker = threading.Thread(target=attack, args=(ground,), daemon=True)
                attacker.start()
                rows.append(row(name, asyncio.run(visited(server.address, keys, seconds, 100 * number))))
                over.set()
                attacker.join(RECOVERS_WITHIN_S)
                if not recovered(server):
                    server.kill()
                    server.again()
                    warm(server.address, keys)
    return rows


def measurements(seconds: float = 20.0) -> tuple[tuple[str, Callable[[], list[Row]]], ...]:
    """Name what there is to measure."""
    title = f"The workbench: {PEOPLE} people at work while others do harm"
    return ((title, lambda: waits_under_attack(seconds)),)


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure the workbench while others do harm.")
    parser.add_argument("--seconds", type=float, default=20.0, help="how long each kind of harm lasts")
    chosen = parser.parse_args()
    print(f"Load of the machine before the run: {os.getloadavg()[0]:.1f}")
    for title, measure in measurements(chosen.seconds):
        show(title, measure())


if __name__ == "__main__":
    main()
