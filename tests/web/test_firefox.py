"""Light, map and mark in a second browser engine: worked by finger and keys, for everybody, at every size."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from browser import SIZES
from firefox import FIREFOX, Firefox, firefox
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

pytestmark = pytest.mark.skipif(
    not FIREFOX.exists(), reason="Firefox is not installed; Debian's package is firefox-esr"
)


def asked(bench: Served, path: str, sent: dict[str, Any] | None = None) -> Any:
    """Ask the API under the pages."""
    body = None if sent is None else json.dumps(sent).encode()
    request = urllib.request.Request(bench.address + path, body, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=120) as answer:
        return json.load(answer)


def new_job(bench: Served, name: str) -> str:
    text = PUMP_HOUSE.replace(PUMP_HOUSE.split("\nname = ")[1].partition("\n")[0], f'"{name}"', 1)
    return str(asked(bench, "/api/v1/jobs", {"text": text, "who": "A. Example"})["key"])


def read_lights(bench: Served, key: str) -> None:
    for speed_rpm, seen_deg in ((1000, 29.6), (2000, 28.4), (3000, 27.5)):
        reading = {"commanded_deg": 30, "speed_rpm": speed_rpm, "seen_deg": seen_deg, "who": "A. Example"}
        asked(bench, f"/api/v1/jobs/{key}/readings", reading)


def violations(here: Firefox) -> list[str]:
    """Name what axe-core finds, as in the other browser."""
    if not here.ask("'axe' in window"):
        here.do(
            "script.evaluate",
            expression=Axe().axe_script,
            awaitPromise=False,
            target={"context": here.context},
        )
    found: list[str] = here.ask(
        "axe.run(document, { resultTypes: ['violations'], iframes: false }).then((found) =>"
        " found.violations.flatMap((each) => each.nodes.map((node) => `${each.id}: ${node.target}`)))"
    )
    return found


def begins(here: Firefox, selector: str, words: str) -> None:
    """Wait until the text of an element begins with these words."""
    here.wait_for(
        f"document.querySelector({json.dumps(selector)})?.innerText.startsWith({json.dumps(words)})"
    )


def test_readings_are_kept_with_one_thumb(bench: Served) -> None:
    key = new_job(bench, "Second engine, lit")
    with firefox(bench.address, finger=True) as here:
        here.see_at(390, 844)
        here.open(f"/jobs/{key}/light")
        here.fill("#who", "A. Example")
        here.tap("#speed_rpm")
        for figure in ("1", "5", "0", "0"):
            here.tap(f".key-{figure}")
        assert here.value("#speed_rpm") == "1500"
        assert here.ask("[...document.querySelectorAll('.three .aimed')].map((each) => each.id)") == [
            "speed_rpm"
        ]
        here.tap("#seen_deg")
        here.tap(".key-2")
        here.tap(".key-8")
        here.tap(".wide-button")
        begins(here, ".told-line", "Kept: 28 deg seen at 1,500 rpm.")
        assert here.ask("document.querySelectorAll('[aria-label=Readings] tbody tr').length") == 1
        here.tap("[aria-label=Readings] tbody button")
        here.wait_for(
            "document.querySelector('tr.taken-back')?.innerText.includes('taken back by A. Example')"
        )
    readings = asked(bench, f"/api/v1/jobs/{key}/readings")
    assert readings["readings"] == []


def test_a_reading_waits_for_a_workbench_that_is_away_and_the_page_opens_without_it(tmp_path: Path) -> None:
    from real_workbench import served

    with served(tmp_path / "shop") as bench:
        key = new_job(bench, "Second engine, away")
        with firefox(bench.address) as here:
            here.open(f"/jobs/{key}/light")
            here.wait_for("navigator.serviceWorker.controller !== null")
            here.fill("#who", "A. Example")
            bench.kill()
            for seen in ("29", "28"):
                here.fill("#seen_deg", seen)
                here.click(".wide-button")
                begins(here, ".told-line", f"Kept in this browser: {seen} deg")
                here.open(f"/jobs/{key}/light")
                begins(here, "h1", "The workbench doesn't answer")
            begins(here, "#waiting", "2 readings wait")
            bench.again(same_port=True)
            here.wait_for("document.querySelectorAll('[aria-label=Readings] tbody tr').length === 2")
            here.wait_for("document.querySelector('#waiting[data-now]').hidden")
            # What a network that is away makes a browser note is no fault of the page.
            here.faults.clear()
        kept = [each["seen_deg"] for each in asked(bench, f"/api/v1/jobs/{key}/readings")["readings"]]
        assert sorted(kept) == [28, 29]


def test_cells_are_worked_by_keyboard_and_saved(bench: Served) -> None:
    key = new_job(bench, "Second engine, mapped")
    asked(bench, f"/api/v1/jobs/{key}/plan")
    cell = "#map-grid td[data-row='8'][data-column='5']"
    with firefox(bench.address) as here:
        here.see_at(1280, 900)
        here.open(f"/jobs/{key}/map")
        here.wait_for("!document.querySelector('#map-tools').hidden")
        here.click(cell)
        here.wait_for("document.querySelector('#why').innerText.includes('1,650 rpm, 56 kPa')")
        here.press("2", "4", "Enter")
        here.wait_for(f"document.querySelector(\"{cell}\").innerText === '24'")
        assert here.ask("document.activeElement.dataset.row") == "7"
        here.press("Shift+ArrowRight", "Shift+ArrowDown")
        assert here.ask("document.querySelectorAll('#map-grid [aria-selected=true]').length") == 4
        here.wait_for("!document.querySelector('#save').hidden")
        here.fill("#who", "A. Example")
        here.fill("#reason", "Tried on the engine")
        here.click("#save button.main")
        here.wait_for("document.querySelector('header').innerText.includes('revision 2')")
    saved = asked(bench, f"/api/v1/jobs/{key}")
    assert saved["number"] == 2
    assert "24" in saved["text"].partition("hand = [")[2]


def test_a_mark_is_proved(bench: Served) -> None:
    key = new_job(bench, "Second engine, marked")
    with firefox(bench.address, finger=True) as here:
        here.see_at(390, 844)
        here.open(f"/jobs/{key}/mark")
        here.fill("#one_1", "27 before")
        here.fill("#other_1", "31 after")
        here.tap("main form .wide-button")
        begins(here, "h1", "At true top dead centre the mark shows 2.0")
        here.fill("#who", "A. Example")
        here.tap("main button[value=save]")
        begins(here, "h1", "The mark is known to be off")


def map_at_work(here: Firefox) -> None:
    here.wait_for("!document.querySelector('#map-tools').hidden")
    here.click("#map-grid td[data-row='8'][data-column='8']")
    here.press("2", "0", "Enter")
    here.wait_for("!document.querySelector('#save').hidden")


PAGES: dict[str, tuple[str, Callable[[Firefox], None]]] = {
    "light": ("light", lambda here: None),
    "map": ("map", map_at_work),
    "mark": ("mark?one_1=27+before&other_1=31+after", lambda here: None),
    "cap, rotor, body": ("mark/day?seen=4+before", lambda here: None),
}


@pytest.mark.parametrize(("finger", "dark"), [(True, False), (False, True)])
def test_pages_are_for_everybody_at_every_size(bench: Served, finger: bool, dark: bool) -> None:
    key = new_job(bench, f"Second engine, seen {dark}")
    asked(bench, f"/api/v1/jobs/{key}/plan")
    read_lights(bench, key)
    found: list[str] = []
    with firefox(bench.address, finger=finger, dark=dark) as here:
        for name, (place, act) in PAGES.items():
            here.open(f"/jobs/{key}/{place}")
            act(here)
            for size, (width, height, zoom) in SIZES.items():
                here.see_at(width, height, zoom)
                found += [f"{name}, {size}: {each}" for each in violations(here)]
                if here.is_wider_than_screen():
                    found.append(f"{name}, {size}: the page scrolls sideways")
            here.see_at(1280, 900)
    assert found == []
