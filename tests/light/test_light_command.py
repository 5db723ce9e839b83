"""The light check as it is shown: command, JSON, page, picture and the card's sentences."""

import csv
import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from sparkwright import cli
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.light.readings import Reading, load_readings
from sparkwright.light.verdict import CAUTIONS, check_light
from sparkwright.pictures.light import light_picture
from sparkwright.words.light import light_lines
from telling import sentence_of
from test_light_verdict import ANY, BENCH, JOB, TRUE, judged

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "pump-house-v8.toml"
READ = ROOT / "examples" / "pump-house-v8-light.csv"
GOOD_CSV = "commanded_deg,speed_rpm,seen_deg,resolution_deg\n24,1000,24,0.5\n24,2500,24,0.5\n24,4000,24,0.5\n"


@pytest.fixture
def good_file(tmp_path: Path) -> Path:
    path = tmp_path / "good.csv"
    path.write_text(GOOD_CSV, encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main(["light", *(str(each) for each in arguments)])
    out, err = capsys.readouterr()
    return code, " ".join(out.split()), err


def test_without_readings_it_says_what_to_read_and_what_to_mind(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, EXAMPLE, "--hold", "24")
    assert (code, err) == (cli.GOOD, "")
    assert "24 deg held, 2,000 rpm: the first of the two speeds that are always read." in out
    assert "24 deg held, 4,000 rpm: the other end: parts a delay from an offset." in out
    assert out.count("24 deg held") == 6
    for caution in CAUTIONS:
        assert caution in out


def test_a_good_check(capsys: pytest.CaptureFixture[str], good_file: Path) -> None:
    code, out, err = run(capsys, EXAMPLE, good_file)
    assert (code, err) == (cli.GOOD, "")
    assert "Commanded and seen agree within 0.6 deg over 1,000 to 4,000 rpm with 95 % confidence." in out


def test_the_example_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    """Made up with a delay of 120 us, 1.2 deg late, and one lamp that slipped by 3 deg."""
    assert "INVENTED" in READ.read_text(encoding="utf-8")
    code, out, err = run(capsys, EXAMPLE, READ, "--housing", "72 mm", "--delay", "20")
    assert (code, err) == (cli.SEE, "")
    assert "Set the delay in the controller to 134 us (114 more than the 20 it has)." in out
    assert "turn the distributor's body" not in out, "one thing, then read again"
    assert "In line 10 (3,000 rpm, 23.5 deg seen) the reading is +2.7 deg off what the others say" in out
    assert "left out" in out


def test_json_holds_what_the_page_says(capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["light", str(EXAMPLE), str(READ), "--json"])
    whole = json.loads(capsys.readouterr().out)
    assert list(whole) == ["schema", "version", "job", "results", "assumed", "warnings"]
    assert whole["schema"] == "urn:sparkwright:light:1"
    result = check_light(JOB, load_readings(READ), BENCH)
    assert result.fit is not None
    assert whole["results"]["fit"]["left_out"] == result.fit.left_out == 7
    assert whole["results"]["fit"]["delay_us"]["value"] == pytest.approx(result.fit.delay_us.value)  # type: ignore[union-attr]
    assert [each["field"] for each in whole["assumed"]] == [
        "light.hand",
        "light.delay_set_us",
    ]


def test_pictures(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(capsys, EXAMPLE, READ, "--pictures", tmp_path / "out")[0] == cli.SEE
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"light.svg", "light.png", "light.csv"}
    code, out, err = run(capsys, EXAMPLE, READ, "--pictures", tmp_path / "out")
    assert (code, out) == (cli.REFUSED, "")
    assert "is there already" in err


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["nowhere.csv"], "readings = nowhere.csv: is not there; check the name\n"),
        (["--housing", "72"], '--housing = "72": must have a unit: mm, cm, m, um, in, thou, ft;'),
        (["--light", "strobe"], 'light = "strobe": must be "plain" or "dial-back"\n'),
        (["--agreement", "0"], "agreement = 0: must be 0.2 to 5 deg\n"),
        (["--pictures", "out"], "--pictures = out: must come with READINGS; there is nothing to draw yet\n"),
    ],
)
def test_what_can_not_be_used_ends_in_a_sentence(
    capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    code, out, err = run(capsys, EXAMPLE, *more)
    assert (code, out) == (cli.REFUSED, "")
    assert err.startswith(said)


def test_bad_lines_are_all_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("commanded_deg,speed_rpm,seen_deg\n30,0,29\n30,2000,300\n", encoding="utf-8")
    code, out, err = run(capsys, EXAMPLE, path)
    assert (code, out) == (cli.REFUSED, "")
    assert [line.partition(":")[0] for line in err.splitlines()] == [
        "readings, line 2, speed_rpm = 0",
        "readings, line 3, seen_deg = 300",
    ]


# The picture


def test_the_picture_shows_each_reading_and_tells_them_apart_by_shape() -> None:
    taken = [*TRUE[:3], Reading(30, 2500, 35, 0.5, line=4), *TRUE[4:]]
    result = judged(taken)
    picture = light_picture(result)
    assert picture.svg("light").count("<circle") == 2 * 6
    assert picture.sentence.replace("\N{NO-BREAK SPACE}", " ").startswith(sentence_of(result.proof.finding))
    assert "A cross was left out." in picture.sentence
    rows = list(csv.DictReader(io.StringIO(picture.csv())))
    assert [row["used"] for row in rows] == ["yes"] * 3 + ["left out"] + ["yes"] * 3
    assert float(rows[3]["seen less commanded [deg]"]) == 5.0
    doubted = light_picture(judged([Reading(30, 1000, 30), Reading(30, 2000, 35), Reading(30, 3000, 30)]))
    assert doubted.svg("light").count('class="mark"') == 2 * 3
    assert "A ring is in doubt." in doubted.sentence


def test_without_readings_there_is_no_picture() -> None:
    with pytest.raises(Refusal, match="must be at least one for a picture"):
        light_picture(judged([]))


@settings(max_examples=60, deadline=None)
@given(taken=st.lists(ANY, min_size=1, max_size=8), width_px=st.sampled_from([360.0, 720.0]))
def test_any_readings_can_be_drawn(taken: list[Reading], width_px: float) -> None:
    result = judged(taken)
    picture = light_picture(result, width_px=width_px)
    drawing = ET.fromstring(picture.svg("light"))
    assert drawing.attrib["role"] == "img"
    assert "nan" not in picture.body
    assert len(picture.rows) == len(result.readings)
    assert all(lines and lines.endswith((".", ":")) for lines in light_lines(result))


# The card's sentences


def test_the_card_says_when_nothing_was_read() -> None:
    assert light_lines(judged([])) == ["Not read with a timing light yet."]


def test_the_card_says_what_is_still_open() -> None:
    lines = light_lines(judged([Reading(30, 2000, 26), Reading(30, 4000, 26), Reading(30, 3000, 26)]))
    assert lines[0] == "Read with a timing light: 3 readings from 2,000 to 4,000 rpm, 30 deg held."
    assert lines[1].startswith("Not proved: commanded and seen may differ by 4.")
    assert lines[2].startswith("Offset -4.0 deg (-")
    assert lines[3].startswith("Look here: The spark comes 4.0 deg late at every speed")
    one = light_lines(judged([Reading(30, 2000, 30)]))
    assert one[2].startswith("Offset not determined; delay of pickup, driver and light not determined;")


def test_the_card_prints_what_the_light_showed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, good_file: Path
) -> None:
    html, pdf = tmp_path / "card.html", tmp_path / "card.pdf"
    arguments = ["card", str(EXAMPLE), "--pdf", str(pdf), "--html", str(html), "--light", str(good_file)]
    assert cli.main([*arguments, "--json"]) == cli.SEE  # its rotor runs out
    whole = json.loads(capsys.readouterr().out)
    lines = light_lines(check_light(Job.load(EXAMPLE), load_readings(good_file)))
    assert whole["results"]["light"]["proof"]["sentence"] == lines[1]
    printed = " ".join(
        " ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf.read_bytes())).pages
    )
    for line in ("What the light showed", *lines):
        assert line in html.read_text(encoding="utf-8")
        assert line in printed
    cli.main([*arguments[:-2], "--replace", "--json"])
    assert "light" not in json.loads(capsys.readouterr().out)["results"]
    assert "What the light showed" not in html.read_text(encoding="utf-8")


