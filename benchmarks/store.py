"""What the store costs: durable writes against the least they can cost, and reading among a thousand jobs."""

from __future__ import annotations

import io
import os
import sqlite3
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sparkwright.evidence.kinds import LightReading
from sparkwright.light.readings import Reading
from sparkwright.shop import Shop, open_shop

JOBS = 1000
ACTS = 200
FILE_BYTES = 1_000_000


@dataclass(frozen=True)
class Cost:
    """Times of one act by the clock [ms]: the one in the middle, and the one that 95 of 100 stay under."""

    what: str
    median_ms: float
    p95_ms: float


def cost(what: str, act: Callable[[int], object], acts: int = ACTS) -> Cost:
    """Time an act again and again; it is told how many went before it."""
    spent_ms = []
    for number in range(acts):
        begun = time.perf_counter()
        act(number)
        spent_ms.append(1e3 * (time.perf_counter() - begun))
    return Cost(what, statistics.median(spent_ms), statistics.quantiles(spent_ms, n=20)[-1])


def seen_at(speed_rpm: float) -> LightReading:
    return LightReading(Reading(30.0, speed_rpm, 30.0))


def fill(shop: Shop, text: str) -> None:
    """Start a thousand jobs."""
    for number in range(JOBS):
        shop.jobs.create(
            text.replace('name = "', f'name = "{number:04} ', 1), who="A. Example", why="engine came in"
        )


def store_costs(text: str) -> list[Cost]:
    """Measure each act of the store on this machine's disk.

    Parameters
    ----------
    text : str
        A job file.
    """
    with TemporaryDirectory() as folder, open_shop(Path(folder) / "store") as shop:
        fill(shop, text)
        key = shop.jobs.lines()[0].key
        texts = [f"{text}# {number}\n" for number in range(ACTS)]
        content = os.urandom(FILE_BYTES)
        return [
            *least_costs(Path(folder), text.encode()),
            cost(
                "a reading kept",
                lambda number: shop.evidence.add(key, seen_at(600 + number), who="A"),
            ),
            cost(
                "a revision saved, its text read and checked",
                lambda number: shop.jobs.save(key, texts[number], who="A", why="", based_on=number + 1),
            ),
            cost(
                "a file of 1 MB attached",
                lambda number: shop.files.attach(
                    key, "run.csv", "drive", io.BytesIO(content + number.to_bytes(4)), who="A"
                ),
                acts=ACTS // 4,
            ),
            cost(f"50 lines of the list of {JOBS:,} jobs", lambda number: shop.jobs.lines()),
            cost(f"a search among {JOBS:,} jobs", lambda number: shop.jobs.lines(search=f"{number:04}")),
            cost("the newest revision of a job", lambda number: shop.jobs.latest(key)),
            cost(f"the history of a job of {ACTS + 1} revisions", lambda number: shop.jobs.history(key)),
            cost("the check of it all", lambda number: shop.check(), acts=3),
        ]


def least_costs(folder: Path, content: bytes) -> list[Cost]:
    """What this disk asks for as many bytes made durable, in a plain file and in a plain SQLite."""
    with (folder / "plain").open("wb", buffering=0) as file:

        def append(number: int) -> None:
            file.write(content)
            os.fsync(file.fileno())

        plain = cost("for comparison: a text appended to a file, fsync", append)
    database = sqlite3.connect(folder / "plain.db", isolation_level=None)
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    database.execute("CREATE TABLE texts (text BLOB)")
    rival = cost(
        "for comparison: a text put into SQLite by hand",
        lambda number: database.execute("INSERT INTO texts VALUES (?)", (content,)),
    )
    database.close()
    return [plain, rival]
