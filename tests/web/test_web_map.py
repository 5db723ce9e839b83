"""The map's page, asked as a browser without script asks, and as its script asks.

Values and ceilings of the example's plan that stand in sentences here are change alarms: only this program
has printed them.
"""

from __future__ import annotations

import json
import random
import re
import time
from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from planned import planned_once
from sparkwright import cli
from sparkwright.job import Job
from sparkwright.plan.exchange import read_map, write_map
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.shop import Shop
from sparkwright.web.guard import CONTENT_SECURITY_POLICY
from telling import action_of, sentence_of
from test_web_pages import worked_out
from workbench import OLD_FOUR, PUMP_HOUSE, workbench

KEY = "pump-house-v8"
MAP = f"/jobs/{KEY}/map"


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="started")
        worked_out(client, MAP)
        yield client, shop


@pytest.fixture
def client(opened: tuple[TestClient, Shop]) -> TestClient:
    return opened[0]


@pytest.fixture
def shop(opened: tuple[TestClient, Shop]) -> Shop:
    return opened[1]


@pytest.fixture(scope="module")
def planned() -> PlanResult:
    return planned_once(Job.from_toml(PUMP_HOUSE))


def tried(client: TestClient, **asked: Any) -> dict[str, Any]:
    answer = client.post(f"{MAP}/try", json={"number": 1, "hand": []} | asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def saved(client: TestClient, cells: str, **fields: str) -> Any:
    form = {"number": "1", "hand": cells, "who": "B. Example"} | fields
    return client.post(f"{MAP}/save", data=form, follow_redirects=False)


# ---- Reading it


def test_the_page_stands_without_script_and_carries_no_style_or_script_of_its_own(client: TestClient) -> None:
    text = client.get(MAP).text
    assert text.count('role="gridcell"') == 256
    assert 'aria-label="5,000 rpm, 85 kPa: 25.5 deg, held by reach"' in text
    assert "style=" not in text
    assert "<style" not in text
    assert not re.search(r"<script(?![^>]*src=)", text)
    assert not re.search(r"\son[a-z]+=", text)
    assert "unsafe" not in CONTENT_SECURITY_POLICY


def test_sentence_and_action_come_first(client: TestClient, planned: PlanResult) -> None:
    text = client.get(MAP).text
    assert f"<h1>{sentence_of(planned.headline)}</h1>" in text
    assert (
        text.index(sentence_of(planned.headline))
        < text.index(action_of(planned.headline))
        < text.index('id="map-grid"')
    )
    assert text.index('id="map-grid"') < text.index('id="ribbon"') < text.index('id="contours"')


def test_the_cells_stand_with_the_most_load_on_top(client: TestClient, planned: PlanResult) -> None:
    values = [float(each) for each in re.findall(r'data-value="([-0-9.]+)"', client.get(MAP).text)]
    assert values == planned.cells.spark_map.advance_deg[::-1].ravel().tolist()


def test_any_line_can_be_drawn(client: TestClient) -> None:
    assert "At 2,250 rpm" in client.get(f"{MAP}?line=rpm-2250").text
    assert "At 44 kPa" in client.get(f"{MAP}/ribbon?line=kpa-44").text
    refused = client.get(f"{MAP}/ribbon?line=kpa-400", headers={"hx-request": "true"})
    assert refused.status_code == 422
    assert refused.text == "kpa = 400: must be 23 to 85, the span of the map"
    assert client.get(f"{MAP}?line=rpm-abc").status_code == 422


def test_contours_come_on_their_own_and_within_the_page_without_script(client: TestClient) -> None:
    assert "contours=1" in client.get(MAP).text
    assert (
        "Spark map: degrees before top dead centre over rpm and kPa" in client.get(f"{MAP}?contours=1").text
    )
    assert client.get(f"{MAP}/contours").text.count("<figure") == 2


def test_a_cell_says_why(client: TestClient, planned: PlanResult) -> None:
    text = client.get(f"{MAP}/why?cell=0-15").text
    assert "5,000 rpm, 23 kPa: 25.5 deg" in text
    assert "Reach holds: beyond 25.8 deg the rotor tip leaves its post." in text
    assert "torque against advance" in text
    assert planned.cells.held_by[0][15] == "reach"
    assert "5,000 rpm, 23 kPa: 25.5 deg" in client.get(f"{MAP}?row=0&column=15").text
    tried_here = client.get(f"{MAP}/why?cell=0-15&deg=30").text
    assert "not saved yet" in tried_here
    assert "over reach (25.8); there the rotor tip has left its post" in tried_here


@pytest.mark.parametrize("cell", ["16-0", "0-16", "abc", "-1-0", "0-0-0", "\N{SUPERSCRIPT TWO}-1"])
def test_a_cell_that_is_none_is_refused_in_words(client: TestClient, cell: str) -> None:
    answer = client.get(f"{MAP}/why", params={"cell": cell})
    assert answer.status_code == 422
    assert "must be a cell of this map" in answer.text


def test_the_hook_of_a_cell_is_drawn_at_its_value(client: TestClient) -> None:
    text = client.get(f"{MAP}/hook?cell=8-8").text
    assert "torque in N" in text
    assert "plan 25.5" in text


def test_a_revision_that_is_not_there_is_said(client: TestClient) -> None:
    assert client.get(f"{MAP}?number=9").status_code == 404


def test_the_map_goes_out_in_each_form_and_reads_back_equal(client: TestClient, planned: PlanResult) -> None:
    for form in ("csv", "tsv", "json"):
        answer = client.get(f"{MAP}/file?as={form}")
        assert f'filename="{KEY}-revision-1-map.{form}"' in answer.headers["content-disposition"]
        assert (read_map(answer.text).advance_deg == planned.cells.spark_map.advance_deg).all()


# ---- Trying changes


def test_a_typed_number_comes_back_as_the_page_shows_it(client: TestClient) -> None:
    answer = tried(client, do="set", block=[0, 3, 0, 3], text="20,3")
    (cell,) = answer["cells"]
    assert cell["text"] == "20.5"
    assert cell["label"] == "1,100 rpm, 23 kPa: 20.5 deg, set by hand"
    assert cell["classes"] == "a20 by-hand"
    assert answer["says"] == ["20.3 lies between the controller's steps of 0.5; 20.5 was set."]
    assert answer["pending"] == "1 cell changed, not saved yet."


def test_a_cell_over_a_ceiling_is_marked_and_asks_for_a_reason(client: TestClient) -> None:
    answer = tried(client, do="set", block=[0, 15, 0, 15], text="30")
    assert answer["cells"][0]["classes"] == "a30 by-hand over"
    assert answer["pending"] == (
        "1 cell changed, not saved yet. 5,000 rpm, 23 kPa: 30 deg stands over reach (25.8); "
        "it needs a reason."
    )
    given = tried(client, hand=[[0, 15, 30, "heard nothing"]])
    assert given["unexplained"] == 0
    assert given["pending"] == "1 cell changed, not saved yet."


def test_changes_build_on_what_the_page_has(client: TestClient) -> None:
    hand = [[5, 5, 20.0, ""], [5, 7, 24.0, ""]]
    answer = tried(client, hand=hand, do="across", block=[5, 5, 5, 7])
    (cell,) = answer["cells"]
    assert (cell["row"], cell["column"]) == (5, 6)
    assert 21.0 <= cell["deg"] <= 23.0
    back = tried(client, hand=hand, do="give back", block=[5, 5, 5, 5])
    assert back["cells"][0]["deg"] is None
    assert back["cells"][0]["label"].endswith("held by reach")
    assert back["changed"] == 1


def test_a_pasted_block_is_one_answer_and_says_what_did_not_fit(client: TestClient) -> None:
    answer = tried(client, do="paste", block=[15, 14, 15, 14], text="10\t11\t12\n13\tx\n")
    assert [cell["deg"] for cell in answer["cells"]] == [13.0, 10.0, 11.0]
    assert answer["says"] == [
        "1 value beyond the map was left out.",
        '1 value that was no number, "x" first, was left out.',
    ]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"do": "set", "text": "abc"}, 'advance = "abc": must be a number of deg; for example 34 or 34.5'),
        ({"do": "set", "text": "80"}, "advance = 80: must be 0 to 50, what the controller takes"),
        ({"do": "smooth", "block": [0, 0, 99, 0]}, "must lie within the map, 16 rows by 16 columns"),
        ({"do": "smooth", "block": [-3, 0, 2, 0]}, "must lie within the map, 16 rows by 16 columns"),
        ({"hand": [[99, 0, 20, ""]]}, "must lie within the map, 16 rows by 16 columns"),
        ({"hand": [[0, 0, 200, ""]]}, "500 rpm, 23 kPa = 200: must be 0 to 50, what the controller takes"),
        ({"do": "interpolate", "block": [0, 0, 1, 1]}, "must reach over at least three cells"),
        ({"do": "fly"}, "do = 'fly': must be 'show', 'set', "),
        ({"hand": "abc"}, "hand = 'abc': must be a list"),
        ({"hand": [[0, 0, "NaN", ""]]}, "finite"),
    ],
)
def test_what_can_t_be_tried_is_refused_in_words(
    client: TestClient, asked: dict[str, Any], sentence: str
) -> None:
    answer = client.post(f"{MAP}/try", json={"number": 1, "hand": []} | asked, headers={"hx-request": "true"})
    assert answer.status_code == 422
    assert sentence in answer.text


