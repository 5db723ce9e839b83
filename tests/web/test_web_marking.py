"""The mark page and the sheets of installation day: same results as the commands, and nothing typed lost."""

from __future__ import annotations

import html
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader

from sparkwright import cli
from sparkwright.evidence.kinds import DeadCentreReadings, KnockMark, SweepReadings, SweepRow
from sparkwright.job import Job, JobText
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import check_light
from sparkwright.mounting.dead_centre import dead_centre, mark_facts
from sparkwright.mounting.mark_readings import ReadPair
from sparkwright.mounting.questions import MARK, RING, SETTING, TAPE
from sparkwright.mounting.throw import throw_of
from sparkwright.pictures.dead_centre import dead_centre_picture
from sparkwright.shop import Shop
from sparkwright.web.pages.marking import ON_PAGE
from sparkwright.web.steps import steps_of
from sparkwright.words.dead_centre import CAUTIONS
from test_web_pages import worked_out
from workbench import EXAMPLES, PUMP_HOUSE, workbench

KEY = "pump-house-v8"
PAGE = f"/jobs/{KEY}/mark"
API = "/api/v1"
TWO_TRIES = {"one_1": "27 before", "other_1": "31 after", "one_2": "27.5 before", "other_2": "30.5 after"}
A4_PT, LETTER_PT = (595.28, 841.89), (612.0, 792.0)
"""ISO 216 and ANSI/ASME Y14.1, in points of 1/72 in."""


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="First facts")
        yield client, shop


class Answer(Protocol):
    """What the workbench answered."""

    @property
    def text(self) -> str: ...


def said(answer: Answer) -> str:
    """The text of a page, as a browser reads it."""
    return html.unescape(answer.text)


def step(shop: Shop) -> tuple[str, str]:
    (found,) = [each for each in steps_of(shop.jobs.latest(KEY), None) if each.name == "mark"]
    return found.mark, found.words


