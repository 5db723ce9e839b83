"""The whole job, done in a real browser as a person does it, and once more by keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from playwright.sync_api import Browser, Page, expect

from browser import window
from workbench import PUMP_HOUSE

if TYPE_CHECKING:
    from real_workbench import Served

FACTS = {
    "engine.firing_order": "1 5 7 2 6 3 4 8",
    "engine.bore": "3.921 in",
    "engine.stroke": "3.618 in",
    "engine.compression_ratio": "9",
    "cam.at_lift": "0.050 in",
    "cam.intake_duration_deg": "207",
    "cam.exhaust_duration_deg": "213",
    "cam.intake_centreline_deg": "108",
    "cam.lobe_separation_deg": "111.5",
    "fuel.ron": "95",
    "distributor.base_deg": "10",
}
CHOICES = {
    "engine.cylinders": "8",
    "engine.layout": "v",
    "induction.kind": "natural",
    "distributor.rotation": "clockwise",
    "distributor.advance": "locked",
    "distributor.cap_size": "medium",
    "pickup.kind": "two-wire",
    "driver.kind": "inductive",
}
"""What the short form asks of an engine like the invented one of the examples."""

OPEN_FACTS = {
    "site.altitude": "1450 m",
    "engine.redline_rpm": "5000",
    "distributor.rotor_phase_deg": "0",
    "distributor.tip_width": "5.6 mm",
    "distributor.post_width": "2.5 mm",
    "coil.primary_resistance": "0.7 ohm",
    "coil.primary_inductance": "4 mH",
    "coil.turns_ratio": "85",
    "plugs.gap": "0.035 in",
}
OPEN_CHOICES = {"engine.chamber": "wedge", "engine.head": "iron"}
"""What it leaves open; its rotor is unphased."""


def of(page: Page, name: str) -> str:
    return f"[id='{name.replace('.', '-')}']"


def test_from_nothing_to_a_signed_card(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = here.open("/")
        here.job(PUMP_HOUSE, "Another engine")  # so that a copy is offered too, by a form of its own
        page.get_by_role("link", name="New job").click()
        page.fill("#name", "Mill engine")
        for name, value in CHOICES.items():
            page.select_option(of(page, name), value)
        for name, value in FACTS.items():
            page.fill(of(page, name), value)

        # One mistake, told beside the field while it is typed, and again when it is saved all the same.
        page.fill(of(page, "engine.bore"), "3.921 lb")
        beside = page.locator("#said-engine-bore")
        expect(beside).to_contain_text("“3.921 lb” has no known unit of length")
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Create the job").last.click()
        expect(page.get_by_role("alert")).to_contain_text("Not saved yet: 1 thing has to be put right.")
        expect(page.locator(of(page, "engine.stroke"))).to_have_value("3.618 in")
        page.locator("#problems").get_by_role("link", name="Bore").click()
        expect(page.locator(of(page, "engine.bore"))).to_be_focused()
        page.fill(of(page, "engine.bore"), "3.921 in")
        expect(beside).to_contain_text("99.5934 mm")
        page.get_by_role("button", name="Create the job").last.click()
        page.wait_for_url(re.compile("/jobs/mill-engine/engine"))

        # Planned from that, the open facts stand by what they cost; each leads to the next.
        page.locator("#first").get_by_role("link").first.click()
        for name in ("engine.chamber", "distributor.rotor_phase_deg"):
            page.wait_for_url(re.compile(f"/fact/{name}$"))
            expect(page.locator("h1")).to_contain_text("is assumed; the guess may cost")
            if name in OPEN_CHOICES:
                page.select_option(of(page, name), OPEN_CHOICES[name])
            else:
                page.fill(of(page, name), OPEN_FACTS[name])
            page.get_by_role("button", name="Save").last.click()
        expect(page.locator("h1")).not_to_contain_text("Rotor phase")
        expect(page.locator("header")).to_contain_text("revision 3")

        # Told that the rotor can't reach.
        steps = page.get_by_role("navigation", name="Steps of the work")
        steps.get_by_role("link", name="Ignition").click()
        expect(page.locator("h1")).to_contain_text(re.compile(r"The rotor runs out at \d+ deg"))

        # It is rephased on the cap as the page proposes, and the map moves.
        page.get_by_role("link", name="Try the phase that suits").click()
        expect(page.get_by_role("link", name="Try the phase that suits")).to_have_count(0)
        assert float(page.input_value("#phase")) != 0.0
        page.get_by_role("button", name="Save this phase and base").click()
        expect(page.locator("header")).to_contain_text("revision 4")
        page.get_by_role("link", name="History and files").click()
        page.get_by_role("button", name="Compare the two").click()
        expect(page.locator("h1")).to_contain_text("1 fact changed")
        expect(page.locator("#moved .on-wide svg").first).to_be_visible()

        # Handed over: every sentence ticked, signed, and fixed.
        steps.get_by_role("link", name="Hand over").click()
        page.fill("#who", "A. Example")
        page.get_by_role("button", name="Sign and hand over").click()
        expect(page.locator("#refused")).to_contain_text("must all be read and ticked")
        for box in page.locator("input[name=read]").all():
            box.check()
        page.fill("#signed_for", "C. Driver")
        page.get_by_role("button", name="Sign and hand over").click()
        expect(page.locator("h1")).to_contain_text("Revision 4 was handed over by A. Example")

        # Printed: the card alone, and as a file.
        page.emulate_media(media="print")
        expect(page.locator("header.top")).to_be_hidden()
        assert page.pdf().startswith(b"%PDF")
        page.emulate_media(media="screen")
        address = page.get_by_role("link", name="Card as PDF").get_attribute("href")
        card = here.context.request.get(f"{bench.address}{address}")
        assert card.body().startswith(b"%PDF")
        steps.get_by_role("link", name="Map").click()
        with page.expect_download() as download:
            page.get_by_role("link", name="CSV").click()
        assert download.value.path().read_text().count("\n") == 17


MOST_STEPS = 1000
"""Presses of Tab within which everything on a page must come."""


class Keys:
    """A person without a mouse."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def at(self) -> dict[str, str]:
        """Say what has the focus."""
        found: dict[str, str] = self.page.evaluate(
            """() => {
                const at = document.activeElement;
                return {
                    id: at.id, name: at.name || "", value: at.value || "", kind: at.type || at.localName,
                    text: (at.textContent || "").trim().replace(/\\s+/g, " "), cell: at.dataset.row || "",
                };
            }"""
        )
        return found

    def tab_to(self, wanted: Callable[[dict[str, str]], bool], key: str = "Tab") -> dict[str, str]:
        """Press Tab until what is wanted has the focus."""
        for _ in range(MOST_STEPS):
            self.page.keyboard.press(key)
            at = self.at()
            if wanted(at):
                return at
        raise AssertionError("Tab never came to it")

    def to_text(self, start: str, key: str = "Tab") -> None:
        self.tab_to(lambda at: at["text"].startswith(start), key)

    def to_id(self, name: str, key: str = "Tab") -> None:
        self.tab_to(lambda at: at["id"] == name, key)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)

    def choose(self, words: str) -> None:
        """Choose in a list by the first letters of what it says."""
        self.page.keyboard.type(words)