def test_unsaved_cells_are_drawn_in_ribbon_and_contours(client: TestClient) -> None:
    asked = {"number": 1, "hand": [[8, 8, 40, ""]], "line": "rpm-2250"}
    wide = client.post(f"{MAP}/drawn", json=asked).json()
    narrow = client.post(f"{MAP}/drawn", json=asked | {"narrow": True}).json()
    assert set(wide) == {"ribbon", "contours"}
    assert "<td>40</td>" in wide["contours"]
    assert 'width="720"' in wide["ribbon"]
    assert 'width="360"' in narrow["ribbon"]


# ---- Saving


def test_a_save_is_a_revision_with_cells_set_by_hand(client: TestClient, shop: Shop) -> None:
    answer = saved(client, '[[0, 3, 20, ""]]')
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{MAP}?saved=1"
    revision = shop.jobs.latest(KEY)
    assert (revision.number, revision.who) == (2, "B. Example")
    assert revision.why == "Set 1,100 rpm, 23 kPa to 20 deg by hand"
    (cell,) = revision.job.hand
    assert (cell.advance_deg, cell.by) == (20.0, "B. Example")
    text = worked_out(client, MAP)
    assert 'aria-label="1,100 rpm, 23 kPa: 20 deg, set by hand"' in text
    why = client.get(f"{MAP}/why?cell=0-3").text
    assert "Set by B. Example on" in why
    assert f'<a href="{MAP}?number=2">revision 2</a>: Set 1,100 rpm, 23 kPa to 20 deg by hand.' in why


