"""The same job in a browser without script: every page is plain HTML first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from playwright.sync_api import Browser, expect

from browser import Window, window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served


def see_map(here: Window) -> None:
    """Ask for the map until it is worked out, as a person does whose browser does not do it for them."""
    for _ in range(120):
        page = here.open("/jobs/plain-engine/map")
        if page.locator("#plain-do").count():
            return
        page.wait_for_timeout(250)
    raise AssertionError("the plan never came")


def test_a_job_is_done_without_script(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, script=False) as here:
        copied = here.job(PUMP_HOUSE, "Plain first")
        page = here.open(f"/new?copy={copied}")
        page.fill("#name", "Plain engine")
        page.fill("[id='engine-bore']", "wide")
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Create the job").last.click()
        expect(page.get_by_role("alert")).to_contain_text("Not saved yet")
        expect(page.locator("#name")).to_have_value("Plain engine")
        page.fill("[id='engine-bore']", "3.921 in")
        page.get_by_role("button", name="Create the job").last.click()
        page.wait_for_url(re.compile("/jobs/plain-engine"))

        # Facts and the cap: numbers in place of sliders, and a button to show them.
        page = here.open("/jobs/plain-engine/ignition")
        page.fill("#phase", "8")
        page.get_by_role("button", name="Show", exact=True).click()
        expect(page.locator("#phase")).to_have_value("8")
        page.fill("#who-cap", "A. Example")
        page.get_by_role("button", name="Save this phase and base").click()
        expect(page.locator("header")).to_contain_text("revision 2")

        # A cell set, and why another one has its value.
        see_map(here)
        page.select_option("#plain-rpm", label="1,950 rpm")
        page.select_option("#plain-to_rpm", label="1,950 rpm")
        page.select_option("#plain-kpa", label="56 kPa")
        page.select_option("#plain-to_kpa", label="56 kPa")
        page.fill("#plain-text", "24")
        page.get_by_role("button", name="Change and save as revision 3").click()
        expect(page.locator("header")).to_contain_text("revision 3")
        see_map(here)
        changed = page.locator("td[aria-label^='1,950 rpm, 56 kPa:']")
        expect(changed).to_have_text("24")
        expect(changed).to_have_class(re.compile(r"\bhand\b"))
        page.select_option("#plain-column", label="1,950 rpm")
        page.select_option("#plain-row", label="56 kPa")
        page.get_by_role("button", name="Say why").click()
        expect(page.locator("#why")).to_contain_text("Set by A. Example")

        # A reading, and the signature.
        page = here.open("/jobs/plain-engine/light")
        page.fill("#speed_rpm", "1000")
        page.fill("#commanded_deg", "30")
        page.fill("#seen_deg", "29.5")
        page.get_by_role("button", name="Keep this reading").click()
        expect(page.get_by_role("region", name="Readings").locator("tbody tr")).to_have_count(1)
        page = here.open("/jobs/plain-engine/hand-over")
        for box in page.locator("input[name=read]").all():
            box.check()
        page.get_by_role("button", name="Sign and hand over").click()
        expect(page.locator("h1")).to_contain_text("Revision 3 was handed over by A. Example")