def test_at_first_it_asks_and_cautions(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    text = said(client.get(PAGE))
    assert "Nobody has proved yet that the balancer's mark is right." in text
    assert CAUTIONS[0] in text
    assert "<svg" not in text.partition("<main")[2]
    assert step(shop) == ("open", "zero not proved")


def test_the_step_stands_between_map_and_light(opened: tuple[TestClient, Shop]) -> None:
    _, shop = opened
    names = [each.name for each in steps_of(shop.jobs.latest(KEY), None)]
    assert names[names.index("map") : names.index("light") + 1] == ["map", "mark", "light"]


def test_page_command_and_api_say_the_same(
    opened: tuple[TestClient, Shop], capsys: pytest.CaptureFixture[str]
) -> None:
    client, _ = opened
    given = [word for text in TWO_TRIES.values() for word in ("--stop", text)]
    cli.main(["deadcentre", str(EXAMPLES / f"{KEY}.toml"), *given, "--diameter", "7.24 in", "--json"])
    printed = json.loads(capsys.readouterr().out)
    sent = {"readings": list(TWO_TRIES.values()), "job": KEY, "diameter": "7.24 in"}
    answered = client.post(f"{API}/dead-centre", json=sent).json()
    assert answered["results"] == printed["results"]
    assert answered["warnings"] == printed["warnings"]
    text = said(client.get(PAGE, params=TWO_TRIES | {"diameter": "7.24 in"}))
    assert printed["results"]["headline"] in text
    assert printed["results"]["action"] in text
    for sentence in printed["warnings"]:
        assert sentence in text
    assert "true zero" in text


def test_what_is_kept_are_facts_of_the_job(opened: tuple[TestClient, Shop]) -> None:
    # Truth by hand: midway between 27 before and 31 after lies 2 after.
    client, shop = opened
    form = {"one_1": "27 before", "other_1": "31 after", "method": "stop", "based_on": "1"}
    nameless = client.post(PAGE, data=form)
    assert nameless.status_code == 422
    assert "your name (not given): must be given" in said(nameless)
    assert 'value="27 before"' in said(nameless)
    answer = client.post(PAGE, data=form | {"who": "A. Example"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, PAGE)
    latest = shop.jobs.latest(KEY)
    assert (latest.job.light.mark_proved, latest.job.light.mark_error_deg) == (True, -2.0)
    assert latest.why == "Mark proved at the piston: it shows 2.0 deg after at the top"
    assert step(shop) == ("look", "shows 2.0 deg after")
    client.post(f"{PAGE}/right", data={"who": "A. Example", "based_on": "2"})
    assert shop.jobs.latest(KEY).job.light.mark_error_deg == 0.0
    assert step(shop) == ("done", "zero proved at the piston")


def test_two_who_save_at_once_both_keep_their_work(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    form = {"one_1": "27 before", "other_1": "31 after", "based_on": "1", "who": "A. Example"}
    client.post(PAGE, data=form)
    late = client.post(PAGE, data=form | {"other_1": "33 after"}, follow_redirects=False)
    assert late.headers["location"] == f"/jobs/{KEY}/kept/{shop.jobs.kept(KEY)[0].id}"
    assert shop.jobs.latest(KEY).job.light.mark_error_deg == -2.0


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"one_1": "27 before"}, "try 1, other side (not given): must be read as well; turn the engine"),
        ({"one_1": "300 before", "other_1": "31 after"}, "try 1, one side = "),
        (
            {"one_1": "28", "other_1": "32"},
            'try 1, one side = "28": must say on which side of the mark it was read, as each reading must; '
            'write "28 before" or "28 after"',
        ),
        (
            {"one_1": "28 before", "other_1": "32"},
            'try 1, other side = "32": must say on which side of the mark it was read, as each reading must; '
            'write "32 before" or "32 after"',
        ),
        ({"one_1": "27 before", "other_1": "27 before"}, "readings = 27 and 27: must lie well apart"),
        ({"one_1": "52 mm before", "other_1": "31 after"}, "must come with the diameter of the rim; such as"),
        (
            {"one_1": "27 before", "other_1": "31 after", "method": "dial"},
            "must come with stroke, rod and the dial's step",
        ),
        ({"one_1": "27 before", "other_1": "31 after", "read_to": "fine"}, "must be a number of deg"),
        ({"one_1": "27 before", "other_1": "31 after", "method": "guess"}, "must be stop or dial"),
        ({"one_1": "27 before", "other_1": "31 after", "diameter": "6"}, "must have a unit"),
    ],
)
def test_what_cannot_stand_is_said_and_stays(
    opened: tuple[TestClient, Shop], typed: dict[str, str], sentence: str
) -> None:
    client, _ = opened
    answer = client.get(PAGE, params=typed)
    assert answer.status_code == 422
    assert sentence in said(answer)
    assert "--" not in said(answer).partition('role="alert"')[2].partition("</div>")[0]
    assert f'value="{typed["one_1"]}"' in said(answer)
    assert "Keep this" not in said(answer)