def test_a_cell_names_the_revision_that_set_it_and_not_a_later_one(client: TestClient) -> None:
    assert saved(client, '[[0, 3, 20, ""]]').status_code == 303
    assert saved(client, '[[0, 3, 20, ""], [0, 4, 21, ""]]', number="2").status_code == 303
    worked_out(client, MAP)
    assert f'<a href="{MAP}?number=2">revision 2</a>' in client.get(f"{MAP}/why?cell=0-3").text
    assert f'<a href="{MAP}?number=3">revision 3</a>' in client.get(f"{MAP}/why?cell=0-4").text


def test_a_cell_from_a_file_says_what_the_file_says(client: TestClient, shop: Shop) -> None:
    job = shop.jobs.latest(KEY).job.with_hand(
        [{"rpm": 500, "kpa": 23, "advance_deg": 20, "by": "D. Example", "on": "2030-05-01"}]
    )
    shop.jobs.save(KEY, job.to_toml(), who="E. Example", why="from a file", based_on=1)
    worked_out(client, MAP)
    text = client.get(f"{MAP}/why?cell=0-0").text
    assert "Set by D. Example on 2030-05-01." in text
    assert "It came with" not in text


def test_a_save_over_a_ceiling_without_reason_names_the_cell_and_keeps_what_was_typed(
    client: TestClient, shop: Shop
) -> None:
    answer = saved(client, '[[0, 15, 30, ""]]', why="to see")
    assert answer.status_code == 422
    assert "5,000 rpm, 23 kPa: 30 deg stands over reach (25.8)" in answer.text
    assert 'data-typed="[[0, 15, 30, &#34;&#34;]]"' in answer.text
    assert 'value="to see"' in answer.text
    assert shop.jobs.latest(KEY).number == 1


