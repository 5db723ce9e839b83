"""Long work on the page of what was learned: any process says how far it is, and can stop it."""

from __future__ import annotations

import http.client
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient

from databases import Here, silent_for
from sparkwright.evidence.kinds import KnockMark
from sparkwright.shop import LearningRun, LearningRuns, Shop, ShopError
from sparkwright.web import learning, learning_progress
from sparkwright.web.app import create_app
from sparkwright.web.learning_progress import StoppedError, told
from sparkwright.web.settings import Settings
from workbench import HOST, PUMP_HOUSE, workbench

KEY = "pump-house-v8"
PAGE = f"/jobs/{KEY}/learned"
PART = {"origin": "http://testserver", "hx-request": "true"}
NOTHING_RUNS = "Nothing is being worked out just now."
COMES_WITHIN_S = 60.0


def filled(shop: Shop) -> str:
    """Put an engine and what was heard of it into a store; give the fingerprint of the job."""
    fingerprint = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in").fingerprint
    shop.evidence.add(KEY, KnockMark(2400.0, 90.0, 34.0, "trace"), who="A. Example")
    return fingerprint


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        filled(shop)
        yield client, shop


def test_the_page_asks_how_far_learning_is_and_offers_to_stop_it(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    shown = client.get(PAGE).text
    assert f'hx-get="{PAGE}/progress"' in shown
    assert f'hx-post="{PAGE}/stop"' in shown
    number = shop.learning_runs.begin(shop.jobs.latest(KEY).fingerprint)
    assert client.get(f"{PAGE}/progress").text.strip() == "Learning ..."
    shop.learning_runs.tell(number, LearningRun("cells planned anew", 12, 80))
    assert client.get(f"{PAGE}/progress").text.strip() == "12 of 80 cells planned anew"


@pytest.fixture
def stopped_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a person stop whatever is learned, before its first step."""

    def counting(run: learning_progress._Run, what: str) -> None:
        raise StoppedError

    monkeypatch.setattr(learning_progress._Run, "counting", counting)


@pytest.mark.usefixtures("stopped_at_once")
def test_learning_that_is_stopped_says_so_and_loses_nothing(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    shown = client.get(f"{PAGE}/result", headers=PART).text
    assert "Learning was stopped." in shown
    assert "Learn again" in shown
    assert len(shop.evidence.of_job(KEY)) == 1


@pytest.mark.usefixtures("stopped_at_once")
def test_who_asked_elsewhere_is_told_that_learning_was_stopped(bench: tuple[TestClient, Shop]) -> None:
    """A program and the page of the dyno wait for the same learning."""
    client, _ = bench
    for path in (f"/api/v1/jobs/{KEY}/learned", f"/api/v1/jobs/{KEY}/next"):
        answer = client.get(path)
        assert answer.status_code == 422
        assert answer.json()["problems"] == [
            "Learning was stopped by somebody. Nothing was lost; ask for it again."
        ]
    part = client.get(f"/jobs/{KEY}/dyno/ask", headers=PART)
    assert (part.status_code, part.text) == (
        422,
        "Learning was stopped by somebody. Nothing was lost; ask for it again.",
    )


def test_stopping_where_nothing_runs_says_so(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    assert client.post(f"{PAGE}/stop", headers=PART).text.strip() == NOTHING_RUNS


def until(true: Callable[[], object]) -> None:
    ends_s = time.monotonic() + COMES_WITHIN_S
    while not true():
        assert time.monotonic() < ends_s, "it did not come"
        time.sleep(0.02)


def stops_at_a_step(shop: Shop, fingerprint: str, stop: Callable[[], object]) -> bool:
    """Learn in steps without end until it is told in the store, ask to stop; whether that ended it."""

    def learn() -> None:
        with told(shop.learning_runs, fingerprint) as counting:
            step = counting("cells planned anew")
            until(lambda: shop.learning_runs.of(fingerprint) is not None)
            stop()
            until(lambda: step(1, 2))

    with pytest.raises(StoppedError):
        learn()
    return shop.learning_runs.of(fingerprint) is None


def test_a_stop_ends_the_next_step_and_the_run_is_gone(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    fingerprint = shop.jobs.latest(KEY).fingerprint
    said: list[str] = []
    assert stops_at_a_step(
        shop, fingerprint, lambda: said.append(client.post(f"{PAGE}/stop", headers=PART).text.strip())
    )
    assert said == ["Stopping ..."]


def test_a_workbench_that_is_stopped_does_not_wait_for_learning(bench: tuple[TestClient, Shop]) -> None:
    _, shop = bench
    assert stops_at_a_step(shop, "any job", learning_progress.turn_away)


def test_a_store_that_cannot_be_used_for_a_while_stops_no_learning(
    bench: tuple[TestClient, Shop], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, shop = bench
    monkeypatch.setattr(learning_progress, "EACH_S", 0.01)
    away, tried, begin = threading.Event(), [0], LearningRuns.begin

    def begin_where_it_can(self: LearningRuns, fingerprint: str) -> int:
        tried[0] += 1
        if away.is_set():
            raise ShopError("the disk is full")
        return begin(self, fingerprint)

    monkeypatch.setattr(LearningRuns, "begin", begin_where_it_can)
    away.set()
    with told(shop.learning_runs, "any job") as counting:
        step = counting("cells planned anew")
        until(lambda: tried[0] > 2)
        step(1, 2)
        assert shop.learning_runs.of("any job") is None
        away.clear()
        until(lambda: shop.learning_runs.of("any job") == LearningRun("cells planned anew", 1, 2))


def test_what_was_learned_once_is_not_learned_again(
    bench: tuple[TestClient, Shop], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, shop = bench
    counted: list[str] = []
    monkeypatch.setattr(learning, "learned_and_planned", lambda *_, progress: counted.append("learned"))
    job = shop.jobs.latest(KEY).job
    for _ in range(2):
        learning.Measured(job, (), shop.learning_runs).learned()
    assert counted == ["learned"]


# Two processes: one that serves, and this one


@contextmanager
def learning_at(address: str) -> Iterator[list[str]]:
    """Let a workbench learn meanwhile; afterwards the list holds its answer, if one came."""
    came: list[str] = []

    def learn() -> None:
        connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=COMES_WITHIN_S)
        with suppress(OSError, http.client.HTTPException), closing(connection):
            connection.request("GET", f"{PAGE}/result", headers={"HX-Request": "true"})
            came.append(connection.getresponse().read().decode())

    learns = threading.Thread(target=learn)
    learns.start()
    yield came
    learns.join(COMES_WITHIN_S)


@pytest.mark.slow
def test_learning_in_one_process_is_shown_and_stopped_by_another_and_ends_with_its_process(
    here: Here,
) -> None:
    from real_workbench import served

    with ExitStack() as stack:
        shop = stack.enter_context(here.open())
        filled(shop)
        log_in = Path(here.address if here.files is None else here.files).parent
        place = here.address if here.files is None else f"{here.address}&files={here.files}"
        one = stack.enter_context(served(place, log_in=log_in))
        other = stack.enter_context(TestClient(create_app(shop, Settings(hosts=(HOST,)))))

        def told_there() -> str:
            return other.get(f"{PAGE}/progress").text.strip()

        with learning_at(one.address) as came:
            until(told_there)
            assert other.post(f"{PAGE}/stop", headers=PART).text.strip() == "Stopping ..."
        assert "Learning was stopped." in came[0]
        assert told_there() == ""

        with learning_at(one.address) as came:
            until(told_there)
            one.kill()
        assert came == []
        silent_for(shop, timedelta(seconds=12))
        assert told_there() == ""
