"""Readings at an engine where the network doesn't reach: kept on the phone, and sent once."""

from __future__ import annotations

import base64
import hashlib
import random
import re
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Error, Page, Playwright, expect, sync_playwright

from phones import Phone, phone
from sparkwright.shop import open_shop
from sparkwright.web.certificate import CERTIFICATE
from sparkwright.web.sessions import set_passphrase
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

KEY = "pump-house-v8"
LIGHT = f"/jobs/{KEY}/light"
PASSPHRASE = "seven brass kettles"
NAME = "bench.example"
AT_NAME = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
KILLS, SEED = 100, 11
KILLS_A_SET = 20
"""A set takes 500 readings."""


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
        assert shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in").key == KEY
    with served(tmp_path / "shop") as process:
        yield process


def type_reading(page: Page, seen_deg: float, speed_rpm: int = 2000) -> None:
    if page.locator("#who").is_visible():
        page.fill("#who", "A. Example")
    page.fill("#speed_rpm", str(speed_rpm))
    page.fill("#seen_deg", f"{seen_deg:g}")
    page.get_by_role("button", name="Keep this reading").click()


def ready(page: Page) -> None:
    """Wait until the browser has what it needs to open the page by itself."""
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def nothing_waits(page: Page) -> None:
    """Wait until the page has looked, and has found no reading that still waits."""
    expect(page.locator("#waiting[data-now^='[[],']")).to_be_hidden()
    expect(page.locator("#waiting[data-now^='[[],']")).to_be_attached()


def in_store(place: Path) -> list[float]:
    with open_shop(place) as shop:
        return [float(str(each.fields["seen_deg"])) for each in shop.evidence.of_job(KEY)]


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


def trusting(certificate: Path) -> str:
    """Have the browser trust a certificate, as a phone does that has its authority installed."""
    command = ["openssl", "x509", "-in", str(certificate), "-noout", "-pubkey"]
    public = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    key = base64.b64decode("".join(public.strip().splitlines()[1:-1]))
    return f"--ignore-certificate-errors-spki-list={base64.b64encode(hashlib.sha256(key).digest()).decode()}"


def sign_in(page: Page) -> None:
    page.fill("#who", "A. Example")
    page.fill("#passphrase", PASSPHRASE)
    page.get_by_role("button", name="Sign in").click()


def at_name(served: Served) -> str:
    """Give the address at which a phone on the network asks for a workbench."""
    scheme, _, rest = served.address.partition("://")
    return f"{scheme}://{NAME}:{rest.rpartition(':')[2]}"


@pytest.fixture
def shared_place(tmp_path: Path) -> Path:
    with open_shop(tmp_path / "shop") as shop:
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="engine came in")
        set_passphrase(shop, PASSPHRASE)
    return tmp_path / "shop"


def test_a_phone_on_the_network_works_offline_once_it_trusts_the_workbench(
    shared_place: Path, playwright: Playwright, tmp_path: Path
) -> None:
    from real_workbench import served

    made = tmp_path / "certificate"
    with (
        served(shared_place, "--name", NAME, "--make-certificate", str(made)) as bench,
        phone(playwright, tmp_path, AT_NAME, trusting(made / CERTIFICATE)) as held,
    ):
        page, address = held.page, at_name(bench)
        assert address.startswith("https://")
        page.goto(address + LIGHT)
        sign_in(page)
        ready(page)
        expect(page.locator("#offline-off")).to_be_hidden()

        # The sign-in has ended meanwhile: the reading waits, and goes with the next one.
        page.context.clear_cookies(name="sparkwright")
        type_reading(page, 29)
        expect(page.get_by_text("Kept in this browser: 29 deg")).to_be_visible()
        expect(page.locator("#waiting")).to_contain_text("Sign in, and it is sent.")
        page.locator("#waiting").get_by_role("link", name="Sign in").click()
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        sign_in(page)
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(1)
        expect(page.locator("#waiting")).to_be_hidden()

        bench.kill()
        page.goto(address + LIGHT)
        expect(page.get_by_role("heading", level=1)).to_contain_text("The workbench doesn't answer")
        type_reading(page, 28)
        expect(page.get_by_text("Kept in this browser: 28 deg")).to_be_visible()
        bench.again(same_port=True)
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(2)

        # Who signs out leaves no job behind on the phone.
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("button", name="Sign in")).to_be_visible()
        bench.kill()
        page.goto(address + LIGHT)
        expect(page.get_by_role("heading", level=1)).to_have_text("The workbench doesn't answer.")
        expect(page.get_by_role("button", name="Keep this reading")).to_be_hidden()
        bench.again(same_port=True)
    assert in_store(shared_place) == [29.0, 28.0]


