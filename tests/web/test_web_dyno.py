"""The day at the dyno: points kept one by one, knock in two touches, what comes next, what was learned."""

from __future__ import annotations

import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sparkwright.evidence.kinds import KnockMark, TorquePoint
from sparkwright.shop import Shop
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
PAGE, API = f"/jobs/{KEY}/dyno", f"/api/v1/jobs/{KEY}"
PART = {"origin": "http://testserver", "hx-request": "true"}
POINTS = ((14, 300.0), (20, 330.0), (26, 345.0), (32, 350.0), (38, 345.0))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in")
        yield client, shop


def sent(client: TestClient, to: str = "points", /, **fields: object) -> Any:
    typed = {"speed_rpm": "2,400", "map_kpa": "90", "torque_unit": "N m", "who": "A. Example"}
    data = typed | {name: str(value) for name, value in fields.items()}
    return client.post(f"{PAGE}/{to}", data=data, headers=PART)


def test_the_hook_grows_with_each_point_within_a_second(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    for advance, torque in POINTS[:4]:
        sent(client, advance_deg=advance, torque=torque)
    began = time.perf_counter()
    answer = sent(client, advance_deg=38, torque=345)
    assert time.perf_counter() - began < 1.0
    assert "<h1>Best is 31.8 deg here, 30.6 to 33.0.</h1>" in answer.text
    assert "<b>Kept:</b> 345.0 N m at 38 deg" in answer.text
    # By hand: the parabola through 26, 32 and 38 with 345, 350, 345 has its top at 32.
    assert '<circle cx="' in answer.text


def test_torque_in_pound_feet_is_kept_in_newton_metres(bench: tuple[TestClient, Shop]) -> None:
    """One lbf ft is 1.3558179483 N m (international pound and foot)."""
    client, shop = bench
    sent(client, advance_deg=20, torque="100", torque_unit="lb-ft")
    (kept,) = shop.evidence.of_job(KEY)
    assert isinstance(kept.data, TorquePoint)
    assert kept.data.torque_nm == pytest.approx(135.58179483)


def test_a_coolant_gauge_in_fahrenheit_is_kept_in_celsius(bench: tuple[TestClient, Shop]) -> None:
    """212 deg F is where water boils, 100 deg C; a number alone is in deg C."""
    client, shop = bench
    sent(client, advance_deg=20, torque="300", coolant_c="212 F")
    sent(client, advance_deg=24, torque="310", coolant_c="90")
    kept = [each.data for each in shop.evidence.of_job(KEY)]
    assert [each.coolant_c for each in kept if isinstance(each, TorquePoint)] == [100.0, 90.0]
    refused = sent(client, advance_deg=28, torque="320", coolant_c="90 psi")
    assert "Coolant = &#34;90 psi&#34;: has no known unit of temperature" in refused.text


def test_the_unit_of_torque_stands_at_its_field(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    client.cookies.set("units", "inch")
    assert 'Torque <span class="hint" id="torque-hint">lb-ft</span>' in client.get(PAGE).text
    answer = sent(client, advance_deg=20, torque="100", torque_unit="lb-ft")
    assert "<b>Kept:</b> 100.0 lb-ft at 20 deg" in answer.text


def test_a_point_that_is_sent_twice_is_kept_once(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    for _ in range(2):
        answer = sent(client, advance_deg=20, torque=300, sent_as="one")
        assert answer.headers["kept-as"] == "one"
    assert len(shop.evidence.of_job(KEY)) == 1


def test_another_speed_begins_the_next_sweep_and_stop_does_too(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    sent(client, advance_deg=20, torque=300)
    sent(client, advance_deg=25, torque=310, speed_rpm=2420)
    sent(client, advance_deg=20, torque=280, speed_rpm=3600)
    assert 'name="sweep" value="3"' in client.get(f"{PAGE}?sweep=3").text
    sent(client, advance_deg=20, torque=281, speed_rpm=3600, sweep=3)
    numbers = [each.data.sweep for each in shop.evidence.of_job(KEY) if isinstance(each.data, TorquePoint)]
    assert numbers == [1, 1, 2, 3]


def test_knock_is_noted_where_the_form_stands_and_ends_nothing_else(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    answer = sent(client, "knock", advance_deg=34, heard="heavy", torque="")
    assert "heavy knock at 34 deg. Back off 5 deg at once." in answer.text
    (kept,) = shop.evidence.of_job(KEY)
    assert kept.data == KnockMark(2400.0, 90.0, 34.0, "heavy")


def test_the_next_point_is_asked_for_and_a_late_one_has_its_limit(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    first = client.get(f"{PAGE}/ask", headers=PART).text
    assert "Go to " in first
    assert 'data-hot-s="30"' in first
    sent(client, advance_deg=14, torque=300, map_kpa=70)
    running = client.get(f"{PAGE}/ask", headers=PART).text
    assert "deg at 2,400 rpm and 70 kPa, then " in running
    asked_deg = float(running.split("<b>Now ")[1].split(" deg")[0])
    assert 15.0 < asked_deg < 25.0
    sent(client, advance_deg=19, torque=320, knock="trace", map_kpa=70)
    after = client.get(f"{PAGE}/ask", headers=PART).text
    assert "Knock ends the sweep at 2,400 rpm and 70 kPa: go no earlier there." in after


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"torque": ""}, "Torque (not given): must be given; a point without torque is a knock mark."),
        ({"torque": "late"}, 'Torque = "late": must be a number.'),
        ({"torque": "-12"}, "Torque = -12.0: must be 0 to 5000; it is the brake&#39;s reading at the crank."),
        ({"torque_unit": "kgm"}, "Torque unit = &#34;kgm&#34;: must be N m or lb-ft"),
        ({"map_kpa": ""}, "Load (not given): must be given."),
        (
            {"advance_deg": "-30"},
            'Advance = "-30": must be -20 to 80; it counts in crank degrees before top dead centre.',
        ),
        ({"speed_rpm": "fast"}, "Speed = "),
        ({"who": " "}, "Who measures (not given): must be given; the history says who changed what."),
        ({"sweep": "0"}, "sweep = 0: must be 1 to 1000."),
    ],
)
def test_what_cannot_be_kept_is_said_and_stays_in_its_field(
    fields: dict[str, str], told: str, bench: tuple[TestClient, Shop]
) -> None:
    client, shop = bench
    typed: dict[str, str] = {"advance_deg": "21.5", "torque": "300", "note": "fan on"}
    answer = sent(client, "points", **(typed | fields))
    assert answer.status_code == 422
    assert told.replace('"', "&#34;") in answer.text
    assert 'value="fan on"' in answer.text
    assert shop.evidence.of_job(KEY) == []


def test_a_point_that_is_taken_back_is_unlearned_to_the_last_digit(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench

    def cells() -> Any:
        return client.get(f"{API}/learned").json()["results"]["cells"]

    for advance, torque in POINTS:
        sent(client, advance_deg=advance, torque=torque)
    before = cells()
    sent(client, "knock", advance_deg=30, heard="trace")
    taught = cells()
    assert taught != before
    mark = shop.evidence.of_job(KEY, "knock-mark")[0]
    client.post(
        f"/jobs/{KEY}/evidence/{mark.id}/back", data={"then": PAGE, "who": "A. Example"}, headers=PART
    )
    assert cells() == before


def test_what_was_learned_is_said_in_words_with_maps_and_what_next_is_worth(
    bench: tuple[TestClient, Shop],
) -> None:
    client, _ = bench
    assert "Nothing was measured on this engine yet." in client.get(f"/jobs/{KEY}/learned").text
    for advance, torque in POINTS:
        sent(client, advance_deg=advance, torque=torque)
    text = client.get(f"/jobs/{KEY}/learned/result", headers=PART).text
    assert "<h1>Learned from 1 sweep: best is known to " in text
    assert "It wants 1." in text
    assert "What moved: degrees more or less than before" in text
    assert "worth over the map" in text
    assert " N m" in text


def test_programs_send_points_and_get_fits_and_what_next(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    point = {"who": "A. Example", "speed_rpm": 2400, "map_kpa": 90}
    for advance, torque in POINTS:
        answer = client.post(
            f"{API}/torque-points", json=point | {"advance_deg": advance, "torque_nm": torque}
        )
        assert answer.status_code == 201
        assert answer.json()["sweep"] == 1
    mark = client.post(f"{API}/knock-marks", json=point | {"advance_deg": 41, "knock": "loud"})
    assert mark.status_code == 422
    assert client.get(f"{API}/dyno").json()["results"]["sweeps"][0]["points"] == len(POINTS)
    assert client.get(f"{API}/next").json()["results"]["next"]
    assert [each["kind"] for each in client.get(f"{API}/sweeps").json()["records"]] == ["torque-point"] * 5


def test_the_card_says_what_is_measured_and_a_signed_one_what_has_changed_since(
    bench: tuple[TestClient, Shop],
) -> None:
    client, shop = bench
    assert (
        "Nothing was measured at a brake. Foretold: the map of this card"
        in client.get(f"/jobs/{KEY}/card").text
    )
    for advance, torque in POINTS[:3]:
        sent(client, advance_deg=advance, torque=torque)
    card = client.get(f"/jobs/{KEY}/card").text
    assert "<tr><td>2,400</td><td>90</td>" in card
    assert "not crossed</td>" in card, "torque still rises at the last of these points"
    assert "nobody listened</td>" in card
    shop.jobs.hand_over(KEY, 1, who="A. Example", acknowledged=["High voltage."])
    assert "Since it was signed: nothing has changed." in client.get(f"/jobs/{KEY}/card").text
    sent(client, "knock", advance_deg=34, heard="trace")
    shop.jobs.save(KEY, PUMP_HOUSE + "# gap\n", who="A. Example", why="gap", based_on=1)
    signed = client.get(f"/jobs/{KEY}/card?number=1").text
    assert "Since it was signed: 1 knock mark; revision 2 stands now, this card is of revision 1." in signed
    assert "trace at 34" not in signed
    assert "trace at 34" in client.get(f"/jobs/{KEY}/card").text
    assert client.get(f"/jobs/{KEY}/card.pdf?number=1").content.startswith(b"%PDF")


HEAD = "speed_rpm,map_kpa,advance_deg,torque_nm\n"


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([(2400, 90, 20, 330)], "Sweep bad.csv 1 has one point: its torque can't place a top"),
        ([(2400, 90, 20, t) for _, t in POINTS], "Sweep bad.csv 1 has all its points at 20 deg"),
        ([(2400, 90, -a, t) for a, t in POINTS], "has advances of -38 to -14 deg: its sign seems reversed."),
        ([(2400, 90, a, -t) for a, t in POINTS], "has no torque above 0: the brake's sign seems reversed"),
        ([(2400, 90, a, 330) for a, _ in POINTS], "has the same torque, 330 N m, at every advance"),
        (
            [(2400 + 60 * k, 90, *point) for k, point in enumerate(POINTS)],
            "Sweep bad.csv 1 ran from 2,400 to 2,640 rpm: unsteady speed.",
        ),
    ],
    ids=["one point", "one advance", "sign", "brake's sign", "stuck", "creeping speed"],
)
def test_what_of_a_file_can_not_be_used_is_named_on_the_page_and_the_rest_goes_on(
    bench: tuple[TestClient, Shop], rows: list[tuple[float, ...]], told: str
) -> None:
    client, shop = bench
    good = [(1500, 60, advance + 4, 0.6 * torque) for advance, torque in POINTS]
    table = HEAD + "".join(",".join(map(str, row)) + "\n" for row in (*rows, *good))
    answer = client.post(
        f"{PAGE}/files",
        data={"who": "A. Example"},
        files={"file": ("bad.csv", table.encode())},
        headers={"origin": PART["origin"]},
    )
    shown = unescape(answer.text)
    assert "1 sweep of the file kept. What can't be used:" in shown
    assert told in shown
    assert len(shop.evidence.of_job(KEY, "sweep")) == 1


@pytest.mark.parametrize(
    ("points", "told"),
    [
        ([(2400, a, 330) for a, _ in POINTS], "the sensor seems stuck."),
        ([(2400, 20, t) for _, t in POINTS], "has all its points at 20 deg"),
        ([(2400, -0.4 * a, t) for a, t in POINTS], "its sign seems reversed."),
        ([(2400 + 90 * k, *point) for k, point in enumerate(POINTS)], "unsteady speed."),
    ],
    ids=["stuck", "one advance", "sign", "unsteady"],
)
def test_what_keeps_a_typed_sweep_from_being_used_is_said_where_it_is_typed(
    bench: tuple[TestClient, Shop], points: list[tuple[float, float, float]], told: str
) -> None:
    client, _ = bench
    for speed, advance, torque in points:
        answer = sent(client, speed_rpm=speed, advance_deg=advance, torque=torque, sweep=1)
    assert told in unescape(answer.text)
    assert "<h1>Best is" not in answer.text


def test_a_sweep_that_has_only_begun_is_nothing_wrong(bench: tuple[TestClient, Shop]) -> None:
    client, _ = bench
    for advance, torque in POINTS[:2]:
        assert "can't place a top" not in unescape(sent(client, advance_deg=advance, torque=torque).text)


def test_programs_read_measured_against_foretold_in_numbers(bench: tuple[TestClient, Shop]) -> None:
    """Points about 32 deg, whose parabola has its top there."""
    client, _ = bench
    for advance, torque in POINTS:
        sent(client, advance_deg=advance, torque=torque, knock="none")
    found = client.get(f"{API}/measured").json()["results"]
    (place,) = found["places"]
    assert place["best_low_deg"] < 32.0 < place["best_high_deg"]
    assert abs(place["taught_deg"] - 32.0) < abs(place["untaught_deg"] - 32.0)
    assert (place["heard"], place["heard_deg"]) == ("none", 38.0)
    near = [each for each in found["cells"] if each["measured_near"]]
    assert near
    assert all(abs(each["kpa"] - 90.0) <= 10.0 and 1920.0 <= each["rpm"] <= 3000.0 for each in near)


def test_sweeps_of_a_file_are_kept_once_and_named_when_they_come_again(
    bench: tuple[TestClient, Shop],
) -> None:
    client, shop = bench
    rows = "".join(f"2400,90,{advance},{torque}\n" for advance, torque in POINTS)
    content = f"speed_rpm,map_kpa,advance_deg,torque_nm\n{rows}".encode()

    def kept(sent: bytes = content) -> Any:
        files = {"file": ("monday.csv", sent)}
        origin = {"origin": PART["origin"]}
        return client.post(f"{PAGE}/files", data={"who": "A. Example"}, files=files, headers=origin)

    assert "1 sweep of the file kept." in kept().text
    assert "0 sweeps of the file kept. 1 kept already." in kept().text
    assert len(shop.evidence.of_job(KEY, "sweep")) == 1
    refused = kept(b"speed_rpm,map_kpa,advance_deg,torque_kgm\n2400,90,14,30\n")
    assert refused.status_code == 422
    assert "has no known unit of torque" in refused.text
