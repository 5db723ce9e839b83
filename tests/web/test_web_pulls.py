"""The page of pulls: kept from a file, held against each other, and taken back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from sparkwright.evidence.pulls import pulls_in, taught_by
from sparkwright.shop import Shop
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
PAGE, API = f"/jobs/{KEY}/pulls", f"/api/v1/jobs/{KEY}/pulls"
PART = {"origin": "http://testserver"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in")
        yield client, shop


def torque(rpm: float) -> float:
    return 300.0 - 4e-6 * (rpm - 3500.0) ** 2


def table(timings: tuple[float, ...] = (24.0, 24.0, 30.0, 30.0), column: str = "advance_deg") -> str:
    lines = [f"pull,{column},speed_rpm,torque_nm"]
    for k, timing in enumerate(timings):
        lines += [
            f"run {k},{timing:g},{rpm},{torque(rpm) + 2 * (timing - 24) + 0.3 * (k % 2):.3f}"
            for rpm in range(1500, 5001, 50)
        ]
    return "\n".join(lines) + "\n"


def kept(client: TestClient, text: str, **fields: str) -> str:
    data = {"who": "A. Example", "map_kpa": "98"} | fields
    files = {"file": ("monday.csv", text.encode(), "text/csv")}
    return client.post(f"{PAGE}/files", data=data, files=files, headers=PART).text


def test_pulls_of_a_file_are_kept_and_held_against_each_other(bench: tuple[TestClient, Shop]) -> None:
    """By hand: 30 deg pulls 12 N m more than 24 deg at every speed."""
    client, shop = bench
    shown = kept(client, table())
    assert "4 pulls of the file kept." in shown
    assert "30 deg less 24 deg: +12.0 N m in the mean, real at 1,500 to 5,000 rpm" in shown
    assert shown.count("<svg") >= 2
    assert [each.map_kpa for each in pulls_in(shop.evidence.of_job(KEY))] == [98.0] * 4


def test_the_same_file_of_pulls_is_kept_once(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    kept(client, table())
    assert "0 pulls of the file kept; 4 kept already." in kept(client, table())
    assert "1 pull of the file kept; 3 kept already." in kept(client, table((24.0, 24.0, 30.0, 34.0)))
    assert len(pulls_in(shop.evidence.of_job(KEY))) == 5


def test_a_pull_of_another_engine_is_named_where_it_was_learned_from(
    bench: tuple[TestClient, Shop],
) -> None:
    """Pulls of three tenths of an engine's torque beside four of its own."""
    client, shop = bench
    kept(client, table())
    rows = [{"speed_rpm": float(rpm), "torque_nm": 0.3 * torque(rpm)} for rpm in range(1500, 5001, 50)]
    new = {"who": "A. Example", "rows": rows, "name": "strange", "advance_deg": 28.0, "map_kpa": 98.0}
    assert client.post(API, json=new).status_code == 201
    number = shop.evidence.of_job(KEY)[-1].id
    told = client.get(f"/api/v1/jobs/{KEY}/measured").json()
    assert told["results"]["pulls"] == 4
    assert told["results"]["pulls_aside"] == [f"strange ({number})"]
    assert any(
        each.startswith(f"Pull strange ({number}) seems to be of another engine")
        for each in map(str, told["warnings"])
    ), told["warnings"]


def test_a_pull_taken_back_is_struck_through_and_teaches_no_longer(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    kept(client, table())
    record = shop.evidence.of_job(KEY)[-1]
    data = {"then": PAGE, "who": "A. Example"}
    shown = client.post(f"/jobs/{KEY}/evidence/{record.id}/back", data=data, headers=PART).text
    assert 'class="taken-back"' in shown
    assert "Put back" in shown
    told = taught_by(shop.evidence.of_job(KEY))
    assert {name for each in told for name in each.pulls} == {"run 0 (1)", "run 1 (2)", "run 2 (3)"}


def test_what_was_typed_stays_where_a_file_is_refused(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    shown = kept(client, "speed_rpm,torque_kgm\n2000,12\n", advance="31.5")
    assert "<b>Not kept yet.</b>" in shown
    assert 'value="31.5"' in shown
    assert not shop.evidence.of_job(KEY)


def test_an_advance_that_no_engine_has_is_refused_by_its_name(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    shown = kept(client, table(), advance="200")
    assert "Advance = &#34;200&#34;: must be -20 to 80" in shown


def test_pulls_of_which_nobody_said_the_advance_are_said_to_teach_nothing(
    bench: tuple[TestClient, Shop],
) -> None:
    client, shop = bench
    shown = kept(client, table(column="timing"))
    assert "4 of them teach nothing, since advance or load isn" in shown
    assert taught_by(shop.evidence.of_job(KEY)) == ()


def test_a_program_keeps_a_pull_once_and_reads_the_comparison(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    rows = [{"speed_rpm": rpm, "torque_nm": 300.0 - 0.01 * rpm} for rpm in range(1500, 5001, 100)]
    for name, timing, up in (("a", "24 deg", 0.0), ("a", "24 deg", 0.0), ("b", "30 deg", 5.0)):
        more = [each | {"torque_nm": each["torque_nm"] + up} for each in rows]
        pull = {"who": "A. Example", "rows": more, "name": name, "timing": timing, "sent_as": f"word {name}"}
        assert client.post(API, json=pull | {"map_kpa": 98, "advance_deg": 24 + up}).status_code == 201
    found = client.get(API).json()["results"]
    assert [each["name"] for each in found["pulls"]] == ["a (1)", "b (2)"]
    assert found["compared"][0]["difference_nm"][0] == pytest.approx(5.0)


def test_a_job_without_pulls_says_so(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    assert "No pull is kept here yet." in client.get(PAGE).text
    assert client.get(API).status_code == 422


def test_the_card_tells_of_pulls_that_were_measured(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    kept(client, table())
    assert "Measured: 4 pulls at full throttle, at 24 deg, 30 deg." in client.get(f"/jobs/{KEY}/card").text