def test_everything_by_keyboard_alone(bench: Served, chromium: Browser) -> None:
    with window(chromium, bench.address) as here:
        page = here.open("/")
        keys = Keys(page)
        keys.to_text("New job")
        keys.press("Enter")
        expect(page.locator("h1")).to_contain_text("A new job")
        keys.to_text("Begin another way")
        keys.press("Enter")
        keys.to_text("All facts on one page")
        keys.press("Enter")
        expect(page.locator("h1")).to_contain_text("all facts on one page")
        open_fields = {"name": "Quarry engine", **FACTS, **OPEN_FACTS}
        choices = CHOICES | OPEN_CHOICES
        while open_fields:
            at = keys.tab_to(lambda at: at["name"] in open_fields or at["name"] in choices)
            if at["name"] in choices:
                option = page.locator(f"{of(page, at['name'])} option[value='{choices[at['name']]}']")
                keys.choose(option.inner_text())
            else:
                keys.type(open_fields.pop(at["name"]))
        keys.tab_to(lambda at: at["name"] == "who")
        keys.type("A. Example")
        keys.press("Enter")
        page.wait_for_url(re.compile("/jobs/quarry-engine"))

        # The rotor is moved by the slider's arrow keys, and saved.
        keys.to_text("Ignition")
        keys.press("Enter")
        expect(page.locator("h1")).to_contain_text("The rotor runs out")
        keys.to_text("Try the phase that suits")
        keys.press("Enter")
        expect(page.locator("#phase")).to_be_focused()
        keys.press("Tab", "ArrowRight")
        expect(page.locator("#cap-first")).to_be_visible()
        keys.to_id("who-cap")
        keys.press("Enter")
        expect(page.locator("header")).to_contain_text("revision 2")

        # The map: typed over, a range selected, undone, redone, saved with a reason.
        keys.to_text("Map")
        keys.press("Enter")
        expect(page.locator("#map-grid")).to_be_visible()
        keys.tab_to(lambda at: at["cell"] != "")
        keys.press("Control+Home", *["ArrowDown"] * 6, "ArrowRight", "ArrowRight", "ArrowRight")
        cell = page.locator("#map-grid td:focus")
        before = cell.inner_text()
        place = "[data-row='9'][data-column='3']"
        expect(page.locator(f"td{place}")).to_be_focused()
        keys.type("9")
        keys.press("Enter")
        expect(page.locator(f"td{place}")).to_have_text("9")
        keys.press("Control+z")
        expect(page.locator(f"td{place}")).to_have_text(before)
        keys.press("Control+y")
        expect(page.locator(f"td{place}")).to_have_text("9")
        keys.press("Shift+ArrowRight", "Shift+ArrowDown")
        expect(page.locator("#map-grid [aria-selected='true']")).to_have_count(4)
        keys.to_id("tool-value", "Shift+Tab")
        keys.type("1")
        keys.press("ArrowRight", "ArrowRight")
        expect(page.get_by_role("button", name="Add", exact=True)).to_be_focused()
        keys.press("Enter")
        expect(page.locator("#pending")).to_contain_text("5 cells")
        keys.to_id("why-changed")
        keys.type("Heard at the pump")
        keys.press("Enter")
        expect(page.locator("header")).to_contain_text("revision 3")
        expect(page.locator("#map-grid .by-hand")).to_have_count(5)

        # Handed over.
        keys.to_text("Hand over")
        keys.press("Enter")
        expect(page.locator("h1")).to_contain_text("Revision 3 is not handed over yet.")
        for _ in range(page.locator("input[name=read]").count()):
            keys.tab_to(lambda at: at["name"] == "read")
            keys.press("Space")
        keys.to_id("signed_for")
        keys.press("Enter")
        expect(page.locator("h1")).to_contain_text("Revision 3 was handed over by A. Example")
