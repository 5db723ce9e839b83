"""A person's window on the workbench, in a real browser, that takes note of everything it should not see."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request, expect

SLOWEST_MS = 30_000
"""How long a person's patience may last on a busy machine; no speed is measured here."""
QUIET_MS, LOOKS_AGAIN_MS = 150, 25
"""So long nothing is fetched before a page counts as whole; Playwright's own `networkidle` takes 500 ms."""
DESKTOP, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844}
SIZES = {
    "a small phone": (320, 664, 1.0),
    "a phone": (390, 844, 1.0),
    "a tablet": (768, 1024, 1.0),
    "a desk": (1280, 900, 1.0),
    "a desk at 200 %": (1280, 900, 2.0),
}
"""Width and height of the window on the screen, and the zoom of the page in it."""
REFUSALS = ("401", "404", "409", "422")
"""Answers that say no to a person; a browser's console notes them like faults."""

expect.set_options(timeout=SLOWEST_MS)


@dataclass
class Window:
    """One browser window with cookies of its own."""

    address: str
    context: BrowserContext
    page: Page
    faults: list[str] = field(default_factory=list)
    """What no page of ours may do: faults in scripts, refusals of the policy, requests to other hosts."""
    requests: list[Request] = field(default_factory=list)
    under_way: set[Request] = field(default_factory=set)

    def open(self, path: str) -> Page:
        """Go to a page of the workbench."""
        self.under_way.clear()
        self.page.goto(self.address + path)
        return self.page

    def settle(self) -> None:
        """Wait until nothing is worked out or fetched any more."""
        self.page.wait_for_load_state()
        expect(self.page.get_by_text("being worked out")).to_have_count(0)
        ends_s = time.monotonic() + SLOWEST_MS / 1000
        quiet_ms = 0
        while quiet_ms < QUIET_MS:
            assert time.monotonic() < ends_s, f"still fetched: {[each.url for each in self.under_way]}"
            self.page.wait_for_timeout(LOOKS_AGAIN_MS)
            quiet_ms = 0 if self.under_way else quiet_ms + LOOKS_AGAIN_MS

    def ask(self, path: str, sent: dict[str, Any], method: str = "POST") -> Any:
        """Ask the API under the pages, to prepare what a test is not about."""
        answer = self.context.request.fetch(self.address + path, method=method, data=sent)
        assert answer.ok, answer.text()
        return answer.json()

    def job(self, text: str, name: str) -> str:
        """Begin a job from its file under another name; gives its key."""
        first, rest = text.split("\nname = ", 1)
        text = f'{first}\nname = "{name}"\n{rest.partition(chr(10))[2]}'
        return str(self.ask("/api/v1/jobs", {"text": text, "who": "A. Example"})["key"])

    def is_wider_than_screen(self) -> bool:
        """Whether the page as a whole scrolls sideways."""
        script = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
        return bool(self.page.evaluate(script))

    def hear(self, message: ConsoleMessage) -> None:
        """Take note of what stands in the console."""
        refused = message.text.startswith("Failed to load resource") and any(
            f"status of {status}" in message.text for status in REFUSALS
        )
        # A window that is not about working offline lets no worker in, and its browser notes that.
        shut_out = message.text.startswith("Service Worker registration blocked")
        if message.type in ("error", "warning") and not refused and not shut_out:
            self.faults.append(f"{message.text} at {self.page.url}")

    def see(self, request: Request) -> None:
        """Take note of a request."""
        self.requests.append(request)
        self.under_way.add(request)
        wanted, ours = urlsplit(request.url), urlsplit(self.address)
        if wanted.scheme not in ("data", "blob", "about") and wanted.netloc != ours.netloc:
            self.faults.append(f"asked {request.url}")

    def forget(self, request: Request) -> None:
        """Take note that a request has ended, however it did."""
        self.under_way.discard(request)


@contextmanager
def window(
    browser: Browser,
    address: str,
    *,
    phone: bool = False,
    dark: bool = False,
    script: bool = True,
    with_axe: bool = False,
    offline: bool = False,
) -> Iterator[Window]:
    """Open a window; when it closes, nothing of what no page may do has happened.

    What makes pages open offline answers in the workbench's place, so only tests that are about it let it in.
    """
    context = browser.new_context(
        viewport=PHONE if phone else DESKTOP,  # type: ignore[arg-type]
        has_touch=phone,
        is_mobile=phone,
        color_scheme="dark" if dark else "light",
        reduced_motion="reduce",
        java_script_enabled=script,
        bypass_csp=with_axe,
        permissions=["clipboard-read", "clipboard-write"],
        service_workers="allow" if offline else "block",
    )
    context.set_default_timeout(SLOWEST_MS)
    opened = Window(address, context, context.new_page())
    context.on("console", opened.hear)
    context.on("weberror", lambda problem: opened.faults.append(str(problem.error)))
    context.on("request", opened.see)
    context.on("requestfinished", opened.forget)
    context.on("requestfailed", opened.forget)
    try:
        yield opened
    finally:
        context.close()
    assert opened.faults == []


def violations(page: Page, only: Sequence[str] = ()) -> list[str]:
    """Name what axe-core finds against the Web Content Accessibility Guidelines and its best practices.

    Parameters
    ----------
    only : sequence of str
        Names of the rules to look by; all of them when not given.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    # The card in its frame is looked at as a page of its own.
    options: dict[str, Any] = {"resultTypes": ["violations"], "iframes": False}
    if only:
        options["runOnly"] = {"type": "rule", "values": list(only)}
    found: list[str] = page.evaluate(
        """async (options) => (await axe.run(document, options)).violations.flatMap((each) =>
            each.nodes.map((node) => `${each.id}: ${node.target} ${node.html.slice(0, 120)}`))""",
        options,
    )
    return found
