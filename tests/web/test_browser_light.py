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

        away = [True]

        def lose(route: Route) -> None:
            if not away:
                route.continue_()
                return
            route.fetch()  # it arrives and is kept
            route.abort()

        page.route("**/light/readings", lose)
        keep.tap()
        # It is safe on the phone, which is said in view, and the form is ready for the next one.
        expect(page.get_by_text("Kept on this phone: 19.5 deg seen at 2000 rpm.")).to_be_in_viewport()
        expect(page.locator("#waiting")).to_contain_text("1 reading waits on this phone.")
        expect(page.locator("#seen_deg")).to_have_value("")
        assert kept(here, key) == [19.5]
        # It answers again: what waits is sent by itself, and is the same reading.
        away.clear()
        expect(page.locator("#waiting")).to_be_hidden()
        assert kept(here, key) == [19.5]
        # The next one with the same figures is a reading of its own.
        page.fill("#speed_rpm", "2000")
        page.fill("#seen_deg", "19.5")
        keep.tap()
        expect(page.get_by_text("Kept: 19.5 deg seen at 2,000 rpm.")).to_be_visible()
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
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_text("Sending ...")).to_be_visible()
        expect(page.get_by_text("The workbench doesn't answer.")).to_be_in_viewport(timeout=14_000)
        expect(page.get_by_text("Kept on this phone: 19.5 deg")).to_be_in_viewport()
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


def test_keys_write_where_the_border_is_and_the_first_replaces(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Keyed reading")
        page = here.open(f"/jobs/{key}/light")
        speed, seen = page.locator("#speed_rpm"), page.locator("#seen_deg")
        aimed = page.locator(".three .aimed")
        expect(aimed).to_have_attribute("id", "seen_deg")
        tap(page, "28")
        expect(seen).to_have_value("28")
        speed.tap()
        expect(aimed).to_have_count(1)
        expect(aimed).to_have_attribute("id", "speed_rpm")
        expect(speed).not_to_have_value("")
        tap(page, "1500")
        expect(speed).to_have_value("1500")
        # A figure is taken back from what stands there, which is then gone on with.
        page.get_by_role("button", name="Next field").tap()
        expect(aimed).to_have_attribute("id", "seen_deg")
        page.get_by_role("button", name="take the last figure back").tap()
        tap(page, "9.5")
        expect(seen).to_have_value("29.5")
        borders = page.evaluate(
            """() => [...document.querySelectorAll(".three input")]
                .map((each) => getComputedStyle(each).borderTopWidth)"""
        )
        assert borders == ["1px", "1px", "3px"]


def test_what_to_hold_keys_and_keep_fit_one_phone_screen(bench: Served, chromium: Browser) -> None:
    """The screens: a tall phone with its bars away, the same with them, and a small one."""
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "One screen")
        page = here.open(f"/jobs/{key}/light")
        page.fill("#who", "A. Example")
        page.fill("#seen_deg", "29")
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_text("Kept: 29 deg")).to_be_visible()
        expect(page.get_by_role("button", name="Next field")).to_be_visible()
        for width, height in ((390, 844), (390, 664), (320, 664)):
            page.set_viewport_size({"width": width, "height": height})
            needs = page.evaluate(
                """() => document.querySelector(".wide-button").getBoundingClientRect().bottom
                    - document.querySelector("#ask").getBoundingClientRect().top"""
            )
            assert 300 < needs <= height - 40, (width, height)
            assert not here.is_wider_than_screen()


def test_a_reading_after_a_change_begins_the_next_set_by_itself(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Turned body")
        for speed in (1000, 1500, 2000, 2500, 3000, 3500):
            row = {"who": "A. Example", "commanded_deg": 25, "speed_rpm": speed, "seen_deg": 21}
            here.ask(f"/api/v1/jobs/{key}/readings", row)
        page = here.open(f"/jobs/{key}/light")
        expect(page.locator("#ask")).to_contain_text("After the change")
        expect(page.get_by_text("This reading begins set 2.")).to_be_visible()
        page.fill("#who", "A. Example")
        page.fill("#seen_deg", "25")
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_role("heading", name="Readings of set 2")).to_be_visible()
        expect(page.get_by_role("heading", level=1)).to_contain_text("shows 25 deg where 25 is commanded")
        # Who looks at the older set adds to that one.
        page.goto(f"{here.address}/jobs/{key}/light?set=1")
        expect(page.get_by_text("This reading begins set")).to_have_count(0)


def test_who_changed_nothing_keeps_the_reading_in_its_set(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Untouched body")
        for speed in (1000, 1500, 2000, 2500, 3000, 3500):
            row = {"who": "A. Example", "commanded_deg": 25, "speed_rpm": speed, "seen_deg": 21}
            here.ask(f"/api/v1/jobs/{key}/readings", row)
        page = here.open(f"/jobs/{key}/light")
        page.get_by_role("link", name="Nothing was changed: keep it in set 1").tap()
        page.fill("#who", "A. Example")
        page.fill("#seen_deg", "21")
        page.get_by_role("button", name="Keep this reading").tap()
        expect(page.get_by_text("Kept: 21 deg")).to_be_visible()
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(7)
        expect(page.get_by_text("This reading begins set")).to_have_count(0)
