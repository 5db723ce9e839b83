"""How the list says a job stands: kept by facts and program, in SQLite and PostgreSQL alike."""

from __future__ import annotations

import pytest

from sparkwright.job import starter_text
from sparkwright.shop import Shop
from sparkwright.shop import revision_rows as list_of_jobs


def test_the_list_says_how_the_latest_facts_stood(shop: Shop) -> None:
    first = shop.jobs.create(starter_text(), who="A. Example")
    assert (shop.jobs.lines()[0].mark, shop.jobs.lines()[0].words) == (None, "")
    shop.job_states.put(first.fingerprint, "look", "The rotor runs out at 26 deg.")
    shop.job_states.put(first.fingerprint, "done", "Nothing worries.")
    assert (shop.jobs.lines()[0].mark, shop.jobs.lines()[0].words) == ("done", "Nothing worries.")
    changed = first.job.changed("engine", idle_rpm=850).to_toml()
    shop.jobs.save(first.key, changed, who="A. Example", why="Idle", based_on=1)
    assert (shop.jobs.lines()[0].mark, shop.jobs.lines()[0].words) == (None, "")
    assert shop.jobs.count() == len(shop.jobs.lines()) == 1


def test_what_another_version_saw_does_not_count(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    first = shop.jobs.create(starter_text(), who="A. Example")
    shop.job_states.put(first.fingerprint, "done", "Nothing worries.")
    monkeypatch.setattr(list_of_jobs, "__version__", "99")
    assert shop.jobs.lines()[0].mark is None


def test_a_long_sentence_is_cut_rather_than_lost(shop: Shop) -> None:
    first = shop.jobs.create(starter_text(), who="A. Example")
    shop.job_states.put(first.fingerprint, "look", "x" * 900)
    assert shop.jobs.lines()[0].words == "x" * 500
