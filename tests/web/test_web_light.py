"""The light page: each reading kept the moment it is confirmed, and the same check as the command's."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from seen import light, put_as_it_is
from sparkwright.evidence.kinds import LightReading
from sparkwright.evidence.light_sets import light_check
from sparkwright.job import Job, JobText
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import check_light
from sparkwright.plan.uncertainty import timing_spread_deg
from sparkwright.sheets.record import json_text, record
from sparkwright.shop import Shop, open_shop
from telling import sentence_of
from workbench import OLD_FOUR, PUMP_HOUSE, workbench

KEY = "pump-house-v8"
Opened = tuple[TestClient, Shop]
GOOD = ((1000, 20.0), (2000, 20.0), (3000, 19.8), (4000, 20.1), (1500, 20.0))


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="First facts")
        yield client, shop


def keep(client: TestClient, speed: object, seen: object, number: int = 1, **more: object) -> int:
    row = {"commanded_deg": 20, "speed_rpm": speed, "seen_deg": seen, "who": "A. Example", "set": number}
    answer = client.post(f"/jobs/{KEY}/light/readings", data=row | more, headers={"hx-request": "true"})
    return answer.status_code


def test_the_step_at_the_side_follows_a_reading(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    row = {"commanded_deg": 20, "speed_rpm": 2000, "seen_deg": 20, "who": "A. Example", "set": 1}
    answer = client.post(f"/jobs/{KEY}/light/readings", data=row, headers={"hx-request": "true"})
    assert '<ol id="steps" hx-swap-oob="true"' in answer.text
    assert "1 reading, not proved yet" in answer.text
    assert "hx-swap-oob" not in client.get(f"/jobs/{KEY}/light").text


def test_without_readings_it_asks_for_the_first(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    text = client.get(f"/jobs/{KEY}/light").text
    assert "Hold 25 deg at 2,000 rpm and read the light." in text
    assert "Stop the engine, key off, before a hand goes to clamp bolt" in text
    assert "<svg" not in text.partition('id="light"')[2]


def test_a_reading_is_safe_before_the_answer_comes(opened: tuple[TestClient, Shop], tmp_path: Path) -> None:
    client, _ = opened
    assert keep(client, 2000, "19,5", note="again", battery_v=13.2, sweep="rising") == 200
    other = open_shop(tmp_path / "shop")
    row = other.evidence.of_job(KEY)[0].fields
    other.close()
    assert row == {
        "commanded_deg": 20.0,
        "speed_rpm": 2000.0,
        "seen_deg": 19.5,
        "battery_v": 13.2,
        "sweep": "rising",
        "note": "again",
        "set": 1,
    }


def test_the_page_says_what_the_command_says(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    for speed, seen in GOOD:
        keep(client, speed, seen)
    job = Job.from_toml(PUMP_HOUSE)
    result = check_light(job, [Reading(20, *row, line=place) for place, row in enumerate(GOOD, start=1)])
    text = client.get(f"/jobs/{KEY}/light").text
    assert sentence_of(result.headline) in text
    assert "What the fit leaves over" in text
    printed = json_text(record("light", job, result, assumed=result.assumed, warnings=result.warnings))
    given = client.get(f"/api/v1/jobs/{KEY}/light").json()
    assert given == json.loads(printed)
    assert sentence_of(result.headline) in client.get(f"/jobs/{KEY}/card").text
    assert len(shop.evidence.of_job(KEY)) == len(GOOD)


@pytest.mark.parametrize(
    ("speed", "seen", "sentence"),
    [
        (2000, 300, "Seen = 300: must be -40 to 100"),
        (0, 20, "Speed = 0: must be 50 to 12000"),
        ("", 20, "Speed (not given): must be given"),
        (2000, "twenty", "Seen = "),
    ],
)
def test_what_cannot_be_a_reading_stays_in_the_form(
    opened: tuple[TestClient, Shop], speed: object, seen: object, sentence: str
) -> None:
    client, shop = opened
    row = {"commanded_deg": 20, "speed_rpm": speed, "seen_deg": seen, "who": "A. Example", "set": 1}
    answer = client.post(f"/jobs/{KEY}/light/readings", data=row)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert f'value="{seen}"' in answer.text
    assert shop.evidence.of_job(KEY) == []


def withdrawn_by(shop: Shop) -> list[str | None]:
    found = shop.evidence.of_job(KEY, also_withdrawn=True)
    return [each.withdrawn.who for each in found if each.withdrawn is not None]


def test_a_reading_is_taken_back_and_its_row_stays(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    keep(client, 2000, 20)
    reading = shop.evidence.of_job(KEY)[0]
    client.post(f"/jobs/{KEY}/light/back", data={"reading": reading.id, "set": 1, "who": "A. Example"})
    assert shop.evidence.of_job(KEY) == []
    assert withdrawn_by(shop) == ["A. Example"]


def test_after_a_change_a_new_set_begins(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    for speed, seen in ((1000, 15), (2000, 15), (3000, 15.2), (4000, 15)):
        keep(client, speed, seen)
    text = client.get(f"/jobs/{KEY}/light").text
    assert "It is done: begin set 2" in text
    assert "Nothing has been read yet." in client.get(f"/jobs/{KEY}/light?set=2").text
    for speed, seen in GOOD:
        keep(client, speed, seen, number=2)
    text = client.get(f"/jobs/{KEY}/light").text
    assert "Readings of set 2" in text
    assert "Set 1</a>: 4 readings." in text


def test_readings_come_from_a_file_and_go_into_one(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    table = b"commanded_deg,speed_rpm,seen_deg\n20,1000,20\n20,2000,19.5\n"
    sent = {"set": 1, "who": "A. Example"}
    client.post(f"/jobs/{KEY}/light/files", data=sent, files={"file": ("bench.csv", table)})
    assert shop.files.of_job(KEY)[0].name == "bench.csv"
    assert client.get(f"/jobs/{KEY}/light/readings.csv?set=1").content == table
    bad = client.post(f"/jobs/{KEY}/light/files", data=sent, files={"file": ("x.csv", b"\xff\xfe\x00")})
    assert bad.status_code == 422
    assert "must be UTF-8 text" in bad.text
    assert len(shop.evidence.of_job(KEY)) == 2


def test_a_line_that_stands_twice_in_a_file_is_told(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    table = b"commanded_deg,speed_rpm,seen_deg\n20,1000,20\n20,1000,20\n"
    sent = {"set": 1, "who": "A. Example"}
    answer = client.post(f"/jobs/{KEY}/light/files", data=sent, files={"file": ("bench.csv", table)})
    assert "1 line of the file was like another and was kept once." in answer.text
    assert len(shop.evidence.of_job(KEY)) == 1


def test_only_a_reading_of_this_job_is_taken_back(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    other = shop.jobs.create(OLD_FOUR, who="A. Example").key
    kept = shop.evidence.add(other, light(900), who="A. Example")
    back = {"reading": kept.id, "set": 1, "who": "A. Example"}
    assert client.post(f"/jobs/{KEY}/light/back", data=back).status_code == 404
    nameless = client.post(f"/jobs/{other}/light/back", data=back | {"who": ""})
    assert "your name (not given): must be given" in nameless.text
    assert len(shop.evidence.of_job(other)) == 1


def test_lines_count_within_their_set(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    keep(client, 1000, 15)
    keep(client, 1000, 20, number=2)
    keep(client, 2000, 20, number=2)
    rows = client.get(f"/jobs/{KEY}/light?set=2").text
    assert '<td class="number">1</td><td class="number">1,000</td>' in rows
    assert '<td class="number">2</td><td class="number">2,000</td>' in rows


def test_a_program_sends_readings(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    row = {"who": "Bench", "commanded_deg": 20, "speed_rpm": 2000, "seen_deg": 19.5}
    assert client.post(f"/api/v1/jobs/{KEY}/readings", json=row).status_code == 201
    wrong = client.post(f"/api/v1/jobs/{KEY}/readings", json=row | {"speed_rpm": 0})
    assert wrong.json()["problems"] == [
        "speed_rpm = 0: must be 50 to 12000; the light is read on a running engine"
    ]
    readings = client.get(f"/api/v1/jobs/{KEY}/readings").json()["readings"]
    assert [each["seen_deg"] for each in readings] == [19.5]


def test_a_cylinder_that_the_engine_has_not_is_refused_at_each_door(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    shop.jobs.create(OLD_FOUR, who="A. Example", why="First facts")
    sentence = "cylinder = 7: must be 1 to 4; the engine of this job has no other"
    row = {"commanded_deg": 20, "speed_rpm": 2000, "seen_deg": 20, "cylinder": 7, "who": "A. Example"}
    typed = client.post("/jobs/old-four/light/readings", data=row)
    assert (typed.status_code, sentence in typed.text, 'value="2000"' in typed.text) == (422, True, True)
    sent = client.post("/api/v1/jobs/old-four/readings", json=row)
    assert sent.json()["problems"] == [sentence]
    table = b"commanded_deg,speed_rpm,seen_deg,cylinder\n20,2000,20,7\n"
    given = {"set": "1", "who": "A. Example"}
    taken = client.post("/jobs/old-four/light/files", data=given, files={"file": ("run.csv", table)})
    assert (taken.status_code, sentence in taken.text) == (422, True)
    assert shop.evidence.of_job("old-four") == []
    assert shop.files.of_job("old-four") == []


@pytest.mark.parametrize("page", ["light", "map", "engine", "ignition", "history", "hand-over", "mark"])
def test_no_reading_that_was_kept_shuts_the_job(opened: tuple[TestClient, Shop], page: str) -> None:
    client, shop = opened
    shop.jobs.create(OLD_FOUR, who="A. Example", why="First facts")
    shop.evidence.add("old-four", light(cylinder=7), who="A. Example")
    put_as_it_is(shop, "old-four", {"set": 1, "lambda": 1.0})
    put_as_it_is(shop, "old-four", {"colour": "blue"}, kind="photograph")
    put_as_it_is(shop, "old-four", {"speed_rpm": 9}, kind="sweep")
    rest = [light(speed_rpm) for speed_rpm in range(1000, 1501)]
    shop.evidence.add_all("old-four", rest, who="A. Example")
    text = client.get(f"/jobs/old-four/{page}")
    assert text.status_code == 200
    if page == "light":
        assert (
            "Readings name cylinder 7, and this engine has 4; they count as of a cylinder not noted."
            in text.text
        )
        assert "Only the first 500 readings of this set are judged; begin a new set." in text.text


def from_elsewhere(count: int, a_set: int) -> list[LightReading]:
    """More than the page would take, as an archive may bring them; each seen at a speed of its own."""
    return [light(1000 + each, number=1 + each // a_set) for each in range(count)]


def test_a_set_of_many_readings_comes_a_page_at_a_time(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    shop.evidence.add_all(KEY, from_elsewhere(1100, 1100), who="A. Example")
    first, last = (client.get(f"/jobs/{KEY}/light?set=1&line={line}").text for line in (1, 1001))
    assert first.count('name="reading"') == 500
    assert last.count('name="reading"') == 100
    assert "2,001" in last
    for line in (-1, 0, 10**40):
        assert client.get(f"/jobs/{KEY}/light?set=1&line={line}").status_code == 200
    for text in (first, last):
        assert "Only the first 500 readings of this set are judged; begin a new set." in text
        assert f'/jobs/{KEY}/light?set=1&amp;line=501">501 to 1,000</a>' in text


def test_many_sets_come_a_page_at_a_time(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    shop.evidence.add_all(KEY, from_elsewhere(45, 1), who="A. Example")

    def listed(number: int) -> list[int]:
        text = client.get(f"/jobs/{KEY}/light?set={number}").text
        return [each for each in range(1, 46) if f">Set {each}</a>" in text]

    assert listed(45) == [41, 42, 43, 44, 45]
    assert listed(40) == list(range(21, 41))
    text = client.get(f"/jobs/{KEY}/light?set=30").text
    assert f'<a href="/jobs/{KEY}/light?set=20">Older sets</a>' in text
    assert f'<a href="/jobs/{KEY}/light?set=41">newer sets</a>' in text


def test_a_program_gets_readings_a_page_at_a_time(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    shop.evidence.add_all(KEY, from_elsewhere(1100, 400), who="A. Example")
    seen, after = [], 0
    while page := client.get(f"/api/v1/jobs/{KEY}/readings?after={after}").json()["readings"]:
        assert len(page) <= 500
        seen += [each["speed_rpm"] for each in page]
        after = page[-1]["id"]
    assert seen == [1000 + each for each in range(1100)]
    assert client.get(f"/api/v1/jobs/{KEY}/readings?limit=1").json()["count"] == 1100
    assert client.get(f"/api/v1/jobs/{KEY}/readings?limit=501").status_code == 422


def test_a_reading_sent_twice_is_kept_once(opened: tuple[TestClient, Shop]) -> None:
    """No answer came, so it was sent again; other values under the same word are a reading of their own."""
    client, shop = opened
    for _ in range(2):
        assert keep(client, 2000, 19.5, sent_as="of-the-form") == 200
    assert len(shop.evidence.of_job(KEY)) == 1
    keep(client, 2000, 21.5, sent_as="of-the-form")
    keep(client, 2000, 19.5, sent_as="of-another")
    keep(client, 2000, 19.5)
    assert [each.fields["seen_deg"] for each in shop.evidence.of_job(KEY)] == [19.5, 21.5, 19.5, 19.5]
    sent = {"who": "Bench", "commanded_deg": 20, "speed_rpm": 2000, "seen_deg": 18, "sent_as": "7"}
    twice = [client.post(f"/api/v1/jobs/{KEY}/readings", json=sent).json()["id"] for _ in range(2)]
    assert twice[0] == twice[1]


def test_each_form_has_a_word_of_its_own_and_keeps_it_when_refused(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    words = {
        client.get(f"/jobs/{KEY}/light").text.partition('name="sent_as" value="')[2][:32] for _ in range(3)
    }
    assert len(words) == 3
    row = {"speed_rpm": 0, "seen_deg": 20, "who": "A. Example", "set": 1, "sent_as": "of-the-form"}
    assert 'name="sent_as" value="of-the-form"' in client.post(f"/jobs/{KEY}/light/readings", data=row).text


def test_a_reading_that_was_taken_back_can_be_put_back(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    keep(client, 2000, 20)
    reading = shop.evidence.of_job(KEY)[0]
    sent = {"reading": reading.id, "set": 1, "who": "B. Example"}
    text = client.post(f"/jobs/{KEY}/light/back", data=sent).text
    assert "taken back by B. Example" in text
    assert "Nothing has been read yet." in text
    text = client.post(f"/jobs/{KEY}/light/put-back", data=sent).text
    assert "taken back" not in text
    assert shop.evidence.of_job(KEY) == [reading]
    again = client.post(f"/jobs/{KEY}/light/put-back", data=sent)
    assert again.status_code == 404
    assert f"there is no reading {reading.id} of this job that was taken back" in again.text


# What was found and proved, kept in the job


def read_set(client: TestClient, number: int, delay_us: float) -> None:
    """Six readings to a hundredth of a degree, late by a delay."""
    for speed in (1000, 1600, 2200, 2800, 3400, 4000):
        seen = f"{20.0 - 6e-6 * speed * delay_us:.2f}"
        keep(client, speed, seen, number, resolution_deg="0.1")


def test_it_is_done_keeps_the_delay_that_was_set(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    text = shop.jobs.latest(KEY).text
    read_set(client, 1, delay_us=120.0)
    page = client.get(f"/jobs/{KEY}/light").text
    assert "Set the delay in the controller to 120 us." in page
    assert 'name="delay_us" inputmode="decimal" autocomplete="off" maxlength="20" value="120"' in page
    assert shop.jobs.latest(KEY).text == text, "never by itself"
    sent = {"set": "1", "based_on": "1", "delay_us": "118", "who": "A. Example"}
    answer = client.post(f"/jobs/{KEY}/light/done", data=sent, follow_redirects=False)
    assert answer.headers["location"] == f"/jobs/{KEY}/light?set=2"
    latest = shop.jobs.latest(KEY)
    assert latest.job.light.delay_set_us == 118.0
    assert latest.why == "Delay set in the controller after light set 1: 118 us"
    assert set(text.splitlines()) <= set(latest.text.splitlines())
    again = client.post(f"/jobs/{KEY}/light/done", data=sent | {"based_on": "2"}, follow_redirects=False)
    assert (again.status_code, shop.jobs.latest(KEY).number) == (303, 2)


def test_it_is_done_takes_no_delay_that_cannot_be(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    read_set(client, 1, delay_us=120.0)
    sent = {"set": "1", "based_on": "1", "delay_us": "9000", "who": "A. Example"}
    answer = client.post(f"/jobs/{KEY}/light/done", data=sent)
    assert (answer.status_code, "light.delay_set_us = " in answer.text) == (422, True)
    assert "must be -2000 to 2000" in answer.text
    assert shop.jobs.latest(KEY).number == 1


def test_what_is_proved_is_kept_with_one_press_and_counts(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    proved = JobText(PUMP_HOUSE).changed("light", mark_proved=True).text
    shop.jobs.save(KEY, proved, who="A. Example", why="mark proved", based_on=1)
    read_set(client, 1, delay_us=0.0)
    assert timing_spread_deg(shop.jobs.latest(KEY).job) == 1.0
    page = client.get(f"/jobs/{KEY}/light").text
    assert "Proved, and not in the job yet: base, mark and scatter of the spark are known to 0." in page
    sent = {"set": "1", "based_on": "2", "who": "A. Example"}
    assert client.post(f"/jobs/{KEY}/light/proved", data=sent, follow_redirects=False).status_code == 303
    latest = shop.jobs.latest(KEY)
    assert 0.2 < timing_spread_deg(latest.job) < 1.0
    assert latest.why.startswith("Proved with the light, set 1: base, mark and scatter of the spark")
    assert latest.text.startswith(proved.rstrip())
    assert "The job states what is proved: base" in client.get(f"/jobs/{KEY}/light").text
    nothing = client.post(f"/jobs/{KEY}/light/proved", data=sent | {"based_on": "3"})
    assert (nothing.status_code, shop.jobs.latest(KEY).number) == (422, 3)


def test_only_the_latest_set_says_what_to_do_and_no_other_is_judged(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    late = [light(speed, 16.0, number=number) for number in range(1, 6) for speed in (1000, 2000, 3000)]
    shop.evidence.add_all(KEY, late, who="A. Example")
    light_check.cache_clear()
    page = client.get(f"/jobs/{KEY}/light").text
    assert "It is done: begin set 6" in page
    # The newest, and one without readings, for what is asked first where no workbench answers.
    assert light_check.cache_info().misses == 2
    assert "Set 3</a>: 3 readings." in page
    assert "It is done" not in client.get(f"/jobs/{KEY}/light?set=4").text


def test_a_reading_taken_back_says_why_and_stands_in_history_and_log(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    keep(client, 2000, 25)
    keep(client, 3000, 20)
    reading = shop.evidence.of_job(KEY)[0]
    page = client.get(f"/jobs/{KEY}/light").text
    assert page.count('name="why"') == 2, "each reading can be taken back with a reason"
    assert 'aria-label="Why to take back the reading at 2,000 rpm"' in page
    sent = {"reading": reading.id, "set": 1, "who": "B. Example", "why": "the lamp slipped"}
    client.post(f"/jobs/{KEY}/light/back", data=sent)
    assert "taken back by B. Example: the lamp slipped" in client.get(f"/jobs/{KEY}/light").text
    assert "Light set 1: 1 light reading, 1 taken back" in client.get(f"/jobs/{KEY}/history").text
    line = shop.log.lines()[0]
    assert (line.kind, line.who, line.key, line.about) == (
        "taken back",
        "B. Example",
        KEY,
        f"light-reading {reading.id}",
    )


def test_a_comparison_says_what_was_seen_between_two_revisions(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    keep(client, 2000, 20)
    keep(client, 3000, 20)
    client.post(
        f"/jobs/{KEY}/light/back",
        data={"reading": shop.evidence.of_job(KEY)[0].id, "set": 1, "who": "A. Example"},
    )
    shop.jobs.save(KEY, PUMP_HOUSE + "# seen\n", who="A. Example", why="seen", based_on=1)
    keep(client, 4000, 20)
    text = client.get(f"/jobs/{KEY}/compare?old=1&new=2").text
    assert "Between the two: 2 light readings; 1 light reading taken back." in text


def test_a_refusal_calls_fields_what_the_page_calls_them(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    answer = client.post(f"/jobs/{KEY}/light/readings", data={"who": "A. Example", "commanded_deg": "25"})
    assert answer.status_code == 422
    assert "Seen (not given): must be given" in answer.text
    assert "Speed (not given): must be given; the light is read on a running engine." in answer.text
    assert "<li>seen_deg" not in answer.text


def test_a_job_without_readings_has_no_heading_of_sets(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    assert "<h2>Sets</h2>" not in client.get(f"/jobs/{KEY}/light").text


def test_a_reading_that_a_full_disk_does_not_take_is_answered_so_that_its_browser_keeps_it(
    opened: tuple[TestClient, Shop],
) -> None:
    """SQLite is given no more pages, and says what it says on a full disk."""
    client, shop = opened
    keep(client, 2000, 19.5)
    pages = shop.database._engine.raw_connection()
    most = pages.cursor().execute("PRAGMA page_count").fetchone()[0]
    pages.close()
    event.listen(
        shop.database._engine, "checkout", lambda raw, *_: raw.execute(f"PRAGMA max_page_count = {most}")
    )
    form = {
        "commanded_deg": "25",
        "speed_rpm": "2000",
        "seen_deg": "21",
        "who": "A. Example",
        "note": "x" * 200,
    }
    for number in range(100):
        sent = form | {"sent_as": f"of {number}"}
        answer = client.post(f"/jobs/{KEY}/light/readings", data=sent, headers={"hx-request": "true"})
        if answer.status_code != 200:
            break
        assert answer.headers["kept-as"] == f"of {number}"
    assert answer.status_code == 507
    assert "kept-as" not in answer.headers
    assert "the disk is full; nothing of this was saved, make room and do it again" in answer.text


def test_a_reader_of_the_screen_hears_look_here_once(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    for speed in (1000, 2000, 3000):
        keep(client, speed, 12)
    steps = client.get(f"/jobs/{KEY}/steps?here=light&number=1").text
    assert "look here" in steps
    assert not re.search(r"look here\W*(<[^>]*>\W*)*look here", steps)
