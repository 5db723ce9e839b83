"""The list of jobs, history, files and hand over, asked as a browser without script asks."""

from __future__ import annotations

import hashlib
import html
import io
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from sparkwright.job import JobText
from sparkwright.sheets.card_content import CAUTIONS
from sparkwright.shop import Revision, Shop
from sparkwright.shop.revisions import Jobs
from workbench import OLD_FOUR, PUMP_HOUSE, workbench

Opened = tuple[TestClient, Shop]


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    with workbench(tmp_path) as both:
        yield both


def brought_in(client: TestClient, text: str = OLD_FOUR, who: str = "A. Example") -> str:
    answer = client.post("/new/file", data={"text": text, "who": who}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].rpartition("/")[2]


def worked_out(client: TestClient, address: str) -> str:
    """Ask for a page until its results are there; a minute is for a machine that does much else."""
    end_s = time.monotonic() + 60.0
    while time.monotonic() < end_s:
        text = client.get(address).text
        if "is being worked out." not in text:
            return text
        time.sleep(0.02)
    raise AssertionError("the plan never came")


def test_an_empty_shop_says_how_to_begin(opened: Opened) -> None:
    client, _ = opened
    assert "No job yet. Begin with one engine." in client.get("/").text


def test_a_job_comes_in_from_its_file(opened: Opened) -> None:
    client, shop = opened
    file = {"file": ("four.toml", OLD_FOUR.encode(), "application/toml")}
    answer = client.post("/new/file", data={"who": "A. Example"}, files=file, follow_redirects=False)
    key = answer.headers["location"].rpartition("/")[2]
    assert shop.jobs.latest(key).text == OLD_FOUR
    assert shop.jobs.latest(key).who == "A. Example"
    assert "1 job, the latest change first." in client.get("/").text
    assert client.get("/?find=nothing-like-it").text.count("<tr>") == 0


@pytest.mark.parametrize(
    ("text", "who", "sentence"),
    [
        ("name = ", "A. B.", "it may have been cut short"),
        ("", "A. B.", "is empty"),
        (OLD_FOUR, "", "your name (not given): must be given; the history says who changed what"),
        (OLD_FOUR.replace("[engine]", "[engien]"), "A. B.", "perhaps engine is meant"),
    ],
)
def test_what_can_not_be_a_job_stays_in_the_form(opened: Opened, text: str, who: str, sentence: str) -> None:
    client, shop = opened
    answer = client.post("/new/file", data={"text": text, "who": who})
    assert answer.status_code == 422
    assert sentence in answer.text
    if text:
        assert text.splitlines()[-1][:20] in answer.text
    assert shop.jobs.count() == 0


def test_a_file_that_is_no_text_is_named(opened: Opened) -> None:
    client, _ = opened
    file = {"file": ("photo.jpg", b"\xff\xd8\xff\xe0", "image/jpeg")}
    answer = client.post("/new/file", data={"who": "A. B."}, files=file)
    assert "photo.jpg: must be UTF-8 text; save it as plain text" in answer.text


HOSTILE = '<script>alert(1)</script>\\"><img src=x onerror=alert(2)>'


def test_what_a_customer_is_called_is_text_everywhere(opened: Opened) -> None:
    client, shop = opened
    named = OLD_FOUR.replace('name = "Old four"', f'name = "{HOSTILE}"', 1)
    named = f'{named}\n[customer]\nname = "{HOSTILE}"\nvehicle = "{HOSTILE}"\n'
    key = brought_in(client, named, who="<b>me</b>")
    assert "<script>" in shop.jobs.latest(key).name
    worked_out(client, f"/jobs/{key}/hand-over")
    pages = ["/", f"/jobs/{key}/hand-over", f"/jobs/{key}/card", f"/jobs/{key}/history", f"/jobs/{key}/steps"]
    for address in pages:
        text = client.get(address).text
        assert "<script>alert" not in text, address
        assert "<img src=x" not in text, address
        assert "<b>me" not in text, address


