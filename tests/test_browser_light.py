"""Light readings on a phone beside the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from playwright.sync_api import Browser, Page, expect

from browser import window
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

        # Taken back, and all of it there after a reload.
        rows.first.get_by_role("button").tap()
        expect(rows).to_have_count(1)
        page.reload()
        expect(rows).to_have_count(1)
        smallest = page.evaluate(
            """() => Math.min(...[...document.querySelectorAll("main button, main .button")]
                .filter((each) => each.offsetParent).map((each) => each.offsetHeight))"""
        )
        assert smallest >= 44
