"""What every request passes before a page sees it, and what every answer carries.

Refused here: a host name that is none or not ours, a post from another site, text in another charset than
UTF-8, a body that is too large. Pages from elsewhere are told apart by what browsers state themselves
(`Sec-Fetch-Site`, `Origin`: W3C Fetch Metadata; RFC 6454); a program that is no browser states neither and
carries no cookie of a person.
"""

from __future__ import annotations

import re
from contextlib import suppress

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from sparkwright.errors import Problem
from sparkwright.web.settings import SIGN_IN, Settings

_NAME, _ADDRESS = r"[A-Za-z0-9._-]{1,253}", r"[0-9A-Fa-f:.]{2,45}"
HOST_NAME = re.compile(f"{_NAME}|{_ADDRESS}")
"""A name of a machine, or its address in numbers."""
HOST = re.compile(rf"(?:({_NAME})|\[({_ADDRESS})\])(?::[0-9]{{1,5}})?")
"""A host as browsers write it, perhaps with a port (RFC 9110, section 7.2; RFC 3986, section 3.2.2)."""
UTF_8 = ("utf-8", "utf8", '"utf-8"', '"utf8"')
READING = {"GET", "HEAD", "OPTIONS"}

FROM_ELSEWHERE = "This came from another site and was not taken. Do it on the workbench's own page."

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "frame-src 'self'; form-action 'self'; frame-ancestors 'self'; base-uri 'none'"
)

HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "SAMEORIGIN",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
"""Set on every answer that doesn't set its own."""


class _TooLargeError(Exception):
    """More came than this workbench takes in one post."""


class Guard:
    """The outermost layer of the workbench."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app = app
        self.settings = settings
        # Browsers ask for a name in small letters, however the machine writes its own.
        self._hosts = {host.lower() for host in settings.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what must not come in; let the rest through and add the headers."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = (
            self._wrong_host(headers)
            or self._from_elsewhere(scope["method"], headers)
            or _other_charset(headers)
            or self._too_large(scope["path"], headers)
        )
        body = _Body(receive, _with_headers(send), self._most_bytes(scope["path"]), headers)
        if refusal is not None:
            status, sentence = refusal
            await PlainTextResponse(sentence + "\n", status)(scope, receive, body.send)
            return
        with suppress(_TooLargeError):
            await self.app(scope, body.receive, body.send)
        if body.too_large:
            sentence = self._too_large_sentence(scope["path"])
            await PlainTextResponse(sentence + "\n", 413)(scope, receive, body.answer)

    def _wrong_host(self, headers: Headers) -> tuple[int, str] | None:
        given = headers.getlist("host")
        found = HOST.fullmatch(given[0]) if len(given) == 1 else None
        if found is None:
            shown = ", ".join(given)[:60]
            must = "must be one name or address, and perhaps a port"
            return 400, str(Problem("host", f'"{shown}"', must, "open the workbench under its address"))
        name = (found[1] or found[2]).lower()
        if name in self._hosts:
            return None
        return 421, (
            f"This workbench doesn't answer to the name {name!r}. Open it under the address that "
            "`sparkwright serve` printed."
        )

    def _from_elsewhere(self, method: str, headers: Headers) -> tuple[int, str] | None:
        site = headers.get("sec-fetch-site")
        if method in READING:
            # A link from elsewhere may open a page; a page from elsewhere must not make us work behind it.
            ours = site in (None, "same-origin", "none")
            return None if ours or _opens_a_page(headers) else (403, FROM_ELSEWHERE)
        origin = headers.get("origin")
        if site in ("same-origin", "none") or (site is None and origin is None):
            return None
        if site is None and origin in (f"http://{headers.get('host')}", f"https://{headers.get('host')}"):
            return None
        return 403, FROM_ELSEWHERE

    def _most_bytes(self, path: str) -> int:
        if path == SIGN_IN:
            return self.settings.most_sign_in_bytes
        takes_files = path.endswith(("/files", "/import"))
        return self.settings.most_upload_bytes if takes_files else self.settings.most_body_bytes

    def _too_large(self, path: str, headers: Headers) -> tuple[int, str] | None:
        stated = headers.get("content-length", "0")
        if not (stated.isascii() and stated.isdigit()):
            return 400, "The length of what was sent is not a number."
        return None if int(stated) <= self._most_bytes(path) else (413, self._too_large_sentence(path))

    def _too_large_sentence(self, path: str) -> str:
        return f"More was sent than is taken here, {self._most_bytes(path):,} bytes. Nothing was saved."


def _opens_a_page(headers: Headers) -> bool:
    """Whether a person opens a page of its own: not a frame, a picture or a script, and not ahead of them."""
    stated = (headers.get("sec-fetch-mode"), headers.get("sec-fetch-dest"))
    return stated == ("navigate", "document") and "sec-purpose" not in headers


def _other_charset(headers: Headers) -> tuple[int, str] | None:
    """Refuse text that names another charset than UTF-8: some take a minute to decode a megabyte.

    A charset can stand in quotes, and in an extended parameter, whose name has a star (RFC 8187, RFC 2231).
    """
    for kind in headers.getlist("content-type"):
        parameters = [each.partition("=") for each in kind.split(";")[1:]]
        charsets = [
            value.strip().lower() for name, _, value in parameters if name.strip().lower() == "charset"
        ]
        if "*" in kind or any(charset not in UTF_8 for charset in charsets):
            must = "must name no other charset than utf-8"
            return 415, str(Problem("content-type", f"{kind[:80]}", must, "send the text as UTF-8"))
    return None


class _Body:
    """Counts a body as it comes in, for a sender that states no length or a wrong one.

    Whatever the application makes of a body that was cut off, the answer is the guard's. An answer that
    comes before the end of the body closes the connection, so that the rest is not read.
    """

    def __init__(self, receive: Receive, send: Send, most_bytes: int, headers: Headers) -> None:
        self._receive, self._send, self._most_bytes = receive, send, most_bytes
        self._seen = 0
        self._ended = headers.get("content-length", "0") == "0" and "transfer-encoding" not in headers
        self.too_large = False

    async def receive(self) -> Message:
        message = await self._receive()
        self._ended = not message.get("more_body", False)
        self._seen += len(message.get("body", b""))
        if self._seen > self._most_bytes:
            self.too_large = True
            raise _TooLargeError
        return message

    async def send(self, message: Message) -> None:
        """Pass on what the application answers, unless the guard will answer itself."""
        if not self.too_large:
            await self.answer(message)

    async def answer(self, message: Message) -> None:
        if message["type"] == "http.response.start" and not self._ended:
            MutableHeaders(scope=message)["connection"] = "close"
        await self._send(message)


def _with_headers(send: Send) -> Send:
    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sender
