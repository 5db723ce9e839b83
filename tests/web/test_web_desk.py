"""The desk in the workbench: one question at a time, nothing typed lost, the same as the command gives."""

from __future__ import annotations

import html
import io
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader

from drive_faults import knock_by_retard
from invented_drives import PUMP_HOUSE as JOB
from invented_drives import Road, Written, clean_drive
from planned import plan_of
from sparkwright.desk.advice import advise
from sparkwright.desk.case import spoken
from sparkwright.desk.knowledge import Given
from sparkwright.desk.knowledge_files import shipped_knowledge
from sparkwright.sheets.record import plain
from sparkwright.shop import Shop
from sparkwright.web.settings import Settings
from workbench import HOST, PUMP_HOUSE, workbench

API = "/api/v1"
WHO = {"who": "A. Example"}


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        yield client, shop


def begun(client: TestClient, **more: str) -> str:
    answer = client.post("/desk", data={"name": "Caller with a four", **WHO, **more}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def said(client: TestClient, case: str, **sent: str | list[str]) -> str:
    answer = client.post(case, data={**WHO, **sent})
    assert answer.status_code == 200, answer.text
    return html.unescape(answer.text)


def test_a_case_asks_one_question_at_a_time_and_then_for_a_test(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    case = begun(client)
    first = html.unescape(client.get(case).text)
    assert "What does the engine do?" in first
    assert "When is it worst?" not in first
    second = said(client, case, question="complaint", answer=["no-start", "cuts-out"])
    assert "When is it worst?" in second
    assert "Cuts out now and then" in second
    third = said(client, case, question="when", answer="bumps")
    last = said(client, case, cannot="changed")
    assert "What was touched last before it began?" in third
    assert "Next test: " in last or "To mend it, once proved" in last
    assert "High voltage: coil, leads and cap carry enough to kill." in last


def test_page_api_and_computation_are_one(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    case = begun(client)
    said(client, case, question="complaint", answer="hunts")
    number = int(case.rpartition("/")[2])
    of_case = client.get(f"{API}/cases/{number}/advice").json()["results"]
    sent = {"answers": [{"question": "complaint", "answer": "hunts"}]}
    unkept = client.post(f"{API}/desk", json=sent).json()["results"]
    own = advise(shipped_knowledge(), spoken([Given(question="complaint", answer="hunts")]))
    assert of_case["causes"] == unkept["causes"] == plain(own.causes)
    assert (of_case["case"], unkept["case"]) == (number, None)
    assert shop.cases.case(number).given == (Given(question="complaint", answer="hunts"),)


def test_a_withdrawn_answer_leaves_the_page_as_if_never_given(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    case = begun(client)
    before = said(client, case, question="complaint", answer="hunts")
    said(client, case, question="when", answer="idle")
    entry = shop.cases.case(int(case.rpartition("/")[2])).entries[-1].id
    assert said(client, case, withdraw=str(entry)) == before


def test_a_key_pressed_twice_counts_once(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    case = begun(client)
    for _ in range(2):
        said(client, case, question="complaint", answer="hunts")
    assert len(shop.cases.case(int(case.rpartition("/")[2])).entries) == 1


def test_words_that_nobody_foresaw_are_kept_and_shown_as_typed(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    case = begun(client)
    text = client.post(case, data={**WHO, "words": "It <b>sings</b>  like a kettle"}).text
    assert "It &lt;b&gt;sings&lt;/b&gt; like a kettle" in text
    assert "they are kept with the case" in text


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({}, "answer (not given): must be chosen, or said in words; or press the key below it"),
        ({"question": "when", "answer": "soon"}, 'when = "soon": must be one of always, cranking'),
        ({"question": "colour", "answer": "red"}, 'question = "colour": must be one that the desk asks'),
        ({"cannot": "colour"}, 'question = "colour": must be one that the desk asks'),
        ({"closed_as": "gremlins"}, 'cause = "gremlins": must be one of'),
        ({"words": "x" * 501}, "must be at most 500 characters"),
        ({"words": "It hums", "who": " "}, "your name (not given): must be given"),
    ],
)
def test_what_cannot_be_used_comes_back_with_a_sentence_and_what_was_typed(
    opened: tuple[TestClient, Shop], sent: dict[str, str], sentence: str
) -> None:
    client, shop = opened
    case = begun(client)
    answer = client.post(case, data={**WHO, **sent})
    assert answer.status_code == 422
    assert sentence in html.unescape(answer.text)
    assert sent.get("words", "") in answer.text
    assert shop.cases.case(int(case.rpartition("/")[2])).entries == ()


def test_the_desk_asks_who_you_are_once_on_each_device(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    case = begun(client)
    assert 'id="who"' not in client.get(case).text
    client.cookies.clear()
    stranger = client.get(case).text
    assert stranger.count("Your name") == 1
    assert '<fieldset class="whole" disabled>' in stranger
    empty = client.post(f"{case}/who", data={"who": " "})
    assert empty.status_code == 422
    assert "your name (not given): must be given" in empty.text
    known = client.post(f"{case}/who", data={"who": "B. Example"}).text
    assert "Your name" not in known
    assert '<fieldset class="whole">' in known
    assert known.count('name="who" value="B. Example"') == known.count('method="post" action="/desk/')
    assert 'value="B. Example"' in client.get("/desk").text


def test_a_case_without_a_name_comes_back_as_typed(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    answer = client.post("/desk", data={"name": "", **WHO})
    assert answer.status_code == 422
    assert "must be 1 to 120 characters" in answer.text
    assert 'value="A. Example"' in answer.text
    assert shop.cases.newest() == []
    assert client.get("/desk/77").status_code == 404
    assert client.post("/desk/77", data={**WHO, "words": "hello"}).status_code == 404


def test_what_was_found_on_the_job_counts_and_is_told(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    job = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="")
    case = begun(client, job=job.key)
    text = said(client, case, question="complaint", answer="misfire-speed")
    assert "Found by the program on this engine" in text
    assert "The rotor runs out at" in text
    assert "by the program" in text
    assert shop.cases.newest(job=job.key)[0].job == job.key
    listed = client.get(f"{API}/cases", params={"job": job.key}).json()["cases"]
    assert [each["job"] for each in listed] == [job.key]


def test_a_drive_of_the_job_counts_once_it_was_read(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
    columns = knock_by_retard(
        clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=12)), np.random.default_rng(5)
    )
    content = io.BytesIO(Written().bytes(columns))
    shop.files.attach(key, "road.csv", "drive", content, who="A. Example")
    (file,) = shop.files.of_job(key)
    sent = {"answers": [{"question": "complaint", "answer": "knock-low"}], "job": key}

    def noticed() -> set[str]:
        found = client.post(f"{API}/desk", json=sent).json()["results"]["noticed"]
        return {each["question"] for each in found}

    assert "drive-knock" not in noticed(), "the desk keeps nobody waiting for a drive"
    assert client.get(f"/jobs/{key}/drives/{file.id}").status_code == 200
    assert "drive-knock" in noticed()
    case = begun(client, job=key)
    assert "Knock on a drive" in html.unescape(client.get(case).text)


def test_a_closed_case_moves_the_next_and_can_be_opened_again(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    sent = {"answers": [{"question": "complaint", "answer": "hunts"}]}
    before = client.post(f"{API}/desk", json=sent).json()["results"]["causes"]
    case = begun(client)
    text = said(client, case, closed_as="mixture-lean", remark="Base gasket")
    assert "Closed. It was: The mixture is lean, or air gets in unmetered." in text
    assert "Base gasket" in text
    assert "closed: The mixture is lean" in client.get("/desk").text
    assert client.post(f"{API}/desk", json=sent).json()["results"]["causes"] != before
    entry = shop.cases.case(int(case.rpartition("/")[2])).entries[-1].id
    assert "What was it?" in said(client, case, withdraw=str(entry))
    assert client.post(f"{API}/desk", json=sent).json()["results"]["causes"] == before


def test_the_next_test_goes_out_as_a_page_and_as_a_sheet(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    case = begun(client)
    said(client, case, question="complaint", answer="no-start")
    page = client.get(f"{case}/next-test.html")
    assert "script" not in page.headers["content-security-policy"]
    assert "Before you begin" in page.text
    number = case.rpartition("/")[2]
    for address in (f"{case}/next-test.pdf", f"{API}/cases/{number}/next-test.pdf"):
        answer = client.get(address)
        assert answer.headers["content-type"] == "application/pdf"
        text = " ".join(each.extract_text() for each in PdfReader(io.BytesIO(answer.content)).pages)
        assert "What did it show?" in text


def test_the_api_keeps_a_case_and_says_all_of_it(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    made = client.post(f"{API}/cases", json={"name": "By a program", **WHO})
    assert made.status_code == 201
    number = made.json()["id"]
    more = {
        **WHO,
        "answers": [{"question": "when", "answer": "hot"}],
        "cannot": ["wiggle"],
        "own_words": ["hums"],
    }
    kept = client.post(f"{API}/cases/{number}/entries", json=more).json()
    assert [each["kind"] for each in kept["entries"]] == ["answer", "cannot", "words"]
    back = client.post(f"{API}/cases/{number}/entries", json={**WHO, "withdraw": [kept["entries"][0]["id"]]})
    assert back.json()["entries"][-1]["withdraws"] == kept["entries"][0]["id"]
    assert client.get(f"{API}/cases/{number}").json() == back.json()
    wrong = client.post(f"{API}/cases/{number}/entries", json={**WHO, "closed_as": "gremlins"})
    assert wrong.status_code == 422
    assert wrong.json()["schema"] == "urn:sparkwright:refusal:1"
    asked = client.get(f"{API}/desk").json()
    assert {"questions", "tests", "findings", "causes"} < set(asked)
    assert asked["findings"][0]["from"] == "check"


def test_the_shops_own_knowledge_is_asked_in_the_workbench(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[cause]]\nid = "mouse"\nname = "A mouse in the loom"\nprior = 50.0\norigin = "this shop"\n'
        'prove = "It is seen."\nproof = { question = "wiggle", answer = "stumbles" }\nmend = "A cat."\n'
        "cautions = []\n[cause.predicts]\ncomplaint = { cuts-out = 0.9 }\n",
        encoding="utf-8",
    )
    with workbench(tmp_path, Settings(hosts=(HOST,), knowledge=(own,))) as (client, _):
        text = said(client, begun(client), question="complaint", answer="cuts-out")
        assert "A mouse in the loom" in text


def test_the_desk_goes_on_and_says_what_of_the_shops_own_knowledge_is_left_out(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[cause]]\nid = "mouse"\n', encoding="utf-8")
    sentence = "own.toml, cause mouse, prove (not given): must be given; nobody mends what can't be proved"
    with workbench(tmp_path, Settings(hosts=(HOST,), knowledge=(own,))) as (client, _):
        assert sentence in html.unescape(client.get("/desk").text)
        assert "When is it worst?" in said(client, begun(client), question="complaint", answer="cuts-out")
        assert sentence in client.post(f"{API}/desk", json={}).json()["results"]["left_out"]


def test_a_case_opens_after_a_test_of_the_shops_own_was_taken_out(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[test]]\nid = "sniff"\nname = "Smell"\nright = "fresh"\nminutes = 1\nat = []\ntools = []\n'
        'how = ["Smell."]\nexpected = "Nothing."\ncautions = []\n'
        'answers = [{ id = "fresh", words = "Fresh", usual = 0.9 }, '
        '{ id = "ozone", words = "Ozone", usual = 0.1 }]\n',
        encoding="utf-8",
    )
    with workbench(tmp_path, Settings(hosts=(HOST,), knowledge=(own,))) as (client, _):
        case = begun(client)
        assert "Ozone" in said(client, case, seen="sniff=ozone")
    with workbench(tmp_path) as (client, shop):
        text = html.unescape(client.get(case).text)
        assert "ozone: not asked any more, and counts nowhere" in text
        entry = shop.cases.case(int(case.rpartition("/")[2])).entries[0].id
        assert "not asked any more" not in said(client, case, withdraw=str(entry))


def test_what_was_measured_before_anybody_asked_counts_as_if_asked(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    case = begun(client)
    assert 'value="light-fixed=agrees"' in client.get(case).text
    text = said(client, case, seen="light-fixed=falls-back")
    assert "Falls later as speed rises" in text
    kept = shop.cases.case(int(case.rpartition("/")[2]))
    assert kept.given == (Given(question="light-fixed", answer="falls-back"),)
    assert 'value="light-fixed=agrees"' not in text, "it isn't offered again"
    wrong = client.post(case, data={**WHO, "seen": "light-fixed=red"})
    assert wrong.status_code == 422
    assert "must be one of agrees, offset" in wrong.text


def test_the_page_keeps_to_its_policy(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    case = begun(client)
    answer = client.get(case)
    assert "unsafe-inline" not in answer.headers["content-security-policy"].partition("style-src")[0]
    assert " style=" not in answer.text
    assert " onclick" not in answer.text


@pytest.mark.parametrize(
    "odd", ["\x00", "\ud7ff" * 40, "9" * 30, "-1", "<script>", "' OR 1=1 --", "🔥" * 121]
)
def test_whatever_is_sent_the_answer_is_a_sentence(opened: tuple[TestClient, Shop], odd: str) -> None:
    client, _ = opened
    case = begun(client)
    asked = [
        client.post(case, data={**WHO, name: odd})
        for name in ("words", "cannot", "closed_as", "withdraw", "question", "seen", "who", "remark")
    ]
    asked += [
        client.post("/desk", data={"name": odd, "who": odd, "job": odd}),
        client.get(f"/desk/{quote(odd)}"),
    ]
    asked += [client.get("/desk", params={"before": odd}), client.get(f"{API}/cases", params={"job": odd})]
    asked += [client.post(f"{API}/desk", json={"own_words": [odd], "cannot": [odd], "job": odd})]
    for answer in asked:
        assert answer.status_code in (200, 404, 405, 422), answer.text
        assert "fault of the program" not in answer.text