def test_a_reason_goes_with_the_cells_over_a_ceiling_and_they_stay_marked(
    client: TestClient, shop: Shop
) -> None:
    assert saved(client, '[[0, 15, 30, ""], [0, 3, 20, ""]]', reason="no knock heard").status_code == 303
    reasons = {cell.advance_deg: cell.reason for cell in shop.jobs.latest(KEY).job.hand}
    assert reasons == {30.0: "no knock heard", 20.0: None}
    text = worked_out(client, MAP)
    assert re.search(r'class="a30 by-hand over"[^>]*data-reason="no knock heard"', text)
    assert "1 cell set by hand stands over reach, by " in text


def test_a_cell_over_knock_is_said_to_be_just_that_on_every_page(
    client: TestClient, planned: PlanResult
) -> None:
    """When it is tried, when it is saved, in the list of jobs, on the steps, on card and hand-over."""
    row = planned.cells.spark_map.kpa.size - 1
    value = float(round(planned.cells.ceilings.knock_deg[row, 1] + 12.0))
    first = (
        f"1 cell set by hand stands over knock, by {value - planned.cells.ceilings.knock_deg[row, 1]:.1f} deg"
    )
    answer = tried(client, do="set", text=f"{value:g}", block=[row, 1, row, 1])
    assert answer["says"][0].startswith(first)
    assert answer["over"] is True
    assert "torque" not in " ".join(answer["says"])
    assert "over knock (" in answer["cells"][0]["label"]
    why = client.get(f"{MAP}/why?cell={row}-1&deg={value:g}").text
    assert "costs about" not in why
    assert why.index("over knock (") < why.index("A person set this value")
    assert saved(client, f'[[{row}, 1, {value:g}, ""]]', reason="race fuel").status_code == 303
    page = worked_out(client, MAP)
    assert f"<h1>{first}" in page
    assert "1 cell over knock" in page, "on the steps"
    for shown in (page, client.get("/").text, client.get(f"/jobs/{KEY}/card").text):
        assert first in shown
        assert "past best" not in shown
    assert first in worked_out(client, f"/jobs/{KEY}/hand-over")


def test_a_second_save_on_an_old_revision_loses_neither(client: TestClient, shop: Shop) -> None:
    assert saved(client, '[[0, 3, 20, ""]]').status_code == 303
    answer = saved(client, '[[0, 4, 21, ""]]', who="C. Example")
    (kept,) = shop.jobs.kept(KEY)
    assert answer.headers["location"] == f"/jobs/{KEY}/kept/{kept.id}"
    assert "advance_deg = 21" in kept.text
    assert shop.jobs.latest(KEY).job.hand[0].advance_deg == 20.0


@pytest.mark.parametrize(
    ("cells", "who", "sentence"),
    [
        ("[]", "B", "must be changed before it is saved"),
        ('[[0, 3, 20, ""]]', " ", "your name"),
        ("not json", "B", "must be given as the page has them"),
        ('[[0, 3, 20.3, ""]]', "B", "must be a multiple of the controller"),
        ('[[0, 3, 20, "' + 201 * "x" + '"]]', "B", "must be at most 200 characters"),
        ('[[0, 3, 20, "a\\u0007b"]]', "B", "must hold only characters that print"),
        ('[[0, 3, 1e999, ""]]', "B", "must be given as the page has them"),
        (100_000 * "[", "B", "must be given as the page has them"),
    ],
)
def test_what_can_t_be_saved_is_refused_in_words(
    client: TestClient, shop: Shop, cells: str, who: str, sentence: str
) -> None:
    answer = saved(client, cells, who=who)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert shop.jobs.latest(KEY).number == 1


def test_text_from_people_is_escaped(client: TestClient) -> None:
    nasty = '"><img src=x>'
    assert saved(client, '[[0, 15, 30, ""]]', reason=nasty).status_code == 303
    text = worked_out(client, MAP) + client.get(f"{MAP}/why?cell=0-15").text
    assert "<img" not in text
    assert "&lt;img src=x&gt;" in text


def test_cells_change_without_script_too(client: TestClient, shop: Shop) -> None:
    form = {"number": "1", "do": "set", "rpm": "3", "kpa": "0", "to_rpm": "4", "to_kpa": "1", "text": "20"}
    answer = client.post(f"{MAP}/change", data=form | {"who": "B. Example"}, follow_redirects=False)
    assert answer.status_code == 303
    assert {cell.advance_deg for cell in shop.jobs.latest(KEY).job.hand} == {20.0}
    assert len(shop.jobs.latest(KEY).job.hand) == 4
    refused = client.post(f"{MAP}/change", data=form | {"who": "B", "text": "abc"})
    assert refused.status_code == 422
    assert "abc" in refused.text


