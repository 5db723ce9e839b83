"""A workbench as people have it: `sparkwright serve` in a process of its own, and a real browser before it.

For the tests in a browser, the measurements of the workbench and the pictures of it.
"""

from __future__ import annotations

import os
import re
import signal
import ssl
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from playwright.sync_api import Browser, Playwright

from processes import end_whole

COMMAND = Path(sys.executable).with_name("sparkwright")
CHROMIUM = Path("/usr/bin/chromium")
"""Where Debian's package `chromium` puts it."""
CHROMIUM_ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""No sandbox, since a container gives none; and nothing that asks another host of its own accord."""

STARTS_WITHIN_S = 90.0


class Served:
    """A serving process and where it is found; its log lies beside the store, or where it is told to."""

    def __init__(self, place: Path | str, *arguments: str, log_in: Path | None = None) -> None:
        self._place, self._arguments = place, arguments
        self._log_in = log_in or Path(place).parent
        self.process, self.address = self._start()

    def _start(self, port: int = 0) -> tuple[subprocess.Popen[str], str]:
        with (self._log_in / "serve.log").open("a") as log:
            process = subprocess.Popen(
                [
                    COMMAND,
                    "serve",
                    "--shop",
                    self._place,
                    "--port",
                    str(port),
                    "--no-browser",
                    *self._arguments,
                ],
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env=os.environ | {"PYTHONUNBUFFERED": "1"},
                process_group=0,
            )
        assert process.stdout is not None
        address = ""
        try:
            address = _said_address(process.stdout)
        finally:
            if not address:
                end_whole(process, signal.SIGKILL)
        if not address:
            raise RuntimeError("The workbench did not start; its log is serve.log beside the store.")
        return process, address

    def kill(self) -> None:
        """Kill the process, as a power cut does."""
        end_whole(self.process, signal.SIGKILL)

    def stop(self) -> None:
        """End the process as Ctrl+C does."""
        end_whole(self.process)

    def again(self, *, same_port: bool = False) -> None:
        """Start anew over the same store, at another port unless browsers are to find it again."""
        port = int(self.address.rpartition(":")[2]) if same_port else 0
        self.process, self.address = self._start(port)


def _said_address(said: IO[str]) -> str:
    """Read what the command says until it has said where it is; "" when it ends before."""
    for line in said:
        found = re.search(r"https?://[^\s/]+", line)
        if found:
            return found[0]
    return ""


def wait_until_answering(address: str) -> None:
    """Wait for the first answer; what is said of the address comes just before it."""
    request = urllib.request.Request(f"{address}/sign-in")
    trusting = ssl.create_default_context()
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
    try:
        urllib.request.urlopen(request, timeout=STARTS_WITHIN_S, context=trusting).close()
    except urllib.error.HTTPError as answer:
        answer.close()


@contextmanager
def served(place: Path | str, *arguments: str, log_in: Path | None = None) -> Iterator[Served]:
    """Serve a store at a free port of this machine until the block ends."""
    process = Served(place, *arguments, log_in=log_in)
    try:
        wait_until_answering(process.address)
        yield process
    finally:
        process.stop()


def open_chromium(playwright: Playwright) -> Browser:
    """Open Debian's Chromium, without a window."""
    return playwright.chromium.launch(executable_path=CHROMIUM, args=list(CHROMIUM_ARGUMENTS))


@contextmanager
def shop_folder() -> Iterator[Path]:
    """Give a place for a store that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="workbench-") as folder:
        yield Path(folder) / "shop"
