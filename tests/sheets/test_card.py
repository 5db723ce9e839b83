"""The hand-over card: all that must stand on it, safe against what a person wrote, the same each time."""

from __future__ import annotations

import dataclasses
import io
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from invented_results import invented_plan, with_other_cells
from sparkwright import __version__
from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import HardwareResult
from sparkwright.drawing.svg import degrees
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.job.names import label_of
from sparkwright.learn.against import Against, MeasuredPlace, NearCell
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import check_light
from sparkwright.plan.planner import plan as plan_job
from sparkwright.plan.result import PlanResult
from sparkwright.plan.settings import settings_of
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.trims import Trim
from sparkwright.sheets.card import card_html, card_pdf
from sparkwright.sheets.card_content import CAUTIONS, Signature, card_content
from sparkwright.words.measured import MeasuredTold, brake_told
from sparkwright.words.settings import trim_line
from telling import action_of, sentence_of, sentences_of

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("pump-house-v8", "boosted-six", "old-four")
HOSTILE = '<script>alert("x")</script> #import "a.typ" $x^2$ *bold* \\ {{ & é'


def _job(name: str = "pump-house-v8") -> Job:
    return Job.load(EXAMPLES / f"{name}.toml")


@pytest.fixture(scope="module")
def job() -> Job:
    return _job()


@pytest.fixture(scope="module")
def hardware(job: Job) -> HardwareResult:
    return check_hardware(job)


@pytest.fixture(scope="module")
def plan() -> PlanResult:
    return invented_plan()


@pytest.fixture(scope="module")
def hostile_job(job: Job) -> Job:
    customer = job.customer
    shop = job.shop
    assert customer is not None
    assert shop is not None
    return job.model_copy(
        update={
            "name": HOSTILE,
            "customer": customer.model_copy(update={"name": HOSTILE, "vehicle": HOSTILE}),
            "shop": shop.model_copy(update={"name": HOSTILE}),
        }
    )


def _pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_card_has_one_or_two_pages_and_says_which(name: str, paper: str, plan: PlanResult) -> None:
    found = _job(name)
    pages = _pages(card_pdf(plan, check_hardware(found), found, paper="a4" if paper == "a4" else "letter"))
    assert 1 <= len(pages) <= 2
    for count, text in enumerate(pages, start=1):
        assert f"page {count} of {len(pages)}" in text


def test_the_fullest_example_planned_for_real_fits_two_pages() -> None:
    found = _job("old-four")  # states least, so that most is assumed
    planned = plan_job(found)
    pages = _pages(card_pdf(planned, check_hardware(found), found, paper="letter"))
    assert len(pages) == 2
    assert "set and proved by" in pages[0]
    assert len(planned.assumed) > 10
    for one in planned.assumed:
        assert label_of(one.field).partition(",")[0] in pages[1]
        assert one.field not in pages[1]


def _measured(places: int) -> MeasuredTold:
    """What a card says of some invented places; the later ones lie farther from what was foretold."""
    swept = tuple(
        MeasuredPlace(
            sweep=f"{k}",
            rpm=1000.0 + 400.0 * k,
            kpa=95.0,
            best_deg=30.0 + k,
            best_low_deg=29.0 + k,
            best_high_deg=31.0 + k,
            crossed_top=True,
            untaught_deg=30.0,
            taught_deg=30.0 + 0.9 * k,
            heard="trace",
            heard_deg=38.0,
        )
        for k in range(places)
    )
    cells = tuple(NearCell(1000.0 + 100.0 * k, 95.0, k < 20) for k in range(100))
    told = brake_told(
        Against(swept, cells, 4, ("x", "y"), ("z",), ()), ["28 deg", "28 deg", "32 deg", "32 deg"]
    )
    since = "Since it was signed: 1 knock mark; revision 2 stands now, this card is of revision 1."
    return dataclasses.replace(told, lines=(*told.lines, since))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_fullest_example_fits_two_pages_with_measurements_a_light_and_a_rotor_to_move(paper: Any) -> None:
    found = _job("old-four")
    planned = plan_job(found)
    hardware = check_hardware(found)
    assert "move the tip" in dict(card_content(planned, hardware, found)["settings"])["Rotor phase to set"]
    readings = [Reading(10.0, rpm, 10.2) for rpm in (1000.0, 2000.0, 3000.0)]
    pdf = card_pdf(
        planned, hardware, found, paper=paper, light=check_light(found, readings), measured=_measured(9)
    )
    pages = _pages(pdf)
    assert len(pages) == 2
    assert "38.0 (37.0 to 39.0) 30.0 37.2 trace at 38" in pages[1]
    assert "And 4 more in the record; these lie farthest from what was foretold." in pages[1]
    assert "20 of 100 cells lie within 25 % in speed and 10.0 kPa of a place that was measured" in pages[1]
    assert "the other 80 are foretold only" in pages[1]


