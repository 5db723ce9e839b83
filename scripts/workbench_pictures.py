"""Draw the workbench at work into docs/pictures: the demo job, wide and narrow, light and dark."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, expect, sync_playwright

from real_workbench import Served, open_chromium, served, shop_folder
from sparkwright.evidence.kinds import LightReading
from sparkwright.light.readings import Reading
from sparkwright.shop import open_shop

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "examples" / "pump-house-v8.toml"
PICTURES = ROOT / "docs" / "pictures"

DESKTOP, PHONE = (1280, 800), (390, 844)
READINGS = ((1000, 29.6), (1500, 29.1), (2000, 28.6), (3000, 27.8))
"""Speed and degrees seen at 30 commanded; invented."""
VIEWS = (
    ("map", "/jobs/{key}/map", DESKTOP, "light", "main"),
    ("map-dark", "/jobs/{key}/map", DESKTOP, "dark", "main"),
    ("cells", "/jobs/{key}/map", (1180, 700), "light", "#map-grid"),
    ("ignition", "/jobs/{key}/ignition?number=1", DESKTOP, "light", "#of-cap"),
    ("moved", "/jobs/{key}/compare?old=1&new=2", DESKTOP, "light", "main"),
    ("map-phone-dark", "/jobs/{key}/map", PHONE, "dark", "#map-grid"),
)
"""Name, address, size of the screen, brightness, and what the picture begins with."""


def prepare(place: Path) -> str:
    """Make a store with the demo job, its rotor moved, and readings; gives the job's key."""
    text = EXAMPLE.read_text(encoding="utf-8")
    with open_shop(place) as shop:
        key = shop.jobs.create(text, who="A. Example", why="engine came in").key
        phased = text.replace("rotor_phase_deg = 0", "rotor_phase_deg = 7.5")
        shop.jobs.save(key, phased, who="A. Example", why="Moved the rotor's tip", based_on=1)
        for speed_rpm, seen_deg in READINGS:
            seen = LightReading(Reading(30.0, speed_rpm, seen_deg))
            shop.evidence.add(key, seen, who="A. Example")
    return key


def settled(page: Page) -> None:
    """Wait until the page is drawn whole."""
    page.wait_for_load_state("networkidle")
    expect(page.get_by_text("being worked out")).to_have_count(0, timeout=60_000)


def draw(browser: Browser, server: Served, key: str, folder: Path) -> None:
    """Take each picture."""
    for name, path, (width, height), brightness, first in VIEWS:
        page = browser.new_page(
            viewport={"width": width, "height": height},
            color_scheme="dark" if brightness == "dark" else "light",
            has_touch=width < 600,
            is_mobile=width < 600,
        )
        page.goto(server.address + path.format(key=key))
        settled(page)
        if first == "#map-grid":
            page.locator("#map-grid td[data-row='8'][data-column='10']").click()
            page.wait_for_load_state("networkidle")
        above = "0" if first == "main" else "scrollY + element.getBoundingClientRect().top - 200"
        page.locator(first).evaluate(f"element => window.scrollTo(0, {above})")
        page.wait_for_timeout(300)
        taken = folder / f"workbench-{name}.png"
        page.screenshot(path=taken, animations="disabled")
        subprocess.run(["pngquant", "--force", "--output", taken, "--quality", "90-100", taken], check=True)
        page.close()


def main() -> None:
    """Draw them all, into another folder where one is given."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    folder.mkdir(parents=True, exist_ok=True)
    with shop_folder() as place:
        key = prepare(place)
        with served(place) as server, sync_playwright() as playwright:
            browser = open_chromium(playwright)
            draw(browser, server, key, folder)
            browser.close()


if __name__ == "__main__":
    main()
