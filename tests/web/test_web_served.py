"""The workbench in a process of its own, asked over a socket: who is believed, and what is left unread."""

from __future__ import annotations

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from base64 import b64encode
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from processes import end_whole
from sparkwright.shop import open_shop
from sparkwright.web.sessions import set_passphrase

pytestmark = pytest.mark.security

PASSPHRASE = "seven brass kettles"
PUNYCODE = "multipart/form-data; boundary=x; charset=punycode"


@contextmanager
def serving(place: Path, *options: str) -> Iterator[int]:
    """Serve a store that has a pass-phrase until the block ends; gives the port at 127.0.0.1."""
    with open_shop(place) as shop:
        set_passphrase(shop, PASSPHRASE)
    command = [sys.executable, "-m", "sparkwright.cli", "serve", "--shop", str(place), "--port", "0"]
    process = subprocess.Popen(
        [*command, "--no-browser", *options],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1", "FORWARDED_ALLOW_IPS": "*"},
        process_group=0,
    )
    assert process.stdout is not None
    try:
        said = re.search(r"http://127\.0\.0\.1:(\d+)/", process.stdout.readline())
        assert said is not None
        yield int(said[1])
    finally:
        end_whole(process)


def answer(port: int, path: str, headers: dict[str, str], method: str = "GET", body: bytes = b"") -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request(method, path, body, headers)
        return connection.getresponse().status
    finally:
        connection.close()


def guesses(port: int, header: str, form: str = "{}") -> Counter[int]:
    """Guess seven times, each time saying that it is for somebody else."""
    wrong = b64encode(b"dyno:a guess").decode()
    return Counter(
        answer(
            port,
            "/api/v1/jobs",
            {"authorization": f"Basic {wrong}", header: form.format(f"203.0.113.{each}")},
        )
        for each in range(7)
    )


@pytest.mark.parametrize(
    ("header", "form"), [("x-forwarded-for", "{}"), ("forwarded", "for={}"), ("x-real-ip", "{}")]
)
def test_nobody_guesses_longer_by_naming_other_addresses(tmp_path: Path, header: str, form: str) -> None:
    """The addresses are of TEST-NET-3, which no machine has (RFC 5737)."""
    with serving(tmp_path / "shop", "--name", "bench.example") as port:
        assert guesses(port, header, form) == {401: 5, 429: 2}


def test_a_proxy_that_was_named_is_believed_and_no_other(tmp_path: Path) -> None:
    with serving(tmp_path / "here", "--behind-proxy", "127.0.0.1") as port:
        assert guesses(port, "x-forwarded-for") == {401: 7}
        # The last one in the list is who asked the proxy; what stands before it anybody may write.
        assert guesses(port, "x-forwarded-for", "{}, 198.51.100.7") == {401: 5, 429: 2}
    with serving(tmp_path / "other", "--behind-proxy", "192.0.2.7") as port:
        assert guesses(port, "x-forwarded-for") == {401: 5, 429: 2}


def test_a_form_in_a_slow_charset_holds_up_nobody(tmp_path: Path) -> None:
    """A megabyte of it took a minute to decode; the answer comes before it is read."""
    with serving(tmp_path / "shop", "--name", "bench.example") as port:
        begun = time.monotonic()
        connection = socket.create_connection(("127.0.0.1", port), timeout=30)
        connection.sendall(
            f"POST /sign-in HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\ncontent-type: {PUNYCODE}\r\n"
            "content-length: 7000\r\n\r\n".encode()
            + b'--x\r\ncontent-disposition: form-data; name="who"\r\n\r\n'
        )
        assert received(connection).startswith(b"HTTP/1.1 415 ")
        assert answer(port, "/sign-in", {}) == 200
        assert time.monotonic() - begun < 10


def test_an_upload_to_a_job_that_is_not_there_is_not_read_to_its_end(tmp_path: Path) -> None:
    with serving(tmp_path / "shop") as port:
        connection = socket.create_connection(("127.0.0.1", port), timeout=30)
        connection.sendall(
            f"POST /api/v1/jobs/not-there/files?who=A HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n"
            "content-type: multipart/form-data; boundary=x\r\ncontent-length: 1900000000\r\n\r\n"
            '--x\r\ncontent-disposition: form-data; name="file"; filename="a"\r\n\r\n'.encode()
        )
        # All of the answer comes, and then the end of the connection: the rest is never asked for.
        said = received(connection)
        assert said.startswith(b"HTTP/1.1 404 ")
        assert b"there is no job" in said.lower()


def received(connection: socket.socket) -> bytes:
    """Give everything up to the end of the connection; raises where it doesn't end."""
    with connection:
        said = b""
        while chunk := connection.recv(65536):
            said += chunk
        return said


def test_what_is_said_of_every_address_of_the_machine_is_true(tmp_path: Path) -> None:
    with serving(tmp_path / "shop", "--listen", "0.0.0.0") as port:
        assert answer(port, "/sign-in", {}) == 200