def test_a_known_mark_error_is_taken_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Truth: 20 deg at every speed, read by a mark that shows 2 deg after at the top: 18 is seen.
    table = tmp_path / "readings.csv"
    rows = [f"20,{rpm},18,0.5" for rpm in (1000, 2000, 3000, 4000)]
    table.write_text("\n".join(["commanded_deg,speed_rpm,seen_deg,resolution_deg", *rows]), encoding="utf-8")
    code, out, _ = run(capsys, EXAMPLE, table, "--mark-error", "2 after", "--json")
    assert code == 0
    found = json.loads(out)
    assert found["results"]["proof"]["proven"]
    assert found["results"]["fit"]["offset_deg"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert [each["seen_deg"] for each in found["results"]["readings"]] == [18.0] * 4
    assert "2 deg were added to everything seen" in found["warnings"][0]
    code, out, _ = run(capsys, EXAMPLE, table)
    assert code == 1
    code, _, err = run(capsys, EXAMPLE, table, "--mark-error", "50 before")
    assert code == 2
    assert "mark error = 50: must be -40 to 40 deg" in err


# What is proved, kept in the job


@pytest.fixture
def own_job(tmp_path: Path) -> Path:
    path = tmp_path / "my-engine.toml"
    text = EXAMPLE.read_text(encoding="utf-8")
    path.write_text(text + "\n# drilled the damper in May\n", encoding="utf-8", newline="")
    return path


def test_keep_writes_what_is_proved_and_leaves_every_other_line(
    capsys: pytest.CaptureFixture[str], own_job: Path, good_file: Path
) -> None:
    before = own_job.read_text(encoding="utf-8")
    _, offered, _ = run(capsys, own_job, good_file, "--mark-proved", "--delay", "85")
    assert "Proved, and not in the job yet: base, mark and scatter of the spark are known to 0." in offered
    assert "Add --keep to write it there." in offered
    assert own_job.read_text(encoding="utf-8") == before, "never by itself"
    code, out, err = run(capsys, own_job, good_file, "--mark-proved", "--delay", "85", "--keep")
    assert (code, err) == (cli.GOOD, "")
    assert "Written into my-engine.toml: base, mark and scatter" in out
    light = Job.load(own_job).light
    assert light.timing_spread_deg is not None
    assert 0.3 < light.timing_spread_deg < 1.0
    assert light.delay_set_us == 85.0
    after = own_job.read_text(encoding="utf-8")
    assert after.startswith(before)
    added = after.removeprefix(before).split("\n")
    assert added == [
        "",
        "[light]",
        f"timing_spread_deg = {light.timing_spread_deg:g}",
        "delay_set_us = 85",
        "",
    ]
    _, again, _ = run(capsys, own_job, good_file, "--mark-proved", "--keep")
    assert "Nothing was written: the job states what is proved already." in again


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ([], "Nothing was written: prove the mark at the piston first; a light can't see that it is wrong."),
        (["--mark-error", "12 after"], "Nothing was written. Not proved: commanded and seen may differ by"),
    ],
)
def test_keep_writes_nothing_that_is_not_proved(
    capsys: pytest.CaptureFixture[str], own_job: Path, good_file: Path, options: list[str], told: str
) -> None:
    before = own_job.read_bytes()
    _, out, _ = run(capsys, own_job, good_file, "--keep", *options)
    assert told in out
    assert own_job.read_bytes() == before


