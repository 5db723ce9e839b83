"""Debian's Firefox, driven by the protocol that it speaks itself: WebDriver BiDi (W3C), over a web socket.

The client of Playwright wants a newer Firefox than Debian's; what tests need of the protocol is little.
"""

from __future__ import annotations

import json
import re
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any
from urllib.parse import urlsplit

from websockets.sync.client import connect

from processes import end_whole

FIREFOX = Path("/usr/bin/firefox-esr")
"""Where Debian's package `firefox-esr` puts it."""
SLOWEST_S = 60.0
LOOKS_AGAIN_S = 0.05
PREFERENCES: dict[str, bool | int | str] = {
    # Nothing is asked of another host: whatever is not this machine goes to a proxy that isn't there.
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.proxy.no_proxies_on": "127.0.0.1, localhost",
    "app.update.enabled": False,
    "browser.aboutwelcome.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.page": 0,
    "browser.tabs.remote.autostart": True,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.enabled": False,
    "ui.prefersReducedMotion": 1,
}
FINGER: dict[str, bool | int | str] = {
    "ui.primaryPointerCapabilities": 1,
    "ui.allPointerCapabilities": 1,
    "dom.w3c_touch_events.enabled": 1,
}
"""A coarse pointer that can't hover, as Media Queries 4 has it."""
DARK: dict[str, bool | int | str] = {
    "ui.systemUsesDarkTheme": 1,
    "layout.css.prefers-color-scheme.content-override": 0,
}
KEYS = {"Enter": "\ue007", "Tab": "\ue004", "Escape": "\ue00c", "ArrowDown": "\ue015", "ArrowRight": "\ue014"}
SHIFT = "\ue008"


class RefusedError(Exception):
    """What the browser could not do."""