def test_screen_and_paper_hold_the_same_places_against_what_was_foretold(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    told = _measured(3)
    content = card_content(plan, hardware, job, measured=told)
    assert content["swept"] == [list(each) for each in told.rows]
    assert content["swept_more"] == ""
    on_screen = " ".join(_seen(card_html(plan, hardware, job, measured=told)).texts)
    on_paper = _pages(card_pdf(plan, hardware, job, measured=told))[1]
    for row in told.rows:
        assert " ".join(row) in on_paper
        assert all(each in on_screen for each in row)
    assert "Measured: 4 pulls at full throttle, at 28 deg, 32 deg." in on_paper
    assert "Set aside, and no part of this: sweep x, sweep y, pull z." in on_paper


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_customers_page_stands_apart_from_the_workshops_sheet(paper: Any) -> None:
    """The example V8 planned for real: one page each, and no number on the first that only a shop can use."""
    found = _job()
    mine, shops = _pages(card_pdf(plan_job(found), check_hardware(found), found, paper=paper))
    assert "still to prove" in mine
    assert "No light was read: that the engine gets the timing of this map is not proved." in mine
    assert "Made for this fuel, or better: RON 95, MON 85, ethanol 5 %. Site: 1,450 m." in mine
    for technical in ("Standard deviation", "mJ", "Assumed, because", "formula outside"):
        assert technical not in mine
        assert technical in shops or technical == "formula outside"
    assert "handed over to" in mine
    assert "handed over to" not in shops


def test_a_signed_card_says_who_signed_and_when_and_which_revision(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    signed = Signature("A. Example", "30 Nov 2031", 3, "C. Driver")
    (mine, _) = _pages(card_pdf(plan, hardware, job, signature=signed))
    for text in ("A. Example", "C. Driver", "30 Nov 2031", "date, of revision 3"):
        assert text in mine
        assert text in " ".join(_seen(card_html(plan, hardware, job, signature=signed)).texts)
    blank = card_content(plan, hardware, job)["signed"]
    assert [text for _, text in blank] == ["", "", ""]


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_sheet_sizes(
    paper: str, size_mm: tuple[float, float], plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    # ISO 216 (A4) and ANSI/ASME Y14.1 (Letter, 8.5 x 11 in).
    box = (
        PdfReader(io.BytesIO(card_pdf(plan, hardware, job, paper="a4" if paper == "a4" else "letter")))
        .pages[0]
        .mediabox
    )
    assert float(box.width) / 72 * 25.4 == pytest.approx(size_mm[0], abs=0.1)
    assert float(box.height) / 72 * 25.4 == pytest.approx(size_mm[1], abs=0.1)


def test_card_carries_what_the_next_person_needs(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    text = " ".join(_pages(card_pdf(plan, hardware, job, date="1 May 2030")))
    for wanted in (
        "Pump-house V8",
        "invented example",
        "1 May 2030",
        f"Sparkwright {__version__}",
        "job ab12ab12ab12",
        sentence_of(plan.headline),
        action_of(plan.headline),
        "10° before top dead centre, controller adding nothing",
        "Rotor phase to set",
        "rpm across, kPa absolute down",
        "bold, knock",
        "underlined, reach",
        "italic, idle reserve",
        "The light check to make",
        "at 6 speeds from 2,000 to 4,000 rpm",
        "common practice, no source",
        "RON 95, MON 85",
        "1,450 m",
        "Assumed, because the job does not say",
        "Rod length 1.6 x stroke",
        "set and proved by",
        "handed over to",
        "Standard deviation",
        "70 mJ",
        "Still to prove on this engine",
    ):
        assert wanted in text, wanted
    for caution in CAUTIONS.values():
        assert " ".join(caution.split()) in text


def test_every_cell_of_the_map_is_on_the_card(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    content = card_content(plan, hardware, job)
    values = [[float(cell["text"]) for cell in row["cells"]] for row in content["rows"]]
    assert values == plan.cells.spark_map.advance_deg[::-1].tolist()
    assert [[cell["held"] for cell in row["cells"]] for row in content["rows"]] == [
        list(row) for row in reversed(plan.cells.held_by)
    ]


@pytest.mark.parametrize("tip_mm", [5.0, 14.0])
def test_the_card_asks_the_light_page_s_own_advance_and_speeds(
    plan: PlanResult, hardware: HardwareResult, job: Job, tip_mm: float
) -> None:
    """A narrow tip reaches less than the 30 deg of common practice, a wide one more."""
    rotor = job.changed("distributor", tip_width=f"{tip_mm} mm", rotor_phase_deg=0)
    asked = check_light(rotor)
    assert (asked.hold_deg < 30.0) == (tip_mm == 5.0)
    steps = " ".join(card_content(plan, hardware, rotor)["light_check"])
    assert f"one advance, {degrees(asked.hold_deg)}, at every speed" in steps
    assert f"All must read {degrees(asked.hold_deg)}" in steps
    first = asked.next_readings[0]
    assert first.commanded_deg == asked.hold_deg
    assert f"speeds from {first.speed_rpm:,.0f} to " in steps
    read = check_light(rotor, [Reading(asked.hold_deg, 2000, asked.hold_deg)])
    content = card_content(plan, hardware, rotor, light=read)
    assert set(re.findall(r"[Hh]old (\d+)", " ".join(content["light_read"]))) <= {f"{asked.hold_deg:g}"}


def test_card_is_the_same_bytes_each_time(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    assert card_pdf(plan, hardware, job) == card_pdf(plan, hardware, job)
    assert card_html(plan, hardware, job) == card_html(plan, hardware, job)


def test_text_of_people_is_never_evaluated_on_paper(
    plan: PlanResult, hardware: HardwareResult, hostile_job: Job
) -> None:
    pages = _pages(card_pdf(plan, hardware, hostile_job))
    assert len(pages) <= 2
    assert f"Customer: {HOSTILE}" in pages[0]


class _Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [
            value or "" for name, value in attrs if name in ("src", "href") or name.startswith("on")
        ]

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def _seen(html: str) -> _Seen:
    parser = _Seen()
    parser.feed(html)
    return parser


def test_text_of_people_is_never_evaluated_on_screen(
    plan: PlanResult, hardware: HardwareResult, hostile_job: Job
) -> None:
    seen = _seen(card_html(plan, hardware, hostile_job, date=HOSTILE))
    assert "script" not in seen.tags
    assert seen.links == []
    assert HOSTILE in seen.texts
    assert f"Customer: {HOSTILE}" in seen.texts


def test_html_needs_nothing_else(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    html = card_html(plan, hardware, job)
    addresses = set(re.findall(r"https?://[^\"' )]+", html))
    assert addresses == {"http://www.w3.org/2000/svg"}  # the name of SVG, nothing that is fetched
    assert html.count("@font-face") == 3
    assert "$" not in re.sub(r"base64,[^)]*", "", html)
    seen = _seen(html)
    assert {"img", "link", "iframe"}.isdisjoint(seen.tags)
    assert 'lang="en"' in html


def test_html_says_what_paper_says(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    text = " ".join(" ".join(_seen(card_html(plan, hardware, job)).texts).split())
    content = card_content(plan, hardware, job)
    for label, value in (*content["settings"], *content["facts"], *content["coil"]):
        assert f"{label} {value}" in text
    for sentence in (
        *content["light_check"],
        *content["cautions"],
        *content["warnings"],
        content["headline"],
    ):
        assert sentence in text
    assert "page " in card_html(plan, hardware, job)


def test_html_sets_the_letter_forms(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    html = card_html(plan, hardware, job)
    table = html[html.index('<table class="map">') :]
    table = table[: table.index("</table>")]
    held = [kind for row in plan.cells.held_by for kind in row]
    assert table.count("<b>") == held.count("knock")
    assert table.count("<u>") == held.count("reach")
    assert table.count("<i>") == held.count("reserve")
    assert table.count("\N{BULLET}") == held.count("by hand")


def test_a_map_of_many_speeds_is_set_in_several_tables(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    rpm = np.linspace(500.0, 6000.0, 24)
    wide = with_other_cells(
        plan,
        spark_map=SparkMap(rpm, plan.cells.spark_map.kpa, np.full((16, 24), 21.0)),
        held_by=tuple(tuple("best" for _ in rpm) for _ in plan.cells.spark_map.kpa),
        over_ceiling=np.zeros((16, 24), dtype=bool),
        slope_from_rpm=np.full((16, 24), np.nan),
        slope_from_kpa=np.full((16, 24), np.nan),
    )
    text = " ".join(_pages(card_pdf(wide, hardware, job)))
    assert text.count("kPa 500 739") == 1
    assert text.count("kPa 4,326") == 1


def test_a_rotor_that_covers_the_map_is_left_alone(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    fits = dataclasses.replace(plan, reach_cost=None)
    settings = dict(card_content(fits, hardware, job)["settings"])
    assert settings["Rotor phase to set"].startswith("open: the tip does not cover its post")
    good = dataclasses.replace(hardware, verdicts=())
    settings = dict(card_content(fits, good, job)["settings"])
    assert settings["Rotor phase to set"] == "leave it: the tip covers its post wherever the map needs it"


def test_the_move_of_the_rotor_is_said_in_three_ways(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    settings = dict(card_content(plan, hardware, job)["settings"])
    assert settings["Rotor phase to set"] == (
        "move the tip 2.1 mm (4.0 distributor deg, 0.34 of its width) ahead, in the direction of rotation; "
        "it then covers its post from 9° to 47°. Then plan again."
    )


def test_each_problem_is_said_once(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    assert len(hardware.problems) == 1
    assert card_content(plan, hardware, job)["problems"] == [], "its one problem leads the card"
    fits = dataclasses.replace(plan, reach_cost=None, problems=())
    assert card_content(fits, hardware, job)["problems"] == list(sentences_of(hardware.problems))


def test_an_unknown_paper_is_refused(plan: PlanResult, hardware: HardwareResult, job: Job) -> None:
    unknown: Any = "a0"
    for draw in (card_pdf, card_html):
        with pytest.raises(Refusal, match=r"^paper = a0: must be a4 or letter$"):
            draw(plan, hardware, job, paper=unknown)


@pytest.mark.parametrize(
    ("stated", "row"),
    [
        ({"mark_error_deg": -2.0}, "shows 2.0 deg after at true top dead centre, proved at the piston"),
        ({"mark_error_deg": 0.0}, "shows 0 at true top dead centre, proved at the piston"),
        ({"mark_proved": True}, "proved at the piston"),
        ({"mark_proved": None}, "not proved: find true top dead centre before trusting a light"),
    ],
)
def test_the_card_says_what_the_mark_shows(
    job: Job, plan: PlanResult, hardware: HardwareResult, stated: dict[str, Any], row: str
) -> None:
    content = card_content(plan, hardware, job.changed("light", **stated))
    assert ["Mark of the balancer", row] in content["settings"]


def test_what_the_light_showed_says_that_the_mark_was_counted(
    job: Job, plan: PlanResult, hardware: HardwareResult
) -> None:
    marked = job.changed("light", mark_error_deg=2.0)
    light = check_light(marked, [Reading(20, rpm, 22) for rpm in (1000, 2000, 3000, 4000)])
    said = card_content(plan, hardware, marked, light=light)["light_read"]
    assert said[1] == (
        "The mark's known error is taken off: at true top dead centre it shows 2.0 deg before."
    )


def test_the_card_carries_the_delay_that_was_set_and_how_well_timing_is_known(
    plan: PlanResult, hardware: HardwareResult, job: Job
) -> None:
    known = job.changed("light", mark_proved=True, delay_set_us=85, timing_spread_deg=0.56)
    settings = dict(card_content(plan, hardware, known)["settings"])
    assert settings["Delay set"] == "85 us, made up for by the controller"
    assert settings["Timing known to"] == "0.56\N{DEGREE SIGN}, one standard deviation, from the light"
    paper = " ".join(_pages(card_pdf(plan, hardware, known, paper="a4")))
    assert "85 us, made up for by the controller" in paper
    silent = dict(card_content(plan, hardware, job)["settings"])
    assert not {"Delay set", "Timing known to"} & set(silent), "unknown is never zero"


@pytest.mark.slow
def test_the_workshop_finds_idle_block_and_trims_by_their_cells_on_its_sheet() -> None:
    job = (
        _job("old-four")
        .changed("controller", rpm=[500, 800, 1500, 3000, 5000], kpa=[30, 45, 65, 98])
        .changed("conditions", hottest_air="40 degC")
    )
    planned, hardware = plan_job(job), check_hardware(job)
    settings = settings_of(job, planned, hardware)
    assert settings.trims is not None
    content = card_content(planned, hardware, job, settings=settings)
    labels = [label for label, _ in content["settings"]]
    assert labels.count("Trim") == len(settings.trims.trims) == 1
    (block,) = (text for label, text in content["settings"] if label == "Idle block")
    (first, last), (left, right) = settings.idle.rows, settings.idle.columns
    for rpm in planned.cells.spark_map.rpm[left : right + 1]:
        assert f"{rpm:,.0f}" in block
    for kpa in planned.cells.spark_map.kpa[first : last + 1]:
        assert f"{kpa:g}" in block
    pages = PdfReader(io.BytesIO(card_pdf(planned, hardware, job, settings=settings))).pages
    assert len(pages) == 2
    on_paper = " ".join((pages[1].extract_text() or "").split())
    assert "Idle block" in on_paper
    assert "by air temperature: add" in on_paper
    assert "Idle block" in card_html(planned, hardware, job, settings=settings)


def test_a_trim_is_said_in_one_line_with_its_weights_in_runs_and_in_the_readers_degrees() -> None:
    """104 degF are 40 degC by definition."""
    at, kpa = np.array([20.0, 40.0]), np.array([30.0, 60.0, 90.0, 98.0])
    weights = np.array([0.5, 0.5, 1.0, 1.0])
    trim = Trim("air temperature", "degC", at, at, kpa, np.array([0.0, -3.0]), weights)
    assert trim_line(trim) == (
        "by air temperature: add 0 at 20, -3 at 40 degC; times, by load in kPa: 0.5 up to 60, 1 up to 98"
    )
    assert "add 0 at 68, -3 at 104 degF;" in trim_line(trim, "inch")
    wide = Trim("fuel", "%", at, at, kpa[:2], np.array([[0.0, 0.0], [-1.0, -4.5]]), None)
    assert trim_line(wide) == "by fuel: add -4.5 to 0 deg by its table over load, on the settings sheet"
