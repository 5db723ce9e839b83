"""Writers that are killed at random moments; run as a program of its own, warmed once and forked for each.

Arguments: address of the store, folder of files or "-", how many writers, seed. Prints what each writer began
and what was acknowledged to it, one JSON list a line.
"""

from __future__ import annotations

import io
import json
import os
import random
import select
import signal
import sys
import time
from hashlib import sha256
from itertools import count

from databases import BENCH, Here
from seen import light
from sparkwright.shop import Shop

KEY = "bench-engine"
"""The job that all of them write to."""
DONE = b'"done"'
MOST_DONE = 2
"""A writer hears of at least so many acts that they were done, or of fewer by the draw."""
MOST_WAIT_S = 0.012
"""It is killed up to so long after that; a few acts take that time."""


def write_for_ever(here: Here, tell: int, number: int) -> None:
    """Save, read and attach by turns, saying before each act what it is and after it that it was done."""

    def say(*words: object) -> None:
        os.write(tell, json.dumps([number, *words]).encode() + b"\n")

    draw = random.Random(number)
    with here.open() as shop:
        say("opened")
        for turn in count():
            say("begun")
            say("done", *_act(shop, KEY, draw, f"{number}.{turn}"))


def _act(shop: Shop, key: str, draw: random.Random, mark: str) -> tuple[str, object, str]:
    act = draw.choice(("revision", "revision", "reading", "attachment", "job"))
    if act == "reading":
        return act, shop.evidence.add(key, light(note=str(mark)), who="A. Example").id, mark
    if act == "attachment":
        content = draw.randbytes(draw.choice((0, 1000, 300_000)))
        kept = shop.files.attach(key, mark, "drive", io.BytesIO(content), who="A. Example")
        return act, kept.id, sha256(content).hexdigest()
    text = f"{BENCH}# {mark}\n"
    if act == "job":
        return act, shop.jobs.create(text, who="A. Example", why=mark).key, text
    newest = shop.jobs.latest(key).number
    return act, shop.jobs.save(key, text, who="A. Example", why=mark, based_on=newest).number, text


def run_and_kill(here: Here, number: int, draw: random.Random) -> bytes:
    """Start a writer, kill it at a random moment and give all that it said."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(hear)
        write_for_ever(here, tell, number)
    os.close(tell)
    said = b""
    until = None
    wanted = draw.randint(0, MOST_DONE)
    while until is None or (left := until - time.monotonic()) > 0:
        if select.select([hear], [], [], 30.0 if until is None else left)[0]:
            heard = os.read(hear, 65536)
            if not heard:
                break
            said += heard
        if until is None and said and said.count(DONE) >= wanted:
            until = time.monotonic() + draw.uniform(0.0, MOST_WAIT_S)
    os.kill(child, signal.SIGKILL)
    while rest := os.read(hear, 65536):
        said += rest
    os.close(hear)
    _, status = os.waitpid(child, 0)
    if os.waitstatus_to_exitcode(status) != -signal.SIGKILL:
        raise SystemExit(f"Writer {number} ended by itself.")
    return said


def main() -> None:
    address, files, writers, seed = sys.argv[1:]
    here = Here(address, None if files == "-" else files)
    draw = random.Random(int(seed))
    for number in range(int(writers)):
        sys.stdout.buffer.write(run_and_kill(here, number, draw))


if __name__ == "__main__":
    main()