def test_without_encryption_the_page_says_that_offline_is_off_and_still_loses_nothing(
    shared_place: Path, playwright: Playwright, tmp_path: Path
) -> None:
    from real_workbench import served

    with served(shared_place, "--name", NAME) as bench, phone(playwright, tmp_path, AT_NAME) as held:
        page = held.page
        page.goto(at_name(bench) + LIGHT)
        sign_in(page)
        # Shown by the page's script: from here on a reading is kept before it is sent.
        expect(page.locator("#offline-off")).to_be_visible()
        expect(page.locator("#offline-off")).to_contain_text("Offline is off")
        bench.kill()
        type_reading(page, 29)
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        bench.again(same_port=True)
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(1)
    assert in_store(shared_place) == [29.0]


def test_a_reading_that_the_workbench_refuses_later_is_shown_until_somebody_deals_with_it(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    with phone(playwright, tmp_path) as held:
        page = held.page
        page.goto(bench.address + LIGHT)
        ready(page)
        bench.kill()
        type_reading(page, 29, speed_rpm=0)
        expect(page.locator("#waiting")).to_contain_text("1 reading waits in this browser.")
        bench.again(same_port=True)
        expect(page.locator("#waiting")).to_contain_text("Not taken: 29 deg seen at 0 rpm")
        page.reload()
        expect(page.locator("#waiting")).to_contain_text("Not taken: 29 deg seen at 0 rpm")
        page.get_by_role("button", name="Put it right").click()
        expect(page.locator("#seen_deg")).to_have_value("29")
        page.fill("#speed_rpm", "2000")
        page.get_by_role("button", name="Keep this reading").click()
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(1)
        expect(page.locator("#waiting")).to_be_hidden()
    assert in_store(tmp_path / "shop") == [29.0]


class Day:
    """A day at the engine in which workbench and browser are killed again and again."""

    def __init__(self, bench: Served, held: Phone, draw: random.Random) -> None:
        self.bench, self.held, self.draw = bench, held, draw
        self.begun: list[float] = []
        self.kept: list[float] = []
        self._serving, self._set = True, 1

    def work(self, kills: int) -> None:
        """Type readings until all kills are done; then let what waits be sent."""
        self._go()
        ready(self.held.page)
        for number in range(kills):
            self._set = 1 + number // KILLS_A_SET
            bench_too, phone_too = self.draw.choice(((True, False), (False, True), (True, True)))
            killer = threading.Timer(self.draw.uniform(0.0, 1.5), self._kill, (bench_too, phone_too))
            killer.start()
            self._type_for(2.0)
            killer.join()
            self._revive(phone_too)
        self._serve()
        self._go()
        nothing_waits(self.held.page)

    def _kill(self, bench_too: bool, phone_too: bool) -> None:
        if bench_too and self._serving:
            self.bench.kill()
            self._serving = False
        if phone_too:
            self.held.kill_processes()

    def _type_for(self, seconds: float) -> None:
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            seen_deg = round(20 + len(self.begun) / 1000, 3)
            self.begun.append(seen_deg)
            try:
                type_reading(self.held.page, seen_deg)
                said = re.compile(rf"Kept.*: {seen_deg:g} deg seen")
                expect(self.held.page.locator(".told-line")).to_have_text(said, timeout=5000)
            except (Error, AssertionError):
                # The page went on to another one meanwhile, or is gone; it did not say that this one is kept.
                time.sleep(0.05)
                if self.held.is_dead():
                    return
                continue
            self.kept.append(seen_deg)

    def _revive(self, phone_too: bool) -> None:
        # Now and then the workbench stays away for a while.
        if not self._serving and self.draw.random() < 0.6:
            self._serve()
        if phone_too:
            self.held.again()
        self._go()

    def _serve(self) -> None:
        if not self._serving:
            self.bench.again(same_port=True)
            self._serving = True

    def _go(self) -> None:
        self.held.page.goto(f"{self.bench.address}{LIGHT}?set={self._set}")


def worked(bench: Served, playwright: Playwright, tmp_path: Path, kills: int) -> Day:
    with phone(playwright, tmp_path) as held:
        day = Day(bench, held, random.Random(SEED))
        day.work(kills)
    there = Counter(in_store(tmp_path / "shop"))
    assert max(there.values()) == 1, "a reading is there twice"
    assert set(day.kept) <= set(there), "a reading that was said to be kept is lost"
    assert set(there) <= set(day.begun)
    return day


def test_no_kill_loses_a_reading_or_has_it_twice(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    day = worked(bench, playwright, tmp_path, 4)
    assert len(day.kept) >= 4


@pytest.mark.proof
def test_a_hundred_kills_lose_no_reading_and_have_none_twice(
    bench: Served, playwright: Playwright, tmp_path: Path
) -> None:
    day = worked(bench, playwright, tmp_path, KILLS)
    print(f"\n{KILLS} kills: {len(day.kept)} readings said to be kept, {len(day.begun)} begun")
    assert len(day.kept) >= 2 * KILLS
