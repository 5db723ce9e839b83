"""Who does the work of a fleet: the same answers in any order, and what is lost with a worker."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from fleet_work import squared, squared_after_a_kill, squared_unless_poisoned
from sparkwright.errors import Refusal
from sparkwright.fleet.workers import AHEAD, Cluster, Here, Lost, spread

HERE = Here(2)


def test_every_item_comes_back_with_its_number() -> None:
    found = dict(spread(HERE, squared, enumerate(range(50))))
    assert found == {number: number * number for number in range(50)}


def test_no_more_is_taken_than_can_soon_be_worked_on() -> None:
    taken: list[int] = []

    def items() -> Iterator[tuple[int, int]]:
        for number in range(40):
            taken.append(number)
            yield number, number

    results = spread(HERE, squared, items())
    next(results)
    assert len(taken) <= 2 * AHEAD + 2
    results.close()  # type: ignore[attr-defined]


def test_a_worker_killed_from_outside_costs_nothing_but_time(tmp_path: Path) -> None:
    items = [(number, (number, str(tmp_path / "seen"))) for number in range(12)]
    found = dict(spread(HERE, squared_after_a_kill, items))
    assert found == {number: number * number for number in range(12)}


def test_what_brings_its_worker_down_twice_is_given_up_and_the_rest_goes_on() -> None:
    found = dict(spread(HERE, squared_unless_poisoned, enumerate(range(30))))
    assert found.pop(13) == Lost()
    assert found == {number: number * number for number in range(30) if number != 13}


@pytest.mark.parametrize(
    "address", ["tcp://10.1.2.3:8786", "10.1.2.3:8786", "http://localhost", "ws://localhost:1"]
)
def test_a_cluster_over_an_open_network_is_refused(address: str) -> None:
    with pytest.raises(Refusal) as refusal:
        Cluster(address)
    assert "must begin with tls:// unless it is this machine's" in str(refusal.value)
    assert "what comes back is believed" in str(refusal.value)


def test_a_cluster_that_nobody_answers_for_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sparkwright.fleet.workers.SCHEDULER_SECONDS", 1)
    with pytest.raises(Refusal, match=r"tcp://127\.0\.0\.1:9: can't be reached; start its scheduler"):
        Cluster("tcp://127.0.0.1:9")
