"""A drive in a real browser: brought in, looked at where its findings stand, and one of them accepted."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from browser import Window, violations, window
from drive_faults import MISFIRE_AT, misfire
from invented_drives import PUMP_HOUSE as JOB
from invented_drives import Road, Written, clean_drive
from planned import plan_of
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

SAID = re.compile(r"(\d+):(\d\d)(?:\.\d)? to (\d+):(\d\d)(?:\.\d)? of 18:00")


@pytest.fixture(scope="module")
def stumbling() -> bytes:
    """Eighteen minutes of an engine that stumbles at some speeds."""
    clean = clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11))
    return Written().bytes(misfire(clean, np.random.default_rng(5)))


def bring(here: Window, name: str, content: bytes) -> str:
    """Keep a drive with a new job, under the pages, and give the address of its page."""
    key = here.job(PUMP_HOUSE, name)
    kept = here.context.request.post(
        f"{here.address}/api/v1/jobs/{key}/files?who=A.+Example&kind=drive",
        multipart={"file": {"name": "road.csv", "mimeType": "text/csv", "buffer": content}},
    )
    assert kept.ok, kept.text()
    return f"/jobs/{key}/drives/{kept.json()['id']}"


def shown_s(page: Page) -> tuple[float, float]:
    """The stretch that the plot says it shows [s]."""
    said = page.locator("#time-said")
    expect(said).to_have_text(SAID)
    numbers = SAID.search(said.inner_text())
    assert numbers is not None
    from_min, from_s, to_min, to_s = map(int, numbers.groups())
    return 60.0 * from_min + from_s, 60.0 * to_min + to_s


def test_a_drive_is_brought_in_looked_at_and_a_finding_of_it_accepted(
    bench: Served, chromium: Browser, stumbling: bytes
) -> None:
    with window(chromium, bench.address) as here:
        key = here.job(PUMP_HOUSE, "Stumbles on the road")
        page = here.open(f"/jobs/{key}/history")
        page.locator('input[type="file"]').set_input_files(
            {"name": "road.csv", "mimeType": "text/csv", "buffer": stumbling}
        )
        page.select_option('select[name="kind"]', "drive")
        page.locator('form:has(input[type="file"]) [name="who"]').fill("A. Example")
        page.locator('form:has(input[type="file"]) button').click()
        page.get_by_role("link", name="Lay it on the map").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("The engine stumbles")

        # The whole drive first; the number on the map leads to a stretch in which it stumbled.
        assert shown_s(page) == (0.0, 1080.0)
        expect(page.locator("#time-plot canvas")).to_have_count(3)
        page.locator('.on-wide [data-finding="1"]').click()
        expect(page.locator("#time-said")).not_to_contain_text("0:00 to 18:00")
        first = page.locator("#finding-1 .moment").first
        at = float(first.get_attribute("data-from") or "nan")
        from_s, to_s = shown_s(page)
        assert from_s <= at <= to_s
        assert to_s - from_s < 120.0
        expect(page.locator("#time-plot")).to_be_focused()
        expect(page.locator("#time-tracks [value=mixture_lambda]")).to_be_checked()
        # It is read again at that stretch.
        page.reload()
        assert shown_s(page)[0] == pytest.approx(from_s, abs=1.0)

        # By key: further out, then all of it, then the time in the list.
        page.locator("#time-plot").focus()
        page.keyboard.press("0")
        expect(page.locator("#time-said")).to_contain_text("0:00 to 18:00")
        page.keyboard.press("+")
        expect(page.locator("#time-said")).to_contain_text("4:30 to 13:30")
        page.keyboard.press("ArrowRight")
        expect(page.locator("#time-said")).to_contain_text("9:00 to 18:00")
        first.focus()
        page.keyboard.press("Enter")
        expect(page.locator("#time-said")).not_to_contain_text("9:00 to 18:00")
        assert shown_s(page)[0] <= at <= shown_s(page)[1]

        # What is pointed at over time is shown on the map.
        page.locator("#time-plot .u-over").first.hover()
        dot = page.locator(".on-wide .here")
        expect(dot).to_have_attribute("visibility", "visible")
        assert 56.0 <= float(dot.get_attribute("cx") or "nan") <= 696.0

        form = page.locator("#finding-1 form")
        form.get_by_label("Who").fill("A. Example")
        form.get_by_role("button", name="Keep as evidence").click()
        expect(page.locator("#main")).to_contain_text("The engine stumbles")
        kept = here.context.request.get(f"{here.address}/api/v1/jobs/{key}/found").json()["records"]
        assert [each["kind"] for each in kept] == ["finding"]
        assert MISFIRE_AT[0][0] < kept[0]["numbers"]["rpm"] < MISFIRE_AT[0][1]


def test_a_stretch_is_dragged_and_asked_for_never_the_whole(
    bench: Served, chromium: Browser, stumbling: bytes
) -> None:
    """Eighteen minutes at 20 rows a second are 21,600 rows; what comes is a part for each dot."""
    with window(chromium, bench.address) as here:
        page = here.open(bring(here, "Dragged over", stumbling))
        shown_s(page)
        over = page.locator("#time-plot .u-over").first
        over.scroll_into_view_if_needed()
        box = over.bounding_box()
        assert box is not None
        middle = box["y"] + box["height"] / 2
        with page.expect_response(re.compile("/stretch")) as answer:
            page.mouse.move(box["x"] + 0.25 * box["width"], middle)
            page.mouse.down()
            page.mouse.move(box["x"] + 0.5 * box["width"], middle, steps=4)
            page.mouse.up()
        sent = answer.value.json()
        assert len(sent["time_s"]) <= box["width"] + 100
        assert sent["rows"] == pytest.approx(21_600 / 4, rel=0.02)
        assert shown_s(page) == pytest.approx((270.0, 540.0), abs=4.0)
        over.dblclick()
        expect(page.locator("#time-said")).to_contain_text("0:00 to 18:00")


def test_a_drive_whose_first_stretch_did_not_come_is_asked_for_again(
    bench: Served, chromium: Browser, stumbling: bytes
) -> None:
    with window(chromium, bench.address) as here:
        here.page.route(re.compile("/stretch"), lambda route: route.abort())
        page = here.open(bring(here, "Slow to come", stumbling))
        expect(page.locator("#time-said")).to_contain_text("The workbench doesn't answer; try again.")
        here.faults.clear()  # what the browser itself notes of an answer that never came
        page.unroute(re.compile("/stretch"))
        page.get_by_role("button", name="Closer").click()
        assert shown_s(page) == (0.0, 1080.0)
        assert not here.faults


def test_a_drive_is_for_everybody_on_a_phone_too(bench: Served, chromium: Browser, stumbling: bytes) -> None:
    with window(chromium, bench.address, phone=True, with_axe=True) as here:
        page = here.open(bring(here, "Seen by all on the road", stumbling))
        shown_s(page)
        assert not here.is_wider_than_screen()
        assert violations(page) == []
        page.locator('.on-narrow [data-finding="1"]').tap()
        expect(page.locator("#time-said")).not_to_contain_text("0:00 to 18:00")


def test_a_moment_is_shown_without_any_script(bench: Served, chromium: Browser, stumbling: bytes) -> None:
    with window(chromium, bench.address, script=False) as here:
        page = here.open(bring(here, "Without a script", stumbling))
        expect(page.locator("#time-plot")).to_be_hidden()
        page.locator("#finding-1 .moment").first.click()
        expect(page.locator(".on-wide")).to_contain_text(["Time in each cell", re.compile(r"s of 18 min")])
