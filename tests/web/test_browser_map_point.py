"""The point that moves over the map, in a real browser: by keyboard, fields, mouse and finger."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from playwright.sync_api import Browser, Page, expect

from browser import Window, window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

OPENING = "The map as it is driven: move a point over it"


def middle(page: Page, selector: str) -> tuple[float, float]:
    box = page.locator(selector).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def opened(here: Window, key: str) -> Page:
    page = here.open(f"/jobs/{key}/map")
    expect(page.locator("#map-tools")).to_be_visible()
    page.get_by_text(OPENING).click()
    expect(page.locator("#driven-says")).to_contain_text("the controller commands")
    return page


def test_a_point_is_driven_over_the_map_by_keys_fields_and_mouse(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = opened(here, here.job(PUMP_HOUSE, "Driven map"))
        ring, says = page.locator("#driven-ring"), page.locator("#driven-says")
        page.fill("#driven-rpm", "1650")
        page.fill("#driven-load", "56")
        expect(says).to_contain_text("At 1,650 rpm and 56 kPa the controller commands")
        # On that cell, within what the eye tells apart.
        x, y = middle(page, "#driven-ring")
        cell_x, cell_y = middle(page, "#map-grid td[data-row='8'][data-column='5']")
        assert abs(x - cell_x) < 3
        assert abs(y - cell_y) < 3

        ring.focus()
        for key in ("ArrowRight", "ArrowRight", "ArrowUp"):
            page.keyboard.press(key)
        expect(says).to_contain_text("At 1,750 rpm and 57 kPa the controller commands")
        page.keyboard.press("Shift+ArrowDown")
        expect(says).to_contain_text("At 1,750 rpm and 56 kPa the controller commands")
        expect(ring).to_be_focused()

        # Drawn with the mouse to another cell, over the grid, which selects nothing meanwhile.
        before = page.locator("#map-grid [aria-selected=true]").count()
        to_x, to_y = middle(page, "#map-grid td[data-row='15'][data-column='10']")
        ring.hover()
        page.mouse.down()
        page.mouse.move(to_x, to_y, steps=12)
        page.mouse.up()
        expect(says).to_contain_text(re.compile("At .* rpm and 85 kPa the controller commands"))
        assert page.locator("#map-grid [aria-selected=true]").count() == before
        at_once = [each for each in here.requests if "/map/at?" in each.url]
        assert len(at_once) < 20

        page.fill("#driven-rpm", "90000")
        expect(says).to_contain_text("the map ends there")


def test_a_point_is_driven_on_a_phone_with_its_words_in_sight(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, phone=True) as here:
        page = opened(here, here.job(PUMP_HOUSE, "Driven on a phone"))
        page.locator("#map-grid td[data-row='8'][data-column='5']").scroll_into_view_if_needed()
        page.fill("#driven-rpm", "1650")
        page.fill("#driven-load", "56")
        ring, says = page.locator("#driven-ring"), page.locator("#driven-says")
        ring.scroll_into_view_if_needed()
        expect(says).to_contain_text("At 1,650 rpm and 56 kPa")
        expect(says).to_be_in_viewport()
        expect(ring).to_be_in_viewport()
        box = ring.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
        assert not here.is_wider_than_screen()


def test_a_point_over_a_map_in_vacuum_goes_up_the_screen_with_less_vacuum(
    bench: Served, chromium: Browser
) -> None:
    in_vacuum = PUMP_HOUSE.replace("[controller]\n", '[controller]\nload = "inHg vacuum"\n')
    with window(chromium, bench.address) as here:
        page = opened(here, here.job(in_vacuum, "Driven in vacuum"))
        ring, says = page.locator("#driven-ring"), page.locator("#driven-says")
        page.fill("#driven-rpm", "1650")
        page.fill("#driven-load", "6")
        expect(says).to_contain_text("At 1,650 rpm and 6 inHg vacuum (")
        before = middle(page, "#driven-ring")[1]
        ring.focus()
        page.keyboard.press("ArrowUp")
        expect(says).to_contain_text("At 1,650 rpm and 5.5 inHg vacuum (")
        assert middle(page, "#driven-ring")[1] < before
        page.keyboard.press("Shift+ArrowUp")
        expect(says).to_contain_text("At 1,650 rpm and 5 inHg vacuum (")
