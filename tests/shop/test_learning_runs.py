"""Runs of learning as the store knows them: told, stopped, and taken for ended when their process is gone."""

from __future__ import annotations

import json
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from databases import BENCH, silent_for
from sparkwright.shop import LearningRun, Shop
from sparkwright.shop.tables import learning_runs

FAR = LearningRun("cells planned anew", 3, 20)


def test_a_run_is_told_while_it_lasts_and_of_its_own_job(shop: Shop) -> None:
    number = shop.learning_runs.begin("one")
    assert shop.learning_runs.of("one") == LearningRun("", 0, 0)
    assert not shop.learning_runs.tell(number, FAR)
    assert (shop.learning_runs.of("one"), shop.learning_runs.of("other")) == (FAR, None)
    shop.learning_runs.end(number)
    assert shop.learning_runs.of("one") is None


def test_stopping_reaches_every_run_of_the_job_and_no_other(shop: Shop) -> None:
    here, there, other = (shop.learning_runs.begin(job) for job in ("one", "one", "other"))
    assert shop.learning_runs.stop("one")
    assert shop.learning_runs.tell(here, FAR)
    assert shop.learning_runs.tell(there, FAR)
    assert not shop.learning_runs.tell(other, FAR)
    assert not shop.learning_runs.stop("none"), "there is nothing to stop"


def test_a_run_whose_process_died_is_not_shown_as_running_for_ever(shop: Shop) -> None:
    number = shop.learning_runs.begin("one")
    silent_for(shop, timedelta(seconds=12))
    assert shop.learning_runs.of("one") is None
    assert not shop.learning_runs.stop("one")
    shop.learning_runs.tell(number, FAR)
    assert shop.learning_runs.of("one") == FAR, "its process was only asleep"
    silent_for(shop, timedelta(hours=2))
    kept = shop.learning_runs.begin("other")
    with shop.database.reading() as connection:
        assert connection.execute(select(learning_runs.c.id)).scalars().all() == [kept]


def test_no_backup_says_what_was_running(shop: Shop, tmp_path: Path) -> None:
    shop.learning_runs.begin("one")
    shop.backup(tmp_path / "all.backup")
    with zipfile.ZipFile(tmp_path / "all.backup") as packed:
        assert packed.read("tables/learning_runs.jsonl") == b""
        assert "tables/learning_runs.jsonl" in json.loads(packed.read("manifest.json"))["members"]


@pytest.mark.parametrize("again", [False, True])
def test_a_removed_job_leaves_no_run_behind_but_one_that_another_job_shares(shop: Shop, again: bool) -> None:
    first = shop.jobs.create(BENCH, who="A. Example", why="engine came in")
    if again:
        shop.jobs.create(BENCH, who="A. Example", why="the same engine")
    shop.learning_runs.begin(first.fingerprint)
    shop.removal.remove(shop.removal.holding(first.key), who="A. Example")
    assert (shop.learning_runs.of(first.fingerprint) is not None) == again
