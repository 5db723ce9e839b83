"""The commands of installation day: what they print, what they write, and their exit codes."""

import json
from pathlib import Path

import pytest

from sparkwright import cli
from sparkwright.job import Job

ROOT = Path(__file__).parents[2]
PUMP_HOUSE = ROOT / "examples" / "pump-house-v8.toml"

BOTH_SIDES = ("--stop", "27 before", "--stop", "31 after")


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = cli.main([str(each) for each in arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_dead_centre_without_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "deadcentre", "--stop", "27 before", "--stop", "31 after")
    assert (code, err) == (1, "")
    assert "At true top dead centre the mark shows 2.0 deg after, within 0.4." in out
    assert "Never run a piston" in out


def test_dead_centre_with_a_job_knows_the_stop(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "deadcentre", PUMP_HOUSE, "--stop", "29 before", "--stop", "29 after", "--json"
    )
    whole = json.loads(out)
    assert code == 0
    assert whole["job"]["name"] == "Pump-house V8"
    assert whole["results"]["pairs"][0]["drop_mm"] > 5.0
    assert whole["assumed"][0]["field"] == "--read-to"


def test_json_without_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "deadcentre", "--stop", "29 before", "--stop", "29 after", "--json")
    whole = json.loads(out)
    assert list(whole) == ["schema", "version", "job", "results", "assumed", "warnings"]
    assert (whole["schema"], whole["job"]) == ("urn:sparkwright:deadcentre:1", None)


def test_a_dial_needs_stroke_and_rod(capsys: pytest.CaptureFixture[str]) -> None:
    dial = ["--dial", "20 before", "--dial", "21 after", "--dial-step", "0.01 mm", "--read-to", "0.1"]
    code, _, err = run(capsys, "deadcentre", *dial)
    assert code == 2
    assert err.startswith("dial (not given): must come with stroke, rod and the dial's step")
    code, out, _ = run(capsys, "deadcentre", *dial, "--stroke", "3.618 in", "--rod", "6.063 in")
    assert code == 0
    assert "read at equal" in " ".join(out.split())


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ([], "--stop, --dial (not given): must be one of the two"),
        (["--stop", "27 before"], "--stop (not given): must be read as well; turn the engine the other way"),
        (["--stop", "27 before", "--stop", "27 before"], "--stop = 27 and 27: must lie well apart"),
        (["--stop", "28", "--stop", "31"], '--stop = "28": must say on which side of the mark it was read'),
        (["--dial", "28 before", "--dial", "31"], '--dial = "31": must say on which side'),
        (
            ["--stop", "300 before", "--stop", "27 before"],
            '--stop = "300 before": must be within half a turn',
        ),
        ([*BOTH_SIDES, "--stroke", "88 mm"], "--stroke, --rod (not given): must both"),
        ([*BOTH_SIDES, "--diameter", "6"], '--diameter = "6": must have a unit'),
        (["--stop", "27 before", "--dial", "31 after"], "--stop, --dial = both: must be one of the two"),
    ],
)
def test_readings_that_can_not_be_used(
    given: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "deadcentre", *given)
    assert (code, out) == (2, "")
    assert err.startswith(said)
    assert err.count("\n") == 1


def test_a_tape_for_any_engine(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = tmp_path / "tape.pdf"
    code, out, err = run(capsys, "tape", "--diameter", "7.24 in", "--pdf", pdf)
    assert (code, err) == (0, "")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "For a rim of 183.90 mm: 60 deg before to 20 after top dead centre." in out
    assert "measure its two 100 mm lines before you trust it" in out
    code, _, err = run(capsys, "tape", "--diameter", "7.24 in", "--pdf", pdf)
    assert code == 2
    assert "is there already" in err
    assert run(capsys, "tape", "--diameter", "7.24 in", "--pdf", pdf, "--replace")[0] == 0


def test_a_tape_as_json_has_its_marks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """6 in are 13.2994 mm for 10 deg (KI-D6), less paper."""
    pdf = tmp_path / "t.pdf"
    _, out, _ = run(
        capsys, "tape", PUMP_HOUSE, "--diameter", "6 in", "--thickness", "0 mm", "--pdf", pdf, "--json"
    )
    whole = json.loads(out)
    places = {mark["advance_deg"]: mark["place_mm"] for mark in whole["results"]["tape"]["marks"]}
    assert places[10.0] == pytest.approx(13.2994, rel=1e-4)
    assert whole["results"]["files"] == [str(pdf)]


def test_marks_too_close_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "tape", "--diameter", "60 mm", "--pdf", tmp_path / "t.pdf")
    assert code == 1
    assert "Look here: The marks stand 0.52 mm apart" in out


def test_a_ring(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = tmp_path / "ring.pdf"
    code, out, _ = run(
        capsys, "ring", "--diameter", "9 in", "--hole", "40 mm", "--rotation", "anticlockwise", "--pdf", pdf
    )
    assert code == 0
    assert "run anticlockwise from zero" in out
    assert pdf.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--rotation", "left", '--rotation = "left": must be clockwise or anticlockwise'),
        ("--scale-on", "wall", '--scale-on = "wall": must be damper or cover'),
        ("--read-from", "top", '--read-from = "top": must be front or rear'),
        ("--paper", "a5", '--paper = "a5": must be "a4" or "letter"'),
        ("--every", "3", "--every = 3 deg: must be one of"),
        ("--before", "500", "--before = 500 deg: must be 0 to 180 deg; a tape ends at half a turn"),
    ],
)
def test_options_that_can_not_be_used(
    option: str, value: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "tape", "--diameter", "6 in", "--pdf", tmp_path / "t.pdf", option, value)
    assert (code, out) == (2, "")
    assert err.startswith(said)
    assert not (tmp_path / "t.pdf").exists()


