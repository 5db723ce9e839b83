"""Readings at an engine where the network doesn't reach: kept on the phone, and sent once."""

from __future__ import annotations

import random
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Error, Page, Playwright, expect, sync_playwright

from phones import Phone, phone
from sparkwright.shop import open_shop
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

KEY = "pump-house-v8"
LIGHT = f"/jobs/{KEY}/light"


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    from real_workbench import CHROMIUM

    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; Debian's package is chromium")
    with sync_playwright() as found:
        yield found


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Served]:
    """A workbench of its own for each test, over a store with one job: it will be killed."""
    from real_workbench import served

    with open_shop(tmp_path / "shop") as shop:
        assert shop.create(PUMP_HOUSE, who="A. Example", why="engine came in").key == KEY
    with served(tmp_path / "shop") as process:
        yield process


def type_reading(page: Page, seen_deg: float, speed_rpm: int = 2000) -> None:
    page.fill("#who", "A. Example") if page.locator("#who").is_visible() else None
    page.fill("#speed_rpm", str(speed_rpm))
    page.fill("#seen_deg", f"{seen_deg:g}")
    page.get_by_role("button", name="Keep this reading").click()


def ready(page: Page) -> None:
    """Wait until the browser has what it needs to open the page by itself."""
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def in_store(place: Path) -> list[float]:
    with open_shop(place) as shop:
        return [float(str(each.row["seen_deg"])) for each in shop.readings(KEY)]


def test_readings_wait_on_the_phone_and_are_sent_once_when_the_shop_is_back(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    with phone(playwright, tmp_path) as held:
        page = held.page
        page.goto(bench.address + LIGHT)
        type_reading(page, 29.5)
        expect(page.get_by_text("Kept: 29.5 deg seen at 2,000 rpm.")).to_be_visible()
        expect(page.locator("#waiting")).to_be_hidden()
        ready(page)

        # The network goes while the page is open; the page is as it was, and the reading waits.
        bench.kill()
        type_reading(page, 29)
        expect(page.get_by_text("Kept in this browser: 29 deg seen at 2000 rpm.")).to_be_in_viewport()
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        expect(page.locator("#seen_deg")).to_have_value("")

        # Opened anew without it: the form is there, with what to hold, and takes more.
        page.goto(bench.address + LIGHT)
        expect(page.get_by_role("heading", level=1)).to_contain_text("The workbench doesn't answer")
        expect(page.locator("#ask")).to_contain_text("Hold ")
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        type_reading(page, 28.5, 3000)
        expect(page.get_by_text("Kept in this browser: 28.5 deg seen at 3000 rpm.")).to_be_visible()
        expect(page.locator("#waiting")).to_contain_text("2 readings wait in this browser.")

        # What is no number is said at once, and stays in its field.
        page.fill("#seen_deg", "late")
        page.get_by_role("button", name="Keep this reading").click()
        expect(page.get_by_role("alert")).to_contain_text("must each be a number")
        expect(page.locator("#seen_deg")).to_have_value("late")
        page.fill("#seen_deg", "")

        # The shop is back: both are sent by themselves, and the page goes on.
        bench.again(same_port=True)
        expect(page.get_by_role("region", name="Readings")).to_be_visible()
        expect(page.locator("#waiting")).to_be_hidden()
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(3)
    assert in_store(tmp_path / "shop") == [29.5, 29.0, 28.5]


def test_readings_outlive_a_browser_and_a_workbench_that_are_killed(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    with phone(playwright, tmp_path) as held:
        held.page.goto(bench.address + LIGHT)
        ready(held.page)
        bench.kill()
        type_reading(held.page, 29)
        expect(held.page.get_by_text("Kept in this browser: 29 deg")).to_be_visible()
        held.kill()
        held.again()
        held.page.goto(bench.address + LIGHT)
        expect(held.page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        type_reading(held.page, 28)
        expect(held.page.get_by_text("Kept in this browser: 28 deg")).to_be_visible()
        held.kill()
        bench.again(same_port=True)
        held.again()
        # Any page of the workbench sends them.
        held.page.goto(f"{bench.address}/")
        expect(held.page.get_by_role("heading", level=1)).to_contain_text("1 job")
        expect(held.page.locator("#waiting")).to_be_hidden()
        held.page.goto(bench.address + LIGHT)
        expect(held.page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(2)
    assert in_store(tmp_path / "shop") == [29.0, 28.0]