def test_history_lists_compares_and_brings_back(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client)
    first = shop.jobs.latest(key)
    changed = first.job.changed("distributor", base_deg=8.0).to_toml()
    shop.jobs.save(key, changed, who="B. Example", why="Moved the base", based_on=1)
    text = client.get(f"/jobs/{key}/history").text
    assert "Moved the base" in text
    assert "2 revisions; nothing in here is ever overwritten." in text
    compared = client.get(f"/jobs/{key}/compare?old=1&new=2").text
    assert "1 fact changed." in compared
    assert client.get(f"/jobs/{key}/text?number=1").text == OLD_FOUR
    back = {"number": 1, "based_on": 2, "who": "A. Example", "why": ""}
    client.post(f"/jobs/{key}/bring-back", data=back)
    assert shop.jobs.latest(key).number == 3
    assert shop.jobs.latest(key).fingerprint == first.fingerprint
    assert shop.jobs.latest(key).why == "Brought revision 1 back"


def test_two_at_once_lose_nothing(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client)
    job = shop.jobs.latest(key).job
    shop.jobs.save(
        key, job.changed("engine", idle_rpm=800).to_toml(), who="A. Example", why="Idle", based_on=1
    )
    late = {"number": 1, "based_on": 1, "who": "B. Example", "why": "Back to the start"}
    answer = client.post(f"/jobs/{key}/bring-back", data=late, follow_redirects=False)
    kept = shop.jobs.kept(key)[0]
    assert answer.headers["location"] == f"/jobs/{key}/kept/{kept.id}"
    text = client.get(answer.headers["location"]).text
    assert "Both are safe. Revision 2 stands; what B. Example typed is kept" in text
    take = {"based_on": 2, "who": "B. Example", "why": "Mine after all"}
    client.post(f"/jobs/{key}/kept/{kept.id}/take", data=take)
    assert shop.jobs.latest(key).why == "Mine after all"
    assert shop.jobs.revision(key, 2).who == "A. Example"
    assert shop.jobs.kept(key) == []
    # The other window, where the same text is still on the screen.
    gone = [client.post(f"/jobs/{key}/kept/{kept.id}/{act}", data=take) for act in ("take", "drop")]
    for answer in (*gone, client.get(f"/jobs/{key}/kept/{kept.id}")):
        assert answer.status_code == 404
        assert "it may have been taken or dropped in another window" in answer.text
    assert shop.jobs.latest(key).number == 3


def saved_at_once(opened: Opened, *changes: tuple[str, str, object]) -> tuple[str, int]:
    """Let A and B each change a fact of the same revision, A first; gives the job's key and B's kept text."""
    client, shop = opened
    key = brought_in(client)
    job = JobText(shop.jobs.latest(key).text)
    for (section, name, value), who in zip(changes, ("A. Example", "B. Example"), strict=True):
        sent = {"text": job.changed(section, **{name: value}).text, "who": who, "why": "", "based_on": 1}
        client.put(f"/api/v1/jobs/{key}", json=sent)
    return key, shop.jobs.kept(key)[0].id


def test_taking_what_was_kept_leaves_the_others_fact_as_it_is(opened: Opened) -> None:
    client, shop = opened
    key, kept = saved_at_once(opened, ("site", "air_temperature", "31 C"), ("site", "humidity_percent", 83))
    page = client.get(f"/jobs/{key}/kept/{kept}").text
    assert "1 fact changed." in page
    client.post(f"/jobs/{key}/kept/{kept}/take", data={"based_on": 2, "who": "B. Example", "why": ""})
    site = JobText(shop.jobs.latest(key).text).facts()["site"]
    assert (site["air_temperature"], site["humidity_percent"]) == ("31 C", 83)
    assert shop.jobs.kept(key) == []