def test_the_sheets_of_a_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "day"
    given = ["--housing-diameter", "80 mm", "--mark-error", "2 after", "--seen", "4 before"]
    code, out, err = run(capsys, "sheets", PUMP_HOUSE, "--to", folder, *given, "--json")
    assert (code, err) == (1, "")
    assert {path.name for path in folder.iterdir()} == {
        "before-it-goes-in.pdf",
        "cap-plan.pdf",
        "rotor-phasing.pdf",
        "static-setting.pdf",
    }
    results = json.loads(out)["results"]
    assert results["static"]["turn_crank_deg"] == 4.0
    assert results["static"]["shown_deg"] == 8.0
    assert results["phasing"]["move_mm"] > 0.0
    assert [post["cylinder"] for post in results["cap"]["posts"]] == [1, 5, 7, 2, 6, 3, 4, 8]


def test_the_sheets_said_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "sheets", PUMP_HOUSE, "--to", tmp_path, "--paper", "letter")
    assert code == 1
    assert "rotor-phasing.pdf is written: Move the tip" in out
    assert "Look here: The balancer's mark is taken as right" in out
    code, _, err = run(capsys, "sheets", PUMP_HOUSE, "--to", PUMP_HOUSE)
    assert code == 2
    assert "must be a folder" in err


def test_the_job_is_never_printed_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes(PUMP_HOUSE.read_bytes())
    code, out, err = run(capsys, "tape", job, "--diameter", "6 in", "--pdf", job, "--replace")
    assert (code, out) == (2, "")
    assert err == f"--pdf = {job}: must not be the job itself\n"
    assert job.read_bytes() == PUMP_HOUSE.read_bytes()


def test_a_pin_offset_to_either_side(capsys: pytest.CaptureFixture[str]) -> None:
    """KI-13 and KI-15: an offset to the other side moves the middle the other way."""
    errors = []
    for offset in ("1.5 mm", "-1.5 mm"):
        given = ["--stop", "26.8309 before", "--stop", "26.8309 after", "--pin-offset", offset, "--json"]
        code, out, _ = run(capsys, "deadcentre", *given, "--stroke", "91.9 mm", "--rod", "154 mm")
        assert code == 0
        errors.append(json.loads(out)["results"]["pairs"][0]["pin_error_deg"])
    assert errors == pytest.approx([0.0141, -0.0141], abs=0.002)


def test_tape_and_ring_take_the_damper_of_the_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "job.toml"
    job.write_text(Job.load(PUMP_HOUSE).changed("engine", damper_diameter="8 in").to_toml(), encoding="utf-8")
    code, out, _ = run(capsys, "tape", job, "--thickness", "0 mm", "--pdf", tmp_path / "t.pdf", "--json")
    assert code == 0
    # The inch is 25.4 mm (1959 agreement); a degree of an 8 in rim is pi 203.2/360 mm.
    assert json.loads(out)["results"]["tape"]["mm_per_deg"] == pytest.approx(1.773254, abs=1e-6)
    code, out, _ = run(capsys, "ring", job, "--hole", "1 in", "--pdf", tmp_path / "r.pdf", "--json")
    assert json.loads(out)["results"]["ring"]["outer_diameter_mm"] == 203.2
    code, out, _ = run(capsys, "deadcentre", job, "--stop", "27 before", "--stop", "31 after", "--json")
    assert json.loads(out)["results"]["move_mark_mm"] == pytest.approx(-2 * 1.773254, abs=1e-4)
    code, _, err = run(capsys, "tape", "--pdf", tmp_path / "x.pdf")
    assert code == 2
    assert err == (
        "--diameter (not given): must be given; measure over the rim where the tape goes, or state "
        "damper_diameter under [engine] in the job\n"
    )


def test_static_setting_takes_the_mark_of_the_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stated = Job.load(PUMP_HOUSE).changed("light", mark_error_deg=-2.0)
    job = tmp_path / "job.toml"
    job.write_text(stated.to_toml(), encoding="utf-8")
    for more, error_deg in (((), -2.0), (("--mark-error", "1 before"), 1.0)):
        _, out, _ = run(capsys, "sheets", job, "--to", tmp_path / "day", *more, "--replace", "--json")
        setting = json.loads(out)["results"]["static"]
        assert setting["shown_deg"] == stated.distributor.base_deg + error_deg


def test_a_mark_said_to_be_proved_is_not_called_unproved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(Job.load(PUMP_HOUSE).changed("light", mark_proved=True).to_toml(), encoding="utf-8")
    _, out, _ = run(capsys, "sheets", job, "--to", tmp_path / "day", "--json")
    found = json.loads(out)
    assert found["results"]["static"]["mark_error_deg"] == 0.0
    assert not any("nobody proved it" in sentence for sentence in found["warnings"])