def test_all_cells_go_back_to_the_plan_at_once(client: TestClient, shop: Shop) -> None:
    assert saved(client, '[[0, 3, 20, ""], [0, 4, 21, ""]]').status_code == 303
    assert "2 cells are set by hand." in worked_out(client, MAP)
    answer = client.post(f"{MAP}/give-back", data={"number": "2", "who": "B"}, follow_redirects=False)
    assert answer.status_code == 303
    assert shop.jobs.latest(KEY).job.hand == ()
    assert shop.jobs.latest(KEY).why == "Gave all cells set by hand back to the plan, 2"


def test_an_old_revision_is_shown_and_not_changed(client: TestClient) -> None:
    assert saved(client, '[[0, 3, 20, ""]]').status_code == 303
    text = worked_out(client, f"{MAP}?number=1")
    assert "This is how revision 1 stood" in text
    assert f'action="{MAP}/save"' not in text
    assert f'action="{MAP}/change"' not in text
    assert 'data-read-only="yes"' in text


# ---- What if


def test_a_changed_fact_shows_what_moves_and_saves_nothing(client: TestClient, shop: Shop) -> None:
    address = f"{MAP}/what-if?fact=distributor.rotor_phase_deg&value=7,4"
    text = client.get(address).text
    assert "Rotor phase, distributor deg: 7,4 instead of" in text
    assert re.search(r"Of \d+ cells met before and after \d+ moved", text)
    assert 'id="moved-title"' in text
    part = client.get(address, headers={"hx-request": "true"}).text
    assert "<html" not in part
    assert 'id="moved-title"' in part
    assert shop.jobs.latest(KEY).number == 1


def test_a_changed_fact_can_be_saved(client: TestClient, shop: Shop) -> None:
    form = {"number": "1", "fact": "distributor.rotor_phase_deg", "value": "7.4", "who": "B. Example"}
    assert client.post(f"{MAP}/what-if", data=form, follow_redirects=False).status_code == 303
    latest = shop.jobs.latest(KEY)
    assert latest.job.distributor.rotor_phase_deg == 7.4
    assert latest.why.startswith("Rotor phase, distributor deg: 7.4 instead of")


def test_units_are_taken_as_typed(client: TestClient, shop: Shop) -> None:
    form = {"number": "1", "fact": "distributor.tip_width", "value": "0.3 in", "who": "B"}
    assert client.post(f"{MAP}/what-if", data=form, follow_redirects=False).status_code == 303
    assert shop.jobs.latest(KEY).job.distributor.tip_width_mm == pytest.approx(7.62, abs=1e-9)


@pytest.mark.parametrize(
    ("fact", "value", "sentence"),
    [
        ("engine.compression_ratio", "abc", "must be a number"),
        ("engine.compression_ratio", "90", "must be 3.5 to 16"),
        ("engine.wings", "2", "must be one of the job"),
        ("distributor.tip_width", "7", "must have a unit"),
        ("engine.bore", "", "must be given"),
    ],
)
def test_a_fact_that_can_t_stand_is_refused_in_words(
    client: TestClient, shop: Shop, fact: str, value: str, sentence: str
) -> None:
    answer = client.get(f"{MAP}/what-if", params={"fact": fact, "value": value})
    assert answer.status_code == 422
    assert sentence in answer.text
    form = {"number": "1", "fact": fact, "value": value, "who": "B"}
    assert client.post(f"{MAP}/what-if", data=form).status_code == 422
    assert shop.jobs.latest(KEY).number == 1


# ---- A whole map


def outside_map(planned: PlanResult, more_deg: float) -> str:
    own = planned.cells.spark_map
    return write_map(SparkMap(own.rpm, own.kpa, own.advance_deg + more_deg), "csv")


def test_a_map_is_held_against_the_plan_before_it_is_taken(
    client: TestClient, shop: Shop, planned: PlanResult
) -> None:
    text = outside_map(planned, 5.0)
    answer = client.post(f"{MAP}/held-against", data={"number": "1", "text": text})
    assert "<h1>Over the knock ceiling" in answer.text or "<h1>More than the rotor reaches" in answer.text
    assert answer.text.index("Cells over a ceiling") < answer.text.index("Take it as cells set by hand")
    form = {"number": "1", "text": text, "who": "B. Example"}
    refused = client.post(f"{MAP}/take", data=form)
    assert refused.status_code == 422
    assert "must be given for each cell over a ceiling" in refused.text
    taken = client.post(
        f"{MAP}/take", data=form | {"reason": "the old controller's table"}, follow_redirects=False
    )
    assert taken.status_code == 303
    job = shop.jobs.latest(KEY).job
    assert len(job.hand) == 256
    assert {cell.reason for cell in job.hand} == {"the old controller's table"}


