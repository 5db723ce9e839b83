"""Light readings on a phone beside the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from playwright.sync_api import Browser, Page, Route, expect

from browser import PHONE, Window, window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served


def tap(page: Page, figures: str) -> None:
    names = {".": "decimal point", "-": "minus"}
    for figure in figures:
        page.get_by_role("button", name=names.get(figure, figure), exact=True).tap()


def test_readings_are_kept_with_one_thumb(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Lit engine")
        page = here.open(f"/jobs/{key}/light")
        page.fill("#who", "A. Example")
        page.fill("#speed_rpm", "1000")
        page.locator("#seen_deg").tap()
        tap(page, "29")
        expect(page.locator("#seen_deg")).to_have_value("29")
        page.get_by_role("button", name="take the last figure back").tap()
        tap(page, "8.5")
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_role("region", name="Readings")).to_contain_text("28.5")
        # The answer leaves a field alone that the person has gone to meanwhile.
        page.fill("#speed_rpm", "3000")
        expect(page.locator("#speed_rpm")).to_have_value("3000")
        expect(page.locator("#seen_deg")).to_have_value("")
        page.locator("#seen_deg").tap()
        tap(page, "26")
        page.get_by_role("button", name="Keep this reading").tap()
        rows = page.get_by_role("region", name="Readings").locator("tbody tr")
        expect(rows).to_have_count(2)

        # What can't be a reading stays in the form with its sentence.
        page.fill("#seen_deg", "late")
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_role("alert")).to_contain_text("Not kept yet.")
        expect(page.locator("#seen_deg")).to_have_value("late")
        expect(rows).to_have_count(2)

        # Taken back it stays in view, struck through, and can be put back; all of it there after a reload.
        struck = page.locator("tr.taken-back")
        rows.first.get_by_role("button", name="Take back").tap()
        expect(struck).to_have_count(1)
        expect(struck).to_contain_text("taken back by A. Example")
        page.reload()
        expect(rows).to_have_count(2)
        expect(struck).to_be_visible()
        across = page.evaluate("document.querySelector('.taken-back button').getBoundingClientRect().right")
        assert across <= PHONE["width"]
        struck.get_by_role("button", name="Put back").tap()
        expect(struck).to_have_count(0)
        expect(rows).to_have_count(2)
        smallest = page.evaluate(
            """() => Math.min(...[...document.querySelectorAll("main button, main .button")]
                .filter((each) => each.offsetParent).map((each) => each.offsetHeight))"""
        )
        assert smallest >= 44


def test_the_page_stays_where_the_hand_is_after_a_reading_and_says_kept(
    bench: Served, chromium: Browser
) -> None:
    """A browser keeps what one reads in place when something above it grows; here the hand is what stays."""
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Still engine")
        page = here.open(f"/jobs/{key}/light")
        page.fill("#who", "A. Example")
        for number, seen in enumerate((20, 20.5, 19.5), start=1):
            page.fill("#speed_rpm", str(1000 * number))
            page.fill("#seen_deg", str(seen))
            page.get_by_role("button", name="Keep this reading").scroll_into_view_if_needed()
            page.evaluate("document.activeElement.blur()")
            before = page.evaluate("scrollY")
            page.get_by_role("button", name="Keep this reading").tap()
            expect(page.get_by_text(f"Kept: {seen:g} deg seen at {number},000 rpm.")).to_be_in_viewport()
            page.wait_for_timeout(200)
            assert abs(page.evaluate("scrollY") - before) < 100


def kept(here: Window, key: str) -> list[float]:
    answer = here.context.request.get(f"{here.address}/api/v1/jobs/{key}/readings").json()
    return [each["seen_deg"] for each in answer["readings"]]


def without_answers_that_were_lost(here: Window) -> None:
    """Take the browser's own note of what this test broke off from what no page may do."""
    broken = ("net::ERR_", "htmx:afterRequest", "htmx:sendError", "htmx:timeout")
    here.faults[:] = [each for each in here.faults if not any(sign in each for sign in broken)]


