"""The mark page and its sheets in a real browser: by axe-core, on a phone, in the dark, without script."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from playwright.sync_api import Browser

from browser import violations, window
from real_workbench import Served
from workbench import PUMP_HOUSE

READ = {"one_1": "27 before", "other_1": "31 after", "one_2": "33 before", "other_2": "27 after"}
PLACES = {
    "found": f"?{urlencode(READ)}",
    "refused": "?one_1=27",
    "tape": "/timing-tape?diameter=7.24+in",
    "ring": "/degree-ring?diameter=9+in&hole=40+mm",
    "day": "/day?seen=4+before&housing_diameter=80+mm",
}


@pytest.mark.parametrize(("phone", "dark"), [(False, True), (True, False)])
def test_its_pages_can_be_read_by_everybody(
    bench: Served, chromium: Browser, phone: bool, dark: bool
) -> None:
    with window(chromium, bench.address, phone=phone, dark=dark, with_axe=True) as here:
        key = here.job(PUMP_HOUSE, f"Marked engine {phone}")
        planned = here.context.request.get(f"{bench.address}/api/v1/jobs/{key}/plan")
        assert planned.ok
        found = {}
        for name, place in PLACES.items():
            page = here.open(f"/jobs/{key}/mark{place}")
            found[name] = violations(page), here.is_wider_than_screen()
        assert found == dict.fromkeys(PLACES, ([], False))


def test_a_mark_is_proved_without_script(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address, script=False) as here:
        key = here.job(PUMP_HOUSE, "Plain marked engine")
        page = here.open(f"/jobs/{key}/mark")
        page.fill("#one_1", "27 before")
        page.fill("#other_1", "31 after")
        page.get_by_role("button", name="Find true top dead centre").click()
        assert page.inner_text("h1").startswith("At true top dead centre the mark shows 2.0 deg after")
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Keep this").click()
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="It is set right").click()
        assert page.inner_text("h1") == (
            "The mark was proved at the piston: at true top dead centre it shows 0."
        )