class Firefox:
    """One window, that takes note of what no page of ours may do."""

    def __init__(self, address: str, socket: Any) -> None:
        self.address = address
        self.faults: list[str] = []
        self._socket, self._asked = socket, 0
        wanted = {"capabilities": {"alwaysMatch": {"acceptInsecureCerts": True}}}
        self.do("session.new", **wanted)
        self.context = self.do("browsingContext.getTree")["contexts"][0]["context"]
        self.do("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])

    def do(self, method: str, **parameters: Any) -> Any:
        """Give one command and wait for its result."""
        self._asked += 1
        self._socket.send(json.dumps({"id": self._asked, "method": method, "params": parameters}))
        while True:
            said = json.loads(self._socket.recv(timeout=SLOWEST_S))
            if said["type"] == "event":
                self._note(said["method"], said["params"])
            elif said.get("id") == self._asked:
                if said["type"] == "error":
                    raise RefusedError(f"{method}: {said['message']}")
                return said["result"]

    def _note(self, event: str, told: dict[str, Any]) -> None:
        if event == "log.entryAdded" and told["level"] in ("error", "warn"):
            self.faults.append(str(told["text"]))
        if event == "network.beforeRequestSent":
            wanted = urlsplit(told["request"]["url"])
            if wanted.scheme in ("http", "https") and wanted.netloc != urlsplit(self.address).netloc:
                self.faults.append(f"asked {told['request']['url']}")

    def open(self, path: str) -> None:
        """Go to a page of the workbench."""
        self.do("browsingContext.navigate", context=self.context, url=self.address + path, wait="complete")

    def see_at(self, width: int, height: int, zoom: float = 1.0) -> None:
        """Give the window a size on the screen and a zoom."""
        self.do(
            "browsingContext.setViewport",
            context=self.context,
            viewport={"width": int(width / zoom), "height": int(height / zoom)},
            devicePixelRatio=zoom,
        )

    def ask(self, expression: str) -> Any:
        """Give the value of an expression in the page; a promise is waited for."""
        found = self.do(
            "script.callFunction",
            functionDeclaration=f"async () => JSON.stringify(await ({expression}) ?? null)",
            awaitPromise=True,
            target={"context": self.context},
        )
        if found["type"] == "exception":
            raise RefusedError(found["exceptionDetails"]["text"])
        return json.loads(found["result"]["value"])

    def wait_for(self, expression: str) -> Any:
        """Wait until an expression is true; gives its value."""
        ends, found = time.monotonic() + SLOWEST_S, None
        while not found:
            assert time.monotonic() < ends, f"never true: {expression}"
            try:
                found = self.ask(expression)
            except RefusedError:
                found = None  # the page has just gone
            if not found:
                time.sleep(LOOKS_AGAIN_S)
        return found

    def text(self, selector: str) -> str:
        """Give the text of the first element that a selector finds, once there is one."""
        return str(self.wait_for(f"document.querySelector({json.dumps(selector)})?.innerText.trim()"))

    def value(self, selector: str) -> str:
        """Give what stands in a field."""
        return str(self.ask(f"document.querySelector({json.dumps(selector)}).value"))

    def tap(self, selector: str) -> None:
        """Touch an element in its middle, once it can be seen."""
        self._point(selector, "touch")

    def click(self, selector: str) -> None:
        """Click on an element in its middle, once it can be seen."""
        self._point(selector, "mouse")

    def _point(self, selector: str, kind: str) -> None:
        found = f"document.querySelector({json.dumps(selector)})"
        self.wait_for(f"{found} && {found}.getClientRects().length > 0")
        x, y = self.ask(
            f"(() => {{ const it = {found}; it.scrollIntoView({{ block: 'center', inline: 'center' }});"
            " const box = it.getBoundingClientRect();"
            " return [Math.round(box.x + box.width / 2), Math.round(box.y + box.height / 2)]; })()"
        )
        self.do(
            "input.performActions",
            context=self.context,
            actions=[
                {
                    "type": "pointer",
                    "id": kind,
                    "parameters": {"pointerType": kind},
                    "actions": [
                        {"type": "pointerMove", "x": x, "y": y},
                        {"type": "pointerDown", "button": 0},
                        {"type": "pointerUp", "button": 0},
                    ],
                }
            ],
        )

    def press(self, *keys: str) -> None:
        """Press keys one after the other, by their names; `Shift+` holds that one meanwhile."""
        actions: list[dict[str, str]] = []
        for key in keys:
            name = key.removeprefix("Shift+")
            value = KEYS.get(name, name)
            shifted = key.startswith("Shift+")
            actions += [{"type": "keyDown", "value": SHIFT}] if shifted else []
            actions += [{"type": "keyDown", "value": value}, {"type": "keyUp", "value": value}]
            actions += [{"type": "keyUp", "value": SHIFT}] if shifted else []
        self.do(
            "input.performActions",
            context=self.context,
            actions=[{"type": "key", "id": "keys", "actions": actions}],
        )

    def fill(self, selector: str, text: str) -> None:
        """Type over what stands in a field."""
        self.wait_for(f"document.querySelector({json.dumps(selector)})?.getClientRects().length > 0")
        self.ask(
            f"(() => {{ const it = document.querySelector({json.dumps(selector)}); it.focus(); it.select?.();"
            " return true; })()"
        )
        self.press(*text)

    def is_wider_than_screen(self) -> bool:
        """Whether the page as a whole scrolls sideways."""
        root = "document.documentElement"
        return bool(self.ask(f"{root}.scrollWidth > {root}.clientWidth"))


@contextmanager
def firefox(address: str, *, finger: bool = False, dark: bool = False) -> Iterator[Firefox]:
    """Open a window on a workbench; when it closes, nothing of what no page may do has happened."""
    preferences = PREFERENCES | (FINGER if finger else {}) | (DARK if dark else {})
    with tempfile.TemporaryDirectory(prefix="firefox-", ignore_cleanup_errors=True) as profile:
        lines = [
            f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in preferences.items()
        ]
        Path(profile, "user.js").write_text("\n".join(lines), encoding="ascii")
        process = subprocess.Popen(
            [FIREFOX, "--headless", "--no-remote", "--profile", profile, "--remote-debugging-port", "0"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            process_group=0,
        )
        try:
            assert process.stderr is not None
            with connect(f"{_listening_at(process.stderr)}/session", max_size=None, proxy=None) as socket:
                window = Firefox(address, socket)
                yield window
                window.ask("true")  # what was said until now has been heard
        finally:
            end_whole(process, signal.SIGTERM)
    assert window.faults == []


def _listening_at(said: IO[str]) -> str:
    for line in said:
        found = re.search(r"WebDriver BiDi listening on (ws://\S+)", line)
        if found:
            return found[1]
    raise RuntimeError("Firefox did not start.")