def test_a_fact_that_both_changed_is_asked_for(opened: Opened) -> None:
    client, shop = opened
    key, kept = saved_at_once(
        opened, ("site", "air_temperature", "31 C"), ("site", "air_temperature", "12 C")
    )
    address, take = f"/jobs/{key}/kept/{kept}", {"based_on": 2, "who": "B. Example", "why": ""}
    assert "Air temperature: you both changed it" in client.get(address).text
    refused = client.post(f"{address}/take", data=take)
    assert refused.status_code == 422
    assert "Not saved yet: choose for each fact that you both changed." in refused.text
    assert shop.jobs.latest(key).number == 2
    client.post(f"{address}/take", data=take | {"choose|site|air_temperature": "typed"})
    assert JobText(shop.jobs.latest(key).text).facts()["site"]["air_temperature"] == "12 C"


def test_what_somebody_saved_meanwhile_is_shown_before_it_is_taken(opened: Opened) -> None:
    client, shop = opened
    key, kept = saved_at_once(opened, ("site", "air_temperature", "31 C"), ("site", "humidity_percent", 83))
    late = {"based_on": 1, "who": "B. Example", "why": ""}
    answer = client.post(f"/jobs/{key}/kept/{kept}/take", data=late, follow_redirects=False)
    assert answer.headers["location"] == f"/jobs/{key}/kept/{kept}"
    assert shop.jobs.latest(key).number == 2


def test_what_stands_by_now_can_be_taken_off_the_list_and_letting_go_is_asked_twice(opened: Opened) -> None:
    client, shop = opened
    key, kept = saved_at_once(opened, ("site", "air_temperature", "31 C"), ("site", "humidity_percent", 83))
    assert "See both" in client.get(f"/jobs/{key}/history").text
    page = client.get(f"/jobs/{key}/kept/{kept}").text
    assert "<summary>Let go of it</summary>" in page
    assert "gone for good then" in page
    both = JobText(shop.jobs.latest(key).text).changed("site", humidity_percent=83)
    shop.jobs.save(key, both.text, who="B. Example", why="Typed anew", based_on=2)
    page = client.get(f"/jobs/{key}/history").text
    assert "stands in revision 3 by now" in page
    assert "See both" not in page
    client.post(f"/jobs/{key}/kept/{kept}/drop")
    assert shop.jobs.kept(key) == []