def test_a_lost_answer_is_said_in_view_and_gives_one_reading(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Lost answer")
        page = here.open(f"/jobs/{key}/light")
        page.fill("#who", "A. Example")
        page.fill("#speed_rpm", "2000")
        page.fill("#seen_deg", "19.5")
        keep = page.get_by_role("button", name="Keep this reading")

        def lose(route: Route) -> None:
            route.fetch()  # it arrives and is kept
            route.abort()

        page.route("**/light/readings", lose)
        page.route("**/mark.*", lambda route: route.abort())
        keep.tap()
        said = page.get_by_text("The workbench doesn't answer.")
        expect(said).to_be_in_viewport()
        expect(page.locator("#seen_deg")).to_have_value("19.5")
        assert kept(here, key) == [19.5]
        # It answers again: the sentence changes by itself, and what is sent again is the same reading.
        page.unroute("**/mark.*")
        page.unroute("**/light/readings")
        expect(said).to_have_count(0)
        again = page.get_by_text("The workbench answers again.")
        expect(again).to_be_in_viewport()
        keep.tap()
        expect(again).to_have_count(0)
        expect(page.get_by_text("Kept: 19.5 deg seen at 2,000 rpm.")).to_be_visible()
        assert kept(here, key) == [19.5]
        # The next one with the same figures is a reading of its own.
        page.fill("#speed_rpm", "2000")
        page.fill("#seen_deg", "19.5")
        keep.tap()
        expect(page.locator("#seen_deg")).to_have_value("")
        assert kept(here, key) == [19.5, 19.5]
        without_answers_that_were_lost(here)


def test_a_workbench_that_hangs_is_said_after_ten_seconds(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Hanging bench")
        page = here.open(f"/jobs/{key}/light")
        page.fill("#who", "A. Example")
        page.fill("#speed_rpm", "2000")
        page.fill("#seen_deg", "19.5")
        page.route("**/light/readings", lambda route: None)
        page.route("**/mark.*", lambda route: route.abort())
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_text("Sending ...")).to_be_visible()
        expect(page.get_by_text("The workbench doesn't answer.")).to_be_in_viewport(timeout=14_000)
        expect(page.get_by_text("Sending ...")).to_be_hidden()
        without_answers_that_were_lost(here)


def test_facts_that_were_typed_outlive_a_network_that_is_away(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Away network")
        page = here.open(f"/jobs/{key}/engine")
        page.fill("[id='engine-idle_rpm']", "777")
        page.fill("#who", "A. Example")
        here.context.set_offline(True)
        page.get_by_role("button", name="Save").last.tap()
        said = page.get_by_text("The workbench doesn't answer.")
        expect(said).to_be_in_viewport()
        expect(page.locator("[id='engine-idle_rpm']")).to_have_value("777")
        here.context.set_offline(False)
        expect(said).to_have_count(0)
        page.fill("[id='engine-bore']", "wide")
        page.get_by_role("button", name="Save").last.tap()
        expect(page.get_by_role("alert")).to_contain_text("Not saved yet: 1 thing has to be put right.")
        expect(page.get_by_role("alert")).to_be_focused()
        expect(page.locator("[id='engine-idle_rpm']")).to_have_value("777")
        page.fill("[id='engine-bore']", "3.921 in")
        page.get_by_role("button", name="Save").last.tap()
        expect(page.get_by_role("alert")).to_have_count(0)
        answer = here.context.request.get(f"{here.address}/api/v1/jobs/{key}").json()
        assert answer["number"] == 2
        without_answers_that_were_lost(here)


def test_the_page_leads_to_the_first_box_that_is_not_ticked(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Unread engine")
        page = here.open(f"/jobs/{key}/hand-over")
        boxes = page.locator("input[name='read']")
        boxes.first.check()
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Sign and hand over").tap()
        expect(page.locator("#refused")).to_be_in_viewport()
        expect(boxes.nth(1)).to_be_focused()
        expect(boxes.nth(1)).to_be_in_viewport()
        expect(boxes.first).to_be_checked()
