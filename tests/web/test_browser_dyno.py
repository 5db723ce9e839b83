"""The day at the dyno on a phone: the next point, knock in two touches, and points without a network."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, Playwright, expect, sync_playwright

from phones import phone
from sparkwright.evidence.kinds import KnockMark, TorquePoint
from sparkwright.shop import open_shop
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

KEY = "pump-house-v8"
DYNO = f"/jobs/{KEY}/dyno"


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    from real_workbench import CHROMIUM

    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; Debian's package is chromium")
    with sync_playwright() as found:
        yield found


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Served]:
    from real_workbench import served

    with open_shop(tmp_path / "shop") as shop:
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in")
    with served(tmp_path / "shop") as process:
        yield process


NOTE_DROPS = """() => {
    const drop = waiting.drop;
    window.dropped = [];
    waiting.drop = (name) => {
        dropped.push(waiting.underWay.has(name));
        return drop(name);
    };
}"""


def type_point(page: Page, advance_deg: float, torque: float) -> None:
    if page.locator("#dyno-who").is_visible():
        page.fill("#dyno-who", "A. Example")
    for field, value in (
        ("rpm", "2400"),
        ("kpa", "90"),
        ("deg", f"{advance_deg:g}"),
        ("torque", f"{torque:g}"),
    ):
        page.fill(f"#point-{field}", value)
    page.get_by_role("button", name="Keep this point").click()


def test_a_day_at_the_dyno_on_a_phone_with_and_without_the_workbench(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    with phone(playwright, tmp_path) as held:
        page = held.page
        page.goto(bench.address + DYNO)
        # What is worth measuring is asked for, and stands in the fields.
        expect(page.locator("#ask-box")).to_contain_text("Go to ", timeout=60_000)
        expect(page.locator("#point-deg")).not_to_have_value("")
        # A late point counts its seconds.
        page.fill("#point-deg", "5")
        expect(page.locator("#late")).to_contain_text(
            "Late point, 1 s: the exhaust gets hot. Read it within 30 s."
        )

        page.evaluate(NOTE_DROPS)
        for advance, torque in ((10, 270), (14, 300), (20, 330)):
            type_point(page, advance, torque)
            expect(page.locator(".told-line")).to_contain_text(f"Kept: {torque:.1f} N m at {advance} deg")
        expect(page.get_by_role("heading", level=1)).to_contain_text("Best is ")
        expect(page.locator("#ask-box")).to_contain_text(" deg at 2,400 rpm and 90 kPa")

        # Knock in two touches, at what stands in the fields.
        page.fill("#point-deg", "29")
        page.get_by_text("Knock heard here").click()
        page.get_by_role("button", name="Trace").click()
        expect(page.locator(".told-line")).to_contain_text("Kept: trace knock at 29 deg.")

        # Until this browser has let go of a reading, it may not take it for one that waits and send it again.
        assert page.evaluate("[dropped.length, dropped.every((underWay) => underWay)]") == [4, True]

        page.evaluate("navigator.serviceWorker.ready")
        page.wait_for_function("navigator.serviceWorker.controller !== null")
        bench.kill()
        type_point(page, 32, 350)
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")

        # Opened anew without it: the form is there and takes more.
        page.goto(bench.address + DYNO)
        expect(page.get_by_role("heading", level=1)).to_contain_text(
            "The workbench doesn't answer. Points are kept"
        )
        page.locator("#offline-dyno").wait_for()
        type_point(page, 38, 345)
        expect(page.locator("#waiting")).to_contain_text("2 readings wait in this browser.")
        page.fill("#point-torque", "low")
        page.get_by_role("button", name="Keep this point").click()
        expect(page.locator("#dyno-refused")).to_contain_text("must each be a number")
        page.fill("#point-torque", "")

        bench.again(same_port=True)
        expect(page.get_by_role("region", name="Points")).to_be_visible(timeout=20_000)
        expect(page.locator("#waiting")).to_be_hidden()
        expect(page.get_by_role("region", name="Points").locator("tbody tr")).to_have_count(5)
    with open_shop(tmp_path / "shop") as shop:
        kept = [each.data for each in shop.evidence.of_job(KEY)]
    assert [each.advance_deg for each in kept if isinstance(each, TorquePoint)] == [10, 14, 20, 32, 38]
    assert [each.advance_deg for each in kept if isinstance(each, KnockMark)] == [29]
