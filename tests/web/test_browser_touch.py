"""Fingers: what they are to hit is large enough on a screen of any width, and stays in view on a phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from playwright.sync_api import Browser, Page, expect

from browser import PHONE, window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

LEAST_PX = 44
"""As Web Content Accessibility Guidelines 2.1 have it under 2.5.5, which excepts links within a sentence."""
SIZES = ((390, 844), (820, 1180), (1180, 820))
PAGES = (
    "",
    "/engine",
    "/ignition",
    "/map",
    "/mark",
    "/light",
    "/hand-over",
    "/history",
    "/first-start",
    "/dyno",
    "/learned",
)

HIT = "a[href], button, input, select, textarea, summary, [role=gridcell]"
TOO_SMALL = """([hit, least]) => [...document.querySelectorAll(hit)]
    .filter((each) => each.checkVisibility() && each.type !== "hidden" && !each.closest(".skip"))
    .filter((each) => !(each.matches("a") && getComputedStyle(each).display === "inline"
        && [...each.parentElement.childNodes].some((other) => other.data?.trim().length > 1)))
    .map((each) => [each, (each.matches("[type=checkbox], [type=radio]") && each.closest("label")) || each])
    .map(([each, hit]) => [each, each.matches(".whole-row a") ? each.closest("tr") : hit])
    .map(([each, hit]) => [each, hit.getBoundingClientRect()])
    .filter(([each, box]) => box.right > 0 && (box.height < least - 0.5 || box.width < least - 0.5))
    .map(([each, box]) => `${each.outerHTML.slice(0, 90)}: ${box.width} x ${box.height}`)"""


def too_small(page: Page) -> list[str]:
    """Name what a finger could miss."""
    found: list[str] = page.evaluate(TOO_SMALL, [HIT, LEAST_PX])
    return found


def test_a_finger_hits_what_it_means_on_a_phone_and_on_a_tablet(bench: Served, chromium: Browser) -> None:
    found: list[str] = []
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Touched engine")
        here.ask(f"/api/v1/jobs/{key}/plan", {}, "GET")
        row = {"who": "A. Example", "commanded_deg": 25, "speed_rpm": 2000, "seen_deg": 24}
        here.ask(f"/api/v1/jobs/{key}/readings", row)
        for place in PAGES:
            page = here.open(f"/jobs/{key}{place}" if place else "/")
            if place == "/map":
                page.locator("#map-grid td[data-row='8'][data-column='3']").tap()
                expect(page.locator("#map-tools")).to_be_visible()
            for width, height in SIZES:
                page.set_viewport_size({"width": width, "height": height})
                found += [f"{place or '/'} at {width}: {each}" for each in too_small(page)]
    assert not found, "\n".join(found)


def test_the_whole_line_of_a_job_opens_it(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        here.job(PUMP_HOUSE, "Line of a list")
        page = here.open("/?find=Line+of+a+list")
        page.locator(".whole-row tbody tr").get_by_text("revision 1").tap(force=True)
        expect(page.locator("header")).to_contain_text("Line of a list")


def test_tools_reasons_and_save_are_in_view_while_a_cell_is_chosen_on_a_phone(
    bench: Served, chromium: Browser
) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Chosen cell")
        page = here.open(f"/jobs/{key}/map")
        expect(page.locator("#map-tools")).to_be_visible()
        for row in (14, 8, 2):
            cell = page.locator(f"#map-grid td[data-row='{row}'][data-column='3']")
            cell.tap()
            expect(page.get_by_role("button", name="Undo")).to_be_in_viewport()
            expect(page.locator("#why h3")).to_be_in_viewport()
            assert seen_whole(page, f"#map-grid td[data-row='{row}'][data-column='3']")
        page.fill("#tool-value", "20")
        page.get_by_role("button", name="Set", exact=True).tap()
        save = page.get_by_role("link", name="Save", exact=True)
        expect(save).to_be_in_viewport()
        save.tap()
        button, drop = (page.locator(f"#save button{each}") for each in (".main", "[data-do=drop]"))
        expect(button).to_be_visible()
        one, other = button.bounding_box(), drop.bounding_box()
        assert one is not None
        assert other is not None
        apart = max(other["x"] - one["x"] - one["width"], other["y"] - one["y"] - one["height"])
        assert apart >= 12
        assert not here.is_wider_than_screen()


def seen_whole(page: Page, selector: str) -> bool:
    """Whether an element lies on the screen with nothing of ours over it."""
    return bool(
        page.evaluate(
            """([selector, height]) => {
                const it = document.querySelector(selector), box = it.getBoundingClientRect();
                return box.top >= 0 && box.bottom <= height && [[3, 3], [-3, -3]].every(([x, y]) => {
                    const at = document.elementFromPoint(
                        x > 0 ? box.left + x : box.right + x, y > 0 ? box.top + y : box.bottom + y);
                    return it.contains(at);
                });
            }""",
            [selector, PHONE["height"]],
        )
    )


def test_writing_in_the_phasing_pictures_is_large_enough_on_a_phone(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Phased on a phone")
        here.ask(f"/api/v1/jobs/{key}/plan", {}, "GET")
        page = here.open(f"/jobs/{key}/mark/day")
        expect(page.get_by_role("heading", name="Rotor phasing")).to_be_visible()
        smallest = page.evaluate(
            """() => {
                const scale = (svg) => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
                const texts = [...document.querySelectorAll("main svg text")];
                return Math.min(...texts.filter((each) => each.checkVisibility()).map((each) =>
                    parseFloat(getComputedStyle(each).fontSize) * scale(each.ownerSVGElement)));
            }"""
        )
        assert smallest >= 14
        assert not here.is_wider_than_screen()


def test_what_a_table_is_about_is_not_cut_off(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        key = here.job(PUMP_HOUSE, "Worded table")
        here.ask(f"/api/v1/jobs/{key}/plan", {}, "GET")
        page = here.open(f"/jobs/{key}/ignition")
        for words in ("Coil over speed, engine running", "Voltage asked against voltage there"):
            box = page.get_by_text(words).bounding_box()
            assert box is not None
            assert box["x"] + box["width"] <= PHONE["width"]
