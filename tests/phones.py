"""A phone whose browser can be killed: Chromium in a process of its own, with a profile that outlives it."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from playwright.sync_api import Error, Page, Playwright

from browser import PHONE, SLOWEST_MS
from real_workbench import CHROMIUM, CHROMIUM_ARGUMENTS

STARTS_WITHIN_S = 60.0


class Phone:
    """One browser with a profile on disk, and one page in it."""

    def __init__(self, playwright: Playwright, profile: Path, *arguments: str) -> None:
        self._playwright, self._profile, self._arguments = playwright, profile, arguments
        self.page = self._start()

    def _start(self) -> Page:
        told = self._profile / "DevToolsActivePort"
        told.unlink(missing_ok=True)
        self._process = subprocess.Popen(
            [
                CHROMIUM,
                *CHROMIUM_ARGUMENTS,
                "--headless=new",
                "--remote-debugging-port=0",
                f"--user-data-dir={self._profile}",
                f"--window-size={PHONE['width']},{PHONE['height']}",
                *self._arguments,
                "about:blank",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        ends = time.monotonic() + STARTS_WITHIN_S
        while not (told.exists() and told.read_text().count("\n")):
            assert time.monotonic() < ends, "the browser did not start"
            time.sleep(0.02)
        port = told.read_text().splitlines()[0]
        self._browser = self._playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        page = self._browser.contexts[0].pages[0]
        page.set_default_timeout(SLOWEST_MS)
        return page

    def kill(self) -> None:
        """Kill every process of the browser, as an empty battery does."""
        self.kill_processes()
        with suppress(Error):
            self._browser.close()

    def kill_processes(self) -> None:
        """Kill them from another thread than the one that drives the browser."""
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def is_dead(self) -> bool:
        """Whether the browser was killed."""
        return self._process.poll() is not None

    def again(self) -> None:
        """Start it anew over what the disk has."""
        with suppress(Error):
            self._browser.close()
        for lock in self._profile.glob("Singleton*"):
            lock.unlink()
        self.page = self._start()


@contextmanager
def phone(playwright: Playwright, folder: Path, *arguments: str) -> Iterator[Phone]:
    """Have a phone until the block ends."""
    profile = folder / "profile"
    profile.mkdir()
    held = Phone(playwright, profile, *arguments)
    try:
        yield held
    finally:
        with suppress(ProcessLookupError):
            held.kill()
        shutil.rmtree(profile, ignore_errors=True)
