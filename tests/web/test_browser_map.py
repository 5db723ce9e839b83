"""The map worked in a real browser: by keyboard, from a spreadsheet, in two windows at once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from browser import Window, window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

OVER = re.compile(r"\bover\b")
HAND = re.compile(r"\bhand\b")


def cell(page: Page, row: int, column: int) -> Locator:
    """Give a cell; row 15 is the highest load, which stands on top."""
    return page.locator(f"#map-grid td[data-row='{row}'][data-column='{column}']")


def open_map(here: Window, key: str) -> Page:
    page = here.open(f"/jobs/{key}/map")
    expect(page.locator("#map-tools")).to_be_visible()
    return page


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


def select(page: Page, row: int, column: int, down: int = 0, right: int = 0) -> None:
    cell(page, row, column).click()
    press(page, *["Shift+ArrowDown"] * down, *["Shift+ArrowRight"] * right)


def test_cells_are_worked_by_keyboard_and_steps_outlive_a_reload(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Keyed map"))
        start = cell(page, 8, 5)
        planned = start.inner_text()
        start.click()
        expect(page.locator("#why")).to_contain_text("1,650 rpm, 56 kPa")

        # Typed over, and moved on by Enter and arrows.
        page.keyboard.type("24")
        press(page, "Enter")
        expect(start).to_have_text("24")
        expect(start).to_have_class(HAND)
        expect(cell(page, 7, 5)).to_be_focused()
        press(page, "End")
        expect(cell(page, 7, 15)).to_be_focused()
        press(page, "Home", "ArrowUp")
        expect(cell(page, 8, 0)).to_be_focused()

        # What is no number stays out, with a sentence.
        press(page, "F2")
        page.keyboard.type("many")
        press(page, "Enter")
        expect(page.locator("#map-says")).to_contain_text("many")
        expect(page.locator("#map-says")).not_to_contain_text("1 cell copied")

        # A range: added to, joined between its ends, smoothed.
        select(page, 9, 5, down=2, right=2)
        expect(page.locator("#map-grid [aria-selected='true']")).to_have_count(9)
        page.fill("#tool-value", "-2")
        page.get_by_role("button", name="Add", exact=True).click()
        expect(start).to_have_text("22")
        corner = cell(page, 9, 5).inner_text()
        page.get_by_role("button", name="Interpolate", exact=True).click()
        expect(start).not_to_have_text("22")
        expect(cell(page, 9, 5)).to_have_text(corner)
        joined = start.inner_text()
        select(page, 9, 5, down=2, right=2)
        press(page, "Control+z")
        expect(start).to_have_text("22")
        page.get_by_role("button", name="Smooth", exact=True).click()
        expect(start).not_to_have_text("22")

        # Undone and done again, with a reload in between; nothing of it is saved yet.
        press(page, "Control+z")
        expect(start).to_have_text("22")
        page.reload()
        expect(start).to_have_text("22")
        page.get_by_role("button", name="Undo").click()
        expect(start).to_have_text("24")
        page.get_by_role("button", name="Undo").click()
        expect(start).to_have_text(planned)
        expect(page.locator("#save")).to_be_hidden()
        page.get_by_role("button", name="Redo").click()
        expect(start).to_have_text("24")
        page.get_by_role("button", name="Redo").click()
        expect(start).to_have_text("22")
        assert joined != "22"

        # Given back to the plan.
        start.click()
        press(page, "Delete")
        expect(start).to_have_text(planned)


def test_a_block_goes_to_and_from_a_spreadsheet(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Pasted map"))
        before = [cell(page, 6, column).inner_text() for column in (6, 7)]
        select(page, 6, 6, right=1)
        press(page, "Control+c")
        expect(page.locator("#map-says")).to_have_text("2 cells copied.")
        assert page.evaluate("navigator.clipboard.readText()") == "\t".join(before) + "\n"

        # As spreadsheets give it: tabs and line ends of their own, a decimal comma.
        page.evaluate("navigator.clipboard.writeText('20\\t21,5\\r\\n22\\t23\\r\\n')")
        cell(page, 6, 6).click()
        press(page, "Control+v")
        expect(cell(page, 6, 7)).to_have_text("21.5")
        expect(cell(page, 5, 6)).to_have_text("22")
        expect(page.locator("#pending")).to_contain_text("4 cells")
        press(page, "Control+z")
        expect(cell(page, 6, 6)).to_have_text(before[0])

        # What can't be read is left out, and said; one step takes the rest back.
        page.evaluate("navigator.clipboard.writeText('20\\tabout 21')")
        press(page, "Control+v")
        expect(page.locator("#map-says")).to_contain_text("left out")
        expect(cell(page, 6, 6)).to_have_text("20")
        expect(cell(page, 6, 7)).to_have_text(before[1])
        press(page, "Control+z")
        expect(cell(page, 6, 6)).to_have_text(before[0])


def test_a_value_over_a_ceiling_needs_a_reason_and_stays_marked(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Bold map"))
        bold = cell(page, 15, 1)
        bold.click()
        page.keyboard.type("24")
        press(page, "Enter")
        expect(bold).to_have_class(OVER)
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Save as revision 2").click()
        expect(page.locator("#refused")).to_contain_text("must be given for each cell over a ceiling")
        expect(bold).to_have_text("24")
        page.fill("#reason", "Run on race fuel that day")
        page.get_by_role("button", name="Save as revision 2").click()
        expect(page.locator("header")).to_contain_text("revision 2")
        expect(bold).to_have_class(OVER)
        bold.click()
        expect(page.locator("#why")).to_contain_text("Run on race fuel that day")


def test_on_a_phone_the_warning_stands_where_the_eye_is(bench: Served, chromium: Browser) -> None:
    """Far over knock: said in view at once, worst first, with nothing of torque; and again when tapped."""
    with window(chromium, bench.address, phone=True) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Phone map"))
        bold, says = cell(page, 15, 1), page.locator("#map-says")
        bold.tap()
        page.keyboard.type("40")
        press(page, "Enter")
        expect(says).to_contain_text("1 cell set by hand stands over knock, by ")
        expect(says).to_contain_text("it can knock and break the engine")
        expect(says).not_to_contain_text("torque")
        expect(says).to_be_in_viewport(ratio=1.0)
        cell(page, 15, 3).tap()
        cell(page, 15, 1).tap()
        expect(says).to_contain_text(re.compile("40 deg, set by hand, [0-9.]+ over knock"))
        expect(says).to_be_in_viewport(ratio=1.0)
        cell(page, 15, 3).tap()
        expect(says).to_have_text("")


def test_a_changed_fact_shows_what_moves_before_it_is_saved(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Asked map"))
        page.select_option("#fact", "fuel.ron")
        page.fill("#value", "87")
        page.get_by_role("button", name="Show what moves").click()
        expect(page.locator("#what-if")).to_contain_text("87 instead of 95")
        expect(page.locator("#what-if .on-wide svg").first).to_be_visible()
        page.fill("#what-if-who", "A. Example")
        page.get_by_role("button", name="Save it as a new revision").click()
        expect(page.locator("header")).to_contain_text("revision 2")


def test_two_windows_collide_and_both_are_kept(bench: Served, chromium: Browser) -> None:
    with (
        window(chromium, bench.address) as here,
        window(chromium, bench.address) as there,
    ):
        key = here.job(PUMP_HOUSE, "Shared map")
        mine, theirs = open_map(here, key), open_map(there, key)
        for page, value, who in ((mine, "20", "A. Example"), (theirs, "21", "B. Example")):
            cell(page, 8, 8).click()
            page.keyboard.type(value)
            press(page, "Enter")
            expect(cell(page, 8, 8)).to_have_text(value)
            page.fill("#who", who)
            page.get_by_role("button", name="Save as revision 2").click()
        expect(mine.locator("header")).to_contain_text("revision 2")
        expect(theirs.locator("#main")).to_contain_text(
            "Both are safe. Revision 2 stands; what B. Example typed is kept"
        )
        expect(theirs.get_by_role("group", name="Hand 2550 rpm, 56 kPa: you both changed it")).to_be_visible()
        theirs.get_by_label("typed by B. Example").check()
        theirs.get_by_role("button", name="Save it as revision 3").click()
        expect(theirs.locator("h1")).to_contain_text("3 revisions")
        theirs.goto(f"{bench.address}/jobs/{key}/map")
        expect(cell(theirs, 8, 8)).to_have_text("21")
        theirs.goto(f"{bench.address}/jobs/{key}/map?number=2")
        expect(cell(theirs, 8, 8)).to_have_text("20")


def test_the_tools_are_one_stop_of_the_tab_key_and_arrows_go_through_them(
    bench: Served, chromium: Browser
) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Tabbed map"))
        page.get_by_role("link", name="See it with the rotor moved").focus()
        stops = 0
        while not page.evaluate("document.activeElement.matches('#map-grid td')"):
            press(page, "Tab")
            stops += 1
            assert stops < 8, page.evaluate("document.activeElement.outerHTML")
        page.get_by_role("toolbar").locator("input").focus()
        press(page, "ArrowRight")
        expect(page.get_by_role("button", name="Set", exact=True)).to_be_focused()
        press(page, "End")
        expect(page.get_by_role("button", name="Select all")).to_be_focused()
        press(page, "ArrowRight", "ArrowLeft")
        expect(page.get_by_role("button", name="Select all")).to_be_focused()


def test_what_was_pasted_is_selected(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = open_map(here, here.job(PUMP_HOUSE, "Pasted map"))
        select(page, 9, 5)
        page.evaluate("navigator.clipboard.writeText('20\\t21\\n22\\t23\\n')")
        page.get_by_role("button", name="Paste", exact=True).click()
        expect(cell(page, 8, 6)).to_have_text("23")
        chosen = page.locator("#map-grid [aria-selected='true']")
        expect(chosen).to_have_count(4)
        expect(chosen.first).to_have_text("20")


FIRST_SCREEN = {"width": 1280, "height": 800}


def test_grid_reasons_and_ribbon_are_seen_together_on_a_desk(bench: Served, chromium: Browser) -> None:
    """Grid and reasons whole, and the ribbon's drawing with its axis, lie within the first screen."""
    with window(chromium, bench.address) as here:
        here.page.set_viewport_size(FIRST_SCREEN)  # type: ignore[arg-type]
        page = here.open(f"/jobs/{here.job(PUMP_HOUSE, 'Wide engine')}/map")
        page.locator("#map-grid td[data-row='13'][data-column='8']").click()
        expect(page.locator("#why h3")).to_contain_text("2,550 rpm, 77 kPa")
        expect(page.locator("#ribbon figure >> visible=true")).to_contain_text("77 kPa")
        page.evaluate("scrollTo(0, 0)")
        for part in ("#map-grid", "#why", "#ribbon svg >> visible=true"):
            box = page.locator(part).first.bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= FIRST_SCREEN["height"], part


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_units_and_brightness_take_one_line_until_they_are_wanted(
    bench: Served, chromium: Browser, width: int
) -> None:
    with window(chromium, bench.address) as here:
        here.page.set_viewport_size({"width": width, "height": 800})
        page = here.open("/")
        box = page.locator(".reading").bounding_box()
        assert box is not None
        assert box["height"] <= 48
        page.get_by_text("Units and brightness").click()
        page.get_by_role("button", name="Inch").click()
        page.get_by_text("Units and brightness").click()
        expect(page.get_by_role("button", name="Inch")).to_have_attribute("aria-pressed", "true")
        assert not here.is_wider_than_screen()
