"""Long work on the page of what was learned: it says how far it is, and can be stopped."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from sparkwright.evidence.kinds import KnockMark
from sparkwright.shop import Shop
from sparkwright.web.learning_progress import StoppedError, now
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
PAGE = f"/jobs/{KEY}/learned"
PART = {"origin": "http://testserver", "hx-request": "true"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in")
        shop.evidence.add(KEY, KnockMark(2400.0, 90.0, 34.0, "trace"), who="A. Example")
        yield client, shop
        now.end()


def test_the_page_asks_how_far_learning_is_and_offers_to_stop_it(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    shown = client.get(PAGE).text
    assert f'hx-get="{PAGE}/progress"' in shown
    assert f'hx-post="{PAGE}/stop"' in shown
    now.begin(shop.jobs.latest(KEY).fingerprint, "cells planned anew")
    now.tell(12, 80)
    assert client.get(f"{PAGE}/progress").text.strip() == "12 of 80 cells planned anew"


def test_learning_that_is_stopped_says_so_and_loses_nothing(
    bench: tuple[TestClient, Shop], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, shop = bench

    def asked_to_stop(fingerprint: str, what: str) -> None:
        now.fingerprint, now.what, now.stopped = fingerprint, what, True

    monkeypatch.setattr(now, "begin", asked_to_stop)
    shown = client.get(f"{PAGE}/result", headers=PART).text
    assert "Learning was stopped." in shown
    assert "Learn again" in shown
    assert len(shop.evidence.of_job(KEY)) == 1


def test_stopping_one_job_leaves_another_alone(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    now.begin("another job", "cells planned anew")
    client.post(f"{PAGE}/stop", headers=PART)
    now.tell(1, 2)
    now.stop("another job")
    with pytest.raises(StoppedError):
        now.tell(2, 2)