def test_a_pasted_map_is_judged_alike_in_browser_and_terminal(
    client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Between the plan's axes and beyond them, where a map carried to the plan's own would lose its cells."""
    axes = "kPa by rpm,900,2150,3900,7100\n"
    rows = [f"{kpa},{','.join(['44'] * 4)}" for kpa in (23, 61, 84, 103)]
    text = axes + "\n".join(rows) + "\n"
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": text}).text
    job, given = tmp_path / "job.toml", tmp_path / "map.csv"
    job.write_text(PUMP_HOUSE, encoding="utf-8")
    given.write_text(text, encoding="utf-8")
    cli.main(["compare", str(job), str(given), "--json"])
    printed = json.loads(capsys.readouterr().out)
    said = [*printed["results"]["problems"], *printed["warnings"]]
    assert len(said) > 1
    for sentence in said:
        assert escape(sentence) in page
    assert "Outside the plan's speeds and loads" not in page


def test_a_map_equal_to_the_plan_changes_nothing(client: TestClient, planned: PlanResult) -> None:
    form = {"number": "1", "text": outside_map(planned, 0.0), "who": "B"}
    assert "must be changed before it is saved" in client.post(f"{MAP}/take", data=form).text


@pytest.mark.parametrize(
    "content",
    [b"", b"\xff\xfe", b"{", b"kPa by rpm,1000\n", b"a,b,c\n1,2,3\n", b"\x00" * 50, b'{"schema": 1}'],
)
def test_a_file_that_holds_no_map_is_refused_in_words(client: TestClient, content: bytes) -> None:
    answer = client.post(
        f"{MAP}/held-against", data={"number": "1"}, files={"file": ("map.csv", content, "text/csv")}
    )
    assert answer.status_code in (200, 422)
    assert "Take it as cells set by hand" not in answer.text
    assert "Traceback" not in answer.text


def test_nothing_sent_in_ends_in_a_fault(client: TestClient, shop: Shop, planned: PlanResult) -> None:
    """Sixty times four spoilt posts, from a fixed seed: each is a page, a redirect or a sentence."""
    spoiling = random.Random(5)
    whole = outside_map(planned, 1.0)
    letters = '0123456789.,;\t\n -+eE[]{}"kPa\x00\x1b\u00b2\u2212<>'
    for _ in range(60):
        text = list(whole if spoiling.random() < 0.5 else '[[0, 3, 20, "why"], [1, 3, 21, ""]]')
        for _ in range(spoiling.randint(1, 40)):
            text[spoiling.randrange(len(text))] = spoiling.choice(letters)
        spoilt = "".join(text)[: spoiling.randint(1, len(text))]
        for path, form in (
            ("held-against", {"text": spoilt}),
            ("take", {"text": spoilt, "who": "B", "reason": "r"}),
            ("save", {"hand": spoilt, "who": "B", "reason": "r"}),
            ("change", {"do": "paste", "text": spoilt, "kpa": "15", "to_kpa": "15", "who": "B"}),
        ):
            number = str(shop.jobs.latest(KEY).number)
            answer = client.post(f"{MAP}/{path}", data=form | {"number": number}, follow_redirects=False)
            assert answer.status_code in (200, 303, 422), (path, spoilt)


def test_a_plan_that_was_stopped_says_so_and_can_be_begun_again(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(OLD_FOUR, who="A. Example", why="started")
        (line,) = shop.jobs.lines()
        client.get(f"/jobs/{line.key}/map")
        client.post(f"/jobs/{line.key}/reckoning/stop?number=1")
        for _ in range(200):
            text = client.get(f"/jobs/{line.key}/map").text
            if "being worked out" not in text:
                break
            time.sleep(0.05)
        assert "Stopped." in text or 'role="grid"' in text
        client.post(f"/jobs/{line.key}/reckoning/again?number=1")
        assert 'role="grid"' in worked_out(client, f"/jobs/{line.key}/map")