def test_a_save_in_the_same_moment_makes_no_page_an_old_revision(
    opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The colleague saves as soon as the page has read which revision is the latest."""
    client, shop = opened
    key = brought_in(client)
    read, text, saved = shop.jobs.latest, shop.jobs.latest(key).text, list[bool]()

    def read_and_saved(jobs: Jobs, job: str) -> Revision:
        found = read(job)
        if not saved:
            saved.append(True)
            shop.jobs.save(job, f"{text}# seen\n", who="B. Example", why="Seen", based_on=1)
        return found

    monkeypatch.setattr(Jobs, "latest", read_and_saved)
    assert "old revision" not in client.get(f"/jobs/{key}/engine").text
    assert read(key).number == 2
    assert "old revision" in client.get(f"/jobs/{key}/engine?number=1").text


def test_files_come_back_byte_for_byte(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client)
    content = bytes(range(256)) * 40
    client.post(
        f"/jobs/{key}/files",
        data={"kind": "other", "who": "A. Example"},
        files={"file": ("..\\evil/<name>.html", io.BytesIO(content), "text/html")},
    )
    file = shop.files.of_job(key)[0]
    assert file.sha256 == hashlib.sha256(content).hexdigest()
    answer = client.get(f"/jobs/{key}/files/{file.id}")
    assert answer.content == content
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment;")
    assert client.get(f"/jobs/{key}/files/999").status_code == 404


def test_a_long_history_and_many_files_come_a_page_at_a_time(
    opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sparkwright.web.pages.history.A_PAGE", 3)
    client, shop = opened
    key = brought_in(client)
    for number in range(1, 5):
        shop.jobs.save(key, OLD_FOUR + f"# {number}\n", who="A. Example", why="", based_on=number)
    for number in range(4):
        shop.files.attach(key, f"{number}.csv", "other", io.BytesIO(b"x"), who="A. Example")

    def shown(query: str = "") -> tuple[list[int], list[int]]:
        text = client.get(f"/jobs/{key}/history{query}").text
        numbers = re.findall(r"<td><b>(\d+)</b>", text)
        return [int(each) for each in numbers], [each for each in range(4) if f">{each}.csv<" in text]

    assert shown() == ([5, 4, 3], [0, 1, 2])
    text = client.get(f"/jobs/{key}/history").text
    (older,) = re.findall(r'/history(\?before=\d+)">Older revisions', text)
    (more,) = re.findall(r'/history(\?after=\d+)">More files', text)
    assert shown(older) == ([2, 1], [0, 1, 2])
    assert shown(more) == ([5, 4, 3], [3])
    assert "Older revisions" not in client.get(f"/jobs/{key}/history{older}").text
    assert "More files" not in client.get(f"/jobs/{key}/history{more}").text
    listed = client.get(f"/api/v1/jobs/{key}/files?limit=2").json()
    assert ([each["name"] for each in listed["files"]], listed["count"]) == (["0.csv", "1.csv"], 4)
    after = listed["files"][-1]["id"]
    rest = client.get(f"/api/v1/jobs/{key}/files?after={after}").json()["files"]
    assert [each["name"] for each in rest] == ["2.csv", "3.csv"]


def test_a_file_of_another_job_is_not_given(opened: Opened) -> None:
    client, shop = opened
    key, other = brought_in(client), brought_in(client, PUMP_HOUSE)
    file = shop.files.attach(key, "a.csv", "other", io.BytesIO(b"x"), who="A. Example")
    assert client.get(f"/jobs/{other}/files/{file.id}").status_code == 404


def test_a_whole_job_goes_out_and_in(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client)
    archive = client.get(f"/jobs/{key}/archive")
    assert archive.status_code == 200
    files = {"archive": ("job.zip", archive.content, "application/zip")}
    answer = client.post("/import", data={"who": "B. Example"}, files=files, follow_redirects=False)
    assert answer.status_code == 303
    other = answer.headers["location"].rpartition("/")[2]
    assert other != key
    assert shop.jobs.latest(other).text == OLD_FOUR
    broken = client.post("/import", data={"who": "B."}, files={"archive": ("x.zip", b"PK nonsense")})
    assert broken.status_code == 422
    assert "Traceback" not in broken.text


def test_handing_over_needs_every_caution_and_fixes_the_revision(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client, PUMP_HOUSE)
    text = worked_out(client, f"/jobs/{key}/hand-over")
    assert re.search(r"Before it is, read \d+ things that are not as they should be\.", text)
    assert "Revision 1 is not handed over yet." in text
    assert CAUTIONS["voltage"] in html.unescape(text)
    few = client.post(
        f"/jobs/{key}/hand-over", data={"number": 1, "who": "A. Example", "read": ["caution.voltage"]}
    )
    assert few.status_code == 422
    assert "must all be read and ticked" in few.text
    assert not shop.jobs.latest(key).handed_over
    everything = [html.unescape(each) for each in re.findall(r'name="read" value="([^"]*)"', text)]
    assert everything[-len(CAUTIONS) :] == [f"caution.{each}" for each in CAUTIONS]
    shown = html.unescape(" ".join(re.findall(r'class="choice">.*?</label>', text)))
    assert shown.count("The rotor runs out") == 1
    assert "Nobody has proved the balancer's mark, and a light read by a wrong mark proves nothing." in shown
    assert "No light was read: that the engine gets the timing of this map is not proved." in shown
    assert shown.count("points of the wiring list are still open; the first asks: ") == 1
    assert "The check counts on assumed values: " in shown
    assert "look along the coil's feed for a ballast or a resistance wire" in shown
    client.post(
        f"/jobs/{key}/hand-over",
        data={"number": 1, "who": "A. Example", "signed_for": "C. Driver", "read": everything},
    )
    signed = shop.jobs.latest(key)
    assert signed.handed_over
    assert signed.handed_over_by == "A. Example"
    assert len(signed.acknowledged) == len(everything)
    assert signed.acknowledged[-len(CAUTIONS) :] == tuple(CAUTIONS.values())
    card = client.get(f"/jobs/{key}/card?number=1").text
    assert "<b>C. Driver</b>" in card
    assert "date, of revision 1" in card
    assert "Revision 1 was handed over by A. Example" in client.get(f"/jobs/{key}/hand-over").text


def test_the_card_is_shown_and_printed(opened: Opened) -> None:
    client, _ = opened
    key = brought_in(client)
    answer = client.get(f"/jobs/{key}/card")
    assert "script" not in answer.headers["content-security-policy"]
    assert "<script" not in answer.text
    for paper in ("a4", "letter"):
        pdf = client.get(f"/jobs/{key}/card.pdf?paper={paper}")
        assert pdf.content.startswith(b"%PDF")
    assert client.get(f"/jobs/{key}/card.pdf?paper=napkin").status_code == 422


def test_long_work_is_shown_stopped_and_begun_again(opened: Opened) -> None:
    client, shop = opened
    key = brought_in(client)
    revision = shop.jobs.latest(key)
    axes = {"rpm": [500 + 150 * i for i in range(40)], "kpa": [25 + 2 * i for i in range(38)]}
    long = revision.job.changed("controller", **axes).to_toml()
    number = shop.jobs.save(key, long, who="A. Example", why="Fine axes", based_on=1).number
    shown = client.get(f"/jobs/{key}/reckoning?number={number}").text
    assert "The plan is being worked out." in shown
    stopped = client.post(f"/jobs/{key}/reckoning/stop?number={number}")
    assert stopped.status_code == 200
    for _ in range(200):
        shown = client.get(f"/jobs/{key}/reckoning?number={number}").text
        if "Stopped." in shown:
            break
        time.sleep(0.05)
    assert "Stopped. Nothing was lost; work it out again when you want it." in shown
    again = client.post(f"/jobs/{key}/reckoning/again?number={number}", follow_redirects=False)
    assert again.status_code == 303
    assert "The plan is being worked out." in client.get(f"/jobs/{key}/reckoning?number={number}").text


@pytest.mark.parametrize(
    "address",
    ["/jobs/none", "/jobs/none/map", "/jobs/none/hand-over", "/jobs/none/history", "/nowhere", "/jobs"],
)
def test_what_is_not_there_is_said_on_a_page(opened: Opened, address: str) -> None:
    client, _ = opened
    answer = client.get(address)
    assert answer.status_code == 404
    assert "To the list of jobs" in answer.text


def test_a_fault_of_ours_shows_no_traceback(opened: Opened, monkeypatch: pytest.MonkeyPatch) -> None:
    client, shop = opened

    def fails(**_: object) -> None:
        raise RuntimeError("secret inner words")

    monkeypatch.setattr(shop, "jobs", fails)
    answer = client.get("/")
    assert answer.status_code == 500
    assert "This is a fault of the program, not yours. What was saved before is safe." in answer.text
    assert "secret inner words" not in answer.text


def test_how_a_person_reads_is_kept(opened: Opened) -> None:
    client, _ = opened
    client.post("/reading", data={"units": "inch", "back": "/"})
    client.post("/reading", data={"brightness": "dark", "back": "/"})
    text = client.get("/").text
    assert 'data-brightness="dark"' in text
    assert 'value="inch" aria-pressed="true"' in text
    client.cookies.set("units", "cubits")
    assert client.get("/").status_code == 200


def test_the_question_of_the_banks_is_asked_in_a_picture(opened: Opened) -> None:
    client, _ = opened
    page = client.get(f"/jobs/{brought_in(client, PUMP_HOUSE)}/engine").text
    assert "How the banks are numbered, for the firing order" in page
    assert "Either bank may be the left one." in page
    in_a_row = client.get(f"/jobs/{brought_in(client, OLD_FOUR)}/engine").text
    assert "How the banks are numbered" not in in_a_row