def test_keep_with_json_prints_json_alone(
    capsys: pytest.CaptureFixture[str], own_job: Path, good_file: Path
) -> None:
    cli.main(["light", str(own_job), str(good_file), "--mark-proved", "--keep", "--json"])
    out, err = capsys.readouterr()
    (fact,) = json.loads(out)["results"]["facts"]
    assert fact["key"] == "light.timing_spread_deg"
    assert Job.load(own_job).light.timing_spread_deg == fact["value"]
    assert err.startswith("Written into my-engine.toml: ")


def test_keep_leaves_the_mark_of_utf8_and_the_ends_of_lines(
    capsys: pytest.CaptureFixture[str], own_job: Path, good_file: Path
) -> None:
    content = own_job.read_bytes().replace(b"\n", b"\r\n")
    own_job.write_bytes(b"\xef\xbb\xbf" + content)
    run(capsys, own_job, good_file, "--mark-proved", "--keep")
    kept = own_job.read_bytes()
    assert kept.startswith(b"\xef\xbb\xbf" + content.rstrip())
    assert b"timing_spread_deg = 0." in kept
    assert kept.count(b"\n") == kept.count(b"\r\n")


def test_the_chance_of_knock_uses_what_the_check_proved(own_job: Path, good_file: Path) -> None:
    """The spread is one of the spreads that the plan is reckoned with; 2 deg stood there before."""
    from sparkwright.plan.uncertainty import timing_spread_deg

    assert timing_spread_deg(Job.load(own_job)) == 2.0
    cli.main(["light", str(own_job), str(good_file), "--mark-proved", "--keep"])
    assert 0.3 < timing_spread_deg(Job.load(own_job)) < 1.0