def test_a_mark_that_wanders_is_not_kept(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    typed = {"one_1": "30 before", "other_1": "30 after", "one_2": "33 before", "other_2": "27 after"}
    text = said(client.get(PAGE, params=typed))
    assert "a mark that moves is no mark" in text
    assert "Keep this" not in text
    answer = client.post(PAGE, data=typed | {"based_on": "1", "who": "A. Example"})
    assert answer.status_code == 422
    assert "must stay where it is before anything is kept of it" in said(answer)
    assert shop.jobs.latest(KEY).number == 1


def test_a_mark_too_far_off_for_a_job_is_refused(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    typed = {"one_1": "90 before", "other_1": "10 before", "based_on": "1", "who": "A. Example"}
    answer = client.post(PAGE, data=typed)
    assert answer.status_code == 422
    assert "light.mark_error_deg = 50.0: must be -40 to 40" in said(answer)
    assert shop.jobs.latest(KEY).number == 1


def test_the_light_is_judged_by_the_true_zero(opened: tuple[TestClient, Shop]) -> None:
    # Truth: 20 deg at every speed; the mark shows 2 deg after at the top, so 18 is seen.
    client, shop = opened
    form = {"one_1": "27 before", "other_1": "31 after", "based_on": "1", "who": "A. Example"}
    for speed in (1000, 2000, 3000, 4000):
        row = {"commanded_deg": 20, "speed_rpm": speed, "seen_deg": 18, "who": "A. Example", "set": 1}
        client.post(f"/jobs/{KEY}/light/readings", data=row)
    before = client.get(f"{API}/jobs/{KEY}/light").json()["results"]
    assert before["fit"]["offset_deg"]["value"] == pytest.approx(-2.0, abs=1e-9)
    client.post(PAGE, data=form)
    after = client.get(f"{API}/jobs/{KEY}/light").json()
    assert after["results"]["fit"]["offset_deg"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert "2 deg were added to everything seen" in said(client.get(f"/jobs/{KEY}/light"))
    assert shop.evidence.of_job(KEY)[0].fields["seen_deg"] == 18.0


def test_the_picture_shows_each_try_and_both_zeros() -> None:
    found = dead_centre([ReadPair(27.0, -31.0), ReadPair(27.5, -30.5)])
    picture = dead_centre_picture(found)
    assert [row[:3] for row in picture.rows] == [(1, 27.0, -31.0), (2, 27.5, -30.5)]
    drawn = picture.svg("light")
    assert drawn.count("<circle") == 2 * 2 + 2
    assert ">true zero<" in drawn
    assert ">the mark&#x27;s own zero<" in drawn


def test_facts_of_a_mark_are_rounded_as_finely_as_they_are_known() -> None:
    found = dead_centre([ReadPair(27.0, -27.0)])
    assert mark_facts(found) == {"mark_proved": True, "mark_error_deg": 0.0}
    assert str(mark_facts(found)["mark_error_deg"]) == "0.0"


# Tape and ring


def pages(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


@pytest.mark.parametrize(("paper", "size_pt"), [("a4", A4_PT), ("letter", LETTER_PT)])
@pytest.mark.parametrize(
    ("name", "query", "across"),
    [
        ("timing-tape", "diameter=7.24 in", True),
        ("degree-ring", "diameter=9 in&hole=40 mm", False),
        ("before-it-goes-in", "", False),
        ("cap-plan", "", False),
        ("rotor-phasing", "", False),
        ("static-setting", "seen=4 before", False),
    ],
)
def test_sheets_come_on_either_paper_with_the_job_s_fingerprint(
    opened: tuple[TestClient, Shop],
    name: str,
    query: str,
    across: bool,
    paper: str,
    size_pt: tuple[float, ...],
) -> None:
    client, shop = opened
    answer = client.get(f"{PAGE}/{name}.pdf?{query}&paper={paper}")
    assert answer.headers["content-type"] == "application/pdf"
    sheet = pages(answer.content)
    box = sheet.pages[0].mediabox
    wanted = size_pt[::-1] if across else size_pt
    assert (float(box.width), float(box.height)) == pytest.approx(wanted, abs=0.1)
    for page in sheet.pages:
        text = page.extract_text()
        assert f"job {shop.jobs.latest(KEY).fingerprint[:12]}" in text
        assert "100 mm" in text
    by_api = client.get(f"{API}/jobs/{KEY}/sheets/{name}.pdf?{query}&paper={paper}")
    assert by_api.content == answer.content


def test_the_tape_on_the_page_is_the_one_in_the_file(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    query = "diameter=203.2 mm&thickness=0 mm&before=40&after=10&rotation=anticlockwise"
    text = said(client.get(f"{PAGE}/timing-tape?{query}"))
    # A degree of an 8 in rim is pi 203.2/360 mm.
    assert "1.7733 mm a degree, degrees before top dead centre to the left" in text
    assert "timing-tape.pdf?diameter=203.2+mm&" in text
    assert "before=40&after=10" in text
    assert "rotation=anticlockwise" in text
    assert "A tape or a label" in text or "a tape or a label that flies off" in text
    assert "Print it at 100 %, with no fit to page" in text


def test_the_diameter_is_kept_and_used(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    assert "The diameter is needed." in said(client.get(f"{PAGE}/timing-tape?before=40"))
    form = {"diameter": "7.24 in", "based_on": "1", "who": "A. Example"}
    client.post(f"{PAGE}/diameter", data=form)
    # 7.24 in of 25.4 mm.
    assert shop.jobs.latest(KEY).job.engine.damper_diameter_mm == pytest.approx(183.896, abs=1e-9)
    text = said(client.get(f"{PAGE}/timing-tape"))
    assert "<svg" in text.partition("<main")[2]
    assert "Keep the diameter" not in text
    moved = client.post(f"{API}/dead-centre", json={"readings": ["27 before", "31 after"], "job": KEY}).json()
    # 2 deg of that rim are pi 183.896 2/360 mm.
    assert moved["results"]["move_mark_mm"] == pytest.approx(-3.209591, abs=1e-5)


@pytest.mark.parametrize(
    ("page", "section", "key", "name"),
    [
        ("", "engine", "damper_diameter", "diameter"),
        ("/timing-tape", "engine", "damper_diameter", "diameter"),
        ("/degree-ring", "engine", "damper_diameter", "diameter"),
        ("/day", "distributor", "housing_diameter", "housing_diameter"),
    ],
)
def test_a_diameter_of_the_job_stands_as_it_was_typed_with_its_conversion_beside_it(
    opened: tuple[TestClient, Shop], page: str, section: str, key: str, name: str
) -> None:
    """By hand: 7 1/4 in of 25.4 mm are 184.15 mm."""
    client, shop = opened
    typed = JobText(PUMP_HOUSE).changed(section, **{key: "7 1/4 in"}).text
    shop.jobs.save(KEY, typed, who="A. Example", why="measured", based_on=1)
    if page == "/day":
        worked_out(client, f"{PAGE}/day")
    text = said(client.get(f"{PAGE}{page}"))
    assert f'name="{name}" value="7 1/4 in"' in text
    assert f'id="read-{name}">= 184.15 mm<' in text
    client.cookies.set("units", "inch")
    in_inches = said(client.get(f"{PAGE}{page}"))
    assert f'name="{name}" value="7 1/4 in"' in in_inches
    assert f'id="read-{name}">= 7.250 in<' in in_inches


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        (
            "timing-tape?diameter=5 mm",
            "diameter = 5 mm (0.197 in): must be 30 mm to 1000 mm (1.182 in to 39.370 in)",
        ),
        ("timing-tape?diameter=184 mm&before=x", "before = "),
        ("timing-tape?diameter=184 mm&every=3", "every = 3 deg: must be one of"),
        ("timing-tape?diameter=184 mm&scale_on=roof", "must be damper or cover"),
        ("degree-ring?diameter=184 mm&every=1", "Diameter and hole must both be given."),
        ("degree-ring?diameter=184 mm&hole=160 mm", "must leave 15 mm (0.591 in) of ring all round"),
    ],
)
def test_a_scale_that_cannot_be_is_refused_beside_its_form(
    opened: tuple[TestClient, Shop], path: str, sentence: str
) -> None:
    client, _ = opened
    answer = client.get(f"{PAGE}/{path}")
    assert answer.status_code == 422
    assert sentence in said(answer)
    assert 'name="diameter"' in said(answer)


# Cap, rotor, body


def test_the_day_s_sheets_say_what_the_command_writes(
    opened: tuple[TestClient, Shop], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    client, _ = opened
    given = ["--seen", "4 before", "--housing-diameter", "80 mm", "--to", str(tmp_path / "day"), "--json"]
    cli.main(["sheets", str(EXAMPLES / f"{KEY}.toml"), *given])
    found = json.loads(capsys.readouterr().out)["results"]
    query = "seen=4 before&housing_diameter=80 mm"
    for name in ("before-it-goes-in", "cap-plan", "rotor-phasing", "static-setting"):
        written = (tmp_path / "day" / f"{name}.pdf").read_bytes()
        assert client.get(f"{PAGE}/{name}.pdf?{query}").content == written
    text = said(client.get(f"{PAGE}/day?{query}"))
    for part in ("cap", "phasing", "static"):
        assert found[part]["headline"] in text
        assert found[part]["action"] in text
    for caution in (*found["phasing"]["cautions"], *found["static"]["cautions"]):
        assert caution in text
    refused = client.get(f"{PAGE}/day?seen=400")
    assert refused.status_code == 422
    assert "seen = " in said(refused)


def test_page_and_api_ask_how_far_off_the_mark_is_as_the_command_does(
    opened: tuple[TestClient, Shop], tmp_path: Path
) -> None:
    client, _ = opened
    given = ["--mark-error", "2 after", "--to", str(tmp_path / "day")]
    cli.main(["sheets", str(EXAMPLES / f"{KEY}.toml"), *given])
    written = (tmp_path / "day" / "static-setting.pdf").read_bytes()
    assert client.get(f"{PAGE}/static-setting.pdf?mark_error=2 after").content == written
    answer = client.get(f"{API}/jobs/{KEY}/sheets/static-setting.pdf?mark_error=2 after")
    assert answer.content == written
    # Base 10 before, by a mark that shows 2 after at the top, is 8 before by the mark.
    assert "balancer showing 8 deg before" in said(client.get(f"{PAGE}/day?mark_error=2 after"))


def test_page_command_and_api_ask_the_same_questions(
    opened: tuple[TestClient, Shop], capsys: pytest.CaptureFixture[str]
) -> None:
    client, _ = opened
    client.get(f"{PAGE}/cap-plan.pdf")
    described = json.dumps(client.get(f"{API}/openapi.json").json(), ensure_ascii=False)
    for path, command, questions in (
        ("/timing-tape", "tape", TAPE),
        ("/degree-ring", "ring", RING),
        ("/day", "sheets", SETTING),
        ("", "deadcentre", {name: MARK[name] for name in ON_PAGE if name != "method"}),
    ):
        text = said(client.get(f"{PAGE}{path}"))
        cli.main([command, "--help"])
        help_text = " ".join(capsys.readouterr().out.split())
        for name, question in questions.items():
            assert f'<label for="{name}">{question.label}' in text
            assert question.hint in text
            assert question.option in help_text
            assert question.help in help_text
            if (command, name) not in (("ring", "diameter"), ("deadcentre", "read_to")):
                assert question.help in described


def test_static_setting_counts_the_mark_that_was_kept(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    form = {"one_1": "27 before", "other_1": "31 after", "based_on": "1", "who": "A. Example"}
    client.post(PAGE, data=form)
    base_deg = shop.jobs.latest(KEY).job.distributor.base_deg
    client.get(f"{PAGE}/cap-plan.pdf")
    # By definition of the error: shown is true plus error.
    assert f"the balancer showing {base_deg - 2:g} deg before" in said(client.get(f"{PAGE}/day"))


def test_an_old_revision_is_shown_and_not_saved_to(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    form = {"one_1": "27 before", "other_1": "31 after", "based_on": "1", "who": "A. Example"}
    client.post(PAGE, data=form)
    old = said(client.get(f"{PAGE}?number=1"))
    assert "Nobody has proved yet" in old
    assert 'name="based_on"' not in old


# The API


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"readings": []}, "readings (not given): must be given twice for each try"),
        ({"readings": ["27 before"]}, "try 1, other side (not given): must be read as well"),
        ({"readings": ["27 before", "31 after"], "job": "none"}, 'there is no job "none"'),
        (
            {"readings": ["27 before", "31 after"], "rod": "140 mm"},
            "stroke, rod (not given): must both be given",
        ),
        (
            {"readings": ["28", "31"]},
            'try 1, one side = "28": must say on which side of the mark it was read',
        ),
        ({"readings": ["28 before", "31"]}, 'write "31 before" or "31 after"'),
        ({"readings": ["27 before", "31 after"], "unknown": 1}, "unknown"),
    ],
)
def test_the_api_refuses_in_sentences(
    opened: tuple[TestClient, Shop], sent: dict[str, object], sentence: str
) -> None:
    client, _ = opened
    answer = client.post(f"{API}/dead-centre", json=sent)
    assert answer.status_code in (404, 422)
    assert sentence in answer.json()["problems"][0]


def test_a_dial_over_the_api_is_the_same_finding(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    sent = {
        "method": "dial",
        "readings": ["20 before", "21 after"],
        "dial_step": "0.01 mm",
        "read_to_deg": 0.1,
    }
    answer = client.post(f"{API}/dead-centre", json=sent | {"stroke": "3.618 in", "rod": "6.063 in"})
    throw = throw_of(Job.from_toml(PUMP_HOUSE).changed("engine", stroke="3.618 in", rod="6.063 in"))
    found = dead_centre(
        [ReadPair(20.0, -21.0)], method="dial", throw=throw, read_to_deg=0.1, dial_step_mm=0.01
    )
    assert answer.json()["results"]["half_interval_deg"] == found.half_interval_deg
    assert answer.json()["assumed"] == []


def test_readings_keep_what_was_seen() -> None:
    job = Job.from_toml(PUMP_HOUSE).changed("light", mark_error_deg=2.0)
    (reading,) = check_light(job, [Reading(20, 2000, 22)]).readings
    assert (reading.seen_deg, reading.true_deg, reading.difference_deg) == (22, 20.0, 0.0)


@pytest.mark.parametrize(
    ("diameter", "sentence"),
    [("168", "diameter = "), ("5 mm", "diameter = 5 mm (0.197 in): must be "), ("<b>", "diameter = ")],
)
def test_a_diameter_that_can_not_be_kept_stays_in_its_field(
    opened: tuple[TestClient, Shop], diameter: str, sentence: str
) -> None:
    client, shop = opened
    sent = {"diameter": diameter, "who": "A. Example", "based_on": "1"}
    answer = client.post(f"{PAGE}/diameter", data=sent)
    assert answer.status_code == 422
    shown = html.unescape(answer.text)
    assert sentence in shown
    assert f'name="diameter" value="{diameter}"' in shown
    assert shop.jobs.latest(KEY).number == 1


def test_what_was_read_at_the_piston_is_kept_and_can_be_taken_back(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    form = {"one_1": "27 before", "other_1": "31 after", "one_2": "27.5 before", "other_2": "31 after"}
    sent = form | {"based_on": "1", "who": "A. Example", "diameter": "7.24 in"}
    client.post(PAGE, data=sent)
    client.post(PAGE, data=sent)
    (record,) = shop.evidence.of_job(KEY, "dead-centre")
    assert isinstance(record.data, DeadCentreReadings)
    assert record.data.pairs == (ReadPair(27.0, -31.0), ReadPair(27.5, -31.0))
    assert record.data.diameter_mm == pytest.approx(183.896)
    error_deg = shop.jobs.latest(KEY).job.light.mark_error_deg
    assert error_deg == pytest.approx(record.data.found().mark_error_deg, abs=0.005)
    told = said(client.get(PAGE))
    assert "Mark read at the piston, 2 tries: it shows 1.9 deg after at true top dead centre" in told
    back = {"then": PAGE, "who": "B. Example", "why": "wrong cylinder"}
    answer = client.post(f"/jobs/{KEY}/evidence/{record.id}/back", data=back, follow_redirects=False)
    assert answer.headers["location"] == PAGE
    assert shop.evidence.of_job(KEY, "dead-centre") == []
    page = client.get(PAGE)
    assert '<tr class="taken-back">' in page.text
    assert "taken back by B. Example: wrong cylinder" in said(page)
    client.post(f"/jobs/{KEY}/evidence/{record.id}/put-back", data=back)
    assert shop.evidence.of_job(KEY, "dead-centre") == [record]
    for then in ("https://elsewhere.example/", "//elsewhere.example"):
        gone = client.post(
            f"/jobs/{KEY}/evidence/{record.id}/back", data=back | {"then": then}, follow_redirects=False
        )
        assert gone.headers["location"] == "/"
        client.post(f"/jobs/{KEY}/evidence/{record.id}/put-back", data=back)


def test_the_history_lists_sweeps_and_knock_marks_and_takes_them_back(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    sweep = SweepReadings(3000.0, 95.0, (SweepRow(24.0, 310.0, "none"), SweepRow(28.0, 322.0, "trace")))
    shop.evidence.add(KEY, sweep, who="A. Example")
    kept = shop.evidence.add(KEY, KnockMark(2400.0, 95.0, 30.0, "heavy"), who="A. Example")
    page = f"/jobs/{KEY}/history"
    told = said(client.get(page))
    assert "Sweep at 3,000 rpm and 95 kPa, 2 advances" in told
    assert "Heavy knock at 2,400 rpm, 95 kPa and 30 deg" in told
    back = {"then": page, "who": "B. Example", "why": "a loose heat shield"}
    client.post(f"/jobs/{KEY}/evidence/{kept.id}/back", data=back)
    assert [each.data for each in shop.evidence.of_job(KEY)] == [sweep]
    assert "a loose heat shield" in client.get(page).text
