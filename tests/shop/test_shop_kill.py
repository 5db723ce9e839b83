"""Killed at any moment, the store has everything that it acknowledged, and nothing half."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from databases import BENCH, Here
from killed_writers import KEY
from seen import light

MANY = 220
A_FEW = 40
SEED = 5
LEAST_CAUGHT_IN_THE_ACT = 0.68
"""Share of writers to be killed between beginning an act and hearing that it was done; most of their time is
such."""


@pytest.mark.parametrize("writers", [A_FEW, pytest.param(MANY, marks=pytest.mark.proof)])
def test_what_was_acknowledged_is_there_after_any_kill(here: Here, writers: int) -> None:
    with here.open() as shop:
        key = shop.jobs.create(BENCH, who="A. Example", why="engine came in").key
        assert key == KEY
    program = Path(__file__).parents[1] / "killed_writers.py"
    done = subprocess.run(
        [sys.executable, str(program), here.address, str(here.files or "-"), str(writers), str(SEED)],
        capture_output=True,
        timeout=600,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    said = [json.loads(line) for line in done.stdout.splitlines()]
    writers_heard = {number for number, *_ in said}
    begun = Counter(number for number, word, *_ in said if word == "begun")
    ended = Counter(number for number, word, *_ in said if word == "done")
    acknowledged = [words for _, word, *words in said if word == "done"]
    caught = sum(begun[number] > ended[number] for number in writers_heard)
    assert len(writers_heard) == writers
    assert caught >= LEAST_CAUGHT_IN_THE_ACT * writers
    assert {kind for kind, *_ in acknowledged} == {"revision", "reading", "attachment", "job"}

    with here.open() as shop:
        assert shop.check() == []
        readings = {each.id: each.data for each in shop.evidence.of_job(key)}
        attachments = {each.id: each.sha256 for each in shop.files.of_job(key)}
        for kind, where, what in acknowledged:
            if kind == "revision":
                assert shop.jobs.revision(key, where).text == what
            elif kind == "job":
                assert shop.jobs.latest(where).text == what
            elif kind == "reading":
                assert readings[where] == light(note=str(what))
            else:
                assert attachments[where] == what
        there = shop.jobs.latest(key).number - 1 + shop.jobs.count() - 1 + len(readings) + len(attachments)
        # A writer that was caught in the act may or may not have got it done; no other act is there.
        assert len(acknowledged) <= there <= len(acknowledged) + caught
        assert shop.jobs.save(key, BENCH, who="A. Example", why="", based_on=shop.jobs.latest(key).number)
